//! The design as it stands, with the box of its tolerances.

use super::field::{Field, Kind, Place, Wanted};
use crate::study::scatter::Scatters;

/// The design as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Present {
    /// Its point.
    pub point: usize,
    /// Lower and upper limit of each axis by its tolerance, in SI base units; `None` without one.
    pub limits: Vec<Option<[f64; 2]>>,
    /// Points at the corners of the tolerances; empty where there are none.
    pub corners: Vec<usize>,
    /// Whether the boundary passes through the box.
    pub is_crossed: bool,
}

/// What is to be run of it.
pub(super) struct Plan {
    at: Vec<f64>,
    limits: Vec<Option<[f64; 2]>>,
    corners: Vec<Vec<f64>>,
}

impl Plan {
    /// `None` where the present values cannot be told, or have no place on a logarithmic axis.
    pub(super) fn new(field: &Field<'_, '_>, notes: &mut Vec<String>) -> Option<Self> {
        let mut at = Vec::new();
        for axis in field.axes {
            let told = axis.present.filter(|value| axis.fraction(*value).is_finite());
            let Some(value) = told else {
                notes.push(format!(
                    "what `{}` is at present has no place on its axis, so the present design is not \
                     marked",
                    axis.path
                ));
                return None;
            };
            at.push(value);
        }
        let ground = &field.runner.ground;
        let scatters = Scatters::of(ground.circuit, &ground.options.changes);
        let limits: Vec<Option<[f64; 2]>> = field
            .axes
            .iter()
            .map(|axis| {
                let found = scatters.list.iter().find(|s| s.path == axis.path)?;
                let limits = [found.low, found.high];
                limits.iter().all(|v| axis.fraction(*v).is_finite()).then_some(limits)
            })
            .collect();
        let mut corners = vec![Vec::new()];
        for (limits, value) in limits.iter().zip(&at) {
            let choices = limits.map_or_else(|| vec![*value], |l| l.to_vec());
            let with = |corner: &Vec<f64>| {
                choices.iter().map(|v| [corner.as_slice(), &[*v]].concat()).collect::<Vec<_>>()
            };
            corners = corners.iter().flat_map(with).collect();
        }
        corners.retain(|corner| *corner != at);
        Some(Self { at, limits, corners })
    }

    pub(super) fn wanted(&self, field: &Field<'_, '_>) -> Vec<Wanted> {
        let corners = self.corners.iter().map(|c| field.at_values(c, Kind::Tolerance));
        std::iter::once(field.present(&self.at)).chain(corners).collect()
    }

    /// With the points that were run.
    pub(super) fn found(self, indices: &[usize]) -> Option<Present> {
        let (point, corners) = indices.split_first()?;
        let (point, corners) = (*point, corners.to_vec());
        Some(Present { point, limits: self.limits, corners, is_crossed: false })
    }
}

impl Present {
    /// Whether it lies in the picture.
    pub(super) fn is_inside(&self, field: &Field<'_, '_>) -> bool {
        let place = field.points[self.point].place;
        place.iter().all(|f| (-1e-9..=1.0 + 1e-9).contains(f))
    }

    /// Lower left and upper right corner of the tolerances.
    pub(super) fn span(&self, field: &Field<'_, '_>) -> (Place, Place) {
        let all = self.corners.iter().chain([&self.point]).map(|k| field.points[*k].place);
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for place in all {
            for k in 0..2 {
                (low[k], high[k]) = (low[k].min(place[k]), high[k].max(place[k]));
            }
        }
        (low, high)
    }

    /// Sees whether lines of the boundary pass through the tolerances.
    pub(super) fn hold_against(&mut self, field: &Field<'_, '_>, boundary: &[Vec<Place>]) {
        let holds = field.points[self.point].holds;
        let differs = self.corners.iter().any(|k| field.points[*k].holds != holds);
        let (low, high) = self.span(field);
        let within = |place: &Place| (0..2).all(|k| place[k] >= low[k] && place[k] <= high[k]);
        let passes = boundary.iter().flat_map(|line| line.windows(2)).any(|pair| {
            const STEPS: u32 = 16;
            (0..=STEPS).any(|step| {
                let t = f64::from(step) / f64::from(STEPS);
                within(&[0, 1].map(|k| pair[0][k] + t * (pair[1][k] - pair[0][k])))
            })
        });
        let single = boundary.iter().filter(|line| line.len() == 1);
        let alone = single.flatten().any(within);
        self.is_crossed = !self.corners.is_empty() && (differs || passes || alone);
    }
}

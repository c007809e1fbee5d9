//! Noise at the output at one place: density over frequency, mean square in a band, and who
//! contributes it.

use super::motion::Frequencies;
use super::place::Place;
use super::sweep::{Judged, Modes, Sweep, quoted, worst};
use super::{Fineness, Found};
use crate::analysis::Failure;
use crate::analysis::small_signal::{BandNoise, Contributor, OutputNoise};
use crate::curve::{Cell, Column, Curve, Listing};
use crate::measure::{Absence, Extreme, Figure, Wanted};
use crate::quantity::{Program, trimmed};

/// The band in Hz where the test names none: what data sheets state.
const BAND_HZ: [f64; 2] = [10.0, 100e3];
/// So many contributors are drawn beside the whole.
const DRAWN: usize = 6;
/// Contributors below this share of the power are told together.
const SMALL: f64 = 1e-3;
/// The second solution, for the numerical uncertainty, breaks its integral at every so many points
/// of the grid as well.
const BREAKS: usize = 5;
/// Points at the most by which a grid reaches out to the band.
const MOST_BESIDE: f64 = 10_000.0;
const DIGITS: usize = 4;
/// Noise over frequency and what follows from it.
pub(super) fn look(
    place: &mut Place<'_>,
    frequencies: &Frequencies,
    band: Option<&[Program; 2]>,
    wanted: &[Wanted],
) -> Result<Found, Failure> {
    if place.output == place.ground {
        return Ok(Found::missing(wanted, "the rail names no `output`"));
    }
    let evaluate = |program: &Program| place.room.variant.evaluate(program);
    let band = band.map_or(BAND_HZ, |band| band.each_ref().map(evaluate));
    let grid = reaching(&place.grid(frequencies), band);
    let mut signal = place.small_signal();
    let modes = Modes::of(&mut signal);
    let mut more = quoted(&grid, wanted);
    more.extend(band);
    let at = modes.grid_with(&grid, &more);
    let mut probe = Probe {
        noise: OutputNoise::new(&mut signal, [place.output, place.ground]),
        known: modes.resonances.clone(),
        factorisations: 0,
    };
    if place.fineness == Fineness::Doubled {
        probe.known.extend(grid.iter().step_by(BREAKS));
    }
    let density = |hz: f64, squares: &Vec<f64>| {
        let inside = (band[0]..=band[1]).contains(&hz);
        if inside { squares.iter().sum::<f64>().sqrt() } else { f64::NAN }
    };
    let judged: [Judged<'_, Vec<f64>>; 1] = [(Extreme::Greatest, &density)];
    let (sweep, peaks) = Sweep::new(&at, &judged, &mut |hz| probe.squares(hz))?;
    let in_band = probe.in_band(band)?;
    let mut figures = Vec::with_capacity(wanted.len());
    for wanted in wanted {
        figures.push(match (wanted.name, wanted.asked.at_hz, wanted.asked.band_hz) {
            ("window", ..) => place.window(),
            ("noise", _, None) => Ok(Figure::plain(in_band.rms_v())),
            ("noise", _, Some(band)) => Ok(Figure::plain(probe.in_band(band)?.rms_v())),
            (_, Some(hz), _) => Ok(Figure::at(probe.squares(hz)?.iter().sum::<f64>().sqrt(), hz)),
            (_, None, _) => peaks
                .first()
                .and_then(|peaks| worst(peaks, &sweep.hz))
                .ok_or_else(|| Absence::Unknown("no density within the band".to_owned())),
        });
    }
    let contributors = probe.noise.contributors();
    let listings = vec![listing(place, contributors, &in_band, band)];
    let curves = vec![curve(place, &sweep, contributors, &in_band)];
    place.factorisations += probe.factorisations;
    modes.qualify(place, wanted, &mut figures);
    Ok(Found { figures, curves, listings, notes: Vec::new() })
}

/// A grid that reaches over the band too, as densely.
fn reaching(grid: &[f64], [low, high]: [f64; 2]) -> Vec<f64> {
    let (Some(&first), Some(&last)) = (grid.first(), grid.last()) else { return Vec::new() };
    let own = (last / first).powf(1.0 / (grid.len().max(2) - 1) as f64);
    // A grid over next to no range is denser than anything beside it needs to be.
    let beside = (first / low).ln().max(0.0) + (high / last).ln().max(0.0);
    let step = own.max((beside / MOST_BESIDE).exp());
    let below = std::iter::successors(Some(first / step), |hz| Some(hz / step));
    let above = std::iter::successors(Some(last * step), |hz| Some(hz * step));
    let mut all: Vec<f64> = below.take_while(|hz| *hz > low).collect();
    all.reverse();
    all.extend(grid);
    all.extend(above.take_while(|hz| *hz < high));
    if low < first {
        all.insert(0, low);
    }
    if high > last {
        all.push(high);
    }
    all
}

struct Probe<'s, 'a> {
    noise: OutputNoise<'s, 'a>,
    /// Hz, where the integral breaks.
    known: Vec<f64>,
    factorisations: usize,
}

impl Probe<'_, '_> {
    /// V²/Hz of every contributor at a frequency in Hz.
    fn squares(&mut self, hz: f64) -> Result<Vec<f64>, Failure> {
        self.factorisations += 1;
        self.noise.densities(hz).map_err(|singular| self.noise.failure(hz, singular))
    }

    fn in_band(&mut self, band: [f64; 2]) -> Result<BandNoise, Failure> {
        let found = self.noise.in_band(band, &self.known)?;
        self.factorisations += found.frequencies;
        Ok(found)
    }
}

/// Indices of the contributors, the largest first.
fn ranked(in_band: &BandNoise) -> Vec<usize> {
    let squares = &in_band.squares_v2;
    let mut order: Vec<usize> = (0..squares.len()).filter(|k| squares[*k] > 0.0).collect();
    order.sort_by(|a, b| squares[*b].total_cmp(&squares[*a]));
    order
}

fn curve(
    place: &Place<'_>,
    sweep: &Sweep<Vec<f64>>,
    contributors: &[Contributor],
    in_band: &BandNoise,
) -> Curve {
    let mut columns = vec![
        Column::new("frequency", "Hz", sweep.hz.clone()),
        Column::new("density", "V/√Hz", sweep.column(|_, s| s.iter().sum::<f64>().sqrt())),
    ];
    for k in ranked(in_band).into_iter().take(DRAWN) {
        let name = format!("{}.{}", contributors[k].part, contributors[k].cause.word());
        columns.push(Column::new(name, "V/√Hz", sweep.column(|_, squares| squares[k].sqrt())));
    }
    Curve { condition: place.condition.clone(), held: place.held.clone(), columns }
}

fn listing(
    place: &Place<'_>,
    contributors: &[Contributor],
    in_band: &BandNoise,
    [low, high]: [f64; 2],
) -> Listing {
    let range = [low, high].map(|hz| trimmed(hz, "Hz", DIGITS));
    let mut listing = Listing::new(
        "noise_contributors",
        format!("noise from {} to {}: who contributes it", range[0], range[1]),
        &[("condition", ""), ("part", ""), ("cause", ""), ("rms", "V"), ("share", "1")],
    );
    let total = in_band.total_v2();
    let mut row = |part: &str, cause: &str, square: f64| {
        listing.push([
            Cell::from(place.condition.clone()),
            Cell::from(part),
            Cell::from(cause),
            Cell::from(square.sqrt()),
            Cell::from(square / total),
        ]);
    };
    let mut others = 0.0;
    for k in ranked(in_band) {
        let square = in_band.squares_v2[k];
        if square < SMALL * total {
            others += square;
        } else {
            row(&contributors[k].part, contributors[k].cause.word(), square);
        }
    }
    if others > 0.0 {
        row("others", "", others);
    }
    listing
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grid_reaches_over_the_band_as_densely_as_it_is() {
        let grid = [10.0, 100.0, 1000.0];
        assert_eq!(reaching(&grid, [10.0, 1000.0]), grid);
        assert_eq!(reaching(&grid, [20.0, 30.0]), grid);
        let wider = reaching(&grid, [0.05, 5e3]);
        assert_eq!(wider.len(), 7, "{wider:?}");
        for (found, exact) in wider.iter().zip([0.05, 0.1, 1.0, 10.0, 100.0, 1e3, 5e3]) {
            assert!((found / exact - 1.0).abs() < 1e-12, "{wider:?}");
        }
    }
}

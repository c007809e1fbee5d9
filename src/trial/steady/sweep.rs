//! A quest's answer over frequency at one place: on the grid, at frequencies that must not be
//! missed, and at every extreme of what is judged.

use super::place::Place;
use crate::analysis::Failure;
use crate::analysis::small_signal::{Natural, SmallSignal, resonances};
use crate::measure::{Absence, Extreme, Figure, Peak, Spot, Wanted, extremes, grid_with};
use crate::quantity::engineering;

/// Frequencies in Hz that people quote: every curve has them, and listings tell them.
const QUOTED_HZ: [f64; 5] = [100.0, 1e3, 10e3, 100e3, 1e6];
/// A mode grows if the real part of its rad/s is this share of it: less is rounding.
const GROWS: f64 = 1e-9;
/// Modes slower than this, in rad/s, stand still: floating charges, whose sign is rounding.
const STANDS_STILL: f64 = 1e-3;
const DIGITS: usize = 3;

/// What is found at rising frequencies.
pub(super) struct Sweep<T> {
    /// Hz
    pub(super) hz: Vec<f64>,
    /// One a frequency.
    pub(super) points: Vec<T>,
}

/// What is judged of a point: which extremes, and of what.
pub(super) type Judged<'a, T> = (Extreme, &'a dyn Fn(f64, &T) -> f64);

/// How a point is found at a frequency in Hz.
pub(super) type Solve<'a, T> = &'a mut dyn FnMut(f64) -> Result<T, Failure>;

impl<T> Sweep<T> {
    /// Solves at every one of the rising frequencies `at`, then around each extreme of what is
    /// judged; gives the extremes of each, the most extreme first.
    pub(super) fn new(
        at: &[f64],
        judged: &[Judged<'_, T>],
        solve: Solve<'_, T>,
    ) -> Result<(Self, Vec<Vec<Peak>>), Failure> {
        let mut points = Vec::with_capacity(at.len());
        for &hz in at {
            points.push((hz, solve(hz)?));
        }
        let mut found = Vec::with_capacity(judged.len());
        for (which, of) in judged {
            let seen: Vec<Spot> =
                points.iter().map(|(hz, point)| Spot { hz: *hz, value: of(*hz, point) }).collect();
            let peaks = extremes(&seen, *which, &mut |hz| solve(hz).map(|point| of(hz, &point)))?;
            found.push(peaks);
        }
        for peak in found.iter().flatten() {
            let place = points.partition_point(|(hz, _)| *hz < peak.spot.hz);
            if points.get(place).is_none_or(|(hz, _)| *hz != peak.spot.hz) {
                points.insert(place, (peak.spot.hz, solve(peak.spot.hz)?));
            }
        }
        let (hz, points) = points.into_iter().unzip();
        Ok((Self { hz, points }, found))
    }

    /// One value a frequency.
    pub(super) fn column(&self, of: impl Fn(f64, &T) -> f64) -> Vec<f64> {
        self.hz.iter().zip(&self.points).map(|(hz, point)| of(*hz, point)).collect()
    }
}

/// Frequencies in Hz that people quote and those that are asked for, inside the range of `grid`.
pub(super) fn quoted(grid: &[f64], wanted: &[Wanted]) -> Vec<f64> {
    let (Some(&low), Some(&high)) = (grid.first(), grid.last()) else { return Vec::new() };
    let asked = wanted.iter().filter_map(|w| w.asked.at_hz);
    let mut all: Vec<f64> =
        QUOTED_HZ.into_iter().chain(asked).filter(|f| (low..=high).contains(f)).collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// What swings of itself at one place.
pub(super) struct Modes {
    /// Hz, where a response may peak.
    pub(super) resonances: Vec<f64>,
    /// Hz of a mode that grows: the rest is not stable.
    growing: Option<f64>,
}

impl Modes {
    pub(super) fn of(signal: &mut SmallSignal<'_>) -> Self {
        let natural = signal.natural_frequencies().unwrap_or_default();
        let grows =
            |mode: &&Natural| mode.s.re > GROWS * mode.s.norm() && mode.s.norm() > STANDS_STILL;
        let growing = natural.iter().find(grows).map(Natural::frequency_hz);
        Self { resonances: resonances(&natural), growing }
    }

    /// As it is, and with a node (an unknown) held still as well.
    pub(super) fn with_held(signal: &mut SmallSignal<'_>, node: Option<usize>) -> Self {
        let mut modes = Self::of(signal);
        let held = node.and_then(|node| signal.with_held(node).natural_frequencies());
        modes.resonances.extend(resonances(&held.unwrap_or_default()));
        modes
    }

    /// A grid with these and some more.
    pub(super) fn grid_with(&self, grid: &[f64], more: &[f64]) -> Vec<f64> {
        let all: Vec<f64> = self.resonances.iter().chain(more).copied().collect();
        grid_with(grid, &all)
    }

    /// Says beside every figure that the place is not in regulation, where it is not, and takes
    /// those of small signals back where the rest is not stable: there is nothing to be met around
    /// it.
    pub(super) fn qualify(
        &self,
        place: &Place<'_>,
        wanted: &[Wanted],
        figures: &mut [Result<Figure, Absence>],
    ) {
        let why = place.out_of_regulation();
        let of_signals = wanted.iter().zip(figures).filter(|(w, _)| w.name != "window");
        for (_, found) in of_signals {
            if let Some(hz) = self.growing {
                let hz = engineering(hz, "Hz", DIGITS);
                let words =
                    format!("the circuit does not rest here: a swing at {hz} grows by itself");
                *found = Err(Absence::Unknown(words));
            } else if let Ok(figure) = found {
                let notes: Vec<String> =
                    [figure.note.take(), why.clone()].into_iter().flatten().collect();
                figure.note = (!notes.is_empty()).then(|| notes.join("; "));
            }
        }
    }
}

/// The worst extreme of a quantity as a figure, with a word where it lies at an end of the range.
pub(super) fn worst(peaks: &[Peak], hz: &[f64]) -> Option<Figure> {
    let peak = peaks.first()?;
    let mut figure = Figure::at(peak.spot.value, peak.spot.hz);
    if !peak.inside && hz.len() > 1 {
        let end = if hz.last() == Some(&peak.spot.hz) { "highest" } else { "lowest" };
        figure.note = Some(format!("at the {end} frequency of this test"));
    }
    Some(figure)
}

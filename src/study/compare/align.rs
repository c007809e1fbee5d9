//! Where the oscilloscope's zero lies in the record, to within a sample: both curves are averaged
//! over stretches that get shorter from level to level, and slid along each other. What is narrower
//! than a stretch still moves its average, so that no edge is passed over.

use super::solution::Solution;
use super::trace::Trace;

/// Places tried along the whole way at the first level: a microsecond apart for a record of a
/// millisecond, which is about what a fast rail takes to recover.
const PLACES: usize = 1000;
/// Places kept from a level for the next one.
const KEPT: usize = 6;
/// Stretches of one level over those of the next.
const FINER: f64 = 8.0;
/// The last level's stretches are this share of the samples' distance.
const FINEST: f64 = 0.25;
/// A level with more stretches than this is left to the fit, which refines any shift.
const MOST_STRETCHES: usize = 20_000;

/// A stretch of the trace.
struct Stretch {
    middle_s: f64,
    volt: f64,
    samples: f64,
}

/// Shifts worth a closer look, and the width of the stretches that told so, s.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Likely {
    places: Vec<f64>,
    width_s: f64,
}

/// What to add to the trace's times so that it may lie on the solution, differences of level aside:
/// from all the way along it.
pub(super) fn likely_shifts(trace: &Trace, solution: &Solution) -> Likely {
    let ends = (trace.time_s.first(), trace.time_s.last());
    let (Some(first), Some(last)) = ends else { return Likely { places: vec![0.0], width_s: 0.0 } };
    let width_s = (solution.end_s() + last - first) / PLACES as f64;
    let all: Vec<f64> = (0..=PLACES).map(|k| width_s * k as f64 - last).collect();
    Likely { places: best(&all, &stretches(trace, width_s), solution, width_s), width_s }
}

/// The best shift near likely ones, those of this solution or of one much like it.
pub(super) fn coarse_shift(trace: &Trace, solution: &Solution, likely: &Likely) -> f64 {
    let finest_s = FINEST * trace.interval_s();
    let (mut kept, mut width_s) = (likely.places.clone(), likely.width_s);
    loop {
        let around = |shift: &f64| {
            let (shift, reach) = (*shift, FINER as i32);
            (-reach..=reach).map(move |k| shift + f64::from(k) * width_s)
        };
        let places: Vec<f64> = kept.iter().flat_map(around).collect();
        let stretches = stretches(trace, width_s);
        kept = best(&places, &stretches, solution, width_s);
        if width_s <= finest_s || stretches.len() > MOST_STRETCHES {
            return kept.first().copied().unwrap_or(0.0);
        }
        width_s /= FINER;
    }
}

/// The places at which the scatter is least, not next to each other, the best one first.
fn best(places: &[f64], stretches: &[Stretch], solution: &Solution, width_s: f64) -> Vec<f64> {
    let rate = |&shift: &f64| (scatter(stretches, solution, shift, width_s), shift);
    let mut rated: Vec<(f64, f64)> = places.iter().map(rate).collect();
    // The earlier of two that are equally good, whatever order they were tried in.
    rated.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut kept: Vec<f64> = Vec::new();
    for (_, shift) in rated {
        if kept.len() < KEPT && kept.iter().all(|k| (k - shift).abs() > 1.5 * width_s) {
            kept.push(shift);
        }
    }
    kept
}

/// Neighbouring samples that fit into `width_s`, averaged.
fn stretches(trace: &Trace, width_s: f64) -> Vec<Stretch> {
    let mut found = Vec::new();
    let mut from = 0;
    while from < trace.time_s.len() {
        let start_s = trace.time_s[from];
        let to = from + trace.time_s[from..].partition_point(|t| *t <= start_s + width_s).max(1);
        let samples = (to - from) as f64;
        let volt = trace.volt[from..to].iter().sum::<f64>() / samples;
        let middle_s = trace.time_s[from..to].iter().sum::<f64>() / samples;
        found.push(Stretch { middle_s, volt, samples });
        from = to;
    }
    found
}

/// The mean square of the differences about their own mean.
fn scatter(stretches: &[Stretch], solution: &Solution, shift_s: f64, width_s: f64) -> f64 {
    let half_s = 0.5 * width_s;
    let (mut count, mut mean, mut squares) = (0.0, 0.0, 0.0);
    for stretch in stretches {
        let middle_s = stretch.middle_s + shift_s;
        let difference = stretch.volt - solution.mean(middle_s - half_s, middle_s + half_s);
        // Running mean and sum of squares (Welford, Technometrics 4 (1962)).
        count += stretch.samples;
        let step = difference - mean;
        mean += step * stretch.samples / count;
        squares += stretch.samples * step * (difference - mean);
    }
    squares / count.max(1.0)
}

//! Where the oscilloscope's zero lies in the record, to within a sample: both curves are averaged
//! over stretches that get shorter from level to level, and slid along each other. What is narrower
//! than a stretch still moves its average, so that no edge is passed over.

use super::solution::Solution;
use super::trace::Trace;

/// Places tried along the whole way at the first level: half a microsecond apart for a record of a
/// millisecond, less than what a fast rail takes to recover.
const PLACES: usize = 3000;
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

/// What to add to the trace's times so that it lies best on the solution, differences of level
/// aside.
pub(super) fn coarse_shift(trace: &Trace, solution: &Solution) -> f64 {
    let (Some(first), Some(last)) = (trace.time_s.first(), trace.time_s.last()) else { return 0.0 };
    let way_s = solution.end_s() + last - first;
    let finest_s = FINEST * trace.interval_s();
    let mut width_s = way_s / PLACES as f64;
    let mut places: Vec<f64> = (0..=PLACES).map(|k| width_s * k as f64 - last).collect();
    loop {
        let stretches = stretches(trace, width_s);
        let rate = |&shift: &f64| (scatter(&stretches, solution, shift, width_s), shift);
        let mut rated: Vec<(f64, f64)> = places.iter().map(rate).collect();
        // The earlier of two that are equally good, whatever order they were tried in.
        rated.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut kept: Vec<f64> = Vec::new();
        for (_, shift) in rated {
            if kept.len() < KEPT && kept.iter().all(|k| (k - shift).abs() > 1.5 * width_s) {
                kept.push(shift);
            }
        }
        if width_s <= finest_s || stretches.len() > MOST_STRETCHES {
            return kept.first().copied().unwrap_or(0.0);
        }
        width_s /= FINER;
        let around = |shift: &f64| {
            let (shift, reach) = (*shift, FINER as i32);
            (-reach..=reach).map(move |k| shift + f64::from(k) * width_s)
        };
        places = kept.iter().flat_map(around).collect();
    }
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

//! The output over time in many of the drawn runs: where it lies at each instant.

use super::rows::percentile;
use crate::circuit::Change;
use crate::measure::TestKind;
use crate::measure::scene::signal;
use crate::study::{Runner, Sheet, Shot, in_parallel};
use crate::trial::{Outcome, Reads};
use crate::waveform::Side;

/// Drawn runs that an envelope is made of.
pub(super) const MOST_RUNS: usize = 200;
/// Instants of a window.
const INSTANTS: usize = 320;
/// Of a profile's record, around where it moves most;
const PROFILE_SHARE: f64 = 0.04;
/// which is looked for between so many places.
const PLACES: usize = 2000;
/// A window reaches this many recovery times (or edge times) past its edge,
const REACH: f64 = 3.0;
/// and starts this share of its length ahead of it.
const LEAD: f64 = 0.15;
/// Shares in % of the inner band.
const INNER: [f64; 2] = [5.0, 95.0];

/// The output of a test over drawn runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Envelope {
    /// So many runs, the first ones.
    pub runs: usize,
    /// Stretches of time around the edges, or the whole record.
    pub windows: Vec<Window>,
}

/// A stretch of time; all lists have one entry an instant, values in V.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// What happens there.
    pub label: String,
    /// s
    pub times_s: Vec<f64>,
    /// With nothing drawn.
    pub nominal_v: Vec<f64>,
    /// In the worst run or vertex.
    pub worst_v: Vec<f64>,
    /// Lowest,
    pub lowest_v: Vec<f64>,
    /// 5 %,
    pub low_v: Vec<f64>,
    /// 95 %,
    pub high_v: Vec<f64>,
    /// and highest of the runs.
    pub highest_v: Vec<f64>,
}

/// The envelope of a test in time; `None` for others. `worst` is what made the worst run or vertex.
pub(super) fn envelope(
    runner: &Runner<'_>,
    sheet: &Sheet,
    drawn: &[Vec<Change>],
    worst: Option<&[Change]>,
) -> Option<Envelope> {
    let outcome = &sheet.outcome;
    let end_s = *outcome.waveform.time_s.last().filter(|_| outcome.at_rest.is_none())?;
    outcome.waveform.signal(signal::OUTPUT)?;
    let stretches = stretches(outcome, end_s);
    let times: Vec<f64> = stretches.iter().flat_map(|s| instants(s.from_s, s.to_s)).collect();
    let drawn: Vec<&[Change]> = drawn.iter().take(MOST_RUNS).map(Vec::as_slice).collect();
    let shots: Vec<&[Change]> = worst.into_iter().chain(drawn).collect();
    let sampled = in_parallel(shots.len(), runner.ground.threads, |k| {
        let shot = Shot { test: sheet.test, changes: shots[k].to_vec() };
        let outcome = runner.outcome(&shot, Reads::Voltages).ok();
        outcome.filter(|o| o.failure.is_none()).map(|o| samples(&o, &times))
    });
    let nominal = samples(outcome, &times);
    let (of_worst, of_runs) = sampled.split_at(usize::from(worst.is_some()));
    let of_worst = of_worst.first().cloned().flatten().unwrap_or_default();
    let of_runs: Vec<&Vec<f64>> = of_runs.iter().flatten().collect();
    let at = |k: usize| {
        let mut values: Vec<f64> = of_runs
            .iter()
            .filter_map(|run| run.get(k).copied())
            .filter(|v| v.is_finite())
            .collect();
        values.sort_by(f64::total_cmp);
        [0.0, INNER[0], INNER[1], 100.0].map(|percent| percentile(&values, percent))
    };
    let bands: Vec<[f64; 4]> = (0..times.len()).map(at).collect();
    let windows = stretches.into_iter().enumerate().map(|(which, stretch)| {
        let range = which * INSTANTS..(which + 1) * INSTANTS;
        let part = |all: &[f64]| all.get(range.clone()).map(<[f64]>::to_vec).unwrap_or_default();
        let band = |k: usize| part(&bands.iter().map(|band| band[k]).collect::<Vec<f64>>());
        Window {
            label: stretch.label,
            times_s: part(&times),
            nominal_v: part(&nominal),
            worst_v: part(&of_worst),
            lowest_v: band(0),
            low_v: band(1),
            high_v: band(2),
            highest_v: band(3),
        }
    });
    Some(Envelope { runs: of_runs.len(), windows: windows.collect() })
}

/// The output at some instants; not a number where the record does not reach.
fn samples(outcome: &Outcome, times_s: &[f64]) -> Vec<f64> {
    let Some(output) = outcome.waveform.signal(signal::OUTPUT) else { return Vec::new() };
    let at = |t: &f64| outcome.waveform.at(output, *t, Side::After).unwrap_or(f64::NAN);
    times_s.iter().map(at).collect()
}

fn instants(from_s: f64, to_s: f64) -> impl Iterator<Item = f64> {
    (0..INSTANTS).map(move |k| from_s + (to_s - from_s) * k as f64 / (INSTANTS - 1) as f64)
}

struct Stretch {
    label: String,
    from_s: f64,
    to_s: f64,
}

/// Around the first edge and the way back; of a profile the whole record and where it moves most.
fn stretches(outcome: &Outcome, end_s: f64) -> Vec<Stretch> {
    let whole = Stretch { label: "whole record".to_owned(), from_s: 0.0, to_s: end_s };
    let recoveries =
        outcome.measurements.iter().filter(|m| m.name.contains("recovery") && m.unit == "s");
    let slowest_s = recoveries.filter_map(|m| m.value).fold(0.0, f64::max);
    let mut found = Vec::new();
    for edge in outcome.excitation.edges.iter().take(2) {
        let length = REACH * slowest_s.max(2.0 * (edge.end_s - edge.start_s)).max(end_s / 100.0);
        if length > 0.5 * end_s {
            return vec![whole];
        }
        let from_s = (edge.start_s - LEAD * length).max(0.0);
        let what = match (outcome.kind, edge.change > 0.0) {
            (TestKind::ShortCircuit, true) => "short made",
            (TestKind::ShortCircuit, false) => "short taken away",
            (TestKind::LoadStep | TestKind::PulseTrain, true) => "loading edge",
            (TestKind::LoadStep | TestKind::PulseTrain, false) => "releasing edge",
            (TestKind::StartUp, _) => "start",
            (TestKind::PowerDown, _) => "power goes",
            (_, true) => "source rises",
            (_, false) => "source falls",
        };
        let (label, to_s) = (what.to_owned(), (edge.start_s + length).min(end_s));
        found.push(Stretch { label, from_s, to_s });
    }
    if found.is_empty() {
        found.push(whole);
        found.extend(steepest(outcome, end_s));
    }
    found
}

/// Around the steepest fall and the steepest rise of the output, in order of time.
fn steepest(outcome: &Outcome, end_s: f64) -> Vec<Stretch> {
    let step_s = end_s / PLACES as f64;
    let times: Vec<f64> = (0..=PLACES).map(|k| k as f64 * step_s).collect();
    let levels = samples(outcome, &times);
    let changes: Vec<f64> = levels.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let extreme = |sign: f64| {
        let finite = changes.iter().enumerate().filter(|(_, change)| change.is_finite());
        let (at, change) = finite.max_by(|a, b| (sign * a.1).total_cmp(&(sign * b.1)))?;
        (sign * change > 0.0).then_some(at)
    };
    let length = PROFILE_SHARE * end_s;
    let around = |(sign, label): (f64, &str)| {
        let from_s = (times[extreme(sign)?] - LEAD * length).clamp(0.0, end_s - length);
        Some(Stretch { label: label.to_owned(), from_s, to_s: from_s + length })
    };
    let both = [(-1.0, "steepest fall"), (1.0, "steepest rise")];
    let mut found: Vec<Stretch> = both.into_iter().filter_map(around).collect();
    found.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    // One of two that show nearly the same.
    found.dedup_by(|later, earlier| later.from_s - earlier.from_s < 0.5 * length);
    found
}

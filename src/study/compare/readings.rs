//! The trace measured by the same definitions as the solution.

use crate::circuit::Variant;
use crate::measure::{Measurement, Scene, measure, scene::signal};
use crate::trial::{Outcome, Test};
use crate::waveform::{Signal, Waveform};

/// What is read off a trace: figures of the output alone that one sweep of an oscilloscope shows.
const COMPARED: [&str; 6] =
    ["droop", "overshoot", "recovery", "release_recovery", "output_minimum", "output_maximum"];

/// Share of a dwell, at its end, that its level is the mean of, as measurements have it.
const LEVEL_SHARE: f64 = 0.1;
/// Standard deviations that a slope may lie off by chance, less than once in three hundred.
const CHANCE: f64 = 3.0;

/// One measurement both ways.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// As in the table of measurements.
    pub name: String,
    /// SI symbol.
    pub unit: &'static str,
    /// Of the trace.
    pub measured: f64,
    /// Of the solution at the fitted values.
    pub simulated: f64,
    /// Options it was taken with.
    pub settings: Vec<(String, String)>,
}

/// Measures a trace (times of the record in s, V, standard deviation of its noise in V) as the test
/// measures its output. What the trace does not reach is left out.
pub(super) fn compared(
    test: &Test,
    variant: &Variant,
    outcome: &Outcome,
    (time_s, volt): (&[f64], &[f64]),
    noise_v: f64,
) -> Vec<Compared> {
    let mut calm = volt.to_vec();
    for dwell in &outcome.excitation.dwells {
        let tail = dwell.window.last(LEVEL_SHARE);
        let from = time_s.partition_point(|t| *t < tail.from_s);
        let to = time_s.partition_point(|t| *t < tail.to_s).max(from);
        still(&time_s[from..to], &mut calm[from..to], noise_v);
    }
    let signal = Signal::straight(signal::OUTPUT, "V", calm);
    let waveform = Waveform { time_s: time_s.to_vec(), signals: vec![signal] };
    let scene = Scene {
        kind: outcome.kind,
        waveform: &waveform,
        edges: outcome.excitation.edges.clone(),
        dwells: outcome.excitation.dwells.clone(),
        rail: outcome.condition.rail,
        // A ripple of the trace may be anything.
        inputs_hold: false,
        stations: &[],
        watched: None,
    };
    let requirements = test.requirements.iter().filter_map(|r| r.evaluate(variant).ok());
    let of_trace = measure(&scene, &requirements.collect::<Vec<_>>());
    let both = of_trace.iter().filter(|m| COMPARED.contains(&m.name.as_str())).filter_map(|m| {
        let twin =
            |o: &&Measurement| o.name == m.name && o.settings == m.settings && o.limit == m.limit;
        let simulated = outcome.measurements.iter().find(twin)?;
        let reached = reaches(&scene, simulated.at_s, time_s);
        Some(Compared {
            name: m.name.clone(),
            unit: m.unit,
            measured: m.value.filter(|_| reached)?,
            simulated: simulated.value?,
            settings: m.settings.clone().into_iter().collect(),
        })
    });
    let mut found: Vec<Compared> = Vec::new();
    for row in both {
        // Several limits on one measurement read it once.
        if !found.iter().any(|f| f.name == row.name && f.settings == row.settings) {
            found.push(row);
        }
    }
    found
}

/// Levels a stretch at its mean unless it moves by more than noise does: the drift that a level is
/// refused for is that of the rail, and a few noisy samples always seem to drift.
fn still(time_s: &[f64], volt: &mut [f64], noise_v: f64) {
    let n = time_s.len() as f64;
    let mean_s = time_s.iter().sum::<f64>() / n;
    let mean_v = volt.iter().sum::<f64>() / n;
    let spread: f64 = time_s.iter().map(|t| (t - mean_s).powi(2)).sum();
    let both: f64 = time_s.iter().zip(&*volt).map(|(t, v)| (t - mean_s) * (v - mean_v)).sum();
    // The slope of a fitted line scatters by σ/√Σ(t − t̄)².
    if both.abs() <= CHANCE * noise_v * spread.sqrt() {
        volt.fill(mean_v);
    }
}

/// Whether the trace covers the instant that decides, and the edge that leads to it.
fn reaches(scene: &Scene<'_>, at_s: Option<f64>, time_s: &[f64]) -> bool {
    let (Some(at_s), Some(&first), Some(&last)) = (at_s, time_s.first(), time_s.last()) else {
        return false;
    };
    let edges = scene.edges.iter().map(|edge| edge.start_s);
    let edge_s = edges.filter(|start| *start <= at_s).fold(f64::NEG_INFINITY, f64::max);
    let from_s = if edge_s.is_finite() { edge_s.min(at_s) } else { at_s };
    first <= from_s && at_s <= last
}

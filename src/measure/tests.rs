//! Measurements on waveforms whose answers are known beforehand.
#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

mod cases;
mod definitions;
mod notes;
mod oscillations;
mod ringing;
mod starting;
mod states;
mod stations;
mod verdicts;

use super::*;
use crate::waveform::{Signal, Waveform, Window};

/// The row of that name, the first if there are several.
fn row<'a>(rows: &'a [Measurement], name: &str) -> &'a Measurement {
    rows.iter().find(|m| m.name == name).unwrap_or_else(|| panic!("no row `{name}`"))
}

fn value(rows: &[Measurement], name: &str) -> f64 {
    let row = row(rows, name);
    row.value.unwrap_or_else(|| panic!("`{name}` has no value: {:?}", row.reason))
}

#[track_caller]
fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} is not {b} within {tolerance}");
}

/// Straight lines of several signals over common times.
fn lines(time_s: &[f64], signals: &[(&str, &'static str, &[f64])]) -> Waveform {
    let signals =
        signals.iter().map(|(name, unit, v)| Signal::straight(*name, unit, v.to_vec())).collect();
    Waveform { time_s: time_s.to_vec(), signals }
}

/// A step test with jumps at the given times and dwells between them, up to `end_s`.
fn steps<'a>(
    waveform: &'a Waveform,
    kind: TestKind,
    edges: &[(f64, f64)],
    end_s: f64,
) -> Scene<'a> {
    let mut starts = vec![0.0];
    starts.extend(edges.iter().map(|e| e.0));
    starts.push(end_s);
    let role = |k: usize| match k {
        0 => Role::Before,
        k if k % 2 == 1 => Role::Loaded,
        _ => Role::Released,
    };
    let dwells = starts
        .windows(2)
        .enumerate()
        .map(|(k, w)| Dwell { window: Window::new(w[0], w[1]), role: role(k) })
        .collect();
    let edges = edges.iter().map(|&(t, change)| Edge { start_s: t, end_s: t, change }).collect();
    let rail = RailView { nominal_v: Some(1.0), ..RailView::default() };
    Scene { kind, waveform, edges, dwells, rail, inputs_hold: true, stations: &[], watched: None }
}

fn at_most(name: &str, limit: f64) -> Requirement {
    Requirement::new(name, Limit::AtMost(limit))
}

fn with_band(name: &str, limit: f64, band: f64) -> Requirement {
    Requirement { band: Some(band), ..at_most(name, limit) }
}

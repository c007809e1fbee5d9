//! Cost of analyses at rest on the buoy radio rail.
//!
//! `dropout` is a whole test as a user runs it without its uncertainty: 5 loads, 60 inputs each, down
//! and up again, refined where the output bends, with ground current and loop gain at every point
//! and the three dropout voltages solved for.
//!
//! `loop gain` is what a test does at one rest: 200 frequencies, 23 unknowns; then the same with its
//! margins refined, and all poles of the closed loop.
//!
//! Figures of 2026-11-26 (2 cores of a shared Intel Xeon, family 6 model 167, no other builds): dropout
//! 8.8 ms, 730 points, 3279 Newton iterations; loop gain 0.40 ms, 2.0 µs a frequency; with margins 0.48 ms;
//! poles 0.33 ms.

#![allow(missing_docs)] // what criterion's macro makes
#![allow(clippy::print_stdout)] // counts belong beside the times
#![allow(clippy::expect_used)] // a bench that cannot be set up ends

use criterion::{Criterion, criterion_group, criterion_main};
use railstep::analysis::operating_point;
use railstep::analysis::small_signal::{SmallSignal, Wire};
use railstep::circuit::Changes;
use railstep::document::NoFiles;
use railstep::measure::margins::margins;
use railstep::plan::{self, Plan};
use railstep::system::System;
use railstep::trial::{Outcome, RunOptions};
use std::hint::black_box;

const DEMO: &str = include_str!("../netlists/buoy-radio.toml");
const DROPOUT: &str = r#"
[[tests]]
name = "bench dropout"
kind = "dropout"
load_levels = ["2 mA", "12 mA", "50 mA", "100 mA", "180 mA"]
points = 60
"#;

fn plan(test: &str) -> Plan {
    let text = format!("{DEMO}{test}");
    let reading = plan::read("buoy-radio.toml", &text, &NoFiles, &Changes::default());
    reading.plan.expect("a file without mistakes")
}

fn solve(plan: &Plan, name: &str) -> Outcome {
    let test = plan.chosen(&[name.to_owned()]).expect("a test")[0];
    let options = RunOptions { quick: true, ..RunOptions::default() };
    let outcome = plan.run(test, &options).expect("sound values");
    assert!(outcome.failure.is_none());
    outcome
}

fn dropout(criterion: &mut Criterion) {
    let plan = plan(DROPOUT);
    let outcome = solve(&plan, "bench dropout");
    let points: usize = outcome.curves.iter().map(|c| c.columns[0].values.len()).sum();
    println!("dropout: {points} points, {} Newton iterations", outcome.work.newton_iterations);
    criterion.bench_function("dropout, 5 loads of 60 inputs", |b| {
        b.iter(|| solve(black_box(&plan), "bench dropout"));
    });
}

/// 200 frequencies from 10 Hz to 100 MHz at one rest.
fn loop_gain(criterion: &mut Criterion) {
    let plan = plan("");
    let feedback = plan.nominal.rail.as_ref().and_then(|r| r.feedback.clone()).expect("feedback");
    let (net, at) = plan.nominal.net_with_break(&[], &feedback).expect("a terminal");
    let (system, wire) = (System::build(&net), Wire::from(at));
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let grid: Vec<f64> = (0..200).map(|k| 10f64.powf(1.0 + 7.0 * f64::from(k) / 199.0)).collect();
    println!("loop gain: {} unknowns, {} frequencies", system.n(), grid.len());
    criterion.bench_function("loop gain, 200 frequencies", |b| {
        b.iter(|| {
            let mut small = SmallSignal::new(&system, black_box(&rest.z));
            let gains = grid.iter().map(|&hz| small.loop_gain(wire, hz).expect("regular").gain);
            gains.fold(0.0, |sum, t| sum + t.norm())
        });
    });
    criterion.bench_function("loop gain, its margins", |b| {
        let mut small = SmallSignal::new(&system, &rest.z);
        b.iter(|| margins(&mut |hz| small.loop_gain(wire, hz).ok().map(|p| p.gain), &grid));
    });
    criterion.bench_function("loop gain, poles of the closed loop", |b| {
        let mut small = SmallSignal::new(&system, &rest.z);
        b.iter(|| small.natural_frequencies().map_or(0, |found| found.len()));
    });
}

criterion_group!(benches, dropout, loop_gain);
criterion_main!(benches);

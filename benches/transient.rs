//! Cost of one load-step transient of the buoy radio rail, at measured error, and of one of each other demo.
//!
//! What is timed is the march through the record alone: circuit read, operating point known.
//! Before timing, the run is held against one at a tolerance of 1e-9 V and the greatest
//! difference of the output is printed with the number of step attempts, so that the figure is
//! time at an error, not time.
//!
//! Figures of 2026-11-25 (2 cores of a shared Intel Xeon, family 6 model 167; quote ratios, machines
//! differ), accuracy 10 µV, time of the whole march:
//!
//! | test | method | attempts | error | time | per attempt |
//! |---|---|---|---|---|---|
//! | 100 ns edges | RODAS4P | 309 | 2.4 µV | 589 µs | 1.91 µs |
//! | 100 ns edges | TR-BDF2 | 1138 | 3.4 µV | 4120 µs | 3.62 µs |
//! | cold aged cell | RODAS4P | 471 | 0.8 µV | 863 µs | 1.83 µs |
//! | cold aged cell | TR-BDF2 | 1444 | 1.9 µV | 5500 µs | 3.81 µs |
//!
//! The rows are the quietest of several runs, not one run: the first was taken last, after the engine's
//! final change. With the neighbours busy the same bench gave 893 µs (2.9 µs an attempt) for it.
//!
//! Instructions are the same however busy the neighbours are. Those of one attempt by RODAS4P (callgrind
//! on 60 runs of a spread of the first test less those on 10, 2 cores of a shared AMD EPYC, 2026-11-26;
//! 21 unknowns, 6 nonlinear laws), in thousands, before and after the elimination of small matrices got a
//! program of its own, sums over stages ran along unknowns and constant matrices went in pairs:
//!
//! | | before | after |
//! |---|---|---|
//! | an attempt | 38.9 | 27.7 |
//! | its five evaluations | 10.2 | 7.0 |
//! | its six solves | 8.3 | 5.3 |
//! | its slopes and factorisation | 8.5 | 5.7 |
//! | its residual check | 2.9 | 2.0 |

#![allow(missing_docs)] // what criterion's macro makes
#![allow(clippy::print_stdout)] // attempts and error belong beside the times
#![allow(clippy::expect_used)] // a bench that cannot be set up ends

use criterion::{Criterion, criterion_group, criterion_main};
use railstep::analysis::{
    Accuracy, DEFAULT_WORK_LIMIT, Method, OperatingPoint, Start, Transient, TransientOptions,
    operating_point,
};
use railstep::circuit::Changes;
use railstep::document::NoFiles;
use railstep::plan::{self, Plan};
use railstep::system::System;
use railstep::trial::excite;
use std::hint::black_box;

const DEMO: &str = include_str!("../netlists/buoy-radio.toml");
/// The other demos with a load step of each.
const OTHERS: [(&str, &str, &str); 7] = [
    ("sensor-supply", include_str!("../netlists/sensor-supply.toml"), "sensor pulse"),
    ("core-rail", include_str!("../netlists/core-rail.toml"), "bean"),
    ("mast-amplifier", include_str!("../netlists/mast-amplifier.toml"), "ping"),
    ("bias-shunt", include_str!("../netlists/bias-shunt.toml"), "beams broken"),
    ("isolated-shunt", include_str!("../netlists/isolated-shunt.toml"), "curtain starts"),
    ("bench-supply", include_str!("../netlists/bench-supply.toml"), "motor switched"),
    ("gauge-supply", include_str!("../netlists/gauge-supply.toml"), "telegram"),
];
/// Tolerance of the run that errors are measured against, in V. An independent integration of the
/// same equations agrees with it to 2e-9 V, and below it the rounding of charges over picosecond
/// steps is all that is left to resolve.
const REFERENCE_V: f64 = 1e-9;

struct Prepared {
    system: System,
    rest: OperatingPoint,
    end_s: f64,
    output: usize,
}

fn prepare(demo: &str, test: &str) -> Prepared {
    let reading = plan::read("demo.toml", demo, &NoFiles, &Changes::default());
    let plan: Plan = reading.plan.expect("the demo has no mistakes");
    let test =
        *plan.chosen(&[test.to_owned()]).expect("the demo has this test").first().expect("one");
    let variant = plan.circuit.variant(&test.changes).expect("the test's values are good");
    let excitation = excite(test, &variant).expect("the test's times are good");
    let net = variant.net(&excitation.drives);
    let rail = variant.rail.as_ref().and_then(|rail| rail.output.as_deref());
    let output = rail.and_then(|node| net.find_node(node)).expect("the demo has a rail");
    let system = System::build(&net);
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("a rest");
    Prepared { system, rest, end_s: excitation.end_s, output }
}

fn march(prepared: &Prepared, method: Method, node_tolerance_v: f64) -> Transient<'_> {
    let options = TransientOptions {
        method,
        node_tolerance_v,
        start: Start::OperatingPoint,
        work_limit: DEFAULT_WORK_LIMIT,
    };
    let mut transient = Transient::new(&prepared.system, options);
    transient.run(&prepared.rest, prepared.end_s).expect("the demo can be solved");
    transient
}

/// Greatest difference of the output over a 50 ns grid, V.
fn error(run: &Transient<'_>, reference: &Transient<'_>, prepared: &Prepared) -> f64 {
    let count = (prepared.end_s / 50e-9) as usize;
    let at = |run: &Transient<'_>, t: f64, x: &mut [f64]| {
        let times = run.record.times_s();
        let k = times.partition_point(|&time| time <= t).clamp(1, times.len() - 1) - 1;
        run.record.between(k, (t - times[k]) / (times[k + 1] - times[k]), x);
        x[prepared.output]
    };
    let mut x = vec![0.0; prepared.system.unknowns.len()];
    (1..count)
        .map(|k| k as f64 * 50e-9)
        .map(|t| (at(run, t, &mut x) - at(reference, t, &mut x)).abs())
        .fold(0.0, f64::max)
}

fn load_step(c: &mut Criterion) {
    for (test, label) in
        [("transmit burst", "100 ns edges"), ("transmit burst, cold aged cell", "cold aged cell")]
    {
        let prepared = prepare(DEMO, test);
        let reference = march(&prepared, Method::Rodas4p, REFERENCE_V);
        for method in [Method::Rodas4p, Method::TrBdf2] {
            let tolerance = method.node_tolerance_v(Accuracy(10e-6));
            let run = march(&prepared, method, tolerance);
            println!(
                "{label}, {method:?}: {} attempts, greatest error of the output {:.2} µV",
                run.work().attempts(),
                1e6 * error(&run, &reference, &prepared),
            );
            c.bench_function(&format!("buoy load step, {label}, {method:?}"), |b| {
                b.iter(|| black_box(march(&prepared, method, tolerance).work()));
            });
        }
    }
}

fn other_demos(c: &mut Criterion) {
    let method = Method::Rodas4p;
    let tolerance = method.node_tolerance_v(Accuracy(10e-6));
    for (name, demo, test) in OTHERS {
        let prepared = prepare(demo, test);
        let run = march(&prepared, method, tolerance);
        println!(
            "{name}, {test}: {} unknowns, {} attempts",
            prepared.system.n(),
            run.work().attempts()
        );
        c.bench_function(&format!("{name}, {test}"), |b| {
            b.iter(|| black_box(march(&prepared, method, tolerance).work()));
        });
    }
}

criterion_group!(benches, load_step, other_demos);
criterion_main!(benches);

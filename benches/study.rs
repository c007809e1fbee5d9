//! What a study pays for each run beside the solving, and what the worst case of a test costs.
//!
//! `fire`: one run of the buoy's transmit burst with a changed output capacitance, as a map or a
//! spread makes it: variant, net, system, rest, march, measurements. The march alone is what
//! `benches/transient.rs` times.
//!
//! Instructions of one such run of a spread, in millions (callgrind, 60 runs less 10 of `spread` of this
//! test with `--quick --threads 1`, 2 cores of a shared AMD EPYC, 2026-11-26), before and after runs
//! started from the rest with nothing changed and evaluated only what they read:
//!
//! | | before | after |
//! |---|---|---|
//! | a run, drawing included | 26.3 | 14.0 |
//! | its rest | 4.1 | 0.1 |
//! | its march of 306 attempts | 12.7 | 9.2 |
//! | steps that end at what is measured | 0.9 | 0.6 |
//! | reading its curves | 5.4 | 1.5 |
//! | measuring | 1.6 | 0.8 |
//! | variant, net and system, drawing | 1.4 | 1.3 |
//!
//! The same of 60 and 50 runs less 20, on that day again, before and after small matrices were solved in
//! flat steps, elimination plans and room for records were shared between variants, and what is known
//! was no longer measured, asked or put into words again: 15.7 and 13.0, a ratio of 0.83, for the same
//! table to the last byte. User and system time of 1500 runs on both threads, two of each in turn on a
//! busy machine: 8.9 s and 6.9 s, a ratio of 0.78, for there are a tenth of the page faults. One
//! solution of linear equations took 1456 instructions before and takes 745.
//!
//! Abreast (callgrind, 240 runs in groups of 24, twice less once, 2026-11-27), in millions, before and after what
//! is read along a curve was read at four places at once, segments that cannot hold an extreme were passed
//! over, and lines were followed and errors judged in all lanes together:
//!
//! | | before | after |
//! |---|---|---|
//! | a run | 10.8 | 8.4 |
//! | its march | 4.1 | 3.7 |
//! | reading its curves | 2.3 | 1.4 |
//! | measuring | 1.9 | 0.8 |
//! | steps that end at what is measured | 1.4 | 1.4 |
//!
//! A spread of 10,000 runs on both threads, in pairs: 4.39 to 4.65 s and 3.71 to 4.10 s, a ratio of 0.87.

#![allow(missing_docs)] // what criterion's macro makes
#![allow(clippy::expect_used)] // a bench that cannot be set up ends

use criterion::{Criterion, criterion_group, criterion_main};
use railstep::circuit::{Change, Changes};
use railstep::document::NoFiles;
use railstep::plan;
use railstep::study::worst::{Depth, worst};
use railstep::study::{Forgetful, Ground, Runner, Shot, Watch};
use railstep::trial::RunOptions;
use std::hint::black_box;

const DEMO: &str = include_str!("../netlists/buoy-radio.toml");

fn study(c: &mut Criterion) {
    let reading = plan::read("buoy-radio.toml", DEMO, &NoFiles, &Changes::default());
    let plan = reading.plan.expect("the demo is a circuit");
    let test = plan.tests.iter().position(|t| t.name == "transmit burst").expect("its test");
    let ground = || Ground {
        circuit: &plan.circuit,
        tests: &plan.tests,
        options: RunOptions::default(),
        threads: 1,
    };
    for (name, watch) in [("droop", Watch::Named("droop".to_owned())), ("judged", Watch::Judged)] {
        let runner = Runner::new(ground(), &[test], &watch, &Forgetful).expect("it can be run");
        c.bench_function(&format!("fire/{name}"), |b| {
            let mut micro = 3.0;
            b.iter(|| {
                micro = if micro > 6.0 { 3.0 } else { micro + 0.01 };
                let changes = vec![Change::new("c_out", format!("{micro} µF"))];
                black_box(runner.fire(&Shot { test, changes }))
            });
        });
    }
    c.bench_function("variant", |b| {
        let list = vec![Change::new("c_out", "3.9 µF"), Change::new("v_ref", "1.21 V")];
        let changes = Changes { list };
        b.iter(|| black_box(plan.circuit.variant(&changes)));
    });
    c.bench_function("worst/searched", |b| {
        b.iter(|| {
            let runner = Runner::new(ground(), &[test], &Watch::Judged, &Forgetful);
            let runner = runner.expect("it can be run");
            black_box(worst(&runner, &[test], &[], Depth::Searched).is_ok())
        });
    });
}

criterion_group!(benches, study);
criterion_main!(benches);

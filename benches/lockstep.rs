//! A thousand variants of the buoy's transmit burst: each alone, and abreast.
//!
//! `march`: the march through time alone, circuits laid out and at rest; `run`: whole runs of a study, from
//! values to measurements. Each on one thread and both with the same results, to the last bit (a test says so).
//! Printed before timing: attempts and the cost of one.
//!
//! Figures of 2026-11-26 with eight lanes (2 cores of a shared AMD EPYC, one run of all four, without link-time optimisation):
//!
//! | | alone | abreast | ratio |
//! |---|---|---|---|
//! | march of a variant, 309 attempts | 1.17 ms | 0.74 ms | 1.6 |
//! | run of a variant | 2.44 ms | 2.03 ms | 1.2 |
//!
//! Four lanes, in pairs of runs beside eight on the same loaded machine: a march in 0.69 and 0.75 ms where eight
//! took 0.80 and 0.99 ms, 1.9 times the rate alone; a run in 1.57 ms.
//!
//! Registers of 512 bits change nothing (paired runs of three builds, shared AMD EPYC of family 25, 2026-11-27): an attempt
//! abreast in 1.62 to 1.73 µs, with them in 1.68 and 1.71, with them and eight lanes in 1.95 to 2.09; alone 2.7 to 3.1.
//!
//! With lines followed and errors judged in all lanes together (2026-11-27, quiet, same machine): a march in 762 µs alone
//! and 505 µs abreast, 2.5 and 1.6 µs an attempt, of 26,800 and 12,700 instructions. Tried beside it and left: f by what right sides leave instead of
//! summed anew at each stage (28,300 instructions an attempt alone for 27,700, 13,400 abreast for 14,100), steps of a
//! solution in columns of bytes (no fewer), 48 to 192 runs a group (no faster).
//!
//! With both sums of a stage in one go, solutions written where they are wanted, and each run measured as soon as it
//! has arrived (2026-11-27, quiet, two runs): a march in 745 and 841 µs alone, 431 and 418 µs abreast, 1.4 µs an attempt.
//! Most of that is code at hand: of 104 kB that a study walks through some 40 are an attempt's and what settles it, more than
//! the first level of the cache holds. `spread` of 10,000 runs of this test, best of six in turns on two threads: 3.28 s
//! where all runs of a group are prepared before the first sets out, 3.81 s where each is prepared when a lane is free,
//! 3.95 s before; another hour 4.04 s, 4.31 s where all are measured after the last has arrived, 4.64 s before. All but the two
//! before also left steps whole where the curve agreed with one that ends on it to a tenth of the tolerance, a tenth of the
//! instructions of a run (6.45 to 5.83 million); that was given up, for a run then repeats what a study prints to 0.1 µV
//! only. Not timed since. Finer rungs and controllers that follow the trend of the error save 2 to 8 % of the attempts of
//! the demos, at 1.3 to 2 times the largest error.
//!
//! Instructions say otherwise (callgrind, 120 runs less 60 of a spread of this test): 27,700 an attempt alone,
//! 8,500 abreast, a ratio of 3.2, and 13.0 against 7.8 million a run. What is worked on abreast is some 75 kB,
//! more than the first level of the cache; that is where the rest must be looked for. Floor: four numbers in a
//! register leave a quarter of the arithmetic, eight lanes an eighth of the walking through indices.

#![allow(missing_docs)] // what criterion's macro makes
#![allow(clippy::print_stdout)] // attempts belong beside the times
#![allow(clippy::expect_used)] // a bench that cannot be set up ends

use criterion::{Criterion, SamplingMode, criterion_group, criterion_main};
use railstep::analysis::{
    Accuracy, DEFAULT_WORK_LIMIT, Job, Method, OperatingPoint, Plans, Start, Transient,
    TransientOptions, operating_point, run_abreast,
};
use railstep::circuit::{Change, Changes};
use railstep::document::NoFiles;
use railstep::plan::{self, Plan};
use railstep::system::System;
use railstep::trial::{Reads, RunOptions, Unchanged, excite, run, run_all};
use std::hint::black_box;
use std::sync::Arc;
use std::time::{Duration, Instant};

const DEMO: &str = include_str!("../netlists/buoy-radio.toml");
const TEST: &str = "transmit burst";
const VARIANTS: usize = 1_000;
/// As studies group their runs.
const TOGETHER: usize = 24;

/// What varies, each evenly over its range.
const RANGES: [(&str, &str, [f64; 2]); 3] =
    [("c_out", "µF", [3.8, 5.6]), ("esr_out", "mΩ", [4.0, 8.0]), ("v_cell", "V", [3.5, 4.1])];

fn changes(variant: usize) -> Changes {
    let change = |(k, (name, unit, [from, to])): (usize, &(&str, &str, [f64; 2]))| {
        // Three steps that share no divisor with the number of variants.
        let share = (variant * [7, 11, 13][k]) % VARIANTS;
        let value = from + (to - from) * share as f64 / VARIANTS as f64;
        Change::new(*name, format!("{value:.6} {unit}"))
    };
    Changes { list: RANGES.iter().enumerate().map(change).collect() }
}

struct Variant {
    system: System,
    rest: OperatingPoint,
}

fn variants(plan: &Plan) -> (Vec<Variant>, f64) {
    let test = *plan.chosen(&[TEST.to_owned()]).expect("its test").first().expect("one");
    let mut end_s = 0.0;
    let variant = |k: usize| {
        let variant = plan.circuit.variant(&changes(k)).expect("values within their ranges");
        let excitation = excite(test, &variant).expect("the test's times are good");
        end_s = excitation.end_s;
        let system = System::build(&variant.net(&excitation.drives));
        let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("a rest");
        Variant { system, rest }
    };
    ((0..VARIANTS).map(variant).collect(), end_s)
}

fn begun<'a>(variant: &'a Variant, plans: &Plans) -> Transient<'a> {
    let method = Method::Rodas4p;
    let options = TransientOptions {
        method,
        node_tolerance_v: method.node_tolerance_v(Accuracy(10e-6)),
        start: Start::OperatingPoint,
        work_limit: DEFAULT_WORK_LIMIT,
    };
    let mut transient = Transient::new(&variant.system, options);
    transient.adopt(plans);
    transient
}

/// Attempts of all.
fn alone(variants: &[Variant], plans: &Plans, end_s: f64) -> usize {
    let march = |variant: &Variant| {
        let mut transient = begun(variant, plans);
        transient.run(&variant.rest, end_s).expect("it can be solved");
        transient.work().attempts()
    };
    variants.iter().map(march).sum()
}

fn abreast<'a>(variants: &'a [Variant], plans: &Plans, end_s: f64) -> usize {
    let group = |group: &'a [Variant]| {
        let job = |(number, variant): (usize, &'a Variant)| Job {
            number,
            transient: begun(variant, plans),
            rest: &variant.rest,
            end_s,
        };
        let mut attempts = 0;
        run_abreast(group.iter().enumerate().map(job), |_, transient, ended| {
            ended.expect("it can be solved");
            attempts += transient.work().attempts();
        });
        attempts
    };
    variants.chunks(TOGETHER).map(group).sum()
}

fn marches(c: &mut Criterion, plan: &Plan) {
    let (variants, end_s) = variants(plan);
    let Variant { system, rest } = &variants[0];
    let plans = Plans::of(system, &system.pieces(-1.0), &rest.z).expect("it has pivots");
    for (name, march) in
        [("alone", alone as fn(&[Variant], &Plans, f64) -> usize), ("abreast", abreast)]
    {
        let start = Instant::now();
        let attempts = march(&variants, &plans, end_s);
        let each_s = start.elapsed().as_secs_f64() / attempts as f64;
        println!("{name}: {attempts} attempts, {:.2} µs each", 1e6 * each_s);
    }
    let mut group = c.benchmark_group("march of 1000 variants");
    group
        .sampling_mode(SamplingMode::Flat)
        .sample_size(10)
        .measurement_time(Duration::from_secs(8));
    group.bench_function("alone", |b| b.iter(|| black_box(alone(&variants, &plans, end_s))));
    group.bench_function("abreast", |b| b.iter(|| black_box(abreast(&variants, &plans, end_s))));
    group.finish();
}

fn runs(c: &mut Criterion, plan: &Plan) {
    let test = *plan.chosen(&[TEST.to_owned()]).expect("its test").first().expect("one");
    let unchanged = Unchanged::of(&plan.circuit, test).map(Arc::new);
    let options = |k: usize| RunOptions {
        changes: changes(k),
        quick: true,
        reads: Reads::Slopes,
        unchanged: unchanged.clone(),
        ..RunOptions::default()
    };
    let all: Vec<RunOptions> = (0..VARIANTS).map(options).collect();
    let mut group = c.benchmark_group("run of 1000 variants");
    group
        .sampling_mode(SamplingMode::Flat)
        .sample_size(10)
        .measurement_time(Duration::from_secs(8));
    group.bench_function("alone", |b| {
        b.iter(|| all.iter().filter(|o| run(&plan.circuit, test, o).is_ok()).count());
    });
    group.bench_function("abreast", |b| {
        let together = |all: &[RunOptions]| run_all(&plan.circuit, test, all).len();
        b.iter(|| all.chunks(TOGETHER).map(together).sum::<usize>());
    });
    group.finish();
}

fn lockstep(c: &mut Criterion) {
    let reading = plan::read("buoy-radio.toml", DEMO, &NoFiles, &Changes::default());
    let plan = reading.plan.expect("the demo is a circuit");
    marches(c, &plan);
    runs(c, &plan);
}

criterion_group!(benches, lockstep);
criterion_main!(benches);

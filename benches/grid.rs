//! Cost of a load step on a power plane of 1,000 and of 20,000 nodes with its regulator at a corner, against
//! what its linear algebra alone costs.
//!
//! Before timing, for each size: unknowns, values in the factors, and the time of a plan, of one elimination
//! from the start, of one of the rows alone that laws have a part in, and of one solution; then the whole
//! march from rest to the end of the record, its counts, and its time as a multiple of (solutions × one
//! solution + eliminations × one elimination + the other factorisations × one of those rows alone). Last
//! the power of the number of nodes with which the march grows, and the memory at its peak. All of it is
//! CPU time of this thread, where the system tells it, so that neighbours do not count.
//!
//! Figures of 2026-11-26 (2 cores of a shared AMD EPYC, 1 MB of second and 32 MB of third level, seven others
//! building; a build without link-time optimisation):
//!
//! | nodes | unknowns | in the factors | plan | elimination | rows of laws | solution | march | attempts | eliminations | over its algebra |
//! |---|---|---|---|---|---|---|---|---|---|---|
//! | 1,000 | 1,051 | 21,779 | 4 ms | 0.39 ms | 0.011 ms | 0.06 ms | 0.072 s | 212 | 23 of 216 | 0.8 |
//! | 20,000 | 20,811 | 879,493 | 216 ms | 55 ms | 0.010 ms | 3.2 ms | 4.8 s | 174 | 23 of 178 | 1.06 |
//!
//! On that day again, the machine to itself: 0.072 and 3.67 s, 1.25 and 1.70 over the algebra, n^1.31, and 548 MB
//! at the peak. 2026-11-27, quiet again: 0.040 and 2.81 s, 1.12 and 1.09 over the algebra (0.024 and 1.7 ms a
//! solution), n^1.42, for the smaller one gained more, and 576 MB.
//!
//! Since 2026-11-27 large matrices are worked by dense blocks. That day, another building meanwhile, old and new
//! in turns, twice: 1,000 nodes 0.048 and 0.056 s before, 0.055 and 0.044 s since; 20,000 nodes 3.36 and 3.53 s,
//! since 1.58 and 1.61 s, an elimination 31 and 9 ms, a solution 1.18 and 1.38, since 0.67 and 0.48 ms, 1,042,411
//! values in the factors; n^1.42 and n^1.38, since n^1.12 and n^1.20; 576 MB at the peak, since 481 MB. Quieter, of
//! the blocks alone: 1.21 to 1.33 s against 2.41 to 2.99 s. Over its algebra 1.7 to 2.2 then, 1.6 to 2.0 before
//! in the same hour: the algebra has halved and more, what else a step takes has not, and a plan counts as that.
//! To itself, solutions no longer copied: 0.044 and 1.46 s, 1.23 and 1.81 over the algebra, n^1.17, 489 MB.
//! In a plane of 125 × 160 nodes without parts, cut along its lines (nested dissection), 1,126,300 values and 43
//! million products were left; by degrees, with all parts, 879,493 and 33 million.
//!
//! With neighbours at the memory the same bench gave up to 2.2 for the last column and n^1.15 to n^1.40 for
//! the growth: factors of 20,000 nodes do not fit the second level. On a ladder of four rungs an octave it took 139
//! attempts and 65 eliminations. Searched for by Markowitz's rule the order of a bare plane of 19,882 unknowns
//! took 647 ms and left 1,006,808 values, eliminated in 90 ms; by degrees 150 to 250 ms, 890,000 to
//! 930,000 values and 37 to 64 ms. Floor: two products for each value of the factors, read once, a solution.

#![allow(missing_docs)] // what criterion's macro makes
#![allow(clippy::print_stdout)] // counts belong beside the times
#![allow(clippy::expect_used)] // a bench that cannot be set up ends

mod generate;

use criterion::{Criterion, criterion_group, criterion_main};
use railstep::analysis::{
    Accuracy, DEFAULT_WORK_LIMIT, Method, OperatingPoint, Start, Transient, TransientOptions, Work,
    operating_point,
};
use railstep::circuit::Changes;
use railstep::document::NoFiles;
use railstep::numeric::{Elimination, Factors};
use railstep::plan;
use railstep::system::{Linearisation, System};
use railstep::trial::excite;
use std::fs;
use std::hint::black_box;
use std::sync::OnceLock;
use std::time::Instant;

/// Nodes across and along.
const SIZES: [[usize; 2]; 2] = [[25, 40], [125, 160]];
/// 1/s: that of a step of 25 ns by RODAS4P, the middle of those that are taken.
const RATE: f64 = 1.6e8;

/// CPU time of this thread in s, or the time of day where the system does not tell it.
fn now_s() -> f64 {
    static START: OnceLock<Instant> = OnceLock::new();
    let told = fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|t| t.split(' ').next().and_then(|w| w.parse::<f64>().ok()));
    nanoseconds
        .map_or_else(|| START.get_or_init(Instant::now).elapsed().as_secs_f64(), |t| 1e-9 * t)
}

/// Time of one run in s, of as many as take half a second.
fn time_of(mut run: impl FnMut()) -> f64 {
    run();
    let start = now_s();
    for count in 1.. {
        run();
        let spent = now_s() - start;
        if spent > 0.5 {
            return spent / f64::from(count);
        }
    }
    f64::NAN
}

struct Prepared {
    nodes: usize,
    system: System,
    rest: OperatingPoint,
    end_s: f64,
}

fn prepare([wide, high]: [usize; 2]) -> Prepared {
    let (text, start) = (generate::plane(wide, high), now_s());
    let reading = plan::read("plane.toml", &text, &NoFiles, &Changes::default());
    let plan = reading.plan.expect("no mistakes");
    let read = now_s();
    let test = *plan.tests.first().as_ref().expect("its test");
    let excitation = excite(test, &plan.nominal).expect("sound times");
    let system = System::build(&plan.nominal.net(&excitation.drives));
    let built = now_s();
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("a rest");
    println!(
        "{} nodes: read and checked, with rests, in {:.2} s; system built in {:.2} s; rest in {:.2} s, {} iterations",
        wide * high,
        read - start,
        built - read,
        now_s() - built,
        rest.newton_iterations,
    );
    Prepared { nodes: wide * high, system, rest, end_s: excitation.end_s }
}

fn march(prepared: &Prepared) -> Work {
    let method = Method::Rodas4p;
    let options = TransientOptions {
        method,
        node_tolerance_v: method.node_tolerance_v(Accuracy(10e-6)),
        start: Start::OperatingPoint,
        work_limit: DEFAULT_WORK_LIMIT,
    };
    let mut transient = Transient::new(&prepared.system, options);
    transient.run(&prepared.rest, prepared.end_s).expect("an end");
    transient.work()
}

/// Times in s of one solution, one elimination, and one of the rows of laws alone.
fn algebra(prepared: &Prepared) -> [f64; 3] {
    let Prepared { system, rest, .. } = prepared;
    let mut at = Linearisation::new(system);
    system.linearise(&rest.z, &vec![0.0; system.extent()], &mut at);
    let pattern = system.pattern();
    let mut values = vec![0.0; pattern.slots()];
    at.matrix(RATE, &mut values);
    let start = now_s();
    let plan = Elimination::plan(pattern, &values).expect("regular");
    let planned = now_s() - start;
    let mut factors = Factors::new(&plan);
    let all = time_of(|| plan.factor(black_box(&values), &mut factors).expect("regular"));
    let rows = time_of(|| plan.factor_varying(black_box(&values), &mut factors).expect("regular"));
    let (mut x, mut work) = (vec![1.0; system.n()], vec![0.0; system.n()]);
    let one = time_of(|| plan.solve(&factors, black_box(&mut x), &mut work));
    println!(
        "  {} unknowns, {} values, {} in the factors; plan {:.1} ms, elimination {:.3} ms, rows of laws {:.4} ms, solution {:.4} ms",
        system.n(),
        pattern.slots(),
        plan.fill(),
        1e3 * planned,
        1e3 * all,
        1e3 * rows,
        1e3 * one,
    );
    [one, all, rows]
}

/// Prints what a march costs against its algebra; gives its time in s.
fn compare(prepared: &Prepared) -> f64 {
    let [one, all, rows] = algebra(prepared);
    let start = now_s();
    let work = march(prepared);
    let spent = now_s() - start;
    let others = (work.factorisations - work.eliminations) as f64;
    let algebra = work.solves as f64 * one + work.eliminations as f64 * all + others * rows;
    println!(
        "  march: {:.3} s, {} attempts, {} solutions, {} eliminations of {} factorisations; {:.2} times its algebra",
        spent,
        work.attempts(),
        work.solves,
        work.eliminations,
        work.factorisations,
        spent / algebra,
    );
    spent
}

fn peak_mb() -> Option<f64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix("kB")?.trim().parse::<f64>().ok().map(|kilobytes| kilobytes / 1e3)
}

fn grid(criterion: &mut Criterion) {
    let planes = SIZES.map(|size| {
        let prepared = prepare(size);
        let spent = compare(&prepared);
        (prepared, spent)
    });
    let [(small, short), (large, long)] = &planes;
    let power = (long / short).ln() / (large.nodes as f64 / small.nodes as f64).ln();
    println!("from {} to {} nodes the march grows as n^{power:.2}", small.nodes, large.nodes);
    println!("at the peak {:.0} MB", peak_mb().unwrap_or(f64::NAN));
    let mut group = criterion.benchmark_group("load step on a plane");
    group.sample_size(10);
    for (prepared, _) in &planes {
        group.bench_function(format!("{} nodes", prepared.nodes), |b| b.iter(|| march(prepared)));
    }
    group.finish();
}

criterion_group!(benches, grid);
criterion_main!(benches);

//! Cost of refactoring and solving circuit-like matrices, and of planning.
//!
//! On 2026-11-24, Intel Xeon (family 6, model 167), one core of two, shared: refactoring and one
//! solve at n = 12 / 40 / 200 / 2,000 took 114 ns / 461 ns / 2.5 µs / 87 µs, one solve alone
//! 41 / 137 / 727 ns; planning 2 µs at 12, 1.8 ms at 2,000 and 0.36 s at 20,000 unknowns.
#![allow(clippy::unwrap_used, missing_docs)] // a bench fails by panicking; criterion's macros make items

#[path = "../tests/networks/mod.rs"]
mod networks;

use criterion::{BatchSize, BenchmarkId, Criterion, criterion_group, criterion_main};
use networks::{Matrix, Random, network};
use railstep::numeric::{Elimination, Factors};
use std::hint::black_box;

fn matrix(n: usize) -> Matrix<f64> {
    network(n, &mut Random(1), |random| random.decades(2.0))
}

fn refactor_and_solve(c: &mut Criterion) {
    let mut group = c.benchmark_group("refactor and one solve");
    for n in [12, 40, 200, 2_000, 20_000] {
        let Matrix { pattern, values } = matrix(n);
        let plan = Elimination::plan(&pattern, &values).unwrap();
        let mut factors = Factors::new(&plan);
        let b: Vec<f64> = (0..n).map(|k| f64::from(u8::from(k % 8 == 0))).collect();
        let (mut x, mut work) = (b.clone(), b.clone());
        group.bench_function(BenchmarkId::from_parameter(n), |bench| {
            bench.iter(|| {
                plan.factor(black_box(&values), &mut factors).unwrap();
                x.copy_from_slice(&b);
                plan.solve(&factors, black_box(&mut x), &mut work);
            });
        });
    }
    group.finish();
}

fn solve(c: &mut Criterion) {
    let mut group = c.benchmark_group("one solve");
    for n in [12, 40, 200, 2_000, 20_000] {
        let Matrix { pattern, values } = matrix(n);
        let plan = Elimination::plan(&pattern, &values).unwrap();
        let mut factors = Factors::new(&plan);
        plan.factor(&values, &mut factors).unwrap();
        let b: Vec<f64> = (0..n).map(|k| f64::from(u8::from(k % 8 == 0))).collect();
        let (mut x, mut work) = (b.clone(), b.clone());
        group.bench_function(BenchmarkId::from_parameter(n), |bench| {
            bench.iter(|| {
                x.copy_from_slice(&b);
                plan.solve(&factors, black_box(&mut x), &mut work);
            });
        });
    }
    group.finish();
}

/// What a step costs whose size has been met before: rows of a few laws, then one solution.
fn laws_alone(c: &mut Criterion) {
    let mut group = c.benchmark_group("rows of laws and one solve");
    for n in [200, 2_000, 20_000] {
        let Matrix { pattern, values } = matrix(n);
        let pattern = pattern.with_varying(few_slots(n));
        let plan = Elimination::plan(&pattern, &values).unwrap();
        assert!(plan.keeps_constants());
        let mut factors = Factors::new(&plan);
        plan.factor(&values, &mut factors).unwrap();
        let b: Vec<f64> = (0..n).map(|k| f64::from(u8::from(k % 8 == 0))).collect();
        let (mut x, mut work) = (b.clone(), b.clone());
        group.bench_function(BenchmarkId::from_parameter(n), |bench| {
            bench.iter(|| {
                plan.factor_varying(black_box(&values), &mut factors).unwrap();
                x.copy_from_slice(&b);
                plan.solve(&factors, black_box(&mut x), &mut work);
            });
        });
    }
    group.finish();
}

/// Some ten slots, wherever they lie.
fn few_slots(n: usize) -> impl Iterator<Item = usize> {
    (0..10).map(move |k| k * n / 5)
}

fn plan(c: &mut Criterion) {
    let mut group = c.benchmark_group("plan");
    group.sample_size(10);
    for n in [12, 200, 2_000, 20_000] {
        let Matrix { pattern, values } = matrix(n);
        group.bench_function(BenchmarkId::from_parameter(n), |bench| {
            let plan = || Elimination::plan(&pattern, &values).unwrap();
            bench.iter_batched(|| (), |()| plan(), BatchSize::PerIteration);
        });
    }
    group.finish();
}

criterion_group!(benches, refactor_and_solve, solve, laws_alone, plan);
criterion_main!(benches);

//! Cost of reading a file of 10,000 parts: a power plane with a regulator at its corner.
//!
//! Figures of 2026-11-26 (CPU time, 2 cores of a shared AMD EPYC, seven others building): 9,941 parts in
//! 825,758 bytes; text to circuit 126 ms, values 18 ms, topology 27 ms, equations 45 ms. Not looked at
//! further; the floor is the TOML reader's own time.

#![allow(missing_docs)] // what criterion's macro makes
#![allow(clippy::print_stdout)] // sizes belong beside the times
#![allow(clippy::expect_used)] // a bench that cannot be set up ends

mod generate;

use criterion::{Criterion, criterion_group, criterion_main};
use railstep::circuit::{self, Changes};
use railstep::document::NoFiles;
use railstep::system::System;
use std::hint::black_box;

/// Nodes across and along: three parts a node.
const SIZE: [usize; 2] = [50, 67];

fn reading(c: &mut Criterion) {
    let text = generate::plane(SIZE[0], SIZE[1]);
    let read = |text: &str| circuit::read("plane.toml", text, &NoFiles).circuit;
    let circuit = read(&text).expect("no mistakes");
    let variant = circuit.variant(&Changes::default()).expect("sound values");
    println!("{} bytes, {} parts", text.len(), variant.parts.len());
    let mut group = c.benchmark_group("a file of 10,000 parts");
    group.sample_size(10);
    group.bench_function("text to circuit", |b| b.iter(|| read(black_box(&text)).is_some()));
    group.bench_function("its values", |b| {
        b.iter(|| black_box(&circuit).variant(&Changes::default()).is_ok());
    });
    group.bench_function("its topology", |b| {
        b.iter(|| black_box(&circuit).check_topology(&variant).len());
    });
    group.bench_function("its equations", |b| {
        b.iter(|| System::build(&black_box(&variant).net(&[])).n());
    });
    group.finish();
}

criterion_group!(benches, reading);
criterion_main!(benches);

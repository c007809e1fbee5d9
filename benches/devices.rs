//! Cost of the laws of each kind of part: values alone, and with all slopes.
//!
//! Each kind's own example is laid out with resistors at its nodes and evaluated at 1 V everywhere. The
//! resistors' share is that of the first line, which has nothing else.
//!
//! Figures of 2026-11-26 in ns (2 cores of a shared AMD EPYC, the machine to itself, values and with all slopes):
//! resistors alone 9 and 28, load 34 and 87, diode 41 and 65, bipolar 59 and 124, mosfet 81 and 131, error
//! amplifier 123 and 184. Floor: an exponential with its logarithm is some 90 operations.

#![allow(missing_docs)] // what criterion's macro makes
#![allow(clippy::print_stdout)] // what is left out belongs beside the times

use criterion::{Criterion, criterion_group, criterion_main};
use railstep::circuit::{self, Changes};
use railstep::device::kinds;
use railstep::document::NoFiles;
use railstep::numeric::ROOM;
use railstep::system::{Linearisation, System};
use std::collections::BTreeSet;
use std::hint::black_box;

/// The example as a circuit, with two resistors to ground at every word that may be one of its nodes.
fn alone(example: &str) -> Option<System> {
    let words: BTreeSet<&str> = example
        .split('"')
        .skip(1)
        .step_by(2)
        .filter(|word| *word != "gnd" && word.chars().all(|c| c.is_ascii_lowercase()))
        .chain(["a"])
        .collect();
    let mut text = format!("title = \"one part\"\n[parts]\n{example}\n");
    for (k, word) in words.iter().enumerate() {
        for twin in ["A", "B"] {
            let pair = format!("nodes = [\"{word}\", \"gnd\"]");
            let resistor = format!("{{ kind = \"resistor\", {pair}, resistance = \"1 kΩ\" }}");
            text.extend(["R", &k.to_string(), twin, " = ", &resistor, "\n"]);
        }
    }
    let circuit = circuit::read("part.toml", &text, &NoFiles).circuit?;
    let variant = circuit.variant(&Changes::default()).ok()?;
    Some(System::build(&variant.net(&[])))
}

fn devices(c: &mut Criterion) {
    let nothing = ("resistors alone", "");
    let all = kinds().iter().map(|kind| (kind.name, kind.example));
    for (name, example) in [nothing].into_iter().chain(all) {
        let Some(system) = alone(example) else {
            println!("{name}: its example does not stand alone");
            continue;
        };
        if system.law_inputs() == 0 && !example.is_empty() {
            println!("{name}: no nonlinear law");
            continue;
        }
        let z = vec![1.0; system.extent().max(ROOM)];
        let slopes = vec![0.0; system.extent().max(ROOM)];
        let mut f = vec![0.0; system.unknowns.len().max(ROOM)];
        let mut q = vec![0.0; system.law_charges()];
        let mut at = Linearisation::new(&system);
        c.bench_function(&format!("{name}, values"), |b| {
            b.iter(|| system.evaluate(black_box(&z), &mut f, &mut q));
        });
        c.bench_function(&format!("{name}, slopes"), |b| {
            b.iter(|| system.linearise(black_box(&z), &slopes, &mut at));
        });
    }
}

criterion_group!(benches, devices);
criterion_main!(benches);

//! Checks of the part kinds: their rows, their laws, and how they lay themselves out.

#![allow(
    clippy::unreadable_literal, // published digits are compared by eye with their source
    clippy::expect_used         // a test may fail by panicking
)]

mod abreast;
mod amplifier;
mod bipolar;
mod capacitor;
mod jacobian;
mod junction;
mod layout;
mod load;
mod more_amplifiers;
mod mosfet;
mod noise;
mod program_law;
mod rows;
mod shunts_and_limits;
mod temperature;
mod warm;
mod zener;

use super::{Control, Element, Input, Law, Net, Noise, Nonlinear, Parameters, Visitor, kind};
use crate::numeric::Dual;

/// Parameters of a kind, defaults filled in and `set` on top; every key must be in the row.
fn parameters(
    name: &str,
    words: &[(&'static str, &'static str)],
    set: &[(&'static str, f64)],
) -> Parameters {
    let row = kind(name).expect("a kind of this name");
    let mut p = row.defaults(298.15);
    for &(key, word) in words {
        assert!(row.key(key).is_some(), "`{key}` is no key of `{name}`");
        p.words.insert(key, word);
    }
    for &(key, number) in set {
        assert!(row.key(key).is_some(), "`{key}` is no key of `{name}`");
        p.numbers.insert(key, number);
    }
    p
}

/// One part alone between the given nodes.
fn laid(name: &str, p: &Parameters, nodes: &[&str]) -> Net {
    let mut net = Net::new();
    let names = ["t0", "t1", "t2", "t3", "t4", "t5", "t6", "t7"];
    let names = &names[..nodes.len()];
    let pins = net.begin_part("X", names, nodes);
    (kind(name).expect("a kind of this name").lay)(p, &pins, &mut net);
    net
}

/// The nonlinear laws of a net, in order.
fn laws(net: &Net) -> Vec<&Nonlinear> {
    net.elements
        .iter()
        .filter_map(|(_, element)| match element {
            Element::Law { law, .. } | Element::LawVoltage { law, .. } => Some(&**law),
            _ => None,
        })
        .collect()
}

/// Currents and charges, with their slopes to every input.
#[derive(Clone, Debug, PartialEq)]
struct Evaluated {
    currents: Vec<f64>,
    charges: Vec<f64>,
    current_slopes: Vec<Vec<f64>>,
    charge_slopes: Vec<Vec<f64>>,
}

struct Evaluate<'a>(&'a [f64], f64);

impl Visitor for Evaluate<'_> {
    type Output = Evaluated;
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Evaluated {
        let u: [f64; N] = self.0.try_into().expect("as many inputs as the law has");
        let (currents, charges) = law.evaluate(&u);
        let (i, q) = law.evaluate(&Dual::inputs(u));
        assert_same(&i.map(|x| x.value), &currents, self.1);
        assert_same(&q.map(|x| x.value), &charges, self.1);
        Evaluated {
            currents: currents.to_vec(),
            charges: charges.to_vec(),
            current_slopes: i.iter().map(|x| x.slope.to_vec()).collect(),
            charge_slopes: q.iter().map(|x| x.slope.to_vec()).collect(),
        }
    }
}

/// A dual divides by multiplying with the inverse, so values may differ from plain ones in the last
/// bits of the largest term.
const LAST_BITS: f64 = 8.0;
/// On a heat path widths of exponentials are such quotients too: a channel's current over 1 mV is a
/// difference of terms some 5000 times as large, each off by that quotient's own last bit.
const LAST_BITS_OVER_TEMPERATURE: f64 = 1e4;

fn assert_same(dual: &[f64], plain: &[f64], bits: f64) {
    let largest = plain.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    for (d, p) in dual.iter().zip(plain) {
        assert!((d - p).abs() <= bits * f64::EPSILON * largest, "{d:e} is not {p:e}");
    }
}

fn evaluate(law: &Nonlinear, u: &[f64]) -> Evaluated {
    let is_warm = format!("{law:?}").starts_with("Warm");
    let bits = if is_warm { LAST_BITS_OVER_TEMPERATURE } else { LAST_BITS };
    law.visit(Evaluate(u, bits))
}

struct Noises<'a>(&'a [f64]);

impl Visitor for Noises<'_> {
    type Output = Vec<Noise<f64>>;
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Self::Output {
        law.noise(self.0.try_into().expect("as many inputs as the law has")).to_vec()
    }
}

/// Noise of each current.
fn noise(law: &Nonlinear, u: &[f64]) -> Vec<Noise<f64>> {
    law.visit(Noises(u))
}

struct Region<'a>(&'a [f64]);

impl Visitor for Region<'_> {
    type Output = Option<&'static str>;
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Self::Output {
        law.region(self.0.try_into().expect("as many inputs as the law has"))
    }
}

fn region(law: &Nonlinear, u: &[f64]) -> Option<&'static str> {
    law.visit(Region(u))
}

struct Limit<'a>(&'a [f64], &'a [f64]);

impl Visitor for Limit<'_> {
    type Output = Vec<f64>;
    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Vec<f64> {
        let previous: [f64; N] = self.0.try_into().expect("as many inputs as the law has");
        let mut proposed: [f64; N] = self.1.try_into().expect("as many inputs as the law has");
        law.limit(&previous, &mut proposed);
        proposed.to_vec()
    }
}

fn limit(law: &Nonlinear, previous: &[f64], proposed: &[f64]) -> Vec<f64> {
    law.visit(Limit(previous, proposed))
}

/// Current into each terminal of the only part, at these values of all unknowns, charges at rest.
fn terminal_currents(net: &Net, x: &[f64]) -> Vec<f64> {
    let mut into = vec![0.0; net.parts[0].terminals.len()];
    let mut add = |pins: &[super::Pin; 2], i: f64| {
        for (pin, sign) in pins.iter().zip([1.0, -1.0]) {
            if let Some(terminal) = pin.terminal {
                into[terminal] += sign * i;
            }
        }
    };
    for (_, element) in &net.elements {
        match element {
            Element::Conductance { pins, siemens } => {
                add(pins, siemens * (x[pins[0].unknown] - x[pins[1].unknown]));
            }
            Element::Capacitance { .. } | Element::Mutual { .. } => {}
            Element::Branch { pins, current, .. } | Element::LawVoltage { pins, current, .. } => {
                add(pins, x[*current]);
            }
            Element::Transfer { pins, control, gain } => {
                let followed = match *control {
                    Control::Voltage(a, b) => x[a] - x[b],
                    Control::Current(k) => x[k],
                };
                add(pins, gain * followed);
            }
            Element::Source { pins, drive } => add(pins, net.drives[*drive].initial()),
            Element::Law { law, inputs, currents, .. } => {
                let read = |input: &Input| match *input {
                    Input::Between(a, b) => x[a] - x[b],
                    Input::Drive(k) => net.drives[k].initial(),
                    Input::Time => 0.0,
                };
                let u: Vec<f64> = inputs.iter().map(read).collect();
                for (pins, i) in currents.iter().zip(evaluate(law, &u).currents) {
                    add(pins, i);
                }
            }
        }
    }
    into
}

/// Fails unless `value` is within `relative` of `expected`.
#[track_caller]
fn assert_close(value: f64, expected: f64, relative: f64) {
    let error = (value - expected).abs();
    assert!(
        error <= relative * expected.abs(),
        "{value:e} is {:e} relative away from {expected:e}",
        error / expected.abs()
    );
}

/// The root of a rising function between two ends.
fn bisect(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if f(middle) > 0.0 {
            high = middle;
        } else {
            low = middle;
        }
    }
    0.5 * (low + high)
}

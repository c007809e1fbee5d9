//! Parts whose law the user wrote.

use super::{assert_close, evaluate, laid, laws, limit, parameters, terminal_currents};
use crate::device::{Element, GROUND, Input, LawOutput, Net, Parameters, Pin};
use crate::diagnostic::{FileId, Span};
use crate::quantity::{Dimension, Names, Program, parse};

struct Inputs(&'static [&'static str]);

impl Names for Inputs {
    fn find(&self, name: &str) -> Option<(usize, Dimension)> {
        if name == "t" {
            return Some((self.0.len(), Dimension::SECOND));
        }
        self.0.iter().position(|n| *n == name).map(|k| (k, Dimension::VOLT))
    }

    fn all(&self) -> Vec<String> {
        self.0.iter().map(|n| (*n).to_owned()).collect()
    }
}

fn program(text: &str, inputs: &'static [&'static str]) -> Program {
    let tree = parse(text, Span { file: FileId(0), start: 0, end: text.len() }).expect("it parses");
    tree.compile(&Inputs(inputs)).expect("it compiles")
}

fn law(
    output: LawOutput,
    text: &str,
    inputs: &'static [&'static str],
    pairs: &[[usize; 2]],
) -> Net {
    let pin = |unknown| Pin { unknown, terminal: None };
    let p = Parameters {
        inputs: pairs.iter().map(|[a, b]| [pin(*a), pin(*b)]).collect(),
        law: Some((output, program(text, inputs))),
        ..parameters("law", &[], &[])
    };
    laid("law", &p, &["a", "b"])
}

/// The ideal diode as a user would write it: 1 µA·(e^(x/26 mV) − 1).
#[test]
fn exact_current_by_expression() {
    let net = law(LawOutput::Current, "1 µA * (exp(x / 26 mV) - 1)", &["x"], &[[1, 2]]);
    let into = terminal_currents(&net, &[0.0, 0.35, 0.05]);
    assert_close(into[0], 1e-6 * (0.3_f64 / 0.026).exp_m1(), 1e-12);
    assert_eq!(into[0], -into[1]);
    assert_eq!(laws(&net)[0].resistive(), [true]);
}

#[test]
fn time_stands_behind_the_inputs_however_many_there_are() {
    for (count, names) in [(0, &[][..]), (2, &["x", "y"]), (4, &["x", "y", "z", "w"])] {
        let pairs = vec![[1, 2]; count];
        let net = law(LawOutput::Current, "t * 3 A/s", names, &pairs);
        let at = evaluate(laws(&net)[0], &[0.1, 0.2, 0.3, 0.4, 2.0]);
        assert_eq!(at.currents, [6.0]);
        assert_eq!(at.current_slopes[0], [0.0, 0.0, 0.0, 0.0, 3.0]);
        let Element::Law { inputs, .. } = &net.elements[0].1 else { panic!("a law") };
        assert_eq!(inputs[4], Input::Time);
        let unused = Input::Between(GROUND, GROUND);
        assert_eq!(inputs.iter().filter(|i| **i == unused).count(), 4 - count);
    }
}

#[test]
fn a_charge_and_a_voltage_have_their_own_elements() {
    let charge = law(LawOutput::Charge, "1 nF * x + 2 nF/V * x * x", &["x"], &[[1, 2]]);
    let at = evaluate(laws(&charge)[0], &[3.0, 0.0, 0.0, 0.0, 0.0]);
    assert_close(at.charges[0], 21e-9, 1e-14);
    assert_close(at.charge_slopes[0][0], 13e-9, 1e-14);
    assert!(at.currents.is_empty());

    let voltage = law(LawOutput::Voltage, "2 * x", &["x"], &[[1, 0]]);
    let Element::LawVoltage { current, .. } = voltage.elements[0].1 else { panic!("a voltage") };
    assert_eq!(voltage.parts[0].branch, Some(current));
    assert_eq!(evaluate(laws(&voltage)[0], &[0.5, 0.0, 0.0, 0.0, 0.0]).currents, [1.0]);
    assert_eq!(laws(&voltage)[0].resistive(), [false]);
}

#[test]
fn a_step_into_an_overflow_is_cut_back() {
    let net = law(LawOutput::Current, "1 µA * (exp(x / 26 mV) - 1)", &["x"], &[[1, 2]]);
    let law = laws(&net)[0];
    let u = |x: f64| [x, 0.0, 0.0, 0.0, 1.0];
    let held = limit(law, &u(0.0), &u(400.0));
    let at = evaluate(law, &held);
    assert!(held[0] > 0.3 && at.currents[0] <= 1e6 && at.current_slopes[0][0].is_finite());
    assert_eq!(held[4], 1.0);
    assert_eq!(limit(law, &u(0.0), &u(0.4)), u(0.4));
    // From beyond all reason it goes on, by no more than a thousandfold.
    let ampere = |x: f64| 1e-6 * (x / 26e-3).exp_m1();
    let beyond = ampere(1.5);
    let further = ampere(limit(law, &u(1.5), &u(4.0))[0]);
    assert!(beyond > 1e6 && further > beyond && further <= 1e3 * beyond, "{beyond:e} {further:e}");
}

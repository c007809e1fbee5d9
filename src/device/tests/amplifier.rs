//! Error amplifier: each stage against its definition, and where its currents return.

use super::{assert_close, evaluate, laid, laws, parameters, region, terminal_currents};
use crate::device::{Element, Net, Nonlinear, Parameters};

const COMMON: [(&str, f64); 3] =
    [("transconductance", 200e-6), ("stage_current", 20e-6), ("stage_resistance", 5e6)];
const VOLTAGE: [(&str, f64); 2] = [("output_resistance", 1e3), ("drive_current", 2e-3)];
const CURRENT: [(&str, f64); 2] = [("output_transconductance", 0.02), ("highest_current", 20e-3)];
const NODES: [&str; 5] = ["ref", "fb", "out", "vin", "gnd"];

fn amplifier(
    words: &[(&'static str, &'static str)],
    sets: &[&[(&'static str, f64)]],
) -> Parameters {
    let set: Vec<(&'static str, f64)> = sets.concat();
    parameters("error-amplifier", words, &set)
}

fn voltage(more: &[(&'static str, f64)]) -> Net {
    laid("error-amplifier", &amplifier(&[], &[&COMMON, &VOLTAGE, more]), &NODES)
}

fn current(words: &[(&'static str, &'static str)], more: &[(&'static str, f64)]) -> Net {
    let words = [&[("stage", "current")], words].concat();
    laid("error-amplifier", &amplifier(&words, &[&COMMON, &CURRENT, more]), &NODES)
}

fn one(net: &Net, wanted: fn(&Nonlinear) -> bool) -> &Nonlinear {
    laws(net).into_iter().find(|law| wanted(law)).expect("a law of this kind")
}

fn softplus(u: f64) -> f64 {
    if u > 30.0 { u } else { u.exp().ln_1p() }
}

/// Differential pair of bipolars: I_C1 − I_C2 = I·tanh(v/2U_T), so g_m/I = 1/(2U_T) (Gray and
/// Meyer); digits from a 40-digit evaluation.
#[test]
fn published_input_stage_is_a_differential_pair() {
    let thermal = 0.025;
    let pair = [("stage_current", 1.0), ("transconductance", 0.5 / thermal)];
    let net = voltage(&pair);
    let stage = one(&net, |l| matches!(l, Nonlinear::InputStage(_)));
    let rows = [
        (0.1, 0.04995837495787997),
        (0.5, 0.2449186624037091),
        (1.0, 0.4621171572600098),
        (2.0, 0.7615941559557649),
        (4.0, 0.9640275800758169),
    ];
    for (share, expected) in rows {
        assert_close(evaluate(stage, &[share * thermal]).currents[0], expected, 1e-14);
    }
    let slope = |d: f64| evaluate(stage, &[d]).current_slopes[0][0] * 2.0 * thermal;
    assert_close(slope(0.200670695462 * thermal), 0.99, 1e-12);
    assert_close(slope(0.654900300475 * thermal), 0.9, 1e-12);
}

/// What flows into the internal node, seen where it comes from: out of ground.
#[test]
fn the_inverting_input_pulls_the_internal_node_down() {
    for (word, sign) in [("sense", 1.0), ("reference", -1.0)] {
        let p = amplifier(&[("inverting", word)], &[&COMMON, &VOLTAGE]);
        let net = laid("error-amplifier", &p, &NODES);
        let Some((_, Element::Law { law, inputs, currents, .. })) = net.elements.first() else {
            panic!("the input stage comes first")
        };
        let x = [0.0, 1.25, 1.2, 0.0, 0.0, 0.0];
        let d = match inputs[0] {
            crate::device::Input::Between(a, b) => x[a] - x[b],
            _ => panic!("it reads a voltage"),
        };
        assert_close(d, sign * 0.05, 1e-12);
        let i = evaluate(law, &[d]).currents[0];
        assert_close(i, sign * 20e-6 * (0.05_f64 * 10.0).tanh(), 1e-12);
        assert_eq!(net.unknowns[currents[0][1].unknown].name, "X.internal");
    }
}

/// i = (s/r)·(softplus((v − hi)/s) − softplus((lo − v)/s)), s = 10 mV, r = 1 kΩ.
#[test]
fn exact_clamp() {
    let net = voltage(&[("swing_low", 0.2), ("swing_high", 0.3)]);
    let clamp = one(&net, |l| matches!(l, Nonlinear::Clamp(_)));
    let supply = 3.7;
    for v in [-1.0, 0.15, 0.2, 0.25, 1.5, 3.35, 3.4, 3.5, 5.0] {
        let expected = 1e-5 * (softplus((v - 3.4) / 0.01) - softplus((0.2 - v) / 0.01));
        let i = evaluate(clamp, &[v, supply]).currents[0];
        assert!((i - expected).abs() <= 1e-12 * expected.abs() + 1e-30, "{i:e} at {v} V");
    }
    assert_eq!(region(clamp, &[3.5, supply]), Some("wound up at its upper swing"));
    assert_eq!(region(clamp, &[0.1, supply]), Some("wound up at its lower swing"));
    assert_eq!(region(clamp, &[1.5, supply]), None);
    // A small current of the input stage leaves the node short of the limit it is held at.
    assert_eq!(region(clamp, &[3.37, supply]), Some("wound up at its upper swing"));
    assert_eq!(region(clamp, &[0.23, supply]), Some("wound up at its lower swing"));
    assert_eq!(region(clamp, &[0.25, supply]), None);
}

#[test]
fn a_ceiling_rules_only_where_it_is_the_lower_limit() {
    let plain = voltage(&[]);
    let capped = voltage(&[("ceiling", 2.0)]);
    let plain = one(&plain, |l| matches!(l, Nonlinear::Clamp(_)));
    let capped = one(&capped, |l| matches!(l, Nonlinear::CeilingClamp(_)));
    let i = |law: &Nonlinear, v: f64, supply: f64| evaluate(law, &[v, supply]).currents[0];
    // Far below, the supply's limit rules; far above, the ceiling; e^-50 of 10 mV is left over.
    assert_close(i(capped, 1.55, 1.5), i(plain, 1.55, 1.5), 1e-13);
    assert_close(i(capped, 2.05, 2.5), i(plain, 2.05, 2.0), 1e-13);
    assert_close(i(capped, 2.05, 1e6), i(plain, 2.05, 2.0), 1e-13);
    // At the crossing both rule: the limit is lower by s·ln 2.
    let lower = 2.0 - 0.01 * std::f64::consts::LN_2;
    assert_close(i(capped, 2.05, 2.0), i(plain, 2.05, lower), 1e-12);
    assert_eq!(region(capped, &[2.1, 5.0]), Some("wound up at its upper swing"));
}

/// I_d·tanh((v_x − v_out)/(R_o·I_d)), whatever share each rail has in it.
#[test]
fn exact_voltage_stage_adds_up() {
    let net = voltage(&[]);
    let stage = one(&net, |l| matches!(l, Nonlinear::VoltageStage(_)));
    for v in [-50.0, -2.0, -0.5, -1e-3, -1e-6, 0.0, 1e-9, 1e-4, 2e-3, 0.7, 3.0, 900.0] {
        let [supply, ground] = evaluate(stage, &[v]).currents[..] else { panic!("two currents") };
        let total = 2e-3 * (v / 2.0_f64).tanh();
        // Rounding only: both shares are at most I_d.
        assert!((supply + ground - total).abs() <= 2e-3 * f64::EPSILON, "{v} V");
        let (own, other) = if v > 0.0 { (supply, ground) } else { (ground, supply) };
        // The wrong rail's share is at most 0.15 times the blend of 1 % of I_d.
        assert!(other.abs() <= 2e-3 * 1.6e-3, "{other:e} at {v} V");
        assert!(own.abs() >= 0.5 * total.abs());
    }
    let far = evaluate(stage, &[2.0]).currents;
    assert!(far[1].abs() < 1e-7 && far[0] > 1.5e-3);
    assert_eq!(evaluate(stage, &[0.0]).currents, [0.0, 0.0]);
    assert_eq!(region(stage, &[5.0]), Some("at its drive limit"));
    assert_eq!(region(stage, &[0.1]), Some("linear"));
}

/// lo + w·softplus((x − lo)/w) − w·softplus((x − hi)/w), w = 1 % of the span, x = G·v.
#[test]
fn exact_current_stage() {
    let net = current(&[], &[("lowest_current", 1e-3)]);
    let stage = one(&net, |l| matches!(l, Nonlinear::CurrentStage(_)));
    let w = 0.19e-3;
    for v in [-1.0, 0.0, 0.049, 0.05, 0.051, 0.5, 0.99, 1.0, 1.01, 1.5] {
        let x = 0.02 * v;
        let bends = softplus((x - 1e-3) / w) - softplus((x - 20e-3) / w);
        assert_close(evaluate(stage, &[v]).currents[0], 1e-3 + w * bends, 1e-12);
    }
    assert_eq!(evaluate(stage, &[1e6]).currents[0], 20e-3);
    assert_eq!(region(stage, &[1.1]), Some("at its drive limit"));
    assert_eq!(region(stage, &[0.5]), Some("linear"));
    assert_eq!(region(stage, &[0.0]), Some("at its lowest current"));
}

/// Into reference, sense, output, supply, ground with the internal node at 0.5 V and balanced
/// inputs: 10 mA in the output, and 100 nA that the internal node's resistance sends to ground.
#[test]
fn a_sink_takes_its_current_out_of_ground_and_a_source_from_the_supply() {
    let x = |net: &Net| {
        let mut x = vec![0.0; net.unknowns.len()];
        for (name, volt) in [("ref", 1.2), ("fb", 1.2), ("out", 2.0), ("vin", 3.7)] {
            x[net.find_node(name).expect("a node")] = volt;
        }
        let internal = net.unknowns.iter().position(|u| u.name == "X.internal").expect("inside");
        x[internal] = 0.5;
        x
    };
    let sink =
        current(&[("direction", "sink")], &[("supply_current", 1e-6), ("sense_current", 2e-8)]);
    let into = terminal_currents(&sink, &x(&sink));
    assert_eq!(into[0], 0.0);
    assert_eq!(into[1], 2e-8);
    assert_close(into[2], 10e-3, 1e-12);
    assert_eq!(into[3], 1e-6);
    assert_close(into[4], -(10e-3 + 1e-6 + 2e-8 + 1e-7), 1e-12);

    let source = current(&[("direction", "source")], &[]);
    let into = terminal_currents(&source, &x(&source));
    assert_close(into[2], -10e-3, 1e-12);
    assert_close(into[3], 10e-3, 1e-12);
    assert_close(into[4], -1e-7, 1e-6);
}

#[test]
fn lag_and_resistance_return_where_they_are_told_to() {
    let lag = [("lag_resistance", 50e3), ("lag_capacitance", 30e-12), ("stage_capacitance", 1e-12)];
    for (word, node) in [("ground", "gnd"), ("supply", "vin")] {
        let p = amplifier(&[("returns_to", word)], &[&COMMON, &VOLTAGE, &lag]);
        let net = laid("error-amplifier", &p, &NODES);
        let ends: Vec<(f64, &str)> = net
            .elements
            .iter()
            .filter_map(|(_, element)| match element {
                Element::Conductance { pins, siemens } => Some((*siemens, pins[1].unknown)),
                Element::Capacitance { pins, farad, .. } => Some((*farad, pins[1].unknown)),
                _ => None,
            })
            .map(|(value, unknown)| (value, net.unknowns[unknown].name.as_str()))
            .collect();
        let expected = [(1.0 / 5e6, node), (1.0 / 50e3, "X.lag"), (30e-12, node), (1e-12, node)];
        assert_eq!(ends, expected);
    }
}

#[test]
fn its_own_consumption_is_not_a_level_that_tests_drive() {
    let net = voltage(&[("supply_current", 1e-6)]);
    assert_eq!(net.drives.len(), 1);
    assert_eq!(net.parts[0].drive, None);
}

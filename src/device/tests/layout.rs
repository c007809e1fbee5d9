//! Linear parts: what they lay out, and with which signs.

use super::{assert_close, laid, parameters, terminal_currents};
use crate::device::{Control, Drive, Element, Net, Parameters, Pin, Role, kind, kinds};

fn pin(unknown: usize) -> Pin {
    Pin { unknown, terminal: None }
}

#[test]
fn a_capacitor_with_esl_starts_from_its_inner_voltage() {
    let set = [
        ("capacitance", 10e-6),
        ("remaining", 0.5),
        ("esr", 5e-3),
        ("esl", 0.8e-9),
        ("leakage_resistance", 1e6),
        ("initial", 3.0),
    ];
    let net = laid("capacitor", &parameters("capacitor", &[], &set), &["a", "gnd"]);
    assert_eq!(net.unknowns[2].name, "X.plate");
    assert_eq!(net.unknowns[3].role, Role::InductorCurrent);
    let Element::Branch { pins, resistance_ohm, inductance_h, .. } = &net.elements[0].1 else {
        panic!("a branch first")
    };
    assert_eq!((pins[0].unknown, pins[1].unknown), (1, 2));
    assert_eq!((*resistance_ohm, *inductance_h), (5e-3, 0.8e-9));
    let Element::Capacitance { pins, farad, initial_v } = &net.elements[1].1 else {
        panic!("then the capacitance")
    };
    assert_eq!((pins[0].unknown, pins[1].unknown), (2, 0));
    assert_eq!((*farad, *initial_v), (5e-6, Some(3.0)));
    assert!(matches!(net.elements[2].1, Element::Conductance { siemens, .. } if siemens == 1e-6));
}

/// Equal impedances in parallel: C·n, and ESR, ESL and leakage over n (Kirchhoff's current law).
#[test]
fn exact_so_many_in_parallel_are_one_of_so_many_times_the_size() {
    let one = [
        ("capacitance", 10e-6),
        ("remaining", 0.5),
        ("esr", 8e-3),
        ("esl", 0.8e-9),
        ("leakage_resistance", 1e6),
    ];
    let four = [
        ("capacitance", 40e-6),
        ("remaining", 0.5),
        ("esr", 2e-3),
        ("esl", 0.2e-9),
        ("leakage_resistance", 0.25e6),
    ];
    let counted: Vec<_> = one.into_iter().chain([("count", 4.0)]).collect();
    let lay = |set: &[(&'static str, f64)]| {
        format!("{:?}", laid("capacitor", &parameters("capacitor", &[], set), &["a", "b"]).elements)
    };
    assert_eq!(lay(&counted), lay(&four));
    assert_ne!(lay(&one), lay(&four));
}

#[test]
fn a_capacitor_without_parasitics_is_one_element() {
    let net =
        laid("capacitor", &parameters("capacitor", &[], &[("capacitance", 1e-6)]), &["a", "b"]);
    assert_eq!(net.elements.len(), 1);
    assert_eq!(net.unknowns.len(), 3);
}

#[test]
fn an_esr_alone_is_a_conductance() {
    let set = [("capacitance", 1e-6), ("esr", 0.5), ("esr_temperature_factor", 4.0)];
    let net = laid("capacitor", &parameters("capacitor", &[], &set), &["a", "b"]);
    assert!(matches!(net.elements[0].1, Element::Conductance { siemens, .. } if siemens == 0.5));
    assert!(
        matches!(&net.elements[1].1, Element::Capacitance { pins, .. } if pins[0].unknown == 3)
    );
}

#[test]
fn an_inductor_and_a_source_are_branches() {
    let set = [("inductance", 4e-9), ("series_resistance", 8e-3), ("initial", 0.1)];
    let net = laid("inductor", &parameters("inductor", &[], &set), &["a", "b"]);
    assert!(matches!(net.elements[0].1,
        Element::Branch { inductance_h, resistance_ohm, initial_a, drive: None, .. }
        if inductance_h == 4e-9 && resistance_ohm == 8e-3 && initial_a == Some(0.1)));

    let mut p = parameters("voltage-source", &[], &[("voltage", 3.7), ("resistance", 0.15)]);
    p.drive = Some(Drive::constant(4.2));
    let net = laid("voltage-source", &p, &["plus", "minus"]);
    assert_eq!(net.parts[0].branch, Some(3));
    assert_eq!(net.drives[0].constant, 4.2);
    assert!(matches!(net.elements[0].1,
        Element::Branch { inductance_h, resistance_ohm, drive: Some(0), .. }
        if inductance_h == 0.0 && resistance_ohm == 0.15));
}

#[test]
fn a_current_source_takes_its_current_out_of_the_first_node() {
    let p = parameters("current-source", &[], &[("current", 0.25)]);
    let net = laid("current-source", &p, &["a", "b"]);
    assert_eq!(terminal_currents(&net, &[0.0, 1.0, 5.0]), [0.25, -0.25]);
}

#[test]
fn controlled_sources_follow_a_voltage_or_a_current() {
    let laid_with = |name: &'static str, set: &[(&'static str, f64)], sensed: bool| {
        let mut p: Parameters = parameters(name, &[], set);
        if sensed {
            p.sensed = Some(2);
        } else {
            p.inputs = vec![[pin(2), pin(0)]];
        }
        laid(name, &p, &["a", "gnd"])
    };
    let current = "controlled-current-source";
    let x = [0.0, 1.0, 0.5];
    let net = laid_with(current, &[("transconductance", 0.02)], false);
    assert_close(terminal_currents(&net, &x)[0], 0.01, 1e-15);
    let net = laid_with(current, &[("gain", 99.0)], true);
    assert_close(terminal_currents(&net, &x)[0], 49.5, 1e-15);

    let voltage = "controlled-voltage-source";
    let control = |net: &Net| match net.elements[0].1 {
        Element::Branch { control, .. } => control,
        _ => None,
    };
    let net = laid_with(voltage, &[("gain", 10.0)], false);
    assert_eq!(control(&net), Some((Control::Voltage(2, 0), 10.0)));
    let net = laid_with(voltage, &[("transresistance", 50.0)], true);
    assert_eq!(control(&net), Some((Control::Current(2), 50.0)));
}

#[test]
fn a_part_given_too_few_pins_lays_nothing_and_does_not_fail() {
    for row in kinds() {
        let mut net = Net::new();
        (row.lay)(&row.defaults(300.0), &[], &mut net);
        assert!(net.elements.is_empty(), "`{}`", row.name);
    }
    assert!(kind("block").is_some());
}

//! Loads that come all at once: a capacitor that is plugged in, and pulses of charge.

use super::contact::{Gate, TRANSITION, TRANSITION_S};
use super::noise::four_kt_of;
use super::row::{ZERO, quantity};
use super::temperature::kelvin;
use super::{Drive, Input, Kind, Need, Net, Parameters, Pin, Range, Rule, Shape, Terminals};
use crate::quantity::Dimension;

/// S by which a capacitor that is not connected yet is held at its voltage.
const HOLDING_S: f64 = 1e-3;

/// `capacitor-connect`
pub(super) static CAPACITOR_CONNECT: Kind = Kind {
    name: "capacitor-connect",
    summary: "a capacitor that is plugged in at some instant: a card, a cable, a module",
    terminals: Terminals::Pair,
    keys: &[
        quantity(
            "capacitance",
            Dimension::FARAD,
            Range::Positive,
            Need::Required,
            "capacitance that is connected",
        ),
        quantity("esr", Dimension::OHM, Range::NonNegative, ZERO, "its series resistance"),
        quantity(
            "resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Required,
            "resistance of the closed contact and of its leads",
        ),
        quantity(
            "at",
            Dimension::SECOND,
            Range::NonNegative,
            Need::Required,
            "instant at which the contact begins to close",
        ),
        quantity(
            "initial",
            Dimension::VOLT,
            Range::Any,
            ZERO,
            "voltage that the capacitor brings along",
        ),
        TRANSITION,
    ],
    rules: &[],
    law: "until `at` the capacitor is held at `initial` apart from the circuit; then the conductance \
          between `nodes` and the capacitor rises in a straight line from nothing to 1/resistance \
          over `transition` and stays; i = (v - v_c - esr·i)/resistance, capacitance·dv_c/dt = i",
    noise: "thermal, of resistance and esr",
    source: "Ohm's law; conservation of charge",
    example: r#"C_CARD = { kind = "capacitor-connect", nodes = ["vout", "gnd"], capacitance = "10 µF", resistance = "50 mΩ", at = "1 ms" }"#,
    lay: lay_capacitor_connect,
};

/// `pulse-load`
pub(super) static PULSE_LOAD: Kind = Kind {
    name: "pulse-load",
    summary: "pulses of charge that repeat: clocked logic, a converter's input, a gate that is driven",
    terminals: Terminals::Pair,
    keys: &[
        quantity(
            "charge",
            Dimension::COULOMB,
            Range::Any,
            Need::Required,
            "charge taken by each pulse",
        ),
        quantity("rate", Dimension::HERTZ, Range::Positive, Need::Required, "pulses a second"),
        quantity(
            "width",
            Dimension::SECOND,
            Range::Positive,
            Need::Required,
            "width of a pulse at its foot",
        ),
        quantity(
            "delay",
            Dimension::SECOND,
            Range::NonNegative,
            ZERO,
            "instant at which the first pulse begins; nothing flows before",
        ),
    ],
    rules: &[Rule::WithinPeriod("width", "rate")],
    law: "triangles from the first node to the second: up to 2·charge/width in half of `width` and \
          back to zero in the other half, each 1/rate after the one before; the same at any voltage",
    noise: "none",
    source: "definition; the area of a triangle",
    example: r#"I_CLK = { kind = "pulse-load", nodes = ["vout", "gnd"], charge = "2 nC", rate = "100 kHz", width = "20 ns" }"#,
    lay: lay_pulse_load,
};

fn lay_capacitor_connect(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let (at, transition) = (p.number("at"), p.number("transition"));
    let mut steps = |points: [(f64, f64); 2]| {
        net.drives.push(Drive::points(points.to_vec()));
        net.drives.len() - 1
    };
    // What holds the capacitor lets go before the contact touches, and within the record where it can: the
    // rest before it is one with the capacitor held, however long the contact takes.
    let letting_go = transition.min(if at > 0.0 { at } else { TRANSITION_S });
    let holding = steps([(at - letting_go, 1.0), (at, 0.0)]);
    let touching = steps([(at, 0.0), (at + transition, 1.0)]);
    let lead = net.inner("lead");
    let plate = net.series_resistor(lead, p.number("esr"), kelvin(p), "plate");
    let siemens = 1.0 / p.number("resistance");
    let contact = Gate { siemens, rest_v: 0.0, ties: false, four_kt: four_kt_of(p) };
    let between =
        |x: Pin, y: Pin, drive: usize| [Input::Between(x.unknown, y.unknown), Input::Drive(drive)];
    net.law(contact, &between(a, lead, touching), &[[a, lead]], &[]);
    // It stands for the world before; it makes no noise.
    let holder = Gate { siemens: HOLDING_S, rest_v: p.number("initial"), ties: true, four_kt: 0.0 };
    net.law(holder, &between(plate, b, holding), &[[plate, b]], &[]);
    net.capacitance([plate, b], p.number("capacitance"), p.optional("initial"));
}

fn lay_pulse_load(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let (start, width) = (p.number("delay"), p.number("width"));
    let peak = 2.0 * p.number("charge") / width;
    let points = vec![(start, 0.0), (start + 0.5 * width, peak), (start + width, 0.0)];
    let repeat_every_s = Some(1.0 / p.number("rate"));
    net.drives.push(Drive { constant: 0.0, shape: Some(Shape::Points { points, repeat_every_s }) });
    let drive = net.drives.len() - 1;
    net.source([a, b], drive);
}

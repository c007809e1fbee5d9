//! Independent and controlled sources: all linear, so they need no law of their own.

use super::row::{CHARACTERISED_AT, NOISE_CORNER, ZERO, absent, quantity};
use super::temperature::{kelvin, linear_factor};
use super::{
    Control, Drive, Form, Key, Kind, Need, Net, Noise, NoisePlace, Parameters, Pin, Range, Rule,
    Terminal, Terminals,
};
use crate::quantity::Dimension;

const PLUS_MINUS: Terminals = Terminals::Named(&[
    Terminal { name: "plus", default: None, text: "positive end; its current counts inwards" },
    Terminal { name: "minus", default: None, text: "negative end" },
]);

/// `voltage-source`
pub(super) static VOLTAGE_SOURCE: Kind = Kind {
    name: "voltage-source",
    summary: "a battery, a supply or a reference, with inner resistance",
    terminals: PLUS_MINUS,
    keys: &[
        quantity("voltage", Dimension::VOLT, Range::Any, ZERO, "voltage of plus above minus"),
        quantity(
            "resistance",
            Dimension::OHM,
            Range::NonNegative,
            ZERO,
            "inner resistance, in series",
        ),
        absent("varies", Form::Varies("voltage"), "what is added to `voltage` over time"),
        quantity(
            "temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of `voltage` for each kelvin above `characterised_at`; \
             what varies and levels a test asks for are met as they stand",
        ),
        CHARACTERISED_AT,
        quantity(
            "noise_density",
            Dimension::VOLT_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "white noise of its voltage",
        ),
        NOISE_CORNER,
    ],
    rules: &[],
    law: "v(plus) - v(minus) = V(t) + resistance·i, i into plus; \
          V(t) = voltage·(1 + temperature_coefficient·(T - characterised_at)) + varies(t)",
    noise: "source: noise_density²·(1 + noise_corner/f) in its voltage; thermal: 4kT·resistance",
    source: "Thévenin's theorem; linear temperature coefficient: common practice, no source; \
             thermal noise: Nyquist, Phys. Rev. 32 (1928) 110",
    example: r#"BT1 = { kind = "voltage-source", plus = "cell", minus = "gnd", voltage = "3.7 V", resistance = "0.15 Ω" }"#,
    lay: lay_voltage_source,
};

/// `current-source`
pub(super) static CURRENT_SOURCE: Kind = Kind {
    name: "current-source",
    summary: "a current that is the same at any voltage",
    terminals: Terminals::Pair,
    keys: &[
        quantity(
            "current",
            Dimension::AMPERE,
            Range::Any,
            ZERO,
            "current taken out of the first node and delivered into the second",
        ),
        absent("varies", Form::Varies("current"), "what is added to `current` over time"),
        quantity(
            "noise_density",
            Dimension::AMPERE_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "white noise of its current",
        ),
        NOISE_CORNER,
    ],
    rules: &[],
    law: "i = current + varies(t), from the first node through the source into the second",
    noise: "source: noise_density²·(1 + noise_corner/f) in its current; a current I across a junction, \
            with no resistance to steady it, has noise_density = √(2q·I)",
    source: "definition",
    example: r#"I1 = { kind = "current-source", nodes = ["vcc", "bias"], current = "10 µA" }"#,
    lay: lay_current_source,
};

const INPUT: Key =
    absent("input", Form::NodePair, "the two nodes whose voltage, first above second, is followed");
const SENSED: Key = absent(
    "sensed",
    Form::SensedPart,
    "voltage source or inductor whose current, into its first terminal, is followed",
);

/// `controlled-voltage-source`
pub(super) static CONTROLLED_VOLTAGE_SOURCE: Kind = Kind {
    name: "controlled-voltage-source",
    summary: "a voltage that follows another voltage or a current",
    terminals: PLUS_MINUS,
    keys: &[
        INPUT,
        quantity("gain", Dimension::NONE, Range::Any, Need::Absent, "volts per volt of `input`"),
        SENSED,
        quantity(
            "transresistance",
            Dimension::OHM,
            Range::Any,
            Need::Absent,
            "volts per ampere in `sensed`",
        ),
    ],
    rules: &[
        Rule::ExactlyOne(&["input", "sensed"]),
        Rule::Together(&["input", "gain"]),
        Rule::Together(&["sensed", "transresistance"]),
    ],
    law: "v(plus) - v(minus) = gain·(v(c) - v(d)) for input = [c, d], \
          or transresistance·i(sensed)",
    noise: "none",
    source: "definition",
    example: r#"E1 = { kind = "controlled-voltage-source", plus = "x", minus = "gnd", input = ["a", "gnd"], gain = "10" }"#,
    lay: lay_controlled_voltage_source,
};

/// `controlled-current-source`
pub(super) static CONTROLLED_CURRENT_SOURCE: Kind = Kind {
    name: "controlled-current-source",
    summary: "a current that follows a voltage or another current",
    terminals: Terminals::Pair,
    keys: &[
        INPUT,
        quantity(
            "transconductance",
            Dimension::SIEMENS,
            Range::Any,
            Need::Absent,
            "amperes per volt of `input`",
        ),
        SENSED,
        quantity(
            "gain",
            Dimension::NONE,
            Range::Any,
            Need::Absent,
            "amperes per ampere in `sensed`",
        ),
    ],
    rules: &[
        Rule::ExactlyOne(&["input", "sensed"]),
        Rule::Together(&["input", "transconductance"]),
        Rule::Together(&["sensed", "gain"]),
    ],
    law: "i = transconductance·(v(c) - v(d)) for input = [c, d], or gain·i(sensed), \
          from the first node through the source into the second",
    noise: "none",
    source: "definition",
    example: r#"G1 = { kind = "controlled-current-source", nodes = ["x", "gnd"], input = ["a", "gnd"], transconductance = "1 mS" }"#,
    lay: lay_controlled_current_source,
};

/// What the key whose level a test moves comes to while none does: at the part's temperature.
pub fn own_level(p: &Parameters, key: &str) -> f64 {
    const COEFFICIENT: &str = "temperature_coefficient";
    let factor = p.optional(COEFFICIENT).map_or(1.0, |_| linear_factor(p, COEFFICIENT));
    p.number(key) * factor
}

/// What drives a source or load: what reading or a test has set, else its own level behind `key`.
pub(super) fn drive_of(p: &Parameters, key: &str) -> Drive {
    p.drive.clone().unwrap_or_else(|| Drive::constant(own_level(p, key)))
}

fn lay_voltage_source(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[plus, minus] = pins else { return };
    let drive = net.drive(drive_of(p, "voltage"));
    let ohm = p.number("resistance");
    let _ = net
        .branch([plus, minus], ohm, 0.0)
        .driven_by(drive)
        .noisy(Noise::thermal(ohm, kelvin(p)))
        .noisy(Noise::given(p));
}

fn lay_current_source(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let drive = net.drive(drive_of(p, "current"));
    net.source([a, b], drive);
    net.noise(NoisePlace::Between([a, b]), Noise::given(p));
}

/// What a controlled source follows, and by how much.
fn control_of(p: &Parameters, of_voltage: &str, of_current: &str) -> Option<(Control, f64)> {
    match (p.inputs.first(), p.sensed) {
        (Some([c, d]), _) => Some((Control::Voltage(c.unknown, d.unknown), p.number(of_voltage))),
        (None, Some(current)) => Some((Control::Current(current), p.number(of_current))),
        (None, None) => None,
    }
}

fn lay_controlled_voltage_source(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[plus, minus] = pins else { return };
    if let Some((control, gain)) = control_of(p, "gain", "transresistance") {
        let _ = net.branch([plus, minus], 0.0, 0.0).controlled_by(control, gain);
    }
}

fn lay_controlled_current_source(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    if let Some((control, gain)) = control_of(p, "transconductance", "gain") {
        net.transfer([a, b], control, gain);
    }
}

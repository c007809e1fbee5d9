//! A switch: a contact that follows a voltage with hysteresis, or a level over time.

use super::contact::{CLOSED_COLUMN, OFF_RESISTANCE, TRANSITION, lay_contact};
use super::row::{ZERO, absent, quantity};
use super::source::drive_of;
use super::{Form, Kind, Need, Net, Parameters, Pin, Range, Rule, Terminals, Trip};
use crate::quantity::Dimension;

/// `switch`
pub(super) static SWITCH: Kind = Kind {
    name: "switch",
    summary: "a contact that opens and closes: by a voltage with hysteresis, or over time",
    terminals: Terminals::Pair,
    keys: &[
        quantity(
            "on_resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Required,
            "resistance of the closed contact",
        ),
        OFF_RESISTANCE,
        absent(
            "input",
            Form::NodePair,
            "the two nodes whose voltage, first above second, moves the contact",
        ),
        quantity(
            "closes_at",
            Dimension::VOLT,
            Range::Any,
            Need::Absent,
            "voltage of `input` at which it closes: on the way up if it is above `opens_at`, on the \
             way down if it is below",
        ),
        quantity(
            "opens_at",
            Dimension::VOLT,
            Range::Any,
            Need::Absent,
            "voltage of `input` at which it opens",
        ),
        quantity(
            "filter",
            Dimension::SECOND,
            Range::NonNegative,
            ZERO,
            "time that `input` must stay beyond a level before the contact moves",
        ),
        quantity(
            "closed",
            Dimension::NONE,
            Range::Fraction,
            ZERO,
            "how far it is closed without `input`: 0 open, 1 closed",
        ),
        absent("varies", Form::Varies("closed"), "what is added to `closed` over time"),
        TRANSITION,
    ],
    rules: &[
        Rule::AtMostOne(&["input", "closed"]),
        Rule::AtMostOne(&["input", "varies"]),
        Rule::Together(&["input", "closes_at", "opens_at"]),
        Rule::Different("closes_at", "opens_at"),
    ],
    law: "i = v·g, g = (1/off_resistance)^(1 - s)·(1/on_resistance)^s; with `input`, s goes to 1 (0) \
          in a straight line over `transition` once the voltage has been beyond closes_at \
          (opens_at) for `filter`, and stays as it is between the two levels; else \
          s = closed + varies(t), held within 0 and 1",
    noise: "thermal, of its resistance as it stands",
    source: "definition: an ideal contact with resistance and hysteresis; noise: Nyquist, Phys. \
             Rev. 32 (1928) 110",
    example: r#"S1 = { kind = "switch", nodes = ["a", "b"], on_resistance = "20 mΩ", input = ["a", "gnd"], closes_at = "2 V", opens_at = "1.8 V" }"#,
    lay: lay_switch,
};

fn lay_switch(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[a, b] = pins else { return };
    let drive = match p.inputs.first() {
        Some([c, d]) => net.trip(watching(p, [c.unknown, d.unknown])),
        None => net.drive(drive_of(p, "closed")),
    };
    lay_contact(p, [a, b], drive, net);
}

fn watching(p: &Parameters, watched: [usize; 2]) -> Trip {
    let (closes_at, opens_at) = (p.number("closes_at"), p.number("opens_at"));
    let closes_rising = closes_at > opens_at;
    Trip {
        watched,
        offset: 0.0,
        rises_at: closes_at.max(opens_at),
        falls_at: closes_at.min(opens_at),
        filter_s: [p.number("filter"); 2],
        levels: if closes_rising { [0.0, 1.0] } else { [1.0, 0.0] },
        transition_s: p.number("transition"),
        words: if closes_rising { ["opens", "closes"] } else { ["closes", "opens"] },
        column: CLOSED_COLUMN,
        resets: false,
    }
}

//! What watches a supply or a temperature and pulls a node while it is out of bounds: lock-out and
//! enable, thermal shutdown, supervisor. Each is a state with hysteresis and a contact.

use super::contact::{CLOSED_COLUMN, OFF_RESISTANCE, TRANSITION, lay_contact};
use super::row::{ZERO, absent, quantity};
use super::temperature::ZERO_CELSIUS_K;
use super::{Form, GROUND, Key, Kind, Need, Net, Parameters, Pin, Range, Rule};
use super::{Terminal, Terminals, Trip};
use crate::quantity::Dimension;

const INPUT: Terminal = Terminal { name: "input", default: None, text: "what is watched" };
const WATCHED_GROUND: Terminal =
    Terminal { name: "ground", default: None, text: "what it is watched against" };
const PULLS: Terminal =
    Terminal { name: "pulls", default: None, text: "the node that the contact pulls" };

/// Resistance of the closed contact, with this many Ω where nothing else is said.
const fn on_resistance(ohm: f64) -> Key {
    quantity(
        "on_resistance",
        Dimension::OHM,
        Range::Positive,
        Need::Default(ohm),
        "resistance of the closed contact",
    )
}

const fn required(name: &'static str, unit: Dimension, range: Range, text: &'static str) -> Key {
    quantity(name, unit, range, Need::Required, text)
}

const FILTER: Key = quantity(
    "filter",
    Dimension::SECOND,
    Range::NonNegative,
    ZERO,
    "time that what is watched must stay beyond a level before the state changes",
);

/// `lock-out`
pub(super) static LOCK_OUT: Kind = Kind {
    name: "lock-out",
    summary: "under-voltage lock-out or enable: holds a node while its input is too low",
    terminals: Terminals::Named(&[
        INPUT,
        WATCHED_GROUND,
        PULLS,
        Terminal { name: "to", default: Some("ground"), text: "where the contact pulls it" },
    ]),
    keys: &[
        required(
            "starts_at",
            Dimension::VOLT,
            Range::Any,
            "input voltage above which the contact opens and lets the regulator work",
        ),
        required(
            "stops_at",
            Dimension::VOLT,
            Range::Any,
            "input voltage below which the contact closes again",
        ),
        FILTER,
        on_resistance(10.0),
        OFF_RESISTANCE,
        TRANSITION,
    ],
    rules: &[Rule::Below("stops_at", "starts_at")],
    law: "locked out: `pulls` is joined to `to` by on_resistance; the state ends once \
          v(input) - v(ground) has been above starts_at for `filter`, and begins once it has been \
          below stops_at for `filter`; at rest between the two levels it is locked out",
    noise: "thermal, of the contact's resistance as it stands",
    source: "a comparator with hysteresis; default resistance: common practice, no source",
    example: r#"U1 = { kind = "lock-out", input = "vin", ground = "gnd", pulls = "gate", to = "vin", starts_at = "2.7 V", stops_at = "2.5 V" }"#,
    lay: lay_lock_out,
};

/// `thermal-shutdown`
pub(super) static THERMAL_SHUTDOWN: Kind = Kind {
    name: "thermal-shutdown",
    summary: "pulls a node while a junction is too hot",
    terminals: Terminals::Named(&[
        PULLS,
        Terminal { name: "to", default: None, text: "where the contact pulls it" },
    ]),
    keys: &[
        absent("path", Form::HeatPath, "the heat path whose junction is watched"),
        absent(
            "input",
            Form::NodePair,
            "two nodes whose voltage stands for the temperature, 1 V for 1 °C: a heat network drawn \
             as a circuit",
        ),
        required(
            "trips_at",
            Dimension::KELVIN,
            Range::AboveAbsoluteZero,
            "temperature above which the contact closes",
        ),
        required(
            "releases_at",
            Dimension::KELVIN,
            Range::AboveAbsoluteZero,
            "temperature below which it opens again",
        ),
        FILTER,
        on_resistance(10.0),
        OFF_RESISTANCE,
        TRANSITION,
    ],
    rules: &[Rule::ExactlyOne(&["path", "input"]), Rule::Below("releases_at", "trips_at")],
    law: "shut down: `pulls` is joined to `to` by on_resistance; the state begins once the junction \
          has been above trips_at for `filter`, and ends once it has been below releases_at for \
          `filter`; at rest between the two levels it is not shut down",
    noise: "thermal, of the contact's resistance as it stands",
    source: "a comparator with hysteresis; default resistance: common practice, no source",
    example: r#"U2 = { kind = "thermal-shutdown", input = ["x", "gnd"], pulls = "gate", to = "vin", trips_at = "160 °C", releases_at = "140 °C" }"#,
    lay: lay_thermal_shutdown,
};

/// `supervisor`
pub(super) static SUPERVISOR: Kind = Kind {
    name: "supervisor",
    summary: "gives a reset while a rail is too low, and for a while after",
    terminals: Terminals::Named(&[
        INPUT,
        WATCHED_GROUND,
        Terminal {
            name: "output",
            default: None,
            text: "the reset, pulled to `ground` while it is given; it needs a pull-up",
        },
    ]),
    keys: &[
        required(
            "threshold",
            Dimension::VOLT,
            Range::Any,
            "input voltage below which the reset is given",
        ),
        required(
            "hysteresis",
            Dimension::VOLT,
            Range::Positive,
            "how far above `threshold` the input must rise before the reset may end",
        ),
        quantity(
            "filter",
            Dimension::SECOND,
            Range::NonNegative,
            ZERO,
            "time that the input must stay below `threshold` before the reset is given",
        ),
        quantity(
            "release_delay",
            Dimension::SECOND,
            Range::NonNegative,
            ZERO,
            "time that the input must stay above threshold + hysteresis before the reset ends",
        ),
        on_resistance(50.0),
        OFF_RESISTANCE,
        TRANSITION,
    ],
    rules: &[],
    law: "reset: `output` is joined to `ground` by on_resistance; it begins once v(input) - v(ground) \
          has been below threshold for `filter`, and ends once it has been above \
          threshold + hysteresis for release_delay; at rest between the two levels it is given",
    noise: "thermal, of the contact's resistance as it stands",
    source: "a comparator with hysteresis and delays; default resistance: common practice, no source",
    example: r#"U3 = { kind = "supervisor", input = "vout", ground = "gnd", output = "out", threshold = "2.63 V", hysteresis = "50 mV", release_delay = "200 ms" }"#,
    lay: lay_supervisor,
};

/// What all three have in common.
fn trip(p: &Parameters, watched: [usize; 2], [falls_at, rises_at]: [f64; 2]) -> Trip {
    Trip {
        watched,
        offset: 0.0,
        rises_at,
        falls_at,
        filter_s: [p.number("filter"); 2],
        levels: [1.0, 0.0],
        transition_s: p.number("transition"),
        words: ["locks out", "starts"],
        column: CLOSED_COLUMN,
        resets: false,
    }
}

fn lay_lock_out(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[input, ground, pulls, to] = pins else { return };
    let levels = [p.number("stops_at"), p.number("starts_at")];
    let drive = net.trip(trip(p, [input.unknown, ground.unknown], levels));
    lay_contact(p, [pulls, to], drive, net);
}

fn lay_thermal_shutdown(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[pulls, to] = pins else { return };
    let (watched, offset) = match (p.sensed, p.inputs.first()) {
        (Some(rise), _) => {
            let path = net.heat_paths.iter().find(|path| path.junction == rise);
            ([rise, GROUND], path.map_or(p.temperature_k, |path| path.ambient_k))
        }
        (None, Some([c, d])) => ([c.unknown, d.unknown], ZERO_CELSIUS_K),
        (None, None) => return,
    };
    let levels = [p.number("releases_at"), p.number("trips_at")];
    let drive = net.trip(Trip {
        offset,
        levels: [0.0, 1.0],
        words: ["releases", "shuts down"],
        ..trip(p, watched, levels)
    });
    lay_contact(p, [pulls, to], drive, net);
}

fn lay_supervisor(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[input, ground, output] = pins else { return };
    let threshold = p.number("threshold");
    let levels = [threshold, threshold + p.number("hysteresis")];
    let drive = net.trip(Trip {
        filter_s: [p.number("filter"), p.number("release_delay")],
        words: ["gives a reset", "releases the reset"],
        resets: true,
        ..trip(p, [input.unknown, ground.unknown], levels)
    });
    lay_contact(p, [output, ground], drive, net);
}

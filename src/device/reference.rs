//! Voltage reference: a settled voltage with its drift and noise, that follows its supply when that
//! comes up, and may wait until the supply has passed a level.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::contact::TRANSITION_S;
use super::lag::LAG_S;
use super::row::{CHARACTERISED_AT, NOISE_CORNER, TOLERANCE, ZERO, quantity};
use super::smooth::{bounded, soft_minimum, softplus};
use super::temperature::{kelvin, linear_factor};
use super::{
    Control, Drive, Input, Kind, Law, Need, Net, Noise, Parameters, Pin, Range, Rule, Terminal,
    Terminals, Trip, region,
};
use crate::numeric::Scalar;
use crate::quantity::Dimension;

/// `reference`
pub(super) static REFERENCE: Kind = Kind {
    name: "reference",
    summary: "a voltage reference",
    terminals: Terminals::Named(&[
        Terminal { name: "output", default: None, text: "the reference voltage" },
        Terminal { name: "ground", default: None, text: "what it stands on" },
        Terminal {
            name: "supply",
            default: Some("ground"),
            text: "what it is fed from, to know when it is there; with ground in its place it always \
                   is",
        },
    ]),
    keys: &[
        quantity(
            "voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Required,
            "voltage of output above ground",
        ),
        TOLERANCE,
        quantity(
            "temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of `voltage` for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
        quantity(
            "resistance",
            Dimension::OHM,
            Range::NonNegative,
            ZERO,
            "resistance in series with the output",
        ),
        quantity(
            "headroom",
            Dimension::VOLT,
            Range::NonNegative,
            ZERO,
            "how far `supply` must stay above the reference voltage",
        ),
        quantity(
            "rise",
            Dimension::SECOND,
            Range::NonNegative,
            ZERO,
            "time from 10 to 90 % when `supply` comes up at once; without `supply` the reference is \
             there from the beginning",
        ),
        quantity(
            "starts_at",
            Dimension::VOLT,
            Range::Positive,
            Need::Absent,
            "voltage of `supply` above ground from which the reference comes up; without it the \
             reference follows its supply from nothing",
        ),
        quantity(
            "stops_at",
            Dimension::VOLT,
            Range::Positive,
            Need::Absent,
            "voltage of `supply` above ground below which it goes down again",
        ),
        quantity(
            "noise_density",
            Dimension::VOLT_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "white noise of its voltage",
        ),
        NOISE_CORNER,
    ],
    rules: &[
        Rule::Together(&["starts_at", "stops_at"]),
        Rule::Below("stops_at", "starts_at"),
        Rule::NeedsApart(&["starts_at", "stops_at"], "supply", "ground"),
    ],
    law: "v(output) - v(ground) = V + resistance·i, i into output; without supply \
          V = V_r = voltage·(1 + temperature_coefficient·(T - characterised_at)); with it V follows \
          the smaller of V_r and v(supply) - v(ground) - headroom, never below 0, with the time \
          constant rise/ln 9; both corners rounded over 10 mV; off, it follows 0 instead, by the same \
          time constant: with starts_at it is off until v(supply) - v(ground) has been above it, \
          and again once that has been below stops_at, going over in 100 ns; at rest between the \
          two levels it is off",
    noise: "source: noise_density²·(1 + noise_corner/f) in its voltage; thermal: 4kT·resistance",
    source: "Thévenin's theorem; linear temperature coefficient: common practice, no source; rise: \
             definition (10 to 90 % of a single lag); start levels: a comparator with hysteresis",
    example: r#"REF = { kind = "reference", output = "ref", ground = "gnd", supply = "vin", voltage = "1.2 V", temperature_coefficient = "30e-6 1/K", rise = "150 µs" }"#,
    lay: lay_reference,
};

fn lay_reference(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[output, ground, supply] = pins else { return };
    let volt = p.number("voltage") * linear_factor(p, "temperature_coefficient");
    let ohm = p.number("resistance");
    let core = (supply.unknown != ground.unknown).then(|| {
        let core = net.inner("core");
        let above = |pin: Pin| Input::Between(pin.unknown, ground.unknown);
        let law = SuppliedReference { volt, headroom_v: p.number("headroom"), level_v: volt };
        let started = Input::Drive(lay_start(p, [supply, ground], net));
        net.law(law, &[above(core), above(supply), started], &[[core, ground]], &[]);
        net.capacitance([core, ground], LAG_S * p.number("rise") / 9f64.ln(), None);
        core
    });
    let driven = core.is_none().then(|| net.drive(Drive::constant(volt)));
    let mut branch = net.branch([output, ground], ohm, 0.0);
    if let Some(drive) = driven {
        branch = branch.driven_by(drive);
    }
    if let Some(core) = core {
        branch = branch.controlled_by(Control::Voltage(core.unknown, ground.unknown), 1.0);
    }
    let _ = branch.noisy(Noise::thermal(ohm, kelvin(p))).noisy(Noise::given(p));
}

/// What says whether it is on: a state that watches its supply, or always 1. No test drives it, so it
/// is not the part's level.
fn lay_start(p: &Parameters, [supply, ground]: [Pin; 2], net: &mut Net) -> usize {
    let Some((falls_at, rises_at)) = p.optional("stops_at").zip(p.optional("starts_at")) else {
        net.drives.push(Drive::constant(1.0));
        return net.drives.len() - 1;
    };
    net.trip(Trip {
        watched: [supply.unknown, ground.unknown],
        offset: 0.0,
        rises_at,
        falls_at,
        filter_s: [0.0; 2],
        levels: [0.0, 1.0],
        // A jump would be a break in the slope of its core; this is far below any `rise` in use.
        transition_s: TRANSITION_S,
        words: ["stops", "starts"],
        column: "on",
        resets: false,
    })
}

/// Over how many volts a reference comes free of its supply.
const WIDTH_V: f64 = 10e-3;

/// i = g·(v − s·target), target the smaller of V and supply − headroom, not below 0; inputs: core and
/// supply, both above ground, and s, from 0 for off to 1 for on; current from the core to ground.
#[derive(Clone, Copy, Debug)]
pub struct SuppliedReference<T> {
    volt: T,
    headroom_v: T,
    /// V in plain numbers, for words.
    level_v: f64,
}

impl<T: Scalar<Base = T>> Law<T, 3, 1, 0> for SuppliedReference<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 3]) -> ([S; 1], [S; 0]) {
        let [v, supply, started] = u.map(bounded);
        let above = (supply - S::lift(self.headroom_v)) * S::splat(1.0 / WIDTH_V);
        let left = S::splat(WIDTH_V) * softplus(above);
        let target = soft_minimum(S::lift(self.volt), left, WIDTH_V);
        ([S::splat(LAG_S) * (v - started * target)], [])
    }

    /// Settled within 1 %.
    fn region(&self, u: &[f64; 3]) -> Option<&'static str> {
        let [v, _, started] = *u;
        Some(if started < 0.5 {
            region::OFF
        } else if v < 0.99 * self.level_v {
            region::BELOW_ITS_VOLTAGE
        } else {
            region::SETTLED
        })
    }
}

in_columns!(SuppliedReference<f64>: 2, volt, headroom_v);

//! MOS transistor: one expression from weak to strong inversion, with body diode and gate charge.

use super::diode::{DIODE, DiodePlace, lay_junction};
use super::row::{CHARACTERISED_AT, THERMAL_VOLTAGE, ZERO, absent, quantity};
use super::smooth::{bounded, softplus};
use super::temperature::{linear_factor, power_factor, rise_k, thermal_voltage_of};
use super::{
    Form, Input, Key, Kind, Law, Need, Net, Parameters, Pin, Range, Terminal, Terminals, region,
};
use crate::numeric::Scalar;
use crate::quantity::Dimension;

/// `mosfet`
pub(super) static MOSFET: Kind = Kind {
    name: "mosfet",
    summary: "an n- or p-channel MOS transistor",
    terminals: Terminals::Named(&[
        Terminal { name: "drain", default: None, text: "drain" },
        Terminal { name: "gate", default: None, text: "gate" },
        Terminal { name: "source", default: None, text: "source" },
        Terminal { name: "body", default: Some("source"), text: "body (back gate)" },
    ]),
    keys: &[
        Key {
            name: "channel",
            form: Form::Word(&["n", "p"]),
            need: Need::Required,
            text: "carrier type; a p channel has all voltages and currents mirrored",
        },
        quantity(
            "threshold",
            Dimension::VOLT,
            Range::Any,
            Need::Required,
            "gate-source threshold; positive for an enhancement device of either channel",
        ),
        quantity(
            "transconductance",
            Dimension::AMPERE_PER_VOLT_SQUARED,
            Range::Positive,
            Need::Required,
            "β: the saturation current is β·(v_GS - threshold)²/(2·slope_factor)",
        ),
        quantity(
            "slope_factor",
            Dimension::NONE,
            Range::Positive,
            Need::Default(1.3),
            "n: gate volts per volt of pinch-off; also sets the slope in weak inversion",
        ),
        quantity(
            "output_slope",
            Dimension::PER_VOLT,
            Range::NonNegative,
            ZERO,
            "λ: relative rise of the current per volt of drain-source voltage",
        ),
        quantity(
            "gate_source_capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "capacitance from gate to source",
        ),
        quantity(
            "gate_drain_capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "capacitance from gate to the drain inside series_resistance",
        ),
        quantity(
            "series_resistance",
            Dimension::OHM,
            Range::NonNegative,
            ZERO,
            "metal and package resistance, on the drain side",
        ),
        absent(
            "body_diode",
            Form::KeysOf(&DIODE),
            "the diode between body and the inner drain, with the keys of a diode",
        ),
        THERMAL_VOLTAGE,
        quantity(
            "threshold_temperature_coefficient",
            Dimension::VOLT_PER_KELVIN,
            Range::Any,
            ZERO,
            "change of `threshold` for each kelvin above `characterised_at`",
        ),
        quantity(
            "transconductance_exponent",
            Dimension::NONE,
            Range::Any,
            Need::Default(-1.5),
            "power of T/`characterised_at` that `transconductance` follows",
        ),
        quantity(
            "series_resistance_temperature_coefficient",
            Dimension::PER_KELVIN,
            Range::Any,
            ZERO,
            "relative change of `series_resistance` for each kelvin above `characterised_at`",
        ),
        CHARACTERISED_AT,
    ],
    rules: &[],
    law: "i_D = I_0·(F((v_P - v_S)/U_T) - F((v_P - v_D)/U_T))·(1 + λ·|v_DS|), voltages from the \
          body; F(u) = ln²(1 + e^(u/2)), I_0 = 2·n·β·U_T², v_P = (v_G - threshold)/n; \
          threshold(T) = threshold + coefficient·(T - T_c), \
          β(T) = transconductance·(T/T_c)^transconductance_exponent, T_c = characterised_at",
    source: "Enz, Krummenacher and Vittoz, Analog Integr. Circuits Signal Process. 8 (1995) 83",
    example: r#"Q1 = { kind = "mosfet", source = "vin", gate = "gate", drain = "vout", channel = "p", threshold = "0.7 V", transconductance = "1.24 A/V^2" }"#,
    lay: lay_mosfet,
};

fn lay_mosfet(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[drain, gate, source, body] = pins else { return };
    let metal_ohm = p.number("series_resistance")
        * linear_factor(p, "series_resistance_temperature_coefficient");
    let d = net.series_resistance(drain, metal_ohm, "inner_drain");
    // A p channel is an n channel with every pair of ends exchanged.
    let mirrored = p.word("channel") == "p";
    let ends = |x: Pin, y: Pin| if mirrored { [y, x] } else { [x, y] };
    let between = |[x, y]: [Pin; 2]| Input::Between(x.unknown, y.unknown);
    let [gate_source, channel] = [ends(gate, source), ends(d, source)];
    let mosfet = Mosfet::of(p);
    if body.unknown == source.unknown {
        let inputs = [between(gate_source), between(channel)];
        net.law(mosfet, &inputs, &[channel], &[]);
    } else {
        let inputs = [between(gate_source), between(channel), between(ends(body, source))];
        net.law(MosfetWithBody(mosfet), &inputs, &[channel], &[]);
    }
    net.capacitance([gate, source], p.number("gate_source_capacitance"), None);
    net.capacitance([gate, d], p.number("gate_drain_capacitance"), None);
    if let Some(table) = p.tables.get("body_diode") {
        // The metal lies outside the silicon, so the body diode ends at the inner drain. It is at
        // the transistor's temperature whatever its own table says.
        let table = Parameters { temperature_k: p.temperature_k, ..table.clone() };
        lay_junction(&table, ends(body, d), DiodePlace::Body, net);
    }
}

/// Below this pinch-off, in thermal voltages, the channel counts as off: some nA at most.
const OFF_BELOW: f64 = -10.0;

/// Channel current with the body tied to the source; inputs v_GS, v_DS; current drain to source.
#[derive(Clone, Copy, Debug)]
pub struct Mosfet<T> {
    scale_a: T,
    threshold_v: T,
    /// 1/(2·n·U_T): gate volts to half the normalised pinch-off.
    per_gate: T,
    /// 1/(2·U_T)
    per_channel: T,
    output_slope: T,
    levels: MosfetLevels,
}

/// The plain numbers by which regions are named.
#[derive(Clone, Copy, Debug)]
struct MosfetLevels {
    threshold_v: f64,
    slope_factor: f64,
    thermal_v: f64,
}

impl Mosfet<f64> {
    /// From the keys of the kind, at the part's temperature.
    fn of(p: &Parameters) -> Self {
        let thermal_v = thermal_voltage_of(p);
        let slope_factor = p.number("slope_factor");
        let threshold_v =
            p.number("threshold") + p.number("threshold_temperature_coefficient") * rise_k(p);
        let beta = p.number("transconductance") * power_factor(p, "transconductance_exponent");
        Self {
            scale_a: 2.0 * slope_factor * beta * thermal_v * thermal_v,
            threshold_v,
            per_gate: 0.5 / (slope_factor * thermal_v),
            per_channel: 0.5 / thermal_v,
            output_slope: p.number("output_slope"),
            levels: MosfetLevels { threshold_v, slope_factor, thermal_v },
        }
    }
}

impl<T: Scalar<Base = T>> Mosfet<T> {
    /// `v_gb`, `v_sb`, `v_db` in V.
    #[inline]
    fn current<S: Scalar<Base = T>>(&self, v_gb: S, v_sb: S, v_db: S) -> S {
        let pinch_off = (v_gb - S::lift(self.threshold_v)) * S::lift(self.per_gate);
        let at = |v: S| softplus(pinch_off - v * S::lift(self.per_channel));
        let (source, drain) = (at(v_sb), at(v_db));
        // a² − b² as a product keeps its digits near v_DS = 0, where the current changes sign.
        let channel = (source - drain) * (source + drain);
        // |v_DS| has a corner at 0, but the current it multiplies is zero there, so the product
        // has a slope: the law is smooth to first order and keeps its published form.
        let rise = S::splat(1.0) + S::lift(self.output_slope) * (v_db - v_sb).absolute();
        S::lift(self.scale_a) * channel * rise
    }
}

impl MosfetLevels {
    fn region(&self, v_gs: f64, v_ds: f64, v_bs: f64) -> &'static str {
        let pinch_off_v = (v_gs - v_bs - self.threshold_v) / self.slope_factor;
        let at_source = (pinch_off_v + v_bs) / self.thermal_v;
        let at_drain = at_source - v_ds / self.thermal_v;
        let (higher, lower) = (at_source.max(at_drain), at_source.min(at_drain));
        if higher < OFF_BELOW {
            region::OFF
        } else if higher < 0.0 {
            region::WEAK_INVERSION
        } else if lower < 0.0 {
            region::SATURATED
        } else {
            region::OHMIC
        }
    }
}

impl<T: Scalar<Base = T>> Law<T, 2, 1, 0> for Mosfet<T> {
    #[inline]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        ([self.current(bounded(u[0]), S::splat(0.0), bounded(u[1]))], [])
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        Some(self.levels.region(u[0], u[1], 0.0))
    }
}

/// Channel current with a body of its own; inputs v_GS, v_DS, v_BS; current drain to source.
#[derive(Clone, Copy, Debug)]
pub struct MosfetWithBody<T>(Mosfet<T>);

impl<T: Scalar<Base = T>> Law<T, 3, 1, 0> for MosfetWithBody<T> {
    #[inline]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 3]) -> ([S; 1], [S; 0]) {
        let [v_gs, v_ds, v_bs] = u.map(bounded);
        ([self.0.current(v_gs - v_bs, -v_bs, v_ds - v_bs)], [])
    }

    fn region(&self, u: &[f64; 3]) -> Option<&'static str> {
        Some(self.0.levels.region(u[0], u[1], u[2]))
    }
}

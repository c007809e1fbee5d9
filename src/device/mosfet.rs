//! MOS transistor: one expression from weak to strong inversion, with body diode and gate charge.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::diode::{DIODE, DiodePlace, lay_junction};
use super::noise::four_kt;
use super::row::{CHARACTERISED_AT, THERMAL_VOLTAGE, ZERO, absent, quantity};
use super::smooth::{bounded, softplus};
use super::temperature::{Linear, Power, ThermalVoltage, kelvin};
use super::{
    Form, Input, Key, Kind, Law, Need, Net, Noise, NoiseCause, OverTemperature, Parameters, Pin,
    Range, Terminal, Terminals, region,
};
use crate::numeric::{Dual, Scalar};
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
        quantity(
            "channel_noise_factor",
            Dimension::NONE,
            Range::NonNegative,
            Need::Default(1.0),
            "what the channel's thermal noise is multiplied by; 1 for a long channel, above 1 for a \
             short one, 0 for none",
        ),
        // At the gate and not as a corner of the channel's thermal noise: nearly the same at every
        // bias there, and gone where no current flows, while a corner moves with the bias.
        quantity(
            "flicker_density",
            Dimension::VOLT_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "flicker noise at 1 Hz, as a voltage at the gate; its density falls as 1/√f",
        ),
    ],
    rules: &[],
    law: "i_D = I_0·(F((v_P - v_S)/U_T) - F((v_P - v_D)/U_T))·(1 + λ·|v_DS|), voltages from the \
          body; F(u) = ln²(1 + e^(u/2)), I_0 = 2·n·β·U_T², v_P = (v_G - threshold)/n; \
          threshold(T) = threshold + coefficient·(T - T_c), \
          β(T) = transconductance·(T/T_c)^transconductance_exponent, T_c = characterised_at",
    noise: "thermal, of the channel: channel_noise_factor·4kT·(I_0/U_T)·∫F'(u)²du/∫F'(u)du·(1 + \
            λ·|v_DS|) between u = (v_P - v_S)/U_T and (v_P - v_D)/U_T: 4kT·g_ds at v_DS = 0, \
            4kT·(2/3)·n·g_m saturated in strong inversion, 2q·i_D saturated in weak inversion; \
            flicker, of the channel: (flicker_density·g_m)²·1 Hz/f; thermal: 4kT·series_resistance",
    source: "Enz, Krummenacher and Vittoz, Analog Integr. Circuits Signal Process. 8 (1995) 83; \
             thermal noise: Klaassen and Prins, Philips Res. Rep. 22 (1967) 505; flicker noise, a \
             voltage at the gate whatever the bias: Christensson, Lundström and Svensson, \
             Solid-State Electron. 11 (1968) 797 (all three from memory)",
    example: r#"Q1 = { kind = "mosfet", source = "vin", gate = "gate", drain = "vout", channel = "p", threshold = "0.7 V", transconductance = "1.24 A/V^2" }"#,
    lay: lay_mosfet,
};

fn lay_mosfet(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[drain, gate, source, body] = pins else { return };
    let over = Linear::of(p, "series_resistance_temperature_coefficient");
    let metal = (p.number("series_resistance"), over);
    let d = net.series_resistor_of(p, drain, metal, "inner_drain");
    // A p channel is an n channel with every pair of ends exchanged.
    let mirrored = p.word("channel") == "p";
    let ends = |x: Pin, y: Pin| if mirrored { [y, x] } else { [x, y] };
    let between = |[x, y]: [Pin; 2]| Input::Between(x.unknown, y.unknown);
    let [gate_source, channel] = [ends(gate, source), ends(d, source)];
    let mosfet = MosfetOverTemperature::of(p);
    let with_body = MosfetWithBodyOverTemperature(mosfet);
    let inputs = [between(gate_source), between(channel), between(ends(body, source))];
    let current = [channel];
    match (body.unknown == source.unknown, p.heated_by) {
        (true, None) => net.law(mosfet.at(kelvin(p)), &inputs[..2], &current, &[]),
        (true, Some(by)) => net.warm_law(mosfet, by, &inputs[..2], &current, &[]),
        (false, None) => net.law(with_body.at(kelvin(p)), &inputs, &current, &[]),
        (false, Some(by)) => net.warm_law(with_body, by, &inputs, &current, &[]),
    }
    net.capacitance([gate, source], p.number("gate_source_capacitance"), None);
    net.capacitance([gate, d], p.number("gate_drain_capacitance"), None);
    if let Some(table) = p.tables.get("body_diode") {
        // The metal lies outside the silicon, so the body diode ends at the inner drain. It is at
        // the transistor's temperature whatever its own table says.
        let (temperature_k, heated_by) = (p.temperature_k, p.heated_by);
        let table = Parameters { temperature_k, heated_by, ..table.clone() };
        lay_junction(&table, ends(body, d), DiodePlace::Body, net);
    }
}

/// Below this pinch-off, in thermal voltages, the channel counts as off: some nA at most.
const OFF_BELOW: f64 = -10.0;

/// The channel at one temperature.
#[derive(Clone, Copy, Debug)]
struct Inversion<S> {
    scale_a: S,
    threshold_v: S,
    /// 1/(2·n·U_T): gate volts to half the normalised pinch-off.
    per_gate: S,
    /// 1/(2·U_T)
    per_channel: S,
    output_slope: S,
}

impl<T: Scalar<Base = T>> Inversion<T> {
    #[inline(always)]
    fn lifted<S: Scalar<Base = T>>(&self) -> Inversion<S> {
        Inversion {
            scale_a: S::lift(self.scale_a),
            threshold_v: S::lift(self.threshold_v),
            per_gate: S::lift(self.per_gate),
            per_channel: S::lift(self.per_channel),
            output_slope: S::lift(self.output_slope),
        }
    }
}

impl<S: Scalar> Inversion<S> {
    /// `v_gb`, `v_sb`, `v_db` in V.
    #[inline(always)]
    fn current(&self, v_gb: S, v_sb: S, v_db: S) -> S {
        let pinch_off = (v_gb - self.threshold_v) * self.per_gate;
        let at = |v: S| softplus(pinch_off - v * self.per_channel);
        let (source, drain) = (at(v_sb), at(v_db));
        // a² − b² as a product keeps its digits near v_DS = 0, where the current changes sign.
        let channel = (source - drain) * (source + drain);
        // |v_DS| has a corner at 0, but the current it multiplies is zero there, so the product
        // has a slope: the law is smooth to first order and keeps its published form.
        let rise = S::splat(1.0) + self.output_slope * (v_db - v_sb).absolute();
        self.scale_a * channel * rise
    }
}

/// A channel over temperature, its body tied to the source; inputs and current as [`Mosfet`].
#[derive(Clone, Copy, Debug)]
pub struct MosfetOverTemperature {
    thermal: ThermalVoltage,
    slope_factor: f64,
    threshold_v: f64,
    threshold_v_per_k: f64,
    characterised_k: f64,
    transconductance: f64,
    transconductance_over: Power,
    output_slope: f64,
    noise_factor: f64,
    flicker_density: f64,
}

impl MosfetOverTemperature {
    /// From the keys of the kind.
    fn of(p: &Parameters) -> Self {
        Self {
            thermal: ThermalVoltage::of(p),
            slope_factor: p.number("slope_factor"),
            threshold_v: p.number("threshold"),
            threshold_v_per_k: p.number("threshold_temperature_coefficient"),
            characterised_k: p.number("characterised_at"),
            transconductance: p.number("transconductance"),
            transconductance_over: Power::of(p, "transconductance_exponent"),
            output_slope: p.number("output_slope"),
            noise_factor: p.number("channel_noise_factor"),
            flicker_density: p.number("flicker_density"),
        }
    }

    #[inline(always)]
    fn channel<S: Scalar>(&self, kelvin: S) -> Inversion<S> {
        let constant = S::splat;
        let thermal_v = self.thermal.at(kelvin);
        let rise_k = kelvin - constant(self.characterised_k);
        let beta = constant(self.transconductance) * self.transconductance_over.at(kelvin);
        Inversion {
            scale_a: constant(2.0 * self.slope_factor) * beta * thermal_v * thermal_v,
            threshold_v: constant(self.threshold_v) + constant(self.threshold_v_per_k) * rise_k,
            per_gate: constant(0.5) / (constant(self.slope_factor) * thermal_v),
            per_channel: constant(0.5) / thermal_v,
            output_slope: constant(self.output_slope),
        }
    }
}

impl OverTemperature<2, 1, 0> for MosfetOverTemperature {
    type Fixed = Mosfet<f64>;

    fn at(&self, kelvin: f64) -> Mosfet<f64> {
        let channel = self.channel(kelvin);
        Mosfet {
            channel,
            noise: ChannelNoise {
                four_kt: four_kt(kelvin) * self.noise_factor,
                flicker_v2: self.flicker_density.powi(2),
            },
            levels: MosfetLevels {
                threshold_v: channel.threshold_v,
                slope_factor: self.slope_factor,
                thermal_v: self.thermal.at(kelvin),
            },
        }
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let channel = self.channel(kelvin);
        ([channel.current(bounded(u[0]), S::splat(0.0), bounded(u[1]))], [])
    }

    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 2]) -> [S; 1] {
        [bounded(u[1])]
    }
}

/// The same with a body of its own; inputs and current as [`MosfetWithBody`].
#[derive(Clone, Copy, Debug)]
pub struct MosfetWithBodyOverTemperature(MosfetOverTemperature);

impl OverTemperature<3, 1, 0> for MosfetWithBodyOverTemperature {
    type Fixed = MosfetWithBody<f64>;

    fn at(&self, kelvin: f64) -> MosfetWithBody<f64> {
        MosfetWithBody(self.0.at(kelvin))
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 3]) -> ([S; 1], [S; 0]) {
        let [v_gs, v_ds, v_bs] = u.map(bounded);
        ([self.0.channel(kelvin).current(v_gs - v_bs, -v_bs, v_ds - v_bs)], [])
    }

    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 3]) -> [S; 1] {
        [bounded(u[1])]
    }
}

/// Channel current with the body tied to the source; inputs v_GS, v_DS; current drain to source.
#[derive(Clone, Copy, Debug)]
pub struct Mosfet<T> {
    channel: Inversion<T>,
    noise: ChannelNoise<T>,
    levels: MosfetLevels,
}

/// How much noise the channel makes.
#[derive(Clone, Copy, Debug)]
struct ChannelNoise<T> {
    /// 4kT times the factor, in W/Hz.
    four_kt: T,
    /// At the gate at 1 Hz, in V²/Hz.
    flicker_v2: T,
}

/// The plain numbers by which regions are named.
#[derive(Clone, Copy, Debug)]
struct MosfetLevels {
    threshold_v: f64,
    slope_factor: f64,
    thermal_v: f64,
}

impl<T: Scalar<Base = T>> Mosfet<T> {
    /// Noise of the channel's current; `slope_s` is its slope to the gate's voltage.
    fn noise(&self, v_gb: T, v_sb: T, v_db: T, slope_s: T) -> [Noise<T>; 1] {
        let own = &self.channel;
        let pinch_off = (v_gb - own.threshold_v) * own.per_gate;
        let at = |v: T| softplus(pinch_off - v * own.per_channel);
        let rise = T::splat(1.0) + own.output_slope * (v_db - v_sb).absolute();
        let per_thermal = T::splat(2.0) * own.per_channel;
        let siemens = own.scale_a * per_thermal * noise_conductance(at(v_sb), at(v_db)) * rise;
        [Noise {
            cause: NoiseCause::Thermal,
            white: self.noise.four_kt * siemens,
            flicker_at_1hz: self.noise.flicker_v2 * slope_s.squared(),
        }]
    }
}

/// Places and weights of five-point Gauss integration over −1 … 1, one side of the middle: exact for
/// polynomials of degree 9 (Abramowitz and Stegun, Handbook of Mathematical Functions, table 25.4).
const GAUSS_PLACES: [f64; 2] = [0.538_469_310_105_683_1, 0.906_179_845_938_664];
const GAUSS_WEIGHTS: [f64; 2] = [0.478_628_670_499_366_5, 0.236_926_885_056_189_1];
const GAUSS_MIDDLE_WEIGHT: f64 = 0.568_888_888_888_888_9;

/// Up to this difference between its ends the channel is integrated by Gauss's points, which are
/// exact to 1e-12 there and where both ends are below it; beyond, in closed form, which loses its
/// digits below.
const SHORT: f64 = 1.0;

/// ∫F'(u)²du/∫F'(u)du between the two ends of a channel, each given by ℓ = ln(1 + e^(u/2)): what
/// its thermal noise comes to, as a conductance in I_0/U_T.
///
/// A channel whose conductance at the voltage V along it is g(V) makes 4kT·∫g²dV/∫g·dV (Klaassen
/// and Prins), and this law's is F'. With u replaced by ℓ this is ∫ℓ²·(1 − e^-ℓ)dℓ/∫ℓ·dℓ.
fn noise_conductance<T: Scalar<Base = T>>(one_end: T, other_end: T) -> T {
    let (high, low) = (one_end.maximum(other_end), one_end.minimum(other_end));
    let (sum, difference) = (high + low, high - low);
    let one = T::splat(1.0);
    let half = T::splat(0.5);
    // 1 − e^-ℓ = tanh(ℓ/2)·(1 + e^-ℓ) keeps its digits where ℓ is small.
    let squared = |x: T| x.squared() * (x * half).tanh() * (one + (-x).exp());
    let pair = |place: f64| {
        let off = difference * T::splat(0.5 * place);
        squared(sum * half - off) + squared(sum * half + off)
    };
    let middle = T::splat(GAUSS_MIDDLE_WEIGHT) * squared(sum * half);
    let points = GAUSS_PLACES.iter().zip(GAUSS_WEIGHTS);
    let by_points = points.fold(middle, |s, (&x, weight)| s + T::splat(weight) * pair(x));

    let tail = |x: T| ((x + T::splat(2.0)) * x + T::splat(2.0)) * (-x).exp();
    let is_short = difference.minimum(high).less(T::splat(SHORT));
    let divisor = T::select(is_short, one, difference);
    let body = T::splat(2.0 / 3.0) * (high.squared() + high * low + low.squared());
    let closed = body + T::splat(2.0) * (tail(high) - tail(low)) / divisor;
    let never = sum.less(T::splat(f64::MIN_POSITIVE));
    T::select(is_short, by_points, closed) / T::select(never, one, sum)
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
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 2]) -> ([S; 1], [S; 0]) {
        let channel = self.channel.lifted();
        ([channel.current(bounded(u[0]), S::splat(0.0), bounded(u[1]))], [])
    }

    fn noise(&self, u: &[T; 2]) -> [Noise<T>; 1] {
        let slopes = self.evaluate(&Dual::inputs(*u)).0[0].slope;
        self.noise(bounded(u[0]), T::splat(0.0), bounded(u[1]), slopes[0])
    }

    fn region(&self, u: &[f64; 2]) -> Option<&'static str> {
        Some(self.levels.region(u[0], u[1], 0.0))
    }
}

/// Channel current with a body of its own; inputs v_GS, v_DS, v_BS; current drain to source.
#[derive(Clone, Copy, Debug)]
pub struct MosfetWithBody<T>(Mosfet<T>);

impl<T: Scalar<Base = T>> Law<T, 3, 1, 0> for MosfetWithBody<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 3]) -> ([S; 1], [S; 0]) {
        let [v_gs, v_ds, v_bs] = u.map(bounded);
        ([self.0.channel.lifted().current(v_gs - v_bs, -v_bs, v_ds - v_bs)], [])
    }

    fn noise(&self, u: &[T; 3]) -> [Noise<T>; 1] {
        let slopes = self.evaluate(&Dual::inputs(*u)).0[0].slope;
        let [v_gs, v_ds, v_bs] = u.map(bounded);
        self.0.noise(v_gs - v_bs, -v_bs, v_ds - v_bs, slopes[0])
    }

    fn region(&self, u: &[f64; 3]) -> Option<&'static str> {
        Some(self.0.levels.region(u[0], u[1], u[2]))
    }
}

in_columns!(Mosfet<f64>: 5, channel.scale_a, channel.threshold_v, channel.per_gate, channel.per_channel, channel.output_slope);
in_columns!(MosfetWithBody<f64>: 5, 0.channel.scale_a, 0.channel.threshold_v, 0.channel.per_gate, 0.channel.per_channel, 0.channel.output_slope);

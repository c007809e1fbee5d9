//! Zener diode: a knee into breakdown with its slope, and the forward junction.

use super::diode::{Diode, DiodePlace};
use super::junction::Depletion;
use super::noise::{BarrierNoise, TWO_Q, four_kt_of};
use super::row::{
    BANDGAP, CHARACTERISED_AT, NOISE_CORNER, SATURATION_EXPONENT, TOLERANCE, ZERO, quantity,
};
use super::smooth::{bounded, softplus};
use super::temperature::{Saturation, ThermalVoltage, kelvin, rise_k, thermal_voltage_v};
use super::{
    Input, Kind, Law, Need, Net, Noise, NoiseCause, Parameters, Pin, Range, Rule, Terminal,
    Terminals, region,
};
use crate::numeric::Scalar;
use crate::quantity::Dimension;
use std::f64::consts::LN_2;

/// `zener`
pub(super) static ZENER: Kind = Kind {
    name: "zener",
    summary: "a zener diode: breakdown with knee and slope, and the forward junction",
    terminals: Terminals::Named(&[
        Terminal { name: "anode", default: None, text: "positive end of the forward junction" },
        Terminal { name: "cathode", default: None, text: "positive end in breakdown" },
    ]),
    keys: &[
        quantity(
            "breakdown_voltage",
            Dimension::VOLT,
            Range::Positive,
            Need::Required,
            "voltage of the cathode above the anode at `test_current`",
        ),
        quantity(
            "test_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Required,
            "current at which `breakdown_voltage` and `resistance` hold",
        ),
        quantity(
            "resistance",
            Dimension::OHM,
            Range::Positive,
            Need::Required,
            "slope of voltage over current in breakdown, at `test_current`",
        ),
        quantity(
            "knee_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Absent,
            "current at which that slope is twice as steep as it is far above; below it the voltage \
             falls away; a tenth of `test_current` when absent",
        ),
        TOLERANCE,
        quantity(
            "voltage_temperature_coefficient",
            Dimension::VOLT_PER_KELVIN,
            Range::Any,
            ZERO,
            "change of `breakdown_voltage` for each kelvin above `characterised_at`",
        ),
        quantity(
            "saturation_current",
            Dimension::AMPERE,
            Range::Positive,
            Need::Default(1e-14),
            "saturation current I_S of the forward junction",
        ),
        quantity(
            "ideality",
            Dimension::NONE,
            Range::Positive,
            Need::Default(1.0),
            "ideality n of the forward junction",
        ),
        quantity(
            "zero_bias_capacitance",
            Dimension::FARAD,
            Range::NonNegative,
            ZERO,
            "junction capacitance at 0 V",
        ),
        quantity(
            "junction_potential",
            Dimension::VOLT,
            Range::Positive,
            Need::Default(0.75),
            "built-in potential of the junction capacitance",
        ),
        quantity(
            "grading",
            Dimension::NONE,
            Range::Fraction,
            Need::Default(0.5),
            "grading exponent of the junction capacitance",
        ),
        BANDGAP,
        SATURATION_EXPONENT,
        CHARACTERISED_AT,
        quantity(
            "noise_density",
            Dimension::VOLT_PER_ROOT_HERTZ,
            Range::NonNegative,
            ZERO,
            "noise voltage at `test_current` beyond that of shot noise",
        ),
        NOISE_CORNER,
    ],
    rules: &[Rule::Below("knee_current", "test_current")],
    law: "breakdown, from cathode to anode, w = v(cathode) - v(anode): \
          i = (s/r)·(softplus((w - w_0)/s) - softplus(-w_0/s)), softplus(u) = ln(1 + e^u), \
          s = r·knee_current/ln 2; r and w_0 follow from what holds at test_current: \
          w = breakdown_voltage + voltage_temperature_coefficient·(T - characterised_at), \
          dw/di = resistance (so r = resistance·(1 - 2^(-test_current/knee_current))); \
          far above the knee a straight line, far below an e-fold every s; \
          forward: i = I_S·(e^(v/(n·U_T)) - 1), v = v(anode) - v(cathode), I_S(T) and the junction \
          charge as in the diode",
    noise: "shot of both currents: 2q·i·coth(v/(2kT/q)); source: (noise_density/resistance)²·\
            (|i|/test_current)·(1 + noise_corner/f) of the breakdown current besides",
    source: "knee and slope as data sheets give them: common practice, no source; form of the knee: \
             definition; forward junction: Shockley, Bell Syst. Tech. J. 28 (1949); avalanche noise \
             power in proportion to current: common practice, no source",
    example: r#"Z1 = { kind = "zener", anode = "gnd", cathode = "ref", breakdown_voltage = "9.1 V", test_current = "5 mA", resistance = "12 Ω", voltage_temperature_coefficient = "4.9 mV/K" }"#,
    lay: lay_zener,
};

fn lay_zener(p: &Parameters, pins: &[Pin], net: &mut Net) {
    let &[anode, cathode] = pins else { return };
    let zener = Zener::of(p);
    let inputs = [Input::Between(anode.unknown, cathode.unknown)];
    let currents = [[cathode, anode], [anode, cathode]];
    let farad = p.number("zero_bias_capacitance");
    if farad == 0.0 {
        net.law(zener, &inputs, &currents, &[]);
        return;
    }
    let depletion = Depletion::new(farad, p.number("junction_potential"), p.number("grading"));
    net.law(ChargedZener { zener, depletion }, &inputs, &currents, &[[anode, cathode]]);
}

/// The knee current as a share of the test current where none is given.
const KNEE_SHARE: f64 = 0.1;

/// Rounds in which the voltage of the knee is found. Each shrinks the error by e^(-w_0/s), which
/// is nothing for a diode and still below one half for a curve that has hardly a knee.
const KNEE_ROUNDS: usize = 60;

/// Below this share of 2kT/q the noise is that of the slope at rest: their ratio differs by its
/// square, and a quotient of two zeros is avoided.
const NEARLY_AT_REST: f64 = 1e-6;

/// A diode below this share of its knee current carries nothing to speak of.
const LEAST_SHARE: f64 = 0.01;

/// A Newton step from below breakdown goes no further beyond it than this many times the voltage
/// between the test current and the straight line's foot. The curve is a line there, so that the
/// next step comes back at once.
const FURTHEST_REACH: f64 = 10.0;

/// Both currents; input v(anode) − v(cathode); currents: breakdown from cathode to anode, forward
/// from anode to cathode.
#[derive(Clone, Copy, Debug)]
pub struct Zener<T> {
    forward: Diode<T>,
    knee_v: T,
    per_width: T,
    /// s/r in A.
    width_a: T,
    /// softplus(−w₀/s).
    at_zero: T,
    noise: BreakdownNoise<T>,
    levels: ZenerLevels,
}

/// Where breakdown begins, in plain numbers: they steer iterations and words.
#[derive(Clone, Copy, Debug)]
#[allow(clippy::struct_field_names)] // the shared postfix is the unit
struct ZenerLevels {
    least_v: f64,
    knee_v: f64,
    test_v: f64,
    furthest_v: f64,
}

#[derive(Clone, Copy, Debug)]
struct BreakdownNoise<T> {
    cause: NoiseCause,
    per_twice_thermal: T,
    /// 4kT·di/dw at 0 V in A²/Hz.
    at_rest: T,
    /// A²/Hz for each ampere, beyond shot noise.
    excess: T,
    corner_hz: T,
}

impl Zener<f64> {
    /// From the keys of the kind, at the part's temperature.
    fn of(p: &Parameters) -> Self {
        let test_a = p.number("test_current");
        let ohm = p.number("resistance");
        let knee_a = p.optional("knee_current").unwrap_or(KNEE_SHARE * test_a);
        let drift_v = p.number("voltage_temperature_coefficient") * rise_k(p);
        let test_v = (p.number("breakdown_voltage") + drift_v).max(f64::MIN_POSITIVE);
        let knee = Knee::through(test_v, test_a, ohm, knee_a);
        let ideality = p.number("ideality");
        let saturation_a =
            Saturation::of(p, p.number("saturation_current"), ideality).at(kelvin(p));
        let shot = BarrierNoise::without_flicker(p);
        let width_v = ideality * ThermalVoltage::of(p).at(kelvin(p));
        let excess = (p.number("noise_density") / ohm).powi(2) / test_a;
        Self {
            forward: Diode::new(saturation_a, width_v, DiodePlace::Part, shot),
            knee_v: knee.volt,
            per_width: 1.0 / knee.width_v,
            width_a: knee.width_v / knee.ohm,
            at_zero: softplus(-knee.volt * (1.0 / knee.width_v)),
            noise: BreakdownNoise {
                cause: if excess > 0.0 { NoiseCause::Source } else { NoiseCause::Shot },
                per_twice_thermal: 0.5 / thermal_voltage_v(kelvin(p)),
                at_rest: four_kt_of(p) * -(-knee.at_zero).exp_m1() / knee.ohm,
                excess,
                corner_hz: p.number("noise_corner"),
            },
            levels: ZenerLevels {
                least_v: knee.volt + knee.width_v * (LEAST_SHARE * LN_2).exp_m1().ln(),
                knee_v: knee.volt,
                test_v,
                furthest_v: test_v + FURTHEST_REACH * test_a * ohm,
            },
        }
    }
}

/// The curve of the breakdown.
struct Knee {
    /// w₀ in V.
    volt: f64,
    /// s in V.
    width_v: f64,
    /// r in Ω.
    ohm: f64,
    at_zero: f64,
}

impl Knee {
    /// The one whose slope is `ohm` at `test_v` and `test_a`, and twice its least at `knee_a`.
    ///
    /// With y = softplus((w − w₀)/s) the slope is r/(1 − e^−y), and y is ln 2·i/`knee_a` up to what
    /// is subtracted so that nothing flows at 0 V.
    fn through(test_v: f64, test_a: f64, ohm: f64, knee_a: f64) -> Self {
        let mut knee = Self { volt: test_v, width_v: 0.0, ohm, at_zero: 0.0 };
        for _ in 0..KNEE_ROUNDS {
            let y = LN_2 * test_a / knee_a + knee.at_zero;
            let share = -(-y).exp_m1();
            knee.ohm = ohm * share;
            knee.width_v = knee.ohm * knee_a / LN_2;
            knee.volt = test_v - knee.width_v * (y + share.ln());
            knee.at_zero = softplus(-knee.volt / knee.width_v);
        }
        knee
    }
}

impl<T: Scalar<Base = T>> Zener<T> {
    /// A from cathode to anode at w = v(cathode) − v(anode).
    #[inline]
    fn breakdown<S: Scalar<Base = T>>(&self, w: S) -> S {
        let x = (w - S::lift(self.knee_v)) * S::lift(self.per_width);
        S::lift(self.width_a) * (softplus(x) - S::lift(self.at_zero))
    }

    fn breakdown_noise(&self, w: T) -> Noise<T> {
        let BreakdownNoise { cause, per_twice_thermal, at_rest, excess, corner_hz } = self.noise;
        let size_a = self.breakdown(w).absolute();
        let thermal = (w * per_twice_thermal).absolute();
        let resting = thermal.less(T::splat(NEARLY_AT_REST));
        let ratio = T::select(resting, T::splat(1.0), thermal).tanh();
        let shot = T::select(resting, at_rest, T::splat(TWO_Q) * size_a / ratio);
        let more = excess * size_a;
        Noise { cause, white: shot + more, flicker_at_1hz: more * corner_hz }
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 2, 0> for Zener<T> {
    #[inline]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 2], [S; 0]) {
        let v = bounded(u[0]);
        ([self.breakdown(-v), self.forward.current(v)], [])
    }

    fn limit(&self, previous: &[f64; 1], proposed: &mut [f64; 1]) {
        self.forward.limit(previous, proposed);
        if -previous[0] < self.levels.test_v {
            proposed[0] = proposed[0].max(-self.levels.furthest_v);
        }
    }

    fn noise(&self, u: &[T; 1]) -> [Noise<T>; 2] {
        let [forward] = self.forward.noise(u);
        [self.breakdown_noise(-bounded(u[0])), forward]
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        let w = -u[0];
        if w >= self.levels.knee_v {
            Some(region::IN_BREAKDOWN)
        } else if w >= self.levels.least_v && w > 0.0 {
            Some(region::AT_ITS_KNEE)
        } else {
            self.forward.region(u)
        }
    }
}

/// A zener diode with junction charge.
#[derive(Clone, Copy, Debug)]
pub struct ChargedZener<T> {
    /// Its currents.
    pub zener: Zener<T>,
    /// Its charge, on the anode.
    pub depletion: Depletion<T>,
}

impl<T: Scalar<Base = T>> Law<T, 1, 2, 1> for ChargedZener<T> {
    #[inline]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 2], [S; 1]) {
        let (currents, []) = self.zener.evaluate(u);
        (currents, [self.depletion.charge(bounded(u[0]))])
    }

    fn limit(&self, previous: &[f64; 1], proposed: &mut [f64; 1]) {
        self.zener.limit(previous, proposed);
    }

    fn noise(&self, u: &[T; 1]) -> [Noise<T>; 2] {
        self.zener.noise(u)
    }

    fn region(&self, u: &[f64; 1]) -> Option<&'static str> {
        self.zener.region(u)
    }
}

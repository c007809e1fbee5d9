//! Zener diode: a knee into breakdown with its slope, and the forward junction.

// Measured: what is not made part of a loop over variants ends its being done several at once.
#![allow(clippy::inline_always)]

use super::abreast::in_columns;
use super::diode::{Diode, DiodePlace, Junction};
use super::junction::Depletion;
use super::noise::{TWO_Q, four_kt};
use super::row::{
    BANDGAP, CHARACTERISED_AT, NOISE_CORNER, SATURATION_EXPONENT, TOLERANCE, ZERO, quantity,
};
use super::smooth::{bounded, softplus};
use super::temperature::{kelvin, thermal_voltage_v};
use super::{
    Input, Kind, Law, Need, Net, Noise, NoiseCause, OverTemperature, Parameters, Pin, Range, Rule,
    Terminal, Terminals, region,
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
          s = r·knee_current/ln 2; w_0 follows from what holds at test_current: \
          w = breakdown_voltage + voltage_temperature_coefficient·(T - characterised_at), and r, \
          the same at every T, from dw/di = resistance there at characterised_at \
          (so r = resistance·(1 - 2^(-test_current/knee_current))); \
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
    let zener = ZenerOverTemperature::of(p);
    let inputs = [Input::Between(anode.unknown, cathode.unknown)];
    let currents = [[cathode, anode], [anode, cathode]];
    let farad = p.number("zero_bias_capacitance");
    if farad == 0.0 {
        match p.heated_by {
            None => net.law(zener.at(kelvin(p)), &inputs, &currents, &[]),
            Some(by) => net.warm_law(zener, by, &inputs, &currents, &[]),
        }
        return;
    }
    let depletion = Depletion::new(farad, p.number("junction_potential"), p.number("grading"));
    let charged = ChargedZenerOverTemperature { zener, depletion };
    let held = [[anode, cathode]];
    match p.heated_by {
        None => net.law(charged.at(kelvin(p)), &inputs, &currents, &held),
        Some(by) => net.warm_law(charged, by, &inputs, &currents, &held),
    }
}

/// The knee current as a share of the test current where none is given.
const KNEE_SHARE: f64 = 0.1;

/// Rounds in which the slope far above the knee is found. Each shrinks the error to nothing for a
/// diode, and to 0.7 of itself for a curve that is hardly anything but a straight line.
const KNEE_ROUNDS: usize = 60;

/// The voltage at the test current is held so many knee widths above the straight line through zero,
/// to which a curve without any knee falls, so that no temperature makes a curve that bends back.
const LEAST_SPARE: f64 = 1e-3;

/// Below this share of 2kT/q the noise is that of the slope at rest: their ratio differs by its
/// square, and a quotient of two zeros is avoided.
const NEARLY_AT_REST: f64 = 1e-6;

/// A diode below this share of its knee current carries nothing to speak of.
const LEAST_SHARE: f64 = 0.01;

/// A Newton step from below breakdown goes no further beyond it than this many times the voltage
/// between the test current and the straight line's foot. The curve is a line there, so that the
/// next step comes back at once.
const FURTHEST_REACH: f64 = 10.0;

/// A zener diode over temperature; input and currents as [`Zener`].
#[derive(Clone, Copy, Debug)]
pub struct ZenerOverTemperature {
    forward: Junction,
    knee: Knee,
    /// A²/Hz for each ampere, beyond shot noise.
    excess: f64,
    corner_hz: f64,
}

impl ZenerOverTemperature {
    /// From the keys of the kind.
    fn of(p: &Parameters) -> Self {
        let forward = (p.number("saturation_current"), p.number("ideality"));
        let knee = Knee::of(p);
        let per_ohm = p.number("noise_density") / p.number("resistance");
        Self {
            forward: Junction::of(p, forward, DiodePlace::Part),
            excess: per_ohm.powi(2) / knee.test_a,
            corner_hz: p.number("noise_corner"),
            knee,
        }
    }
}

impl OverTemperature<1, 2, 0> for ZenerOverTemperature {
    type Fixed = Zener<f64>;

    fn at(&self, kelvin: f64) -> Zener<f64> {
        let (knee, excess) = (&self.knee, self.excess);
        let breakdown = knee.at(kelvin);
        let test_v = knee.test_v(kelvin);
        Zener {
            forward: self.forward.at(kelvin),
            breakdown,
            noise: BreakdownNoise {
                cause: if excess > 0.0 { NoiseCause::Source } else { NoiseCause::Shot },
                per_twice_thermal: 0.5 / thermal_voltage_v(kelvin),
                at_rest: four_kt(kelvin) * -(-breakdown.at_zero).exp_m1() / knee.ohm,
                excess,
                corner_hz: self.corner_hz,
            },
            levels: ZenerLevels {
                least_v: breakdown.knee_v + knee.width_v * (LEAST_SHARE * LN_2).exp_m1().ln(),
                knee_v: breakdown.knee_v,
                test_v,
                furthest_v: test_v + FURTHEST_REACH * knee.test_a * knee.test_ohm,
            },
        }
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 1]) -> ([S; 2], [S; 0]) {
        let v = bounded(u[0]);
        ([self.knee.at(kelvin).current(-v), self.forward.current(kelvin, v)], [])
    }

    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 1]) -> [S; 2] {
        let v = bounded(u[0]);
        [-v, v]
    }
}

/// A zener diode with charge over temperature. Its junction charge keeps the size it was given.
#[derive(Clone, Copy, Debug)]
pub struct ChargedZenerOverTemperature {
    zener: ZenerOverTemperature,
    depletion: Depletion<f64>,
}

impl OverTemperature<1, 2, 1> for ChargedZenerOverTemperature {
    type Fixed = ChargedZener<f64>;

    fn at(&self, kelvin: f64) -> ChargedZener<f64> {
        ChargedZener { zener: self.zener.at(kelvin), depletion: self.depletion }
    }

    #[inline(always)]
    fn evaluate<S: Scalar<Base = f64>>(&self, kelvin: S, u: &[S; 1]) -> ([S; 2], [S; 1]) {
        let (currents, []) = self.zener.evaluate(kelvin, u);
        (currents, [self.depletion.charge(bounded(u[0]))])
    }

    #[inline(always)]
    fn across<S: Scalar<Base = f64>>(&self, u: &[S; 1]) -> [S; 2] {
        self.zener.across(u)
    }
}

/// The curve of the breakdown over temperature.
#[derive(Clone, Copy, Debug)]
struct Knee {
    /// s in V.
    width_v: f64,
    /// r in Ω.
    ohm: f64,
    test_a: f64,
    /// The slope at the test current in Ω.
    test_ohm: f64,
    /// V at the test current, where it was characterised.
    characterised_v: f64,
    volt_per_k: f64,
    characterised_k: f64,
    /// Y, the test current in units of s/r.
    folds: f64,
    /// ln(e^Y − 1).
    reach: f64,
}

impl Knee {
    /// The curve whose slope is `resistance` at the test current, and twice its least at the knee
    /// current.
    ///
    /// With Y = ln 2·(test current)/(knee current), what holds at the test voltage V is
    /// (1 + b·e^(V/s))/(1 + b) = e^Y, b = e^(−w₀/s), so b = (e^Y − 1)/(e^(V/s) − e^Y); and the slope
    /// there is r/(1 − e^−Y/(1 + b)), in which r stands alone once b is put in.
    fn of(p: &Parameters) -> Self {
        let test_a = p.number("test_current");
        let test_ohm = p.number("resistance");
        let knee_a = p.optional("knee_current").unwrap_or(KNEE_SHARE * test_a);
        let characterised_v = p.number("breakdown_voltage");
        let folds = LN_2 * test_a / knee_a;
        let mut ohm = test_ohm;
        for _ in 0..KNEE_ROUNDS {
            let widths = characterised_v * LN_2 / (ohm * knee_a);
            let spare = (widths - folds).max(0.0);
            let missing = (-folds).exp() * (-spare).exp_m1() / (-widths).exp_m1();
            ohm = test_ohm * (1.0 - missing);
        }
        Self {
            width_v: ohm * knee_a / LN_2,
            ohm,
            test_a,
            test_ohm,
            characterised_v,
            volt_per_k: p.number("voltage_temperature_coefficient"),
            characterised_k: p.number("characterised_at"),
            folds,
            reach: folds + (-(-folds).exp_m1()).ln(),
        }
    }

    /// V at the test current.
    #[inline(always)]
    fn test_v<S: Scalar>(&self, kelvin: S) -> S {
        let rise_k = kelvin - S::splat(self.characterised_k);
        let volt = S::splat(self.characterised_v) + S::splat(self.volt_per_k) * rise_k;
        volt.maximum(S::splat(self.width_v * (self.folds + LEAST_SPARE)))
    }

    /// The curve at a temperature in K.
    ///
    /// s and r stay, so that w₀ alone moves: with V for the voltage at the test current,
    /// w₀ = −s·ln b = V + s·ln(1 − e^(Y − V/s)) − s·ln(e^Y − 1). But for the middle term, which is
    /// e^(−w₀/s) of a width and nothing where there is a knee to speak of, it moves as V does.
    #[inline(always)]
    fn at<S: Scalar>(&self, kelvin: S) -> Breakdown<S> {
        let test_v = self.test_v(kelvin);
        let per_width = 1.0 / self.width_v;
        let spare = test_v * S::splat(per_width) - S::splat(self.folds);
        let bend = (-(-spare).exp()).ln_1p() - S::splat(self.reach);
        let knee_v = test_v + S::splat(self.width_v) * bend;
        Breakdown {
            knee_v,
            per_width: S::splat(per_width),
            width_a: S::splat(self.width_v / self.ohm),
            at_zero: softplus(-knee_v * S::splat(per_width)),
        }
    }
}

/// The curve of the breakdown at one temperature.
#[derive(Clone, Copy, Debug)]
struct Breakdown<S> {
    /// w₀ in V.
    knee_v: S,
    /// 1/s.
    per_width: S,
    /// s/r in A.
    width_a: S,
    /// softplus(−w₀/s).
    at_zero: S,
}

impl<T: Scalar<Base = T>> Breakdown<T> {
    #[inline(always)]
    fn lifted<S: Scalar<Base = T>>(&self) -> Breakdown<S> {
        Breakdown {
            knee_v: S::lift(self.knee_v),
            per_width: S::lift(self.per_width),
            width_a: S::lift(self.width_a),
            at_zero: S::lift(self.at_zero),
        }
    }
}

impl<S: Scalar> Breakdown<S> {
    /// A from cathode to anode at w = v(cathode) − v(anode).
    #[inline(always)]
    fn current(&self, w: S) -> S {
        self.width_a * (softplus((w - self.knee_v) * self.per_width) - self.at_zero)
    }
}

/// Both currents; input v(anode) − v(cathode); currents: breakdown from cathode to anode, forward
/// from anode to cathode.
#[derive(Clone, Copy, Debug)]
pub struct Zener<T> {
    forward: Diode<T>,
    breakdown: Breakdown<T>,
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

impl<T: Scalar<Base = T>> Zener<T> {
    fn breakdown_noise(&self, w: T) -> Noise<T> {
        let BreakdownNoise { cause, per_twice_thermal, at_rest, excess, corner_hz } = self.noise;
        let size_a = self.breakdown.current(w).absolute();
        let thermal = (w * per_twice_thermal).absolute();
        let resting = thermal.less(T::splat(NEARLY_AT_REST));
        let ratio = T::select(resting, T::splat(1.0), thermal).tanh();
        let shot = T::select(resting, at_rest, T::splat(TWO_Q) * size_a / ratio);
        let more = excess * size_a;
        Noise { cause, white: shot + more, flicker_at_1hz: more * corner_hz }
    }
}

impl<T: Scalar<Base = T>> Law<T, 1, 2, 0> for Zener<T> {
    #[inline(always)]
    fn evaluate<S: Scalar<Base = T>>(&self, u: &[S; 1]) -> ([S; 2], [S; 0]) {
        let v = bounded(u[0]);
        ([self.breakdown.lifted().current(-v), self.forward.current(v)], [])
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
    #[inline(always)]
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

in_columns!(Zener<f64>: 6, forward.saturation_a, forward.per_width, breakdown.knee_v, breakdown.per_width, breakdown.width_a, breakdown.at_zero);
in_columns!(ChargedZener<f64>: 12, zener.forward.saturation_a, zener.forward.per_width, zener.breakdown.knee_v, zener.breakdown.per_width, zener.breakdown.width_a, zener.breakdown.at_zero, depletion.scale_c, depletion.power, depletion.per_potential, depletion.knee_v, depletion.knee_farad, depletion.bend_per_v);

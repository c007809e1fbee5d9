//! What a capacitor comes to at its bias, temperature and age, and why that is not its label.

use super::Parameters;
use super::bias::{BiasCurve, ClassBias};
use super::dielectric::Dielectric;
use super::temperature::{SMALLEST_FACTOR, ZERO_CELSIUS_K, kelvin, rise_k};
use crate::numeric::Dual;
use crate::quantity::trimmed;
use std::f64::consts::TAU;

/// 1000 h, the age at which makers state capacitance.
pub(super) const REFERENCE_AGE_S: f64 = 3.6e6;
/// Age takes no more than this leaves: the straight line over decades is a fit of the first ones.
const LEAST_LEFT_BY_AGE: f64 = 0.1;
const HOUR_S: f64 = 3600.0;
const DIGITS: usize = 3;

/// A capacitor as it is laid out: at its temperature and age.
#[derive(Clone, Debug)]
pub struct CapacitorFigures {
    /// F, what is left of the label before a bias law takes its part.
    pub farad: f64,
    /// How the capacitance follows the voltage across it.
    pub over_bias: OverBias,
    /// Ω, of the series resistance alone; far above the corner of a ladder.
    pub esr_ohm: f64,
    /// H
    pub esl_henry: f64,
    /// What the series resistance is more at low frequencies.
    pub ladder: Option<Ladder>,
    /// Ω, across the capacitance.
    pub leakage_ohm: Option<f64>,
}

/// How capacitance follows voltage.
#[derive(Clone, Debug)]
pub enum OverBias {
    /// Not at all.
    Constant,
    /// By points of the part's maker.
    Curve(BiasCurve<f64>),
    /// By what is common for its class.
    Class(ClassBias<f64>),
}

/// A resistance in parallel with a capacitance, both in series with the rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ladder {
    /// Ω
    pub ohm: f64,
    /// F
    pub farad: f64,
}

impl CapacitorFigures {
    /// C on its first plate at `volt` across the capacitance.
    pub fn charge_c(&self, volt: f64) -> f64 {
        match &self.over_bias {
            OverBias::Constant => self.farad * volt,
            OverBias::Curve(law) => law.charge(volt),
            OverBias::Class(law) => law.charge(volt),
        }
    }

    /// F at `volt` across the capacitance, for small changes.
    pub fn farad_at(&self, volt: f64) -> f64 {
        let [dual] = Dual::inputs([volt]);
        match &self.over_bias {
            OverBias::Constant => self.farad,
            OverBias::Curve(law) => law.charge(dual).slope[0],
            OverBias::Class(law) => law.charge(dual).slope[0],
        }
    }

    /// Real and imaginary part in Ω of the whole capacitor for small changes around `volt`, at a
    /// frequency above zero in Hz.
    pub fn impedance_ohm(&self, hz: f64, volt: f64) -> [f64; 2] {
        let omega = TAU * hz;
        let parallel = |siemens: f64, farad: f64| {
            let susceptance = omega * farad;
            let size = siemens * siemens + susceptance * susceptance;
            [siemens / size, -susceptance / size]
        };
        let leak = self.leakage_ohm.map_or(0.0, |ohm| 1.0 / ohm);
        let plate = parallel(leak, self.farad_at(volt));
        let ladder = self.ladder.map_or([0.0; 2], |l| parallel(1.0 / l.ohm, l.farad));
        [self.esr_ohm + ladder[0] + plate[0], omega * self.esl_henry + ladder[1] + plate[1]]
    }

    /// Ω in series at frequencies far below the corner of a ladder.
    pub fn esr_low_ohm(&self) -> f64 {
        self.esr_ohm + self.ladder.map_or(0.0, |l| l.ohm)
    }

    /// Whether its capacitance follows the voltage.
    pub fn follows_bias(&self) -> bool {
        !matches!(self.over_bias, OverBias::Constant)
    }
}

/// The figures of a part of kind `capacitor`, all that are in parallel together.
pub fn capacitor_figures(p: &Parameters) -> CapacitorFigures {
    let count = p.number("count");
    let farad = count
        * p.number("capacitance")
        * p.optional("remaining").unwrap_or(1.0)
        * temperature_factor(p)
        * (1.0 + p.number("temperature_drift"))
        * age_factor(p);
    let over_bias = match (p.curves.get("bias_curve"), class_bias(p)) {
        (Some(points), _) => OverBias::Curve(BiasCurve::new(farad, points)),
        (None, Some([rated_v, left])) => OverBias::Class(ClassBias::new(farad, rated_v, left)),
        (None, None) => OverBias::Constant,
    };
    let factor = esr_factor(p) / count;
    let esr = p.number("esr");
    let more = p.optional("esr_low").map_or(0.0, |low| low - esr) * factor;
    let ladder = p
        .optional("esr_corner")
        .filter(|_| more > 0.0)
        .map(|hz| Ladder { ohm: more, farad: 1.0 / (TAU * hz * more) });
    CapacitorFigures {
        farad,
        over_bias,
        esr_ohm: esr * factor,
        esl_henry: p.number("esl") / count,
        ladder,
        leakage_ohm: p.optional("leakage_resistance").map(|ohm| ohm / count),
    }
}

/// The dielectric that a capacitor was given.
pub fn dielectric_of(p: &Parameters) -> Option<Dielectric> {
    Dielectric::of(p.word("dielectric"))
}

/// Between which values `temperature_drift` lies for parts of the capacitor's dielectric at its
/// temperature (see [`Dielectric::band_at`]): around the nominal value there, that is, of class 1
/// what its coefficient may be off. `None` without a dielectric.
pub fn temperature_band(p: &Parameters) -> Option<[f64; 2]> {
    dielectric_of(p).map(|d| d.band_at(kelvin(p)))
}

/// V that it may see: `rated_voltage` times `derating`.
pub fn allowed_voltage(p: &Parameters) -> Option<f64> {
    p.optional("rated_voltage").map(|rated| rated * p.number("derating"))
}

/// What is wrong with a capacitor's temperature, in words: `-60 °C is below the -55 °C of X5R`.
pub fn outside_temperature(p: &Parameters) -> Option<String> {
    let dielectric = dielectric_of(p)?;
    let side = dielectric.outside(kelvin(p))?;
    let limit_k = if side == "below" { dielectric.low_k } else { dielectric.high_k };
    let (here, limit) = (celsius(kelvin(p)), celsius(limit_k));
    Some(format!("{here} is {side} the {limit} that {} is made for", dielectric.word))
}

/// Whether what bias takes is only the default of its class.
pub fn bias_is_assumed(p: &Parameters) -> bool {
    class_bias(p).is_some()
}

/// Rated voltage and what is left there by the class, where nothing else says it.
fn class_bias(p: &Parameters) -> Option<[f64; 2]> {
    let told = p.optional("remaining").is_some() || p.curves.contains_key("bias_curve");
    let left = dielectric_of(p).filter(|_| !told)?.left_at_rated?;
    Some([p.optional("rated_voltage")?, left])
}

fn temperature_factor(p: &Parameters) -> f64 {
    let by_class = || dielectric_of(p).map_or(0.0, |d| d.coefficient_per_k());
    let coefficient = p.optional("temperature_coefficient").unwrap_or_else(by_class);
    (1.0 + coefficient * rise_k(p)).max(SMALLEST_FACTOR)
}

fn ageing(p: &Parameters) -> f64 {
    p.optional("ageing").or_else(|| dielectric_of(p).map(|d| d.ageing)).unwrap_or(0.0)
}

fn age_factor(p: &Parameters) -> f64 {
    let decades = (p.number("age") / REFERENCE_AGE_S).log10();
    (1.0 - ageing(p) * decades).max(LEAST_LEFT_BY_AGE)
}

fn esr_factor(p: &Parameters) -> f64 {
    let by_curve = || p.curves.get("esr_curve").map(|points| logarithmic(points, kelvin(p)));
    p.optional("esr_temperature_factor").or_else(by_curve).unwrap_or(1.0)
}

/// Straight in ln(y) between points, held outside.
fn logarithmic(points: &[[f64; 2]], at: f64) -> f64 {
    let next = points.partition_point(|p| p[0] < at);
    let before = next.checked_sub(1).and_then(|k| points.get(k));
    match (before, points.get(next)) {
        (Some([x0, y0]), Some([x1, y1])) => y0 * (y1 / y0).powf((at - x0) / (x1 - x0)),
        (Some([_, y]), None) | (None, Some([_, y])) => *y,
        (None, None) => 1.0,
    }
}

fn celsius(kelvin: f64) -> String {
    trimmed(((kelvin - ZERO_CELSIUS_K) * 1e6).round() / 1e6, "°C", 4)
}

/// What takes or adds capacitance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// `remaining`, as given.
    Remaining,
    /// Voltage across it.
    Bias,
    /// Nominal course over temperature.
    Temperature,
    /// Where in its class's band it lies.
    Drift,
    /// Time.
    Ageing,
}

/// One factor between label and effective value.
#[derive(Clone, Debug, PartialEq)]
pub struct Factor {
    /// Which.
    pub loss: Loss,
    /// What it leaves: below 1 where capacitance is lost.
    pub share: f64,
    /// Why, in words that follow the share.
    pub why: String,
}

/// A capacitor at one bias.
#[derive(Clone, Debug, PartialEq)]
pub struct EffectiveCapacitor {
    /// F, printed on the part, of all in parallel together.
    pub label_f: f64,
    /// F, for small changes at the bias.
    pub farad: f64,
    /// From label to effective value: their product. Factors of 1 are left out, but not what bias
    /// takes where the capacitance follows it.
    pub factors: Vec<Factor>,
    /// Ω, far above the corner of a ladder.
    pub esr_ohm: f64,
    /// Ω, far below it; the same without one.
    pub esr_low_ohm: f64,
    /// H
    pub esl_henry: f64,
}

impl EffectiveCapacitor {
    /// `62 % left at 2.8 V by its bias curve, 95 % by …`; empty where nothing takes anything.
    pub fn why(&self) -> String {
        let told = self.factors.iter().map(|f| {
            let share = trimmed(100.0 * f.share, "%", DIGITS);
            format!("{share} {}", f.why)
        });
        told.collect::<Vec<_>>().join(", ")
    }
}

/// What a capacitor comes to with `bias_v` across it.
pub fn effective(p: &Parameters, bias_v: f64) -> EffectiveCapacitor {
    let figures = capacitor_figures(p);
    let farad = figures.farad_at(bias_v);
    let mut factors = Vec::new();
    let mut add = |loss: Loss, share: f64, why: String| {
        if share != 1.0 || (loss == Loss::Bias && figures.follows_bias()) {
            factors.push(Factor { loss, share, why });
        }
    };
    let given = p.optional("remaining").unwrap_or(1.0);
    add(Loss::Remaining, given, "left at the working bias as given".to_owned());
    let at = trimmed(bias_v, "V", DIGITS);
    let by = match (&figures.over_bias, dielectric_of(p)) {
        (OverBias::Class(_), Some(d)) => {
            format!("what {} commonly keeps, no source: look it up", d.word)
        }
        _ => "its bias curve".to_owned(),
    };
    add(Loss::Bias, farad / figures.farad, format!("left at {at} by {by}"));
    let temperature = celsius(kelvin(p));
    add(Loss::Temperature, temperature_factor(p), format!("at {temperature}"));
    let drift = 1.0 + p.number("temperature_drift");
    add(Loss::Drift, drift, "by its temperature drift".to_owned());
    let age = trimmed(p.number("age") / HOUR_S, "", DIGITS);
    add(Loss::Ageing, age_factor(p), format!("at an age of {} h", age.trim()));
    EffectiveCapacitor {
        label_f: p.number("count") * p.number("capacitance"),
        farad,
        factors,
        esr_ohm: figures.esr_ohm,
        esr_low_ohm: figures.esr_low_ohm(),
        esl_henry: figures.esl_henry,
    }
}

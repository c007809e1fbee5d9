//! Is a linear regulator right here at all? Heat, efficiency, headroom and the life of a battery
//! from a few numbers of a datasheet and a requirement, and the verdict with what decides it.
//!
//! Pd = (Vin − Vout)·I + Vin·Iq; efficiency = Vout·I/(Vin·(I + Iq)), never above Vout/Vin;
//! Tj = Ta + Pd·θ (θ junction to ambient as in JEDEC JESD51-2A). Everything is at rest: what the
//! rail does while its load steps is solved by a run of its circuit.

mod figures;
mod judge;
#[cfg(test)]
mod tests;

pub use figures::Figure;
pub use judge::{Judgement, duration};

use crate::measure::Verdict;

/// Efficiency of a switching regulator in the same place where none is stated (common practice,
/// no source).
pub const USUAL_SWITCHING_EFFICIENCY: f64 = 0.85;

/// Mean load below which few switching regulators keep their efficiency, A (common practice, no
/// source).
const LIGHT_LOAD_A: f64 = 1e-3;

/// What the input may be, V.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InputRange {
    /// The least; above zero.
    pub low_v: f64,
    /// What it usually is; of a cell the mean over its discharge.
    pub typical_v: f64,
    /// The most.
    pub high_v: f64,
    /// `typical_v` was given, and is not the middle of the range.
    pub typical_given: bool,
}

/// A level of the load and how much of the time it lasts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// Not below zero, A.
    pub current_a: f64,
    /// Above 0, to 1; the shares of all levels add up to 1.
    pub share: f64,
}

/// What is asked. Values must lie in the ranges named here; none is checked again.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Lowest, usual and highest input.
    pub input: InputRange,
    /// Below the lowest input, above zero, V.
    pub output_v: f64,
    /// At least one level, at least one of them above zero.
    pub load: Vec<Level>,
    /// Junction to ambient, K/W, above zero; `None`: not known.
    pub theta_k_per_w: Option<f64>,
    /// °C
    pub ambient_c: f64,
    /// The hottest that the junction may be, above the ambient, °C.
    pub junction_limit_c: f64,
    /// Least difference of input and output at the highest load, V; `None`: not known.
    pub dropout_v: Option<f64>,
    /// What the regulator takes for itself, A.
    pub ground_current_a: f64,
    /// What its output gives into a short, A; `None`: not known.
    pub current_limit_a: Option<f64>,
    /// Charge of the battery that feeds it, C; `None`: no battery.
    pub battery_c: Option<f64>,
    /// Above 0, to 1; `None`: nothing stated, [`USUAL_SWITCHING_EFFICIENCY`] is assumed.
    pub switching_efficiency: Option<f64>,
}

impl Question {
    /// Mean of the load over time, A.
    pub fn mean_a(&self) -> f64 {
        self.load.iter().map(|l| l.current_a * l.share).sum()
    }

    /// Highest level of the load, A.
    pub fn peak_a(&self) -> f64 {
        self.load.iter().map(|l| l.current_a).fold(0.0, f64::max)
    }

    /// The level that lasts longest, of equals the higher; told where there are several.
    pub fn longest(&self) -> Option<Level> {
        let order = |a: &&Level, b: &&Level| {
            a.share.total_cmp(&b.share).then(a.current_a.total_cmp(&b.current_a))
        };
        self.load.iter().max_by(order).copied().filter(|_| self.load.len() > 1)
    }

    /// The efficiency that a switching regulator is taken to have.
    pub fn switching(&self) -> f64 {
        self.switching_efficiency.unwrap_or(USUAL_SWITCHING_EFFICIENCY)
    }

    /// Whether a switching regulator's efficiency is doubtful at so light a load.
    pub fn is_light(&self) -> bool {
        self.mean_a() < LIGHT_LOAD_A
    }

    /// What the regulator turns into heat, W.
    pub fn dissipation_w(&self, input_v: f64, load_a: f64) -> f64 {
        (input_v - self.output_v) * load_a + input_v * self.ground_current_a
    }

    /// Share of the input power that reaches the load.
    pub fn efficiency(&self, input_v: f64, load_a: f64) -> f64 {
        self.output_v * load_a / (input_v * (load_a + self.ground_current_a))
    }

    /// Junction at rest, °C; `None` where no thermal resistance is known.
    pub fn junction_c(&self, dissipation_w: f64) -> Option<f64> {
        self.theta_k_per_w.map(|theta| self.ambient_c + dissipation_w * theta)
    }

    /// Largest thermal resistance that keeps the junction within its limit, K/W.
    pub fn theta_needed(&self, dissipation_w: f64) -> f64 {
        (self.junction_limit_c - self.ambient_c) / dissipation_w
    }

    /// Lowest, typical and highest input with their names; one if all are the same.
    pub fn inputs(&self) -> Vec<(&'static str, f64)> {
        let InputRange { low_v, typical_v, high_v, .. } = self.input;
        if low_v == high_v {
            return vec![("typical", typical_v)];
        }
        vec![("lowest", low_v), ("typical", typical_v), ("highest", high_v)]
    }

    /// Current drawn from the input: by the linear regulator, and by a switching one of the stated
    /// efficiency at the typical input, A.
    fn drawn_a(&self) -> (f64, f64) {
        let (mean, typical) = (self.mean_a(), self.input.typical_v);
        (mean + self.ground_current_a, self.output_v * mean / (self.switching() * typical))
    }

    /// How long the battery lasts on the linear regulator, and on a switching one, s.
    pub fn life_s(&self) -> Option<(f64, f64)> {
        let (linear, switching) = self.drawn_a();
        self.battery_c.map(|charge| (charge / linear, charge / switching))
    }

    /// Life on the linear regulator over that on a switching one: the ratio of the efficiencies at
    /// the typical input.
    pub fn life_ratio(&self) -> f64 {
        let (linear, switching) = self.drawn_a();
        switching / linear
    }

    /// What a switching regulator of the stated efficiency would turn into heat, W.
    pub fn switching_loss_w(&self) -> f64 {
        self.output_v * self.mean_a() * (1.0 / self.switching() - 1.0)
    }
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Assessment {
    /// `Pass`: a linear regulator is right; `Marginal`; `Fail`: it is not.
    pub verdict: Verdict,
    /// What decides, in one sentence.
    pub reason: String,
    /// One for each thing that could be judged.
    pub judgements: Vec<Judgement>,
    /// Every number worked out.
    pub figures: Vec<Figure>,
    /// What was not judged, and what would have to be given for it.
    pub not_evaluated: Vec<(&'static str, &'static str)>,
}

/// Works everything out and judges it.
///
/// # Errors
/// Why no linear regulator can do it, if the output is not below the lowest input.
pub fn assess(question: &Question) -> Result<Assessment, String> {
    if let Some(refusal) = refusal(question.input, question.output_v) {
        return Err(refusal);
    }
    let judgements = judge::judgements(question);
    let verdict = Verdict::worst(judgements.iter().map(|j| j.verdict));
    let reason =
        judge::deciding(&judgements, verdict).map_or_else(String::new, |j| j.reason.clone());
    Ok(Assessment {
        verdict,
        reason,
        judgements,
        figures: figures::figures(question),
        not_evaluated: judge::not_evaluated(question),
    })
}

/// Why a linear regulator is out of the question at this input and output.
pub fn refusal(input: InputRange, output_v: f64) -> Option<String> {
    if output_v < input.low_v {
        return None;
    }
    let way = if output_v >= input.high_v { "up" } else { "up as well as down" };
    let volt = figures::volt;
    Some(format!(
        "a linear regulator only steps down: the output {} is not below the lowest input {}; it \
         takes a regulator that steps {way}, or an input that stays above the output",
        volt(output_v),
        volt(input.low_v)
    ))
}

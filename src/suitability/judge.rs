//! The verdicts: heat, headroom, lost power, life of the battery, each with the number that decides.

use super::Question;
use super::figures::{celsius, percent, thermal, volt, watt};
use crate::measure::Verdict;

/// Margin below which what holds is only marginal, as for every requirement.
const MARGINAL: f64 = 0.1;

/// What rounding may take from a margin of zero: limits given in decimals meet exactly.
const ROUNDING: f64 = 1e-9;

/// Thermal resistance that every small package reaches on little copper, K/W (common practice, no
/// source).
const ANY_PACKAGE: f64 = 250.0;

/// What the copper of a board alone can reach, K/W: a TO-252 on one square inch (data sheet of
/// LM78M and LM341, Texas Instruments).
const BOARD_COPPER: f64 = 47.0;

/// Power worth saving by another kind of regulator, W (common practice, no source).
const WORTH_SAVING_W: f64 = 1.0;

/// Share of a switching regulator's battery life below which a linear one is the wrong choice, and
/// below which it needs a reason (common practice, no source).
const LIFE_WRONG: f64 = 0.5;
const LIFE_DOUBTFUL: f64 = 0.75;

/// Beyond this a battery ends by its age and not by its load, s: ten years (common practice, no
/// source).
const SHELF_LIFE_S: f64 = 10.0 * 365.25 * 86400.0;

/// One thing judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// `heat`, `headroom`, `lost_power` or `battery_life`.
    pub name: &'static str,
    /// Pass, marginal or fail.
    pub verdict: Verdict,
    /// Distance to the limit over the limit, negative outside; `None` where classes are judged.
    pub margin: Option<f64>,
    /// Which number decides.
    pub reason: String,
}

pub(super) fn judgements(question: &Question) -> Vec<Judgement> {
    let heat = match question.theta_k_per_w {
        Some(theta) => heat(question, theta),
        None => heat_of_any_package(question),
    };
    let headroom = question.dropout_v.map(|dropout_v| headroom(question, dropout_v));
    let energy = match question.life_s() {
        Some((linear_s, switching_s)) => battery_life(question, linear_s, switching_s),
        None => lost_power(question),
    };
    std::iter::once(heat).chain(headroom).chain([energy]).collect()
}

/// The one that the whole verdict rests on: of those that reach it the one with the least margin,
/// else the first.
pub(super) fn deciding(judgements: &[Judgement], verdict: Verdict) -> Option<&Judgement> {
    let margin = |j: &&Judgement| j.margin.unwrap_or(f64::INFINITY);
    let worst = judgements.iter().filter(|j| j.verdict == verdict);
    // `min_by` takes the first of equals.
    worst.min_by(|a, b| margin(a).total_cmp(&margin(b)))
}

pub(super) fn not_evaluated(question: &Question) -> Vec<(&'static str, &'static str)> {
    let absent = [
        (question.theta_k_per_w.is_none(), "junction_temperature", "give `--theta`"),
        (question.dropout_v.is_none(), "headroom_against_dropout", "give `--dropout`"),
        (question.battery_c.is_none(), "battery_life", "give `--battery`"),
        (question.current_limit_a.is_none(), "shorted_output", "give `--current-limit`"),
    ];
    absent.into_iter().filter(|(is, ..)| *is).map(|(_, what, give)| (what, give)).collect()
}

fn of_margin(margin: f64) -> Verdict {
    match margin {
        m if m >= MARGINAL => Verdict::Pass,
        m if m >= -ROUNDING => Verdict::Marginal,
        // Not a number fails too.
        _ => Verdict::Fail,
    }
}

/// The thermal resistance given against the one needed, by the mean over the profile and by its
/// highest level as if that lasted.
fn heat(question: &Question, theta: f64) -> Judgement {
    let high_v = question.input.high_v;
    let mean_w = question.dissipation_w(high_v, question.mean_a());
    let peak_w = question.dissipation_w(high_v, question.peak_a());
    let margin = |power_w: f64| 1.0 - theta / question.theta_needed(power_w);
    let junction = |power_w: f64| celsius(question.ambient_c + power_w * theta);
    let limit = celsius(question.junction_limit_c);
    let (mean, peak) = (margin(mean_w), margin(peak_w));
    let pulses_only = of_margin(peak) == Verdict::Fail && of_margin(mean) != Verdict::Fail;
    if pulses_only {
        let reason = format!(
            "mean dissipation {} brings the junction to {}, but {} at the highest load would bring \
             it to {} of {limit} allowed if it lasted: pulses must be short against the package's \
             thermal time constant",
            watt(mean_w),
            junction(mean_w),
            watt(peak_w),
            junction(peak_w)
        );
        return Judgement { name: "heat", verdict: Verdict::Marginal, margin: None, reason };
    }
    let (power_w, margin) =
        if of_margin(mean) == Verdict::Fail { (mean_w, mean) } else { (peak_w, peak) };
    let verdict = of_margin(margin);
    let told = format!(
        "dissipation {} needs at most {}, {} is given",
        watt(power_w),
        thermal(question.theta_needed(power_w)),
        thermal(theta)
    );
    let would = if verdict == Verdict::Fail { "would reach" } else { "reaches" };
    let reason = format!("{told}: the junction {would} {} of {limit} allowed", junction(power_w));
    Judgement { name: "heat", verdict, margin: Some(margin), reason }
}

/// No thermal resistance is given: is the one needed an easy one, and can a board reach it at all?
fn heat_of_any_package(question: &Question) -> Judgement {
    let high_v = question.input.high_v;
    let mean_w = question.dissipation_w(high_v, question.mean_a());
    let peak_w = question.dissipation_w(high_v, question.peak_a());
    let (by_mean, by_peak) = (question.theta_needed(mean_w), question.theta_needed(peak_w));
    let needs = |power_w: f64, needed: f64| {
        format!("dissipation {} needs at most {}", watt(power_w), thermal(needed))
    };
    let (verdict, reason) = if by_peak >= ANY_PACKAGE {
        let reach = format!("small packages reach {}", thermal(ANY_PACKAGE));
        (Verdict::Pass, format!("{}, and {reach}", needs(peak_w, by_peak)))
    } else if by_mean >= BOARD_COPPER {
        let ask = "whether package and copper reach it is not known: give `--theta`";
        (Verdict::Marginal, format!("{}; {ask}", needs(peak_w, by_peak)))
    } else {
        let copper = thermal(BOARD_COPPER);
        let ask = "with a heat sink give its figure by `--theta`";
        (
            Verdict::Fail,
            format!(
                "{}, and the copper of a board alone reaches about {copper}; {ask}",
                needs(mean_w, by_mean)
            ),
        )
    };
    Judgement { name: "heat", verdict, margin: None, reason }
}

fn headroom(question: &Question, dropout_v: f64) -> Judgement {
    let headroom_v = question.input.low_v - question.output_v;
    // An ideal pass device has any headroom to spare.
    let margin = (dropout_v > 0.0).then(|| headroom_v / dropout_v - 1.0);
    let reason = format!(
        "headroom at the lowest input {} is {}, dropout {} is given",
        volt(question.input.low_v),
        volt(headroom_v),
        volt(dropout_v)
    );
    let verdict = margin.map_or(Verdict::Pass, of_margin);
    Judgement { name: "headroom", verdict, margin, reason }
}

/// Efficiency alone never rules a linear regulator out where power is plentiful; much heat that
/// another kind would not make needs a reason.
fn lost_power(question: &Question) -> Judgement {
    let linear_w = question.dissipation_w(question.input.typical_v, question.mean_a());
    let switching_w = question.switching_loss_w();
    let saved_w = linear_w - switching_w;
    let switching = format!("a switching regulator at {}", percent(question.switching()));
    let (verdict, reason) = if saved_w > WORTH_SAVING_W {
        let loses = format!("loses {} where {switching} loses", watt(linear_w));
        let told = format!("the regulator {loses} {}: there must be a reason", watt(switching_w));
        (Verdict::Marginal, format!("{told}, such as noise, for turning so much into heat"))
    } else if saved_w > 0.0 {
        (Verdict::Pass, format!("{switching} would save only {}", watt(saved_w)))
    } else {
        (Verdict::Pass, format!("{switching} would save nothing"))
    };
    Judgement { name: "lost_power", verdict, margin: None, reason }
}

fn battery_life(question: &Question, linear_s: f64, switching_s: f64) -> Judgement {
    let ratio = question.life_ratio();
    let stated = question.switching_efficiency.is_some();
    let switching = format!("a switching regulator at {}", percent(question.switching()));
    let told = format!(
        "the battery lasts {}, {} of the {} that {switching} would give",
        duration(linear_s),
        percent(ratio),
        duration(switching_s)
    );
    let (verdict, reason) = if linear_s >= SHELF_LIFE_S {
        let age = "beyond ten years its own age decides";
        (Verdict::Pass, format!("the battery lasts {}: {age}", duration(linear_s)))
    } else if ratio >= LIFE_DOUBTFUL {
        (Verdict::Pass, told)
    } else if ratio >= LIFE_WRONG {
        (Verdict::Marginal, told)
    } else if question.is_light() && !stated {
        let doubt = "that is only assumed, and few keep it at so light a load: state it by";
        (Verdict::Marginal, format!("{told}; {doubt} `--switching-efficiency`"))
    } else {
        (Verdict::Fail, told)
    };
    Judgement { name: "battery_life", verdict, margin: None, reason }
}

/// Hours to three days, days to two years, years.
pub fn duration(seconds: f64) -> String {
    const HOUR_S: f64 = 3600.0;
    const DAY_S: f64 = 24.0 * HOUR_S;
    const YEAR_S: f64 = 365.25 * DAY_S;
    let (unit_s, unit) = match seconds {
        s if s < 3.0 * DAY_S => (HOUR_S, "h"),
        s if s < 2.0 * YEAR_S => (DAY_S, "days"),
        _ => (YEAR_S, "years"),
    };
    format!("{} {unit}", crate::quantity::trimmed(seconds / unit_s, "", 3))
}

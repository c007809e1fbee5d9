//! From a value and a limit to a margin and a verdict, and from many verdicts to one.

use super::requirement::Limit;
use serde::{Deserialize, Serialize};

/// What a requirement, a test or a file came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Inside with a margin of at least a tenth of the scale.
    Pass,
    /// Inside with less, or too near to the limit for the numerical uncertainty.
    Marginal,
    /// Outside, or in a state that cannot satisfy the limit.
    Fail,
    /// It could not be told.
    NotEvaluated,
    /// The test could not be solved.
    Error,
    /// Nothing was asked.
    NoRequirements,
}

impl Verdict {
    /// As in the results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Marginal => "marginal",
            Self::Fail => "fail",
            Self::NotEvaluated => "not-evaluated",
            Self::Error => "error",
            Self::NoRequirements => "no-requirements",
        }
    }

    fn weight(self) -> u8 {
        match self {
            Self::NoRequirements => 0,
            Self::Pass => 1,
            Self::Marginal => 2,
            Self::NotEvaluated => 3,
            Self::Error => 4,
            Self::Fail => 5,
        }
    }

    /// The worst: fail, then error, not-evaluated, marginal, pass; no-requirements if there is
    /// none of these.
    pub fn worst(verdicts: impl IntoIterator<Item = Verdict>) -> Verdict {
        verdicts.into_iter().max_by_key(|v| v.weight()).unwrap_or(Self::NoRequirements)
    }
}

/// A value held against a limit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Judgement {
    pub(super) verdict: Verdict,
    /// Distance inside the nearer bound over that bound's scale; `None` where the scale is zero.
    pub(super) margin: Option<f64>,
    pub(super) reason: Option<String>,
}

/// Margin below which a value that is inside is only marginal; also the largest share of the
/// scale that a numerical uncertainty may take near the limit.
const MARGINAL: f64 = 0.1;

/// Judges `value`. `scale_of` gives the scale that the distance to a bound is divided by (`None`
/// where there is none: the margin is then `None`); `uncertainty` is the value's numerical
/// uncertainty in its own unit, `None` to judge the value alone; `spare_scale` stands in for a
/// missing scale when that uncertainty is weighed.
pub(super) fn judge(
    value: f64,
    limit: Limit,
    scale_of: impl Fn(f64) -> Option<f64>,
    uncertainty: Option<f64>,
    spare_scale: Option<f64>,
) -> Judgement {
    let mut nearest: Option<(f64, Option<f64>)> = None;
    let mut margin: Option<f64> = None;
    for (distance, bound) in limit.distances(value) {
        let scale = scale_of(bound).filter(|s| *s > 0.0 && s.is_finite());
        if nearest.is_none_or(|(d, _)| distance < d) {
            nearest = Some((distance, scale));
        }
        if let Some(scale) = scale {
            let this = distance / scale;
            margin = Some(margin.map_or(this, |m: f64| m.min(this)));
        }
    }
    let (distance, scale) = nearest.unwrap_or((f64::NAN, None));
    if distance.is_nan() {
        let reason = Some("the value is not a number".to_owned());
        return Judgement { verdict: Verdict::NotEvaluated, margin: None, reason };
    }
    if let Some(uncertainty) = uncertainty.filter(|u| distance.abs() < *u) {
        let told_apart = scale.or(spare_scale).is_some_and(|s| uncertainty <= MARGINAL * s);
        return if told_apart {
            let reason = Some("within its numerical uncertainty of the limit".to_owned());
            Judgement { verdict: Verdict::Marginal, margin, reason }
        } else {
            let reason = "the numerical uncertainty is too large to tell; solve tighter";
            Judgement { verdict: Verdict::NotEvaluated, margin, reason: Some(reason.to_owned()) }
        };
    }
    let verdict = if distance < 0.0 {
        Verdict::Fail
    } else if margin.is_some_and(|m| m < MARGINAL) {
        Verdict::Marginal
    } else {
        Verdict::Pass
    };
    Judgement { verdict, margin, reason: None }
}

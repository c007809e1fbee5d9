//! Whether a linear regulator is right: what has to be warned of, and the ways it is told.

mod json;
mod text;

pub use json::json;
pub use text::text;

use crate::output::caution::{self, Fields, HOT_W};
use crate::output::number::{engineering, trimmed};
use crate::suitability::Question;

/// Digits of what was worked out.
const DIGITS: usize = 3;

/// Direct voltage from which touching is dangerous, V (IEC 62368-1, from memory).
const DANGEROUS_V: f64 = 60.0;

/// What has to be warned of, each only when something calls for it; the last always does.
pub fn cautions(question: &Question) -> Vec<String> {
    let mut found = Vec::new();
    let high_v = question.input.high_v;
    let worst_w = question.dissipation_w(high_v, question.peak_a());
    let watt = |value: f64| engineering(value, "W", DIGITS);
    let beyond = question.junction_c(worst_w).is_some_and(|c| c > question.junction_limit_c);
    if worst_w > HOT_W || beyond {
        found.push(format!(
            "hot surface: the regulator takes {} at the highest input and load; it can burn skin \
             and its board, so check its temperature on your copper, in its box",
            watt(worst_w)
        ));
    }
    if let Some(limit_a) = question.current_limit_a {
        found.push(format!(
            "with its output shorted the regulator takes {} until thermal shutdown acts, which is \
             a last resort and no way of working",
            watt(high_v * (limit_a + question.ground_current_a))
        ));
    }
    if question.is_light() {
        found.push(format!(
            "few switching regulators keep {} at a mean load of {}: compare with the curve of one \
             that you would use",
            trimmed(question.switching(), "1"),
            trimmed(question.mean_a(), "A")
        ));
    }
    if high_v > DANGEROUS_V {
        found.push(format!(
            "{} is dangerous to touch: isolation and earthing follow local codes and are a \
             qualified person's work",
            trimmed(high_v, "V")
        ));
    }
    let battery = question.battery_c.is_some();
    found.extend(caution::fields(Fields { battery, ..Fields::default() }));
    found.push(
        "calculated from the numbers given, not measured: a thermal resistance holds for its own \
         board and air and can be off by half on yours; droop, stability and start-up are not part \
         of it, a run of the circuit tells them"
            .to_owned(),
    );
    found
}

/// What was assumed for want of a figure, by the names of `given`.
fn assumed(question: &Question) -> Vec<&'static str> {
    let varies = question.input.low_v < question.input.high_v;
    let middle = varies && !question.input.typical_given;
    let switching = question.switching_efficiency.is_none();
    [middle.then_some("typical_input"), switching.then_some("switching_efficiency")]
        .into_iter()
        .flatten()
        .collect()
}

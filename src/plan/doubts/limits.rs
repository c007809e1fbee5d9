//! Limits that let through what they were hardly meant to.

use super::Plan;
use crate::diagnostic::Diagnostic;
use crate::measure::Limit;
use crate::quantity::engineering;
use crate::trial::Test;

/// Measurements that are counted with their sign, so that one bound leaves the other side open.
const SIGNED: [&str; 2] = ["static_change", "output_error"];

pub(super) fn doubts(plan: &Plan) -> Vec<Diagnostic> {
    plan.tests.iter().flat_map(|test| of_test(plan, test)).collect()
}

fn of_test(plan: &Plan, test: &Test) -> Vec<Diagnostic> {
    let limits = test.requirements.iter().filter_map(|r| r.evaluate(&plan.nominal).ok());
    let open = limits.filter(|r| SIGNED.contains(&r.name.as_str())).filter_map(|r| {
        // A positive bound from above, or a negative one from below, is a size that forgot the sign.
        let bound = match r.limit {
            Limit::AtMost(high) if high > 0.0 => high,
            Limit::AtLeast(low) if low < 0.0 => -low,
            _ => return None,
        };
        let name = &r.name;
        let unit = crate::measure::definition(name)?.unit;
        let both = format!("{} .. {}", engineering(-bound, unit, 3), engineering(bound, unit, 3));
        let message = format!("`{name}` has a sign, and `{}` bounds one side only", r.limit_text);
        let doubt = Diagnostic::warning(test.place("require"), message);
        Some(doubt.label("the other side is open").hint(format!("write `{name} = \"{both}\"`")))
    });
    open.collect()
}

//! The comparison for a terminal.

use super::{Report, Substitution, TraceReport, agreement_words, noise_words, value_text};
use crate::circuit::Change;
use crate::output::number::{counted, difference, engineering};
use crate::output::printable;
use crate::output::text::{Page, plain_table, write_rows};
use crate::quantity::trimmed;
use crate::study::compare::substitution::Verified;
use crate::study::compare::{Bound, Comparison, Fitted, Known, Only, Shift};
use crate::study::spell::{run_command, set_arguments};
use crate::trial::Condition;
use std::fmt::Write as _;

/// A rise of the residual at the ends of an interval outside of these is told.
const LINEAR: [f64; 2] = [0.67, 1.5];

pub(super) fn text(
    report: &Report<'_>,
    files: &[String],
    cautions: &[String],
    width: usize,
) -> String {
    let mut page = Page::new(width);
    page.paragraph(0, "", report.title);
    page.paragraph(0, "", report.file);
    if let Some(trace) = &report.trace {
        compared(&mut page, report, trace);
    }
    if let Some(substitution) = &report.substitution {
        checked(&mut page, report, substitution);
    }
    page.blank();
    cautions.iter().for_each(|caution| page.paragraph(0, "caution: ", caution));
    page.paragraph(0, "written: ", &files.join(", "));
    page.blank();
    if let Some(trace) = &report.trace {
        page.paragraph(0, "", &agreement_words(trace.comparison));
    }
    if let Some(substitution) = &report.substitution {
        let part = &substitution.substitute.part;
        let verdict = if substitution.passes() { "passes" } else { "fails" };
        page.paragraph(0, "", &format!("substitution check of {part}: {verdict}"));
    }
    page.paragraph(0, "", "all but the trace is calculated, not measured");
    page.text
}

fn compared(page: &mut Page, report: &Report<'_>, told: &TraceReport<'_>) {
    let TraceReport { trace, ask, comparison, .. } = *told;
    page.blank();
    let inside = match comparison.left_out {
        0 => "all within the record".to_owned(),
        n => format!("{n} of them beyond the record and left out"),
    };
    let samples = format!(
        "{}, {} samples of `{}` over `{}`, {} apart, {inside}",
        told.file,
        trace.time_s.len(),
        trace.volt_head,
        trace.time_head,
        trimmed(trace.interval_s(), "s", 3)
    );
    page.paragraph(0, "trace: ", &samples);
    let outcome = &comparison.outcome;
    let test = format!("{} ({}), node {}", outcome.name, outcome.kind.word(), comparison.node);
    page.paragraph(0, "test: ", &test);
    page.paragraph(2, "conditions: ", &conditions(&outcome.condition));
    page.paragraph(0, "shift: ", &shift_words(ask.shift, comparison));
    let offset = if ask.offset_free {
        let half = comparison
            .worth
            .offset_v
            .map_or_else(String::new, |half| format!(" ± {}", engineering(half, "V", 2)));
        format!(
            "{}{half} taken off the trace, found with the fit",
            engineering(comparison.offset_v, "V", 4)
        )
    } else {
        "none; `--offset free` allows for a constant error of the probe".to_owned()
    };
    page.paragraph(0, "offset: ", &offset);
    if !comparison.values.is_empty() {
        fitted(page, report, comparison);
    }
    residual(page, comparison);
    readings(page, comparison);
}

/// What the test was run at.
pub(super) fn conditions(condition: &Condition) -> String {
    let mut parts = Vec::new();
    parts.extend(condition.load.iter().map(|load| format!("load {load}")));
    match (&condition.source, condition.source_v) {
        (Some(words), _) => parts.push(format!("source {words}")),
        (None, Some(volt)) => parts.push(format!("source {}", trimmed(volt, "V", 4))),
        (None, None) => {}
    }
    parts.extend(condition.ambient_c.map(|c| format!("ambient {c} °C")));
    parts.extend(condition.values.iter().map(|(name, value)| format!("{name} = {value}")));
    parts.push("what is not fitted stands at its nominal value".to_owned());
    parts.join(", ")
}

fn shift_words(shift: Shift, comparison: &Comparison) -> String {
    let zero = engineering(comparison.shift_s, "s", 5);
    match (shift, comparison.worth.shift_s) {
        (Shift::Free, Some(half)) => {
            let half = engineering(half, "s", 2);
            format!("zero of the trace at {zero} ± {half} of the record, found with the fit")
        }
        (Shift::Free, None) => {
            format!("zero of the trace at {zero} of the record, found with the fit")
        }
        (Shift::None, _) => "none: the trace and the record begin to count together".to_owned(),
        (Shift::Given(_), _) => format!("zero of the trace at {zero} of the record, as given"),
    }
}

fn fitted(page: &mut Page, report: &Report<'_>, comparison: &Comparison) {
    page.blank();
    page.paragraph(0, "", "fitted, with 95 % intervals");
    let mut table =
        plain_table(page.width, ["value", "in the file", "fitted", "from", "to", "bounds"]);
    for one in &comparison.values {
        let told = |value: f64| value_text(one, value);
        let [from, to] = match &one.known {
            Known::Within { low, high, .. } => [told(*low), told(*high)],
            Known::OnBound(_) | Known::Lost => ["–".to_owned(), "–".to_owned()],
        };
        let present = one.knob.present.map_or_else(|| "–".to_owned(), told);
        let bounds = format!("{} to {}", told(one.knob.low), told(one.knob.high));
        table.add_row([one.knob.path.clone(), present, told(one.value), from, to, bounds]);
    }
    write_rows(page, &mut table, &[1, 2, 3, 4]);
    for note in notes(comparison) {
        page.paragraph(2, "", &note);
    }
    page.paragraph(2, "", "the same by");
    command(page, report, &comparison.outcome.name, &comparison.changes);
}

fn notes(comparison: &Comparison) -> Vec<String> {
    let worth = &comparison.worth;
    let mut notes: Vec<String> = worth
        .lost
        .iter()
        .map(|lost| match lost.figure {
            Some([value, low, high]) => {
                let unit = lost_unit(comparison, lost.only, &lost.knobs);
                let told = |value: f64| trimmed(value, &unit, 4);
                format!("{}, {} ({} to {})", lost.words(), told(value), told(low), told(high))
            }
            None => lost.words(),
        })
        .collect();
    for (a, b, tie) in &worth.tied {
        let way = if *tie > 0.0 { "rise together" } else { "make up for each other" };
        notes.push(format!(
            "`{a}` and `{b}` {way} (correlation {tie:.2}): their intervals are wide for that"
        ));
    }
    for one in &comparison.values {
        notes.extend(note_of(one));
    }
    notes.extend(comparison.others.iter().map(|(changes, rms)| {
        let rms = engineering(*rms, "V", 3);
        format!("other values fit nearly as well, {rms} rms: {}", set_arguments(changes))
    }));
    let ended = comparison.ended.map_or("", |ended| ended.words());
    notes.push(format!("fit {ended}; {} solutions", comparison.runs));
    notes
}

fn note_of(one: &Fitted) -> Option<String> {
    let path = &one.knob.path;
    match &one.known {
        Known::OnBound(bound) => {
            let word = if *bound == Bound::Lower { "lower" } else { "upper" };
            Some(format!(
                "`{path}` lies on its {word} bound, so its value is the bound's and not the trace's; \
                 widen `--fit {path}=LOW..HIGH` or doubt the circuit"
            ))
        }
        Known::Within { rise, .. } => {
            let bent = rise.iter().flatten().any(|r| !(LINEAR[0]..=LINEAR[1]).contains(r));
            let told = |r: &Option<f64>| r.map_or_else(|| "–".to_owned(), |r| format!("{r:.2}"));
            bent.then(|| {
                format!(
                    "the interval of `{path}` is approximate: at its ends the residual rises by {} and \
                     {} of what a linear fit has it",
                    told(&rise[0]),
                    told(&rise[1])
                )
            })
        }
        Known::Lost => None,
    }
}

fn lost_unit(comparison: &Comparison, only: Only, knobs: &[usize]) -> String {
    let dimension =
        |k: usize| comparison.values.get(k).map(|f| f.knob.dimension).unwrap_or_default();
    let (a, b) = (
        dimension(knobs.first().copied().unwrap_or(0)),
        dimension(knobs.get(1).copied().unwrap_or(0)),
    );
    let whole = match only {
        Only::Product => a.times(b),
        Only::Ratio => a.over(b),
        Only::Sum | Only::Parallel | Only::Combination | Only::Nothing => a,
    };
    whole.symbol()
}

fn residual(page: &mut Page, comparison: &Comparison) {
    let left = &comparison.remainder;
    page.blank();
    let before = if comparison.values.is_empty() {
        String::new()
    } else {
        format!(" ({} rms at the values of the file)", engineering(left.present_rms_v, "V", 3))
    };
    let text = format!(
        "{} rms{before}, largest {} at {}",
        engineering(left.rms_v, "V", 3),
        engineering(left.largest_v, "V", 3),
        engineering(left.largest_at_s, "s", 4),
    );
    page.paragraph(0, "residual, measured minus calculated: ", &text);
    let noise =
        format!("{} rms {}", engineering(left.noise.volt, "V", 3), noise_words(left.noise.source));
    page.paragraph(2, "noise: ", &noise);
    let worth = format!(
        "correlation {:.2}, so that {} samples are worth {:.0} independent ones",
        comparison.worth.correlation,
        comparison.rows.len(),
        comparison.worth.independent
    );
    page.paragraph(2, "neighbouring residuals: ", &worth);
}

fn readings(page: &mut Page, comparison: &Comparison) {
    if comparison.compared.is_empty() {
        return;
    }
    page.blank();
    page.paragraph(0, "", "read off both by the same definitions");
    let mut table =
        plain_table(page.width, ["measurement", "measured", "calculated", "difference"]);
    for row in &comparison.compared {
        let settings: Vec<String> =
            row.settings.iter().map(|(key, value)| format!("{key} {value}")).collect();
        let name = if settings.is_empty() {
            row.name.clone()
        } else {
            format!("{} ({})", row.name, settings.join(", "))
        };
        let told = |value: f64| engineering(value, row.unit, 4);
        let by = difference(row.measured - row.simulated, row.unit, 3);
        table.add_row([name, told(row.measured), told(row.simulated), by]);
    }
    write_rows(page, &mut table, &[1, 2, 3]);
    let note = "extremes of a noisy trace reach farther than the rail does, by some two or three times \
                its noise";
    page.paragraph(2, "", note);
}

fn checked(page: &mut Page, report: &Report<'_>, substitution: &Substitution) {
    page.blank();
    let part = &substitution.substitute.part;
    page.paragraph(0, "", &format!("substitution check of {part}"));
    if let Some((region, held)) = &substitution.region {
        let how = "by effective values at the rail's voltage; its tolerance comes on top";
        page.paragraph(2, "", &format!("against the region of `{region}`, {how}"));
        for one in held {
            let side = if one.outside.is_some() { "outside: " } else { "inside: " };
            page.paragraph(4, side, &one.words());
        }
    }
    if let Some(verified) = &substitution.verified {
        verification(page, report, verified);
    }
}

fn verification(page: &mut Page, report: &Report<'_>, verified: &Verified) {
    let runs = format!(
        "{} at every corner of the environment, {} runs, tolerances at their nominal values",
        counted(verified.tests, "test"),
        verified.runs
    );
    page.paragraph(2, "run: ", &runs);
    let Some(first) = verified.missed.first() else {
        page.paragraph(4, "", "every requirement holds");
        return;
    };
    let value = match (first.value, &first.reason) {
        (Some(value), _) => engineering(value, first.unit, 4),
        (None, Some(reason)) => reason.clone(),
        (None, None) => "not evaluated".to_owned(),
    };
    let missed = format!("{} of {}: {value}, asked {}", first.measurement, first.test, first.limit);
    page.paragraph(4, "first requirement missed: ", &missed);
    page.paragraph(4, "", "to see it");
    command(page, report, &first.test, &first.changes);
    if verified.missed.len() > 1 {
        let others = counted(verified.missed.len() - 1, "further requirement");
        page.paragraph(4, "", &format!("and {others}"));
    }
}

/// The command that runs a test again, in one line, which must not be broken for pasting.
fn command(page: &mut Page, report: &Report<'_>, test: &str, changes: &[Change]) {
    let all: Vec<Change> = report.base.iter().chain(changes).cloned().collect();
    let line = format!("{} {}", run_command(report.file, test), set_arguments(&all));
    let _ = writeln!(page.text, "    {}", printable(line.trim_end()));
}

#[cfg(test)]
mod tests {
    use super::conditions;
    use crate::trial::Condition;

    #[test]
    fn a_condition_is_told_as_it_was_given() {
        let at = |c: f64| conditions(&Condition { ambient_c: Some(c), ..Condition::default() });
        assert!(at(-12.5).starts_with("ambient -12.5 °C, "), "{}", at(-12.5));
        assert!(at(25.0).starts_with("ambient 25 °C, "));
    }
}

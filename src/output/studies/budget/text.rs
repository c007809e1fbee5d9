//! A calculation for people: what was given, a table by input, figures, verdicts, cautions.

use super::{DIGITS, assumed, cautions};
use crate::measure::Verdict;
use crate::output::number::{engineering, trimmed};
use crate::output::wrap::wrap;
use crate::suitability::{Assessment, Figure, Question, duration};
use std::fmt::Write as _;

const NARROWEST: usize = 60;
const WIDEST: usize = 100;

/// Figures that the table by input does not show.
const LISTED: [&str; 12] = [
    "thermal_resistance_needed",
    "thermal_resistance_needed_mean",
    "dissipation_allowed",
    "load_allowed",
    "ambient_allowed",
    "dissipation_longest_share",
    "dissipation_shorted",
    "headroom_margin",
    "switching_loss",
    "life_ratio",
    "life_linear",
    "life_switching",
];

/// The text of a calculation, at most `width` characters a line (held between 60 and 100).
pub fn text(question: &Question, assessment: &Assessment, width: usize) -> String {
    let mut page = Page { text: String::new(), width: width.clamp(NARROWEST, WIDEST) };
    write_given(&mut page, question);
    page.blank();
    write_by_input(&mut page, question);
    page.blank();
    write_figures(&mut page, &assessment.figures);
    page.blank();
    for judgement in &assessment.judgements {
        let name = judgement.name.replace('_', " ");
        let margin = judgement.margin.map_or_else(String::new, |m| {
            format!(" (margin {})", trimmed((m * 1000.0).round() / 1000.0, "1"))
        });
        let lead = format!("{name}: {}{margin}: ", judgement.verdict.word());
        page.paragraph(2, &lead, &judgement.reason);
    }
    if !assessment.not_evaluated.is_empty() {
        let told = |(what, why): &(&str, &str)| format!("{} ({why})", what.replace('_', " "));
        let absent: Vec<String> = assessment.not_evaluated.iter().map(told).collect();
        page.paragraph(2, "not evaluated: ", &absent.join("; "));
    }
    page.blank();
    for caution in cautions(question) {
        page.paragraph(0, "caution: ", &caution);
    }
    page.blank();
    let means = match assessment.verdict {
        Verdict::Pass => "a linear regulator is right here",
        Verdict::Marginal => "a linear regulator may do, with care",
        _ => "a linear regulator is not right here",
    };
    let lead = format!("verdict: {}, {means}: ", assessment.verdict.word());
    page.paragraph(0, &lead, &assessment.reason);
    page.paragraph(0, "", "calculated, not measured");
    page.text
}

fn write_given(page: &mut Page, question: &Question) {
    let volt = |value: f64| trimmed(value, "V");
    let inputs: Vec<String> = question.inputs().iter().map(|(_, v)| volt(*v)).collect();
    let head =
        format!("linear regulator from {} to {}", inputs.join(" .. "), volt(question.output_v));
    page.paragraph(0, "", &head);
    let ampere = |value: f64| trimmed(value, "A");
    let levels: Vec<String> = question
        .load
        .iter()
        .map(|l| match question.load.len() {
            1 => ampere(l.current_a),
            _ => format!("{} for {} of the time", ampere(l.current_a), trimmed(l.share, "1")),
        })
        .collect();
    let mean = match question.load.len() {
        1 => String::new(),
        _ => format!(", mean {}", ampere(question.mean_a())),
    };
    page.paragraph(2, "load: ", &format!("{}{mean}", levels.join(", ")));
    let theta = question.theta_k_per_w.map_or_else(|| "not given".to_owned(), thermal);
    let heat = format!(
        "ambient {}, junction at most {}, thermal resistance {theta}",
        trimmed(question.ambient_c, "°C"),
        trimmed(question.junction_limit_c, "°C")
    );
    page.paragraph(2, "heat: ", &heat);
    let mut others = vec![format!("ground current {}", ampere(question.ground_current_a))];
    others.extend(question.dropout_v.map(|v| format!("dropout {}", volt(v))));
    others.extend(question.current_limit_a.map(|a| format!("current limit {}", ampere(a))));
    // A battery's label is in ampere-hours.
    let charge = |c: f64| format!("battery {}", trimmed(c / 3600.0, "A*h").replace("*h", "h"));
    others.extend(question.battery_c.map(charge));
    others.push(format!("switching efficiency {}", trimmed(question.switching(), "1")));
    page.paragraph(2, "", &others.join(", "));
    let assumed = assumed(question).join(", ").replace('_', " ");
    if !assumed.is_empty() {
        page.paragraph(2, "assumed, not given: ", &assumed);
    }
}

/// A row for each quantity, a column for each input.
fn write_by_input(page: &mut Page, question: &Question) {
    let inputs = question.inputs();
    let mean_a = question.mean_a();
    let head = |(which, input_v): &(&str, f64)| format!("{which} {}", trimmed(*input_v, "V"));
    let mut rows = vec![("input".to_owned(), inputs.iter().map(head).collect::<Vec<_>>())];
    let mut row = |name: String, value: &dyn Fn(f64) -> f64, unit: &str| {
        let cell = |(_, input_v): &(&str, f64)| match unit {
            "°C" => trimmed((value(*input_v) * 10.0).round() / 10.0, unit),
            _ => engineering(value(*input_v), unit, DIGITS),
        };
        rows.push((name, inputs.iter().map(cell).collect()));
    };
    row("headroom".to_owned(), &|v| v - question.output_v, "V");
    row("efficiency".to_owned(), &|v| question.efficiency(v, mean_a), "1");
    row("its ceiling, output/input".to_owned(), &|v| question.output_v / v, "1");
    let ampere = |value: f64| trimmed(value, "A");
    let mut loads = vec![(format!("load {}", ampere(question.peak_a())), question.peak_a())];
    if question.longest().is_some() {
        loads.insert(0, (format!("mean load {}", ampere(mean_a)), mean_a));
    }
    for (load, load_a) in &loads {
        row(format!("dissipation, {load}"), &|v| question.dissipation_w(v, *load_a), "W");
    }
    if question.theta_k_per_w.is_some() {
        for (load, load_a) in &loads {
            let junction = |v: f64| {
                question.junction_c(question.dissipation_w(v, *load_a)).unwrap_or(f64::NAN)
            };
            row(format!("junction, {load}"), &junction, "°C");
        }
    }
    page.table(&rows);
}

fn write_figures(page: &mut Page, figures: &[Figure]) {
    let listed = figures.iter().filter(|f| LISTED.contains(&f.name.as_str()));
    let rows: Vec<(String, String, &str)> = listed
        .map(|f| {
            let value = match f.unit {
                "K/W" => thermal(f.value),
                "°C" => trimmed((f.value * 10.0).round() / 10.0, f.unit),
                "s" => duration(f.value),
                unit => engineering(f.value, unit, DIGITS),
            };
            (f.name.replace('_', " "), value, f.condition.as_str())
        })
        .collect();
    let longest = |of: &dyn Fn(&(String, String, &str)) -> usize| rows.iter().map(of).max();
    let name = longest(&|r| r.0.chars().count()).unwrap_or(0);
    let value = longest(&|r| r.1.chars().count()).unwrap_or(0);
    for (what, figure, condition) in &rows {
        let lead = format!("{what:name$}  {figure:>value$}  ");
        page.hanging(2, &lead, condition);
    }
}

fn thermal(value: f64) -> String {
    format!("{} K/W", crate::quantity::trimmed(value, "", DIGITS))
}

/// Lines as they grow.
struct Page {
    text: String,
    width: usize,
}

impl Page {
    /// A text after `lead`; further lines start two deeper than the first.
    fn paragraph(&mut self, indent: usize, lead: &str, text: &str) {
        let room = self.width.saturating_sub(indent + 2);
        self.lines(indent, indent + 2, &wrap(&format!("{lead}{text}"), room));
    }

    /// A text after `lead`; further lines start under its beginning.
    fn hanging(&mut self, indent: usize, lead: &str, text: &str) {
        let deeper = indent + lead.chars().count();
        let mut lines = wrap(text, self.width.saturating_sub(deeper));
        if let Some(first) = lines.first_mut() {
            first.insert_str(0, lead);
        }
        self.lines(indent, deeper, &lines);
    }

    fn lines(&mut self, first: usize, others: usize, lines: &[String]) {
        for (k, line) in lines.iter().enumerate() {
            let indent = if k == 0 { first } else { others };
            let _ = writeln!(self.text, "{:indent$}{line}", "");
        }
    }

    fn blank(&mut self) {
        self.text.push('\n');
    }

    /// Names to the left, cells to the right edge of their columns.
    fn table(&mut self, rows: &[(String, Vec<String>)]) {
        let name = rows.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0);
        let columns = rows.iter().map(|(_, cells)| cells.len()).max().unwrap_or(0);
        let widest = |k: usize| {
            rows.iter().filter_map(|(_, c)| c.get(k)).map(|c| c.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..columns).map(widest).collect();
        for (title, cells) in rows {
            let mut line = format!("  {title:name$}");
            for (cell, width) in cells.iter().zip(&widths) {
                let _ = write!(line, "  {cell:>width$}");
            }
            self.text.push_str(line.trim_end());
            self.text.push('\n');
        }
    }
}

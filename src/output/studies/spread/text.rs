//! A spread for a terminal.

use super::Told;
use super::json::sort_word;
use super::words::{
    command, contributors_words, drawn_words, label, percent, signed, value, yield_words,
};
use crate::measure::Measurement;
use crate::output::number::{difference, engineering};
use crate::output::printable;
use crate::output::text::{Page, plain_table, write_rows};
use crate::study::Sheet;
use crate::study::spell::set_arguments;
use crate::study::spread::{EXPLAINS, Law, StaticBudget, TestSpread, fails};
use std::fmt::Write as _;

/// The whole text.
pub(super) fn text(told: &Told<'_>, width: usize, files: &[String], cautions: &[String]) -> String {
    let mut page = Page::new(width);
    let spread = told.spread;
    page.paragraph(0, "", &told.plan.circuit.title);
    page.paragraph(0, "", told.file);
    page.blank();
    head(&mut page, told);
    for test in &spread.tests {
        if let Some(sheet) = told.sheet(test.test) {
            page.blank();
            write_test(&mut page, told, test, sheet);
        }
    }
    budgets(&mut page, told);
    page.blank();
    for caution in cautions {
        page.paragraph(0, "", &format!("caution: {caution}"));
    }
    page.paragraph(0, "", &format!("written: {}", files.join(", ")));
    page.blank();
    page.paragraph(0, "", &format!("whole file: {}", yield_words(spread.share)));
    page.paragraph(0, "", &format!("verdict: {}", spread.verdict(told.runner).word()));
    page.paragraph(0, "", "calculated, not measured");
    page.text
}

fn head(page: &mut Page, told: &Told<'_>) {
    let spread = told.spread;
    let asked = &spread.asked;
    let tests = match spread.tests.len() {
        1 => "one test".to_owned(),
        several => format!("{several} tests"),
    };
    page.paragraph(
        0,
        "",
        &format!(
            "{} runs of {} drawn from seed {}, each test with the same draws{}",
            asked.runs,
            tests,
            asked.seed,
            if asked.quick { "; extreme values not searched (--quick)" } else { "" }
        ),
    );
    let list = |environment: bool| {
        let drawn = spread.drawn.iter().filter(|d| d.nominal.is_none() == environment);
        drawn.map(drawn_words).collect::<Vec<_>>().join("; ")
    };
    for (what, environment) in
        [("environment, uniform: ", true), ("tolerances, uniform unless said: ", false)]
    {
        let told = list(environment);
        if !told.is_empty() {
            page.paragraph(2, "", &format!("{what}{told}"));
        }
    }
    if let Some(models) = &told.runner.models {
        let words = models.described();
        let text = format!(
            "{words}: each run draws one, each as likely, \
             so that a yield mixes them in evenly; the worst vertices, which were searched with the \
             best one, were tried with all"
        );
        page.paragraph(2, "", &text);
    }
    if !spread.fixed.is_empty() {
        page.paragraph(2, "", &format!("in every run: {}", set_arguments(&spread.fixed)));
    }
    let idle = told.idle();
    if !idle.is_empty() {
        page.paragraph(
            2,
            "",
            &format!("left out, as nothing is to be judged: {}", idle.join(", ")),
        );
    }
    page.paragraph(
        2,
        "",
        "what a test sets itself stays; a run fails when a requirement that counts is missed, \
         cannot be evaluated, or the run cannot be solved",
    );
}

fn write_test(page: &mut Page, told: &Told<'_>, test: &TestSpread, sheet: &Sheet) {
    let outcome = &sheet.outcome;
    let verdict = test.verdict(sheet).word();
    page.paragraph(0, "", &format!("{} ({}): {verdict}", outcome.name, outcome.kind.word()));
    page.paragraph(2, "", &yield_words(test.share));
    of_models(page, test);
    if test.share.failing == 0 && fails(test.verdict(sheet)) {
        page.paragraph(2, "", "no drawn run fails, but a vertex of the limits does: see the worst");
    }
    for (why, runs) in &test.unsolved {
        page.paragraph(2, "", &format!("{runs} runs could not be solved: {why}"));
    }
    rows(page, test, sheet);
    worst(page, told, test, sheet);
    between_models(page, test, sheet);
    let told_of: Vec<(usize, String)> = (0..sheet.rows.len())
        .filter_map(|k| {
            let found = test.contributors.get(k)?.as_ref()?;
            // The distance to the nearer end of a window bends where the other end comes nearer.
            let bends = sheet.rows[k].name.ends_with("window") && found.explained < EXPLAINS;
            if bends {
                return None;
            }
            Some((k, contributors_words(told.spread, test, found)))
        })
        .collect();
    if !told_of.is_empty() {
        page.paragraph(2, "", "share of the variance (+ rises with it, − falls):");
    }
    let mut known: Vec<String> = Vec::new();
    for (k, words) in told_of {
        let line = format!("{}: {words}", label(&sheet.rows[k]));
        if !known.contains(&line) {
            page.paragraph(4, "", &line);
            known.push(line);
        }
    }
}

/// The yields of single models, from the worst to the best.
fn of_models(page: &mut Page, test: &TestSpread) {
    let Some(worst) = test.worst_model() else { return };
    let drawn = test.models.iter().filter(|model| model.share.of > 0);
    let best = drawn.map(|model| model.share.holding()).fold(0.0, f64::max);
    let text = if worst.share.holding() == best {
        format!("with each model alone {}", percent(best))
    } else {
        format!(
            "with one model alone from {} to {}; worst with `{}`: {}",
            percent(worst.share.holding()),
            percent(best),
            worst.name,
            yield_words(worst.share)
        )
    };
    page.paragraph(2, "", &text);
}

/// What of the variance lies between the models.
fn between_models(page: &mut Page, test: &TestSpread, sheet: &Sheet) {
    let each = sheet.rows.iter().zip(&test.between_models);
    let told = each.filter_map(|(row, between)| Some((label(row), (*between)?)));
    let mut words: Vec<String> = Vec::new();
    for (label, between) in told {
        let text = format!("{label} {:.0} %", 100.0 * between);
        if !words.contains(&text) {
            words.push(text);
        }
    }
    if !words.is_empty() {
        let words = words.join(", ");
        page.paragraph(2, "", &format!("of the variance lies between the models: {words}"));
    }
}

fn rows(page: &mut Page, test: &TestSpread, sheet: &Sheet) {
    let heads =
        ["measurement", "limit", "nominal", "mean", "σ", "0.135 %", "99.865 %", "fail", "yield"];
    let mut table = plain_table(page.width, heads);
    for (row, found) in sheet.rows.iter().zip(&test.rows) {
        let figures = found.figures.as_ref();
        let of = |k: usize| value(figures.map(|f| f.percentiles[k]), row.unit);
        let deviation = figures.map(|f| difference(f.deviation, row.unit, 3));
        let advisory = if row.advisory { " (advisory)" } else { "" };
        let cells = [
            format!("{}{advisory}", label(row)),
            row.limit.clone().unwrap_or_default(),
            value(row.value, row.unit),
            value(figures.map(|f| f.mean), row.unit),
            deviation.unwrap_or_else(|| "–".to_owned()),
            of(0),
            of(4),
            found.share.failing.to_string(),
            percent(found.share.holding()),
        ];
        table.add_row(cells.iter().map(|cell| printable(cell)));
    }
    write_rows(page, &mut table, &[2, 3, 4, 5, 6, 7, 8]);
    for (row, found) in sheet.rows.iter().zip(&test.rows) {
        for (why, runs) in found.reasons.iter().take(3) {
            page.paragraph(4, "", &format!("{}: {runs} runs: {why}", label(row)));
        }
    }
}

/// The worst vertex and the worst run of each row; what is to be pasted stands below, each once.
fn worst(page: &mut Page, told: &Told<'_>, test: &TestSpread, sheet: &Sheet) {
    let mut commands: Vec<String> = Vec::new();
    let mut mark = |changes: &[crate::circuit::Change]| {
        let command = command(told, test.test, changes);
        let at = commands.iter().position(|known| *known == command).unwrap_or_else(|| {
            commands.push(command);
            commands.len() - 1
        });
        format!("[{}]", at + 1)
    };
    let model = |changes: &[crate::circuit::Change]| {
        let name = told.runner.models.as_ref().and_then(|models| models.named_by(changes));
        name.map_or_else(String::new, |name| format!(" with model `{name}`"))
    };
    let normal = told.spread.drawn.iter().any(|d| d.law == Law::Normal);
    page.paragraph(2, "", "worst:");
    for (k, row) in sheet.rows.iter().enumerate() {
        let told_of = |line: &crate::study::Line| line_words(line, row);
        let mut parts = Vec::new();
        if let Some(extreme) = test.extremes.get(k) {
            let (line, changes) = (told_of(&extreme.line), extreme.changes.as_slice());
            parts.push(format!("vertex {line}{} {}", model(changes), mark(changes)));
        }
        if let Some(run) = test.rows.get(k).and_then(|row| row.worst.as_ref()) {
            let changes = test.draws.get(run.run - 1).map(|d| d.changes.as_slice());
            let changes = changes.unwrap_or_default();
            parts.push(format!(
                "run {} of seed {} {}{} {}",
                run.run,
                told.spread.asked.seed,
                told_of(&run.line),
                model(changes),
                mark(changes)
            ));
        }
        let worse = match (test.extremes.is_empty(), test.worst_of_row(k)) {
            (false, Some((Some(_), ..))) if normal => {
                "; the run is worse: normal draws are not cut off at the limits, or the worst lies \
                 inside them"
            }
            (false, Some((Some(_), ..))) => {
                "; the run is worse: the worst lies inside the limits, or the search missed it"
            }
            (false, Some((None, ..))) => "; the vertex is worse",
            _ => "",
        };
        page.paragraph(4, "", &format!("{}: {}{worse}", label(row), parts.join(", ")));
    }
    for (k, command) in commands.iter().enumerate() {
        // Not wrapped: it is to be pasted.
        let _ = writeln!(page.text, "    [{}] {}", k + 1, printable(command));
    }
}

fn line_words(line: &crate::study::Line, row: &Measurement) -> String {
    let figure = value(line.value, row.unit);
    let why = line.reason.as_ref().filter(|_| line.value.is_none());
    let why = why.map(|why| format!(" ({why})")).unwrap_or_default();
    format!("{figure}{why}, {}", line.verdict.word())
}

/// The budget that leaves least, in full; of the others what they come to.
fn budgets(page: &mut Page, told: &Told<'_>) {
    let all: Vec<(&TestSpread, &StaticBudget)> =
        told.spread.tests.iter().filter_map(|t| Some((t, t.budget.as_ref()?))).collect();
    // What is left when the worst droop and overshoot are taken off.
    let spare = |(test, budget): &(&TestSpread, &StaticBudget)| {
        let less = |left: Option<f64>, name: &str| {
            left.map_or(f64::INFINITY, |v| v - excursion(told, test, name).unwrap_or(0.0))
        };
        let below = less(budget.extreme.left_below_v, "droop");
        below.min(less(budget.extreme.left_above_v, "overshoot"))
    };
    let tightest = all.iter().min_by(|a, b| spare(a).total_cmp(&spare(b)));
    let Some((test, budget)) = tightest else { return };
    page.blank();
    let name = |test: &TestSpread| told.plan.tests.get(test.test).map_or("", |t| t.name.as_str());
    page.paragraph(
        0,
        "",
        &format!("static error budget: {} of {}, the tightest", budget.level, name(test)),
    );
    one_budget(page, told, test, budget);
    for (other, budget) in all.iter().filter(|(other, _)| other.test != test.test) {
        let [low, high] = budget.extreme.settled_v;
        let words = format!(
            "{}: settles within {} to {} by extreme values",
            name(other),
            engineering(low, "V", 4),
            engineering(high, "V", 4)
        );
        page.paragraph(2, "", &words);
    }
}

fn one_budget(page: &mut Page, told: &Told<'_>, test: &TestSpread, budget: &StaticBudget) {
    let share = |v: f64| {
        let of = budget.nominal_v.filter(|nominal| *nominal != 0.0);
        of.map_or_else(String::new, |nominal| format!("{:+.3} %", 100.0 * v / nominal))
    };
    let mut table =
        plain_table(page.width, ["cause", "sort", "at its low end", "", "at its high end", ""]);
    for line in &budget.lines {
        let one = line.at_low_v == line.at_high_v;
        let high = |text: String| if one { String::new() } else { text };
        table.add_row([
            printable(&line.name),
            sort_word(line.sort).to_owned(),
            signed(line.at_low_v, "V"),
            share(line.at_low_v),
            high(signed(line.at_high_v, "V")),
            high(share(line.at_high_v)),
        ]);
    }
    write_rows(page, &mut table, &[2, 3, 4, 5]);
    if !budget.unseen.is_empty() {
        page.paragraph(2, "", &format!("below a millionth: {}", budget.unseen.join(", ")));
    }
    if !budget.unsolved.is_empty() {
        page.paragraph(2, "", &format!("could not be solved: {}", budget.unsolved.join(", ")));
    }
    let window = budget.window_v.map_or_else(String::new, |[low, high]| {
        format!("; window {} to {}", engineering(low, "V", 4), engineering(high, "V", 4))
    });
    page.paragraph(2, "", &format!("nominally {}{window}", engineering(budget.level_v, "V", 5)));
    for (way, reach) in
        [("extreme values", &budget.extreme), ("root of sum of squares", &budget.root_sum_square)]
    {
        let [low, high] = reach.settled_v;
        let mut words = format!(
            "{way}: settles within {} to {}",
            engineering(low, "V", 5),
            engineering(high, "V", 5)
        );
        for (name, left) in [("droop", reach.left_below_v), ("overshoot", reach.left_above_v)] {
            let Some(left) = left else { continue };
            let _ = write!(words, "; leaves {} for {name}", difference(left, "V", 3));
            if let Some(worst) = excursion(told, test, name) {
                let _ = write!(words, " (worst {})", difference(worst, "V", 3));
            }
        }
        page.paragraph(2, "", &words);
    }
}

/// The largest droop or overshoot of a test over vertices and runs; nominal where it is not judged.
fn excursion(told: &Told<'_>, test: &TestSpread, name: &str) -> Option<f64> {
    let sheet = told.sheet(test.test)?;
    let Some(row) = sheet.rows.iter().position(|row| row.name == name) else {
        return sheet.outcome.measurements.iter().find(|m| m.name == name)?.value;
    };
    let run = test.rows.get(row).and_then(|r| Some(r.figures.as_ref()?.maximum));
    let vertex = test.extremes.get(row).and_then(|e| e.line.value);
    run.into_iter().chain(vertex).reduce(f64::max)
}

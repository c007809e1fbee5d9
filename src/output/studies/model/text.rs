//! The models of a regulator for a terminal.

use super::{Report, words};
use crate::measure::Verdict;
use crate::output::number::{counted, engineering};
use crate::output::text::{Page, plain_table, write_rows};
use crate::study::model::{Line, Modelled, Origin, Rests};
use crate::study::spell::quoted;

pub(super) fn text(
    report: &Report<'_>,
    files: &[String],
    cautions: &[String],
    width: usize,
) -> String {
    let modelled = report.modelled;
    let mut page = Page::new(width);
    page.paragraph(0, "", report.title);
    page.paragraph(0, "", report.file);
    page.blank();
    page.paragraph(0, "", &format!("model of {} from its datasheet", modelled.regulator));
    points(&mut page, modelled);
    contradictions(&mut page, modelled);
    values(&mut page, modelled);
    freedom(&mut page, modelled);
    consequences(&mut page, modelled);
    work(&mut page, report);
    page.blank();
    cautions.iter().for_each(|caution| page.paragraph(0, "caution: ", caution));
    if let Some(written) = report.written {
        let how = "put it into `include` of a circuit file and name it by `model = …`";
        page.paragraph(0, "model: ", &format!("{written}; {how}"));
    }
    page.paragraph(0, "written: ", &files.join(", "));
    page.blank();
    page.paragraph(0, "", &conclusion(modelled));
    page.paragraph(0, "", "calculated, not measured");
    page.text
}

fn points(page: &mut Page, modelled: &Modelled) {
    if modelled.points.is_empty() {
        return;
    }
    page.blank();
    page.paragraph(
        0,
        "",
        "points: what the datasheet says and what the model gives; off is counted in what the point may \
         differ, beyond 1 it is missed",
    );
    let heads = ["point", "condition", "asked", "got", "off", "within"];
    let mut table = plain_table(page.width, heads);
    for told in &modelled.points {
        let point = &told.point;
        let (list, row) = point.row;
        let name = if row == 0 {
            list.to_owned()
        } else {
            format!("{} ({list} {row})", point.measurement)
        };
        let (got, off) = match &told.got {
            Ok(got) => (words::figure(*got, point.unit), format!("{:+.2}", told.residual)),
            Err(_) => ("–".to_owned(), "missed".to_owned()),
        };
        let asked = words::figure(point.asked, point.unit);
        let within = words::within(point.within);
        table.add_row([name, point.condition.clone(), asked, got, off, within]);
    }
    write_rows(page, &mut table, &[2, 3, 4, 5]);
    for told in &modelled.points {
        if let Err(why) = &told.got {
            page.paragraph(2, &format!("{}: ", told.point.words()), why);
        }
    }
}

fn contradictions(page: &mut Page, modelled: &Modelled) {
    let mut told = Vec::new();
    if let Some(it) = &modelled.contradiction {
        told.extend(words::contradiction(modelled, it));
    }
    told.extend(modelled.range_ends.iter().filter_map(words::range_end));
    if !told.is_empty() {
        page.blank();
        page.paragraph(0, "", "what does not go together");
        told.iter().for_each(|line| page.paragraph(2, "", line));
    }
}

fn values(page: &mut Page, modelled: &Modelled) {
    page.blank();
    let all = modelled.ensemble.models.len();
    page.paragraph(
        0,
        "",
        &format!(
            "values inside, with the lowest and the highest of all models found that agree with the \
             datasheet equally well, of which {all} are handed on (* = as far as one can believe: twice \
             its spread from where it was expected)"
        ),
    );
    let heads = ["value", "expected", "model", "from … to", "comes from"];
    let mut table = plain_table(page.width, heads);
    for value in &modelled.values {
        let told = |v: f64| words::figure(v, value.knob.dimension);
        table.add_row([
            value.name.clone(),
            told(value.expected),
            told(value.value),
            words::interval(value),
            words::origin(value.origin).to_owned(),
        ]);
    }
    write_rows(page, &mut table, &[1, 2]);
    let alone: Vec<String> = modelled
        .values
        .iter()
        .filter(|v| v.origin == Origin::Alone)
        .map(|v| format!("`{}`", v.name))
        .collect();
    if !alone.is_empty() {
        let what = "the points narrow them by less than a tenth of what they may differ";
        page.paragraph(2, "", &format!("{} {what}", alone.join(", ")));
    }
    for value in modelled.values.iter().filter(|v| v.of_bench) {
        let why = "neither row nor sheet says what was connected, so it was found with the fit; give \
                   `test_capacitor` or `test_esr` where it is known";
        page.paragraph(2, &format!("`{}`: ", value.name), why);
    }
    for assumed in &modelled.assumed {
        page.paragraph(2, "assumed: ", assumed);
    }
    for tie in &modelled.ties {
        page.paragraph(2, "", &tie.words());
    }
}

fn freedom(page: &mut Page, modelled: &Modelled) {
    let open = words::undetermined(modelled);
    page.blank();
    if open.is_empty() {
        page.paragraph(0, "", "the datasheet leaves no value open over more than a factor of ten");
        return;
    }
    page.paragraph(0, "", "what the datasheet leaves undetermined");
    for value in open {
        page.paragraph(
            2,
            "",
            &format!("`{}`, {}: {}", value.name, words::interval(value), value.text),
        );
    }
}

fn consequences(page: &mut Page, modelled: &Modelled) {
    if modelled.lines.is_empty() {
        return;
    }
    page.blank();
    page.paragraph(
        0,
        "",
        "tests over all these models: the file's own, and on the bench what it has none for",
    );
    let heads = ["test", "measurement", "limit", "model", "lowest", "highest", "rests on"];
    let mut table = plain_table(page.width, heads);
    for line in &modelled.lines {
        let told =
            |v: Option<f64>| v.map_or_else(|| "–".to_owned(), |v| engineering(v, line.unit, 4));
        let name = match line.settings.as_str() {
            "" => line.measurement.clone(),
            settings => format!("{} ({settings})", line.measurement),
        };
        table.add_row([
            line.test.clone(),
            name,
            line.limit.clone().unwrap_or_else(|| "–".to_owned()),
            told(line.best),
            told(line.range.map(|r| r[0])),
            told(line.range.map(|r| r[1])),
            words::rests(line).to_owned(),
        ]);
    }
    write_rows(page, &mut table, &[2, 3, 4, 5]);
    modelled.lines.iter().for_each(|line| notes(page, line));
}

fn notes(page: &mut Page, line: &Line) {
    let what = format!("{} of {}: ", line.measurement, line.test);
    if line.rests == Rests::OnAssumed {
        let fails = line.verdicts.iter().filter(|v| !holds(**v)).count();
        let with = match &line.goes_with {
            Some((name, correlation)) => {
                format!("; it goes with `{name}` most (correlation {correlation:.2})")
            }
            None => String::new(),
        };
        let told = format!(
            "holds for {} of {} models, so its verdict rests on the assumed inside{with}",
            line.verdicts.len() - fails,
            line.verdicts.len()
        );
        page.paragraph(2, &what, &told);
    }
    if let Some((count, why)) = &line.without {
        page.paragraph(2, &what, &format!("no number for {}: {why}", counted(*count, "model")));
    }
}

fn holds(verdict: Verdict) -> bool {
    matches!(verdict, Verdict::Pass | Verdict::Marginal)
}

fn work(page: &mut Page, report: &Report<'_>) {
    let modelled = report.modelled;
    page.blank();
    let told = format!(
        "root mean square off {:.2}; fit {}; {} of {} starts came to a model as good; seed {}; {} runs of \
         the bench",
        modelled.misfit,
        modelled.ended.words(),
        modelled.agreed,
        modelled.starts,
        report.seed,
        modelled.runs
    );
    page.paragraph(0, "work: ", &told);
    let ensemble = quoted(&format!("{}/models.json", report.folder));
    let bench = quoted(&format!("{}/bench.toml", report.folder));
    page.paragraph(
        0,
        "",
        &format!("all models in a run: railstep run {} --models {ensemble}", quoted(report.file)),
    );
    page.paragraph(0, "", &format!("the points again: railstep run {bench}"));
}

/// What there is to say in one sentence.
fn conclusion(modelled: &Modelled) -> String {
    let points = words::outcome(modelled);
    let ends = modelled.range_ends.iter().filter(|end| end.contradicts()).count();
    let points = match ends {
        0 => points,
        _ => format!("{points}, and they contradict the capacitors that it recommends"),
    };
    let count = |rests| modelled.lines.iter().filter(|l| l.rests == rests).count();
    match (count(Rests::OnSheet), count(Rests::OnAssumed)) {
        // Nothing rests on a datasheet that the models do not behave as.
        _ if count(Rests::OnModels) > 0 => points,
        (0, 0) => points,
        (1, 0) => format!("{points}; the one judged line rests on the datasheet"),
        (sheet, 0) => format!("{points}; all {sheet} judged lines rest on the datasheet"),
        (sheet, assumed) => format!(
            "{points}; of the judged lines {sheet} rest on the datasheet, {assumed} on the assumed inside"
        ),
    }
}

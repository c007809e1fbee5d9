//! The text of `tune` for a terminal.

use super::{DIGITS, View, percent};
use crate::output::number::{counted, engineering};
use crate::output::printable;
use crate::output::text::{Page, plain_table, write_rows};
use crate::quantity::trimmed;
use crate::study::spell::{quantity_text, set_arguments};
use crate::study::tune::{Bound, Fate, NotCured, Region, SideEnd, Stage, Standing, WhyNot};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Of the ranking and of the rejected, in the text.
const MOST_ROWS: usize = 12;

pub(super) fn text(view: &View<'_>, width: usize) -> String {
    let mut page = Page::new(width);
    page.paragraph(0, "", &view.plan.circuit.title);
    page.paragraph(0, "", view.file);
    page.blank();
    asked(&mut page, view);
    not_cured(&mut page, view);
    ranking(&mut page, view);
    rejected(&mut page, view);
    choice(&mut page, view);
    for region in &view.tuning.regions {
        page.blank();
        write_region(&mut page, view, region);
    }
    page.blank();
    page.paragraph(0, "", "cautions");
    for caution in view.cautions() {
        page.paragraph(2, "", &caution);
    }
    page.blank();
    page.paragraph(0, "", &format!("search: {}", view.ended()));
    page.paragraph(0, "", &verdict(view));
    page.text
}

fn asked(page: &mut Page, view: &View<'_>) {
    page.paragraph(0, "", "tuned");
    for t in &view.tuning.tuned {
        let ends = t.choices.first().zip(t.choices.last());
        let ends = ends.map_or_else(String::new, |(a, b)| {
            format!("{} to {}", quantity_text(a.1, t.dimension), quantity_text(b.1, t.dimension))
        });
        let now = t
            .present
            .map_or_else(String::new, |v| format!("; now {}", quantity_text(v, t.dimension)));
        let scatter = t.tolerance.map_or_else(String::new, |[minus, plus]| {
            format!("; -{} +{} of it", percent(minus), percent(plus))
        });
        page.paragraph(
            2,
            "",
            &format!(
                "{}: {}, {ends}, {}{now}{scatter}",
                t.path,
                counted(t.choices.len(), "value"),
                t.from
            ),
        );
    }
    page.blank();
    page.paragraph(0, "", "held against");
    let names = |tests: &[usize]| {
        tests.iter().map(|&t| format!("`{}`", view.test_name(t))).collect::<Vec<_>>().join(", ")
    };
    page.paragraph(2, "", &names(&view.scope.moved));
    if view.tuning.nominal {
        page.paragraph(2, "", "at nominal values only; corners and tolerances were left out");
    } else {
        page.paragraph(
            2,
            "",
            "at nominal values, at every corner of `[corners]`, and at the worst limits of all \
             tolerances; that of what is tuned moves along",
        );
    }
    if !view.scope.at_rest.is_empty() {
        let names = names(&view.scope.at_rest);
        page.paragraph(2, "", &format!("not moved by what is tuned, judged once: {names}"));
    }
    let mut paths: Vec<&str> = view.scope.what_if.iter().map(|(_, path)| path.as_str()).collect();
    paths.sort_unstable();
    paths.dedup();
    for path in paths {
        let of_path = view.scope.what_if.iter().filter(|(_, p)| p == path);
        let tests: Vec<usize> = of_path.map(|(test, _)| *test).collect();
        let names = names(&tests);
        page.paragraph(2, "", &format!("left out, as they set `{path}` themselves: {names}"));
    }
}

fn not_cured(page: &mut Page, view: &View<'_>) {
    if view.tuning.not_cured.is_empty() {
        return;
    }
    page.blank();
    page.paragraph(0, "", "not cured by any of these values, and left out of the ranking");
    let mut left: Vec<&NotCured> = view.tuning.not_cured.iter().collect();
    while let Some(first) = left.first().copied() {
        let alike = |n: &&NotCured| {
            let same_why = std::mem::discriminant(&n.why) == std::mem::discriminant(&first.why);
            let same = (view.name(n.row), view.limit(n.row), n.stage);
            same_why && same == (view.name(first.row), view.limit(first.row), first.stage)
        };
        let (mut group, rest): (Vec<&NotCured>, Vec<&NotCured>) = left.into_iter().partition(alike);
        left = rest;
        group.sort_by(|a, b| a.best.score().total_cmp(&b.best.score()));
        write_group(page, view, &group);
    }
    let names = left_out_with_them(view);
    if !names.is_empty() && view.tuning.choice.is_some() {
        let names = names.join(", ");
        page.paragraph(2, "", &format!("with them all other requirements of {names} are left out"));
    }
}

/// Tests that nobody passes at nominal values and of which more was asked: none of it counts in the ranking.
fn left_out_with_them(view: &View<'_>) -> Vec<String> {
    let whole = |n: &&NotCured| n.why != WhyNot::NotMoved && n.stage == Stage::Nominal;
    let tests: BTreeSet<usize> =
        view.tuning.not_cured.iter().filter(whole).map(|n| n.row.test).collect();
    let more = |test: &usize| {
        let asked = view.tuning.rows.iter().filter(|row| row.test == *test).count();
        asked > view.tuning.not_cured.iter().filter(|n| n.row.test == *test).count()
    };
    tests.into_iter().filter(more).map(|test| format!("`{}`", view.test_name(test))).collect()
}

/// Requirements of the same name and limit, the one that is farthest away first.
fn write_group(page: &mut Page, view: &View<'_>, group: &[&NotCured]) {
    let Some((first, others)) = group.split_first() else { return };
    let short = |n: &NotCured| n.best.line.slack.filter(|s| *s < 0.0).map(percent);
    let reached = view.reached(first.row, &first.best);
    let margin = short(first).map_or_else(String::new, |m| format!(", margin {m}"));
    let by = first.by.and_then(|k| view.standing(k));
    let who = by.map_or_else(String::new, |s| format!(", with {}", view.choice_words(s)));
    let lead = if first.why == WhyNot::NotMoved { "it is" } else { "best" };
    page.paragraph(2, "", &format!("{lead} {reached}{margin}{who}: {}", View::why_not(first)));
    let arguments = match by {
        Some(s) => View::arguments(s, &first.best.over),
        None => set_arguments(&first.best.over),
    };
    if !arguments.is_empty() {
        page.paragraph(4, "", &format!("there: {arguments}"));
    }
    let also = others.iter().map(|n| {
        let margin = short(n).map_or_else(String::new, |m| format!(" ({m})"));
        format!("`{}`{margin}", view.test_name(n.row.test))
    });
    let also = also.collect::<Vec<_>>().join(", ");
    if !also.is_empty() {
        page.paragraph(4, "", &format!("likewise of {also}"));
    }
}

fn ranking(page: &mut Page, view: &View<'_>) {
    page.blank();
    page.paragraph(0, "", "ranking");
    let tuning = view.tuning;
    if tuning.ranking.is_empty() {
        page.paragraph(2, "", "no candidate meets all requirements that are left");
        return;
    }
    page.paragraph(2, "", &format!("rule: {}", view.rule()));
    let mut head = vec!["rank"];
    head.extend(tuning.tuned.iter().map(|t| t.path.as_str()));
    head.extend(["parts", "size", "margin", "nearest limit", "rejected next", "worst case"]);
    let mut rows = Vec::new();
    for (place, &k) in tuning.ranking.iter().enumerate() {
        let Some(s) = view.standing(k) else { continue };
        if place < MOST_ROWS || s.candidate.is_present {
            rows.push(ranked(view, place, s));
        }
    }
    let right = [0, tuning.tuned.len() + 1, tuning.tuned.len() + 2, tuning.tuned.len() + 3];
    let more = tuning.ranking.len().saturating_sub(rows.len());
    write_table(page, &head, rows, &right);
    if more > 0 {
        page.paragraph(4, "", &format!("({more} more in tune.csv)"));
    }
    if let Some(k) = tuning.present {
        page.paragraph(2, "", &place_of_present(view, k));
    }
}

fn ranked(view: &View<'_>, place: usize, s: &Standing) -> Vec<String> {
    let mark = if s.candidate.is_present { " now" } else { "" };
    let mut cells = vec![format!("{}{mark}", place + 1)];
    cells.extend(view.values(s));
    let count = s.candidate.count;
    cells.push(if count > 0.0 { trimmed(count, "", 6) } else { "-".to_owned() });
    cells.push(View::size(s));
    cells.push(percent(s.margin()));
    cells.push(s.nearest.as_ref().map_or_else(String::new, |(row, _)| {
        let row = view.row(*row);
        format!("{} of {}", view.name(row), view.test_name(row.test))
    }));
    cells.push(edge(view, s));
    cells.push(s.searched.word().to_owned());
    cells
}

/// `c_out ×0.68`
fn edge(view: &View<'_>, s: &Standing) -> String {
    let told = s.edge.and_then(|(k, ratio)| {
        Some(format!("{} ×{}", view.tuning.tuned.get(k)?.path, trimmed(ratio, "", 3)))
    });
    told.unwrap_or_else(|| "none".to_owned())
}

fn place_of_present(view: &View<'_>, k: usize) -> String {
    let tuning = view.tuning;
    let Some(s) = view.standing(k) else { return String::new() };
    let words = view.choice_words(s);
    match &s.fate {
        Fate::Misses { row, spot } => format!(
            "the design as it stands ({words}) has no place: it misses {} {}",
            view.reached(view.row(*row), spot),
            spot.stage.words()
        ),
        Fate::Meets => {
            let place = tuning.ranking.iter().position(|&r| r == k).map_or(0, |p| p + 1);
            let of = tuning.ranking.len();
            format!("the design as it stands ({words}) is number {place} of {of}")
        }
    }
}

fn rejected(page: &mut Page, view: &View<'_>) {
    let mut all: Vec<&Standing> =
        view.tuning.standings.iter().filter(|s| s.fate != Fate::Meets).collect();
    if all.is_empty() {
        return;
    }
    let score = |s: &Standing| match &s.fate {
        Fate::Misses { spot, .. } => spot.score(),
        Fate::Meets => f64::INFINITY,
    };
    all.sort_by(|a, b| score(b).total_cmp(&score(a)));
    page.blank();
    let (count, shown) = (all.len(), all.len().min(MOST_ROWS));
    let lead = match count - shown {
        0 => format!("rejected: {count}, the nearest first"),
        _ => format!("rejected: {count}, the nearest {shown} of them"),
    };
    page.paragraph(0, "", &lead);
    let mut head: Vec<&str> = view.tuning.tuned.iter().map(|t| t.path.as_str()).collect();
    head.extend(["misses", "value", "limit", "margin", "where"]);
    let rows = all.iter().take(MOST_ROWS).filter_map(|s| {
        let Fate::Misses { row, spot } = &s.fate else { return None };
        let at = view.row(*row);
        let mut cells = view.values(s);
        cells.push(format!("{} of {}", view.name(at), view.test_name(at.test)));
        cells.push(view.value(at, spot));
        cells.push(view.limit(at).to_owned());
        let short = spot.line.slack.filter(|slack| *slack < 0.0);
        cells.push(short.map_or_else(|| "-".to_owned(), percent));
        cells.push(spot.stage.words().to_owned());
        Some(cells)
    });
    let rows = rows.collect();
    write_table(page, &head, rows, &[]);
    if count > shown {
        page.paragraph(4, "", &format!("({} more in tune.csv)", count - shown));
    }
}

fn choice(page: &mut Page, view: &View<'_>) {
    let Some(s) = view.tuning.choice.and_then(|k| view.standing(k)) else { return };
    page.blank();
    page.paragraph(0, "", &format!("choice: {}", view.choice_words(s)));
    page.paragraph(2, "", &format!("as arguments: {}", View::arguments(s, &[])));
    if let Some((row, spot)) = &s.nearest {
        let row = view.row(*row);
        let reached = view.reached(row, spot);
        page.paragraph(
            2,
            "",
            &format!(
                "nearest limit: {reached}, margin {} {}",
                percent(spot.score()),
                spot.stage.words()
            ),
        );
        page.paragraph(
            2,
            "",
            &format!("reproduced by: {}", view.command(row, &View::arguments(s, &spot.over))),
        );
    }
}

/// What stands beside the numbers of a region.
pub(super) fn region_conditions(view: &View<'_>, region: &Region) -> String {
    let mut told =
        "effective values: what bias, temperature and age leave; ESR at high frequency (100 \
                    kHz)"
            .to_owned();
    told.push_str(if view.tuning.nominal {
        ", at nominal values"
    } else {
        ", over the temperatures of the corners, other tolerances at their worst"
    });
    for (test, [c, r]) in &region.raised {
        let name = view.test_name(*test);
        let times = |factor: f64, what: &str| {
            (factor != 1.0).then(|| format!("{what} times {}", trimmed(factor, "", DIGITS)))
        };
        let both = [times(*c, "capacitance"), times(*r, "ESR")];
        let both: Vec<String> = both.into_iter().flatten().collect();
        let _ = write!(told, "; `{name}` takes {} on top", both.join(" and "));
    }
    told
}

fn write_region(page: &mut Page, view: &View<'_>, region: &Region) {
    page.paragraph(0, "", &format!("allowed region of {}", region.part));
    let (c, r) = (&region.capacitance, &region.esr);
    page.paragraph(2, "", &bound("capacitance", "F", c));
    page.paragraph(2, "", &bound("ESR", "Ω", r));
    page.paragraph(2, "", &format!("({})", region_conditions(view, region)));
    for (what, unit, bound) in [("capacitance", "F", c), ("ESR", "Ω", r)] {
        page.paragraph(2, "", &on_the_label(what, unit, bound));
    }
    let sides = [
        ("less capacitance", "F", &c.low, c.reach[0]),
        ("more capacitance", "F", &c.high, c.reach[1]),
        ("less ESR", "Ω", &r.low, r.reach[0]),
        ("more ESR", "Ω", &r.high, r.reach[1]),
    ];
    for (what, unit, end, reach) in sides {
        page.paragraph(2, "", &stop(view, what, unit, end, reach));
    }
    page.paragraph(2, "",
        &if region.is_verified {
            format!(
                "run at its four corners and four mid-sides, {} each (tests at corners and limits of \
                 tolerances): all requirements hold",
                counted(region.places, "time")
            )
        } else {
            "not verified: its corners do not all hold; use the ranking instead".to_owned()
        },
    );
}

fn bound(what: &str, unit: &str, bound: &Bound) -> String {
    let text = |v: f64| engineering(v, unit, DIGITS);
    format!(
        "{what}: {} to {} (the choice has {}; {} and +{} from it)",
        text(bound.low.value),
        text(bound.high.value),
        text(bound.choice),
        percent(bound.low.value / bound.choice - 1.0),
        percent(bound.high.value / bound.choice - 1.0),
    )
}

fn on_the_label(what: &str, unit: &str, bound: &Bound) -> String {
    let keeps = if (bound.of_label - 1.0).abs() > 1e-9 {
        format!(" that comes to {} of its label as this one does", percent(bound.of_label))
    } else {
        String::new()
    };
    match bound.label {
        Some([low, high]) => format!(
            "{what} on the label of a part{keeps}, with this part's tolerance: {} to {}",
            engineering(low, unit, DIGITS),
            engineering(high, unit, DIGITS)
        ),
        None => format!(
            "{what}: this part's tolerance alone is wider than the region; ask for a closer one"
        ),
    }
}

fn stop(view: &View<'_>, what: &str, unit: &str, end: &SideEnd, reach: f64) -> String {
    match end.stopped_by {
        Some(row) => {
            let row = view.row(row);
            let (name, limit, test) = (view.name(row), view.limit(row), view.test_name(row.test));
            format!("{what}: {name} ({limit}) of `{test}` is missed")
        }
        None => {
            let reach = engineering(reach, unit, DIGITS);
            format!("{what}: not bounded within what was looked at, to {reach}")
        }
    }
}

fn verdict(view: &View<'_>) -> String {
    let tuning = view.tuning;
    match (tuning.choice, tuning.not_cured.len()) {
        (Some(_), 0) => "verdict: pass (the choice meets everything that was asked)".to_owned(),
        (Some(_), n) => format!(
            "verdict: fail (none of these values cures {}; the choice meets all that is left)",
            counted(n, "requirement")
        ),
        (None, _) => "verdict: fail (no candidate meets what was asked)".to_owned(),
    }
}

fn write_table(page: &mut Page, head: &[&str], rows: Vec<Vec<String>>, right: &[usize]) {
    let mut table = plain_table(page.width, head.to_vec());
    rows.into_iter().for_each(|row| {
        table.add_row(row.iter().map(|cell| printable(cell)));
    });
    write_rows(page, &mut table, right);
}

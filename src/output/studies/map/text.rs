//! A map for people at a terminal.

use super::words::{
    change, close_place, command, conditions, found, heading, limit, measured, models_words, place,
    range, value, way,
};
use super::{About, FILES, Tally, extremes};
use crate::output::printable;
use crate::output::text::Page;
use crate::study::map::{Along, Kind, Map, Point};
use std::fmt::Write as _;

pub(super) fn text(map: &Map, about: &About<'_>, cautions: &[String]) -> String {
    let mut page = Page::new(about.width);
    page.paragraph(0, "", about.title);
    page.paragraph(0, "", about.file);
    page.blank();
    let limit = limit(map).map(|l| format!(", limit {l}")).unwrap_or_default();
    page.paragraph(0, "", &format!("map of {}{limit}", heading(map)));
    page.paragraph(2, "", &format!("conditions: {}", conditions(map, about)));
    for axis in &map.axes {
        page.paragraph(2, "", &format!("{}: {}", axis.path, range(axis)));
    }
    if let Some(words) = models_words(map) {
        page.paragraph(2, "", &words);
    }
    for note in &map.notes {
        page.paragraph(2, "", note);
    }
    page.blank();
    field(&mut page, map);
    design(&mut page, map);
    page.blank();
    commands(&mut page, map, about);
    page.blank();
    page.paragraph(0, "", &format!("{}: {}", measured(map), map.row.definition));
    for caution in cautions {
        page.paragraph(0, "", &format!("caution: {caution}"));
    }
    page.paragraph(0, "", &format!("written: {}", FILES.join(", ")));
    page.paragraph(0, "", "calculated, not measured");
    page.text
}

/// What was found all over the map.
fn field(page: &mut Page, map: &Map) {
    let tally = Tally::of(map);
    let finer = match (tally.finer, tally.others) {
        (0, others) => format!("{others} further runs"),
        (finer, others) => format!("{finer} runs between them, {others} further ones"),
    };
    let share = 100.0 * tally.holds as f64 / tally.places.max(1) as f64;
    let holds = if map.row.limit_text.is_some() {
        format!("{} of {} places hold ({share:.0} %)", tally.holds, tally.places)
    } else {
        format!("{} places; nothing is asked, so that there is no boundary", tally.places)
    };
    page.paragraph(0, "", &format!("{holds}; {finer} at the boundary and at the present design"));
    if let Some((worst, best)) = extremes(map) {
        let words =
            if map.row.limit_text.is_some() { ["best", "worst"] } else { ["highest", "lowest"] };
        for (word, point) in words.into_iter().zip([best, worst]) {
            page.paragraph(
                2,
                "",
                &format!(
                    "{word}: {} at {}{}",
                    found(map, point),
                    place(map, point),
                    with_model(point)
                ),
            );
        }
    }
    let blind =
        |failed: bool| map.points.iter().filter(move |p| p.value.is_none() && p.failed == failed);
    for (failed, what) in [(false, "have no such number"), (true, "cannot be solved")] {
        if let Some(first) = blind(failed).next() {
            let (count, why) = (blind(failed).count(), found(map, first));
            let at = place(map, first);
            page.paragraph(2, "", &format!("{count} runs {what}; for example, at {at}: {why}"));
        }
    }
}

/// Which model a point is told of, where several were tried.
fn with_model(point: &Point) -> String {
    point.models.as_ref().map_or_else(String::new, |of| {
        format!(" with model `{}` ({} of {} hold)", of.worst, of.passing, of.of)
    })
}

/// The present design and how far it is from the boundary.
fn design(page: &mut Page, map: &Map) {
    let Some(present) = &map.present else { return };
    let point = &map.points[present.point];
    let verdict = if map.row.limit_text.is_none() {
        String::new()
    } else if point.holds {
        point.slack.map_or(", holds".to_owned(), |s| {
            format!(", holds with a margin of {:.1} %", 100.0 * s)
        })
    } else {
        ", misses".to_owned()
    };
    page.blank();
    page.paragraph(
        0,
        "",
        &format!(
            "present design: {}{verdict}; {}{}",
            found(map, point),
            place(map, point),
            with_model(point)
        ),
    );
    tolerances(page, map);
    if map.row.limit_text.is_none() {
        return;
    }
    if !point.place.iter().all(|f| (-1e-9..=1.0 + 1e-9).contains(f)) {
        page.paragraph(2, "", "it lies outside this range: widen it to learn how far the edge is");
        return;
    }
    match &map.nearest {
        None => page.paragraph(0, "", "nearest edge: no edge inside this range"),
        Some(edge) => {
            let [holds, misses] = [edge.holds, edge.misses].map(|k| &map.points[k]);
            let text = format!(
                "nearest edge: {}; still {} at {}, {} at {}",
                way(map, point, edge),
                found(map, holds),
                close_place(map, holds),
                found(map, misses),
                close_place(map, misses),
            );
            page.paragraph(0, "", &text);
        }
    }
    for along in &map.along {
        page.paragraph(2, "", &alone(map, point, along));
    }
}

fn tolerances(page: &mut Page, map: &Map) {
    let Some(present) = map.present.as_ref().filter(|p| !p.corners.is_empty()) else { return };
    let each = map.axes.iter().zip(&present.limits).filter_map(|(axis, limits)| {
        let [low, high] = (*limits)?.map(|v| value(axis, v));
        Some(format!("{} {low} to {high}", axis.path))
    });
    let words = each.collect::<Vec<_>>().join(", ");
    let corners = present.corners.iter().map(|k| &map.points[*k]);
    let worst = corners.min_by(|a, b| {
        let worth = |p: &Point| p.slack.unwrap_or(f64::NEG_INFINITY);
        worth(a).total_cmp(&worth(b))
    });
    let at = worst.filter(|_| map.row.limit_text.is_some());
    let at =
        at.map(|p| format!("; at the worst of its corners, {}: {}", place(map, p), found(map, p)));
    page.paragraph(2, "", &format!("by tolerance {words}{}", at.unwrap_or_default()));
    if present.is_crossed {
        page.paragraph(
            2,
            "",
            "the boundary passes through these tolerances: some boards will miss",
        );
    }
}

fn alone(map: &Map, from: &Point, along: &Along) -> String {
    let axis = &map.axes[along.axis];
    let (path, verb) = (&axis.path, if along.up { "rise" } else { "fall" });
    let end = value(axis, if along.up { axis.high } else { axis.low });
    match &along.edge {
        Some(edge) => {
            let (was, is) = (from.at[along.axis], map.points[edge.holds].at[along.axis]);
            let far = change(axis, was, is, edge.shares[along.axis]);
            let may = if from.holds { "may" } else { "alone must" };
            format!("{path} {may} {verb} to {} ({far})", value(axis, is))
        }
        None if from.holds => format!("{path} may {verb} to {end}, the end of the range"),
        None => format!("{path} alone does not help, as far as {end}"),
    }
}

/// What is worth running again.
fn commands(page: &mut Page, map: &Map, about: &About<'_>) {
    page.paragraph(0, "", "to run again:");
    let asked = map.row.limit_text.is_some();
    if let Some((worst, best)) = extremes(map) {
        let words = if asked { "worst" } else { "lowest" };
        command_line(page, words, &command(about, &worst.changes));
        if !asked {
            command_line(page, "highest", &command(about, &best.changes));
        }
    }
    if let Some(edge) = &map.nearest {
        command_line(page, "nearest edge, holds", &command(about, &map.points[edge.holds].changes));
        command_line(
            page,
            "nearest edge, misses",
            &command(about, &map.points[edge.misses].changes),
        );
    }
    for edge in map.edges.iter().filter(|e| map.nearest.as_ref() != Some(*e)) {
        command_line(page, "edge, holds", &command(about, &map.points[edge.holds].changes));
        command_line(page, "edge, misses", &command(about, &map.points[edge.misses].changes));
    }
    let blind = map.points.iter().find(|p| p.value.is_none() && p.kind == Kind::Grid);
    if let Some(point) = blind {
        command_line(page, "no number", &command(about, &point.changes));
    }
}

/// To be pasted: never broken.
fn command_line(page: &mut Page, what: &str, command: &str) {
    let _ = writeln!(page.text, "  {what}\n    {}", printable(command));
}

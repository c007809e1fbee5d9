//! Times: recovery into a band, time spent beyond a level.

use super::bench::{Bench, Finding, Number, Options, State};
use super::requirement::About;
use super::scene::{Bound, Edge, TAIL, TestKind};
use super::words::quantity;
use crate::waveform::{Relation, Side, Window};

type Found = Result<Finding, String>;

pub(super) fn recovery(bench: &Bench, options: Options) -> Found {
    let edges = match bench.scene.kind {
        TestKind::LineStep => bench.all_edges()?,
        _ => bench.edges(true)?,
    };
    longest_recovery(bench, &edges, options)
}

pub(super) fn release_recovery(bench: &Bench, options: Options) -> Found {
    longest_recovery(bench, &bench.edges(false)?, options)
}

/// The longest recovery after any of the edges; an edge after which there is none decides.
fn longest_recovery(bench: &Bench, edges: &[&Edge], options: Options) -> Found {
    let band_v = options.band_v.filter(|b| *b > 0.0);
    let band_v = band_v.ok_or("needs a band: write `{ limit = …, band = … }`")?;
    let about = options.about.unwrap_or(About::Settled);
    let mut worst: Option<Number> = None;
    for edge in edges {
        match recovery_after(bench, edge, band_v, about)? {
            Finding::Value(value) if worst.as_ref().is_none_or(|w| value.value > w.value) => {
                worst = Some(value);
            }
            Finding::Value(_) => {}
            unsettled => return Ok(unsettled),
        }
    }
    worst.map(Finding::Value).ok_or_else(|| "the test has no such edge".to_owned())
}

pub(super) fn recovery_after(bench: &Bench, edge: &Edge, band_v: f64, about: About) -> Found {
    let output = bench.output()?;
    let dwell = bench.scene.dwell_behind(edge).ok_or("no dwell follows the edge")?;
    let watched = Window::new(edge.start_s, dwell.window.to_s);
    let unsettled =
        |words: String| Ok(Finding::State(State { words, watched_s: Some(watched.length_s()) }));
    let oscillation = bench.oscillation(dwell.window)?;
    let settled = match bench.level(dwell, Some(band_v)) {
        Ok(level) => level,
        Err(_) if oscillation.is_some() => {
            let words = oscillation.unwrap_or_default();
            return Ok(Finding::State(State { words, watched_s: None }));
        }
        Err(reason) => return unsettled(reason),
    };
    let centre = match about {
        About::Settled => settled,
        About::Nominal => bench.nominal()?,
        About::Before => bench.level_ahead(&[edge])?,
    };
    if (settled - centre).abs() > band_v {
        let words = format!(
            "settles at {}, outside the band of ±{} about {} ({})",
            quantity(settled, "V"),
            quantity(band_v, "V"),
            quantity(centre, "V"),
            about.word()
        );
        return Ok(Finding::State(State { words, watched_s: None }));
    }
    let condemned = oscillation.or_else(|| outside_window(bench, settled));
    let Some(entry_s) = last_entry(bench, output, watched, centre, band_v) else {
        let note = Some("stayed within the band".to_owned());
        return Ok(Finding::Value(Number { note, condemned, ..Number::default() }));
    };
    if entry_s > dwell.window.last(TAIL).from_s {
        if let Some(words) = condemned {
            return Ok(Finding::State(State { words, watched_s: None }));
        }
        return unsettled(format!(
            "not settled within {}: still leaves the band of ±{} at its end",
            quantity(watched.length_s(), "s"),
            quantity(band_v, "V")
        ));
    }
    let value = bench.to_crossing(output, [edge.start_s, entry_s]);
    Ok(Finding::Value(Number { condemned, ..value }))
}

/// When the output enters the band for the last time; `None` if it never leaves it.
pub(super) fn last_entry(
    bench: &Bench,
    output: &crate::waveform::Signal,
    window: Window,
    centre: f64,
    band_v: f64,
) -> Option<f64> {
    let above = bench.waveform().stretches(output, window, Relation::Above, centre + band_v);
    let below = bench.waveform().stretches(output, window, Relation::Below, centre - band_v);
    let ends = [above.last(), below.last()].into_iter().flatten().map(|w| w.to_s);
    ends.reduce(f64::max)
}

/// A rail that comes to rest nearer to 0 V than this share of its window has latched: the loop does not
/// work.
const LATCHED_SHARE: f64 = 0.5;

fn outside_window(bench: &Bench, level: f64) -> Option<String> {
    match bench.scene.rail.window {
        Bound::Within { low_v, high_v } if level < low_v || level > high_v => {
            // A negative rail is looked at upside down.
            let is_negative = low_v + high_v < 0.0;
            let (upright, least) = if is_negative { (-level, -high_v) } else { (level, low_v) };
            let latched = upright < LATCHED_SHARE * least;
            let state = if latched { "latched: it settles" } else { "settles" };
            Some(format!("{state} at {}, outside the window", quantity(level, "V")))
        }
        _ => None,
    }
}

pub(super) fn longest_below(bench: &Bench, options: Options) -> Found {
    longest(bench, options, Relation::Below)
}

pub(super) fn longest_above(bench: &Bench, options: Options) -> Found {
    longest(bench, options, Relation::Above)
}

fn longest(bench: &Bench, options: Options, relation: Relation) -> Found {
    let level = asked_level(options)?;
    let (output, record) = (bench.output()?, bench.scene.record()?);
    Ok(match bench.waveform().longest(output, record, relation, level) {
        None => Finding::plain(0.0).note(Some(never(relation, level))),
        Some(stretch) => of_stretches(bench, &[stretch], record, Some(stretch.from_s))?,
    })
}

pub(super) fn total_below(bench: &Bench, options: Options) -> Found {
    let level = asked_level(options)?;
    let (output, record) = (bench.output()?, bench.scene.record()?);
    let stretches = bench.waveform().stretches(output, record, Relation::Below, level);
    if stretches.is_empty() {
        return Ok(Finding::plain(0.0).note(Some(never(Relation::Below, level))));
    }
    of_stretches(bench, &stretches, record, None)
}

fn asked_level(options: Options) -> Result<f64, String> {
    options.level_v.ok_or_else(|| "needs a level: write `{ limit = …, level = … }`".to_owned())
}

fn never(relation: Relation, level: f64) -> String {
    let side = match relation {
        Relation::Below => "below",
        Relation::Above => "above",
    };
    format!("never {side} {}", quantity(level, "V"))
}

/// The time that stretches take together, with how it depends on their ends.
fn of_stretches(bench: &Bench, stretches: &[Window], record: Window, at_s: Option<f64>) -> Found {
    let output = bench.output()?;
    let mut value = Number { at_s, ..Number::default() };
    for stretch in stretches {
        value.value += stretch.length_s();
        for (end_s, side) in [(stretch.from_s, Side::After), (stretch.to_s, Side::Before)] {
            if end_s <= record.from_s || end_s >= record.to_s {
                continue;
            }
            value.instants.push(end_s);
            value.seconds_per_volt += bench.seconds_per_volt(output, end_s, side);
        }
    }
    if stretches.last().is_some_and(|w| w.to_s >= record.to_s) {
        value.note = Some("still so at the end of the record".to_owned());
    }
    Ok(Finding::Value(value))
}

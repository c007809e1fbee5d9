//! Levels of the output and how far it leaves them: droop, ring-back, overshoot, windows.

use super::bench::{Bench, Finding, LATE, Number, Options, QUIET, State, unreached};
use super::figures::Worse;
use super::requirement::About;
use super::scene::{Bound, Edge, Role, TestKind};
use super::stations;
use super::words::quantity;
use crate::waveform::{Extreme, Instant, Window};

type Found = Result<Finding, String>;

pub(super) fn before_level(bench: &Bench, _: Options) -> Found {
    bench.level_of(Role::Before).map(Finding::plain)
}

pub(super) fn loaded_level(bench: &Bench, _: Options) -> Found {
    bench.level_of(Role::Loaded).map(Finding::plain)
}

pub(super) fn released_level(bench: &Bench, _: Options) -> Found {
    bench.level_of(Role::Released).map(Finding::plain)
}

pub(super) fn static_change(bench: &Bench, _: Options) -> Found {
    Ok(Finding::plain(bench.level_of(Role::Loaded)? - bench.level_of(Role::Before)?))
}

/// Edges after which the output is looked for low: the loading ones; of a source, all.
fn droop_edges<'a>(bench: &Bench<'a>) -> Result<Vec<&'a Edge>, String> {
    match bench.scene.kind {
        TestKind::LineStep => bench.all_edges(),
        _ => bench.edges(true),
    }
}

/// The lowest value after each of the edges, up to the next edge; on a negative rail the one nearest 0 V.
fn lowest_after(bench: &Bench, edges: &[&Edge]) -> Result<Vec<Instant>, String> {
    edges.iter().map(|edge| bench.lowest(bench.scene.after(edge)?)).collect()
}

pub(super) fn droop(bench: &Bench, _: Options) -> Found {
    let edges = droop_edges(bench)?;
    let reference = bench.level_ahead(&edges)?;
    let lowest = lowest_after(bench, &edges)?;
    let sense = bench.sense();
    let height = |k: &usize| sense * lowest[*k].value;
    let worst = (0..lowest.len()).min_by(|a, b| height(a).total_cmp(&height(b)));
    let worst = worst.ok_or("the test has no loading edge")?;
    let instant = lowest[worst];
    let droop = sense * (reference - instant.value);
    // Settling from above, the lowest value is the settled level itself, wherever rounding and
    // the last decaying digits happen to put it.
    let settles_without = bench
        .level_behind(edges[worst], None)
        .is_ok_and(|settled| sense * (settled - instant.value) < NO_UNDERSHOOT * droop.abs());
    let note = settles_without
        .then(|| "settles without undershoot: the time of the lowest value has no meaning".into());
    Ok(Finding::at(droop, instant.time_s).note(note))
}

pub(super) fn ring_back(bench: &Bench, _: Options) -> Found {
    let edges = bench.edges(true)?;
    let mut worst: Option<Instant> = None;
    for (edge, lowest) in edges.iter().zip(lowest_after(bench, &edges)?) {
        let window = Window::new(lowest.time_s, bench.scene.after(edge)?.to_s);
        let highest = bench.highest(window)?;
        let above = bench.sense() * (highest.value - bench.level_behind(edge, None)?);
        keep_higher(&mut worst, Instant { value: above, ..highest });
    }
    worst.map(|w| Finding::at(w.value, w.time_s)).ok_or_else(|| "no loading edge".into())
}

pub(super) fn overshoot(bench: &Bench, options: Options) -> Found {
    let edges = match bench.scene.kind {
        TestKind::LineStep => bench.all_edges()?,
        _ => bench.edges(false)?,
    };
    let mut worst: Option<Instant> = None;
    for edge in &edges {
        let highest = bench.highest(bench.scene.after(edge)?)?;
        let reference = match options.about.unwrap_or(About::Before) {
            About::Before => bench.level_ahead(&edges)?,
            About::Settled => bench.level_behind(edge, None)?,
            About::Nominal => bench.nominal()?,
        };
        let above = bench.sense() * (highest.value - reference);
        keep_higher(&mut worst, Instant { value: above, ..highest });
    }
    worst.map(|w| Finding::at(w.value, w.time_s)).ok_or_else(|| "no releasing edge".into())
}

fn keep_higher(worst: &mut Option<Instant>, candidate: Instant) {
    if worst.is_none_or(|w| candidate.value > w.value) {
        *worst = Some(candidate);
    }
}

pub(super) fn output_minimum(bench: &Bench, _: Options) -> Found {
    let found = bench.extreme(bench.output()?, bench.scene.record()?, Extreme::Lowest)?;
    Ok(Finding::at(found.value, found.time_s))
}

pub(super) fn output_maximum(bench: &Bench, _: Options) -> Found {
    let found = bench.extreme(bench.output()?, bench.scene.record()?, Extreme::Highest)?;
    Ok(Finding::at(found.value, found.time_s))
}

pub(super) fn output_level(bench: &Bench, _: Options) -> Found {
    Ok(Finding::plain(bench.mean(bench.output()?, bench.scene.record()?)?))
}

pub(super) fn output_error(bench: &Bench, _: Options) -> Found {
    let nominal = bench.nominal()?;
    if nominal == 0.0 {
        return Err("nominal is zero".into());
    }
    let level = bench.mean(bench.output()?, bench.scene.record()?)?;
    Ok(Finding::plain((level - nominal) / nominal))
}

/// The stretch at whose end the test is quiet: its last dwell, or the whole record of a profile.
fn last_dwell(bench: &Bench) -> Result<Window, String> {
    if bench.scene.kind == TestKind::Profile {
        return bench.scene.record();
    }
    let last = bench.scene.dwells.last().map(|d| d.window);
    last.ok_or_else(|| "the test has no dwell".to_owned())
}

pub(super) fn late_ripple(bench: &Bench, _: Options) -> Found {
    let dwell = last_dwell(bench)?;
    if dwell.length_s() <= 0.0 {
        return Err("the last dwell has no length".into());
    }
    let ripple = bench.peak_to_peak(bench.output()?, dwell.last(LATE)).ok_or_else(unreached)?;
    let restless = bench.nominal().is_ok_and(|nominal| ripple > QUIET * nominal.abs());
    let note = restless.then(|| match bench.oscillation(dwell) {
        Ok(Some(words)) | Err(words) => format!("does not settle: {words}"),
        Ok(None) if bench.scene.inputs_hold => "does not settle".to_owned(),
        Ok(None) => "does not settle: a source or load that varies keeps it moving".to_owned(),
    });
    Ok(Finding::plain(ripple).note(note))
}

pub(super) fn window(bench: &Bench, options: Options) -> Found {
    let (low_v, high_v) = limits(bench.scene.rail.window)?;
    let inside = |level: f64| (level - low_v).min(high_v - level);
    let levels: Vec<(&str, Result<f64, String>)> = match bench.scene.kind {
        TestKind::OperatingPoint => {
            vec![("operating point", bench.mean(bench.output()?, bench.scene.record()?))]
        }
        TestKind::Profile => vec![("end of the record", bench.level_of_record())],
        TestKind::LoadStep | TestKind::LineStep => {
            let dwells = bench.scene.dwells.iter();
            dwells.map(|d| (d.role.word(), bench.level(d, None))).collect()
        }
        TestKind::StartUp | TestKind::PowerDown => {
            bench.scene.running().map(|d| (d.role.word(), bench.level(d, None))).collect()
        }
        _ => return Ok(stations::worst(bench, "window", &options, Worse::Lower)),
    };
    let mut worst: Option<(&str, f64)> = None;
    let mut unsettled = None;
    for (name, level) in levels {
        match level {
            Ok(level) if worst.is_none_or(|(_, w)| inside(level) < inside(w)) => {
                worst = Some((name, level));
            }
            Ok(_) => {}
            Err(reason) => unsettled = unsettled.or(Some(reason)),
        }
    }
    let condemned = bench.any_oscillation()?;
    if let (Some(words), true) = (&condemned, unsettled.is_some()) {
        return Ok(Finding::State(State { words: words.clone(), watched_s: None }));
    }
    let Some((name, level)) = worst else {
        return Err(unsettled.unwrap_or_else(|| "the test has no settled level".to_owned()));
    };
    let distance = inside(level);
    // A dwell that is known to lie outside decides, whatever the others would have shown.
    if let (Some(reason), true) = (unsettled, distance >= 0.0) {
        return Err(reason);
    }
    let note = (distance < 0.0)
        .then(|| format!("settled at {} ({name}), outside the window", quantity(level, "V")));
    Ok(Finding::Value(Number { value: distance, note, condemned, ..Number::default() }))
}

pub(super) fn transient_window(bench: &Bench, _: Options) -> Found {
    let (low_v, high_v) = limits(bench.scene.rail.every_instant())?;
    let (output, record) = (bench.output()?, bench.scene.record()?);
    let lowest = bench.extreme(output, record, Extreme::Lowest)?;
    let highest = bench.extreme(output, record, Extreme::Highest)?;
    let (below, above) = (lowest.value - low_v, high_v - highest.value);
    // On its way up a rail comes from below; a negative one from above.
    let comes_from_below = 0.5 * (low_v + high_v) > 0.0;
    let counts_below = match bench.scene.kind {
        TestKind::StartUp => !comes_from_below,
        _ => below <= above,
    };
    Ok(if counts_below {
        Finding::at(below, lowest.time_s)
    } else {
        Finding::at(above, highest.time_s)
    })
}

pub(super) fn limits(bound: Bound) -> Result<(f64, f64), String> {
    match bound {
        Bound::NotGiven => Err("no window given".to_owned()),
        Bound::Off => Err("the window is switched off for this test".to_owned()),
        Bound::Within { low_v, high_v } => Ok((low_v, high_v)),
    }
}

/// Share of the droop by which the lowest value must pass the settled level to be called an
/// undershoot.
const NO_UNDERSHOOT: f64 = 1e-3;

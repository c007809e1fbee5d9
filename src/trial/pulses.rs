//! A train of load pulses: reads its keys, and makes the train of so many periods at one rate.

mod scan;

pub(super) use scan::run;

use super::excitation::{Excitation, Figures};
use super::reading::Read;
use super::{Driven, Motion, PulseMotion, Scan, Test};
use crate::circuit::Variant;
use crate::device::Drive;
use crate::diagnostic::{Diagnostic, Span};
use crate::document::{Node, Reader, Value, wrong_form};
use crate::measure::{Dwell, Edge, Role};
use crate::quantity::{Dimension, Program, trimmed};
use crate::waveform::Window;

const PERIODS: usize = 200;
const MOST_PERIODS: i64 = 100_000;
const SCAN_POINTS: usize = 25;
const MOST_SCAN_POINTS: i64 = 1000;
/// Share of the period between the middles of the edges when nothing is said.
const DUTY: f64 = 0.5;
/// Share of the period ahead of the first pulse when nothing is said.
const BEFORE_SHARE: f64 = 0.1;
/// Periods run before looking whether they are alike: three must be, after some that are not.
pub(super) const FIRST_PERIODS: usize = 8;
/// A width may fall short of zero by this share of the period: rounding.
const ROUNDING: f64 = 1e-12;
const DIGITS: usize = 4;

pub(super) fn read_pulses(
    read: &mut Read<'_, '_>,
    reader: &mut Reader<'_, '_>,
    load: Option<&Driven>,
    place: Span,
) -> Option<Motion> {
    let from = reader.required("from", "\"2 mA\"");
    let to = reader.required("to", "\"180 mA\"");
    let edge = reader.required("edge", "\"100 ns\"");
    let [edge_back, period, width, duty, before] =
        ["edge_back", "period", "width", "duty", "before"].map(|key| reader.expression(key));
    let periods = count(read, "periods", reader.node("periods"), PERIODS, MOST_PERIODS);
    let scan = read_scan(read, reader);
    match (period, &scan) {
        (None, Ok(None)) => {
            let message = format!("{} says neither how often nor where to look", reader.what());
            let hint = "add `period = \"20 µs\"`, or `scan = { from = \"1 kHz\", to = \"1 MHz\" }`";
            let mistake = Diagnostic::error(place, message).label("`period` is missing");
            read.told.push(mistake.hint(hint));
            return None;
        }
        (Some(node), Ok(Some(_))) => {
            let message = "`period` and `scan` both say how often";
            let hint = "leave one of them out";
            read.told.push(Diagnostic::error(node.span, message).hint(hint));
        }
        _ => {}
    }
    if let (Some(_), Some(node)) = (width, duty) {
        let message = "`width` and `duty` say the same thing twice";
        read.told.push(Diagnostic::error(node.span, message).hint("leave one of them out"));
    }
    let Some(load) = load else {
        let named = read.circuit.rail.as_ref().is_some_and(|r| r.load.is_some());
        if !named && !reader.has("load") {
            let message = "a test of kind `pulse-train` needs to know what to drive";
            let hint = "add `load = \"PART\"` to `[rail]` or to this test";
            read.told.push(Diagnostic::error(place, message).hint(hint));
        }
        return None;
    };
    let before_all = read.told.len();
    let mut figure =
        |node: Option<&Node>, unit: Dimension| node.and_then(|n| read.compile(n, unit));
    let (from, to) = (figure(from, load.dimension), figure(to, load.dimension));
    let edge_s = figure(edge, Dimension::SECOND);
    let [edge_back_s, period_s, width_s, before_s] =
        [edge_back, period, width, before].map(|node| figure(node, Dimension::SECOND));
    let duty = figure(duty, Dimension::NONE);
    if read.told.len() > before_all {
        return None;
    }
    Some(Motion::Pulses(Box::new(PulseMotion {
        from: from?,
        to: to?,
        edge_s: edge_s?,
        edge_back_s,
        period_s,
        width_s,
        duty,
        before_s,
        periods: periods?,
        scan: scan.ok()?,
    })))
}

fn count(
    read: &mut Read<'_, '_>,
    key: &'static str,
    node: Option<&Node>,
    default: usize,
    most: i64,
) -> Option<usize> {
    let Some(node) = node else { return Some(default) };
    match node.value {
        Value::Integer(count) if (3..=most).contains(&count) => Some(count as usize),
        _ => {
            read.told.push(wrong_form(key, node, &format!("a count from 3 to {most}")));
            None
        }
    }
}

/// An error when it is wrong, and told.
fn read_scan(read: &mut Read<'_, '_>, reader: &mut Reader<'_, '_>) -> Result<Option<Scan>, ()> {
    let Some(node) = reader.node("scan") else { return Ok(None) };
    let Some(table) = node.as_table() else {
        let wanted = "a table such as `{ from = \"1 kHz\", to = \"1 MHz\" }`";
        read.told.push(wrong_form("scan", node, wanted));
        return Err(());
    };
    let mut inner = Reader::new(table, "`scan`", node.span, read.told);
    let from = inner.required("from", "\"1 kHz\"");
    let to = inner.required("to", "\"1 MHz\"");
    let points = inner.node("points");
    inner.finish();
    let from_hz = from.and_then(|n| read.compile(n, Dimension::HERTZ));
    let to_hz = to.and_then(|n| read.compile(n, Dimension::HERTZ));
    let points = count(read, "points", points, SCAN_POINTS, MOST_SCAN_POINTS);
    match (from_hz, to_hz, points) {
        (Some(from_hz), Some(to_hz), Some(points)) => Ok(Some(Scan { from_hz, to_hz, points })),
        _ => Err(()),
    }
}

/// The ends of the scan in Hz, if there is one.
pub(super) fn scanned(motion: &PulseMotion, variant: &Variant) -> Option<(f64, f64, usize)> {
    let scan = motion.scan.as_ref()?;
    Some((variant.evaluate(&scan.from_hz), variant.evaluate(&scan.to_hz), scan.points))
}

/// The first train to run: at the period, or at the lowest rate of the scan. The highest one is
/// looked at as well, so that none of the scan comes as a surprise.
pub(super) fn pulse(
    excitation: &mut Excitation,
    test: &Test,
    motion: &PulseMotion,
    figures: &mut Figures<'_>,
) {
    let count = FIRST_PERIODS.min(motion.periods);
    let Some((from_hz, to_hz, _)) = scanned(motion, figures.variant) else {
        let Some(program) = &motion.period_s else { return };
        let period = figures.duration(program, "period");
        if period <= 0.0 {
            let message = "`period` must be above zero".to_owned();
            figures.complain("period", message, "write a time such as `period = \"20 µs\"`");
            return;
        }
        return train(excitation, test, motion, figures, (period, count));
    };
    let above_zero = |hz: f64| hz > 0.0 && hz.is_finite();
    if !(above_zero(from_hz) && above_zero(to_hz) && from_hz < to_hz) {
        let message = "`scan` must rise from a rate above zero".to_owned();
        let hint = "write the lower rate first: `scan = { from = \"1 kHz\", to = \"1 MHz\" }`";
        figures.complain("scan", message, hint);
        return;
    }
    train(&mut Excitation::default(), test, motion, figures, (1.0 / to_hz, count));
    train(excitation, test, motion, figures, (1.0 / from_hz, count));
    let ends = [from_hz, to_hz].map(|hz| trimmed(hz, "Hz", DIGITS));
    if let Some(words) = &mut excitation.load_words {
        *words = format!("{words}, first of the rates from {} to {}", ends[0], ends[1]);
    }
}

/// So many periods of so many seconds, in place of the train that `excitation` has.
pub(super) fn train(
    excitation: &mut Excitation,
    test: &Test,
    motion: &PulseMotion,
    figures: &mut Figures<'_>,
    (period, count): (f64, usize),
) {
    let Some(driven) = &test.load else { return };
    let from = figures.level(&motion.from, driven, "from");
    let to = figures.level(&motion.to, driven, "to");
    let mut time = |program: &Option<Program>, key: &'static str, otherwise: f64| match program {
        Some(program) => figures.duration(program, key),
        None => otherwise,
    };
    let edge = time(&Some(motion.edge_s.clone()), "edge", 0.0);
    let back = time(&motion.edge_back_s, "edge_back", edge);
    let before = time(&motion.before_s, "before", BEFORE_SHARE * period);
    let duty = motion.duty.as_ref().map_or(DUTY, |p| figures.variant.evaluate(p));
    if !(duty > 0.0 && duty < 1.0) {
        let message = "`duty` must lie between 0 and 100 %".to_owned();
        figures.complain("duty", message, "write a share such as `duty = \"50 %\"`");
        return;
    }
    let by_duty = duty * period - 0.5 * (edge + back);
    let width = motion.width_s.as_ref().map_or(by_duty, |p| figures.duration(p, "width"));
    let rest = period - (edge + width + back);
    if width < -ROUNDING * period || rest < -ROUNDING * period {
        let shown = trimmed(period, "s", DIGITS);
        let key = match (&motion.scan, &motion.width_s, &motion.duty) {
            (Some(_), ..) => "scan",
            (None, Some(_), _) => "width",
            (None, None, Some(_)) => "duty",
            _ => "period",
        };
        let message = format!("edges and width do not fit into a period of {shown}");
        figures.complain(key, message, "make the period longer, or edges and width shorter");
    }
    if !figures.wrong.is_empty() {
        return;
    }
    let more = if driven.dimension == Dimension::OHM { from - to } else { to - from };
    let (mut points, mut edges) = (vec![(0.0, from)], Vec::with_capacity(2 * count));
    let dwell = |from_s, to_s, role| Dwell { window: Window { from_s, to_s }, role };
    let mut dwells = vec![dwell(0.0, before, Role::Before)];
    for k in 0..count {
        let start = before + k as f64 * period;
        let next = before + (k + 1) as f64 * period;
        let up = start + edge;
        let down = (up + width.max(0.0)).min(next - back);
        points.extend([(start, from), (up, to), (down, to), (down + back, from)]);
        edges.push(Edge { start_s: start, end_s: up, change: more });
        edges.push(Edge { start_s: down, end_s: down + back, change: -more });
        dwells.push(dwell(up, down, Role::Loaded));
        dwells.push(dwell(down + back, next, Role::Released));
    }
    excitation.edges = edges;
    excitation.dwells = dwells;
    excitation.end_s = before + count as f64 * period;
    excitation.edge_s = Some(edge);
    let unit = driven.dimension.symbol();
    let [from, to] = [from, to].map(|level| trimmed(level, &unit, DIGITS));
    let [edge, width, period] = [edge, width, period].map(|s| trimmed(s, "s", DIGITS));
    let words = format!("{from} to {to} in {edge} for {width}, every {period}, {count} times");
    excitation.load_words = Some(words);
    excitation.drives.retain(|(part, _)| *part != driven.part);
    excitation.drives.push((driven.part.clone(), Drive::points(points)));
}

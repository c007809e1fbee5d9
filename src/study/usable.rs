//! The lowest level of the source at which other tests of the file still hold: usable dropout, which
//! comes before the static limit.

use super::knobs::{changes_of, measuring};
use crate::circuit::{Change, Circuit, Variant};
use crate::device::Drive;
use crate::diagnostic::Diagnostic;
use crate::measure::scene::signal;
use crate::measure::{Absence, Asked, Figure, Measurement, Station, Verdict, Wanted};
use crate::quantity::{Program, engineering, trimmed};
use crate::trial::{Further, Motion, Outcome, Quest, RunOptions, Test, run, swept_range};
use crate::waveform::{Extreme, Side};

/// Levels of the first search, evenly from `from` to `to`.
const LEVELS: usize = 16;
/// V to which the level is then found; what is good enough for any cell or battery.
const GOOD_TO_V: f64 = 1e-3;
/// Significant digits of voltages in words.
const DIGITS: usize = 4;

/// What a search came to.
#[derive(Default)]
pub(super) struct Found {
    pub(super) further: Further,
    /// V, the least headroom of the first test that misses.
    headroom_v: Option<f64>,
}

/// Why a level is too low.
struct Miss {
    words: String,
    headroom_v: Option<f64>,
}

/// Looks for `usable_input` of a dropout test; nothing for others.
///
/// # Errors
/// As [`run`].
pub(super) fn search(
    circuit: &Circuit,
    tests: &[Test],
    test: &Test,
    options: &RunOptions,
) -> Result<Found, Vec<Diagnostic>> {
    let Motion::Steady(motion) = &test.motion else { return Ok(Found::default()) };
    let Quest::Dropout { from, to, reference_headroom, usable_for, .. } = &motion.quest else {
        return Ok(Found::default());
    };
    let asked = [from, to, reference_headroom].map(Option::as_ref);
    let named: Vec<&Test> =
        usable_for.iter().filter_map(|(name, _)| of_name(tests, name)).collect();
    if named.is_empty() {
        let why = "no tests are named by `usable_for`".to_owned();
        return Ok(Found { further: told(Err(Absence::Unknown(why)), 0.0), headroom_v: None });
    }
    let variant = circuit.variant(&changes_of(test, options))?;
    let Some((source, from_v, to_v)) = range(test, &variant, asked) else {
        let why = "the range of source levels needs `rail.nominal`, or `from` and `to`".to_owned();
        return Ok(Found { further: told(Err(Absence::Unknown(why)), 0.0), headroom_v: None });
    };
    let path = level_path(&variant, source).unwrap_or_default();
    // All that the other tests judge, of whatever unit.
    let options = measuring(options, ["1"].into_iter());
    let search = Search { circuit, named, path, options };
    search.run(from_v, to_v)
}

/// A test by its name or file stem.
pub(super) fn of_name<'a>(tests: &'a [Test], name: &str) -> Option<&'a Test> {
    tests.iter().find(|t| t.name == name || t.stem == name)
}

/// `PART.voltage` of the source.
fn level_path(variant: &Variant, source: &str) -> Option<String> {
    let (key, _) = variant.part(source)?.driven?;
    Some(format!("{source}.{key}"))
}

/// Source, and the levels in V at which its sweep begins and ends.
fn range<'a>(
    test: &'a Test,
    variant: &Variant,
    asked: [Option<&Program>; 3],
) -> Option<(&'a str, f64, f64)> {
    let source = test.source.as_ref()?.part.as_str();
    let nominal_v = variant.rail.as_ref().and_then(|r| r.nominal_v);
    let own = || variant.part(source)?.parameters.drive.as_ref().map(Drive::initial);
    let given = test.source_level.as_ref().map(|level| variant.evaluate(level));
    let (from_v, to_v) = swept_range(variant, asked, (nominal_v, given.or_else(own)))?;
    Some((source, from_v, to_v))
}

/// The figure for the whole test; the second solution's differs by what it is good to.
fn told(figure: Result<Figure, Absence>, good_to_v: f64) -> Further {
    let wanted = Wanted { name: "usable_input", asked: Asked::default() };
    // An uncertainty is twice the difference of both solutions.
    let again = figure.clone().map(|f| Figure { value: f.value - 0.5 * good_to_v, ..f });
    let station = |figure| Station { condition: String::new(), figures: vec![(wanted, figure)] };
    Further { stations: vec![station(figure)], again: vec![station(again)], notes: Vec::new() }
}

struct Search<'a> {
    circuit: &'a Circuit,
    named: Vec<&'a Test>,
    path: String,
    options: RunOptions,
}

impl Search<'_> {
    fn run(&self, from_v: f64, to_v: f64) -> Result<Found, Vec<Diagnostic>> {
        let mut holds_v = from_v;
        let mut missed = None;
        for k in 0..=LEVELS {
            let level_v = from_v + (to_v - from_v) * k as f64 / LEVELS as f64;
            match self.miss_at(level_v)? {
                Some(miss) => {
                    missed = Some((level_v, miss));
                    break;
                }
                None => holds_v = level_v,
            }
        }
        let Some((mut misses_v, mut miss)) = missed else {
            let note = format!("holds down to the end of the range, {}", volts(to_v));
            let figure = Figure { note: Some(note), ..Figure::plain(to_v) };
            return Ok(Found { further: told(Ok(figure), 0.0), headroom_v: None });
        };
        if misses_v == from_v {
            let why = format!("already at {}, {}", volts(from_v), miss.words);
            return Ok(Found { further: told(Err(Absence::Unknown(why)), 0.0), headroom_v: None });
        }
        while (holds_v - misses_v).abs() > GOOD_TO_V {
            let middle_v = 0.5 * (holds_v + misses_v);
            match self.miss_at(middle_v)? {
                Some(there) => (misses_v, miss) = (middle_v, there),
                None => holds_v = middle_v,
            }
        }
        let mut further = told(Ok(Figure::plain(holds_v)), GOOD_TO_V);
        let note = format!(
            "usable down to {} at the source; at most {} lower, {}",
            volts(holds_v),
            trimmed(GOOD_TO_V, "V", DIGITS),
            miss.words
        );
        further.notes.push(note);
        Ok(Found { further, headroom_v: miss.headroom_v })
    }

    /// The first test that misses a requirement with the source at a level.
    fn miss_at(&self, level_v: f64) -> Result<Option<Miss>, Vec<Diagnostic>> {
        for named in &self.named {
            let mut test = (*named).clone();
            test.source_level = None;
            if let Motion::Steady(motion) = &mut test.motion {
                motion.source_levels.clear();
            }
            test.changes.list.push(Change::new(self.path.as_str(), format!("{level_v} V")));
            let outcome = run(self.circuit, &test, &self.options)?;
            if !matches!(outcome.verdict, Verdict::Pass | Verdict::Marginal) {
                return Ok(Some(miss(&outcome)));
            }
        }
        Ok(None)
    }
}

/// What was missed, and what was left at the input then.
fn miss(outcome: &Outcome) -> Miss {
    let counts = |m: &&Measurement| !m.advisory && m.verdict == outcome.verdict;
    let what = match (&outcome.failure, outcome.measurements.iter().find(counts)) {
        (Some(_), _) => format!("`{}` cannot be solved", outcome.name),
        (None, Some(m)) => {
            let found = m.value.map(|v| format!(" is {}", engineering(v, m.unit, DIGITS)));
            let found = found.or(m.reason.clone().map(|why| format!(": {why}")));
            let limit = m.limit.as_ref().map(|limit| format!(" ({limit} asked)"));
            let [found, limit] = [found, limit].map(Option::unwrap_or_default);
            format!("`{}` of `{}`{found}{limit}", m.name, outcome.name)
        }
        (None, None) => format!("`{}` does not hold", outcome.name),
    };
    // A negative rail has the least left where its input is highest.
    let sign = outcome.condition.rail.nominal_v.map_or(1.0, f64::signum);
    let which = if sign < 0.0 { Extreme::Highest } else { Extreme::Lowest };
    let least = |name: &str, minus: Option<&str>| {
        let waveform = &outcome.waveform;
        let mut signal = waveform.signal(name)?.clone();
        if let Some(minus) = minus {
            signal = signal.plus(-1.0, waveform.signal(minus)?, name);
        }
        let record = waveform.record()?;
        let extreme = waveform.extreme(&signal, record, which).map(|e| e.value);
        extreme.or_else(|| waveform.at(&signal, record.from_s, Side::After))
    };
    let pin_v = least(signal::INPUT, None);
    let headroom_v = least(signal::INPUT, Some(signal::OUTPUT)).map(|v| sign * v);
    let left = match (pin_v, headroom_v) {
        (Some(pin), Some(left)) => {
            format!(
                ", with {} at the input pin and {} of headroom at the least",
                volts(pin),
                volts(left)
            )
        }
        _ => String::new(),
    };
    Miss { words: format!("{what}{left}"), headroom_v }
}

impl Found {
    /// How far above the static limit that is: headroom left against the dropout voltage found.
    pub(super) fn against_dropout(&self, outcome: &Outcome) -> Option<String> {
        let headroom_v = self.headroom_v?;
        let found = outcome.measurements.iter().filter(|m| m.name == "dropout");
        let standard =
            |m: &&Measurement| m.settings.get("definition").is_some_and(|d| d.starts_with("2 %"));
        let mut with_value = found.filter(|m| m.value.is_some());
        let first = with_value.clone().find(standard).or_else(|| with_value.next())?;
        let dropout_v = first.value?;
        let definition = first.settings.get("definition")?;
        let difference_v = headroom_v - dropout_v;
        let side = if difference_v >= 0.0 { "above" } else { "below" };
        Some(format!(
            "the usable limit leaves {} of headroom, {} {side} the static dropout of {} ({definition})",
            volts(headroom_v),
            volts(difference_v.abs()),
            volts(dropout_v),
        ))
    }
}

fn volts(volt: f64) -> String {
    engineering(volt, "V", DIGITS)
}

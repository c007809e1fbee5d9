//! One test turned by hand: run again and again with other values, fast enough to follow a hand, and
//! with it the loop's margins at the levels that the test visits.
//!
//! Every run starts from the rest with nothing changed and is solved once, as a run of any study: what
//! is shown for some values is what `railstep run --quick` with the same `--set` arguments gives. While
//! they are being turned, less is read off the same solution.

use super::runner::STUDY_WORK_LIMIT;
use crate::circuit::{Change, Changes, Circuit, Spacing};
use crate::diagnostic::Diagnostic;
use crate::measure::TestKind;
use crate::quantity::{Dimension, Program, ZERO_CELSIUS_K};
use crate::trial::{
    Frequencies, Motion, Mover, Outcome, Quest, Reads, RunOptions, SteadyMotion, Test, Unchanged,
};
use std::sync::{Arc, OnceLock};

/// The path of the ambient temperature.
const AMBIENT: &str = "rail.ambient";
/// Frequencies a decade of the loop's sweep: margins are refined by solving, so that these only have
/// to see every crossing.
const PER_DECADE: usize = 10;
/// A run may take this many times the work of the one with nothing changed.
const LONGEST: usize = 20;
/// A kelvin scale is stepped by tenths, whatever the digits.
const TENTH_K: f64 = 0.1;
/// Digits of a value that a slider gives.
const SLIDER_DIGITS: i32 = 3;

/// A value that can be turned.
#[derive(Clone, Debug, PartialEq)]
pub struct Knob {
    /// As `--set` takes it.
    pub path: String,
    /// What the file says it is; empty where it says nothing.
    pub label: String,
    /// What it measures.
    pub dimension: Dimension,
    /// Lowest and highest value worth trying; what has none is typed.
    pub range: Option<[f64; 2]>,
    /// How a slider is spaced over the range.
    pub spacing: Spacing,
    /// Its formula in the file.
    pub own_text: String,
    /// What that comes to, in SI base units.
    pub own: f64,
}

impl Knob {
    /// The number of a slider, which stands between two digits of no account.
    pub fn rounded(&self, value: f64) -> f64 {
        if self.dimension == Dimension::KELVIN {
            // Of °C, which is what is read.
            return ((value - ZERO_CELSIUS_K) / TENTH_K).round() * TENTH_K + ZERO_CELSIUS_K;
        }
        if value == 0.0 || !value.is_finite() {
            return value;
        }
        let scale = 10f64.powi(SLIDER_DIGITS - 1 - value.abs().log10().floor() as i32);
        (value * scale).round() / scale
    }
}

/// The named values of a file, and its ambient temperature where it gives one.
pub fn knobs(circuit: &Circuit) -> Vec<Knob> {
    let named = circuit.values_told.iter().map(|spec| Knob {
        path: spec.name.clone(),
        label: spec.text.clone().unwrap_or_default(),
        dimension: spec.dimension,
        range: spec.range,
        spacing: spec.spacing,
        own_text: circuit.written(&spec.name).unwrap_or_default().to_owned(),
        own: spec.nominal,
    });
    let variant = circuit.variant(&Changes::default()).ok();
    let ambient_k = variant.and_then(|variant| Some(variant.rail?.ambient_k));
    let ambient = circuit.written(AMBIENT).zip(ambient_k).map(|(text, own)| Knob {
        path: AMBIENT.to_owned(),
        label: "ambient temperature".to_owned(),
        dimension: Dimension::KELVIN,
        range: None,
        spacing: Spacing::Linear,
        own_text: text.to_owned(),
        own,
    });
    named.chain(ambient).collect()
}

/// The loop at one condition.
#[derive(Clone, Debug, PartialEq)]
pub struct LoopFigures {
    /// `2 mA, 3.7 V, 25 °C`; what is known of it where nothing was found.
    pub condition: String,
    /// deg, or why there is none.
    pub phase_margin: Result<f64, String>,
    /// Hz, or why there is none.
    pub crossover: Result<f64, String>,
}

/// What came of some values.
#[derive(Clone, Debug)]
pub struct Turned {
    /// Of the test.
    pub outcome: Outcome,
    /// At the levels it visits; empty where the rail names no `feedback`, and for tests at rest, which
    /// look at the loop themselves if they are to.
    pub loops: Vec<LoopFigures>,
}

/// What is wrong with some changes: each mistake with the change that makes it by itself, where one
/// does.
pub fn blame(
    circuit: &Circuit,
    changes: &[Change],
    told: &[Diagnostic],
) -> Vec<(Option<String>, String)> {
    let words = |mistake: &Diagnostic| match &mistake.hint {
        Some(hint) => format!("{}; {hint}", mistake.message),
        None => mistake.message.clone(),
    };
    let mut found = Vec::new();
    for change in changes {
        let alone = Changes { list: vec![change.clone()] };
        let first = circuit.variant(&alone).err().and_then(|all| all.into_iter().next());
        found.extend(first.map(|mistake| (Some(change.path.clone()), words(&mistake))));
    }
    if found.is_empty() {
        found.extend(told.iter().map(|mistake| (None, words(mistake))));
    }
    found
}

/// The tests of a file, ready to be run again and again.
pub struct Live<'a> {
    circuit: &'a Circuit,
    tests: &'a [Test],
    stands: Vec<OnceLock<Stand>>,
}

/// What serves all runs of a test.
struct Stand {
    unchanged: Option<Arc<Unchanged>>,
    loops: Vec<(Test, Option<Arc<Unchanged>>)>,
    work_limit: usize,
}

impl<'a> Live<'a> {
    /// Nothing is run yet.
    pub fn new(circuit: &'a Circuit, tests: &'a [Test]) -> Self {
        Self { circuit, tests, stands: tests.iter().map(|_| OnceLock::new()).collect() }
    }

    /// Runs a test with some changes; of a draft, which follows a hand, less is read off.
    ///
    /// # Errors
    /// What is wrong with the changes; also where there is no such test.
    pub fn turn(
        &self,
        test: usize,
        changes: &[Change],
        draft: bool,
    ) -> Result<Turned, Vec<Diagnostic>> {
        let (Some(of), Some(stand)) = (self.tests.get(test), self.stands.get(test)) else {
            return Err(vec![Diagnostic::without_place("there is no such test")]);
        };
        let stand = stand.get_or_init(|| self.stand(of));
        let changes = Changes { list: changes.to_vec() };
        let options = RunOptions {
            changes: changes.clone(),
            quick: true,
            reads: if draft && is_plain(of) { Reads::Shown } else { Reads::Everything },
            work_limit: stand.work_limit,
            unchanged: stand.unchanged.clone(),
            ..RunOptions::default()
        };
        let (outcome, loops) = std::thread::scope(|scope| {
            let loops = || {
                let each = stand.loops.iter();
                each.map(|(test, unchanged)| self.look_at_loop(test, &changes, unchanged.clone()))
                    .collect()
            };
            let beside = (!stand.loops.is_empty()).then(|| scope.spawn(loops));
            let outcome = super::run(self.circuit, self.tests, of, &options);
            let loops: Vec<LoopFigures> =
                beside.and_then(|run| run.join().ok()).unwrap_or_default();
            (outcome, loops)
        });
        Ok(Turned { outcome: outcome?, loops })
    }

    fn stand(&self, test: &Test) -> Stand {
        let options =
            RunOptions { quick: true, reads: Reads::Measurements, ..RunOptions::default() };
        let work = super::run(self.circuit, self.tests, test, &options).map(|o| o.work);
        let steps = work.map_or(0, |w| w.steps + w.rejected_error + w.rejected_newton);
        let at_rest = |test: &Test| Unchanged::at_rest(self.circuit, test).map(Arc::new);
        Stand {
            // As a run by itself has it: none for tests at rest.
            unchanged: Unchanged::of(self.circuit, test).map(Arc::new),
            loops: loop_tests(self.circuit, test)
                .into_iter()
                .map(|test| {
                    let unchanged = at_rest(&test);
                    (test, unchanged)
                })
                .collect(),
            work_limit: STUDY_WORK_LIMIT.max(LONGEST * steps),
        }
    }

    fn look_at_loop(
        &self,
        test: &Test,
        changes: &Changes,
        unchanged: Option<Arc<Unchanged>>,
    ) -> LoopFigures {
        const WATCHED: [&str; 2] = ["phase_margin", "crossover"];
        let options = RunOptions {
            changes: changes.clone(),
            quick: true,
            reads: Reads::Measurements,
            watched: Some(WATCHED.map(str::to_owned).to_vec()),
            unchanged,
            ..RunOptions::default()
        };
        let outcome = match super::run(self.circuit, self.tests, test, &options) {
            Ok(outcome) => outcome,
            Err(told) => {
                let why = told.into_iter().next().map_or_else(String::new, |m| m.message);
                let (phase_margin, crossover) = (Err(why.clone()), Err(why));
                return LoopFigures { condition: test.name.clone(), phase_margin, crossover };
            }
        };
        let of = |name: &str| outcome.measurements.iter().find(|m| m.name == name);
        let figure = |name: &str| {
            let failed = outcome.failure.as_ref().map(|failure| failure.message.clone());
            let found = of(name);
            let why = || found.and_then(|m| m.reason.clone());
            let unknown = || "not found".to_owned();
            found.and_then(|m| m.value).ok_or_else(|| failed.or_else(why).unwrap_or_else(unknown))
        };
        let told = WATCHED.iter().find_map(|name| of(name)?.settings.get("condition"));
        LoopFigures {
            condition: told.cloned().unwrap_or_else(|| test.name.clone()),
            phase_margin: figure("phase_margin"),
            crossover: figure("crossover"),
        }
    }
}

/// Whether a test is solved through time once: of others a draft would lack curves.
fn is_plain(test: &Test) -> bool {
    !matches!(test.motion, Motion::Rest | Motion::Steady(_) | Motion::Pulses(_))
}

/// A test of the loop at each level that a test in time visits.
fn loop_tests(circuit: &Circuit, test: &Test) -> Vec<Test> {
    let fed_back = circuit.rail.as_ref().is_some_and(|rail| rail.feedback.is_some());
    if !fed_back || matches!(test.motion, Motion::Steady(_)) {
        return Vec::new();
    }
    let one = |words: &str, loads: Vec<Program>, sources: Vec<Program>| {
        let frequencies = Frequencies { lowest: None, highest: None, per_decade: PER_DECADE };
        let quest = Quest::LoopGain { frequencies, nyquist: false };
        let (load_levels, source_levels) = (loads, sources);
        let motion = SteadyMotion { load_levels, source_levels, ambients: Vec::new(), quest };
        Test {
            name: words.to_owned(),
            kind: TestKind::LoopGain,
            motion: Motion::Steady(Box::new(motion)),
            requirements: Vec::new(),
            ..test.clone()
        }
    };
    let loads = |from: &Program, to: &Program| {
        vec![
            one("before", vec![from.clone()], Vec::new()),
            one("loaded", vec![to.clone()], Vec::new()),
        ]
    };
    match &test.motion {
        Motion::Step(step) if step.mover == Mover::Source => vec![
            one("before", Vec::new(), vec![step.from.clone()]),
            one("held", Vec::new(), vec![step.to.clone()]),
        ],
        Motion::Step(step) => loads(&step.from, &step.to),
        Motion::Pulses(pulses) => loads(&pulses.from, &pulses.to),
        Motion::Profile(profile) => {
            match profile.load.as_deref().and_then(|p| ends(circuit, test, p)) {
                Some((lowest, highest)) => loads(&lowest, &highest),
                None => vec![one("at rest", Vec::new(), Vec::new())],
            }
        }
        _ => vec![one("at rest", Vec::new(), Vec::new())],
    }
}

/// The lowest and the highest level of a profile.
fn ends(
    circuit: &Circuit,
    test: &Test,
    points: &[(Program, Program)],
) -> Option<(Program, Program)> {
    let variant = circuit.variant(&test.changes).ok()?;
    let level = |point: &&(Program, Program)| variant.evaluate(&point.1);
    let lowest = points.iter().min_by(|a, b| level(a).total_cmp(&level(b)))?;
    let highest = points.iter().max_by(|a, b| level(a).total_cmp(&level(b)))?;
    Some((lowest.1.clone(), highest.1.clone()))
}

//! Runs one test on one variant: excite, find rest, step, confirm, measure.

use super::at_rest::{NodeLevel, PartRegion, levels_and_regions};
use super::observe::{Column, Observer};
use super::rail_view::rail_view;
use super::reads::Reads;
use super::rest::{Unchanged, rest};
use super::start::pass_terminals;
use super::steady::{self, Further};
use super::{
    Excitation, Explanation, Motion, Sample, Test, capacitors, excite, heat, pulses, short,
};
use crate::analysis::{DEFAULT_WORK_LIMIT, Events, Failure, Method, OperatingPoint, Start, Work};
use crate::circuit::{Changes, Circuit, RailFigures, Start as Beginning, Variant};
use crate::curve::{Curve, Listing};
use crate::device::Net;
use crate::diagnostic::Diagnostic;
use crate::measure::{
    Measurement, RailView, Requirement, Scene, Station, TestKind, Verdict, measure, overall,
};
use crate::quantity::celsius;
use crate::system::System;
use crate::waveform::Waveform;
use std::sync::Arc;

/// Target error of the output when nothing is said, in V.
const DEFAULT_ACCURACY_V: f64 = 10e-6;
/// Evenly spaced rows are never more than this, whatever is asked.
const MOST_EXTRA_ROWS: f64 = 1e7;

/// How tests are run, besides what the file says.
#[derive(Clone, Debug)]
pub struct RunOptions {
    /// Changes from outside, for all tests; a test's own come after them.
    pub changes: Changes,
    /// Target error of the output in V, over what the file says.
    pub accuracy_v: Option<f64>,
    /// Evenly spaced rows in the CSV, over what the file says.
    pub sample: Option<usize>,
    /// The integration formula.
    pub method: Method,
    /// Step attempts after which a test ends with a failure.
    pub work_limit: usize,
    /// Leaves out the second, tighter solution, so that no numerical uncertainty is known, and with
    /// it the droop's hand estimate and what takes further runs. What oscillates is solved again all the
    /// same.
    pub quick: bool,
    /// How much is read off the solution.
    pub reads: Reads,
    /// Solves every test by the other formula as well.
    pub cross_check: bool,
    /// A node to be recorded besides the rail's signals.
    pub probe: Option<String>,
    /// Names of the measurements that are wanted. A test in time evaluates no others, all where this is
    /// `None`; a steady one that does not read everything these beside what is asked.
    pub watched: Option<Vec<String>>,
    /// The rest of the same test with nothing changed, where it is known already.
    pub unchanged: Option<Arc<Unchanged>>,
}

impl Default for RunOptions {
    fn default() -> Self {
        Self {
            changes: Changes::default(),
            accuracy_v: None,
            sample: None,
            method: Method::default(),
            work_limit: DEFAULT_WORK_LIMIT,
            quick: false,
            reads: Reads::Everything,
            cross_check: false,
            probe: None,
            watched: None,
            unchanged: None,
        }
    }
}

/// The circumstances that stand beside every verdict.
#[derive(Clone, Debug, Default)]
pub struct Condition {
    /// Source level at the start in V.
    pub source_v: Option<f64>,
    /// What the load does, in words.
    pub load: Option<String>,
    /// What the source does, in words, where it moves.
    pub source: Option<String>,
    /// °C
    pub ambient_c: Option<f64>,
    /// Duration of the first edge in s.
    pub edge_s: Option<f64>,
    /// Length of the record in s.
    pub watched_s: Option<f64>,
    /// Target error of the output in V.
    pub accuracy_v: f64,
    /// Whether the second, tighter solution was left out.
    pub quick: bool,
    /// The rail as this test sees it.
    pub rail: RailView,
    /// Values of this test only, as written.
    pub values: Vec<(String, String)>,
}

/// What came of a test.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// As the file calls it.
    pub name: String,
    /// File stem.
    pub stem: String,
    /// Its kind.
    pub kind: TestKind,
    /// Worst of its lines that count, or error.
    pub verdict: Verdict,
    /// Why it could not be solved.
    pub failure: Option<Failure>,
    /// Its circumstances.
    pub condition: Condition,
    /// Every measurement of its kind.
    pub measurements: Vec<Measurement>,
    /// The values of the same measurements by the other formula; empty when it was not asked for.
    pub cross_check: Vec<Option<f64>>,
    /// What its droop is made of and what limited its recovery, for load steps.
    pub explanation: Option<Explanation>,
    /// Solver work.
    pub work: Work,
    /// What parts with states did, where there are such parts and the test runs in time.
    pub events: Option<Events>,
    /// How well energy and charge balance over the record, for tests that ran to their end.
    pub balance: Option<super::Balance>,
    /// What it drove and when.
    pub excitation: Excitation,
    /// The rail's signals.
    pub waveform: Waveform,
    /// CSV rows: times in s,
    pub times_s: Vec<f64>,
    /// and columns.
    pub columns: Vec<Column>,
    /// Nodes and parts at rest, for operating-point tests.
    pub at_rest: Option<(Vec<NodeLevel>, Vec<PartRegion>)>,
    /// Curves of a test that is solved at several conditions.
    pub curves: Vec<Curve>,
    /// Figures that belong together, such as poles, contributors, a headroom budget.
    pub listings: Vec<Listing>,
    /// Sentences that explain what was found.
    pub notes: Vec<String>,
}

/// Runs a test. What cannot be solved is an [`Outcome`] with a failure, not an error.
///
/// # Errors
/// When the test's changes or durations make no sense: told as mistakes of the file.
pub fn run(
    circuit: &Circuit,
    test: &Test,
    options: &RunOptions,
) -> Result<Outcome, Vec<Diagnostic>> {
    run_with(circuit, test, options, &Further::default())
}

/// As [`run`], with figures of a test at rest or over frequency that its own run does not find.
///
/// # Errors
/// As [`run`].
pub fn run_with(
    circuit: &Circuit,
    test: &Test,
    options: &RunOptions,
    further: &Further,
) -> Result<Outcome, Vec<Diagnostic>> {
    let mut prepared = Prepared::new(circuit, test, options)?;
    prepared.unchanged = Unchanged::beside(circuit, test, options);
    match &test.motion {
        Motion::Steady(motion) => steady::run(circuit, test, motion, options, (&prepared, further)),
        Motion::Pulses(motion) => pulses::run(&mut prepared, test, motion, options),
        Motion::Rest
        | Motion::Step(_)
        | Motion::Ramp(_)
        | Motion::Profile(_)
        | Motion::Short(_) => {
            let mut outcome = prepared.blank_outcome(test);
            prepared.march_from_rest(test, options, &mut outcome);
            Ok(outcome)
        }
    }
}

/// Everything wrong with a test that shows only once its values are known.
pub fn check(circuit: &Circuit, test: &Test, changes: &Changes) -> Vec<Diagnostic> {
    let options = RunOptions { changes: changes.clone(), ..RunOptions::default() };
    match Prepared::new(circuit, test, &options) {
        Ok(prepared) => {
            let start = match test.start {
                Start::OperatingPoint => Beginning::OperatingPoint,
                Start::InitialValues => Beginning::InitialValues,
            };
            let drives = &prepared.excitation.drives;
            let told = circuit.check_topology_of_test(&prepared.variant, drives, start);
            told.into_iter().map(|mistake| in_test(mistake, test)).collect()
        }
        Err(mistakes) => mistakes,
    }
}

impl Outcome {
    pub(super) fn fail(&mut self, failure: Failure) {
        self.failure = Some(failure);
        self.verdict = Verdict::Error;
    }
}

/// A test worked out for one variant.
pub(super) struct Prepared {
    pub(super) variant: Variant,
    pub(super) excitation: Excitation,
    pub(super) requirements: Vec<Requirement>,
    pub(super) rail: RailView,
    pub(super) accuracy_v: f64,
    pub(super) load: Option<String>,
    pub(super) source: Option<String>,
    kind: TestKind,
    inputs_hold: bool,
    quick: bool,
    pub(super) reads: Reads,
    probe: Option<String>,
    pub(super) watched: Option<Vec<String>>,
    /// Where the search for the rest starts, of a circuit that was changed from outside.
    pub(super) unchanged: Option<Arc<Unchanged>>,
    /// Figures that no waveform tells.
    pub(super) stations: Vec<Station>,
}

impl Prepared {
    pub(super) fn new(
        circuit: &Circuit,
        test: &Test,
        options: &RunOptions,
    ) -> Result<Self, Vec<Diagnostic>> {
        let mut changes = options.changes.clone();
        changes.list.extend(test.changes.list.iter().cloned());
        let variant = circuit.variant(&changes)?;
        let mut told = Vec::new();
        let excitation = excite(test, &variant).unwrap_or_else(|complaints| {
            told.extend(
                complaints
                    .into_iter()
                    .map(|c| Diagnostic::error(test.place(c.key), c.message).hint(c.hint)),
            );
            Excitation::default()
        });
        let mut requirements = Vec::with_capacity(test.requirements.len());
        for requirement in &test.requirements {
            match requirement.evaluate(&variant) {
                Ok(requirement) => requirements.push(requirement),
                Err(mistakes) => told.extend(mistakes),
            }
        }
        let own = test.accuracy_v.as_ref().map(|p| variant.evaluate(p));
        let accuracy_v = options.accuracy_v.or(own).unwrap_or(DEFAULT_ACCURACY_V);
        told.extend(above_zero(test, "accuracy", own, "10 µV"));
        let spacing_s = match &test.sample {
            Some(Sample::Every(program)) => Some(variant.evaluate(program)),
            _ => None,
        };
        told.extend(above_zero(test, "sample", spacing_s, "1 µs"));
        told.extend(steady::doubtful_figures(test, &variant));
        let rail = rail_view(test, &variant).unwrap_or_else(|mistakes| {
            told.extend(mistakes);
            RailView::default()
        });
        if !told.is_empty() {
            return Err(told);
        }
        let name = |driven: &Option<super::Driven>| driven.as_ref().map(|d| d.part.clone());
        let driven = |part: &str| excitation.drives.iter().any(|(name, _)| name == part);
        let inputs_hold =
            variant.parts.iter().filter(|p| !driven(&p.name)).all(|p| !p.moves_by_itself());
        Ok(Self {
            rail,
            load: name(&test.load),
            source: name(&test.source),
            variant,
            excitation,
            requirements,
            accuracy_v,
            kind: test.kind,
            inputs_hold,
            quick: options.quick,
            reads: options.reads,
            probe: options.probe.clone(),
            watched: options.watched.clone(),
            unchanged: None,
            stations: Vec::new(),
        })
    }

    /// The circuit as this test drives it, with the contact across its output if there is one.
    pub(super) fn net(&self) -> Net {
        let mut net = self.variant.net(&self.excitation.drives);
        // A rail that is about to be started is not looked for where it would be once it runs.
        if self.kind == TestKind::StartUp {
            net.wanted = None;
        }
        if let Some(siemens) = &self.excitation.contact {
            short::lay(&mut net, &self.variant, siemens);
        }
        net
    }

    /// Finds the rest and, where something moves, goes on from there.
    pub(super) fn march_from_rest(&self, test: &Test, options: &RunOptions, outcome: &mut Outcome) {
        let net = self.net();
        let system = System::build(&net);
        match rest(self, test.start, &system) {
            Err(failure) => outcome.fail(failure),
            Ok(rest) => {
                outcome.work.newton_iterations = rest.newton_iterations;
                outcome.work.factorisations = rest.factorisations;
                if let Motion::Rest = test.motion {
                    self.look_at_rest(&system, &rest, test, outcome);
                } else {
                    self.step_through(&system, &rest, test, options, outcome);
                }
            }
        }
    }

    pub(super) fn figures(&self) -> Option<&RailFigures> {
        self.variant.rail.as_ref()
    }

    pub(super) fn observer<'a>(&'a self, system: &'a System) -> Observer<'a> {
        let parts = (self.load.as_deref(), self.source.as_deref());
        let capacitors = capacitors::watched(self, system);
        let mut observer = Observer::new(system, self.figures(), parts, capacitors, self.reads);
        // Only what asks for it pays for it.
        if self.kind == TestKind::PowerDown
            && let Some(rail) = self.figures()
        {
            observer = observer.through(&pass_terminals(&self.variant, rail));
        }
        observer.with_probe(self.probe.as_deref()).watching(self.watched.as_deref())
    }

    pub(super) fn blank_outcome(&self, test: &Test) -> Outcome {
        let written = test.changes.list.iter().filter(|c| c.path != "rail.ambient");
        let source_level = self.source.as_ref().and_then(|name| {
            let driven = self.excitation.drives.iter().find(|(part, _)| part == name).map(|d| &d.1);
            driven
                .or(self.variant.part(name)?.parameters.drive.as_ref())
                .map(crate::device::Drive::initial)
        });
        Outcome {
            name: test.name.clone(),
            stem: test.stem.clone(),
            kind: test.kind,
            verdict: Verdict::NoRequirements,
            failure: None,
            condition: Condition {
                source_v: source_level,
                load: self.excitation.load_words.clone(),
                source: self.excitation.source_words.clone(),
                ambient_c: self
                    .figures()
                    .filter(|_| self.excitation.ambient_words.is_none())
                    .map(|r| celsius(r.ambient_k)),
                edge_s: self.excitation.edge_s,
                watched_s: (self.excitation.end_s > 0.0).then_some(self.excitation.end_s),
                accuracy_v: self.accuracy_v,
                quick: self.quick,
                rail: self.rail,
                values: written
                    .map(|c| (c.path.clone(), c.text.clone()))
                    .chain(
                        self.excitation.ambient_words.clone().map(|w| ("ambients".to_owned(), w)),
                    )
                    .chain(self.excitation.by_words.clone())
                    .collect(),
            },
            measurements: Vec::new(),
            cross_check: Vec::new(),
            explanation: None,
            work: Work::default(),
            events: None,
            balance: None,
            excitation: self.excitation.clone(),
            waveform: Waveform::default(),
            times_s: Vec::new(),
            columns: Vec::new(),
            at_rest: None,
            curves: Vec::new(),
            listings: Vec::new(),
            notes: self.excitation.notes.clone(),
        }
    }

    pub(super) fn scene<'a>(&'a self, kind: TestKind, waveform: &'a Waveform) -> Scene<'a> {
        Scene {
            kind,
            waveform,
            edges: self.excitation.edges.clone(),
            dwells: self.excitation.dwells.clone(),
            rail: self.rail,
            inputs_hold: self.inputs_hold,
            stations: &self.stations,
            watched: self.watched.as_deref(),
        }
    }

    fn look_at_rest(
        &self,
        system: &System,
        rest: &OperatingPoint,
        test: &Test,
        outcome: &mut Outcome,
    ) {
        let waveform = self.observer(system).at_rest(&rest.z);
        outcome.measurements = measure(&self.scene(test.kind, &waveform), &self.requirements);
        outcome.verdict = overall(&outcome.measurements);
        outcome.waveform = waveform;
        outcome.at_rest = Some(levels_and_regions(system, rest));
        capacitors::tell(self, system, &rest.z, outcome);
        heat::tell(system, &rest.z, outcome);
    }

    pub(super) fn extra_times(&self, test: &Test, options: &RunOptions) -> Vec<f64> {
        let end_s = self.excitation.end_s;
        let spacing = match (options.sample, &test.sample) {
            (Some(count), _) => end_s / count as f64,
            (None, Some(Sample::Count(count))) => end_s / *count as f64,
            (None, Some(Sample::Every(program))) => self.variant.evaluate(program),
            (None, None) => return Vec::new(),
        };
        let count = (end_s / spacing).min(MOST_EXTRA_ROWS);
        if !(count >= 1.0) {
            return Vec::new();
        }
        (1..=count as usize).map(|k| k as f64 * spacing).collect()
    }
}

/// A mistake that the circuit has only as this test changes and drives it, placed at the test.
fn in_test(mut mistake: Diagnostic, test: &Test) -> Diagnostic {
    if let Some(part) = mistake.span.replace(test.span) {
        mistake.also.insert(0, (part, "the part".to_owned()));
    }
    mistake
}

/// The mistake of a figure that is not above zero, if it is none.
fn above_zero(test: &Test, key: &str, value: Option<f64>, example: &str) -> Option<Diagnostic> {
    let wrong = value.is_some_and(|v| !(v > 0.0 && v.is_finite()));
    let message = format!("`{key}` must be above zero");
    let hint = format!("write `{key} = \"{example}\"`, or leave it out");
    wrong.then(|| Diagnostic::error(test.place(key), message).hint(hint))
}

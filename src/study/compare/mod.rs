//! A measured trace held against a test: aligned in time, values fitted to it, what is left judged
//! against the noise; and a new capacitor held against the region that was allowed.

mod align;
mod fit;
mod intervals;
mod knob;
mod layout;
mod linear;
mod problem;
mod readings;
mod residual;
mod solution;
mod student;
pub mod substitution;
#[cfg(test)]
mod tests;
mod ties;
mod trace;

pub use fit::{Bound, Ended};
pub use intervals::{Known, Worth};
pub use knob::{Knob, MOST_KNOBS, knob};
pub use problem::Shift;
pub use readings::Compared;
pub use residual::{Agreement, Noise, NoiseSource, Remainder};
pub use solution::Solution;
pub use student::{CONFIDENCE, student};
pub(super) use ties::combination;
pub use ties::{Lost, Only};
pub use trace::{Columns, FEWEST_SAMPLES, MOST_SAMPLES, Trace, read_trace};

use super::{Ground, STUDY_WORK_LIMIT, first_message, in_parallel};
use crate::analysis::Start;
use crate::circuit::{Change, Changes, Variant};
use crate::measure::scene::signal;
use crate::trial::{Motion, Outcome, Reads, RunOptions, Test};
use fit::Descent;
use problem::Problem;
use std::cell::Cell;

/// Solutions are aimed at this share of the test's target error: values are turned by half a percent,
/// and what that moves must stand clear of the solver's error.
const FINER: f64 = 0.1;
/// What a solution is taken to differ from the exact one by, over the error it is aimed at.
const OF_TARGET: f64 = 0.2;
/// Another descent that ends with so much more rms is told as another answer.
const NEARLY_AS_GOOD: f64 = 1.1;

/// What is asked.
#[derive(Clone, Debug)]
pub struct Ask {
    /// Which of the file's tests.
    pub test: usize,
    /// The node that was measured; the rail's output when `None`.
    pub node: Option<String>,
    /// What is fitted.
    pub knobs: Vec<Knob>,
    /// Where the trace's zero lies in the record.
    pub shift: Shift,
    /// Whether a constant error of the probe is fitted.
    pub offset_free: bool,
    /// Standard deviation of the trace's noise in V, if it is known.
    pub noise_v: Option<f64>,
}

/// One sample both ways.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// s of the record.
    pub time_s: f64,
    /// V, the offset taken off.
    pub measured_v: f64,
    /// V
    pub simulated_v: f64,
}

/// One fitted value.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    /// What was moved.
    pub knob: Knob,
    /// What it came to, in SI base units.
    pub value: f64,
    /// How well that is known.
    pub known: Known,
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// Which test.
    pub test: usize,
    /// The node that was compared.
    pub node: String,
    /// Whether that is the rail's output.
    pub is_output: bool,
    /// Every sample that the record covers.
    pub rows: Vec<Row>,
    /// Samples beyond the record.
    pub left_out: usize,
    /// What was added to the trace's times, s.
    pub shift_s: f64,
    /// What was taken off the trace, V.
    pub offset_v: f64,
    /// The fitted values.
    pub values: Vec<Fitted>,
    /// The same as `--set` arguments.
    pub changes: Vec<Change>,
    /// Intervals and ties.
    pub worth: Worth,
    /// What is left.
    pub remainder: Remainder,
    /// The trace and the solution measured alike; empty for a node other than the output.
    pub compared: Vec<Compared>,
    /// The solution at the fitted values.
    pub solution: Solution,
    /// The solution at the values of the file, where some are fitted.
    pub present: Option<Solution>,
    /// The test at the fitted values, with the rail's voltages.
    pub outcome: Outcome,
    /// How the fit ended; `None` where nothing was found.
    pub ended: Option<Ended>,
    /// Other values that fit nearly as well, as `--set` arguments, with their rms in V.
    pub others: Vec<(Vec<Change>, f64)>,
    /// Solutions it took.
    pub runs: usize,
}

/// The first load step of a file, else its first test in time.
pub fn usual_test(tests: &[Test]) -> Option<usize> {
    let load_step = tests.iter().position(|t| t.kind == crate::measure::TestKind::LoadStep);
    load_step.or_else(|| tests.iter().position(moves))
}

fn moves(test: &Test) -> bool {
    matches!(test.motion, Motion::Step(_) | Motion::Ramp(_) | Motion::Profile(_))
}

/// Holds a trace against a test.
///
/// # Errors
/// Why that cannot be done, with what to type.
pub fn compare(ground: &Ground<'_>, ask: &Ask, trace: &Trace) -> Result<Comparison, String> {
    let test = ground.tests.get(ask.test).ok_or("there is no such test")?;
    let bench = Bench::new(ground, test, ask)?;
    let solve = |lists: &[Vec<Change>]| bench.solve(lists);
    let problem = Problem {
        trace,
        knobs: &ask.knobs,
        shift: ask.shift,
        offset_free: ask.offset_free,
        blur_v: OF_TARGET * bench.target_v,
        threads: ground.threads,
        solve: &solve,
        runs: Cell::new(0),
    };
    let found = fit::fit(&problem)?;
    let best = found.first().ok_or("nothing could be solved")?;
    let worth = intervals::worth(&problem, best)
        .ok_or("the test cannot be solved beside the fitted values; narrow the bounds")?;
    let present = present(&problem)?;
    report(&bench, &problem, &found, worth, present)
}

/// Solves the test for others.
struct Bench<'a> {
    ground: &'a Ground<'a>,
    test: &'a Test,
    ask: &'a Ask,
    node: String,
    /// The error that solutions are aimed at, V.
    target_v: f64,
    /// The name of the signal in the waveform.
    signal: &'static str,
}

impl<'a> Bench<'a> {
    fn new(ground: &'a Ground<'a>, test: &'a Test, ask: &'a Ask) -> Result<Self, String> {
        if !moves(test) {
            let name = &test.name;
            return Err(format!(
                "`{name}` does not run through time; name one that does by `--test`"
            ));
        }
        for knob in &ask.knobs {
            if test.changes.list.iter().any(|change| change.path == knob.path) {
                let (path, name) = (&knob.path, &test.name);
                return Err(format!(
                    "`{path}` is set by `{name}` itself, so `--fit` cannot move it"
                ));
            }
        }
        let variant = variant(ground, test, &[])?;
        let output = variant.rail.as_ref().and_then(|rail| rail.output.clone());
        let node = match (&ask.node, &output) {
            (Some(node), _) => node.clone(),
            (None, Some(output)) => output.clone(),
            (None, None) => {
                return Err("`[rail]` names no `output`; name a node by `--node`".to_owned());
            }
        };
        let known = ground.circuit.node_names();
        if !known.contains(&node.as_str()) {
            let hint = match crate::diagnostic::nearest(&node, known.iter().copied()) {
                Some(near) => format!("write `--node {near}`"),
                None => format!("the nodes are {}", known.join(", ")),
            };
            return Err(format!("there is no node `{node}`; {hint}"));
        }
        let signal = if output.as_ref() == Some(&node) { signal::OUTPUT } else { signal::PROBE };
        let mut bench = Self { ground, test, ask, node, target_v: 0.0, signal };
        let first = bench.run(&[], 0.0)?;
        bench.target_v = FINER * first.condition.accuracy_v;
        Ok(bench)
    }

    /// Solves once; aimed at the test's own error where `target_v` is 0.
    fn run(&self, changes: &[Change], target_v: f64) -> Result<Outcome, String> {
        let mut options: RunOptions = self.ground.options.clone();
        options.changes.list.extend_from_slice(changes);
        if target_v > 0.0 {
            options.accuracy_v = Some(target_v);
        }
        options.work_limit = options.work_limit.min(STUDY_WORK_LIMIT);
        (options.quick, options.cross_check, options.sample) = (true, false, None);
        let probe = Some(&self.node).filter(|_| self.signal == signal::PROBE);
        (options.reads, options.probe) = (Reads::Voltages, probe.cloned());
        let outcome = crate::trial::run(self.ground.circuit, self.test, &options);
        let outcome = outcome.map_err(first_message)?;
        match &outcome.failure {
            Some(failure) => {
                Err(format!("`{}` cannot be solved: {}", outcome.name, failure.message))
            }
            None => Ok(outcome),
        }
    }

    fn solve(&self, lists: &[Vec<Change>]) -> Vec<Result<Solution, String>> {
        in_parallel(lists.len(), self.ground.threads, |k| {
            self.solution(&self.run(&lists[k], self.target_v)?)
        })
    }

    fn solution(&self, outcome: &Outcome) -> Result<Solution, String> {
        let at_rest = self.test.start == Start::OperatingPoint;
        let signal = outcome.waveform.signal(self.signal).cloned();
        let times = outcome.waveform.time_s.clone();
        let solution = signal.and_then(|signal| Solution::new(times, signal, at_rest));
        solution.ok_or_else(|| format!("node `{}` was not recorded", self.node))
    }
}

fn variant(ground: &Ground<'_>, test: &Test, changes: &[Change]) -> Result<Variant, String> {
    let own = test.changes.list.iter();
    let list = ground.options.changes.list.iter().chain(changes).chain(own).cloned().collect();
    ground.circuit.variant(&Changes { list }).map_err(first_message)
}

/// The fit of shift and offset alone, at the values of the file; `None` where nothing else is fitted
/// anyway.
fn present(problem: &Problem<'_>) -> Result<Option<Descent>, String> {
    if problem.knobs.is_empty() {
        return Ok(None);
    }
    let present = Problem { knobs: &[], runs: Cell::new(0), ..*problem };
    let found = fit::fit(&present)?;
    problem.runs.set(problem.runs.get() + present.runs.get());
    Ok(found.into_iter().next())
}

fn report(
    bench: &Bench<'_>,
    problem: &Problem<'_>,
    found: &[Descent],
    worth: Worth,
    present: Option<Descent>,
) -> Result<Comparison, String> {
    let best = found.first().ok_or("nothing could be solved")?;
    let (seen, trace) = (&best.seen, problem.trace);
    let row = |&k: &usize| {
        let time_s = trace.time_s[k] + seen.place.shift_s;
        let measured_v = trace.volt[k] - seen.place.offset_v;
        Row { time_s, measured_v, simulated_v: seen.solution.volt(time_s) }
    };
    let rows: Vec<Row> = best.used.iter().map(row).collect();
    let outcome = bench.run(&seen.changes, bench.target_v)?;
    let remainder = remainder(bench.ask, &outcome, &rows, &worth, (best, present.as_ref()));
    let compared = if bench.signal == signal::OUTPUT {
        let variant = variant(bench.ground, bench.test, &seen.changes)?;
        let (times, volts): (Vec<f64>, Vec<f64>) =
            rows.iter().map(|row| (row.time_s, row.measured_v)).unzip();
        let samples = (times.as_slice(), volts.as_slice());
        readings::compared(bench.test, &variant, &outcome, samples, remainder.noise.volt)
    } else {
        Vec::new()
    };
    let knobs = problem.knobs.iter().zip(&seen.place.u).zip(&worth.known);
    let values = knobs.map(|((knob, u), known)| Fitted {
        knob: knob.clone(),
        value: knob.at(*u),
        known: known.clone(),
    });
    let nothing = problem.aside() + problem.knobs.len() == 0;
    Ok(Comparison {
        test: bench.ask.test,
        node: bench.node.clone(),
        is_output: bench.signal == signal::OUTPUT,
        left_out: trace.time_s.len() - rows.len(),
        rows,
        shift_s: seen.place.shift_s,
        offset_v: seen.place.offset_v,
        values: values.collect(),
        changes: seen.changes.clone(),
        remainder,
        compared,
        solution: seen.solution.clone(),
        present: present.map(|descent| descent.seen.solution),
        outcome,
        ended: (!nothing).then_some(best.ended),
        others: if worth.lost.is_empty() { others(problem, found) } else { Vec::new() },
        worth,
        runs: problem.runs.get(),
    })
}

/// Other ends of descents that fit nearly as well as the best, at clearly other values.
fn others(problem: &Problem<'_>, found: &[Descent]) -> Vec<(Vec<Change>, f64)> {
    /// Of the way between the bounds.
    const APART: f64 = 0.02;
    let Some((best, rest)) = found.split_first() else { return Vec::new() };
    let limit = best.mean_square() * NEARLY_AS_GOOD * NEARLY_AS_GOOD;
    let apart = |d: &&Descent| {
        let pairs = d.seen.place.u.iter().zip(&best.seen.place.u).zip(problem.knobs);
        let way = pairs.map(|((a, b), knob)| (a - b).abs() / knob.extent()).fold(0.0, f64::max);
        way > APART && d.mean_square() <= limit
    };
    let told = |d: &Descent| (d.seen.changes.clone(), d.mean_square().sqrt());
    rest.iter().filter(apart).map(told).take(1).collect()
}

fn remainder(
    ask: &Ask,
    outcome: &Outcome,
    rows: &[Row],
    worth: &Worth,
    (best, present): (&Descent, Option<&Descent>),
) -> Remainder {
    let residual = &best.seen.residual;
    let edge_s = outcome.excitation.edges.first().map_or(0.0, |edge| edge.start_s);
    // A sample's width ahead of the edge may belong to it already, the shift being what it is.
    let margin_s = rows.windows(2).map(|p| p[1].time_s - p[0].time_s).fold(f64::INFINITY, f64::min);
    let ahead = rows.iter().take_while(|row| row.time_s < edge_s - margin_s);
    let flat: Vec<(f64, f64)> = ahead.map(|row| (row.time_s, row.measured_v)).collect();
    let noise = residual::noise(ask.noise_v, &flat, residual);
    let rms_v = best.mean_square().sqrt();
    let by_size = |a: &(usize, &f64), b: &(usize, &f64)| a.1.abs().total_cmp(&b.1.abs());
    let (at, largest_v) =
        residual.iter().enumerate().max_by(by_size).map_or((0, 0.0), |(k, r)| (k, *r));
    Remainder {
        rms_v,
        largest_v,
        largest_at_s: rows.get(at).map_or(0.0, |row| row.time_s),
        present_rms_v: present.unwrap_or(best).mean_square().sqrt(),
        noise,
        agreement: residual::agreement(rms_v, worth.independent, &noise),
    }
}

//! The worst case of each requirement: every corner of the environment is run; tolerances are
//! searched from there, each turned to both its limits alone, then all together to their worse sides,
//! and each turned back once more, until nothing gets worse. What is told was run.

use super::runner::{Halt, Runner};
use super::scatter::Scatters;
use super::shot::{Line, Reading, Shot};
use super::spell::spelled;
use crate::circuit::{Change, Changes, Circuit};
use crate::measure::Verdict;

/// Rounds of turning back at a vertex. One finds what the signs of single turns missed; more find
/// what that moved.
const MOST_ROUNDS: usize = 3;
/// Less of a slack is not told from rounding and tolerances of the solution: such a turn is none.
const LEAST: f64 = 1e-5;
/// Corners of the environment beyond which a file's lists are refused.
pub const MOST_CORNERS: usize = 4096;

/// How far tolerances are searched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Depth {
    /// Corners of the environment only.
    Environment,
    /// One vertex of the tolerances a requirement, by the signs of single turns.
    Signs,
    /// The same, and each tolerance turned back at that vertex until nothing gets worse.
    Searched,
}

/// The worst that was seen of one row of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Worst {
    /// What it came to.
    pub line: Line,
    /// What made it so, besides what was set for all runs.
    pub changes: Vec<Change>,
    /// Why there is no line: the run could not be solved.
    pub failure: Option<String>,
}

/// What came of one test.
#[derive(Clone, Debug, PartialEq)]
pub struct WorstOfTest {
    /// Which test.
    pub test: usize,
    /// One a row of its sheet.
    pub rows: Vec<Worst>,
    /// Runs that were looked at.
    pub runs: usize,
}

impl WorstOfTest {
    /// The worst verdict of its rows.
    pub fn verdict(&self) -> Verdict {
        Verdict::worst(self.rows.iter().map(|w| w.line.verdict))
    }
}

/// How bad a line is; greater is worse. What fails without a number is worse than any number.
pub fn badness(line: &Line) -> f64 {
    match (line.slack, line.verdict) {
        (_, Verdict::Error) => 2e9,
        (None, Verdict::Fail) => 1e9,
        // The number lies inside, but the rail is in a state that cannot satisfy the limit.
        (Some(slack), Verdict::Fail) if slack >= 0.0 => 1e9,
        (Some(slack), Verdict::NotEvaluated) if slack >= 0.0 => 1e8,
        (Some(slack), _) => -slack,
        // Told apart from a pass without a scale: what cannot be evaluated counts against it.
        (None, Verdict::NotEvaluated) => 1e8,
        (None, _) => f64::NEG_INFINITY,
    }
}

/// Every corner of the environment of a test: one level of each list of `[corners]`, lists of what
/// moves nothing in the test, or is set by it or from outside, left out. One empty corner where there are none.
///
/// # Errors
/// [`Halt::Refused`] where they are more than [`MOST_CORNERS`].
pub fn environment(runner: &Runner<'_>, test: usize) -> Result<Vec<Vec<Change>>, Halt> {
    let lists = runner.corner_lists(test);
    let lists: Vec<_> = lists.filter(|l| l.changes.iter().any(|c| runner.moves(test, c))).collect();
    let count = lists.iter().try_fold(1_usize, |n, l| n.checked_mul(l.changes.len().max(1)));
    if count.is_none_or(|count| count > MOST_CORNERS) {
        let why =
            format!("`[corners]` has more than {MOST_CORNERS} combinations; shorten its lists");
        return Err(Halt::Refused(why));
    }
    let mut corners = vec![Vec::new()];
    for list in lists.into_iter().filter(|l| !l.changes.is_empty()) {
        let with = |corner: &Vec<Change>| {
            let each = list.changes.iter().map(|change| {
                let mut corner = corner.clone();
                // Where it stands in the file is of no interest here.
                corner.push(Change { span: None, ..change.clone() });
                corner
            });
            each.collect::<Vec<_>>()
        };
        corners = corners.iter().flat_map(with).collect();
    }
    Ok(corners)
}

/// The worst case of every row of some tests, with `base` set for all runs.
///
/// # Errors
/// As [`Runner::run`].
pub fn worst(
    runner: &Runner<'_>,
    tests: &[usize],
    base: &[Change],
    depth: Depth,
) -> Result<Vec<WorstOfTest>, Halt> {
    let mut hunts = Vec::new();
    for &test in tests {
        let rows = runner.sheet(test).map_or(0, |sheet| sheet.rows.len());
        hunts.push(Hunt { test, seen: vec![None; rows], runs: 0 });
    }
    let mut batch = Batch::default();
    for hunt in &hunts {
        for corner in environment(runner, hunt.test)? {
            batch.add(hunt.test, base, corner);
        }
    }
    batch.run(runner, &mut hunts)?;
    if depth != Depth::Environment {
        tolerances(runner, &mut hunts, base, depth)?;
    }
    let done = |hunt: Hunt| {
        let rows = hunt.seen.into_iter().map(|seen| seen.unwrap_or_else(nothing_seen)).collect();
        WorstOfTest { test: hunt.test, rows, runs: hunt.runs }
    };
    Ok(hunts.into_iter().map(done).collect())
}

fn nothing_seen() -> Worst {
    let line = Line { value: None, slack: None, verdict: Verdict::NotEvaluated, reason: None };
    Worst { line, changes: Vec::new(), failure: None }
}

/// The search in one test.
struct Hunt {
    test: usize,
    seen: Vec<Option<Worst>>,
    runs: usize,
}

impl Hunt {
    fn note(&mut self, reading: &Reading, changes: &[Change]) {
        self.runs += 1;
        for (k, seen) in self.seen.iter_mut().enumerate() {
            let line = reading.line(k);
            if seen.as_ref().is_none_or(|s| badness(&line) > badness(&s.line)) {
                let (changes, failure) = (changes.to_vec(), reading.failure.clone());
                *seen = Some(Worst { line, changes, failure });
            }
        }
    }
}

/// Shots for several hunts, run together.
#[derive(Default)]
struct Batch {
    shots: Vec<Shot>,
    /// What each changes over the base.
    over: Vec<Vec<Change>>,
}

impl Batch {
    fn add(&mut self, test: usize, base: &[Change], over: Vec<Change>) {
        let changes = base.iter().chain(&over).cloned().collect();
        self.shots.push(Shot { test, changes });
        self.over.push(over);
    }

    fn run(self, runner: &Runner<'_>, hunts: &mut [Hunt]) -> Result<Vec<Reading>, Halt> {
        let readings = runner.run(&self.shots)?;
        for ((shot, over), reading) in self.shots.iter().zip(&self.over).zip(&readings) {
            if let Some(hunt) = hunts.iter_mut().find(|hunt| hunt.test == shot.test) {
                hunt.note(reading, over);
            }
        }
        Ok(readings)
    }
}

/// A search of the tolerances for one row, at one corner of the environment.
struct Climb<'a> {
    hunt: usize,
    row: usize,
    corner: Vec<Change>,
    scatters: Scatters<'a>,
    /// Of each tolerance that moves this test: -1, 0 or 1.
    at: Vec<f64>,
    badness: f64,
}

fn tolerances(
    runner: &Runner<'_>,
    hunts: &mut [Hunt],
    base: &[Change],
    depth: Depth,
) -> Result<(), Halt> {
    let mut climbs = climbs(runner, hunts, base);
    climbs.retain(|climb| !climb.scatters.list.is_empty());
    let rounds = if depth == Depth::Searched { 1 + MOST_ROUNDS } else { 1 };
    for round in 0..rounds {
        turn_each(runner, hunts, base, &mut climbs, round)?;
        if climbs.is_empty() {
            break;
        }
    }
    Ok(())
}

/// One climb for each row that has a limit, from its worst corner.
fn climbs<'a>(runner: &Runner<'a>, hunts: &[Hunt], base: &[Change]) -> Vec<Climb<'a>> {
    let mut climbs = Vec::new();
    for (which, hunt) in hunts.iter().enumerate() {
        for (row, worst) in hunt.seen.iter().enumerate() {
            let Some(worst) = worst.as_ref().filter(|w| w.failure.is_none()) else { continue };
            let badness = badness(&worst.line);
            if badness == f64::NEG_INFINITY {
                continue;
            }
            let corner = worst.changes.clone();
            let scatters = scatters(runner, hunt.test, base, &corner);
            let at = vec![0.0; scatters.list.len()];
            climbs.push(Climb { hunt: which, row, corner, scatters, at, badness });
        }
    }
    climbs
}

/// What scatters in a test at a corner; what the test sets itself stays.
pub fn scatters<'a>(
    runner: &Runner<'a>,
    test: usize,
    base: &[Change],
    corner: &[Change],
) -> Scatters<'a> {
    scatters_as(runner, test, base, corner, Scatters::of)
}

/// The same, told by `of`, which is [`Scatters::of`] or does what it does.
pub(super) fn scatters_as<'a>(
    runner: &Runner<'a>,
    test: usize,
    base: &[Change],
    corner: &[Change],
    of: impl Fn(&'a Circuit, &Changes) -> Scatters<'a>,
) -> Scatters<'a> {
    let own = runner.ground.tests.get(test).map(|t| t.changes.list.as_slice()).unwrap_or_default();
    let options = &runner.ground.options.changes.list;
    let list = options.iter().chain(base).chain(corner).chain(own).cloned().collect();
    let mut scatters = of(runner.ground.circuit, &Changes { list });
    scatters.list.retain(|scatter| {
        let off = || spelled(&scatter.path, scatter.at(1.0), scatter.dimension).0;
        runner.scatters(test, &scatter.path, off)
    });
    scatters
}

/// Turns each tolerance of each climb to its other places, then all to where it was worse. Climbs
/// that found nothing worse are done and leave.
fn turn_each(
    runner: &Runner<'_>,
    hunts: &mut [Hunt],
    base: &[Change],
    climbs: &mut Vec<Climb<'_>>,
    round: usize,
) -> Result<(), Halt> {
    let mut batch = Batch::default();
    let mut asked = Vec::new();
    for (which, climb) in climbs.iter().enumerate() {
        for k in 0..climb.at.len() {
            // From the nominal place to both limits; later to the opposite one alone.
            let places: &[f64] = match climb.at[k] {
                at if at > 0.0 => &[-1.0],
                at if at < 0.0 => &[1.0],
                _ => &[-1.0, 1.0],
            };
            for &place in places {
                let mut at = climb.at.clone();
                at[k] = place;
                batch.add(hunts[climb.hunt].test, base, climb.over(&at));
                asked.push((which, k, place));
            }
        }
    }
    let readings = batch.run(runner, hunts)?;
    let mut vertices: Vec<Vec<f64>> = climbs.iter().map(|climb| climb.at.clone()).collect();
    let mut worse: Vec<Vec<f64>> = climbs.iter().map(|c| vec![c.badness; c.at.len()]).collect();
    for ((which, k, place), reading) in asked.into_iter().zip(&readings) {
        let badness = badness(&reading.line(climbs[which].row));
        if badness > worse[which][k] + LEAST {
            (worse[which][k], vertices[which][k]) = (badness, place);
        }
    }
    let mut batch = Batch::default();
    for (climb, vertex) in climbs.iter().zip(&vertices) {
        batch.add(hunts[climb.hunt].test, base, climb.over(vertex));
    }
    let readings = batch.run(runner, hunts)?;
    let mut left = Vec::new();
    for ((mut climb, vertex), reading) in climbs.drain(..).zip(vertices).zip(&readings) {
        let now = badness(&reading.line(climb.row));
        let moved = vertex != climb.at;
        // All turns together may be less bad than one alone; then the search ends here, and the
        // worst that was seen stands.
        if moved && (now > climb.badness + LEAST || round == 0) {
            (climb.at, climb.badness) = (vertex, now.max(climb.badness));
            left.push(climb);
        }
    }
    *climbs = left;
    Ok(())
}

impl Climb<'_> {
    fn over(&self, at: &[f64]) -> Vec<Change> {
        self.corner.iter().cloned().chain(self.scatters.changes(at)).collect()
    }
}

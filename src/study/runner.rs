//! Runs the shots of a study: on all cores, each once, and remembers them.
//!
//! A study is a program that asks for batches of shots and decides by their readings what to ask
//! next. It always asks the same, so a reading that is known from an earlier start, or from another
//! machine, is as good as a run: that is all there is to resuming and to joining shards.

use super::knobs::moves;
use super::models::Models;
use super::shot::{Reading, Shot};
use super::{first_message, in_parallel};
use crate::circuit::{Change, Circuit, CornerList};
use crate::measure::Measurement;
use crate::numeric::LANES;
use crate::trial::{Motion, Outcome, Reads, RunOptions, Test, Unchanged, go_abreast};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

/// Step attempts after which a run of a study is given up, unless fewer are asked for or the test
/// itself needs many: some fifty times what a load step of a settled rail takes.
pub const STUDY_WORK_LIMIT: usize = 20_000;
/// A run of a test may take this many times what it takes with nothing changed.
const LONGEST: usize = 20;

/// So many runs are made together at most: six times the lanes, so that few are empty at the end, and few
/// enough that their records stay in the cache's reach.
const MOST_TOGETHER: usize = 6 * LANES;
/// A batch is cut into so many groups a thread, so that none waits long for another.
const SHARES_A_THREAD: usize = 4;

/// Keeps readings beyond one start of a program.
pub trait Keeper: Sync {
    /// A reading known from before.
    fn recall(&self, key: &str) -> Option<Reading>;
    /// A reading that was just made.
    fn keep(&self, key: &str, reading: &Reading);
    /// Whether a shot is to be run here, where a study is spread over machines.
    fn is_mine(&self, _key: &str) -> bool {
        true
    }
    /// So many shots of a batch are done.
    fn progress(&self, _done: usize, _of: usize) {}
}

/// Keeps nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Forgetful;

impl Keeper for Forgetful {
    fn recall(&self, _key: &str) -> Option<Reading> {
        None
    }

    fn keep(&self, _key: &str, _reading: &Reading) {}
}

/// Why a study stopped before its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Halt {
    /// So many shots of a batch were for other machines; the study goes on once all are joined.
    Elsewhere {
        /// Made here, or known.
        here: usize,
        /// Left to others.
        left: usize,
    },
    /// It cannot be made as asked, in words.
    Refused(String),
}

/// Which measurements of a test a study looks at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Watch {
    /// All that have a limit.
    Judged,
    /// All that have a limit and count, advisory ones left out.
    Counting,
    /// All of this name.
    Named(String),
}

/// The measurements of one test that a study looks at, as they are with nothing changed.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The test.
    pub test: usize,
    /// Name, unit, limit, settings and definition of each; value and verdict are the present ones.
    pub rows: Vec<Measurement>,
    /// The whole outcome with nothing changed, solved once.
    pub outcome: Outcome,
    indices: Vec<usize>,
    reads: Reads,
    work_limit: usize,
    unchanged: Option<Arc<Unchanged>>,
}

/// A circuit with its tests, and how to run them.
#[derive(Clone, Debug)]
pub struct Ground<'a> {
    /// The circuit.
    pub circuit: &'a Circuit,
    /// All tests of its file.
    pub tests: &'a [Test],
    /// Changes from outside, accuracy, method; each run is solved once.
    pub options: RunOptions,
    /// How many threads.
    pub threads: usize,
}

/// Runs shots of some tests.
pub struct Runner<'a> {
    /// What is run.
    pub ground: Ground<'a>,
    /// One a test that was chosen, in their order.
    pub sheets: Vec<Sheet>,
    /// The models of a regulator that are tried; the best one's changes are among the ground's.
    pub models: Option<Models>,
    keeper: &'a dyn Keeper,
    known: Mutex<BTreeMap<String, Reading>>,
    /// Whether a tolerance moves a test, by test and path.
    moving: Mutex<BTreeMap<(usize, String), bool>>,
}

impl<'a> Runner<'a> {
    /// Runs each chosen test once with nothing changed, to learn what it measures.
    ///
    /// # Errors
    /// [`Halt::Refused`] where one cannot be solved so, or has nothing to watch.
    pub fn new(
        mut ground: Ground<'a>,
        chosen: &[usize],
        watch: &Watch,
        keeper: &'a dyn Keeper,
    ) -> Result<Self, Halt> {
        let options = &mut ground.options;
        (options.quick, options.cross_check, options.sample) = (true, false, None);
        let looked =
            in_parallel(chosen.len(), ground.threads, |k| sheet(&ground, chosen[k], watch));
        let sheets = looked.into_iter().collect::<Result<Vec<Sheet>, Halt>>()?;
        if sheets.iter().all(|s| s.rows.is_empty()) {
            return Err(Halt::Refused(nothing_to_watch(watch)));
        }
        let (known, moving) = (Mutex::default(), Mutex::default());
        Ok(Self { ground, sheets, models: None, keeper, known, moving })
    }

    /// The same with several models of a regulator to try.
    #[must_use]
    pub fn with_models(self, models: Option<Models>) -> Self {
        Self { models, ..self }
    }

    /// The sheet of a test.
    pub fn sheet(&self, test: usize) -> Option<&Sheet> {
        self.sheets.iter().find(|sheet| sheet.test == test)
    }

    /// Runs shots side by side, those that are known already left out; the readings are in the order
    /// of the shots whatever the number of threads.
    ///
    /// # Errors
    /// [`Halt::Elsewhere`] where some are another machine's.
    pub fn run(&self, shots: &[Shot]) -> Result<Vec<Reading>, Halt> {
        let done = AtomicUsize::new(0);
        let keys: Vec<String> = shots.iter().map(|shot| shot.key(self.ground.tests)).collect();
        let known = in_parallel(shots.len(), self.ground.threads, |k| self.recall(&keys[k]));
        let unknown = |k: &usize| known[*k].is_none() && self.keeper.is_mine(&keys[*k]);
        let open: Vec<usize> = (0..shots.len()).filter(unknown).collect();
        let count = done.fetch_add(shots.len() - open.len(), Ordering::Relaxed);
        self.keeper.progress(count + shots.len() - open.len(), shots.len());
        let groups = self.groups(shots, &open);
        let made = in_parallel(groups.len(), self.ground.threads, |g| {
            let group = groups[g];
            let readings = self.fire_all(&group.iter().map(|&k| &shots[k]).collect::<Vec<_>>());
            for (&k, reading) in group.iter().zip(&readings) {
                self.keeper.keep(&keys[k], reading);
                self.remember(&keys[k], reading);
            }
            let before = done.fetch_add(group.len(), Ordering::Relaxed);
            self.keeper.progress(before + group.len(), shots.len());
            readings
        });
        let mut readings = known;
        for (k, reading) in open.into_iter().zip(made.into_iter().flatten()) {
            readings[k] = Some(reading);
        }
        let here = readings.iter().flatten().count();
        if here < readings.len() {
            return Err(Halt::Elsewhere { here, left: readings.len() - here });
        }
        Ok(readings.into_iter().flatten().collect())
    }

    /// The shots that are still to be made, in groups that are made together: neighbours of one test, so
    /// many that all threads have something to do.
    fn groups<'k>(&self, shots: &[Shot], open: &'k [usize]) -> Vec<&'k [usize]> {
        let share = open.len() / (self.ground.threads.max(1) * SHARES_A_THREAD);
        let most = share.clamp(LANES, MOST_TOGETHER);
        let of_one_test = open.chunk_by(|a, b| shots[*a].test == shots[*b].test);
        of_one_test
            .flat_map(|open| {
                let test = open.first().and_then(|&k| self.ground.tests.get(shots[k].test));
                open.chunks(if test.is_some_and(go_abreast) { most } else { 1 })
            })
            .collect()
    }

    /// A reading that is known, from this start or an earlier one.
    fn recall(&self, key: &str) -> Option<Reading> {
        let known = || self.known.lock().ok()?.get(key).cloned();
        if let Some(known) = known() {
            return Some(known);
        }
        let reading = self.keeper.recall(key)?;
        self.remember(key, &reading);
        Some(reading)
    }

    fn remember(&self, key: &str, reading: &Reading) {
        if let Ok(mut known) = self.known.lock() {
            known.insert(key.to_owned(), reading.clone());
        }
    }

    /// How many different shots are known by now.
    pub fn runs(&self) -> usize {
        self.known.lock().map_or(0, |known| known.len())
    }

    /// Runs one shot, whether it is known or not.
    pub fn fire(&self, shot: &Shot) -> Reading {
        let reading = self.fire_all(&[shot]).pop();
        reading.unwrap_or_else(|| Reading::failed("it was not run".to_owned(), 0))
    }

    /// Runs shots of one test together, whether they are known or not; each gives what it gives alone.
    fn fire_all(&self, shots: &[&Shot]) -> Vec<Reading> {
        let Some(sheet) = shots.first().and_then(|shot| self.sheet(shot.test)) else {
            let failed = Reading::failed("the test was not chosen".to_owned(), 0);
            return vec![failed; shots.len()];
        };
        let watched: Vec<String> = sheet.rows.iter().map(|m| m.name.clone()).collect();
        let ground = self.ground_for(sheet.test, Some(watched));
        let changes: Vec<&[Change]> = shots.iter().map(|shot| shot.changes.as_slice()).collect();
        let outcomes = outcomes(&ground, sheet.test, &changes, sheet.reads);
        let reading = |outcome: Result<Outcome, String>| match outcome {
            Ok(outcome) => Reading::of(&outcome, &sheet.indices),
            Err(why) => Reading::failed(why, 0),
        };
        outcomes.into_iter().map(reading).collect()
    }

    /// Runs one shot and gives all that came of it.
    ///
    /// # Errors
    /// Why it makes no sense, in words.
    pub fn outcome(&self, shot: &Shot, reads: Reads) -> Result<Outcome, String> {
        outcome(&self.ground_for(shot.test, None), shot.test, &shot.changes, reads)
    }

    fn ground_for(&self, test: usize, watched: Option<Vec<String>>) -> Ground<'a> {
        let mut ground = self.ground.clone();
        let limit = self.sheet(test).map_or(STUDY_WORK_LIMIT, |sheet| sheet.work_limit);
        ground.options.work_limit = limit.min(ground.options.work_limit);
        ground.options.watched = watched;
        ground.options.unchanged = self.sheet(test).and_then(|sheet| sheet.unchanged.clone());
        ground
    }

    /// Runs one shot as a test is run, with all that belongs to it.
    ///
    /// # Errors
    /// Why it makes no sense, in words.
    pub fn outcome_with(
        &self,
        test: usize,
        changes: &[Change],
        options: &RunOptions,
    ) -> Result<Outcome, String> {
        let options = RunOptions { reads: Reads::Measurements, ..options.clone() };
        outcome(&Ground { options, ..self.ground.clone() }, test, changes, Reads::Measurements)
    }

    /// Whether a change from outside moves anything in a test; `true` where that cannot be told.
    pub fn moves(&self, test: usize, change: &Change) -> bool {
        let base = &self.ground.options.changes.list;
        let of = self.ground.tests.get(test);
        of.is_some_and(|test| moves(self.ground.circuit, test, base, change))
    }

    /// The lists of `[corners]` that a test is tried at: what is set from outside, or by the test
    /// itself, stays as it was set.
    pub fn corner_lists(&self, test: usize) -> impl Iterator<Item = &'a CornerList> + '_ {
        let set = |path: &str| self.ground.options.changes.list.iter().any(|c| c.path == path);
        let lists = self.ground.circuit.corners.iter();
        lists.filter(move |list| !set(&list.path) && !self.is_pinned(test, &list.path))
    }

    /// Whether a tolerance moves anything in a test, told by `change`, which is off nominal; asked
    /// once, for it is the same for each such change.
    pub(super) fn scatters(&self, test: usize, path: &str, change: impl Fn() -> Change) -> bool {
        let key = (test, path.to_owned());
        if let Some(known) = self.moving.lock().ok().and_then(|m| m.get(&key).copied()) {
            return known;
        }
        let moves = self.moves(test, &change());
        if let Ok(mut moving) = self.moving.lock() {
            moving.insert(key, moves);
        }
        moves
    }

    /// Whether a test sets this path itself, so that nothing from outside moves it there. A test at
    /// several ambients sets the ambient.
    pub fn is_pinned(&self, test: usize, path: &str) -> bool {
        let Some(test) = self.ground.tests.get(test) else { return false };
        let ambients = matches!(&test.motion, Motion::Steady(m) if !m.ambients.is_empty());
        (path == "rail.ambient" && ambients) || test.changes.list.iter().any(|c| c.path == path)
    }
}

fn outcome(
    ground: &Ground<'_>,
    test: usize,
    changes: &[Change],
    reads: Reads,
) -> Result<Outcome, String> {
    let made = outcomes(ground, test, &[changes], reads).pop();
    made.unwrap_or_else(|| Err("it was not run".to_owned()))
}

fn outcomes(
    ground: &Ground<'_>,
    test: usize,
    changes: &[&[Change]],
    reads: Reads,
) -> Vec<Result<Outcome, String>> {
    let Some(test) = ground.tests.get(test) else {
        return changes.iter().map(|_| Err("there is no such test".to_owned())).collect();
    };
    let options = |changes: &&[Change]| {
        let mut options = ground.options.clone();
        options.changes.list.extend_from_slice(changes);
        options.reads = reads;
        options
    };
    let all: Vec<RunOptions> = changes.iter().map(options).collect();
    let made = super::run_all(ground.circuit, ground.tests, test, &all);
    made.into_iter().map(|made| made.map_err(first_message)).collect()
}

fn sheet(ground: &Ground<'_>, test: usize, watch: &Watch) -> Result<Sheet, Halt> {
    let outcome = outcome(ground, test, &[], Reads::Everything).map_err(Halt::Refused)?;
    if let Some(failure) = &outcome.failure {
        let why = format!("`{}` cannot be solved as it stands: {}", outcome.name, failure.message);
        return Err(Halt::Refused(why));
    }
    let watched = |m: &Measurement| match watch {
        Watch::Judged => m.limit.is_some(),
        Watch::Counting => m.limit.is_some() && !m.advisory,
        Watch::Named(name) => m.name == *name,
    };
    let all = outcome.measurements.iter().enumerate().filter(|(_, m)| watched(m));
    let (indices, rows): (Vec<usize>, Vec<Measurement>) = all.map(|(k, m)| (k, m.clone())).unzip();
    let voltages = rows.iter().all(|m| ["V", "s"].contains(&m.unit));
    let reads = if voltages { Reads::Voltages } else { Reads::Slopes };
    let work = outcome.work;
    let steps = work.steps + work.rejected_error + work.rejected_newton;
    let work_limit = STUDY_WORK_LIMIT.max(LONGEST * steps);
    let unchanged = ground.tests.get(test).and_then(|test| Unchanged::of(ground.circuit, test));
    let unchanged = unchanged.map(Arc::new);
    Ok(Sheet { test, rows, outcome, indices, reads, work_limit, unchanged })
}

fn nothing_to_watch(watch: &Watch) -> String {
    match watch {
        Watch::Judged | Watch::Counting => {
            "none of these tests has a requirement; add `require = { … }` to one".to_owned()
        }
        Watch::Named(name) => format!(
            "none of these tests measures `{name}`; `railstep explain` lists which test has which"
        ),
    }
}

//! The search itself: who is tried where, who leaves, and which requirement is set apart because no
//! choice meets it.

use super::candidates::{Candidate, Tuned};
use super::cases::{Case, Stage, case_of};
use super::fate::{Fate, Searched};
use super::held::{Held, Row, Spot, rows};
use super::scope::{Scope, is_search, work};
use crate::circuit::Change;
use crate::study::runner::{Halt, Runner};
use crate::study::shot::{Reading, Shot};
use crate::study::worst::{Depth, WorstOfTest, environment, worst};
use crate::trial::Test;

/// Searches of the worst case of a leading candidate, after which the best known one is told.
const MOST_SEARCHES: usize = 16;
/// Of the work of a candidate, what the first tests may take: the cheaper half.
const FIRST_SHARE: f64 = 0.5;
/// Share of a limit that a miss counts at least, however near it is; it counts at most the whole.
const LEAST_SHORTFALL: f64 = 0.05;

/// Why a requirement was set apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhyNot {
    /// Nobody of so many that were left meets it.
    Nobody {
        /// How many those are.
        left: usize,
        /// All candidates there are.
        all: bool,
    },
    /// So many meet it, but none together with all the others.
    NotTogether {
        /// How many do.
        met_by: usize,
        /// Of how many.
        left: usize,
    },
    /// What is tuned has no influence on it.
    NotMoved,
}

/// A requirement that no choice cures.
#[derive(Clone, Debug, PartialEq)]
pub struct NotCured {
    /// Which.
    pub row: Row,
    /// Why it is told here.
    pub why: WhyNot,
    /// Where it was missed by all.
    pub stage: Stage,
    /// The best that was reached.
    pub best: Spot,
    /// Who reached it.
    pub by: Option<usize>,
}

/// What is known so far.
pub(super) struct Search<'a, 'b> {
    pub(super) runner: &'a Runner<'b>,
    pub(super) tuned: &'a [Tuned],
    pub(super) candidates: Vec<Candidate>,
    scope: &'a Scope,
    pub(super) rows: Vec<Row>,
    /// Which of them a choice is held against.
    pub(super) active: Vec<bool>,
    pub(super) held: Vec<Held>,
    /// The same at nominal values alone.
    at_nominal: Vec<Held>,
    /// Where candidates are tried, in the order in which the places were found.
    places: Vec<Case>,
    /// Of each candidate, at which of them it was.
    done: Vec<Vec<bool>>,
    pub(super) fates: Vec<Fate>,
    pub(super) searched: Vec<Searched>,
    pub(super) not_cured: Vec<NotCured>,
    pub(super) nominal_only: bool,
    pub(super) cut_short: Option<String>,
}

impl<'a, 'b> Search<'a, 'b> {
    pub(super) fn new(
        runner: &'a Runner<'b>,
        tuned: &'a [Tuned],
        candidates: Vec<Candidate>,
        scope: &'a Scope,
        nominal_only: bool,
    ) -> Self {
        let rows = rows(runner, &scope.moved);
        let count = candidates.len();
        Self {
            runner,
            tuned,
            scope,
            active: vec![true; rows.len()],
            held: vec![Held::new(rows.len()); count],
            at_nominal: vec![Held::new(rows.len()); count],
            places: Vec::new(),
            done: vec![Vec::new(); count],
            fates: vec![Fate::Meets; count],
            searched: vec![Searched::Nominal; count],
            not_cured: Vec::new(),
            nominal_only,
            cut_short: None,
            candidates,
            rows,
        }
    }

    /// Whether a candidate can be chosen: the design as it stands cannot where it is none of them.
    pub(super) fn is_choice(&self, k: usize) -> bool {
        !self.candidates[k].places.is_empty()
    }

    pub(super) fn alive(&self) -> Vec<usize> {
        (0..self.candidates.len()).filter(|&k| self.fates[k] == Fate::Meets).collect()
    }

    /// Tests that are moved and in which a requirement still counts.
    pub(super) fn tests(&self) -> Vec<usize> {
        let counts = |test: &usize| {
            self.rows.iter().zip(&self.active).any(|(row, active)| *active && row.test == *test)
        };
        self.scope.moved.iter().copied().filter(counts).collect()
    }

    fn is_search(&self, test: usize) -> bool {
        self.runner.ground.tests.get(test).is_some_and(is_search)
    }

    /// The tests of the moved ones in the order of their work: the cheaper half, the rest, and those
    /// that run others.
    fn waves(&self) -> [Vec<usize>; 3] {
        let tests = self.runner.ground.tests;
        let plain = |test: &Test| {
            let index = tests.iter().position(|t| t.stem == test.stem);
            let sheet = index.and_then(|k| self.runner.sheet(k));
            sheet.map_or(0, |s| work(tests, test, &s.outcome, &|_| 0))
        };
        let mut all: Vec<(usize, usize)> =
            self.tests().into_iter().filter_map(|k| Some((plain(tests.get(k)?), k))).collect();
        all.sort_unstable();
        let total: usize = all.iter().filter(|(_, k)| !self.is_search(*k)).map(|(w, _)| w).sum();
        let mut waves = [Vec::new(), Vec::new(), Vec::new()];
        let mut so_far = 0;
        for (work, test) in all {
            if self.is_search(test) {
                waves[2].push(test);
                continue;
            }
            so_far += work;
            let first = so_far as f64 <= FIRST_SHARE * total as f64 || waves[0].is_empty();
            waves[usize::from(!first)].push(test);
        }
        waves
    }

    /// All candidates at nominal values, the tests with the least work first.
    pub(super) fn nominal(&mut self) -> Result<(), Halt> {
        for wave in self.waves() {
            self.places.extend(wave.into_iter().map(Case::nominal));
            self.settle(Stage::Nominal)?;
        }
        Ok(())
    }

    /// The worst cases that were found.
    pub(super) fn cases(&self) -> impl Iterator<Item = &Case> {
        self.places.iter().filter(|case| case.stage() != Stage::Nominal)
    }

    /// Tries some candidates wherever they have not been yet; whether there was anything to try.
    fn catch_up(&mut self, who: &[usize]) -> Result<bool, Halt> {
        let (mut shots, mut asked) = (Vec::new(), Vec::new());
        let tests = self.tests();
        for &k in who {
            self.done[k].resize(self.places.len(), false);
            for (place, case) in self.places.iter().enumerate() {
                if self.done[k][place] || !tests.contains(&case.test) {
                    continue;
                }
                let base = &self.candidates[k].changes;
                let over = case.over(self.runner, base);
                let changes = base.iter().chain(&over).cloned().collect();
                shots.push(Shot { test: case.test, changes });
                asked.push((k, place, over));
            }
        }
        let readings = self.runner.run(&shots)?;
        for ((k, place, over), reading) in asked.iter().zip(&readings) {
            let case = &self.places[*place];
            self.held[*k].note_all(&self.rows, case, over, reading);
            if case.stage() == Stage::Nominal {
                self.at_nominal[*k].note_all(&self.rows, case, over, reading);
            } else if self.searched[*k] == Searched::Nominal {
                self.searched[*k] = Searched::KnownCases;
            }
            self.done[*k][*place] = true;
        }
        Ok(!asked.is_empty())
    }

    /// Tries all that are left at all places, lets those go that miss anything, and sets apart what
    /// leaves nobody; then those that missed only that are back.
    fn settle(&mut self, stage: Stage) -> Result<(), Halt> {
        loop {
            self.judge();
            let alive = self.alive();
            if self.catch_up(&alive)? {
                continue;
            }
            let is_left = alive.into_iter().any(|k| self.is_choice(k));
            if is_left || !self.give_up(stage)? {
                return Ok(());
            }
        }
    }

    /// Fates by what is known.
    fn judge(&mut self) {
        for k in 0..self.candidates.len() {
            let held = &self.held[k];
            let score = |row: &usize| held.spots[*row].as_ref().map_or(0.0, Spot::score);
            let worst = held.missed(&self.active).min_by(|a, b| score(a).total_cmp(&score(b)));
            let spot = worst.and_then(|row| Some((row, held.spots[row].clone()?)));
            self.fates[k] = spot.map_or(Fate::Meets, |(row, spot)| Fate::Misses { row, spot });
        }
    }

    /// Sets apart what nobody meets or, where each requirement is met by somebody, what the one misses
    /// that falls short by least; whether there was anything.
    fn give_up(&mut self, stage: Stage) -> Result<bool, Halt> {
        let choices: Vec<usize> =
            (0..self.candidates.len()).filter(|&k| self.is_choice(k)).collect();
        let nominal = self.places.iter().filter(|case| case.stage() == Stage::Nominal).count();
        let was_everywhere = |search: &Self, k: usize| {
            let tests = search.tests();
            let counts = |p: &usize| tests.contains(&search.places[*p].test);
            (0..nominal).filter(counts).all(|p| search.done[k].get(p) == Some(&true))
        };
        let pool: Vec<usize> = if stage == Stage::Nominal {
            choices.iter().copied().filter(|&k| was_everywhere(self, k)).collect()
        } else {
            let held = |k: &usize| self.at_nominal[*k].missed(&self.active).next().is_none();
            choices.iter().copied().filter(held).filter(|&k| was_everywhere(self, k)).collect()
        };
        self.catch_up(&pool)?;
        let missed = |search: &Self, k: usize, row: usize| {
            search.held[k].spots[row].as_ref().is_some_and(Spot::is_missed)
        };
        if pool.is_empty() {
            return Ok(false);
        }
        let left = pool.len();
        let by_all = |row: &usize| self.active[*row] && pool.iter().all(|&k| missed(self, k, *row));
        let mut rows: Vec<usize> = (0..self.rows.len()).filter(by_all).collect();
        if rows.is_empty() {
            rows = self.least_missed(&pool);
        }
        for &row in &rows {
            let met_by = pool.iter().filter(|&&k| !missed(self, k, row)).count();
            let why = if met_by == 0 {
                WhyNot::Nobody { left, all: left == choices.len() }
            } else {
                WhyNot::NotTogether { met_by, left }
            };
            self.set_apart(row, why, &pool, stage);
        }
        Ok(!rows.is_empty())
    }

    /// What the one that falls short by least in all misses; nothing where one misses none. Of equal
    /// ones, those of the one that is best at all the others.
    fn least_missed(&self, choices: &[usize]) -> Vec<usize> {
        let of = |&k: &usize| {
            let missed: Vec<usize> = self.held[k].missed(&self.active).collect();
            let short = |row: &usize| {
                let score = self.held[k].spots[*row].as_ref().map_or(-1.0, Spot::score);
                (-score).clamp(LEAST_SHORTFALL, 1.0)
            };
            let total: f64 = missed.iter().map(short).sum();
            let mut others = self.active.clone();
            missed.iter().for_each(|&row| others[row] = false);
            let rest = self.held[k].nearest(&others).map_or(f64::INFINITY, |(_, score)| score);
            (missed, total, rest)
        };
        let order = |a: &(Vec<usize>, f64, f64), b: &(Vec<usize>, f64, f64)| {
            a.1.total_cmp(&b.1).then(b.2.total_cmp(&a.2))
        };
        choices.iter().map(of).min_by(order).map(|(missed, ..)| missed).unwrap_or_default()
    }

    fn set_apart(&mut self, row: usize, why: WhyNot, choices: &[usize], stage: Stage) {
        let spot = |k: usize| self.held[k].spots[row].clone().map(|spot| (k, spot));
        let best = choices
            .iter()
            .filter_map(|&k| spot(k))
            .reduce(|a, b| if b.1.score() > a.1.score() { b } else { a });
        self.active[row] = false;
        if stage == Stage::Nominal {
            // A test that nobody passes as it stands would pull the choice to where it fails by less.
            let test = self.rows[row].test;
            let rows = self.rows.iter().zip(&mut self.active);
            rows.filter(|(row, _)| row.test == test).for_each(|(_, active)| *active = false);
        }
        if let Some((by, best)) = best {
            let (row, by) = (self.rows[row], Some(by));
            self.not_cured.push(NotCured { row, why, stage, best, by });
        }
    }

    /// Where all that was asked has been set apart, nothing tells candidates apart any more: then each is
    /// held against all of it again, so that none passes for having been asked nothing.
    pub(super) fn restore_if_empty(&mut self) {
        if !self.active.contains(&true) {
            self.active.fill(true);
            self.judge();
        }
    }

    /// Tests that what is tuned does not move: each judged once, and what misses is told.
    pub(super) fn once(&mut self, tests: &[usize]) -> Result<(), Halt> {
        let shots: Vec<Shot> =
            tests.iter().map(|&test| Shot { test, changes: Vec::new() }).collect();
        let readings = self.runner.run(&shots)?;
        let at_rest = rows(self.runner, tests);
        let mut held = Held::new(at_rest.len());
        for (&test, reading) in tests.iter().zip(&readings) {
            held.note_all(&at_rest, &Case::nominal(test), &[], reading);
        }
        if !self.nominal_only {
            note_worst(&mut held, &at_rest, &worst(self.runner, tests, &[], Depth::Signs)?);
        }
        for (row, spot) in at_rest.into_iter().zip(held.spots) {
            if let Some(best) = spot.filter(Spot::is_missed) {
                let (why, stage, by) = (WhyNot::NotMoved, best.stage, None);
                self.not_cured.push(NotCured { row, why, stage, best, by });
            }
        }
        Ok(())
    }

    /// Searches the worst case of whoever leads, and tries what was found on all others, until one
    /// leads that has been searched.
    pub(super) fn worst_cases(&mut self) -> Result<(), Halt> {
        for _ in 0..MOST_SEARCHES {
            let leader = self.ranking().into_iter().find(|&k| self.is_choice(k));
            let Some(leader) = leader else { return Ok(()) };
            let deep = match self.searched[leader] {
                Searched::Fully => return Ok(()),
                Searched::BySigns => true,
                Searched::Nominal | Searched::KnownCases => false,
            };
            self.look(leader, deep)?;
        }
        let leads = self.ranking().into_iter().find(|&k| self.is_choice(k));
        if leads.is_some_and(|k| self.searched[k] != Searched::Fully) {
            self.cut_short = Some(format!(
                "given up after {MOST_SEARCHES} searches of worst cases; the best one is held at the \
                 worst cases found so far only"
            ));
        }
        Ok(())
    }

    fn look(&mut self, leader: usize, deep: bool) -> Result<(), Halt> {
        let base = self.candidates[leader].changes.clone();
        let (heavy, light): (Vec<usize>, Vec<usize>) =
            self.tests().into_iter().partition(|&test| self.is_search(test));
        let depth = if deep { Depth::Searched } else { Depth::Signs };
        let mut found = worst(self.runner, &light, &base, depth)?;
        if deep {
            found.extend(worst(self.runner, &heavy, &base, Depth::Signs)?);
        }
        note_worst(&mut self.held[leader], &self.rows, &found);
        for of_test in &found {
            let corners = environment(self.runner, of_test.test)?;
            for (row, worst) in of_test.rows.iter().enumerate() {
                let row = Row { test: of_test.test, row };
                let counts = self.rows.iter().position(|r| *r == row);
                if !counts.is_some_and(|k| self.active[k]) {
                    continue;
                }
                let case = case_of(self.runner, of_test.test, &base, &worst.changes, &corners);
                if !self.places.contains(&case) {
                    self.places.push(case);
                }
            }
        }
        self.searched[leader] = if deep { Searched::Fully } else { Searched::BySigns };
        self.settle(Stage::Tolerances)
    }

    /// The readings of one candidate at some places, with more changed over each.
    pub(super) fn readings(&self, shots: &[(usize, Vec<Change>)]) -> Result<Vec<Reading>, Halt> {
        let shot =
            |(test, changes): &(usize, Vec<Change>)| Shot { test: *test, changes: changes.clone() };
        self.runner.run(&shots.iter().map(shot).collect::<Vec<Shot>>())
    }

    /// The requirement that counts, of a test, that a reading misses by most.
    pub(super) fn worst_missed(&self, test: usize, reading: &Reading) -> Option<(usize, f64)> {
        let of_test =
            self.rows.iter().enumerate().filter(|(k, r)| r.test == test && self.active[*k]);
        let spots = of_test.map(|(k, row)| {
            let (line, failure) = (reading.line(row.row), reading.failure.clone());
            (k, Spot { line, failure, over: Vec::new(), stage: Stage::Nominal })
        });
        let missed = spots.filter(|(_, spot)| spot.is_missed()).map(|(k, s)| (k, s.score()));
        missed.min_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// Notes the worst of a search.
fn note_worst(held: &mut Held, rows: &[Row], found: &[WorstOfTest]) {
    for of_test in found {
        for (row, worst) in of_test.rows.iter().enumerate() {
            let row = Row { test: of_test.test, row };
            let Some(k) = rows.iter().position(|r| *r == row) else { continue };
            let (line, failure) = (worst.line.clone(), worst.failure.clone());
            let over = worst.changes.clone();
            let stage = if over.is_empty() { Stage::Nominal } else { Stage::Tolerances };
            held.note(k, Spot { line, failure, over, stage });
        }
    }
}

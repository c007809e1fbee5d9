//! The spread of boards and environments: every requirement at its extreme values, and over many
//! runs in which everything that scatters is drawn at random. Yield with its confidence, what the
//! variance comes from, the static error budget.

mod contributors;
mod draw;
mod envelope;
mod models;
pub(super) mod random;
mod rows;
mod static_error;
mod without;
mod yields;

pub use contributors::{Contributor, Contributors, EXPLAINS, On, contributors, rank_correlation};
pub use draw::{Draw, Drawn, Law};
pub use envelope::{Envelope, Window};
pub use models::ModelShare;
pub use rows::{Figures, PERCENTS, RowSpread, RunLine, fails};
pub use static_error::{BudgetLine, Reach, Sort, StaticBudget};
pub use without::Without;
pub use yields::{CONFIDENCE, Share};

use super::worst::{Depth, Worst, WorstOfTest, badness, worst};
use super::{Halt, Reading, Runner, Shot, in_parallel};
use crate::circuit::Change;
use crate::measure::{Limit, Verdict};
use draw::Deck;

/// Runs where none are asked for.
pub const USUAL_RUNS: u32 = 1000;
/// The most runs.
pub const MOST_RUNS: u32 = 1_000_000;

/// What is asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// Indices of the tests.
    pub tests: Vec<usize>,
    /// Drawn runs of each.
    pub runs: usize,
    /// What they are drawn from.
    pub seed: u64,
    /// The drawn runs alone: no search of extreme values, no budget, no envelope.
    pub quick: bool,
}

/// All that came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// What was asked.
    pub asked: Asked,
    /// Everything that was drawn in any test, the environment first.
    pub drawn: Vec<Drawn>,
    /// Levels of `[corners]` that were set in every run.
    pub fixed: Vec<Change>,
    /// What nothing drawn moves.
    pub without: Without,
    /// One a test that has something to judge.
    pub tests: Vec<TestSpread>,
    /// Runs in which some test fails.
    pub share: Share,
}

/// One test.
#[derive(Clone, Debug, PartialEq)]
pub struct TestSpread {
    /// Which of the file's.
    pub test: usize,
    /// For each quantity of this test its place in [`Spread::drawn`].
    pub columns: Vec<usize>,
    /// What was drawn for each run.
    pub draws: Vec<Draw>,
    /// What each run came to.
    pub readings: Vec<Reading>,
    /// One a row of its sheet.
    pub rows: Vec<RowSpread>,
    /// One a row: what its variance comes from, over the quantities of this test.
    pub contributors: Vec<Option<Contributors>>,
    /// One a row: its limit in figures with everything nominal.
    pub limits: Vec<Option<Limit>>,
    /// Runs that fail.
    pub share: Share,
    /// Runs that could not be solved, by reason.
    pub unsolved: Vec<(String, usize)>,
    /// One a row: the worst of all corners and vertices; empty when quick.
    pub extremes: Vec<Worst>,
    /// Runs that the search for it took.
    pub searched: usize,
    /// Where its settled output lies.
    pub budget: Option<StaticBudget>,
    /// Its output over time.
    pub envelope: Option<Envelope>,
    /// The yield of each model of a regulator; empty where there is one only.
    pub models: Vec<ModelShare>,
    /// One a row: the share of its variance that lies between the models.
    pub between_models: Vec<Option<f64>>,
}

/// Draws, runs, searches.
///
/// # Errors
/// As [`Runner::run`].
pub fn spread(runner: &Runner<'_>, asked: &Asked) -> Result<Spread, Halt> {
    let judged = |test: &usize| runner.sheet(*test).is_some_and(|sheet| !sheet.rows.is_empty());
    let chosen: Vec<usize> = asked.tests.iter().copied().filter(judged).collect();
    let decks: Vec<Deck<'_, '_>> =
        chosen.iter().map(|test| Deck::new(runner, *test, asked.seed)).collect();
    let runs = asked.runs;
    let mut draws = in_parallel(runs * decks.len(), runner.ground.threads, |k| {
        decks[k / runs].deal((k % runs) as u64 + 1)
    });
    let shot =
        |(k, draw): (usize, &Draw)| Shot { test: chosen[k / runs], changes: draw.changes.clone() };
    let shots: Vec<Shot> = draws.iter().enumerate().map(shot).collect();
    let mut readings = runner.run(&shots)?;
    drop(shots);
    let mut extremes =
        if asked.quick { Vec::new() } else { worst(runner, &chosen, &[], Depth::Searched)? };
    if let Some(models) = &runner.models {
        models::try_all(runner, models, &mut extremes)?;
    }
    let drawn = all_drawn(&decks);
    let mut tests = Vec::new();
    // From the last one, so that each takes its runs off the end.
    for (which, deck) in decks.iter().enumerate().rev() {
        let own = (draws.split_off(which * runs), readings.split_off(which * runs));
        let extreme = (!asked.quick).then(|| extremes.pop()).flatten();
        tests.push(one_test(runner, chosen[which], deck, own, extreme, &drawn));
    }
    tests.reverse();
    let failing = |k: usize| tests.iter().any(|t: &TestSpread| fails(t.readings[k].verdict));
    let share = Share::count((0..runs).map(failing));
    let fixed = decks.iter().flat_map(|deck| deck.fixed.iter().cloned());
    let fixed = fixed.fold(Vec::new(), |mut all: Vec<Change>, change| {
        if !all.contains(&change) {
            all.push(change);
        }
        all
    });
    let firsts: Vec<Vec<Change>> =
        tests.iter().filter_map(|t| Some(t.draws.first()?.changes.clone())).collect();
    let base = &runner.ground.options.changes.list;
    let without = without::without(runner.ground.circuit, base, &firsts);
    Ok(Spread { asked: asked.clone(), drawn, fixed, without, tests, share })
}

/// Everything drawn in any test: the environment's lists, then what scatters.
fn all_drawn(decks: &[Deck<'_, '_>]) -> Vec<Drawn> {
    let mut all: Vec<Drawn> = Vec::new();
    let columns = || decks.iter().flat_map(|deck| &deck.columns);
    let environment = columns().filter(|column| column.nominal.is_none());
    for column in environment.chain(columns().filter(|column| column.nominal.is_some())) {
        if !all.iter().any(|known| known.is_same(column)) {
            all.push(column.clone());
        }
    }
    all
}

fn one_test(
    runner: &Runner<'_>,
    test: usize,
    deck: &Deck<'_, '_>,
    (draws, readings): (Vec<Draw>, Vec<Reading>),
    extreme: Option<WorstOfTest>,
    drawn: &[Drawn],
) -> TestSpread {
    let sheet = runner.sheet(test);
    let count = sheet.map_or(0, |sheet| sheet.rows.len());
    let place = |column: &Drawn| drawn.iter().position(|all| all.is_same(column));
    let factors: Vec<Vec<f64>> = (0..deck.columns.len())
        .map(|k| draws.iter().map(|draw| draw.factors.get(k).copied().unwrap_or(1.0)).collect())
        .collect();
    let of_row = |row: usize| {
        let value = |reading: &Reading| reading.lines.get(row)?.value;
        contributors(&factors, &readings.iter().map(value).collect::<Vec<_>>())
    };
    let threads = runner.ground.threads;
    let mut unsolved: Vec<(String, usize)> = Vec::new();
    for failure in readings.iter().filter_map(|reading| reading.failure.as_ref()) {
        match unsolved.iter_mut().find(|(known, _)| known == failure) {
            Some((_, count)) => *count += 1,
            None => unsolved.push((failure.clone(), 1)),
        }
    }
    let mut spread = TestSpread {
        test,
        columns: deck.columns.iter().filter_map(place).collect(),
        rows: in_parallel(count, threads, |row| rows::row(&readings, row)),
        contributors: in_parallel(count, threads, of_row),
        limits: limits(runner, test),
        share: Share::count(readings.iter().map(|reading| fails(reading.verdict))),
        unsolved,
        draws,
        readings,
        searched: extreme.as_ref().map_or(0, |extreme| extreme.runs),
        extremes: extreme.map(|extreme| extreme.rows).unwrap_or_default(),
        budget: None,
        envelope: None,
        models: Vec::new(),
        between_models: vec![None; count],
    };
    if let Some(models) = &runner.models {
        spread.tell_models(models);
    }
    if let Some(sheet) = sheet.filter(|_| !spread.extremes.is_empty()) {
        spread.budget = static_error::budget(runner, sheet, deck);
        let drawn: Vec<Vec<Change>> = spread
            .draws
            .iter()
            .take(envelope::MOST_RUNS)
            .map(|draw| draw.changes.clone())
            .collect();
        let worst = spread.worst_of_all(sheet).map(|(_, changes)| changes.to_vec());
        spread.envelope = envelope::envelope(runner, sheet, &drawn, worst.as_deref());
    }
    spread
}

/// The limits of a sheet's rows in figures.
fn limits(runner: &Runner<'_>, test: usize) -> Vec<Option<Limit>> {
    let (Some(sheet), Some(of)) = (runner.sheet(test), runner.ground.tests.get(test)) else {
        return Vec::new();
    };
    let list = runner.ground.options.changes.list.iter().chain(&of.changes.list).cloned().collect();
    let variant = runner.ground.circuit.variant(&crate::circuit::Changes { list });
    let asked: Vec<_> = match &variant {
        Ok(variant) => of.requirements.iter().filter_map(|r| r.evaluate(variant).ok()).collect(),
        Err(_) => Vec::new(),
    };
    let limit = |row: &crate::measure::Measurement| {
        let text = row.limit.as_ref()?;
        let own = asked.iter().find(|r| r.name == row.name && r.limit_text == *text);
        // Windows and masks, which no requirement of this text names, are held against 0.
        let zero = || text.starts_with(">= 0 ").then_some(Limit::AtLeast(0.0));
        own.map(|r| r.limit).or_else(zero)
    };
    sheet.rows.iter().map(limit).collect()
}

impl TestSpread {
    fn tell_models(&mut self, models: &super::Models) {
        self.models = models::shares(models, &self.draws, &self.readings);
        let drawn: Vec<Option<usize>> = self.draws.iter().map(|draw| draw.model).collect();
        for (row, between) in self.between_models.iter_mut().enumerate() {
            let value = |reading: &Reading| reading.lines.get(row)?.value;
            let values: Vec<Option<f64>> = self.readings.iter().map(value).collect();
            *between = models::between(models.count(), &drawn, &values);
        }
    }

    /// The model with the least yield, where there are several.
    pub fn worst_model(&self) -> Option<&ModelShare> {
        let drawn = self.models.iter().filter(|model| model.share.of > 0);
        drawn.min_by(|a, b| a.share.holding().total_cmp(&b.share.holding()))
    }

    /// The worse of the worst drawn run and the worst vertex of a row: with its run (`None` for a
    /// vertex), its line and its changes.
    pub fn worst_of_row(&self, row: usize) -> Option<(Option<usize>, &super::Line, &[Change])> {
        let run = self.rows.get(row)?.worst.as_ref();
        let extreme = self.extremes.get(row);
        match (run, extreme) {
            (Some(run), Some(extreme)) if badness(&extreme.line) >= badness(&run.line) => {
                Some((None, &extreme.line, &extreme.changes))
            }
            (None, Some(extreme)) => Some((None, &extreme.line, &extreme.changes)),
            (Some(run), _) => {
                let draw = self.draws.get(run.run - 1)?;
                Some((Some(run.run), &run.line, &draw.changes))
            }
            (None, None) => None,
        }
    }

    /// The row that is worst of those that count, and what made it so.
    pub fn worst_of_all(&self, sheet: &super::Sheet) -> Option<(usize, &[Change])> {
        let mut found: Option<(f64, usize, &[Change])> = None;
        for row in (0..self.rows.len()).filter(|row| !sheet.rows[*row].advisory) {
            let Some((_, line, changes)) = self.worst_of_row(row) else { continue };
            let badness = badness(line);
            // Power and current do not show in the output.
            let shows = sheet.rows[row].unit == "V" || sheet.rows[row].unit == "s";
            if shows && found.is_none_or(|(known, ..)| badness > known) {
                found = Some((badness, row, changes));
            }
        }
        found.map(|(_, row, changes)| (row, changes))
    }

    /// What it came to: fail and not-evaluated before error, over all runs and the worst vertices.
    pub fn verdict(&self, sheet: &super::Sheet) -> Verdict {
        let vertices = self.extremes.iter().zip(&sheet.rows).filter(|(_, row)| !row.advisory);
        let runs = self.readings.iter().map(|reading| reading.verdict);
        Verdict::worst(runs.chain(vertices.map(|(extreme, _)| extreme.line.verdict)))
    }
}

impl Spread {
    /// The worst of all tests.
    pub fn verdict(&self, runner: &Runner<'_>) -> Verdict {
        let of = |test: &TestSpread| Some(test.verdict(runner.sheet(test.test)?));
        Verdict::worst(self.tests.iter().filter_map(of))
    }
}

//! What is drawn in each run of a spread: the environment between the ends of its lists, then
//! everything that scatters, around what it is in that environment.

use super::random::{normal_quantile, uniform};
use crate::circuit::{Change, Distribution};
use crate::quantity::Dimension;
use crate::study::Runner;
use crate::study::axis::level;
use crate::study::scatter::{Cause, Scatter, Scatters};
use crate::study::spell::{quantity_value, spelled};
use crate::study::worst;

/// Standard deviations at which the limits of a normal distribution lie.
const LIMITS_AT: f64 = 3.0;
/// The stream that models of a regulator are drawn from; no path has a blank.
const MODEL: &str = "the model";
/// Somewhere within the environment that is no corner and no middle of it.
const ELSEWHERE: f64 = 0.37;

/// How a quantity is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Law {
    /// Of the environment: every value between the lowest and the highest level as likely.
    Between,
    /// Of the environment: each level of a list that holds expressions as likely.
    OneOf(usize),
    /// Every value within the limits as likely.
    Uniform,
    /// Bell-shaped about nominal, each limit at three standard deviations of its side, not cut off.
    Normal,
}

/// One quantity that is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// As `--set` takes it.
    pub path: String,
    /// What it measures.
    pub dimension: Dimension,
    /// With nothing drawn, in SI base units; `None` for the environment.
    pub nominal: Option<f64>,
    /// Lower limit, where the environment is as the file says.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// How it is drawn.
    pub law: Law,
    /// It is a band of a capacitor's dielectric, whose limits go with the temperature.
    pub is_band: bool,
}

impl Drawn {
    /// Whether both are the same quantity, drawn for the same reason.
    pub fn is_same(&self, other: &Self) -> bool {
        self.path == other.path && self.nominal.is_some() == other.nominal.is_some()
    }
}

/// What was drawn for one run of one test.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Draw {
    /// As `--set` arguments.
    pub changes: Vec<Change>,
    /// One a quantity of the deck: what the change says, in SI base units; `None` where the test
    /// or the environment leaves nothing to draw.
    pub values: Vec<Option<f64>>,
    /// One a quantity of the deck, for regression: the environment's values; of what scatters the
    /// ratio to its nominal value, which is drawn independently of everything else; of a band, which
    /// is about nothing, the value itself.
    pub factors: Vec<f64>,
    /// Which model of a regulator, where there are several.
    pub model: Option<usize>,
}

/// A list of `[corners]`.
struct List {
    path: String,
    dimension: Dimension,
    levels: Vec<Change>,
    /// Lowest and highest level, where all are numbers.
    range: Option<[f64; 2]>,
}

/// What one test draws from.
pub(super) struct Deck<'r, 'a> {
    runner: &'r Runner<'a>,
    test: usize,
    seed: u64,
    /// Lists with a single level: set in every run.
    pub(super) fixed: Vec<Change>,
    lists: Vec<List>,
    /// What scatters, where that is the same in every environment.
    still: Option<Scatters<'a>>,
    /// Whether a part's key follows a value that scatters, in any environment that was looked at.
    follows: bool,
    /// The environment's lists, then what scatters.
    pub(super) columns: Vec<Drawn>,
}

impl<'r, 'a> Deck<'r, 'a> {
    pub(super) fn new(runner: &'r Runner<'a>, test: usize, seed: u64) -> Self {
        let mut deck = Self {
            runner,
            test,
            seed,
            fixed: Vec::new(),
            lists: Vec::new(),
            still: None,
            follows: true,
            columns: Vec::new(),
        };
        for list in runner.corner_lists(test) {
            // Where a level stands in the file is of no interest here.
            let levels: Vec<Change> =
                list.changes.iter().map(|c| Change { span: None, ..c.clone() }).collect();
            match levels.as_slice() {
                [] => {}
                [only] => deck.fixed.push(only.clone()),
                _ => deck.lists.push(List::new(&list.path, levels)),
            }
        }
        deck.columns = deck.lists.iter().map(List::column).collect();
        let nominal = deck.scatters(&deck.fixed);
        let probes: Vec<Scatters<'a>> =
            deck.probes().iter().map(|changes| deck.scatters(changes)).collect();
        for scatter in std::iter::once(&nominal).chain(&probes).flat_map(|s| &s.list) {
            if deck.column(&scatter.path).is_none() {
                deck.columns.push(column_of(scatter));
            }
        }
        let alike = deck.lists.is_empty() && runner.models.is_none();
        let moves = probes.iter().any(|probe| probe.list != nominal.list);
        let mut all = std::iter::once(&nominal).chain(&probes).flat_map(|s| &s.list);
        deck.follows = all.any(Scatter::follows);
        let still = alike || !(moves || deck.follows);
        deck.still = still.then_some(nominal);
        deck
    }

    fn scatters(&self, changes: &[Change]) -> Scatters<'a> {
        let of = if self.follows { Scatters::of } else { Scatters::unrelated };
        worst::scatters_as(self.runner, self.test, &[], changes, of)
    }

    /// Environments that tell whether what scatters depends on them: all lowest, all highest,
    /// somewhere between, each list alone at either end, and each model of a regulator.
    fn probes(&self) -> Vec<Vec<Change>> {
        let all = |share: f64| -> Vec<Change> {
            let drawn = self.lists.iter().map(|list| list.at(share).0);
            self.fixed.iter().cloned().chain(drawn).collect()
        };
        let alone = |list: &List, share: f64| -> Vec<Change> {
            self.fixed.iter().cloned().chain([list.at(share).0]).collect()
        };
        let mut probes: Vec<Vec<Change>> = Vec::new();
        if !self.lists.is_empty() {
            probes.extend([0.0, 1.0, ELSEWHERE].map(all));
            probes.extend(self.lists.iter().flat_map(|l| [0.0, 1.0].map(|share| alone(l, share))));
        }
        let models = self.runner.models.iter().flat_map(|models| &models.list);
        let with = |changes: &[Change]| [changes, self.fixed.as_slice()].concat();
        probes.extend(models.map(|model| with(&model.changes)));
        probes
    }

    /// Which model a run has, each as likely, and what that sets.
    fn model(&self, run: u64) -> (Option<usize>, &'r [Change]) {
        let Some(models) = &self.runner.models else { return (None, &[]) };
        let last = models.count().saturating_sub(1);
        let share = uniform(self.seed, MODEL, run);
        let which = ((share * models.count() as f64) as usize).min(last);
        (Some(which), models.list.get(which).map_or(&[], |model| model.changes.as_slice()))
    }

    /// Each list of the environment with its change to the lowest and to the highest level.
    pub(super) fn ends(&self) -> Vec<(String, [Change; 2])> {
        let ends = |list: &List| (list.path.clone(), [0.0, 1.0].map(|share| list.at(share).0));
        self.lists.iter().map(ends).collect()
    }

    /// The column of what scatters. A list of the environment may name the same path: then it gives
    /// the value that the tolerance is about.
    fn column(&self, path: &str) -> Option<usize> {
        let scatters = |column: &Drawn| column.nominal.is_some() && column.path == path;
        self.columns.iter().position(scatters)
    }

    /// Draws run `run`, counted from 1.
    pub(super) fn deal(&self, run: u64) -> Draw {
        let count = self.columns.len();
        let (model, changes) = self.model(run);
        let mut draw = Draw {
            changes: [changes, self.fixed.as_slice()].concat(),
            values: vec![None; count],
            factors: self.columns.iter().map(|c| f64::from(u8::from(!c.is_band))).collect(),
            model,
        };
        for (k, list) in self.lists.iter().enumerate() {
            let (change, value) = list.at(uniform(self.seed, &list.path, run));
            (draw.values[k], draw.factors[k]) = (value.0, value.1);
            draw.changes.push(change);
        }
        let fresh;
        let scatters = match &self.still {
            Some(still) => still,
            None => {
                fresh = self.scatters(&draw.changes);
                &fresh
            }
        };
        let position = |s: &Scatter| position(s, uniform(self.seed, &name_of(s), run));
        let positions: Vec<f64> = scatters.list.iter().map(position).collect();
        for (scatter, position) in scatters.list.iter().zip(&positions) {
            if let Some(k) = self.column(&scatter.path) {
                draw.factors[k] = factor(scatter, *position);
                draw.values[k] = Some(scatter.nominal);
            }
        }
        let moved = scatters.changes(&positions);
        for change in &moved {
            if let Some(k) = self.column(&change.path) {
                draw.values[k] = quantity_value(&change.text, self.columns[k].dimension);
            }
        }
        draw.changes.extend(moved);
        draw
    }
}

impl List {
    fn new(path: &str, levels: Vec<Change>) -> Self {
        let read: Option<Vec<(f64, Dimension)>> = levels.iter().map(|c| level(&c.text)).collect();
        let read = read.unwrap_or_default();
        let dimension = read.first().map_or(Dimension::NONE, |(_, dimension)| *dimension);
        let values = read.iter().map(|(value, _)| *value);
        let ends = [values.clone().reduce(f64::min), values.reduce(f64::max)];
        let range = match ends {
            [Some(low), Some(high)] => Some([low, high]),
            _ => None,
        };
        Self { path: path.to_owned(), dimension, levels, range }
    }

    /// Its change at a share of the way, with the value to tell (if it is a number) and to regress on.
    fn at(&self, share: f64) -> (Change, (Option<f64>, f64)) {
        if let Some([low, high]) = self.range {
            let (change, value) = spelled(&self.path, low + share * (high - low), self.dimension);
            return (change, (Some(value), value));
        }
        let last = self.levels.len().saturating_sub(1);
        let which = ((share * self.levels.len() as f64) as usize).min(last);
        let change = self.levels.get(which).cloned();
        (change.unwrap_or_else(|| Change::new(self.path.as_str(), "")), (None, which as f64))
    }

    fn column(&self) -> Drawn {
        let [low, high] = self.range.unwrap_or([f64::NAN; 2]);
        let law = match self.range {
            Some(_) => Law::Between,
            None => Law::OneOf(self.levels.len()),
        };
        let (path, dimension) = (self.path.clone(), self.dimension);
        Drawn { path, dimension, nominal: None, low, high, law, is_band: false }
    }
}

fn column_of(scatter: &Scatter) -> Drawn {
    Drawn {
        path: scatter.path.clone(),
        dimension: scatter.dimension,
        nominal: Some(scatter.nominal),
        low: scatter.low,
        high: scatter.high,
        law: match scatter.distribution {
            Distribution::Uniform => Law::Uniform,
            Distribution::Normal => Law::Normal,
        },
        is_band: scatter.cause == Cause::Band,
    }
}

/// A level of the environment, a tolerance and a band of the same key are drawn apart.
fn name_of(scatter: &Scatter) -> String {
    let cause = if scatter.cause == Cause::Band { "band" } else { "tolerance" };
    format!("{} {cause}", scatter.path)
}

/// What a quantity is regressed on.
fn factor(scatter: &Scatter, position: f64) -> f64 {
    let value = scatter.at(position);
    if scatter.nominal == 0.0 { value } else { value / scatter.nominal }
}

/// Where a quantity lies (see [`Scatter::at`]) when a share `u` of all lie below it.
fn position(scatter: &Scatter, u: f64) -> f64 {
    match scatter.distribution {
        Distribution::Normal => normal_quantile(u) / LIMITS_AT,
        Distribution::Uniform => {
            let from_nominal = scatter.low + u * (scatter.high - scatter.low) - scatter.nominal;
            let side = if from_nominal < 0.0 {
                scatter.nominal - scatter.low
            } else {
                scatter.high - scatter.nominal
            };
            if side > 0.0 { from_nominal / side } else { 0.0 }
        }
    }
}

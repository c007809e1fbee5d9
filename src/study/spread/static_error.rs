//! The static error budget: what moves the settled output, one cause at a time, added up by extreme
//! values and as root of the sum of squares, and what that leaves for transients.

use super::draw::Deck;
use crate::circuit::Change;
use crate::measure::{Bound, TestKind};
use crate::study::axis::present;
use crate::study::scatter::Scatter;
use crate::study::spell::spelled;
use crate::study::{Runner, Sheet, Shot, in_parallel, worst};
use crate::trial::Reads;

/// So much more amplifier gain leaves a thousandth of what is missing of it.
const MORE_GAIN: f64 = 1000.0;
/// The amplifier's key that its gain at rest is made of.
const GAIN_KEY: &str = "stage_resistance";
/// Of the level: what moves it by less is told by name only.
const SEEN: f64 = 1e-6;

/// What a line of the budget is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// It is there on every board: one figure.
    Systematic,
    /// The load's or the source's own change: settled levels of the same board.
    Change,
    /// The environment, at the ends of its list.
    Environment,
    /// A tolerance, at its limits.
    Tolerance,
}

/// One cause.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetLine {
    /// In words, or its path.
    pub name: String,
    /// What it is.
    pub sort: Sort,
    /// V, by which it moves the level at its lower limit (systematic causes: at all),
    pub at_low_v: f64,
    /// and at its upper limit.
    pub at_high_v: f64,
}

/// Lowest and highest level in V, by one way of adding up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reach {
    /// Before the load changes: what a droop is counted from.
    pub before_v: [f64; 2],
    /// All settled levels.
    pub settled_v: [f64; 2],
    /// V from the lowest level before the step to the lower end of the transient window: what is
    /// left for a droop.
    pub left_below_v: Option<f64>,
    /// V from the highest level behind the step to its upper end: what is left for an overshoot.
    pub left_above_v: Option<f64>,
}

/// The budget of one test.
#[derive(Clone, Debug, PartialEq)]
pub struct StaticBudget {
    /// The measurement it is about: `output_level`, `before_level`.
    pub level: &'static str,
    /// V, with everything nominal.
    pub level_v: f64,
    /// V, the rail's nominal voltage.
    pub nominal_v: Option<f64>,
    /// V, for settled levels.
    pub window_v: Option<[f64; 2]>,
    /// V, for every instant.
    pub transient_window_v: Option<[f64; 2]>,
    /// Causes that move the level.
    pub lines: Vec<BudgetLine>,
    /// Causes that move it by less than a millionth.
    pub unseen: Vec<String>,
    /// Causes whose limits could not be solved.
    pub unsolved: Vec<String>,
    /// All at their worse limits together.
    pub extreme: Reach,
    /// Tolerances as root of the sum of squares, all else as in `extreme`.
    pub root_sum_square: Reach,
}

/// One cause and the two runs that show it.
struct Turn {
    name: String,
    sort: Sort,
    ends: [Vec<Change>; 2],
}

/// The budget of a test that has a settled level to begin with; `None` for others.
pub(super) fn budget(
    runner: &Runner<'_>,
    sheet: &Sheet,
    deck: &Deck<'_, '_>,
) -> Option<StaticBudget> {
    let level = match sheet.outcome.kind {
        TestKind::OperatingPoint => "output_level",
        TestKind::LoadStep | TestKind::LineStep => "before_level",
        _ => return None,
    };
    let turns = turns(runner, sheet.test, deck);
    let shots: Vec<&Vec<Change>> =
        std::iter::once(&deck.fixed).chain(turns.iter().flat_map(|turn| &turn.ends)).collect();
    let levels = in_parallel(shots.len(), runner.ground.threads, |k| {
        levels(runner, sheet.test, shots[k], level)
    });
    let (start, change) = levels.first().copied().flatten()?;
    let rail = &sheet.outcome.condition.rail;
    let within = |bound: Bound| match bound {
        Bound::Within { low_v, high_v } => Some([low_v, high_v]),
        Bound::NotGiven | Bound::Off => None,
    };
    let mut budget = StaticBudget {
        level,
        level_v: start,
        nominal_v: rail.nominal_v,
        window_v: within(rail.window),
        transient_window_v: within(rail.every_instant()),
        lines: Vec::new(),
        unseen: Vec::new(),
        unsolved: Vec::new(),
        extreme: Reach::default(),
        root_sum_square: Reach::default(),
    };
    let pairs = levels.get(1..).unwrap_or_default().chunks(2);
    let mut gain_v = 0.0;
    for (turn, pair) in turns.into_iter().zip(pairs) {
        let &[Some((low, _)), Some((high, _))] = pair else {
            budget.unsolved.push(turn.name);
            continue;
        };
        // More gain takes the error away: the error itself is what was there before.
        let sign = if turn.sort == Sort::Systematic { -1.0 } else { 1.0 };
        let (at_low_v, at_high_v) = (sign * (low - start), sign * (high - start));
        if turn.sort == Sort::Systematic {
            gain_v += at_low_v;
        }
        budget.add(BudgetLine { name: turn.name, sort: turn.sort, at_low_v, at_high_v });
    }
    if let Some(nominal_v) = rail.nominal_v {
        let off_v = start - nominal_v - gain_v;
        let name = "set voltage off nominal".to_owned();
        let line = BudgetLine { name, sort: Sort::Systematic, at_low_v: off_v, at_high_v: off_v };
        budget.lines.insert(0, line);
    }
    if let Some(change) = change {
        let name = match sheet.outcome.kind {
            TestKind::LineStep => "change of the source",
            _ => "change of the load",
        };
        let name = name.to_owned();
        budget.add(BudgetLine { name, sort: Sort::Change, at_low_v: change, at_high_v: change });
    }
    budget.extreme = budget.reach(sheet.outcome.kind, f64::abs, |sum| sum);
    budget.root_sum_square = budget.reach(sheet.outcome.kind, |v| v * v, f64::sqrt);
    Some(budget)
}

impl StaticBudget {
    fn add(&mut self, line: BudgetLine) {
        let moves = line.at_low_v.abs().max(line.at_high_v.abs());
        if moves > SEEN * self.level_v.abs() {
            self.lines.push(line);
        } else {
            self.unseen.push(line.name);
        }
    }

    /// Adds up: tolerances as `size` of each, `sum` of all; everything else as it is.
    fn reach(&self, kind: TestKind, size: fn(f64) -> f64, sum: fn(f64) -> f64) -> Reach {
        let of = |sort: Sort| self.lines.iter().filter(move |line| line.sort == sort);
        let ends = |line: &BudgetLine| {
            let (a, b) = (line.at_low_v, line.at_high_v);
            [a.min(b).min(0.0), a.max(b).max(0.0)]
        };
        let side = |k: usize| {
            let environment: f64 = of(Sort::Environment).map(|line| ends(line)[k]).sum();
            let tolerances: f64 = of(Sort::Tolerance).map(|line| size(ends(line)[k])).sum();
            let sign = if k == 0 { -1.0 } else { 1.0 };
            environment + sign * sum(tolerances)
        };
        let before_v = [self.level_v + side(0), self.level_v + side(1)];
        let change: f64 = of(Sort::Change).map(|line| line.at_low_v).sum();
        let settled_v = [before_v[0] + change.min(0.0), before_v[1] + change.max(0.0)];
        // The overshoot of a load step is counted from the level under load.
        let behind_v = if kind == TestKind::LoadStep { before_v[1] + change } else { before_v[1] };
        Reach {
            before_v,
            settled_v,
            left_below_v: self.transient_window_v.map(|[low, _]| before_v[0] - low),
            left_above_v: self.transient_window_v.map(|[_, high]| high - behind_v),
        }
    }
}

/// The level with some changes, and by how much the load's or source's own change moves it.
fn levels(
    runner: &Runner<'_>,
    test: usize,
    changes: &[Change],
    level: &str,
) -> Option<(f64, Option<f64>)> {
    let shot = Shot { test, changes: changes.to_vec() };
    let outcome = runner.outcome(&shot, Reads::Voltages).ok().filter(|o| o.failure.is_none())?;
    let value = |name: &str| outcome.measurements.iter().find(|m| m.name == name)?.value;
    Some((value(level)?, value("static_change")))
}

fn turns(runner: &Runner<'_>, test: usize, deck: &Deck<'_, '_>) -> Vec<Turn> {
    let with =
        |more: Vec<Change>| -> Vec<Change> { deck.fixed.iter().cloned().chain(more).collect() };
    let mut turns: Vec<Turn> = gains(runner, test, deck)
        .into_iter()
        .map(|(name, change)| {
            let more = with(vec![change]);
            Turn { name, sort: Sort::Systematic, ends: [more.clone(), more] }
        })
        .collect();
    for (path, [low, high]) in deck.ends() {
        let ends = [with(vec![low]), with(vec![high])];
        turns.push(Turn { name: path, sort: Sort::Environment, ends });
    }
    let scatters = worst::scatters(runner, test, &[], &deck.fixed);
    let count = scatters.list.len();
    let only = |k: usize, position: f64| {
        let mut positions = vec![0.0; count];
        positions[k] = position;
        with(scatters.changes(&positions))
    };
    let tolerance = |(k, scatter): (usize, &Scatter)| Turn {
        name: scatter.path.clone(),
        sort: Sort::Tolerance,
        ends: [only(k, -1.0), only(k, 1.0)],
    };
    turns.extend(scatters.list.iter().enumerate().map(tolerance));
    turns
}

/// More gain at rest for each amplifier of the rail.
fn gains(runner: &Runner<'_>, test: usize, deck: &Deck<'_, '_>) -> Vec<(String, Change)> {
    let ground = &runner.ground;
    let own = ground.tests.get(test).map(|t| t.changes.list.as_slice()).unwrap_or_default();
    let list = ground.options.changes.list.iter().chain(&deck.fixed).chain(own).cloned().collect();
    let Ok(variant) = ground.circuit.variant(&crate::circuit::Changes { list }) else {
        return Vec::new();
    };
    let Some(rail) = &variant.rail else { return Vec::new() };
    let gain = |amplifier: &String| {
        let path = format!("{amplifier}.{GAIN_KEY}");
        let part = variant.part(amplifier)?;
        let crate::device::Form::Quantity(dimension, _) = part.kind.key(GAIN_KEY)?.form else {
            return None;
        };
        let (change, _) = spelled(&path, present(&variant, &path)? * MORE_GAIN, dimension);
        Some((format!("finite gain of {amplifier}"), change))
    };
    rail.amplifier.iter().filter_map(gain).collect()
}

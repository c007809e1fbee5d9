//! What a judged measurement comes to over several models of one regulator: plain data, made by a
//! study.

use super::Verdict;
use crate::circuit::Change;

/// A measurement over several models that agree with a datasheet equally well.
#[derive(Clone, Debug, PartialEq)]
pub struct OverModels {
    /// One a model, the best model first.
    pub each: Vec<OfModel>,
    /// Which of them is the worst: the measurement itself is as that one makes it.
    pub worst: usize,
    /// What makes it again, its inner values included.
    pub changes: Vec<Change>,
    /// Points of the datasheet that even the best model misses.
    pub missed: usize,
    /// The inner value that the measurement goes with most; `None` where models are too few to tell,
    /// or nothing varies.
    pub goes_with: Option<GoesWith>,
}

/// What one model makes of a measurement.
#[derive(Clone, Debug, PartialEq)]
pub struct OfModel {
    /// The model's name.
    pub name: String,
    /// In the measurement's unit.
    pub value: Option<f64>,
    /// What it came to.
    pub verdict: Verdict,
}

/// An inner value and how far a measurement goes with it.
#[derive(Clone, Debug, PartialEq)]
pub struct GoesWith {
    /// As `--set` takes it.
    pub path: String,
    /// Spearman's, from -1 to 1.
    pub rank_correlation: f64,
}

impl OfModel {
    /// Whether the requirement holds with it.
    pub fn holds(&self) -> bool {
        matches!(self.verdict, Verdict::Pass | Verdict::Marginal | Verdict::NoRequirements)
    }
}

impl OverModels {
    /// The lowest and the highest value; `None` where no model has one.
    pub fn range(&self) -> Option<[f64; 2]> {
        let values = || self.each.iter().filter_map(|of| of.value);
        Some([values().reduce(f64::min)?, values().reduce(f64::max)?])
    }

    /// The models with which the requirement does not hold.
    pub fn failing(&self) -> impl Iterator<Item = &str> {
        self.each.iter().filter(|of| !of.holds()).map(|of| of.name.as_str())
    }

    /// Whether all models come to the same: where they meet the datasheet, the conclusion rests on it
    /// and not on what is assumed inside.
    pub fn agree(&self) -> bool {
        let failing = self.failing().count();
        failing == 0 || failing == self.each.len()
    }

    /// The worst model's name.
    pub fn worst_name(&self) -> &str {
        self.each.get(self.worst).map_or("", |of| of.name.as_str())
    }
}

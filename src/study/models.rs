//! Several models of one regulator, tried on a circuit: what each changes there.

use super::ensemble::Ensemble;
use crate::circuit::{Change, Changes, Circuit};

/// The models of an ensemble as they are tried: what is set from outside wins over them.
#[derive(Clone, Debug, PartialEq)]
pub struct Models {
    /// Which part they are models of: `U1`.
    pub regulator: String,
    /// The best one first; never empty.
    pub list: Vec<Candidate>,
}

/// One of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// What makes it special: `best`, `mid_gain lowest`.
    pub name: String,
    /// What it sets, without what was set from outside.
    pub changes: Vec<Change>,
    /// Root mean square of the points' residuals, each over what it may differ.
    pub misfit: f64,
    /// Points of the datasheet that it misses.
    pub missed: usize,
}

impl Models {
    /// Those of an ensemble in a circuit. `outside` are the changes that win over them.
    ///
    /// # Errors
    /// Which model sets what the file lacks or cannot take, or sets something else than the best one.
    pub fn of(ensemble: &Ensemble, circuit: &Circuit, outside: &Changes) -> Result<Self, String> {
        ensemble.suits(circuit)?;
        let free = |change: &Change| !outside.list.iter().any(|set| set.path == change.path);
        let each = ensemble.models.iter().zip(ensemble.changes());
        let mut list: Vec<Candidate> = Vec::new();
        for (model, changes) in each {
            for change in &changes {
                refuse(circuit, outside, &model.name, change)?;
            }
            let changes: Vec<Change> = changes.into_iter().filter(free).collect();
            let (name, misfit, missed) = (model.name.clone(), model.misfit, model.missed);
            list.push(Candidate { name, changes, misfit, missed });
        }
        let models = Self { regulator: ensemble.regulator.clone(), list };
        models.alike()?;
        Ok(models)
    }

    /// Refuses models that set different things: what one leaves out would stay as another set it.
    fn alike(&self) -> Result<(), String> {
        let Some((best, others)) = self.list.split_first() else {
            return Err("there is no model in it".to_owned());
        };
        let lacks = |one: &Candidate, other: &Candidate| {
            let of = |change: &&Change| !other.changes.iter().any(|c| c.path == change.path);
            one.changes.iter().find(of).map(|change| change.path.clone())
        };
        for other in others {
            for (has, has_not) in [(best, other), (other, best)] {
                if let Some(path) = lacks(has, has_not) {
                    return Err(format!(
                        "model `{}` sets `{path}`, model `{}` does not; let every model set the same",
                        has.name, has_not.name
                    ));
                }
            }
        }
        Ok(())
    }

    /// What the best model sets: what everything starts from.
    pub fn best(&self) -> &[Change] {
        self.list.first().map_or(&[], |best| best.changes.as_slice())
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.list.len()
    }

    /// The best model's changes, then those that win over them.
    pub fn under(&self, outside: &Changes) -> Changes {
        Changes { list: self.best().iter().chain(&outside.list).cloned().collect() }
    }

    /// The name of a model by its place.
    pub fn name(&self, model: usize) -> &str {
        self.list.get(model).map_or("", |m| m.name.as_str())
    }

    /// The name of the model whose changes these begin with.
    pub fn named_by(&self, changes: &[Change]) -> Option<&str> {
        let is = |m: &&Candidate| !m.changes.is_empty() && changes.starts_with(&m.changes);
        self.list.iter().find(is).map(|m| m.name.as_str())
    }

    /// Points of the datasheet that even the best one misses.
    pub fn missed(&self) -> usize {
        self.list.first().map_or(0, |best| best.missed)
    }

    /// `that agree with its datasheet equally well`, or that they do not.
    fn agreement(&self) -> String {
        match self.missed() {
            0 => "that agree with its datasheet equally well".to_owned(),
            1 => {
                "the best of which misses a point of its datasheet, so that no verdict rests on it"
                    .to_owned()
            }
            n => format!(
                "the best of which misses {n} points of its datasheet, so that no verdict rests on it"
            ),
        }
    }

    /// `5 models of U1 that agree with its datasheet equally well`.
    pub fn described(&self) -> String {
        format!("{} {}", self.words(), self.agreement())
    }

    /// `5 models of U1`.
    pub fn words(&self) -> String {
        match self.count() {
            1 => format!("1 model of {}", self.regulator),
            n => format!("{n} models of {}", self.regulator),
        }
    }
}

/// A change that the circuit cannot take.
fn refuse(
    circuit: &Circuit,
    outside: &Changes,
    model: &str,
    change: &Change,
) -> Result<(), String> {
    let mut list = outside.list.clone();
    list.push(change.clone());
    let Err(mistakes) = circuit.variant(&Changes { list }) else { return Ok(()) };
    let (path, text) = (&change.path, &change.text);
    let why = mistakes.into_iter().next().map_or_else(String::new, |m| {
        let hint = m.hint.map(|hint| format!("; {hint}")).unwrap_or_default();
        format!("{}{hint}", m.message)
    });
    Err(format!("model `{model}` sets `{path}={text}`, which this file cannot take: {why}"))
}

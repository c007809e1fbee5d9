//! Several models of one regulator that agree with its datasheet equally well: what a fit hands on,
//! so that a run, a map or a spread shows what the datasheet does not decide.

use crate::circuit::regulator::{Datasheet, model_text};
use crate::circuit::{Change, Circuit};
use serde::{Deserialize, Serialize};

/// The form of the file that is read and written here.
const FORMAT: u32 = 1;
/// More models than this are refused: each is a run of everything.
pub const MOST_MODELS: usize = 200;

/// Models that agree with a datasheet equally well, the best one first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ensemble {
    format: u32,
    /// Which part they are models of: `U1`.
    pub regulator: String,
    /// The datasheet they were made from, as a table of a circuit file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    /// In order; never empty.
    pub models: Vec<Model>,
}

/// One of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Model {
    /// What makes it special: `best`, `mid_gain lowest`.
    pub name: String,
    /// Its inner values as `--set` arguments: `U1.mid_gain=60`.
    pub set: Vec<String>,
    /// Root mean square of the points' residuals, each over what it may differ.
    pub misfit: f64,
    /// Points of the datasheet that it misses.
    #[serde(default)]
    pub missed: usize,
}

impl Ensemble {
    /// Of these models.
    pub fn new(regulator: impl Into<String>, models: Vec<Model>) -> Self {
        Self { format: FORMAT, regulator: regulator.into(), sheet: None, models }
    }

    /// The same, made from a datasheet.
    #[must_use]
    pub fn of_sheet(self, sheet: &Datasheet) -> Self {
        Self { sheet: Some(sheet_text(sheet)), ..self }
    }

    /// Refuses a circuit whose regulator of that name has another datasheet.
    ///
    /// # Errors
    /// That it has, and what to do.
    pub fn suits(&self, circuit: &Circuit) -> Result<(), String> {
        let here = circuit.regulators.iter().find(|r| r.name == self.regulator);
        let (Some(here), Some(sheet)) = (here, &self.sheet) else { return Ok(()) };
        if *sheet == sheet_text(&here.sheet) {
            return Ok(());
        }
        let name = &self.regulator;
        Err(format!(
            "its models were made from another datasheet than the one `{name}` has in this file; make \
             them again by `railstep model FILE --part {name}`"
        ))
    }

    /// From the text of a file.
    ///
    /// # Errors
    /// What is wrong with it, and what to do.
    pub fn read(text: &str) -> Result<Self, String> {
        const HINT: &str = "write it by `railstep model FILE --part NAME`";
        let read: Self = serde_json::from_str(text)
            .map_err(|why| format!("it holds no models of a regulator ({why}); {HINT}"))?;
        if read.format != FORMAT {
            let found = read.format;
            return Err(format!("its format is {found}, and {FORMAT} was expected; {HINT} again"));
        }
        match read.models.len() {
            0 => return Err(format!("it holds no model; {HINT}")),
            n if n > MOST_MODELS => {
                return Err(format!("it holds {n} models; the most is {MOST_MODELS}"));
            }
            _ => {}
        }
        for set in read.models.iter().flat_map(|model| &model.set) {
            change(set)?;
        }
        Ok(read)
    }

    /// The changes of each model.
    pub fn changes(&self) -> Vec<Vec<Change>> {
        let of = |model: &Model| model.set.iter().filter_map(|set| change(set).ok()).collect();
        self.models.iter().map(of).collect()
    }

    /// The text of its file.
    pub fn text(&self) -> String {
        serde_json::to_string_pretty(self).unwrap_or_default() + "\n"
    }
}

fn sheet_text(sheet: &Datasheet) -> String {
    model_text("sheet", sheet, &[])
}

fn change(set: &str) -> Result<Change, String> {
    let (path, text) = set.split_once('=').ok_or_else(|| format!("`{set}` is not `NAME=VALUE`"))?;
    Ok(Change::new(path.trim(), text.trim()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::expect_used)] // a failed expectation is a failed test

    use super::*;

    #[test]
    fn what_is_written_is_read_again() {
        let model = |name: &str, gain: &str| Model {
            name: name.to_owned(),
            set: vec![format!("U1.mid_gain={gain}")],
            misfit: 0.5,
            missed: 0,
        };
        let ensemble = Ensemble::new("U1", vec![model("best", "60"), model("lowest", "48.2")]);
        let read = Ensemble::read(&ensemble.text()).expect("its own text");
        assert_eq!(read, ensemble);
        assert_eq!(read.changes()[1], [Change::new("U1.mid_gain", "48.2")]);
    }

    #[test]
    fn what_is_no_ensemble_is_refused_in_words() {
        let refused = |text: &str| Ensemble::read(text).expect_err("refused");
        assert!(refused("{").contains("no models of a regulator"));
        let empty = r#"{ "format": 1, "regulator": "U1", "models": [] }"#;
        assert!(refused(empty).contains("no model"));
        let newer = r#"{ "format": 2, "regulator": "U1", "models": [] }"#;
        assert!(refused(newer).contains("format is 2"));
        let odd = r#"{ "format": 1, "regulator": "U1", "models": [{"name":"a","set":["x"],"misfit":0}] }"#;
        assert!(refused(odd).contains("`x` is not `NAME=VALUE`"));
    }
}

//! `summary.json`: the structures here are the file, key by key and in its order.
//!
//! All numbers are in SI base units. A number that could not be had is `None` and reads `null`;
//! a not-a-number or infinity that slips in is written as `null` too, for JSON has neither.

use serde::{Serialize, Serializer};
use serde_json::{Map, Value};

/// Version of the file's layout. It rises when a key changes its meaning or goes away.
pub const FORMAT: u32 = 1;

/// One run of one circuit file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// Layout version, [`FORMAT`].
    pub format: u32,
    /// The circuit file as the user named it.
    pub file: String,
    /// Its title.
    pub title: String,
    /// Worst verdict of the tests: `pass`, `marginal`, `fail`, `not-evaluated`, `error` or
    /// `no-requirements`.
    pub verdict: String,
    /// Files written by this run.
    pub files: Vec<String>,
    /// In the order of the circuit file.
    pub tests: Vec<TestReport>,
    /// Full sentences, see [`super::caution`].
    pub cautions: Vec<String>,
    /// Files of an earlier run that this run did not write again.
    pub stale: Vec<String>,
    /// The models that requirements were judged with; left out where there was one only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub models: Option<ModelsReport>,
}

impl Report {
    /// A report without tests yet.
    pub fn new(file: impl Into<String>, title: impl Into<String>) -> Self {
        Self {
            format: FORMAT,
            file: file.into(),
            title: title.into(),
            verdict: "no-requirements".to_owned(),
            files: Vec::new(),
            tests: Vec::new(),
            cautions: Vec::new(),
            stale: Vec::new(),
            models: None,
        }
    }
}

/// One test.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TestReport {
    /// As the circuit file calls it.
    pub name: String,
    /// `load-step`, `line-step`, …
    pub kind: String,
    /// Worst verdict of the measurements that count.
    pub verdict: String,
    /// Why it could not be solved; `None` when it was.
    pub error: Option<ErrorReport>,
    /// What it was run at.
    pub condition: Condition,
    /// Every measurement of this kind of test, required or not.
    pub measurements: Vec<MeasurementReport>,
    /// What the droop is made of; the entries add up to it. `None`: not worked out.
    pub explanation: Option<Vec<ExplanationReport>>,
    /// The share of the droop that stays in the loaded dwell, V.
    pub of_which_static: Option<f64>,
    /// Fall of the input node at the droop's worst instant, V. Not part of the sum.
    pub input_sag: Option<f64>,
    /// What held the recovery back, in words.
    pub limited_by: Option<String>,
    /// Work of the solver.
    pub work: Work,
    /// How well energy and charge add up; `None`: not worked out.
    pub balance: Option<Balance>,
    /// Levels and states, for operating-point tests.
    pub operating_point: Option<OperatingPointReport>,
    /// Figures that belong together: margins at each condition, poles, contributors, budgets.
    pub listings: Vec<ListingReport>,
    /// Sentences that explain what was found.
    pub notes: Vec<String>,
    /// What parts with states did, the first of them; left out where no part has a state.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub events: Option<Vec<EventReport>>,
    /// How many there were in all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub event_count: Option<usize>,
}

/// A state that changed.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct EventReport {
    /// When, s.
    pub time_s: f64,
    /// The part.
    pub part: String,
    /// What it did: `locks out`, `closes`, …
    pub what: String,
}

/// Figures that belong together.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ListingReport {
    /// `loop_gain`, `closed_loop_poles`, `headroom_budget`, …
    pub name: String,
    /// What stands above it.
    pub title: String,
    /// Heads of the columns.
    pub columns: Vec<ColumnReport>,
    /// A number, a text or `null` for each column.
    pub rows: Vec<Vec<Value>>,
}

/// The head of a column.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ColumnReport {
    /// snake_case
    pub name: String,
    /// SI base unit; `1` or empty for a plain number; empty for text.
    pub unit: String,
}

/// Where and how a test could not be solved.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ErrorReport {
    /// When, s; `None` for the operating point before the record.
    pub time_s: Option<f64>,
    /// The node that moved most.
    pub node: Option<String>,
    /// The part at it.
    pub part: Option<String>,
    /// What was tried, in order.
    pub tried: Vec<String>,
    /// In words.
    pub message: String,
}

/// What a test was run at: what must stand beside every verdict.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Condition {
    /// Level of the source, V; the first one where a test moves it.
    pub source_v: Option<f64>,
    /// What the load does, in words: `2 mA to 180 mA and back`.
    pub load: Option<String>,
    /// Ambient temperature, °C.
    pub ambient_c: Option<f64>,
    /// Whether tolerances were left out.
    pub nominal_only: bool,
    /// What the source does, in words, where a test moves it.
    pub source: Option<String>,
    /// Time of one edge, s.
    pub edge_s: Option<f64>,
    /// Length of the record, s.
    pub watched_s: Option<f64>,
    /// Absolute window for settled levels, V; `None`: no window given.
    pub window_v: Option<[f64; 2]>,
    /// Absolute window for every instant, V; `None`: no window given.
    pub transient_window_v: Option<[f64; 2]>,
    /// Target error of the output node, V.
    pub accuracy_v: Option<f64>,
    /// Values set for this test only: name and what was written.
    pub values: Map<String, Value>,
    /// Whether tighter solutions were left out, so that no uncertainty is known.
    pub quick: bool,
}

impl Default for Condition {
    fn default() -> Self {
        Self {
            source_v: None,
            load: None,
            ambient_c: None,
            nominal_only: true,
            source: None,
            edge_s: None,
            watched_s: None,
            window_v: None,
            transient_window_v: None,
            accuracy_v: None,
            values: Map::new(),
            quick: false,
        }
    }
}

/// One measurement and its verdict.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct MeasurementReport {
    /// `droop`, `recovery`, …
    pub name: String,
    /// In `unit`; `None`: not evaluated.
    pub value: Option<f64>,
    /// SI base unit; `1` for a plain number.
    #[serde(serialize_with = "plain_unit")]
    pub unit: String,
    /// Change of the value when solved tighter; `None`: not evaluated.
    pub numerical_uncertainty: Option<f64>,
    /// The same measurement by the other integration formula; left out when it was not asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cross_check: Option<f64>,
    /// Where in the record, s.
    pub at_s: Option<f64>,
    /// As required; `None` where nothing is.
    pub limit: Option<String>,
    /// Distance to the limit over its scale; negative outside.
    pub margin: Option<f64>,
    /// `pass`, `marginal`, `fail`, `not-evaluated`, `no-requirements`.
    pub verdict: String,
    /// Told, and never counted.
    pub advisory: bool,
    /// Why there is no value, or what state the rail is in.
    pub reason: Option<String>,
    /// Options of the definition: `band`, `about`, `level`, …
    pub settings: Map<String, Value>,
    /// What the name means, in a sentence.
    pub definition: String,
    /// With corners: `--set` arguments of the one this was taken at, empty for nominal values; left
    /// out otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub corner: Option<String>,
    /// With several models of a regulator: what they come to; left out otherwise. Value and verdict
    /// above are those of the worst of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over_models: Option<OverModelsReport>,
}

/// A measurement over several models of a regulator that agree with its datasheet equally well.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct OverModelsReport {
    /// Lowest value, in the measurement's unit; `None` where no model has one.
    pub lowest: Option<f64>,
    /// Highest value.
    pub highest: Option<f64>,
    /// The worst model's name.
    pub worst_model: String,
    /// `--set` arguments that make it again.
    pub set: String,
    /// `datasheet` where all models come to the same verdict, `models` where they do but miss points of
    /// their datasheet, `inside` where they do not.
    pub rests_on: String,
    /// Names of the models with which it does not hold.
    pub failing: Vec<String>,
    /// The inner value that it goes with most; `None` where that cannot be told.
    pub goes_with: Option<GoesWithReport>,
    /// Each model, the best one first.
    pub models: Vec<OfModelReport>,
}

/// An inner value and how far a measurement goes with it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct GoesWithReport {
    /// As `--set` takes it.
    pub path: String,
    /// Spearman's, from -1 to 1.
    pub rank_correlation: f64,
}

/// A measurement with one model.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct OfModelReport {
    /// The model's name.
    pub model: String,
    /// In the measurement's unit, by a single solution except for the worst.
    pub value: Option<f64>,
    /// As that of a measurement.
    pub verdict: String,
}

/// The models that a run was judged with.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ModelsReport {
    /// The file they come from, as the user named it.
    pub file: String,
    /// Which part they are models of.
    pub regulator: String,
    /// Names, the best one first: that of what has no limit, of pictures and waveforms.
    pub names: Vec<String>,
}

/// One cause of the droop.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ExplanationReport {
    /// `esl`, `esr` or `charge`.
    pub cause: String,
    /// The part it is in.
    pub part: String,
    /// Its share.
    pub value: f64,
    /// Unit of the share.
    pub unit: String,
}

/// Counts of the solver's work.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Work {
    /// Accepted steps.
    pub steps: u64,
    /// Steps repeated because their error was too large.
    pub rejected_error: u64,
    /// Steps repeated because Newton's method did not converge.
    pub rejected_newton: u64,
    /// Newton iterations.
    pub newton_iterations: u64,
    /// Factorisations of the matrix.
    pub factorisations: u64,
}

/// How well the books balance, at the worst point of the record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Balance {
    /// Missing energy over the energy that passed through the circuit.
    pub energy_residual: f64,
    /// Missing charge at the output or on its capacitors, over the charge that passed the output.
    pub charge_residual: f64,
    /// Missing energy over what went through capacitors and inductors alone, which a long hold
    /// does not dilute.
    pub energy_residual_of_stored: f64,
    /// Missing charge over what went through the capacitors alone.
    pub charge_residual_of_stored: f64,
}

/// A circuit at rest.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct OperatingPointReport {
    /// Every node, in the order of the circuit.
    pub nodes: Vec<NodeLevel>,
    /// Every part that has a state or carries a current worth telling.
    pub parts: Vec<PartState>,
}

/// Voltage of one node.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct NodeLevel {
    /// Its name.
    pub node: String,
    /// Against the reference node, V.
    pub voltage: f64,
}

/// State of one part at rest.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PartState {
    /// Its name.
    pub part: String,
    /// Region of a semiconductor: `saturation`, `triode`, …
    pub region: Option<String>,
    /// Its main current, A.
    pub current: Option<f64>,
    /// Power absorbed, W.
    pub power: Option<f64>,
}

/// A count is a plain number to machines; only people are told it without percent.
fn plain_unit<S: Serializer>(unit: &str, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(if unit == "count" { "1" } else { unit })
}

/// The bytes of `summary.json`: indented, ending in a line feed.
pub fn json(report: &Report) -> Vec<u8> {
    // Strings, numbers and maps keyed by strings always serialise, and memory takes every write.
    let mut bytes = serde_json::to_vec_pretty(report).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::{Condition, MeasurementReport, Report, TestReport, json};
    use serde_json::Value;

    fn example() -> Report {
        let mut report = Report::new("buoy.toml", "a \"quoted\" title\nwith a break");
        let mut settings = serde_json::Map::new();
        settings.insert("band".to_owned(), Value::from(0.005));
        settings.insert("about".to_owned(), Value::from("settled"));
        report.tests.push(TestReport {
            name: "burst".to_owned(),
            kind: "load-step".to_owned(),
            verdict: "pass".to_owned(),
            condition: Condition { source_v: Some(f64::NAN), ..Condition::default() },
            measurements: vec![MeasurementReport {
                name: "droop".to_owned(),
                value: Some(0.1 + 0.2),
                unit: "V".to_owned(),
                at_s: Some(f64::INFINITY),
                settings,
                ..MeasurementReport::default()
            }],
            ..TestReport::default()
        });
        report
    }

    fn keys(value: &Value) -> Vec<&str> {
        value.as_object().map(|o| o.keys().map(String::as_str).collect()).unwrap_or_default()
    }

    #[test]
    fn the_keys_stand_in_the_published_order() {
        let bytes = json(&example());
        let value: Value = serde_json::from_slice(&bytes).unwrap();
        assert_eq!(
            keys(&value),
            ["format", "file", "title", "verdict", "files", "tests", "cautions", "stale"]
        );
        let test = &value["tests"][0];
        assert_eq!(
            keys(test),
            [
                "name",
                "kind",
                "verdict",
                "error",
                "condition",
                "measurements",
                "explanation",
                "of_which_static",
                "input_sag",
                "limited_by",
                "work",
                "balance",
                "operating_point",
                "listings",
                "notes"
            ]
        );
        assert_eq!(
            keys(&test["condition"])[..4],
            ["source_v", "load", "ambient_c", "nominal_only"]
        );
        assert_eq!(
            keys(&test["measurements"][0]),
            [
                "name",
                "value",
                "unit",
                "numerical_uncertainty",
                "at_s",
                "limit",
                "margin",
                "verdict",
                "advisory",
                "reason",
                "settings",
                "definition"
            ]
        );
        assert_eq!(
            keys(&test["work"]),
            ["steps", "rejected_error", "rejected_newton", "newton_iterations", "factorisations"]
        );
        assert_eq!(keys(&test["measurements"][0]["settings"]), ["band", "about"]);
    }

    #[test]
    fn a_number_that_is_none_is_null_and_the_others_keep_every_digit() {
        let bytes = json(&example());
        assert_eq!(bytes.last(), Some(&b'\n'));
        let value: Value = serde_json::from_slice(&bytes).unwrap();
        let test = &value["tests"][0];
        assert_eq!(test["condition"]["source_v"], Value::Null);
        assert_eq!(test["measurements"][0]["at_s"], Value::Null);
        assert_eq!(test["error"], Value::Null);
        assert_eq!(test["measurements"][0]["value"].as_f64(), Some(0.1 + 0.2));
        assert_eq!(value["title"], "a \"quoted\" title\nwith a break");
        assert_eq!(value["format"], 1);
    }
}

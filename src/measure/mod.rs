//! From the waveforms of one solved test to measurements and verdicts.
//!
//! Pure functions: nothing is solved, read or drawn here. The signals that measurements read are
//! named in [`scene::signal`]; what each measurement means stands in [`DEFINITIONS`].

mod bench;
pub mod decay;
mod definition;
mod excursion;
mod families;
mod figures;
mod heat_rows;
mod limit_rows;
mod limit_text;
mod lookup;
pub mod margins;
mod models;
mod oscillation;
mod requirement;
mod response;
pub mod scene;
mod short;
mod start;
mod start_rows;
mod states;
mod stations;
mod steady_rows;
mod stress;
mod supply;
pub mod sweep;
mod table;
#[cfg(test)]
mod tests;
mod time_rows;
mod timing;
pub mod train;
mod twice;
mod verdict;
mod words;

pub use definition::{Appears, Definition, RequirementOption, Scale};
pub use figures::{
    Absence, Asked, DROPOUT_DEFINITIONS, DropoutDefinition, Figure, Station, Wanted, Worse,
};
pub use limit_text::{LimitProgram, parse_limit};
pub use lookup::{definition, wanted};
pub use models::{GoesWith, OfModel, OverModels};
pub use requirement::{About, Limit, Requirement};
pub use response::{Extreme, Peak, Spot, extremes, grid_with};
pub use scene::{Bound, Dwell, Edge, RailView, Role, Scene, TestKind};
pub use table::DEFINITIONS;
pub use twice::{measure_confirmed, measure_twice};
pub use verdict::Verdict;

use crate::circuit::Change;
use bench::{Bench, Finding, Number, Options, State, Tighter};
use definition::Procedure;
use std::collections::BTreeMap;
use verdict::judge;
use words::quantity;

/// One line of a test's results.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    /// As in [`DEFINITIONS`].
    pub name: String,
    /// In `unit`; `None` where it could not be told.
    pub value: Option<f64>,
    /// SI symbol; `1` for a plain number.
    pub unit: &'static str,
    /// s from the start of the record, where one instant decides.
    pub at_s: Option<f64>,
    /// In `unit`: how far the exact solution of the same equations may lie from `value`.
    pub numerical_uncertainty: Option<f64>,
    /// As the file has it; `None` where nothing is asked.
    pub limit: Option<String>,
    /// Distance inside the limit over its scale; `None` where there is no scale.
    pub margin: Option<f64>,
    /// What it came to.
    pub verdict: Verdict,
    /// Told, never counted.
    pub advisory: bool,
    /// Why it is not evaluated, or what state the rail is in.
    pub reason: Option<String>,
    /// The options it was taken with: `band`, `about`, `level`, `window`.
    pub settings: BTreeMap<String, String>,
    /// Its definition in one sentence.
    pub definition: String,
    /// Where several corners were looked at: the arguments that set the one this was taken at, empty
    /// for nominal values.
    pub corner: Option<Vec<Change>>,
    /// Where several models of a regulator were tried: what they come to.
    pub over_models: Option<Box<OverModels>>,
}

/// Everything that a test of the scene's kind reports, in the order of [`DEFINITIONS`], judged by
/// the values alone.
///
/// A measurement that several requirements name gives a row for each; one that none names gives
/// one row. `window` and `transient_window` are held against 0 wherever the rail has them, unless
/// a requirement names them. A requirement that the test cannot have gives a row that is not
/// evaluated.
pub fn measure(scene: &Scene, requirements: &[Requirement]) -> Vec<Measurement> {
    judged(scene, requirements, find(scene, requirements))
}

/// What the rows of a test found in one scene, not judged yet.
#[derive(Clone, Debug)]
pub struct Findings {
    /// One a row.
    list: Vec<Finding>,
}

/// The first half of [`measure`].
pub fn find(scene: &Scene, requirements: &[Requirement]) -> Findings {
    let bench = Bench::new(scene, requirements);
    Findings { list: rows(scene, requirements).iter().map(|row| row.find(&bench)).collect() }
}

/// In words, whether the rail oscillates by itself in a dwell of a test in time.
///
/// # Errors
/// In words, that a second solution does not say so: `tighter`, where the first one's nodes may err by so
/// many V.
pub fn oscillation(
    scene: &Scene,
    tighter: Option<(&Scene, f64)>,
) -> Result<Option<String>, String> {
    let alone = Bench::new(scene, &[]);
    let Some((tighter, node_tolerance_v)) = tighter else { return alone.any_oscillation() };
    let second = Bench::new(tighter, &[]);
    alone.beside(Tighter { bench: &second, node_tolerance_v }).any_oscillation()
}

/// The second half of [`measure`], of what was found in this very scene.
pub fn judged(scene: &Scene, requirements: &[Requirement], findings: Findings) -> Vec<Measurement> {
    let bench = Bench::new(scene, requirements);
    let found = rows(scene, requirements).into_iter().zip(findings.list);
    found.map(|(row, finding)| row.measurement(&bench, finding, None)).collect()
}

impl Findings {
    /// The times, in seconds and rising, of the extremes and crossings that the scene's measurements
    /// rest on, as far as they lie between its samples.
    ///
    /// Inside a stiff step the continuous extension is not damped and may invent an extreme: a solver
    /// that ends a step at each of these and measures again has confirmed them.
    pub fn instants(&self, scene: &Scene) -> Vec<f64> {
        let of = |finding: &Finding| match finding {
            Finding::Value(value) => value.instants.clone(),
            Finding::State(_)
            | Finding::Beyond(..)
            | Finding::NotYet { .. }
            | Finding::Missing(_) => Vec::new(),
        };
        let mut found: Vec<f64> = self.list.iter().flat_map(of).filter(|t| t.is_finite()).collect();
        found.sort_by(f64::total_cmp);
        found.dedup();
        found.retain(|t| scene.waveform.time_s.binary_search_by(|s| s.total_cmp(t)).is_err());
        found
    }
}

/// The verdict of a test: the worst of its lines that are not advisory.
pub fn overall(measurements: &[Measurement]) -> Verdict {
    Verdict::worst(measurements.iter().filter(|m| !m.advisory).map(|m| m.verdict))
}

/// One row to be: a measurement and what is asked of it.
struct Row<'a> {
    name: &'a str,
    /// `None` if the test's kind has no such measurement.
    definition: Option<&'static Definition>,
    requirement: Option<&'a Requirement>,
    /// What its figure is asked with.
    asked: Asked,
    kind: TestKind,
}

fn rows<'a>(scene: &Scene, requirements: &'a [Requirement]) -> Vec<Row<'a>> {
    let kind = scene.kind;
    let mut rows = Vec::new();
    let is_required = |name: &str| requirements.iter().any(|r| r.name == name);
    let has_states = scene.waveform.signals.iter().any(|s| scene::signal::is_state(&s.name));
    // Circuits without states or heat say nothing of them unless they are asked.
    let is_told = |d: &&Definition| {
        let has = match d.appears {
            Appears::Always => true,
            Appears::WithHeat => scene.rail.has_heat,
            Appears::WithStates => has_states,
        };
        has || is_required(d.name)
    };
    for definition in DEFINITIONS.iter().filter(|d| d.belongs_to(kind)).filter(is_told) {
        let asked = stations::asked_of(definition, requirements);
        rows.extend(asked.into_iter().map(|(requirement, asked)| Row {
            name: definition.name,
            definition: Some(definition),
            requirement,
            asked,
            kind,
        }));
    }
    let foreign = requirements
        .iter()
        .filter(|r| definition(&r.name).is_none_or(|d| !d.belongs_to(kind)))
        .map(|r| Row {
            name: &r.name,
            definition: None,
            requirement: Some(r),
            asked: Asked::default(),
            kind,
        });
    rows.extend(foreign);
    rows
}

impl Row<'_> {
    fn find(&self, bench: &Bench) -> Finding {
        if bench.scene.watched.is_some_and(|names| !names.iter().any(|n| n == self.name)) {
            return Finding::Missing("it was not looked at".to_owned());
        }
        let Some(definition) = self.definition else {
            return Finding::Missing(match definition(self.name) {
                Some(_) => format!("a {} test has no `{}`", self.kind.word(), self.name),
                None => format!("there is no measurement `{}`", self.name),
            });
        };
        let options = self.requirement.map_or_else(Options::default, |r| Options {
            band_v: r.band,
            about: r.about,
            level_v: r.level,
            of: r.of.as_deref(),
            asked: Asked::default(),
        });
        let options = Options { asked: self.asked, ..options };
        match definition.procedure {
            Procedure::Waveform(read) => read(bench, options).unwrap_or_else(Finding::Missing),
            Procedure::Stations(worse) => stations::worst(bench, self.name, &options, worse),
        }
    }

    /// The bound that a window row is held against, if it is one and the rail has it.
    fn window(&self, bench: &Bench) -> Option<(f64, f64)> {
        let rail = &bench.scene.rail;
        let bound = match self.name {
            "window" => rail.window,
            "transient_window" => rail.every_instant(),
            _ => return None,
        };
        match bound {
            Bound::Within { low_v, high_v } => Some((low_v, high_v)),
            Bound::NotGiven | Bound::Off => None,
        }
    }

    /// What is asked, in figures and as told.
    fn limit(&self, bench: &Bench) -> Option<(Limit, String)> {
        match self.requirement {
            Some(r) => Some((r.limit, r.limit_text.clone())),
            None => self.window(bench).map(|_| {
                let limit = Limit::AtLeast(0.0);
                (limit, limit.text("V"))
            }),
        }
    }

    fn settings(&self, bench: &Bench) -> BTreeMap<String, String> {
        let mut settings = BTreeMap::new();
        if let Some(band) = self.requirement.and_then(|r| r.band) {
            settings.insert("band".to_owned(), quantity(band, "V"));
        }
        let about = self.requirement.and_then(|r| r.about);
        if let Some(about) = about.or(self.definition.and_then(Definition::default_about)) {
            settings.insert("about".to_owned(), about.word().to_owned());
        }
        if let Some(level) = self.requirement.and_then(|r| r.level) {
            settings.insert("level".to_owned(), quantity(level, "V"));
        }
        if let Some(of) = self.requirement.and_then(|r| r.of.clone()) {
            settings.insert("of".to_owned(), of);
        }
        if let Some((low, high)) = self.window(bench) {
            settings.insert("window".to_owned(), Limit::Between(low, high).text("V"));
        }
        if let Some(at_hz) = self.asked.at_hz {
            settings.insert("at".to_owned(), quantity(at_hz, "Hz"));
        }
        if let Some([low, high]) = self.asked.band_hz {
            settings.insert("band".to_owned(), Limit::Between(low, high).text("Hz"));
        }
        if let Some(definition) = self.asked.definition {
            settings.insert("definition".to_owned(), definition.words());
        }
        if let Some(share) = self.asked.share {
            settings.insert("share".to_owned(), quantity(share, "1"));
        }
        settings
    }

    fn scale_of(&self, bench: &Bench, bound: f64) -> Option<f64> {
        match self.definition?.scale {
            Scale::OfLimit => Some(bound.abs()),
            Scale::FromNominal => Some((bound - bench.scene.rail.nominal_v?).abs()),
            Scale::FromAmbient => Some((bound - bench.scene.rail.ambient_k?).abs()),
        }
    }

    /// Judges what was found.
    fn measurement(
        &self,
        bench: &Bench,
        finding: Finding,
        uncertainty: Option<f64>,
    ) -> Measurement {
        let asked = self.limit(bench);
        let in_full = bench.scene.watched.is_none();
        let mut row = Measurement {
            name: self.name.to_owned(),
            value: None,
            unit: self.definition.map_or("", |d| d.unit),
            at_s: None,
            numerical_uncertainty: uncertainty,
            limit: asked.as_ref().map(|(_, text)| text.clone()),
            margin: None,
            verdict: Verdict::NoRequirements,
            advisory: self.requirement.is_some_and(|r| r.advisory),
            reason: None,
            // Where some alone are looked at, words for people are not.
            settings: if in_full { self.settings(bench) } else { BTreeMap::new() },
            definition: self.definition.filter(|_| in_full).map_or("", |d| d.text).to_owned(),
            corner: None,
            over_models: None,
        };
        let limit = asked.map(|(limit, _)| limit);
        match finding {
            Finding::Value(value) => self.judge_value(bench, value, limit, uncertainty, &mut row),
            Finding::State(state) => {
                row.verdict = verdict_of_state(&state, limit);
                let too_short = limit.is_some() && row.verdict == Verdict::NotEvaluated;
                let hint = if too_short { "; the dwell is shorter than the limit" } else { "" };
                row.reason = Some(state.words + hint);
            }
            Finding::Beyond(reason, worse) => {
                row.verdict = match (limit, worse) {
                    (Some(Limit::AtLeast(_)), Worse::Lower)
                    | (Some(Limit::AtMost(_)), Worse::Higher) => Verdict::Pass,
                    _ => Verdict::NotEvaluated,
                };
                row.reason = Some(reason);
            }
            Finding::NotYet { words, watched_s } => {
                row.verdict = verdict_of_waiting(watched_s, limit);
                let unsure = limit.is_some() && row.verdict == Verdict::NotEvaluated;
                let hint = if unsure { "; the record is too short to tell" } else { "" };
                row.reason = Some(words + hint);
            }
            Finding::Missing(reason) => {
                row.verdict = Verdict::NotEvaluated;
                row.reason = Some(reason);
            }
        }
        // What nobody asked for cannot count against the test by being absent.
        row.advisory |= limit.is_none() && row.verdict == Verdict::NotEvaluated;
        row
    }

    fn judge_value(
        &self,
        bench: &Bench,
        value: Number,
        limit: Option<Limit>,
        uncertainty: Option<f64>,
        row: &mut Measurement,
    ) {
        row.value = Some(value.value);
        row.at_s = value.at_s;
        if let Some(condition) = &value.condition {
            row.settings.insert("condition".to_owned(), condition.clone());
        }
        if let Some(at_hz) = value.at_hz.filter(|_| self.asked.at_hz.is_none()) {
            row.settings.insert("frequency".to_owned(), quantity(at_hz, "Hz"));
        }
        let mut reasons: Vec<String> = Vec::new();
        if let Some(limit) = limit {
            let half_width = self.window(bench).map(|(low, high)| 0.5 * (high - low));
            let scale_of = |bound| self.scale_of(bench, bound);
            let judged = judge(value.value, limit, scale_of, uncertainty, half_width);
            // What fails by its state has no distance to a limit to boast of.
            row.margin = judged.margin.filter(|m| value.condemned.is_none() || *m < 0.0);
            row.verdict = if value.condemned.is_some() { Verdict::Fail } else { judged.verdict };
            reasons.extend(judged.reason);
        }
        reasons.extend(value.condemned);
        reasons.extend(value.note);
        row.reason = (!reasons.is_empty()).then(|| reasons.join("; "));
    }
}

/// A state that no waiting would cure fails a limit from above; one that might pass with time
/// fails only if the limit has passed already.
fn verdict_of_state(state: &State, limit: Option<Limit>) -> Verdict {
    match (limit, state.watched_s) {
        (None, _) => Verdict::NotEvaluated,
        (Some(_), None) => Verdict::Fail,
        (Some(limit), Some(watched_s)) => match limit.highest() {
            Some(highest) if watched_s > highest => Verdict::Fail,
            _ => Verdict::NotEvaluated,
        },
    }
}

/// What has not happened while it was watched takes longer than that.
fn verdict_of_waiting(watched_s: f64, limit: Option<Limit>) -> Verdict {
    match limit {
        Some(Limit::AtLeast(lowest)) if watched_s >= lowest => Verdict::Pass,
        Some(limit) if limit.highest().is_some_and(|highest| watched_s > highest) => Verdict::Fail,
        _ => Verdict::NotEvaluated,
    }
}

//! What `tune` leaves behind: the ranking, the rejected, what nothing cures, and the allowed region,
//! as text, CSV, JSON and a picture.

mod data;
mod picture;
mod table;
mod text;

use super::{Bundle, PAGE_COLUMNS};
use crate::circuit::Change;
use crate::measure::Measurement;
use crate::output::caution::{Facts, Fields, cautions};
use crate::output::number::{counted, engineering};
use crate::output::page::{REPORT, Study};
use crate::plan::Plan;
use crate::quantity::{Dimension, trimmed};
use crate::study::Sheet;
use crate::study::spell::{quantity_text, run_command, set_arguments};
use crate::study::tune::{ENOUGH, Fate, NotCured, Row, Scope, Spot, Standing, Tuning};
use crate::trial::RunOptions;

/// The files that are written, in this order.
pub const FILES: [&str; 4] = ["tune.csv", "tune.svg", REPORT, "tune.json"];

/// Significant digits of values for people.
const DIGITS: usize = 3;

/// Everything that is told, with what it is told about.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// As the command line names it.
    pub file: &'a str,
    /// Its plan.
    pub plan: &'a Plan,
    /// What was set over the file for everything.
    pub options: &'a RunOptions,
    /// One a test that was run.
    pub sheets: &'a [Sheet],
    /// Which tests were held against.
    pub scope: &'a Scope,
    /// What came of it.
    pub tuning: &'a Tuning,
}

/// Files, text (so many columns wide) and JSON.
pub fn bundle(view: &View<'_>, width: usize) -> Bundle {
    let json = data::json(view);
    let [csv, svg, _, summary] = FILES.map(str::to_owned);
    let files = vec![
        (csv, table::csv(view)),
        (svg, picture::svg(view).into_bytes()),
        (summary, json.clone()),
    ];
    let bundle = Bundle { files, text: text::text(view, width), json };
    let study = Study { word: "tuning", title: &view.plan.circuit.title, file: view.file };
    bundle.with_page(study, &text::text(view, PAGE_COLUMNS))
}

impl View<'_> {
    fn measurement(&self, row: Row) -> Option<&Measurement> {
        self.sheets.iter().find(|s| s.test == row.test)?.rows.get(row.row)
    }

    fn test_name(&self, test: usize) -> &str {
        self.plan.tests.get(test).map_or("", |t| t.name.as_str())
    }

    /// `ripple_rejection (at 1 kHz)`
    fn name(&self, row: Row) -> String {
        let Some(m) = self.measurement(row) else { return String::new() };
        let told = |name: &&String| !["window", "condition", "frequency"].contains(&name.as_str());
        let settings = m.settings.iter().filter(|(name, _)| told(name));
        let settings: Vec<String> = settings.map(|(name, v)| format!("{name} {v}")).collect();
        match settings.as_slice() {
            [] => m.name.clone(),
            _ => format!("{} ({})", m.name, settings.join(", ")),
        }
    }

    fn limit(&self, row: Row) -> &str {
        self.measurement(row).and_then(|m| m.limit.as_deref()).unwrap_or_default()
    }

    fn unit(&self, row: Row) -> &'static str {
        self.measurement(row).map_or("", |m| m.unit)
    }

    /// `droop 31.2 mV (<= 30 mV) of "transmit burst"`
    fn reached(&self, row: Row, spot: &Spot) -> String {
        let value = self.value(row, spot);
        let (name, limit, test) = (self.name(row), self.limit(row), self.test_name(row.test));
        format!("{name} {value} ({limit}) of `{test}`")
    }

    /// The value, or why there is none.
    fn value(&self, row: Row, spot: &Spot) -> String {
        let number = |value: f64| engineering(value, self.unit(row), DIGITS);
        let inside = spot.line.slack.is_some_and(|slack| slack >= 0.0);
        match (&spot.line.value, &spot.failure) {
            // It is the state of the rail that misses, not the number.
            (Some(value), _) if spot.is_missed() && inside => {
                let why = spot.line.reason.as_deref().unwrap_or("not counted");
                format!("{}, {why}", number(*value))
            }
            (Some(value), _) => number(*value),
            (None, Some(why)) => format!("could not be solved: {why}"),
            (None, None) => {
                spot.line.reason.clone().unwrap_or_else(|| "could not be told".to_owned())
            }
        }
    }

    fn row(&self, k: usize) -> Row {
        self.tuning.rows.get(k).copied().unwrap_or(Row { test: usize::MAX, row: 0 })
    }

    /// Values of a candidate as text, in the order of what is tuned.
    fn values(&self, standing: &Standing) -> Vec<String> {
        let values = standing.candidate.values.iter().zip(&self.tuning.tuned);
        values.map(|(v, t)| quantity_text(*v, t.dimension)).collect()
    }

    /// `c_out 4.7 µF, esr_out 10 mΩ`
    fn choice_words(&self, standing: &Standing) -> String {
        let names = self.tuning.tuned.iter().map(|t| t.path.as_str());
        let told = names.zip(self.values(standing)).map(|(name, v)| format!("{name} {v}"));
        told.collect::<Vec<_>>().join(", ")
    }

    fn standing(&self, k: usize) -> Option<&Standing> {
        self.tuning.standings.get(k)
    }

    /// Arguments that make a candidate, and what else.
    fn arguments(standing: &Standing, over: &[Change]) -> String {
        let all: Vec<Change> = standing.candidate.changes.iter().chain(over).cloned().collect();
        set_arguments(&all)
    }

    /// A command that reproduces a spot.
    fn command(&self, row: Row, arguments: &str) -> String {
        let mut words = vec![run_command(self.file, self.test_name(row.test))];
        if let Some(accuracy_v) = self.options.accuracy_v {
            let text = quantity_text(accuracy_v, Dimension::VOLT).replace(' ', "");
            words.push(format!("--accuracy {text}"));
        }
        words.extend([set_arguments(&self.options.changes.list), arguments.to_owned()]);
        words.retain(|word| !word.is_empty());
        words.join(" ")
    }

    /// The verdict of the study.
    fn verdict(&self) -> &'static str {
        if self.tuning.is_met() { "pass" } else { "fail" }
    }

    /// How the search ended.
    fn ended(&self) -> String {
        let choices = self.tuning.standings.iter().filter(|s| !s.candidate.places.is_empty());
        let (looked, all) = (choices.count(), self.tuning.combinations);
        let mut ended = if looked == all {
            format!("all {all} candidates looked at")
        } else {
            format!(
                "limit of {looked} reached: the {looked} of {all} candidates nearest to the design as \
                 it stands were looked at; `--limit-candidates {all}` looks at all"
            )
        };
        if let Some(why) = &self.tuning.cut_short {
            ended = format!("{ended}; {why}");
        }
        format!("{ended}; {}", counted(self.tuning.runs, "run"))
    }

    /// The rule of the ranking.
    fn rule(&self) -> String {
        let mut enough = percent(self.tuning.enough);
        if self.tuning.enough < ENOUGH {
            enough = format!("{enough} (nobody has {} to spare)", percent(ENOUGH));
        }
        let rule = format!(
            "least margin of at least {enough} first, by size (label · rated voltage · number) and \
             then by margin; the others by margin"
        );
        let alike = self.tuning.alike.filter(|(_, margin)| margin.is_finite());
        let row = alike.and_then(|(k, margin)| Some((*self.tuning.rows.get(k)?, margin)));
        row.map_or(rule.clone(), |(row, margin)| {
            let (name, test) = (self.name(row), self.test_name(row.test));
            format!(
                "{rule}; what all that are left meet alike, within 1 %, does not rank: least of that \
                 is {name} of `{test}` with {}",
                percent(margin)
            )
        })
    }

    /// Why and how a requirement is not cured.
    fn why_not(cure: &NotCured) -> String {
        use crate::study::tune::WhyNot;
        match cure.why {
            WhyNot::Nobody { left, all: true } => {
                format!("none of all {left} candidates meets it {}", cure.stage.words())
            }
            WhyNot::Nobody { left, all: false } => {
                format!("none of the {left} that were left meets it {}", cure.stage.words())
            }
            WhyNot::NotTogether { met_by, left } => format!(
                "{met_by} of the {left} that were left meet it {}, but none together with all others",
                cure.stage.words()
            ),
            WhyNot::NotMoved => "what is tuned has no influence on it".to_owned(),
        }
    }

    fn cautions(&self) -> Vec<String> {
        let circuit = &self.plan.circuit;
        let texts = circuit.part_names().filter_map(|n| circuit.part_text(n));
        let tests = self.plan.tests.iter().map(|t| t.name.as_str());
        let said = [circuit.title.as_str()].into_iter().chain(circuit.part_names());
        let fields = Fields::mentioned_in(said.chain(texts).chain(tests));
        let failed = !self.tuning.is_met();
        cautions(&Facts { failed, nominal_only: self.tuning.nominal, fields, ..Facts::default() })
    }

    /// The size of the capacitors in words.
    fn size(standing: &Standing) -> String {
        let (size, count) = (standing.candidate.size_fv, standing.candidate.count);
        if count > 0.0 { format!("{} µF·V", trimmed(size * 1e6, "", 4)) } else { "-".to_owned() }
    }
}

/// `12.3 %`
fn percent(share: f64) -> String {
    if share.is_finite() { trimmed(100.0 * share, "%", DIGITS) } else { "no scale".to_owned() }
}

/// In a word: `meets` or `misses`.
fn fate_word(standing: &Standing) -> &'static str {
    if standing.fate == Fate::Meets { "meets" } else { "misses" }
}

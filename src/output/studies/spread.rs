//! What a spread gives: text, JSON, one row a run in a CSV, histograms, and the output over time.

mod json;
mod pictures;
mod table;
mod text;
mod words;

use super::{Bundle, PAGE_COLUMNS};
use crate::measure::Verdict;
use crate::output::caution::{Facts, cautions};
use crate::output::page::{REPORT, Study};
use crate::output::plot::envelope::envelopes_svg;
use crate::output::plot::histogram::histograms_svg;
use crate::output::summary;
use crate::plan::Plan;
use crate::study::spread::{Spread, Without};
use crate::study::{Runner, Sheet};

const JSON: &str = "spread.json";
const CSV: &str = "spread.csv";
const HISTOGRAMS: &str = "spread.svg";
const ENVELOPES: &str = "spread.envelope.svg";
/// Names told in a caution; the file has all.
const MOST_NAMES: usize = 12;

/// Every file that may be written.
pub fn files(quick: bool) -> Vec<String> {
    let names = [CSV, HISTOGRAMS, ENVELOPES, REPORT, JSON].into_iter();
    names.filter(|name| !(quick && *name == ENVELOPES)).map(str::to_owned).collect()
}

/// A spread and where it comes from.
#[derive(Clone, Copy)]
pub struct Told<'a> {
    /// The circuit file as the user named it.
    pub file: &'a str,
    /// What was read from it.
    pub plan: &'a Plan,
    /// What ran it.
    pub runner: &'a Runner<'a>,
    /// What came of it.
    pub spread: &'a Spread,
}

/// Files, text at most `width` characters wide (commands excepted, which are to be pasted) and JSON.
pub fn bundle(told: &Told<'_>, width: usize) -> Bundle {
    let mut files = vec![(CSV.to_owned(), table::csv(told))];
    files.push((HISTOGRAMS.to_owned(), histograms_svg(&pictures::histograms(told)).into_bytes()));
    if let Some(envelopes) = pictures::envelopes(told) {
        files.push((ENVELOPES.to_owned(), envelopes_svg(&envelopes).into_bytes()));
    }
    let names: Vec<String> = files
        .iter()
        .map(|(name, _)| name.clone())
        .chain([REPORT, JSON].map(str::to_owned))
        .collect();
    let cautions = told.cautions();
    let json = json::json(told, &names, &cautions);
    files.push((JSON.to_owned(), json.clone()));
    let text = text::text(told, width, &names, &cautions);
    let bundle = Bundle { files, text, json };
    let study = Study { word: "spread", title: &told.plan.circuit.title, file: told.file };
    bundle.with_page(study, &text::text(told, PAGE_COLUMNS, &names, &cautions))
}

impl Told<'_> {
    fn sheet(&self, test: usize) -> Option<&Sheet> {
        self.runner.sheet(test)
    }

    /// Names of tests that were asked for and have nothing to judge.
    fn idle(&self) -> Vec<&str> {
        let has = |test: &&usize| self.spread.tests.iter().any(|t| t.test == **test);
        let left = self.spread.asked.tests.iter().filter(|test| !has(test));
        left.filter_map(|test| Some(self.plan.tests.get(*test)?.name.as_str())).collect()
    }

    fn cautions(&self) -> Vec<String> {
        let outcomes: Vec<_> = self.runner.sheets.iter().map(|s| s.outcome.clone()).collect();
        let verdict = self.spread.verdict(self.runner);
        let facts = Facts {
            nominal_only: false,
            failed: verdict == Verdict::Fail,
            not_evaluated: matches!(verdict, Verdict::NotEvaluated | Verdict::Error),
            ..summary::facts(self.plan, &outcomes)
        };
        let mut told = vec![without_words(&self.spread.without)];
        if self.spread.drawn.is_empty() {
            told.push(
                "nothing in the file scatters: every run is the same; give values a `tolerance` and \
                 the file `[corners]`"
                    .to_owned(),
            );
        }
        told.push(
            "a yield holds for the distributions that the file states, not for those of a factory: \
             parts of one reel lie on one side of their band together, and a tested limit is often \
             an edge that many parts lie near"
                .to_owned(),
        );
        told.extend(cautions(&facts));
        told
    }
}

fn without_words(without: &Without) -> String {
    let list = |what: &str, names: &[String]| {
        let mut told = names.iter().take(MOST_NAMES).cloned().collect::<Vec<_>>().join(", ");
        if names.len() > MOST_NAMES {
            let left = (names.len() - MOST_NAMES).to_string();
            told.extend([" and ", &left, " more"]);
        }
        (!names.is_empty()).then(|| format!("{what} {told}"))
    };
    let lists = [list("values", &without.values), list("parts", &without.parts)];
    let told = lists.into_iter().flatten().collect::<Vec<_>>().join("; ");
    if told.is_empty() {
        return "what was not drawn is taken as it stands in the file".to_owned();
    }
    format!("the yield says nothing of what has no tolerance and was not varied: {told}")
}

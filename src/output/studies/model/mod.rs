//! The models of a regulator: points, values, ensemble, bench, picture, JSON and text.

mod json;
mod picture;
mod table;
mod text;
mod words;

use super::{Bundle, PAGE_COLUMNS};
use crate::output::page::{REPORT, Study};
use crate::output::plot::chart::chart_svg;
use crate::study::model::Modelled;

/// Names of the files that may be written.
pub const FILES: [&str; 6] = [POINTS, MODELS, BENCH, PICTURE, REPORT, SUMMARY];
const POINTS: &str = "model.csv";
const MODELS: &str = "models.json";
const BENCH: &str = "bench.toml";
const PICTURE: &str = "model.svg";
const SUMMARY: &str = "model.json";

/// How the file of a model begins: by this line it is known again.
pub const WRITTEN_BY: &str = "# A model written by `railstep model`";

/// All that is told.
#[derive(Clone, Copy, Debug)]
pub struct Report<'a> {
    /// The circuit file as the user named it.
    pub file: &'a str,
    /// Its title.
    pub title: &'a str,
    /// Where the seed was set.
    pub seed: u64,
    /// What came of it.
    pub modelled: &'a Modelled,
    /// The results folder as the user may type it.
    pub folder: &'a str,
    /// Where the model was written as a file to include.
    pub written: Option<&'a str>,
}

/// Everything that is written and printed; texts at most `width` characters wide.
pub fn bundle(report: &Report<'_>, width: usize) -> Bundle {
    let names: Vec<String> = FILES.map(str::to_owned).to_vec();
    let cautions = words::cautions(report.modelled);
    let json = json::json(report, &names, &cautions);
    let files = vec![
        (POINTS.to_owned(), table::csv(report.modelled)),
        (MODELS.to_owned(), report.modelled.ensemble.text().into_bytes()),
        (BENCH.to_owned(), report.modelled.bench.clone().into_bytes()),
        (PICTURE.to_owned(), chart_svg(&picture::chart(report)).into_bytes()),
        (SUMMARY.to_owned(), json.clone()),
    ];
    let text = |width| text::text(report, &names, &cautions, width);
    let study = Study { word: "model", title: report.title, file: report.file };
    Bundle { text: text(width), files, json }.with_page(study, &text(PAGE_COLUMNS))
}

/// The model as a file that a circuit file includes.
pub fn model_file(report: &Report<'_>) -> String {
    let modelled = report.modelled;
    let outcome = words::outcome(modelled);
    format!(
        "{WRITTEN_BY} from the datasheet of {} in {}, seed {}:\n# {outcome}; its inside is assumed, \
         not known.\n\n{}\n",
        modelled.regulator,
        report.file,
        report.seed,
        modelled.model.trim_end()
    )
}

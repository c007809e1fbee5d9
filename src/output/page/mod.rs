//! Pages for a browser. `report.html`: a run as one page that opens anywhere, with nothing to load: what a reviewer of the
//! rail wants to see, in the order in which it is asked. Prints, and reads without its script too.
//!
//! Here the page is put together from report data and pictures that exist already; the layout of each
//! part stands in a file of its own. What draws curves in the browser is `sheet.js`. The page that follows
//! a value while it is turned, and what its script asks for, stand in `live` and `answer`.

pub mod answer;
mod closing;
mod frame;
mod html;
pub mod live;
mod one_test;
mod record;
mod sheet;
mod study;
mod table;
#[cfg(test)]
mod tests;
mod thin;

pub use study::{Study, study_page};

use super::plot::StepPlot;
use super::report::Report;

/// The name of the page among the files of a run.
pub const REPORT: &str = "report.html";

/// A picture of one test.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Which test of the report it belongs to.
    pub test: usize,
    /// The file that holds it by itself.
    pub file: String,
    /// Of what: the step response, or a chart of a sweep.
    pub svg: String,
    /// The curves of a step response, to look into.
    pub plot: Option<StepPlot>,
}

/// The page of a run.
///
/// `understood` are the lines that tell what was read. The same arguments give the same bytes.
pub fn run_page(report: &Report, understood: &[String], pictures: &[Picture]) -> Vec<u8> {
    let told = sheet::Told::of(report, understood);
    let mut main = sheet::overview(report) + &sheet::cautions(report) + &sheet::rail(report, &told);
    main += &sheet::extremes(report);
    for (index, test) in report.tests.iter().enumerate() {
        let own: Vec<&Picture> = pictures.iter().filter(|p| p.test == index).collect();
        main += &one_test::section(index, test, told.drive(index), &own, &report.files);
    }
    main += &closing::assumptions(report);
    main += &closing::definitions(report);
    main += &closing::work(report);
    main += &closing::files(report);
    let body = sheet::header(report) + &html::around("main id=\"sheet\"", &main);
    let moving = pictures.iter().any(|p| p.plot.is_some());
    frame::page(html::named(&report.title, &report.file), &body, moving)
}

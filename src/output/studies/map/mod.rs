//! A map as files and text: `map.csv`, `map.svg`, `report.html`, `map.json`.

mod data;
mod picture;
mod text;
mod words;

use super::{Bundle, PAGE_COLUMNS};
use crate::circuit::Change;
use crate::measure::TestKind;
use crate::output::caution::{Facts, Fields, cautions};
use crate::output::page::{REPORT, Study};
use crate::study::map::{Kind, Map, Passing, Point};

/// The files of a map, in the order in which they are written.
pub const FILES: [&str; 4] = ["map.csv", "map.svg", REPORT, "map.json"];

/// What else there is to say about a map.
#[derive(Clone, Debug)]
pub struct About<'a> {
    /// The circuit file as it was named.
    pub file: &'a str,
    /// The circuit's title.
    pub title: &'a str,
    /// The test's name.
    pub test: &'a str,
    /// Its kind.
    pub kind: TestKind,
    /// What was set over the file for all runs.
    pub base: &'a [Change],
    /// The accuracy asked for, as it was written.
    pub accuracy: Option<&'a str>,
    /// Characters a line.
    pub width: usize,
}

/// Files, text and summary of a map.
pub fn bundle(map: &Map, about: &About<'_>) -> Bundle {
    let cautions = cautions(&facts(map, about));
    let json = data::json(map, about, &cautions);
    let [csv, svg, _, summary] = FILES.map(str::to_owned);
    let files = vec![
        (csv, data::csv(map)),
        (svg, picture::svg(map, about).into_bytes()),
        (summary, json.clone()),
    ];
    let bundle = Bundle { files, text: text::text(map, about, &cautions), json };
    let wide = About { width: PAGE_COLUMNS, ..about.clone() };
    let study = Study { word: "map", title: about.title, file: about.file };
    bundle.with_page(study, &text::text(map, &wide, &cautions))
}

fn facts(map: &Map, about: &About<'_>) -> Facts {
    Facts {
        nominal_only: true,
        fields: Fields::mentioned_in([about.title, about.test]),
        failed: map.present.as_ref().is_some_and(|p| !map.points[p.point].holds),
        ..Facts::default()
    }
}

/// Figures about the places that were asked for.
struct Tally {
    places: usize,
    holds: usize,
    finer: usize,
    /// On the way to edges, and the present design with its tolerances.
    others: usize,
    /// Places asked for where some models of a regulator hold and some do not.
    open: usize,
}

impl Tally {
    fn of(map: &Map) -> Self {
        let count = |test: &dyn Fn(&Point) -> bool| map.points.iter().filter(|p| test(p)).count();
        let places = count(&|p| p.kind == Kind::Grid);
        let finer = count(&|p| p.kind == Kind::Refined);
        let holds = count(&|p| p.kind == Kind::Grid && p.holds);
        let is_open = |p: &Point| p.models.as_ref().is_some_and(Passing::is_open);
        let open = count(&|p| p.kind == Kind::Grid && is_open(p));
        Self { places, holds, finer, others: map.points.len() - places - finer, open }
    }
}

/// The points in the picture with the least and the most of what is wanted: worst and best where
/// something is asked, else lowest and highest.
fn extremes(map: &Map) -> Option<(&Point, &Point)> {
    let asked = map.row.limit_text.is_some();
    let worth = |p: &&Point| if asked { p.slack } else { p.value };
    let seen = map.points.iter().filter(|p| p.kind != Kind::Tolerance && worth(p).is_some());
    let order = |a: &&Point, b: &&Point| {
        worth(a).partial_cmp(&worth(b)).unwrap_or(std::cmp::Ordering::Equal)
    };
    // Of equal ones the first that was run.
    let least = seen.clone().min_by(order)?;
    let most = seen.rev().max_by(order)?;
    Some((least, most))
}

//! Figures from outside, held against the tool through its public API, and the table of them in
//! README.md, which must say what they say: `UPDATE=1 cargo test --test published` writes it again.
//!
//! Each file has the checks of one field. A check returns its figures with how far each may be off,
//! the reason beside it, and has its source in [`sources`].

#![allow(clippy::unwrap_used, clippy::expect_used)]

#[path = "../checks/bench.rs"]
#[allow(dead_code)] // more of it is used by the other checks
mod bench;
#[path = "../checks/few_figures.rs"]
mod few_figures;

mod amplifiers;
mod devices;
mod heat;
mod load_steps;
mod loops;
mod noise;
mod regulation;
mod resonances;
mod rest;
mod series_regulators;
mod shunt_regulators;
mod sources;
mod standards;
mod steps;
mod table;
mod transistors;

use std::path::Path;
use std::sync::OnceLock;
use table::{Section, Told, page, tell};

static SECTIONS: [Section; 13] = [
    amplifiers::SECTION,
    steps::SECTION,
    resonances::SECTION,
    load_steps::SECTION,
    loops::SECTION,
    series_regulators::SECTION,
    shunt_regulators::SECTION,
    regulation::SECTION,
    transistors::SECTION,
    devices::SECTION,
    noise::SECTION,
    heat::SECTION,
    standards::SECTION,
];

/// The checks of a section, made once for its own test and for the table.
fn told(section: usize) -> &'static [Told] {
    static ALL: [OnceLock<Vec<Told>>; SECTIONS.len()] = [const { OnceLock::new() }; SECTIONS.len()];
    ALL[section].get_or_init(|| SECTIONS[section].checks.iter().map(tell).collect())
}

/// A test for each section, so that they run side by side.
macro_rules! each_agrees {
    ($($name:ident = $section:literal)*) => {$(
        #[test]
        fn $name() {
            assert!(!told($section).is_empty());
        }
    )*};
}

each_agrees! {
    published_amplifiers = 0
    published_single_steps = 1
    published_resonances_and_lines = 2
    published_load_steps = 3
    published_loops = 4
    published_series_regulators = 5
    published_shunt_regulators = 6
    published_regulation = 7
    published_transistors = 8
    published_devices = 9
    published_noise = 10
    published_heat = 11
    published_standards = 12
}

const BEGIN: &str =
    "<!-- published: `UPDATE=1 cargo test --test published` writes what stands up to the end -->\n";
const END: &str = "<!-- published: end -->\n";

#[test]
fn the_readme_tells_what_was_expected_and_what_was_got() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let text = std::fs::read_to_string(&path).unwrap();
    let (before, rest) = text.split_once(BEGIN).expect("the first mark in README.md");
    let (stands, after) = rest.split_once(END).expect("the second mark in README.md");
    let all: Vec<(&Section, &[Told])> =
        SECTIONS.iter().enumerate().map(|(k, section)| (section, told(k))).collect();
    let generated = page(&all);
    if std::env::var_os("UPDATE").is_some() {
        std::fs::write(&path, format!("{before}{BEGIN}{generated}{END}{after}")).unwrap();
        return;
    }
    let mut both = stands.lines().zip(generated.lines());
    let differs = both.find(|(stands, generated)| stands != generated);
    assert!(
        stands == generated,
        "README.md does not tell what the checks give (first difference: {differs:#?}); \
         `UPDATE=1 cargo test --test published` writes it again"
    );
}

//! What a check is, how far what was got may lie from what is expected, and how both are written
//! into README.md.
//!
//! The text depends on no machine: what was got is printed to the digits that agree and one more,
//! and how well it agrees as a power of ten.

use crate::sources::Source;
use railstep::quantity::trimmed;
use std::fmt::Write;
use std::panic::Location;

/// Rounding of the last digits differs from machine to machine; nothing better is claimed.
const BEST_CLAIMED: f64 = 1e-12;

/// Above this an agreement is written with its first digit, and must be accounted for.
const MODEST: f64 = 1e-3;

/// One figure: got, expected, and by how much they may differ.
struct Figure {
    got: f64,
    expected: f64,
    allowed: f64,
    at: &'static Location<'static>,
}

impl Figure {
    /// Distance as a share of what is expected.
    fn agreement(&self) -> f64 {
        let off = (self.got - self.expected).abs();
        if self.expected == 0.0 { 0.0 } else { off / self.expected.abs() }
    }
}

/// The figures of one check; the first one stands for all in the table.
#[derive(Default)]
pub(crate) struct Figures(Vec<Figure>);

impl Figures {
    /// What was `got` lies within a share of what is expected.
    #[track_caller]
    pub(crate) fn near(&mut self, got: f64, expected: f64, share: f64) {
        self.push(got, expected, share * expected.abs());
    }

    /// What was `got` lies within a distance of what is expected.
    #[track_caller]
    pub(crate) fn close(&mut self, got: f64, expected: f64, allowed: f64) {
        self.push(got, expected, allowed);
    }

    #[track_caller]
    fn push(&mut self, got: f64, expected: f64, allowed: f64) {
        self.0.push(Figure { got, expected, allowed, at: Location::caller() });
    }
}

/// A check against figures from outside.
#[derive(Clone, Copy)]
pub(crate) struct Check {
    what: &'static str,
    source: &'static Source,
    /// Where in the source.
    place: &'static str,
    /// Unit of the first figure.
    unit: &'static str,
    figures: fn() -> Figures,
    /// Why it agrees no better than it does, where that is worse than [`MODEST`].
    but: &'static str,
}

impl Check {
    pub(crate) const fn new(
        what: &'static str,
        (source, place): (&'static Source, &'static str),
        unit: &'static str,
        figures: fn() -> Figures,
    ) -> Self {
        Self { what, source, place, unit, figures, but: "" }
    }

    /// Why it agrees no better than it does.
    pub(crate) const fn but(self, but: &'static str) -> Self {
        Self { but, ..self }
    }
}

/// Checks that belong together.
pub(crate) struct Section {
    pub(crate) title: &'static str,
    pub(crate) checks: &'static [Check],
}

/// A check that was made.
pub(crate) struct Told {
    check: &'static Check,
    got: f64,
    expected: f64,
    count: usize,
    /// Of the first figure, and of the worst.
    agreement: [f64; 2],
}

/// Makes a check. Panics where a figure is farther off than allowed.
pub(crate) fn tell(check: &'static Check) -> Told {
    let Figures(all) = (check.figures)();
    for Figure { got, expected, allowed, at } in &all {
        let off = (got - expected).abs();
        let what = check.what;
        assert!(off <= *allowed, "{what}: {got} instead of {expected}, off by {off:e} ({at})");
    }
    let worst = all.iter().map(Figure::agreement).fold(0.0, f64::max);
    let first = all.first().unwrap_or_else(|| panic!("`{}` has no figure", check.what));
    let told = Told {
        check,
        got: first.got,
        expected: first.expected,
        count: all.len(),
        agreement: [first.agreement(), worst],
    };
    let modest = worst >= MODEST;
    assert_eq!(modest, !check.but.is_empty(), "`{}`: {worst:e} needs its reason", check.what);
    told
}

/// An agreement rounded up: to a power of ten, or to one digit where it is modest.
fn agreement(share: f64) -> String {
    if share <= BEST_CLAIMED {
        return format!("{BEST_CLAIMED:e}");
    }
    let ten = share.log10().floor() as i32;
    if share < MODEST {
        return format!("1e{}", ten + 1);
    }
    let digit = (share / 10_f64.powi(ten)).ceil();
    if digit > 9.5 { format!("1e{}", ten + 1) } else { format!("{digit}e{ten}") }
}

/// A number with its unit, to the digits that agree and one more.
fn written(value: f64, unit: &str, share: f64) -> String {
    let agreeing = -share.max(1e-9).log10().floor() as i64;
    trimmed(value, unit, agreeing.clamp(3, 9) as usize + 1)
}

impl Told {
    fn row(&self) -> String {
        let Check { what, source, place, unit, but, .. } = self.check;
        let more =
            if self.count == 1 { String::new() } else { format!(" ({} figures)", self.count) };
        let but = if but.is_empty() { String::new() } else { format!("; {but}") };
        let place = if place.is_empty() { String::new() } else { format!(", {place}") };
        let expected = trimmed(self.expected, unit, 10);
        let got = written(self.got, unit, self.agreement[0]);
        let agrees = agreement(self.agreement[1]);
        let name = source.name;
        format!("| {what}{more}{but} | {name}{place} | {expected} | {got} | {agrees} |\n")
    }
}

/// All sections as they stand in the README.
pub(crate) fn page(all: &[(&Section, &[Told])]) -> String {
    let told: Vec<&Told> = all.iter().flat_map(|(_, told)| told.iter()).collect();
    let mut text = summary(&told);
    text += "\n| | checks | figures | worst agreement |\n|---|---|---|---|\n";
    for (section, told) in all {
        let (figures, worst) = (figures(told.iter()), worst(told.iter()));
        let (title, checks) = (section.title, told.len());
        let _ = writeln!(text, "| {title} | {checks} | {figures} | {worst} |");
    }
    text += "\n<details><summary>Every check: source, expected, got</summary>\n\n";
    text += "The first figure of each stands here; the agreement is the worst of all of them.\n";
    for (section, told) in all {
        let _ = write!(text, "\n**{}**\n\n", section.title);
        text += "| check | source | expected | got | agreement |\n|---|---|---|---|---|\n";
        told.iter().for_each(|told| text += &told.row());
    }
    text += "\n</details>\n\n<details><summary>The sources, and how their figures were had</summary>\n\n";
    for source in sources(&told) {
        let _ = writeln!(text, "* {}: {}", source.name, source.how);
    }
    text + "\n</details>\n"
}

fn figures<'a>(told: impl Iterator<Item = &'a Told>) -> usize {
    told.map(|t| t.count).sum()
}

fn worst<'a>(told: impl Iterator<Item = &'a Told>) -> String {
    agreement(told.map(|t| t.agreement[1]).fold(0.0, f64::max))
}

/// Every source once, in the order of the checks.
fn sources(told: &[&Told]) -> Vec<&'static Source> {
    let mut sources: Vec<&'static Source> = Vec::new();
    for source in told.iter().map(|t| t.check.source) {
        if sources.iter().all(|known| known.name != source.name) {
            sources.push(source);
        }
    }
    sources
}

/// The line above the table.
fn summary(told: &[&Told]) -> String {
    let within = |bound: f64| told.iter().filter(|t| t.agreement[1] <= bound).count();
    let checks = told.len();
    let figures = figures(told.iter().copied());
    let sources = sources(told).len();
    let [fine, good, fair] = [1e-9, 1e-6, MODEST].map(within);
    let worst = worst(told.iter().copied());
    format!(
        "**{checks} checks of {figures} figures from {sources} sources** (books, papers, standards, data sheets, \
         closed forms): {fine} of them\nagree to 1e-9 or better, {good} to 1e-6, {fair} to 1e-3, the worst to {worst}; those beyond 1e-3 say what the source leaves\nout. \
         Agreement is the distance as a share of what is expected, rounded up, and no better than {BEST_CLAIMED:e} is claimed.\n"
    )
}

#[test]
fn an_agreement_is_rounded_up() {
    let table = [
        (0.0, "1e-12"),
        (3e-15, "1e-12"),
        (1.2e-12, "1e-11"),
        (4.4e-7, "1e-6"),
        (9.1e-4, "1e-3"),
        (1.2e-3, "2e-3"),
        (0.0196, "2e-2"),
        (0.097, "1e-1"),
    ];
    for (share, expected) in table {
        assert_eq!(agreement(share), expected, "{share:e}");
    }
}

#[test]
fn a_figure_is_written_to_the_digits_that_agree_and_one_more() {
    assert_eq!(written(44.3137e-6, "A", 0.0196), "44.31 µA");
    assert_eq!(written(14.999_999_999_9, "V", 1e-14), "15 V");
    assert_eq!(written(1.236_995_868_2, "V", 7e-7), "1.2369959 V");
}

//! The `[values]` section: what a value is besides its formula (tolerance, range, series …), kept
//! for studies.

use super::formula::Formula;
use super::naming::{one_of, word};
use super::values::{Figures, ROOT, Values};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::document::{KeyName, Node, Reader, wrong_form};
use crate::quantity::{Dimension, Program, series::Series};

/// How a value scatters within its tolerance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Distribution {
    /// Every value within the limits is as likely.
    Uniform,
    /// Bell-shaped, the limits at three standard deviations.
    Normal,
}

/// How steps over a range are spaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spacing {
    /// Equal differences.
    Linear,
    /// Equal ratios.
    Logarithmic,
}

/// One value of `[values]` with all that is said of it.
#[derive(Clone, Debug, PartialEq)]
pub struct ValueSpec {
    /// Its name.
    pub name: String,
    /// Where it is named.
    pub span: Span,
    /// What it measures.
    pub dimension: Dimension,
    /// What it comes to with nothing changed, in SI base units.
    pub nominal: f64,
    /// Fractions it may lie below and above its nominal value.
    pub tolerance: Option<[f64; 2]>,
    /// Lowest and highest value worth trying, in SI base units.
    pub range: Option<[f64; 2]>,
    /// Preferred-number series (IEC 60063) it is bought in: `E6`.
    pub series: Option<Series>,
    /// The only values at hand, in SI base units; empty when any can be had.
    pub stock: Vec<f64>,
    /// How it scatters.
    pub distribution: Distribution,
    /// How steps over `range` are spaced.
    pub spacing: Spacing,
    /// Label for the page.
    pub text: Option<String>,
}

const SERIES: &[&str] = &["E3", "E6", "E12", "E24", "E48", "E96", "E192"];

/// A range this many times as wide as its lower end is stepped by ratio.
const WIDE: f64 = 10.0;

/// The formula of a value: `"…"`, a number, or `{ value = … }`.
pub(super) fn value_formula(name: &str, node: &Node, told: &mut Diagnostics) -> Option<Formula> {
    let node = match node.as_table() {
        None => node,
        Some(table) => {
            let Some(node) = table.get("value") else {
                let message = format!("value `{name}` has no `value`");
                told.push(Diagnostic::error(node.span, message).hint("add `value = \"…\"`"));
                return None;
            };
            node
        }
    };
    match Formula::read(name, node) {
        Ok(formula) => Some(formula),
        Err(mistake) => {
            told.push(mistake);
            None
        }
    }
}

/// What is said of each value besides its formula, once the values are settled.
pub(super) fn read_specs(
    entries: &[(KeyName, Node)],
    values: &Values,
    figures: &Figures,
    told: &mut Diagnostics,
) -> Vec<ValueSpec> {
    let spec = |(key, node): &(KeyName, Node)| {
        let slot = values.find(ROOT, &key.text)?;
        let dimension = values.dimension(slot)?;
        let nominal = figures.numbers.get(slot).copied()?;
        let mut spec = ValueSpec {
            name: key.text.clone(),
            span: key.span,
            dimension,
            nominal,
            tolerance: None,
            range: None,
            series: None,
            stock: Vec::new(),
            distribution: Distribution::Uniform,
            spacing: Spacing::Linear,
            text: None,
        };
        if let Some(table) = node.as_table() {
            let reader = Reader::new(table, format!("value `{}`", key.text), key.span, told);
            SpecReader { reader, values, figures }.read(&mut spec);
        }
        Some(spec)
    };
    entries.iter().filter_map(spec).collect()
}

struct SpecReader<'a> {
    reader: Reader<'a, 'a>,
    values: &'a Values,
    figures: &'a Figures,
}

impl SpecReader<'_> {
    fn read(mut self, spec: &mut ValueSpec) {
        let unit = spec.dimension;
        let _ = self.reader.node("value");
        spec.tolerance = self.tolerance();
        spec.range = self.range(unit);
        if let Some(node) = self.reader.node("series") {
            let name = word("series", SERIES, node, self.reader.diagnostics());
            spec.series = name.and_then(Series::from_name);
        }
        if let Some(node) = self.reader.node("stock") {
            match node.as_array() {
                Some(items) => {
                    spec.stock =
                        items.iter().filter_map(|i| self.number("stock", i, unit)).collect();
                }
                None => self.tell(wrong_form("stock", node, "a list of quantities")),
            }
        }
        if let Some(node) = self.reader.node("distribution") {
            let words = &["uniform", "normal"];
            let word = word("distribution", words, node, self.reader.diagnostics());
            if word == Some("normal") {
                spec.distribution = Distribution::Normal;
            }
        }
        let positive = spec.range.is_some_and(|[low, _]| low > 0.0);
        if positive && spec.range.is_some_and(|[low, high]| high / low >= WIDE) {
            spec.spacing = Spacing::Logarithmic;
        }
        if let Some(node) = self.reader.node("step") {
            match word("step", &["linear", "log"], node, self.reader.diagnostics()) {
                Some("log") if spec.range.is_some() && !positive => {
                    let message = "steps of equal ratio need both ends of `range` above zero";
                    self.tell(
                        Diagnostic::error(node.span, message).hint("write `step = \"linear\"`"),
                    );
                }
                Some("log") => spec.spacing = Spacing::Logarithmic,
                Some(_) => spec.spacing = Spacing::Linear,
                None => {}
            }
        }
        spec.text = self.reader.text("text").map(|word| word.text);
        self.reader.finish();
    }

    fn tell(&mut self, mistake: Diagnostic) {
        self.reader.diagnostics().push(mistake);
    }

    fn program(&mut self, key: &str, node: &Node, unit: Dimension) -> Option<Program> {
        match Formula::read(key, node) {
            Ok(formula) => {
                self.values.compile(&formula, ROOT, Some(unit), self.reader.diagnostics())
            }
            Err(mistake) => {
                self.tell(mistake);
                None
            }
        }
    }

    fn number(&mut self, key: &str, node: &Node, unit: Dimension) -> Option<f64> {
        let program = self.program(key, node, unit)?;
        let number = self.figures.get(&program)?;
        if !number.is_finite() {
            self.tell(Diagnostic::error(
                node.span,
                format!("`{key}` does not come to a finite number"),
            ));
            return None;
        }
        Some(number)
    }

    /// A fraction, or `[minus, plus]`; the sign of `minus` may be written or not.
    fn tolerance(&mut self) -> Option<[f64; 2]> {
        let node = self.reader.node("tolerance")?;
        let limits = match node.as_array() {
            Some([minus, plus]) => {
                let minus = self.number("tolerance", minus, Dimension::NONE);
                let plus = self.number("tolerance", plus, Dimension::NONE);
                [minus?.abs(), plus?]
            }
            Some(_) => {
                let hint = "write `tolerance = [\"-20 %\", \"50 %\"]`";
                self.tell(wrong_form("tolerance", node, "a fraction or two").hint(hint));
                return None;
            }
            None => [self.number("tolerance", node, Dimension::NONE)?; 2],
        };
        if !(limits[0] >= 0.0 && limits[0] < 1.0 && limits[1] >= 0.0) {
            let message = "`tolerance` must lie between 0 and 100 %";
            self.tell(Diagnostic::error(node.span, message).label("out of range"));
            return None;
        }
        Some(limits)
    }

    fn range(&mut self, unit: Dimension) -> Option<[f64; 2]> {
        let node = self.reader.node("range")?;
        let Some([low, high]) = node.as_array() else {
            let hint = "write `range = [\"lowest\", \"highest\"]`";
            self.tell(wrong_form("range", node, &one_of(&["[low, high]"])).hint(hint));
            return None;
        };
        let (low, high) = (self.number("range", low, unit), self.number("range", high, unit));
        let (low, high) = (low?, high?);
        if low >= high {
            let message = "`range` must go from the lower to the higher value";
            self.tell(
                Diagnostic::error(node.span, message)
                    .hint("swap the two ends, if they are meant so"),
            );
            return None;
        }
        Some([low, high])
    }
}

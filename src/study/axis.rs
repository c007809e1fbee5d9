//! A named value or path and the range that a study moves it over.

use super::spell::{quantity_text, quantity_value, spelled};
use crate::circuit::{Change, Changes, Circuit, Spacing, Variant};
use crate::device::Form;
use crate::diagnostic::{FileId, Span, nearest};
use crate::quantity::{Dimension, NoNames, parse};

/// A range this many times as wide as its lower end is stepped by ratio, unless it says how.
const WIDE: f64 = 10.0;
/// Steps of an axis that says none.
pub const USUAL_COUNT: usize = 25;
/// The most steps of one axis.
pub const MOST_COUNT: usize = 10_000;

/// One axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// What is changed, as `--set` takes it.
    pub path: String,
    /// What to write beside it: the value's own text, or the path.
    pub label: String,
    /// What it measures.
    pub dimension: Dimension,
    /// Lower end in SI base units.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// So many places, ends included.
    pub count: usize,
    /// How they are spaced.
    pub spacing: Spacing,
    /// What it is with nothing changed, if that can be told.
    pub present: Option<f64>,
}

impl Axis {
    /// From 0 at the lower end to 1 at the upper end, as it is spaced.
    pub fn fraction(&self, value: f64) -> f64 {
        match self.spacing {
            Spacing::Linear => (value - self.low) / (self.high - self.low),
            Spacing::Logarithmic => (value / self.low).ln() / (self.high / self.low).ln(),
        }
    }

    /// The value at a fraction.
    pub fn at(&self, fraction: f64) -> f64 {
        match (self.spacing, fraction) {
            (_, 0.0) => self.low,
            (_, 1.0) => self.high,
            (Spacing::Linear, f) => self.low + f * (self.high - self.low),
            (Spacing::Logarithmic, f) => self.low * (self.high / self.low).powf(f),
        }
    }

    /// The value at place `k` of `count`.
    pub fn value(&self, k: usize) -> f64 {
        self.at(k as f64 / (self.count - 1).max(1) as f64)
    }

    /// The change that puts a value there (to the digits that are printed), and what it comes to.
    pub fn change(&self, value: f64) -> (Change, f64) {
        spelled(&self.path, value, self.dimension)
    }

    /// Its range in words: `1 µF to 47 µF`.
    pub fn words(&self) -> String {
        let [low, high] = [self.low, self.high].map(|v| quantity_text(v, self.dimension));
        format!("{low} to {high}")
    }
}

/// Reads `NAME=LOW..HIGH[:COUNT[:linear|log]]`, or `NAME[:COUNT]` of a value whose `range` the file
/// gives.
///
/// # Errors
/// What is wrong with it and what to type.
pub fn axis(circuit: &Circuit, changes: &Changes, text: &str) -> Result<Axis, String> {
    let told = |why: String| format!("`--vary {text}`: {why}");
    let (path, rest) = match text.split_once('=') {
        Some((path, rest)) => (path.trim(), Some(rest)),
        None => (text.split(':').next().unwrap_or_default().trim(), None),
    };
    let base = circuit.variant(changes).map_err(|_| told("the file is broken".to_owned()))?;
    let mut words = rest.unwrap_or(text).split(':').map(str::trim);
    let range = words.next().unwrap_or_default();
    let spec = circuit.values_told.iter().find(|spec| spec.name == path);
    let (low, high, dimension) = match rest {
        Some(_) => ends(range).map_err(&told)?,
        None => {
            let spec = spec.ok_or_else(|| told(unknown(circuit, path)))?;
            let [low, high] = spec.range.ok_or_else(|| told(no_range(path)))?;
            (low, high, spec.dimension)
        }
    };
    let count = words.next().map_or(Ok(USUAL_COUNT), |word| count(word).map_err(&told))?;
    let file_spacing = spec.filter(|_| rest.is_none()).map(|spec| spec.spacing);
    let usual = if low > 0.0 && high / low >= WIDE && dimension != Dimension::KELVIN {
        Spacing::Logarithmic
    } else {
        Spacing::Linear
    };
    let spacing = match words.next() {
        None => file_spacing.unwrap_or(usual),
        Some("linear") => Spacing::Linear,
        Some("log") if low > 0.0 => Spacing::Logarithmic,
        Some("log") => return Err(told("`log` needs both ends above zero".to_owned())),
        Some(word) => return Err(told(format!("`{word}` is neither `linear` nor `log`"))),
    };
    if let Some(word) = words.next() {
        return Err(told(format!("`{word}` is one word too many; {FORM}")));
    }
    let label = spec.and_then(|spec| spec.text.clone()).unwrap_or_else(|| path.to_owned());
    let present = present(&base, path);
    let axis = Axis { path: path.to_owned(), label, dimension, low, high, count, spacing, present };
    for end in [low, high] {
        let mut changes = changes.clone();
        changes.list.push(axis.change(end).0);
        circuit.variant(&changes).map_err(|m| {
            let words = |m: &crate::diagnostic::Diagnostic| match &m.hint {
                Some(hint) => format!("{}; {hint}", m.message),
                None => m.message.clone(),
            };
            told(m.first().map_or_else(|| unknown(circuit, path), words))
        })?;
    }
    Ok(axis)
}

const FORM: &str = "write `--vary NAME=LOW..HIGH:COUNT`, such as `--vary c_out=1uF..47uF:25`";

fn ends(range: &str) -> Result<(f64, f64, Dimension), String> {
    let Some((low, high)) = range.split_once("..") else {
        return Err(format!("`{range}` is no range; {FORM}"));
    };
    let quantity = |text: &str| -> Result<(f64, Dimension), String> {
        let span = Span { file: FileId(0), start: 0, end: 0 };
        let tree = parse(text.trim(), span).map_err(|m| m.message)?;
        let program = tree
            .compile(&NoNames)
            .map_err(|m| m.first().map_or_else(String::new, |m| m.message.clone()))?;
        Ok((program.evaluate::<f64>(&[]), program.dimension()))
    };
    let ((low_value, is), (high_value, other)) = (quantity(low)?, quantity(high)?);
    if is != other {
        return Err(format!("`{low}` is {}, `{high}` is {}; {FORM}", is.words(), other.words()));
    }
    if !(low_value < high_value) {
        return Err(format!("`{low}` is not below `{high}`"));
    }
    Ok((low_value, high_value, is))
}

fn count(word: &str) -> Result<usize, String> {
    let count = word.parse().ok().filter(|count| (2..=MOST_COUNT).contains(count));
    count.ok_or_else(|| format!("`{word}` is no count from 2 to {MOST_COUNT}"))
}

fn no_range(path: &str) -> String {
    format!("the file gives `{path}` no `range`; {FORM}")
}

/// That the file has no value of this name, and which one it may be.
pub(super) fn unknown(circuit: &Circuit, path: &str) -> String {
    let names = circuit.values_told.iter().map(|spec| spec.name.as_str());
    match nearest(path, names) {
        Some(near) => format!("there is no value `{path}`; is `{near}` meant?"),
        None => format!("there is no value `{path}` in the file"),
    }
}

/// What a path stands for in a variant; `None` for keys of models and what is no quantity.
pub fn present(variant: &Variant, path: &str) -> Option<f64> {
    if path == "rail.ambient" {
        return variant.rail.as_ref().map(|rail| rail.ambient_k);
    }
    if let Some(value) = variant.values.iter().find(|value| value.name == path) {
        return Some(value.value);
    }
    let (part, key) = path.rsplit_once('.')?;
    let part = variant.part(part)?;
    if key == "temperature" {
        return Some(part.parameters.temperature_k);
    }
    match part.kind.key(key)?.form {
        Form::Quantity(..) => part.parameters.optional(key),
        _ => None,
    }
}

/// What a level of a list of `[corners]` comes to in SI base units, with its dimension.
pub fn level(text: &str) -> Option<(f64, Dimension)> {
    let span = Span { file: FileId(0), start: 0, end: 0 };
    let program = parse(text, span).ok()?.compile(&NoNames).ok()?;
    let dimension = program.dimension();
    Some((quantity_value(text, dimension)?, dimension))
}

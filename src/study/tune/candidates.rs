//! What is tuned, and between which values the choice is: stock, preferred numbers, steps, or so many
//! capacitors in parallel.

use crate::circuit::{Change, Changes, Circuit, ValueSpec, Variant};
use crate::quantity::{Dimension, series::Series};
use crate::study::axis::{Axis, axis, present};
use crate::study::spell::spelled;

/// Candidates that are looked at unless another limit is asked for.
pub const USUAL_LIMIT: usize = 1000;
/// Values of one name beyond which a choice is refused.
const MOST_CHOICES: usize = 10_000;
/// Candidates that may be formed before the limit picks among them.
const MOST_PRODUCT: usize = 1_000_000;
/// Capacitors in parallel beyond which nobody solders them.
const MOST_PARALLEL: usize = 100;
/// What is taken where the file names no series.
const USUAL_SERIES: Series = Series::E6;
/// Two values this near by ratio are the same.
const SAME: f64 = 1e-9;

/// What the caller wants tuned.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// `NAME`, `NAME=LOW..HIGH` or `NAME=LOW..HIGH:COUNT[:linear|log]`; every value of the file that
    /// has a `series` or `stock` where empty.
    pub vary: Vec<String>,
    /// `PART=LEAST..MOST`: so many in parallel.
    pub parallel: Vec<String>,
    /// Corners and tolerances left out.
    pub nominal: bool,
    /// At most so many candidates.
    pub limit: usize,
}

/// One thing that is tuned.
#[derive(Clone, Debug, PartialEq)]
pub struct Tuned {
    /// What is changed, as `--set` takes it.
    pub path: String,
    /// What to write beside it.
    pub label: String,
    /// What it measures.
    pub dimension: Dimension,
    /// The change for each value, ascending, and what it comes to in SI base units.
    pub choices: Vec<(Change, f64)>,
    /// Where the choices come from, in words.
    pub from: String,
    /// What it is now.
    pub present: Option<f64>,
    /// Share below and above that it scatters by.
    pub tolerance: Option<[f64; 2]>,
    /// (part, key) of all that follows it.
    pub touches: Vec<(String, &'static str)>,
}

/// One choice of everything that is tuned.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// In the order of what is tuned; empty for the design as it stands.
    pub changes: Vec<Change>,
    /// In SI base units, in the same order.
    pub values: Vec<f64>,
    /// Place in [`Tuned::choices`] of each; empty for a design that is none of them.
    pub places: Vec<usize>,
    /// F·V: label times rated voltage times number in parallel, over the capacitors that are tuned.
    pub size_fv: f64,
    /// How many capacitors that are.
    pub count: f64,
    /// The design as it stands.
    pub is_present: bool,
}

/// What is tuned in a circuit under some changes.
///
/// # Errors
/// What is wrong with the question and what to type.
pub fn tuned(circuit: &Circuit, changes: &Changes, asked: &Asked) -> Result<Vec<Tuned>, String> {
    let base = circuit.variant(changes).map_err(|_| "the file is broken".to_owned())?;
    let mut found = Vec::new();
    if asked.vary.is_empty() {
        let bought =
            |s: &&ValueSpec| (s.series.is_some() && s.range.is_some()) || !s.stock.is_empty();
        for spec in circuit.values_told.iter().filter(bought) {
            found.push(of_spec(circuit, changes, &base, &spec.name)?);
        }
    }
    for text in &asked.vary {
        found.push(of_spec(circuit, changes, &base, text)?);
    }
    for text in &asked.parallel {
        found.push(in_parallel(circuit, &base, text)?);
    }
    if found.is_empty() {
        return Err(
            "nothing to tune: give a value of `[values]` a `series` and a `range`, or write \
                    `--vary NAME=LOW..HIGH`"
                .to_owned(),
        );
    }
    for k in 0..found.len() {
        if found[..k].iter().any(|other| other.path == found[k].path) {
            return Err(format!("`{}` is varied twice", found[k].path));
        }
        let touches = touches(circuit, changes, &base, &found[k])?;
        if touches.is_empty() {
            return Err(format!("`{}` moves no part of the circuit", found[k].path));
        }
        found[k].touches = touches;
    }
    Ok(found)
}

/// One `--vary`, or a value by its name.
fn of_spec(
    circuit: &Circuit,
    changes: &Changes,
    base: &Variant,
    text: &str,
) -> Result<Tuned, String> {
    let path = text.split(['=', ':']).next().unwrap_or_default().trim();
    let spec = circuit.values_told.iter().find(|spec| spec.name == path);
    let whole = !text.contains(['=', ':']);
    let stock = spec.map(|s| s.stock.as_slice()).unwrap_or_default();
    let (ends, steps): (Option<[f64; 2]>, Option<Axis>) = if whole && spec.is_some_and(has_stock) {
        (spec.and_then(|s| s.range), None)
    } else {
        let read = axis(circuit, changes, text)?;
        let counted = text.matches(':').count() > 0;
        (Some([read.low, read.high]), counted.then_some(read))
    };
    let dimension = match spec {
        Some(spec) => spec.dimension,
        None => axis(circuit, changes, text)?.dimension,
    };
    let inside = |v: &f64| ends.is_none_or(|[low, high]| (low..=high).contains(v));
    let (values, from) = if let Some(axis) = steps {
        let values = (0..axis.count).map(|k| axis.value(k)).collect();
        (values, format!("{} steps from {}", axis.count, axis.words()))
    } else if stock.is_empty() {
        preferred(path, spec, ends.unwrap_or_default(), dimension)?
    } else {
        (stock.iter().copied().filter(inside).collect(), "the stock list of the file".to_owned())
    };
    let choices = choices(path, values, dimension);
    if choices.is_empty() || choices.len() > MOST_CHOICES {
        let count = choices.len();
        return Err(format!(
            "`{text}` gives {count} values to choose from ({from}); change its range"
        ));
    }
    let label = spec.and_then(|s| s.text.clone()).unwrap_or_else(|| path.to_owned());
    let (present, tolerance) = (present(base, path), spec.and_then(|s| s.tolerance));
    let (path, touches) = (path.to_owned(), Vec::new());
    Ok(Tuned { path, label, dimension, choices, from, present, tolerance, touches })
}

fn has_stock(spec: &ValueSpec) -> bool {
    !spec.stock.is_empty()
}

/// Preferred numbers within a range.
fn preferred(
    path: &str,
    spec: Option<&ValueSpec>,
    [low, high]: [f64; 2],
    dimension: Dimension,
) -> Result<(Vec<f64>, String), String> {
    if dimension == Dimension::KELVIN || !(low > 0.0) {
        return Err(format!(
            "`{path}` has no preferred numbers there; write `--vary {path}=LOW..HIGH:COUNT`"
        ));
    }
    let named = spec.and_then(|spec| spec.series);
    let series = named.unwrap_or(USUAL_SERIES);
    let from = match named {
        Some(series) => format!("{} of IEC 60063", series.name()),
        None => format!("{} of IEC 60063, as the file names no series", series.name()),
    };
    Ok((series.within(low, high), from))
}

fn choices(path: &str, mut values: Vec<f64>, dimension: Dimension) -> Vec<(Change, f64)> {
    values.sort_by(f64::total_cmp);
    values.dedup();
    let mut choices: Vec<(Change, f64)> =
        values.into_iter().map(|value| spelled(path, value, dimension)).collect();
    choices.dedup_by(|a, b| a.0.text == b.0.text);
    choices
}

/// `C_OUT=1..3`
fn in_parallel(circuit: &Circuit, base: &Variant, text: &str) -> Result<Tuned, String> {
    let told = |why: &str| format!("`--parallel {text}`: {why}; write `--parallel C_OUT=1..3`");
    let (part, range) = text.split_once('=').ok_or_else(|| told("no range"))?;
    let (low, high) = range.split_once("..").unwrap_or((range, range));
    let number = |word: &str| word.trim().parse::<usize>().ok();
    let (Some(low), Some(high)) = (number(low), number(high)) else {
        return Err(told("the ends are no whole numbers"));
    };
    if !(1..=MOST_PARALLEL).contains(&low) || !(low..=MOST_PARALLEL).contains(&high) {
        return Err(told(&format!("the numbers must rise and lie within 1 and {MOST_PARALLEL}")));
    }
    let part = part.trim();
    match circuit.part_kind(part) {
        Some(kind) if kind.name == "capacitor" => {}
        Some(kind) => return Err(told(&format!("`{part}` is a {}, no capacitor", kind.name))),
        None => return Err(told(&format!("there is no part `{part}`"))),
    }
    let path = format!("{part}.count");
    let choice = |n: usize| (Change::new(path.as_str(), n.to_string()), n as f64);
    Ok(Tuned {
        label: format!("{part} in parallel"),
        dimension: Dimension::NONE,
        choices: (low..=high).map(choice).collect(),
        from: "whole numbers".to_owned(),
        present: present(base, &path),
        tolerance: None,
        touches: Vec::new(),
        path,
    })
}

/// What differs between the ends of the choices, or from the present design.
fn touches(
    circuit: &Circuit,
    changes: &Changes,
    base: &Variant,
    tuned: &Tuned,
) -> Result<Vec<(String, &'static str)>, String> {
    let mut found = Vec::new();
    for (change, _) in [tuned.choices.first(), tuned.choices.last()].into_iter().flatten() {
        let mut changes = changes.clone();
        changes.list.push(change.clone());
        let variant = circuit.variant(&changes).map_err(|mistakes| {
            let why = mistakes.first().map_or("it cannot be set", |m| m.message.as_str());
            format!("`{}={}`: {why}", change.path, change.text)
        })?;
        for (a, b) in base.parts.iter().zip(&variant.parts) {
            let (old, new) = (&a.parameters, &b.parameters);
            let keys = old.numbers.keys().chain(new.numbers.keys());
            let moved = keys.filter(|key| old.numbers.get(*key) != new.numbers.get(*key));
            let before = found.len();
            found.extend(moved.map(|key| (a.name.clone(), *key)));
            if found.len() == before && old != new {
                found.push((a.name.clone(), ""));
            }
        }
    }
    found.sort();
    found.dedup();
    Ok(found)
}

/// All candidates, the design as it stands among them, and whether the limit cut some off: then the
/// nearest to that design by ratio are looked at.
///
/// # Errors
/// More combinations than can be formed, or one that cannot be set.
pub(super) fn candidates(
    circuit: &Circuit,
    changes: &Changes,
    tuned: &[Tuned],
    limit: usize,
) -> Result<(Vec<Candidate>, usize), String> {
    let product = tuned.iter().try_fold(1_usize, |n, t| n.checked_mul(t.choices.len()));
    let product = product.filter(|n| *n <= MOST_PRODUCT).ok_or_else(|| {
        format!(
            "more than {MOST_PRODUCT} combinations; narrow the ranges or choose a coarser series"
        )
    })?;
    let mut chosen: Vec<Vec<usize>> = (0..product).map(|k| places(k, tuned)).collect();
    if product > limit.max(1) {
        // Stable: of equally near ones the first stay.
        chosen.sort_by(|a, b| far(a, tuned).total_cmp(&far(b, tuned)));
        chosen.truncate(limit.max(1));
        chosen.sort();
    }
    let mut found = Vec::with_capacity(chosen.len() + 1);
    for places in chosen {
        let pick = |k: usize| &tuned[k].choices[places[k]];
        let new = Candidate {
            changes: (0..tuned.len()).map(|k| pick(k).0.clone()).collect(),
            values: (0..tuned.len()).map(|k| pick(k).1).collect(),
            is_present: (0..tuned.len()).all(|k| is_same(tuned[k].present, pick(k).1)),
            places,
            size_fv: 0.0,
            count: 0.0,
        };
        found.push(weighed(circuit, changes, tuned, new)?);
    }
    let now: Option<Vec<f64>> = tuned.iter().map(|t| t.present).collect();
    if let Some(values) = now.filter(|_| !found.iter().any(|c| c.is_present)) {
        let (changes_of, places) = (Vec::new(), Vec::new());
        let new = Candidate {
            changes: changes_of,
            values,
            places,
            size_fv: 0.0,
            count: 0.0,
            is_present: true,
        };
        found.push(weighed(circuit, changes, tuned, new)?);
    }
    Ok((found, product))
}

fn is_same(a: Option<f64>, b: f64) -> bool {
    a.is_some_and(|a| (a - b).abs() <= SAME * b.abs())
}

/// The places of combination `k`, the last of what is tuned running fastest.
fn places(mut k: usize, tuned: &[Tuned]) -> Vec<usize> {
    let mut places = vec![0; tuned.len()];
    for (place, tuned) in places.iter_mut().zip(tuned).rev() {
        *place = k % tuned.choices.len();
        k /= tuned.choices.len();
    }
    places
}

/// How far a combination lies from the design as it stands: the sum of squared logarithms.
fn far(places: &[usize], tuned: &[Tuned]) -> f64 {
    let one = |(place, tuned): (&usize, &Tuned)| {
        let value = tuned.choices.get(*place).map_or(0.0, |c| c.1);
        match tuned.present.filter(|now| *now > 0.0 && value > 0.0) {
            Some(now) => (value / now).ln().powi(2),
            None => 0.0,
        }
    };
    places.iter().zip(tuned).map(one).sum()
}

/// The same with what it costs.
fn weighed(
    circuit: &Circuit,
    changes: &Changes,
    tuned: &[Tuned],
    candidate: Candidate,
) -> Result<Candidate, String> {
    let mut changes = changes.clone();
    changes.list.extend(candidate.changes.iter().cloned());
    let variant = circuit.variant(&changes).map_err(|mistakes| {
        let what = crate::study::spell::set_arguments(&candidate.changes);
        let why = mistakes.first().map_or("it cannot be set", |m| m.message.as_str());
        format!("`{what}`: {why}")
    })?;
    let (mut size_fv, mut count) = (0.0, 0.0);
    for name in capacitors(tuned, &variant) {
        let Some(part) = variant.part(&name) else { continue };
        let p = &part.parameters;
        let many = p.optional("count").unwrap_or(1.0);
        size_fv += p.number("capacitance") * rated_v(&variant, p.optional("rated_voltage")) * many;
        count += many;
    }
    // 10 µF once and 5 µF twice are of one size, whatever the last bits of the sums are.
    let size_fv = format!("{size_fv:.9e}").parse().unwrap_or(size_fv);
    Ok(Candidate { size_fv, count, ..candidate })
}

/// V; the rail's where a part has no rating, and 1 V where there is no rail.
fn rated_v(variant: &Variant, rated_v: Option<f64>) -> f64 {
    let rail = || variant.rail.as_ref().and_then(|rail| rail.nominal_v);
    rated_v.or_else(rail).map_or(1.0, f64::abs)
}

/// The capacitors that what is tuned touches, in the order of the file.
pub(super) fn capacitors(tuned: &[Tuned], variant: &Variant) -> Vec<String> {
    let touched = |name: &str| tuned.iter().any(|t| t.touches.iter().any(|(part, _)| part == name));
    let parts = variant.parts.iter().filter(|p| p.kind.name == "capacitor" && touched(&p.name));
    parts.map(|p| p.name.clone()).collect()
}

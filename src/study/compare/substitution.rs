//! A new capacitor for an old one: whether it lies in the region that purchasing was given, and, run
//! at every corner of the environment, whether every requirement still holds.

use crate::circuit::Change;
use crate::circuit::Variant;
use crate::device::capacitor_figures;
use crate::measure::Verdict;
use crate::quantity::{Dimension, engineering};
use crate::study::axis::level;
use crate::study::worst::{Depth, badness, worst};
use crate::study::{Halt, Runner};
use serde_json::Value;

/// What of a capacitor may be held against a region: key, letters in `--substitute`, unit.
const KEYS: [(&str, &str, Dimension); 3] = [
    ("capacitance", "C", Dimension::FARAD),
    ("esr", "ESR", Dimension::OHM),
    ("esl", "ESL", Dimension::HENRY),
];

/// Limits of one key, SI base units.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// Lowest allowed.
    pub low: Option<f64>,
    /// Highest allowed.
    pub high: Option<f64>,
}

/// The region that every requirement was found to hold in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Region {
    /// By the key of a capacitor: `capacitance`, `esr`, `esl`.
    pub limits: Vec<(&'static str, Limits)>,
}

/// Reads the `allowed_region` of the JSON that `tune` writes, of capacitor `part` where it lists
/// several; a key holds `{ "min": …, "max": … }` or two numbers, either of which may be `null`.
///
/// # Errors
/// What is wrong with it.
pub fn region(text: &str, part: &str) -> Result<Region, String> {
    let whole: Value = serde_json::from_str(text).map_err(|e| format!("it is no JSON: {e}"))?;
    let region = whole.get("allowed_region").unwrap_or(&whole);
    let region = match region.as_array() {
        None => region,
        Some(parts) => {
            let own = parts.iter().find(|r| r.get("part").and_then(Value::as_str) == Some(part));
            own.ok_or_else(|| format!("it has no `allowed_region` of `{part}`"))?
        }
    };
    let mut found = Region::default();
    for (key, ..) in KEYS {
        let Some(value) = region.get(key).filter(|value| !value.is_null()) else { continue };
        let ends = match value {
            Value::Array(ends) if ends.len() == 2 => [ends.first(), ends.get(1)],
            Value::Object(ends) => [ends.get("min"), ends.get("max")],
            _ => return Err(format!("`{key}` is neither `{{ min, max }}` nor two numbers")),
        };
        let number = |end: Option<&Value>| match end {
            None | Some(Value::Null) => Ok(None),
            Some(value) => match value.as_f64() {
                Some(number) => Ok(Some(number)),
                None => Err(format!("a limit of `{key}` is `{value}`, which is no number")),
            },
        };
        let limits = Limits { low: number(ends[0])?, high: number(ends[1])? };
        if let (Some(low), Some(high)) = (limits.low, limits.high)
            && low > high
        {
            return Err(format!("the limits of `{key}` stand the wrong way round"));
        }
        if limits.low.or(limits.high).is_some() {
            found.limits.push((key, limits));
        }
    }
    if found.limits.is_empty() {
        return Err("it has no `allowed_region` with limits of `capacitance` or `esr`".to_owned());
    }
    Ok(found)
}

/// A capacitor to be put in.
#[derive(Clone, Debug, PartialEq)]
pub struct Substitute {
    /// The part it takes the place of.
    pub part: String,
    /// What it has, by key, in SI base units, and the text that gave it.
    pub figures: Vec<(&'static str, f64)>,
    /// As `--set` arguments; empty for the capacitor as it is.
    pub changes: Vec<Change>,
}

/// Reads `C=3.3uF,ESR=8mΩ`, or `PART:C=…` where the rail has several output capacitors.
///
/// # Errors
/// What is wrong with it and what to type.
pub fn substitute(variant: &Variant, text: &str) -> Result<Substitute, String> {
    let told = |why: String| {
        let form = "write `--substitute C=3.3uF,ESR=8mΩ`";
        format!("`--substitute {text}`: {why}; {form}")
    };
    let (part, list) = match text.split_once(':') {
        Some((part, list)) => (part.trim().to_owned(), list),
        None => (only_capacitor(variant).map_err(&told)?, text),
    };
    if variant.part(&part).is_none_or(|p| p.kind.key("capacitance").is_none()) {
        return Err(told(format!("there is no capacitor `{part}`")));
    }
    let mut found = Substitute { part, figures: Vec::new(), changes: Vec::new() };
    for entry in list.split(',') {
        let (word, value) = entry.split_once('=').unwrap_or((entry, ""));
        let known = KEYS.iter().find(|(_, letters, _)| letters.eq_ignore_ascii_case(word.trim()));
        let Some((key, letters, dimension)) = known else {
            return Err(told(format!("`{}` is none of C, ESR, ESL", word.trim())));
        };
        let value = value.trim();
        let number = level(value).filter(|(n, is)| is == dimension && n.is_finite() && *n >= 0.0);
        let Some((number, _)) = number else {
            return Err(told(format!("`{letters}` must be {}", dimension.words())));
        };
        found.figures.push((key, number));
        found.changes.push(Change::new(format!("{}.{key}", found.part), value));
    }
    Ok(found)
}

/// The capacitor as a variant has it.
///
/// # Errors
/// Where the rail has none, or several.
pub fn as_it_is(variant: &Variant) -> Result<Substitute, String> {
    let name = only_capacitor(variant)?;
    let part = variant.part(&name).ok_or("the output capacitor is not there")?;
    let figure =
        |(key, ..): &(&'static str, &str, Dimension)| Some((*key, part.parameters.optional(key)?));
    let figures = KEYS.iter().filter_map(figure).collect();
    Ok(Substitute { part: name, figures, changes: Vec::new() })
}

fn only_capacitor(variant: &Variant) -> Result<String, String> {
    let rail = variant.rail.as_ref().ok_or("the file has no `[rail]`")?;
    match rail.output_capacitors.as_slice() {
        [one] => Ok(one.clone()),
        [] => Err("the rail has no output capacitor".to_owned()),
        several => {
            let first = several.first().map_or("", String::as_str);
            Err(format!(
                "the rail has several output capacitors ({}); name one, such as \
                 `--substitute {first}:C=3.3uF,ESR=8mΩ`",
                several.join(", ")
            ))
        }
    }
}

/// What the capacitor of a variant comes to at the rail's voltage, nominal, for the keys that the
/// substitute tells: a region is one of effective values.
pub fn effective(variant: &Variant, substitute: &Substitute) -> Vec<(&'static str, f64)> {
    let Some(part) = variant.part(&substitute.part) else { return Vec::new() };
    let bias_v = variant.rail.as_ref().and_then(|rail| rail.nominal_v).unwrap_or(0.0);
    let figures = capacitor_figures(&part.parameters);
    let told = substitute.figures.iter().map(|&(key, value)| match key {
        "capacitance" => (key, figures.farad_at(bias_v)),
        "esr" => (key, figures.esr_ohm),
        "esl" => (key, figures.esl_henry),
        _ => (key, value),
    });
    told.collect()
}

/// One key held against its limits.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// Of the capacitor.
    pub key: &'static str,
    /// SI symbol.
    pub unit: String,
    /// What it has.
    pub value: f64,
    /// What it may have.
    pub limits: Limits,
    /// How far outside, as a share of the limit that it passes: negative below the lower one.
    pub outside: Option<f64>,
}

/// Every key of the region that the capacitor tells, by its effective `figures`.
pub fn held(figures: &[(&'static str, f64)], region: &Region) -> Vec<Held> {
    let one = |(key, limits): &(&'static str, Limits)| {
        let value = figures.iter().find(|(k, _)| k == key)?.1;
        let below = limits.low.filter(|low| value < *low).map(|low| (value - low) / low.abs());
        let above =
            limits.high.filter(|high| value > *high).map(|high| (value - high) / high.abs());
        let unit = KEYS.iter().find(|(k, ..)| k == key).map(|(.., d)| d.symbol())?;
        Some(Held { key, unit, value, limits: *limits, outside: below.or(above) })
    };
    region.limits.iter().filter_map(one).collect()
}

impl Held {
    /// In words: `esr 8.00 mΩ: 33 % above the highest allowed, 6.00 mΩ`.
    pub fn words(&self) -> String {
        const DIGITS: usize = 4;
        let told = |value: f64| crate::quantity::trimmed(value, &self.unit, DIGITS);
        let value = told(self.value);
        let share = |by: f64| engineering(100.0 * by.abs(), "%", 2);
        match (self.outside, self.limits) {
            (Some(by), Limits { low: Some(low), .. }) if by < 0.0 => {
                format!(
                    "{} {value}: {} below the lowest allowed, {}",
                    self.key,
                    share(by),
                    told(low)
                )
            }
            (Some(by), Limits { high: Some(high), .. }) => {
                format!(
                    "{} {value}: {} above the highest allowed, {}",
                    self.key,
                    share(by),
                    told(high)
                )
            }
            (_, Limits { low: Some(low), high: Some(high) }) => {
                format!("{} {value}: within {} to {}", self.key, told(low), told(high))
            }
            (_, Limits { low: Some(low), .. }) => {
                format!("{} {value}: above the lowest allowed, {}", self.key, told(low))
            }
            (_, Limits { high, .. }) => {
                let high = high.map_or_else(String::new, told);
                format!("{} {value}: below the highest allowed, {high}", self.key)
            }
        }
    }
}

/// What running the tests with the capacitor gave.
#[derive(Clone, Debug, PartialEq)]
pub struct Verified {
    /// Tests that were run.
    pub tests: usize,
    /// Runs.
    pub runs: usize,
    /// The requirements missed, in the order of the file: what a reader is told.
    pub missed: Vec<Missed>,
}

/// A requirement that is missed.
#[derive(Clone, Debug, PartialEq)]
pub struct Missed {
    /// Name of the test.
    pub test: String,
    /// Name of the measurement.
    pub measurement: String,
    /// SI symbol.
    pub unit: &'static str,
    /// What it came to, if it did.
    pub value: Option<f64>,
    /// What was asked.
    pub limit: String,
    /// Why there is no value.
    pub reason: Option<String>,
    /// What made it so, as `--set` arguments.
    pub changes: Vec<Change>,
}

/// Runs every test of the runner at every corner of the environment with the capacitor put in.
///
/// # Errors
/// As [`Runner::run`].
pub fn verify(runner: &Runner<'_>, changes: &[Change]) -> Result<Verified, Halt> {
    let tests: Vec<usize> = runner.sheets.iter().map(|sheet| sheet.test).collect();
    let found = worst(runner, &tests, changes, Depth::Environment)?;
    let mut verified = Verified { tests: tests.len(), runs: 0, missed: Vec::new() };
    for of_test in &found {
        verified.runs += of_test.runs;
        let Some(sheet) = runner.sheet(of_test.test) else { continue };
        for (row, worst) in sheet.rows.iter().zip(&of_test.rows) {
            let missed = matches!(
                worst.line.verdict,
                Verdict::Fail | Verdict::Error | Verdict::NotEvaluated
            );
            if row.advisory || !missed || badness(&worst.line) <= 0.0 {
                continue;
            }
            verified.missed.push(Missed {
                test: sheet.outcome.name.clone(),
                measurement: row.name.clone(),
                unit: row.unit,
                value: worst.line.value,
                limit: row.limit.clone().unwrap_or_default(),
                reason: worst.failure.clone().or(worst.line.reason.clone()),
                changes: changes.iter().chain(&worst.changes).cloned().collect(),
            });
        }
    }
    Ok(verified)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn capacitor(farad: f64, ohm: f64) -> [(&'static str, f64); 2] {
        [("capacitance", farad), ("esr", ohm)]
    }

    #[test]
    fn a_region_is_read_in_both_forms_and_its_mistakes_are_told() {
        let objects = r#"{"format":1,"allowed_region":{"capacitance":{"min":1e-6,"max":null},
            "esr":{"min":0.002,"max":0.1},"esl":null,"note":"x"}}"#;
        let found = region(objects, "C1").unwrap_or_default();
        let expected = [
            ("capacitance", Limits { low: Some(1e-6), high: None }),
            ("esr", Limits { low: Some(0.002), high: Some(0.1) }),
        ];
        assert_eq!(found.limits, expected);
        let arrays = region(r#"{"esr":[0.002,0.1]}"#, "C1").unwrap_or_default();
        assert_eq!(arrays.limits, expected[1..]);
        let listed =
            r#"{"allowed_region":[{"part":"C2","esr":[1,2]},{"part":"C1","esr":[0.002,0.1]}]}"#;
        assert_eq!(region(listed, "C1").unwrap_or_default().limits, expected[1..]);
        assert!(region(listed, "C3").is_err_and(|why| why.contains("`C3`")));
        for (text, words) in [
            ("{", "no JSON"),
            ("{}", "no `allowed_region`"),
            (r#"{"esr":[0.1,0.002]}"#, "wrong way round"),
            (r#"{"esr":5}"#, "neither"),
            (r#"{"esr":["a",1]}"#, "no number"),
        ] {
            assert!(region(text, "C1").is_err_and(|why| why.contains(words)), "{text}");
        }
    }

    #[test]
    fn exact_a_capacitor_outside_is_told_by_how_much_and_on_which_side() {
        let text = r#"{"capacitance":[2e-6,10e-6],"esr":{"max":0.010}}"#;
        let region = region(text, "C1").unwrap_or_default();
        let words = |farad, ohm| {
            held(&capacitor(farad, ohm), &region).iter().map(Held::words).collect::<Vec<_>>()
        };
        assert_eq!(
            words(1e-6, 0.012),
            [
                "capacitance 1 µF: 50 % below the lowest allowed, 2 µF",
                "esr 12 mΩ: 20 % above the highest allowed, 10 mΩ"
            ]
        );
        assert_eq!(
            words(5e-6, 0.004),
            [
                "capacitance 5 µF: within 2 µF to 10 µF",
                "esr 4 mΩ: below the highest allowed, 10 mΩ"
            ]
        );
        assert!(held(&capacitor(2e-6, 0.01), &region).iter().all(|h| h.outside.is_none()));
    }
}

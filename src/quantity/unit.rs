//! Unit words with their SI prefixes, and which names they forbid.

use super::Dimension;
use super::function::Function;
use crate::diagnostic::nearest;

/// What one unit word stands for: `factor · 10^ten` of the SI unit of `dimension`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Unit {
    pub(super) dimension: Dimension,
    /// Kept apart from the factor so that a decimal number is scaled in decimal, without rounding.
    pub(super) ten: i32,
    pub(super) factor: f64,
    /// Counted from 0 °C and not from 0 K.
    pub(super) celsius: bool,
}

/// Units that take an SI prefix.
const PREFIXABLE: [(&str, Dimension); 13] = [
    ("V", Dimension::VOLT),
    ("A", Dimension::AMPERE),
    ("Ω", Dimension::OHM),
    ("ohm", Dimension::OHM),
    ("S", Dimension::SIEMENS),
    ("F", Dimension::FARAD),
    ("H", Dimension::HENRY),
    ("W", Dimension::WATT),
    ("J", Dimension::JOULE),
    ("C", Dimension::COULOMB),
    ("Hz", Dimension::HERTZ),
    ("s", Dimension::SECOND),
    ("K", Dimension::KELVIN),
];

/// Units that take none: word, dimension, power of ten, factor.
const WHOLE: [(&str, Dimension, i32, f64); 9] = [
    ("min", Dimension::SECOND, 0, 60.0),
    ("h", Dimension::SECOND, 0, 3600.0),
    (CELSIUS, Dimension::KELVIN, 0, 1.0),
    ("deg", Dimension::DEGREE, 0, 1.0),
    ("%", Dimension::NONE, -2, 1.0),
    ("ppm", Dimension::NONE, -6, 1.0),
    ("dB", Dimension::DECIBEL, 0, 1.0),
    // No prefix: nobody could tell whether it stands under the root.
    ("√Hz", Dimension::ROOT_HERTZ, 0, 1.0),
    ("rtHz", Dimension::ROOT_HERTZ, 0, 1.0),
];

const CELSIUS: &str = "°C";

/// SI prefixes with their power of ten.
pub(super) const PREFIXES: [(char, i32); 9] = [
    ('f', -15),
    ('p', -12),
    ('n', -9),
    ('µ', -6),
    ('u', -6),
    ('m', -3),
    ('k', 3),
    ('M', 6),
    ('G', 9),
];

/// Words people write for units, and what is meant.
const SYNONYMS: [(&str, &str); 25] = [
    ("volt", "V"),
    ("volts", "V"),
    ("amp", "A"),
    ("amps", "A"),
    ("ampere", "A"),
    ("ohms", "ohm"),
    ("farad", "F"),
    ("henry", "H"),
    ("watt", "W"),
    ("watts", "W"),
    ("joule", "J"),
    ("hertz", "Hz"),
    ("sqrthz", "√Hz"),
    ("roothz", "√Hz"),
    ("√hertz", "√Hz"),
    ("sec", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("hour", "h"),
    ("degc", CELSIUS),
    ("celsius", CELSIUS),
    ("°", "deg"),
    ("º", "deg"),
    ("ºc", CELSIUS),
    ("kelvin", "K"),
];

/// One spelling for characters that look alike: Ω, µ and °C each have two code points.
fn plain(word: &str) -> String {
    let mut plain = String::with_capacity(word.len());
    for c in word.chars() {
        match c {
            '\u{2126}' => plain.push('Ω'),
            '\u{03BC}' => plain.push('µ'),
            '\u{2103}' => plain.push_str(CELSIUS),
            other => plain.push(other),
        }
    }
    plain
}

/// The power of ten of a prefix in either spelling.
pub(super) fn prefix(letter: char) -> Option<i32> {
    let letter = if letter == '\u{03BC}' { 'µ' } else { letter };
    PREFIXES.iter().find(|(p, _)| *p == letter).map(|(_, ten)| *ten)
}

/// What a unit word stands for.
pub(super) fn unit(word: &str) -> Option<Unit> {
    let word = plain(word);
    if let Some((name, dimension, ten, factor)) = WHOLE.iter().find(|(name, ..)| *name == word) {
        let celsius = *name == CELSIUS;
        return Some(Unit { dimension: *dimension, ten: *ten, factor: *factor, celsius });
    }
    let bare = |word: &str| PREFIXABLE.iter().find(|(name, _)| *name == word).map(|(_, d)| *d);
    let scaled = |dimension, ten| Unit { dimension, ten, factor: 1.0, celsius: false };
    if let Some(dimension) = bare(&word) {
        return Some(scaled(dimension, 0));
    }
    let mut rest = word.chars();
    let ten = prefix(rest.next()?)?;
    bare(rest.as_str()).map(|dimension| scaled(dimension, ten))
}

/// Whether a character can begin a unit word.
pub(super) fn begins_unit(c: char) -> bool {
    c.is_alphabetic() || matches!(c, '%' | '°' | 'º' | '\u{2103}' | '_' | '√')
}

/// The unit that was probably meant by `word`.
pub(super) fn suggestion(word: &str) -> Option<String> {
    let word = plain(word);
    let lower = word.to_lowercase();
    if let Some((_, meant)) = SYNONYMS.iter().find(|(written, _)| *written == lower) {
        return Some((*meant).to_owned());
    }
    let known = all();
    let alike: Vec<&String> = known.iter().filter(|u| u.to_lowercase() == lower).collect();
    let first = |w: &str| w.chars().next();
    if let Some(best) = alike.iter().find(|u| first(u) == first(&word)).or(alike.first()) {
        return Some((*best).clone());
    }
    // A single letter is one edit away from every other: no evidence of what was meant.
    (word.chars().count() > 1)
        .then(|| nearest(&word, known.iter().map(String::as_str)).map(str::to_owned))
        .flatten()
}

/// Every unit word, the plain ones first.
fn all() -> Vec<String> {
    let whole = WHOLE.iter().map(|(name, ..)| (*name).to_owned());
    let bare = PREFIXABLE.iter().map(|(name, _)| (*name).to_owned());
    let prefixed = PREFIXES
        .iter()
        .flat_map(|(prefix, _)| PREFIXABLE.iter().map(move |(name, _)| format!("{prefix}{name}")));
    bare.chain(whole).chain(prefixed).collect()
}

/// Whether `name` can name a value: `[A-Za-z_][A-Za-z0-9_]*`.
pub fn valid_name(name: &str) -> bool {
    let mut letters = name.chars();
    letters.next().is_some_and(|c| c.is_ascii_alphabetic() || c == '_')
        && letters.all(|c| c.is_ascii_alphanumeric() || c == '_')
}

/// Why a value or a law's input must not be called `name`, to follow "is refused as a name: ".
pub fn reserved(name: &str) -> Option<&'static str> {
    if name == "t" {
        return Some("it is the time");
    }
    if Function::from_name(name).is_some() {
        return Some("it is a function");
    }
    unit(name)?;
    let word = plain(name);
    let bare = PREFIXABLE.iter().any(|(n, _)| *n == word) || WHOLE.iter().any(|(n, ..)| *n == word);
    Some(if bare { "it is a unit" } else { "it is a unit with a prefix" })
}

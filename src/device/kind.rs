//! A part kind as a row of data: terminals, keys with units and ranges, its law in words, its
//! source. Reading, checking, `explain` and the schema all come from these rows.

use super::{Drive, HeatedBy, Net, Pin};
use crate::quantity::{Dimension, Program};
use std::collections::BTreeMap;

/// One kind of part.
#[derive(Debug)]
pub struct Kind {
    /// As typed: `error-amplifier`.
    pub name: &'static str,
    /// One line: what it is.
    pub summary: &'static str,
    /// How its ends are written.
    pub terminals: Terminals,
    /// Its keys, besides `kind`, `model`, `text`, `temperature`.
    pub keys: &'static [Key],
    /// Conditions between keys.
    pub rules: &'static [Rule],
    /// The law, as equations a reader can check.
    pub law: &'static str,
    /// What noise it makes, as densities a reader can check, or that it makes none.
    pub noise: &'static str,
    /// Where the law comes from.
    pub source: &'static str,
    /// A line that parses.
    pub example: &'static str,
    /// Lays the part into the net.
    pub lay: fn(&Parameters, &[Pin], &mut Net),
}

/// How a part's ends are written in the file.
#[derive(Debug)]
pub enum Terminals {
    /// `nodes = [a, b]`, alike ends; current counted from a to b.
    Pair,
    /// One key each.
    Named(&'static [Terminal]),
    /// `ports = { port = node }` of a block.
    Ports,
}

/// A named end.
#[derive(Debug)]
pub struct Terminal {
    /// The key.
    pub name: &'static str,
    /// The terminal whose node it shares when not given.
    pub default: Option<&'static str>,
    /// What it is.
    pub text: &'static str,
}

/// One key of a kind.
#[derive(Debug)]
pub struct Key {
    /// As typed.
    pub name: &'static str,
    /// What may stand there.
    pub form: Form,
    /// Whether it may be left out.
    pub need: Need,
    /// What it means.
    pub text: &'static str,
}

/// What may stand behind a key.
#[derive(Debug)]
pub enum Form {
    /// A quantity.
    Quantity(Dimension, Range),
    /// One of these words.
    Word(&'static [&'static str]),
    /// `[c, d]`: the voltage between two nodes.
    NodePair,
    /// The name of a voltage source or inductor whose current is sensed.
    SensedPart,
    /// The name of a heat path whose junction is watched.
    HeatPath,
    /// `{ x = [c, d], … }`: named input voltages of a law.
    Inputs,
    /// An expression of the inputs and `t`, of this dimension.
    Expression(Dimension),
    /// A time function (interfaces: `varies`), of the same dimension as this other key.
    Varies(&'static str),
    /// `[["x", "y"], …]`: rising x of this dimension and range, each with a plain number of that range.
    Points(Dimension, Range, Range),
    /// `[["x", "y"], …]`: pairs of quantities of these dimensions and ranges, in an order that matters.
    Pairs((Dimension, Range), (Dimension, Range)),
    /// The name of a part.
    Part,
    /// A list of names of parts.
    Parts,
    /// `{ … }` with the keys of another kind.
    KeysOf(&'static Kind),
    /// The name of a block.
    BlockName,
    /// `{ name = "expression" }` for a block's own values.
    BlockValues,
    /// `[{ … }, …]`: tables with these keys.
    Rows(&'static [Key]),
    /// `["x", "y"]`: two rising quantities of this dimension and range.
    FromTo(Dimension, Range),
    /// Words that the part itself understands.
    Text,
    /// `{ name = "quantity" }` for values of what a regulator is taken apart into.
    InnerValues,
}

/// What values physics allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Range {
    /// Any finite number.
    Any,
    /// Above zero.
    Positive,
    /// Zero or above.
    NonNegative,
    /// From 0 to 1 (a fraction that may be zero).
    Fraction,
    /// From 0 to below 1.
    FractionBelowOne,
    /// Above 0, up to 1.
    PositiveFraction,
    /// Above -100 %: a change that leaves something.
    LeavesSomething,
    /// Above zero kelvin.
    AboveAbsoluteZero,
    /// 1, 2, 3 …
    Count,
}

/// Whether a key may be left out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Need {
    /// It must be there.
    Required,
    /// This number, in SI base units, stands in for it.
    Default(f64),
    /// This word stands in for it.
    DefaultWord(&'static str),
    /// Without it the effect is not modelled.
    Absent,
}

/// A condition between keys.
#[derive(Debug)]
pub enum Rule {
    /// Exactly one of these keys.
    ExactlyOne(&'static [&'static str]),
    /// One of these keys or none.
    AtMostOne(&'static [&'static str]),
    /// All of these keys or none.
    Together(&'static [&'static str]),
    /// When the first key has this word, these keys must be there.
    Needs(&'static str, &'static str, &'static [&'static str]),
    /// The first key's value must be below the second's.
    Below(&'static str, &'static str),
    /// The first key's value must not be above the second's.
    NotAbove(&'static str, &'static str),
    /// These two must not be equal.
    Different(&'static str, &'static str),
    /// The first, a duration, must fit into the period of the second, a frequency.
    WithinPeriod(&'static str, &'static str),
    /// These keys may be there only where the first terminal is at another node than the second.
    NeedsApart(&'static [&'static str], &'static str, &'static str),
}

/// What a law's expression gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LawOutput {
    /// A, from the first node to the second.
    Current,
    /// V, of the first node above the second.
    Voltage,
    /// C, on the first node.
    Charge,
}

/// The evaluated keys of one part, in SI base units, defaults filled in.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Parameters {
    /// Quantities by key; keys that were left out and have no default are missing.
    pub numbers: BTreeMap<&'static str, f64>,
    /// Points of curves by key, x rising, and pairs in their order; in SI base units.
    pub curves: BTreeMap<&'static str, Vec<[f64; 2]>>,
    /// Names of parts by key.
    pub names: BTreeMap<&'static str, Vec<String>>,
    /// Words by key.
    pub words: BTreeMap<&'static str, &'static str>,
    /// Input voltages: the one of `input`, or those of a law in the order of its program's slots.
    pub inputs: Vec<[Pin; 2]>,
    /// The unknown of the current that is sensed, or of the junction that is watched.
    pub sensed: Option<usize>,
    /// A law's expression: slots are its inputs in order, then `t`.
    pub law: Option<(LawOutput, Program)>,
    /// What sets the level of a source or load: constant plus `varies`, or what a test drives.
    pub drive: Option<Drive>,
    /// Parameters of sub-tables (`body_diode`).
    pub tables: BTreeMap<&'static str, Parameters>,
    /// Temperature of the part in K.
    pub temperature_k: f64,
    /// The junction whose temperature it has, if a heat path names it.
    pub heated_by: Option<HeatedBy>,
}

impl Parameters {
    /// The quantity behind a required or defaulted key. Reading has made sure it is there; a key
    /// that is not in the kind's table gives NaN, which a test of the tables would show.
    pub fn number(&self, key: &str) -> f64 {
        self.numbers.get(key).copied().unwrap_or(f64::NAN)
    }

    /// The quantity behind a key that may be absent.
    pub fn optional(&self, key: &str) -> Option<f64> {
        self.numbers.get(key).copied()
    }

    /// The word behind a key; empty if it is not there.
    pub fn word(&self, key: &str) -> &'static str {
        self.words.get(key).copied().unwrap_or("")
    }
}

impl Range {
    /// What must hold, in words that follow `must be`.
    pub fn words(self) -> &'static str {
        match self {
            Range::Any => "a finite number",
            Range::Positive => "above zero",
            Range::NonNegative => "zero or above",
            Range::Fraction => "from 0 to 100 %",
            Range::FractionBelowOne => "from 0 % to below 100 %",
            Range::PositiveFraction => "above 0 %, up to 100 %",
            Range::LeavesSomething => "above -100 %",
            Range::AboveAbsoluteZero => "above absolute zero",
            Range::Count => "a whole number from 1 up",
        }
    }

    /// Whether a value is allowed.
    pub fn holds(self, value: f64) -> bool {
        value.is_finite()
            && match self {
                Range::Any => true,
                Range::Positive | Range::AboveAbsoluteZero => value > 0.0,
                Range::NonNegative => value >= 0.0,
                Range::Fraction => (0.0..=1.0).contains(&value),
                Range::FractionBelowOne => (0.0..1.0).contains(&value),
                Range::PositiveFraction => value > 0.0 && value <= 1.0,
                Range::LeavesSomething => value > -1.0,
                Range::Count => value >= 1.0 && value.fract() == 0.0,
            }
    }
}

impl Kind {
    /// Its key of this name.
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|k| k.name == name)
    }

    /// Parameters with every default filled in, to be completed with what the file says.
    pub fn defaults(&self, temperature_k: f64) -> Parameters {
        let mut filled = Parameters { temperature_k, ..Parameters::default() };
        for key in self.keys {
            match key.need {
                Need::Default(number) => {
                    filled.numbers.insert(key.name, number);
                }
                Need::DefaultWord(word) => {
                    filled.words.insert(key.name, word);
                }
                Need::Required | Need::Absent => {}
            }
        }
        filled
    }
}

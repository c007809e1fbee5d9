//! Shorthand for writing the rows of part kinds; no laws here.

use super::{Form, Key, Need, Range};
use crate::quantity::Dimension;

/// A key that holds a quantity.
pub(super) const fn quantity(
    name: &'static str,
    unit: Dimension,
    range: Range,
    need: Need,
    text: &'static str,
) -> Key {
    Key { name, form: Form::Quantity(unit, range), need, text }
}

/// A key that holds one of a few words, the first of which stands in when it is left out.
pub(super) const fn word(
    name: &'static str,
    words: &'static [&'static str],
    default: &'static str,
    text: &'static str,
) -> Key {
    Key { name, form: Form::Word(words), need: Need::DefaultWord(default), text }
}

/// A key without default and without duty.
pub(super) const fn absent(name: &'static str, form: Form, text: &'static str) -> Key {
    Key { name, form, need: Need::Absent, text }
}

/// Zero stands in.
pub(super) const ZERO: Need = Need::Default(0.0);

/// Where the noise that a part was given begins to rise.
pub(super) const NOISE_CORNER: Key = quantity(
    "noise_corner",
    Dimension::HERTZ,
    Range::NonNegative,
    ZERO,
    "frequency at which noise that falls as 1/f has grown as strong as `noise_density`; below it \
     the density rises as 1/√f",
);

/// Where the flicker noise of a current over a barrier stands out of its shot noise.
///
/// S = K·I^a/f, the other form in use, needs a coefficient whose unit depends on its exponent, and
/// nobody publishes it for a discrete part; a corner can be read off a noise plot. It fixes a = 1,
/// within the 0.5 to 2 of real junctions (Gray and Meyer, Analysis and Design of Analog Integrated
/// Circuits, noise in diodes and transistors; from memory).
pub(super) const fn flicker_corner(text: &'static str) -> Key {
    quantity("flicker_corner", Dimension::HERTZ, Range::NonNegative, ZERO, text)
}

/// The temperature at which the parameters were taken.
pub(super) const CHARACTERISED_AT: Key = quantity(
    "characterised_at",
    Dimension::KELVIN,
    Range::AboveAbsoluteZero,
    Need::Default(super::temperature::CHARACTERISED_AT_K),
    "temperature at which the other keys hold",
);

/// The spread of the leading value.
pub(super) const TOLERANCE: Key = quantity(
    "tolerance",
    Dimension::NONE,
    Range::Fraction,
    ZERO,
    "largest deviation of the value, both ways; used by corners, not by a nominal run",
);

/// kT/q given instead of computed.
pub(super) const THERMAL_VOLTAGE: Key = quantity(
    "thermal_voltage",
    Dimension::VOLT,
    Range::Positive,
    Need::Absent,
    "thermal voltage; when absent, kT/q at the part's temperature",
);

/// The energy gap that sets how a saturation current follows temperature.
pub(super) const BANDGAP: Key = quantity(
    "bandgap",
    Dimension::VOLT,
    Range::Positive,
    Need::Default(1.11),
    "energy gap of the semiconductor over the elementary charge",
);

/// The power law beside the gap.
pub(super) const SATURATION_EXPONENT: Key = quantity(
    "saturation_exponent",
    Dimension::NONE,
    Range::Any,
    Need::Default(3.0),
    "power of temperature in the saturation current",
);

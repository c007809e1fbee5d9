//! The dimension of a quantity as exponents of volt, ampere, second and kelvin, with degrees of
//! phase and decibels kept apart so that neither is taken for a plain number.

use std::fmt;

/// Exponents, each doubled so that a square root stays exact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Dimension {
    volt: i8,
    ampere: i8,
    second: i8,
    kelvin: i8,
    degree: i8,
    decibel: i8,
}

impl Dimension {
    const fn of(volt: i8, ampere: i8, second: i8, kelvin: i8) -> Self {
        Self {
            volt: 2 * volt,
            ampere: 2 * ampere,
            second: 2 * second,
            kelvin: 2 * kelvin,
            degree: 0,
            decibel: 0,
        }
    }

    /// A plain number.
    pub const NONE: Self = Self::of(0, 0, 0, 0);
    /// V
    pub const VOLT: Self = Self::of(1, 0, 0, 0);
    /// A
    pub const AMPERE: Self = Self::of(0, 1, 0, 0);
    /// s
    pub const SECOND: Self = Self::of(0, 0, 1, 0);
    /// K
    pub const KELVIN: Self = Self::of(0, 0, 0, 1);
    /// Ω = V/A
    pub const OHM: Self = Self::of(1, -1, 0, 0);
    /// S = A/V
    pub const SIEMENS: Self = Self::of(-1, 1, 0, 0);
    /// F = A s/V
    pub const FARAD: Self = Self::of(-1, 1, 1, 0);
    /// H = V s/A
    pub const HENRY: Self = Self::of(1, -1, 1, 0);
    /// W = V A
    pub const WATT: Self = Self::of(1, 1, 0, 0);
    /// J = V A s
    pub const JOULE: Self = Self::of(1, 1, 1, 0);
    /// C = A s
    pub const COULOMB: Self = Self::of(0, 1, 1, 0);
    /// Hz = 1/s
    pub const HERTZ: Self = Self::of(0, 0, -1, 0);
    /// 1/V
    pub const PER_VOLT: Self = Self::of(-1, 0, 0, 0);
    /// 1/K
    pub const PER_KELVIN: Self = Self::of(0, 0, 0, -1);
    /// K/W, a thermal resistance.
    pub const KELVIN_PER_WATT: Self = Self::of(-1, -1, 0, 1);
    /// J/K, a heat capacity.
    pub const JOULE_PER_KELVIN: Self = Self::of(1, 1, 1, -1);
    /// V/s
    pub const VOLT_PER_SECOND: Self = Self::of(1, 0, -1, 0);
    /// V/K
    pub const VOLT_PER_KELVIN: Self = Self::of(1, 0, 0, -1);
    /// A/V²
    pub const AMPERE_PER_VOLT_SQUARED: Self = Self::of(-2, 1, 0, 0);
    /// A²·s, what melts a fuse.
    pub const AMPERE_SQUARED_SECOND: Self = Self::of(0, 2, 1, 0);
    /// √Hz = s^-½
    pub const ROOT_HERTZ: Self = Self { second: -1, ..Self::NONE };
    /// V/√Hz, the density of a noise voltage.
    pub const VOLT_PER_ROOT_HERTZ: Self = Self { volt: 2, second: 1, ..Self::NONE };
    /// A/√Hz, the density of a noise current.
    pub const AMPERE_PER_ROOT_HERTZ: Self = Self { ampere: 2, second: 1, ..Self::NONE };
    /// Degrees of phase.
    pub const DEGREE: Self = Self { degree: 2, ..Self::NONE };
    /// Decibels.
    pub const DECIBEL: Self = Self { decibel: 2, ..Self::NONE };

    /// Dimension of a product.
    #[must_use]
    pub fn times(self, o: Self) -> Self {
        self.combine(o, 1)
    }

    /// Dimension of a quotient.
    #[must_use]
    pub fn over(self, o: Self) -> Self {
        self.combine(o, -1)
    }

    fn combine(self, o: Self, sign: i8) -> Self {
        let add = |a: i8, b: i8| a.saturating_add(b.saturating_mul(sign));
        Self {
            volt: add(self.volt, o.volt),
            ampere: add(self.ampere, o.ampere),
            second: add(self.second, o.second),
            kelvin: add(self.kelvin, o.kelvin),
            degree: add(self.degree, o.degree),
            decibel: add(self.decibel, o.decibel),
        }
    }

    /// Dimension of a product; `None` if an exponent leaves its range.
    pub fn checked_times(self, o: Self) -> Option<Self> {
        self.checked(o, i8::checked_add)
    }

    /// Dimension of a quotient; `None` if an exponent leaves its range.
    pub fn checked_over(self, o: Self) -> Option<Self> {
        self.checked(o, i8::checked_sub)
    }

    fn checked(self, o: Self, join: impl Fn(i8, i8) -> Option<i8>) -> Option<Self> {
        Some(Self {
            volt: join(self.volt, o.volt)?,
            ampere: join(self.ampere, o.ampere)?,
            second: join(self.second, o.second)?,
            kelvin: join(self.kelvin, o.kelvin)?,
            degree: join(self.degree, o.degree)?,
            decibel: join(self.decibel, o.decibel)?,
        })
    }

    /// Dimension of a power; `None` if an exponent would not be a multiple of one half.
    pub fn power(self, exponent: f64) -> Option<Self> {
        let scale = |e: i8| {
            let scaled = f64::from(e) * exponent;
            (scaled.fract() == 0.0 && scaled.abs() <= 100.0).then_some(scaled as i8)
        };
        Some(Self {
            volt: scale(self.volt)?,
            ampere: scale(self.ampere)?,
            second: scale(self.second)?,
            kelvin: scale(self.kelvin)?,
            degree: scale(self.degree)?,
            decibel: scale(self.decibel)?,
        })
    }

    /// Whether it is a plain number.
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    /// The unit's symbol where the trade has one (`Ω`, `F`, `A/V^2`, `V/√Hz`), else built from V, A,
    /// s, K; empty for a plain number. A number followed by it reads back as this dimension, unless
    /// a half is among the exponents it shows.
    pub fn symbol(self) -> String {
        const NAMED: [(Dimension, &str); 23] = [
            (Dimension::NONE, ""),
            (Dimension::VOLT, "V"),
            (Dimension::AMPERE, "A"),
            (Dimension::SECOND, "s"),
            (Dimension::KELVIN, "K"),
            (Dimension::OHM, "Ω"),
            (Dimension::SIEMENS, "S"),
            (Dimension::FARAD, "F"),
            (Dimension::HENRY, "H"),
            (Dimension::WATT, "W"),
            (Dimension::JOULE, "J"),
            (Dimension::COULOMB, "C"),
            (Dimension::HERTZ, "Hz"),
            (Dimension::PER_VOLT, "1/V"),
            (Dimension::PER_KELVIN, "1/K"),
            (Dimension::KELVIN_PER_WATT, "K/W"),
            (Dimension::JOULE_PER_KELVIN, "J/K"),
            (Dimension::AMPERE_PER_VOLT_SQUARED, "A/V^2"),
            (Dimension::ROOT_HERTZ, "√Hz"),
            (Dimension::VOLT_PER_ROOT_HERTZ, "V/√Hz"),
            (Dimension::AMPERE_PER_ROOT_HERTZ, "A/√Hz"),
            (Dimension::DEGREE, "deg"),
            (Dimension::DECIBEL, "dB"),
        ];
        if let Some((_, symbol)) = NAMED.iter().find(|(d, _)| *d == self) {
            return (*symbol).to_owned();
        }
        let factors = [
            (self.volt, "V"),
            (self.ampere, "A"),
            (self.second, "s"),
            (self.kelvin, "K"),
            (self.degree, "deg"),
            (self.decibel, "dB"),
        ];
        let factor = |exponent: i8, unit: &str| match exponent.unsigned_abs() {
            2 => unit.to_owned(),
            doubled if doubled % 2 == 0 => format!("{unit}^{}", doubled / 2),
            doubled => format!("{unit}^({doubled}/2)"),
        };
        let above: Vec<String> =
            factors.iter().filter(|(e, _)| *e > 0).map(|(e, unit)| factor(*e, unit)).collect();
        let mut symbol = if above.is_empty() { "1".to_owned() } else { above.join("*") };
        for (exponent, unit) in factors.iter().filter(|(e, _)| *e < 0) {
            symbol.push('/');
            symbol.push_str(&factor(*exponent, unit));
        }
        symbol
    }

    /// What it measures, in words, where the trade has a word (`a voltage`, `a capacitance`).
    pub fn words(self) -> String {
        const WORDS: [(Dimension, &str); 18] = [
            (Dimension::NONE, "a plain number"),
            (Dimension::VOLT, "a voltage"),
            (Dimension::AMPERE, "a current"),
            (Dimension::SECOND, "a time"),
            (Dimension::KELVIN, "a temperature"),
            (Dimension::OHM, "a resistance"),
            (Dimension::SIEMENS, "a conductance"),
            (Dimension::FARAD, "a capacitance"),
            (Dimension::HENRY, "an inductance"),
            (Dimension::WATT, "a power"),
            (Dimension::JOULE, "an energy"),
            (Dimension::COULOMB, "a charge"),
            (Dimension::HERTZ, "a frequency"),
            (Dimension::KELVIN_PER_WATT, "a thermal resistance"),
            (Dimension::VOLT_PER_ROOT_HERTZ, "a noise voltage density"),
            (Dimension::AMPERE_PER_ROOT_HERTZ, "a noise current density"),
            (Dimension::DEGREE, "an angle in degrees"),
            (Dimension::DECIBEL, "a ratio in decibels"),
        ];
        WORDS
            .iter()
            .find(|(d, _)| *d == self)
            .map_or_else(|| format!("a quantity in {}", self.symbol()), |(_, w)| (*w).to_owned())
    }
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.symbol())
    }
}

//! How parameters follow temperature: applied once when a part is laid out, or, for a part on a
//! heat path, at every point by the same formulas over any scalar.

use super::Parameters;
use crate::numeric::Scalar;

/// Boltzmann's constant in J/K, exact (SI 2019).
pub const BOLTZMANN: f64 = 1.380_649e-23;
/// The elementary charge in C, exact (SI 2019).
pub const ELEMENTARY_CHARGE: f64 = 1.602_176_634e-19;
/// Where parameters hold unless `characterised_at` says otherwise: 25 °C.
pub const CHARACTERISED_AT_K: f64 = 298.15;

/// 0 °C in K.
pub const ZERO_CELSIUS_K: f64 = 273.15;

/// A linear law may not shrink a value below this share of itself: a resistance or gain that a
/// coefficient drives through zero stays positive, so that no iterate divides by it.
pub const SMALLEST_FACTOR: f64 = 1e-3;

/// Laws are evaluated no colder than this: below it no device works, and at 0 K no law has a value.
const COLDEST_K: f64 = 1.0;

/// kT/q in V.
pub fn thermal_voltage_v<S: Scalar>(temperature_k: S) -> S {
    S::splat(BOLTZMANN) * temperature_k / S::splat(ELEMENTARY_CHARGE)
}

/// I_S(to)/I_S(from) = (to/from)^exponent · exp(q·gap/k·(1/from − 1/to)).
pub fn saturation_ratio<S: Scalar>(from_k: f64, to_k: S, bandgap_v: f64, exponent: f64) -> S {
    let gap_k = bandgap_v * ELEMENTARY_CHARGE / BOLTZMANN;
    let power = (to_k / S::splat(from_k)).ln() * S::splat(exponent);
    let gap = S::splat(gap_k) * (S::splat(1.0 / from_k) - S::splat(1.0) / to_k);
    (power + gap).exp()
}

/// The temperature of a part at which its laws are evaluated, in K.
pub(super) fn kelvin(p: &Parameters) -> f64 {
    p.temperature_k.max(COLDEST_K)
}

/// T − `characterised_at` in K.
pub(super) fn rise_k(p: &Parameters) -> f64 {
    kelvin(p) - p.number("characterised_at")
}

/// 1 + coefficient·(T − `characterised_at`), never below [`SMALLEST_FACTOR`].
pub fn linear_factor(p: &Parameters, coefficient: &str) -> f64 {
    Linear::of(p, coefficient).at(kelvin(p))
}

fn held_to_doubles<S: Scalar>(x: S) -> S {
    x.maximum(S::splat(f64::MIN_POSITIVE)).minimum(S::splat(1e30))
}

/// A factor that follows temperature in a straight line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Linear {
    per_k: f64,
    characterised_k: f64,
}

impl Linear {
    /// From the key that holds its coefficient.
    pub(super) fn of(p: &Parameters, coefficient: &str) -> Self {
        Self { per_k: p.number(coefficient), characterised_k: p.number("characterised_at") }
    }

    /// 1 at every temperature.
    pub(super) fn constant() -> Self {
        Self { per_k: 0.0, characterised_k: CHARACTERISED_AT_K }
    }

    /// 1 + coefficient·(T − `characterised_at`), never below [`SMALLEST_FACTOR`].
    pub(super) fn at<S: Scalar>(self, kelvin: S) -> S {
        let rise_k = kelvin - S::splat(self.characterised_k);
        (S::splat(1.0) + S::splat(self.per_k) * rise_k).maximum(S::splat(SMALLEST_FACTOR))
    }
}

/// A factor that follows temperature by a power.
#[derive(Clone, Copy, Debug)]
pub(super) struct Power {
    exponent: f64,
    characterised_k: f64,
}

impl Power {
    /// From the key that holds its exponent.
    pub(super) fn of(p: &Parameters, exponent: &str) -> Self {
        let characterised_k = p.number("characterised_at").max(COLDEST_K);
        Self { exponent: p.number(exponent), characterised_k }
    }

    /// (T/`characterised_at`)^exponent.
    pub(super) fn at<S: Scalar>(self, kelvin: S) -> S {
        held_to_doubles((kelvin / S::splat(self.characterised_k)).power(self.exponent))
    }
}

/// The thermal voltage of a part.
#[derive(Clone, Copy, Debug)]
pub(super) struct ThermalVoltage {
    /// What the part was given instead of kT/q, in V.
    given_v: Option<f64>,
}

impl ThermalVoltage {
    /// From the key `thermal_voltage`.
    pub(super) fn of(p: &Parameters) -> Self {
        Self { given_v: p.optional("thermal_voltage") }
    }

    /// In V.
    pub(super) fn at<S: Scalar>(self, kelvin: S) -> S {
        let volt = self.given_v.map_or_else(|| thermal_voltage_v(kelvin), S::splat);
        volt.maximum(S::splat(thermal_voltage_v(COLDEST_K)))
    }
}

/// A saturation current.
#[derive(Clone, Copy, Debug)]
pub(super) struct Saturation {
    ampere: f64,
    characterised_k: f64,
    bandgap_v: f64,
    exponent: f64,
    per_ideality: f64,
}

impl Saturation {
    /// Of `ampere` at `characterised_at`.
    pub(super) fn of(p: &Parameters, ampere: f64, ideality: f64) -> Self {
        Self {
            ampere,
            characterised_k: p.number("characterised_at").max(COLDEST_K),
            bandgap_v: p.number("bandgap"),
            exponent: p.number("saturation_exponent"),
            per_ideality: 1.0 / ideality,
        }
    }

    fn factor<S: Scalar>(self, kelvin: S) -> S {
        saturation_ratio(self.characterised_k, kelvin, self.bandgap_v, self.exponent)
            .power(self.per_ideality)
    }

    /// In A.
    pub(super) fn at<S: Scalar>(self, kelvin: S) -> S {
        held_to_doubles(S::splat(self.ampere) * self.factor(kelvin))
    }
}

/// The coefficient, if any, that a part's temperature drives so far that its linear law ends at
/// [`SMALLEST_FACTOR`]: worth a warning when the file is read.
pub fn overdriven_coefficient(p: &Parameters) -> Option<&'static str> {
    const LINEAR: [&str; 4] = [
        "temperature_coefficient",
        "forward_gain_temperature_coefficient",
        "series_resistance_temperature_coefficient",
        "limit_temperature_coefficient",
    ];
    let ends = |key: &&str| p.optional(key).is_some_and(|c| 1.0 + c * rise_k(p) < SMALLEST_FACTOR);
    LINEAR.into_iter().find(ends)
}

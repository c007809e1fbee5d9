//! How parameters follow temperature, applied once when a part is laid out.

use super::Parameters;

/// Boltzmann's constant in J/K, exact (SI 2019).
pub const BOLTZMANN: f64 = 1.380_649e-23;
/// The elementary charge in C, exact (SI 2019).
pub const ELEMENTARY_CHARGE: f64 = 1.602_176_634e-19;
/// Where parameters hold unless `characterised_at` says otherwise: 25 °C.
pub const CHARACTERISED_AT_K: f64 = 298.15;

/// A linear law may not shrink a value below this share of itself: a resistance or gain that a
/// coefficient drives through zero stays positive, so that no iterate divides by it.
pub const SMALLEST_FACTOR: f64 = 1e-3;

/// kT/q in V.
pub fn thermal_voltage_v(temperature_k: f64) -> f64 {
    BOLTZMANN * temperature_k / ELEMENTARY_CHARGE
}

/// I_S(to)/I_S(from) = (to/from)^exponent · exp(q·gap/k·(1/from − 1/to)).
pub fn saturation_ratio(from_k: f64, to_k: f64, bandgap_v: f64, exponent: f64) -> f64 {
    let gap_k = bandgap_v * ELEMENTARY_CHARGE / BOLTZMANN;
    ((to_k / from_k).ln() * exponent + gap_k * (1.0 / from_k - 1.0 / to_k)).exp()
}

/// T − `characterised_at` in K.
pub(super) fn rise_k(p: &Parameters) -> f64 {
    p.temperature_k - p.number("characterised_at")
}

/// 1 + coefficient·(T − `characterised_at`), never below [`SMALLEST_FACTOR`].
pub(super) fn linear_factor(p: &Parameters, coefficient: &str) -> f64 {
    (1.0 + p.number(coefficient) * rise_k(p)).max(SMALLEST_FACTOR)
}

/// The thermal voltage of a part: its own if given, else kT/q.
pub(super) fn thermal_voltage_of(p: &Parameters) -> f64 {
    p.optional("thermal_voltage").unwrap_or_else(|| thermal_voltage_v(p.temperature_k))
}

/// The factor on a saturation current between `characterised_at` and the part's temperature.
pub(super) fn saturation_factor(p: &Parameters) -> f64 {
    saturation_ratio(
        p.number("characterised_at"),
        p.temperature_k,
        p.number("bandgap"),
        p.number("saturation_exponent"),
    )
}

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

/// Laws are evaluated no colder than this: below it no device works, and at 0 K no law has a value.
const COLDEST_K: f64 = 1.0;

/// kT/q in V.
pub fn thermal_voltage_v(temperature_k: f64) -> f64 {
    BOLTZMANN * temperature_k / ELEMENTARY_CHARGE
}

/// I_S(to)/I_S(from) = (to/from)^exponent · exp(q·gap/k·(1/from − 1/to)).
pub fn saturation_ratio(from_k: f64, to_k: f64, bandgap_v: f64, exponent: f64) -> f64 {
    let gap_k = bandgap_v * ELEMENTARY_CHARGE / BOLTZMANN;
    ((to_k / from_k).ln() * exponent + gap_k * (1.0 / from_k - 1.0 / to_k)).exp()
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
    (1.0 + p.number(coefficient) * rise_k(p)).max(SMALLEST_FACTOR)
}

/// The thermal voltage of a part: its own if given, else kT/q.
pub(super) fn thermal_voltage_of(p: &Parameters) -> f64 {
    let given = p.optional("thermal_voltage").unwrap_or_else(|| thermal_voltage_v(kelvin(p)));
    given.max(thermal_voltage_v(COLDEST_K))
}

/// (T/`characterised_at`)^exponent.
pub(super) fn power_factor(p: &Parameters, exponent: &str) -> f64 {
    let ratio = kelvin(p) / p.number("characterised_at").max(COLDEST_K);
    held_to_doubles(ratio.powf(p.number(exponent)))
}

/// The factor on a saturation current between `characterised_at` and the part's temperature. With
/// an ideality n it is the n-th root, which leaves the forward voltage heading for the bandgap at
/// 0 K whatever n is.
pub(super) fn saturation_factor(p: &Parameters, ideality: f64) -> f64 {
    let ratio = saturation_ratio(
        p.number("characterised_at").max(COLDEST_K),
        kelvin(p),
        p.number("bandgap"),
        p.number("saturation_exponent"),
    );
    ratio.powf(1.0 / ideality)
}

/// A saturation current that stays a number at temperatures far outside a device's life.
pub(super) fn held_saturation(ampere: f64) -> f64 {
    held_to_doubles(ampere)
}

fn held_to_doubles(x: f64) -> f64 {
    x.clamp(f64::MIN_POSITIVE, 1e30)
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

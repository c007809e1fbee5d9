//! Noise that parts make: its causes, how it lies over frequency, and what several laws share.
//!
//! Densities are one-sided, per hertz of positive frequency: a resistance makes 4kT·R.

use super::temperature::{BOLTZMANN, ELEMENTARY_CHARGE, kelvin, thermal_voltage_v};
use super::{Parameters, Pin};
use crate::numeric::Scalar;

/// What makes noise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NoiseCause {
    /// Heat: 4kT/R (Nyquist, Phys. Rev. 32 (1928) 110; Johnson, the same, 97).
    Thermal,
    /// Charges that cross a barrier one by one: 2q·I (Schottky, Ann. Phys. 57 (1918) 541).
    Shot,
    /// What rises as 1/f towards low frequencies.
    Flicker,
    /// A density that the part itself was given.
    Source,
}

impl NoiseCause {
    /// In the trade's words.
    pub fn word(self) -> &'static str {
        match self {
            NoiseCause::Thermal => "thermal",
            NoiseCause::Shot => "shot",
            NoiseCause::Flicker => "flicker",
            NoiseCause::Source => "source",
        }
    }
}

/// Density over frequency f: white + `flicker_at_1hz`·(1 Hz)/f.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise<T> {
    /// The cause of the white part, and of all of it where that is [`NoiseCause::Source`].
    pub cause: NoiseCause,
    /// A²/Hz of a current, V²/Hz of a voltage.
    pub white: T,
    /// The part that falls as 1/f, at 1 Hz, in the same unit.
    pub flicker_at_1hz: T,
}

impl<T: Scalar<Base = T>> Noise<T> {
    /// No noise.
    pub fn none() -> Self {
        let zero = T::splat(0.0);
        Self { cause: NoiseCause::Thermal, white: zero, flicker_at_1hz: zero }
    }
}

impl Noise<f64> {
    /// Thermal noise of `size`: an ohm makes V²/Hz, a siemens A²/Hz.
    pub fn thermal(size: f64, temperature_k: f64) -> Self {
        Self { white: four_kt(temperature_k) * size, ..Self::none() }
    }

    /// From the keys `noise_density` and `noise_corner`.
    pub(super) fn given(p: &Parameters) -> Self {
        let white = p.number("noise_density").powi(2);
        let flicker_at_1hz = white * p.number("noise_corner");
        Self { cause: NoiseCause::Source, white, flicker_at_1hz }
    }

    /// Whether there is any.
    pub fn is_some(&self) -> bool {
        self.white > 0.0 || self.flicker_at_1hz > 0.0
    }
}

/// Noise that no voltage or current of the circuit changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoiseSource {
    /// A current between two pins, or a voltage in a branch.
    pub place: NoisePlace,
    /// How much.
    pub noise: Noise<f64>,
}

/// Where a noise source works.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoisePlace {
    /// A current from the first pin to the second.
    Between([Pin; 2]),
    /// A voltage in series with the branch whose current is this unknown.
    InBranch(usize),
}

/// 4kT in W/Hz.
pub(super) fn four_kt(temperature_k: f64) -> f64 {
    4.0 * BOLTZMANN * temperature_k
}

/// 4kT of a part in W/Hz.
pub(super) fn four_kt_of(p: &Parameters) -> f64 {
    four_kt(kelvin(p))
}

/// 2q in C: shot noise of 1 A in A²/Hz.
pub(super) const TWO_Q: f64 = 2.0 * ELEMENTARY_CHARGE;

/// Shot and flicker noise of a current over a barrier.
#[derive(Clone, Copy, Debug)]
pub struct BarrierNoise<T> {
    /// 1/(2kT/q), whatever thermal voltage the law itself was given.
    per_twice_thermal: T,
    flicker_corner_hz: T,
}

impl BarrierNoise<f64> {
    /// At a temperature in K.
    pub(super) fn at(kelvin: f64, flicker_corner_hz: f64) -> Self {
        Self { per_twice_thermal: 0.5 / thermal_voltage_v(kelvin), flicker_corner_hz }
    }
}

/// Below this share of 2kT/q a voltage is zero: its hyperbolic tangent is itself, and their ratio
/// is a limit.
const NO_VOLTAGE: f64 = 1e-100;

impl<T: Scalar<Base = T>> BarrierNoise<T> {
    /// Noise of i = I_S·(e^(v/w) − 1), given I_S in A, 1/w in 1/V, v in V and e^(v/w).
    ///
    /// White is 2q·i·coth(v/(2kT/q)), which is 2q·|i| where the current flows one way only and the
    /// thermal 4kT·g at rest, as it must be (van der Ziel, Proc. IRE 43 (1955) 1639 for w = kT/q,
    /// there 2q·(i + 2·I_S); from memory). With x = v/2w it is 2q·I_S·(e^2x + 1)·tanh x/tanh(v/2U),
    /// in which nothing cancels.
    pub(super) fn of_junction(
        &self,
        saturation_a: T,
        per_width: T,
        v: T,
        exponential: T,
    ) -> Noise<T> {
        let own = v * per_width * T::splat(0.5);
        let thermal = v * self.per_twice_thermal;
        let at_rest = thermal.absolute().less(T::splat(NO_VOLTAGE));
        let one = T::splat(1.0);
        let ratio = T::select(
            at_rest,
            T::splat(0.5) * per_width / self.per_twice_thermal,
            own.tanh() / T::select(at_rest, one, thermal).tanh(),
        );
        let net_a = saturation_a * (exponential - one);
        Noise {
            cause: NoiseCause::Shot,
            white: T::splat(TWO_Q) * saturation_a * (exponential + one) * ratio,
            flicker_at_1hz: T::splat(TWO_Q) * net_a.absolute() * self.flicker_corner_hz,
        }
    }
}

//! The values assumed inside a regulator: what each starts from, and how far it may reasonably lie
//! from there.
//!
//! The estimates are closed forms of what the sheet says. They need not be good, only near enough
//! for a fit to begin at, and each says how far it may be off.

mod amplifier;
mod bipolar;
mod conditions;
mod drive;
mod mos;
mod noise;
mod pass;

pub(super) use conditions::{
    Conditions, FOLLOWER_HEADROOM_V, GATE_HEADROOM_V, GATE_LOW_V, REVERSE_GAIN, SENSE_DROP_V,
    SLOPE_FACTOR, STAGE_SLOPE_S, forced_saturation_v, saturation_v,
};

use super::sheet::Datasheet;
use super::spelling::to_three_digits;
use crate::quantity::Dimension;
use amplifier::Amplifier;
use pass::Pass;

/// A value of the block that stands for a regulator.
#[derive(Clone, Debug, PartialEq)]
pub struct InnerValue {
    /// As in `U1.mid_gain`: `mid_gain`.
    pub name: &'static str,
    /// Its unit.
    pub unit: Dimension,
    /// What it is in this file, SI: estimated from the sheet, or as `inside` gives it.
    pub value: f64,
    /// Below this it makes no sense, SI.
    pub low: f64,
    /// Above this it makes no sense, SI.
    pub high: f64,
    /// How far the estimate may be off: the natural logarithm of a factor, as a standard deviation.
    pub spread: f64,
    /// Whether some point of the sheet tells it. A fit moves what none tells too, unless it is held: that
    /// is what the sheet leaves open.
    pub free: bool,
    /// Whether `inside` holds it.
    pub held: bool,
    /// What it is, and what of the sheet tells it.
    pub text: &'static str,
}

/// An estimate may move by this many of its spreads before it makes no sense.
const WIDEST: f64 = 5.0;

impl InnerValue {
    /// About `value`, give or take a `factor`; free.
    fn about(
        name: &'static str,
        unit: Dimension,
        value: f64,
        factor: f64,
        text: &'static str,
    ) -> Self {
        let spread = factor.ln();
        let widest = (WIDEST * spread).exp();
        Self {
            name,
            unit,
            value,
            low: value / widest,
            high: value * widest,
            spread,
            free: true,
            held: false,
            text,
        }
    }

    /// With bounds that physics gives; the value is moved inside them.
    fn between(self, low: f64, high: f64) -> Self {
        let (low, high) = (self.low.max(low).min(high), self.high.min(high).max(low));
        Self { value: self.value.max(low).min(high), low, high, ..self }
    }

    /// Whether there is anything to work with: figures that are each a number may lead beyond all
    /// numbers together, and a fit takes logarithms of the bounds.
    pub(super) fn is_number(&self) -> bool {
        self.low > 0.0 && self.high < f64::INFINITY && (self.low..=self.high).contains(&self.value)
    }

    /// Free only where some point of the sheet tells of it.
    fn free_if(self, told: bool) -> Self {
        Self { free: self.free && told, ..self }
    }

    /// Held at a figure that is given for it.
    pub(super) fn hold(&mut self, value: f64) {
        (self.value, self.free, self.held) = (value, false, true);
        (self.low, self.high) = (self.low.min(value), self.high.max(value));
    }
}

/// Where the amplifier's internal node rests at the light load at which an output is trimmed, V.
///
/// An amplifier whose node returns to ground needs that over `dc_gain` at its input; in a real part
/// it is trimmed away, so the reference is moved by it.
pub(super) fn trimmed_at_v(sheet: &Datasheet) -> f64 {
    let at = Conditions::of(sheet);
    Pass::estimate(sheet, &at).rests_at_v(sheet, &at)
}

/// The values of the block that stands for a regulator, estimated from its sheet by rule.
pub fn inside(sheet: &Datasheet) -> Vec<InnerValue> {
    let at = Conditions::of(sheet);
    let pass = Pass::estimate(sheet, &at);
    let amplifier = Amplifier::estimate(sheet, &at, &pass);
    let mut values = amplifier.values(sheet);
    values.extend(drive::values(sheet, &pass));
    values.extend(pass.values(sheet, amplifier.lead_ohm));
    values.push(amplifier.lead(sheet));
    values.extend(noise::values(sheet, &at));
    // What is only estimated needs no more digits, and reads back from the block as it stands here.
    for value in &mut values {
        // Not `clamp`, which panics where the bounds are no numbers; they are told later.
        value.value = to_three_digits(value.value).max(value.low).min(value.high);
    }
    values
}

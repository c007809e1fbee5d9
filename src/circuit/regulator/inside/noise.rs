//! The noise at the amplifier's input from that at the output.

use super::super::sheet::{Datasheet, Level};
use super::InnerValue;
use super::conditions::Conditions;
use crate::quantity::Dimension;

/// Where no point tells it, V/√Hz (common practice, no source).
const DENSITY: f64 = 100e-9;
/// Where it begins to rise, Hz (common practice, no source).
const CORNER_HZ: f64 = 300.0;
/// 4kT at 25 °C, J.
const FOUR_KT: f64 = 4.0 * 1.380_649e-23 * 298.15;
/// The least share of a point that is left for reference and amplifier beside the divider's.
const LEAST_SHARE: f64 = 0.1;

/// Within the loop's bandwidth the output has 1/H of what is at the amplifier's input: reference,
/// amplifier and, thermal, the divider: 4kT·(R_TOP in parallel with R_BOT).
pub(super) fn values(sheet: &Datasheet, at: &Conditions) -> Vec<InnerValue> {
    let share = at.share();
    let highest =
        sheet.noise_densities.iter().max_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz));
    let over_band = sheet
        .noises
        .iter()
        .max_by(|a, b| a.to_hz.total_cmp(&b.to_hz))
        .map(|row| row.noise_v / (row.to_hz - row.from_hz).sqrt());
    let output = highest.map(|row| row.density).or(over_band);
    let divider = match sheet.level {
        Level::Output(_) => FOUR_KT * at.reference_v * (1.0 - share) / at.divider_a,
        Level::Reference(_) => 0.0,
    };
    let density = output.map_or(DENSITY, |output| {
        let all = (output * share).powi(2);
        (all - divider).max(LEAST_SHARE * all).sqrt()
    });
    // d(f)² = d²·(1 + corner/f), from the densities that lie farthest apart.
    let lowest =
        sheet.noise_densities.iter().min_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz));
    let corner_hz = match (lowest, highest) {
        (Some(low), Some(high)) if low.density > high.density => {
            low.frequency_hz * ((low.density / high.density).powi(2) - 1.0)
        }
        _ => CORNER_HZ,
    };
    let told = output.is_some();
    vec![
        InnerValue::about(
            "reference_noise",
            Dimension::VOLT_PER_ROOT_HERTZ,
            density,
            if told { 1.5 } else { 3.0 },
            "of reference and amplifier together, at the amplifier's input; from the output's noise",
        )
        .free_if(told),
        InnerValue::about(
            "noise_corner",
            Dimension::HERTZ,
            corner_hz,
            3.0,
            "below which it rises; from the output's noise at low frequency",
        )
        .free_if(told),
    ]
}

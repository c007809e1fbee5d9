//! What is fixed in every regulator that is taken apart, and what its sheet was measured at.

use super::super::sheet::{Datasheet, Dropout, Level, Topology};

/// Transconductance of the input stage, S. Only products with it count, so any figure would do; this
/// one is common for amplifiers of some 10 µA (common practice, no source).
pub(in super::super) const STAGE_SLOPE_S: f64 = 200e-6;
/// Current of the divider inside, A, and the most of a quiescent current that it is (common practice,
/// no source).
const DIVIDER_CURRENT_A: f64 = 10e-6;
const DIVIDER_SHARE: f64 = 0.25;
/// As low as a driver pulls the gate of a PMOS, V above ground (common practice, no source).
pub(in super::super) const GATE_LOW_V: f64 = 0.1;
/// As near as a driver gets to the bias rail of an NMOS, V (common practice, no source).
pub(in super::super) const GATE_HEADROOM_V: f64 = 0.25;
/// As near as a driver gets to the input with the base of an npn, V (common practice, no source).
pub(in super::super) const FOLLOWER_HEADROOM_V: f64 = 0.2;
/// Gate volts per volt of pinch-off of a MOS transistor (common practice, no source).
pub(in super::super) const SLOPE_FACTOR: f64 = 1.4;
/// Collector over base current of a pnp the other way round (common practice, no source).
pub(in super::super) const REVERSE_GAIN: f64 = 4.0;
/// What a current limit senses at its limit, V: little, for it adds to the dropout.
pub(in super::super) const SENSE_DROP_V: f64 = 1e-3;
/// kT/q at 25 °C, V.
pub(super) const THERMAL_V: f64 = 0.025_69;

/// A reference of the usual 1.2 V where the output leaves room for it, else half the output.
const USUAL_REFERENCE_V: f64 = 1.2;
const ROOMY_OUTPUT_V: f64 = 1.5;
/// Between input and output where the sheet does not say, V; as much again as a follower needs.
const USUAL_HEADROOM_V: f64 = 1.0;

/// Dropout at the rated current where the sheet says none, V: of a MOS or pnp, which a volt of
/// headroom serves well (common practice, no source).
pub(super) const USUAL_DROPOUT_V: f64 = 0.3;

/// What a sheet's points were measured at, as far as it says, and what is assumed where it does not.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Conditions {
    /// V
    pub(in super::super) output_v: f64,
    /// V
    pub(in super::super) reference_v: f64,
    /// V
    pub(in super::super) input_v: f64,
    /// V, of an `nmos-bias`.
    pub(in super::super) bias_v: f64,
    /// A
    pub(super) rated_a: f64,
    /// A, of the divider where that is inside.
    pub(in super::super) divider_a: f64,
    /// Ω that the current limit adds in series.
    pub(in super::super) sense_ohm: f64,
}

impl Conditions {
    pub(in super::super) fn of(sheet: &Datasheet) -> Self {
        let output_v = sheet.output_v();
        let reference_v = match sheet.level {
            Level::Reference(volt) => volt,
            Level::Output(volt) if volt >= ROOMY_OUTPUT_V => USUAL_REFERENCE_V,
            Level::Output(volt) => 0.5 * volt,
        };
        let dropout_v = sheet.dropouts.iter().map(|row| row.dropout_v).fold(0.0, f64::max);
        let usual_v = output_v + USUAL_HEADROOM_V.max(2.0 * dropout_v);
        let input_v = sheet.test.input_v.unwrap_or(usual_v);
        Self {
            output_v,
            reference_v,
            input_v,
            bias_v: sheet.test_bias_v.unwrap_or(input_v),
            rated_a: sheet.rated_current_a,
            divider_a: sheet
                .ground
                .no_load_a
                .filter(|a| *a > 0.0)
                .map_or(DIVIDER_CURRENT_A, |a| (DIVIDER_SHARE * a).min(DIVIDER_CURRENT_A)),
            sense_ohm: sheet.limit.map_or(0.0, |limit| SENSE_DROP_V / limit.limit_a),
        }
    }

    /// The share of the output that the amplifier compares with the reference.
    pub(super) fn share(&self) -> f64 {
        self.reference_v / self.output_v
    }
}

/// The dropout that decides: that of the largest load.
pub(super) fn deciding(sheet: &Datasheet) -> Option<&Dropout> {
    sheet.dropouts.iter().max_by(|a, b| a.current_a.total_cmp(&b.current_a))
}

/// Capacitor and ESR of a point.
pub(super) fn load_side(sheet: &Datasheet) -> (f64, f64) {
    /// Where neither says: the recommended ones, else a few microfarads of ceramic.
    const USUAL_F: f64 = 4.7e-6;
    const USUAL_ESR_OHM: f64 = 10e-3;
    let middle = |ends: [f64; 2]| (ends[0].max(1e-3 * ends[1]) * ends[1]).sqrt();
    let recommended = |ends: Option<[f64; 2]>| ends.map(middle);
    let farad = sheet.test.capacitor_f.or(recommended(sheet.capacitor_f)).unwrap_or(USUAL_F);
    let esr = sheet.test.esr_ohm.or(recommended(sheet.esr_ohm)).unwrap_or(USUAL_ESR_OHM);
    (farad, esr)
}

impl Topology {
    /// Whether the output is the emitter or source of the pass device.
    pub(super) fn is_follower(self) -> bool {
        matches!(self, Self::Npn | Self::Darlington | Self::NmosBias)
    }
}

/// Voltage from collector to emitter of a saturated transistor, V, by the law of the kind `bipolar`
/// (Ebers and Moll, Proc. IRE 42 (1954) 1761): of the base current what does not recombine forward
/// goes back through the collector.
///
/// i_B = I_CC/β + I_EC/β_R, i_C = I_CC - I_EC·(1 + 1/β_R), v = U_T·ln(I_CC/I_EC). `None` where the
/// base current does not saturate it.
pub(in super::super) fn saturation_v(collector_a: f64, base_a: f64, gain: f64) -> Option<f64> {
    let back = 1.0 + REVERSE_GAIN;
    let forward_a = (collector_a + back * base_a) / (1.0 + back / gain);
    let reverse_a = REVERSE_GAIN * (base_a - forward_a / gain);
    (reverse_a > 0.0).then(|| THERMAL_V * (forward_a / reverse_a).ln())
}

/// The least of it whatever the transistor does the other way round, V: with nothing lost backwards.
pub(in super::super) fn forced_saturation_v(
    collector_a: f64,
    base_a: f64,
    gain: f64,
) -> Option<f64> {
    let left = 1.0 - collector_a / (base_a * gain);
    (left > 0.0).then(|| -THERMAL_V * left.ln())
}

/// From collector to base where the points were measured, V: by it the Early effect raises the gain.
pub(super) fn collector_base_v(at: &Conditions) -> f64 {
    const JUNCTION_V: f64 = 0.7;
    (at.input_v - at.output_v - JUNCTION_V).max(0.0)
}

//! A MOS pass device from its dropout.

use super::super::rows::below_v;
use super::super::sheet::{Datasheet, Topology};
use super::InnerValue;
use super::conditions::{
    Conditions, GATE_HEADROOM_V, GATE_LOW_V, SLOPE_FACTOR, THERMAL_V, USUAL_DROPOUT_V, deciding,
};
use crate::quantity::Dimension;

/// The share of the dropout that falls in metal and package, not in the channel; on a large die it
/// is between a quarter and a half (common practice, no source).
const METAL_SHARE: f64 = 0.4;
/// Thresholds where the supply leaves room for them, and the share of the drive that they may take
/// where it does not (common practice, no source).
const THRESHOLD_V: [f64; 2] = [0.7, 0.45];
const THRESHOLD_SHARE: f64 = 0.35;
/// Relative rise of the current per volt (common practice, no source).
const OUTPUT_SLOPE_PER_V: f64 = 0.1;
/// Gate-source capacitance per strength, F/(A/V²), of the p and the n channel: about the gate's
/// area over what it conducts, which carriers twice as fast halve (common practice, no source).
const GATE_F: [f64; 2] = [120e-12, 50e-12];
/// With the input pin at this share of nominal a pass device counts as fully on.
const FORCED_SHARE: f64 = 0.95;

/// Gate drive below this is taken as this: `doubts` tells of sheets that leave none.
const LEAST_DRIVE_V: f64 = 0.2;

pub(super) struct Mos {
    topology: Topology,
    threshold_v: f64,
    strength: f64,
    /// Ω of metal, lead and sense resistance together.
    series_ohm: f64,
    sense_ohm: f64,
    /// V across the channel in regulation.
    channel_v: f64,
}

impl Mos {
    /// Fully driven the channel is ohmic: I = β·v·(V_GS - V_T - n·v/2)·(1 + λ·v), v what the metal
    /// leaves of the dropout (Enz, Krummenacher and Vittoz, Analog Integr. Circuits Signal Process. 8
    /// (1995) 83, in strong inversion).
    pub(super) fn estimate(sheet: &Datasheet, at: &Conditions) -> Self {
        let row = deciding(sheet);
        let load_a = row.map_or(at.rated_a, |row| row.current_a);
        let dropout_v = row.map_or(USUAL_DROPOUT_V, |row| row.dropout_v);
        let output_v = row.map_or(at.output_v, |row| match below_v(&row.definition, at.output_v) {
            Some(below) => at.output_v - below,
            None => FORCED_SHARE * at.output_v - dropout_v,
        });
        let p_channel = sheet.topology == Topology::Pmos;
        let drive_v = if p_channel {
            output_v + dropout_v - GATE_LOW_V
        } else {
            at.bias_v - GATE_HEADROOM_V - output_v
        };
        let drive_v = drive_v.max(LEAST_DRIVE_V);
        let usual_v = THRESHOLD_V[usize::from(!p_channel)];
        let threshold_v = usual_v.min(THRESHOLD_SHARE * drive_v);
        let channel_v = (1.0 - METAL_SHARE) * dropout_v;
        let overdrive_v = drive_v - threshold_v;
        // Where so much is left for the channel that it saturates, the drive alone decides.
        let ohmic_v = channel_v.min(overdrive_v / SLOPE_FACTOR);
        let rise = 1.0 + OUTPUT_SLOPE_PER_V * channel_v;
        let strength = load_a / (ohmic_v * (overdrive_v - 0.5 * SLOPE_FACTOR * ohmic_v) * rise);
        Self {
            topology: sheet.topology,
            threshold_v,
            strength,
            series_ohm: METAL_SHARE * dropout_v / load_a,
            sense_ohm: at.sense_ohm,
            channel_v: (at.input_v - at.output_v).max(channel_v),
        }
    }

    /// V_GS at a load, saturated: the law of the kind `mosfet` turned round, F(u) = I/I_0,
    /// u = 2·ln(e^√(I/I_0) - 1).
    pub(super) fn gate_v(&self, load_a: f64) -> f64 {
        let rise = 1.0 + OUTPUT_SLOPE_PER_V * self.channel_v;
        let scale_a = 2.0 * SLOPE_FACTOR * self.strength * THERMAL_V * THERMAL_V * rise;
        let root = (load_a / scale_a).sqrt();
        // Beyond this e^root - 1 is e^root to the last digit.
        let half = if root > 40.0 { root } else { root.exp_m1().max(f64::MIN_POSITIVE).ln() };
        self.threshold_v + 2.0 * SLOPE_FACTOR * THERMAL_V * half
    }

    /// g_m, from two loads close together, S.
    pub(super) fn slope_s(&self, load_a: f64) -> f64 {
        const STEP: f64 = 1e-3;
        let [low, high] = [load_a * (1.0 - STEP), load_a * (1.0 + STEP)];
        (high - low) / (self.gate_v(high) - self.gate_v(low))
    }

    /// Gate volts that make up for a volt more across the channel: λ·I/g_m.
    pub(super) fn travel_per_channel(&self, load_a: f64) -> f64 {
        OUTPUT_SLOPE_PER_V * load_a / self.slope_s(load_a)
    }

    pub(super) fn gate_farad(topology: Topology, strength: f64) -> f64 {
        GATE_F[usize::from(topology != Topology::Pmos)] * strength
    }

    pub(super) fn strength(&self) -> f64 {
        self.strength
    }

    pub(super) fn values(&self, sheet: &Datasheet, lead_ohm: f64) -> Vec<InnerValue> {
        let drops = !sheet.dropouts.is_empty();
        let steps = !sheet.transients.is_empty();
        let lines = !sheet.line_regulations.is_empty() || !sheet.rejections.is_empty();
        // What the lead takes of it is told by the load regulation; something is left.
        let metal_ohm = (self.series_ohm - lead_ohm - self.sense_ohm).max(0.05 * self.series_ohm);
        let gate_farad = Self::gate_farad(self.topology, self.strength);
        let per_volt = Dimension::PER_VOLT;
        vec![
            InnerValue::about(
                "threshold",
                Dimension::VOLT,
                self.threshold_v,
                1.25,
                "gate-source threshold of Q; hardly told apart from `strength`",
            )
            .free_if(steps),
            InnerValue::about(
                "strength",
                Dimension::AMPERE_PER_VOLT_SQUARED,
                self.strength,
                if drops { 1.6 } else { 4.0 },
                "transconductance factor of Q; from the dropouts, with its metal",
            )
            .free_if(drops || steps || !sheet.impedances.is_empty()),
            InnerValue::about(
                "gate_capacitance",
                Dimension::FARAD,
                gate_farad,
                3.0,
                "gate-source capacitance of Q, its gate-drain one a fixed share; goes with its strength",
            )
            .free_if(steps),
            InnerValue::about(
                "output_slope",
                per_volt,
                OUTPUT_SLOPE_PER_V,
                2.0,
                "relative rise of the current of Q per volt; from line regulation and rejection",
            )
            .between(1e-3, 2.0)
            .free_if(lines),
            InnerValue::about(
                "metal_resistance",
                Dimension::OHM,
                metal_ohm,
                if drops { 1.6 } else { 4.0 },
                "metal and package of Q, inside the loop; from the dropouts, with its channel",
            )
            .free_if(drops),
        ]
    }
}

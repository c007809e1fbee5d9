//! A bipolar pass device from its dropout and its ground currents.

use super::super::sheet::{Datasheet, Topology};
use super::InnerValue;
use super::conditions::{
    Conditions, FOLLOWER_HEADROOM_V, THERMAL_V, USUAL_DROPOUT_V, collector_base_v, deciding,
    saturation_v,
};
use crate::quantity::Dimension;

/// Gains of one transistor where no ground current tells it: lateral or power (common practice, no
/// source).
const GAIN: [f64; 2] = [50.0, 80.0];
/// V (common practice, no source).
const EARLY_V: f64 = 60.0;
/// Base-emitter voltage at the rated current (common practice, no source).
const JUNCTION_V: f64 = 0.75;
/// What a junction may have at the rated current, V: beyond it is resistance (common practice, no
/// source).
const JUNCTION_RANGE_V: [f64; 2] = [0.5, 0.9];
/// What a driver drops at the rated base current of a follower, V (common practice, no source).
const DRIVER_DROP_V: f64 = 0.1;
/// Largest base current over that at the rated current, and over that at the current limit, which
/// must have something to take away (common practice, no source).
const BASE_RESERVE: f64 = 3.0;
const LIMIT_RESERVE: f64 = 1.5;
/// 1/(2π·10 MHz), s: a power transistor's f_T lies between 2 and 50 MHz (common practice, no source).
const TRANSIT_S: f64 = 16e-9;
/// The share of a pnp's dropout that is at least its collector's resistance.
const LEAST_COLLECTOR_SHARE: f64 = 0.02;
/// Internal node of the amplifier over which the base current of a pnp goes from nothing to all, V:
/// a definition, for only the product with the gain counts.
pub(super) const SPAN_V: f64 = 1.0;

pub(super) struct Bipolar {
    topology: Topology,
    /// Of each transistor.
    gain: f64,
    /// At the voltage of the points: the Early effect counted.
    working_gain: f64,
    saturation_a: f64,
    /// Largest base current, A.
    pub(super) drive_a: f64,
    /// Ω, of the stage that drives a follower.
    pub(super) driver_ohm: f64,
    /// Ω of collector, lead and sense resistance together, of a pnp.
    series_ohm: f64,
    sense_ohm: f64,
}

impl Bipolar {
    pub(super) fn estimate(sheet: &Datasheet, at: &Conditions) -> Self {
        match sheet.topology {
            Topology::Pnp => Self::pnp(sheet, at),
            _ => Self::follower(sheet, at),
        }
    }

    /// Ground current at full load less that without is base current, I/β; in dropout all the driver
    /// gives. With that the transistor saturates at v, and what is left of the dropout is resistance.
    fn pnp(sheet: &Datasheet, at: &Conditions) -> Self {
        let ground = sheet.ground;
        let own_a = ground.no_load_a.unwrap_or(0.0);
        let early = 1.0 + collector_base_v(at) / EARLY_V;
        let base_a = ground.full_load_a.map(|full| full - own_a).filter(|a| *a > 0.0);
        let working_gain = base_a.map_or(GAIN[0] * early, |base| at.rated_a / base);
        let gain = working_gain / early;
        let usual_a = driven_a(sheet) / gain;
        let drive_a = ground.in_dropout_a.map_or(usual_a, |a| a - own_a);
        let drive_a = drive_a.max(1.02 * at.rated_a / gain);
        let row = deciding(sheet);
        let load_a = row.map_or(at.rated_a, |row| row.current_a);
        let dropout_v = row.map_or(USUAL_DROPOUT_V, |row| row.dropout_v);
        let saturated_v = saturation_v(load_a, drive_a, gain).unwrap_or(0.0);
        let left_v = (dropout_v - saturated_v).max(LEAST_COLLECTOR_SHARE * dropout_v);
        Self {
            topology: sheet.topology,
            gain,
            working_gain,
            saturation_a: at.rated_a * (-JUNCTION_V / THERMAL_V).exp(),
            drive_a,
            driver_ohm: 0.0,
            series_ohm: left_v / load_a,
            sense_ohm: at.sense_ohm,
        }
    }

    /// A follower's dropout is headroom of the driver, its drop at the base current, and one junction
    /// or two: v_BE = U_T·ln(I/I_S).
    fn follower(sheet: &Datasheet, at: &Conditions) -> Self {
        let gain = GAIN[1];
        let junctions = junctions(sheet.topology);
        let row = deciding(sheet);
        let load_a = row.map_or(at.rated_a, |row| row.current_a);
        let base_a = load_a / gain.powf(junctions);
        let usual_v = FOLLOWER_HEADROOM_V + DRIVER_DROP_V + junctions * JUNCTION_V;
        let dropout_v = row.map_or(usual_v, |row| row.dropout_v) - load_a * at.sense_ohm;
        let left_v = (dropout_v - FOLLOWER_HEADROOM_V).max(0.0);
        let each_v = ((left_v - DRIVER_DROP_V) / junctions)
            .clamp(JUNCTION_RANGE_V[0], JUNCTION_RANGE_V[1])
            .min(0.98 * left_v / junctions);
        let driver_ohm = (left_v - junctions * each_v) / base_a;
        // All junctions with one I_S: their voltages are U_T·ln(I·(I/β)/I_S²) together.
        let mean_a = load_a / gain.powf(0.5 * (junctions - 1.0));
        Self {
            topology: sheet.topology,
            gain,
            working_gain: gain,
            saturation_a: mean_a * (-each_v / THERMAL_V).exp(),
            drive_a: driven_a(sheet) / gain.powf(junctions),
            driver_ohm,
            series_ohm: 0.1 * DRIVER_DROP_V / load_a,
            sense_ohm: at.sense_ohm,
        }
    }

    /// Where the amplifier's internal node stands at a load, V, but for a constant.
    pub(super) fn control_v(&self, load_a: f64) -> f64 {
        if self.topology == Topology::Pnp {
            return load_a / self.working_gain * SPAN_V / self.drive_a;
        }
        let junctions = junctions(self.topology);
        let base_a = load_a / self.gain.powf(junctions);
        junctions * THERMAL_V * (load_a / self.saturation_a).ln() + base_a * self.driver_ohm
    }

    /// Output current per volt of the internal node, S.
    pub(super) fn slope_s(&self, load_a: f64) -> f64 {
        const STEP: f64 = 1e-3;
        let [low, high] = [load_a * (1.0 - STEP), load_a * (1.0 + STEP)];
        (high - low) / (self.control_v(high) - self.control_v(low))
    }

    /// Of the internal node that makes up for a volt more at the collector: the Early effect raises
    /// the current by 1/V_A.
    pub(super) fn travel_per_collector(&self, load_a: f64) -> f64 {
        load_a / EARLY_V / self.slope_s(load_a)
    }

    pub(super) fn values(&self, sheet: &Datasheet, lead_ohm: f64) -> Vec<InnerValue> {
        let is_pnp = self.topology == Topology::Pnp;
        let drops = !sheet.dropouts.is_empty();
        let steps = !sheet.transients.is_empty();
        let lines = !sheet.line_regulations.is_empty() || !sheet.rejections.is_empty();
        let given = is_pnp && sheet.ground.full_load_a.is_some();
        let collector_ohm =
            (self.series_ohm - lead_ohm - self.sense_ohm).max(0.05 * self.series_ohm);
        vec![
            InnerValue::about(
                "gain",
                Dimension::NONE,
                self.gain,
                if given { 1.2 } else { 2.0 },
                "collector over base current of each transistor; of a pnp outright from the ground \
                 currents, of a follower from load steps",
            )
            .between(5.0, 1e4)
            .free_if(!given && steps),
            InnerValue::about(
                "saturation_current",
                Dimension::AMPERE,
                self.saturation_a,
                if is_pnp || !drops { 10.0 } else { 3.0 },
                "of each transistor; a follower's dropout tells its junction, of a pnp no point does",
            )
            .free_if(!is_pnp && drops),
            InnerValue::about(
                "early_voltage",
                Dimension::VOLT,
                EARLY_V,
                2.0,
                "of each transistor; from line regulation and rejection",
            )
            .free_if(lines),
            InnerValue::about(
                "collector_resistance",
                Dimension::OHM,
                collector_ohm,
                if is_pnp && drops { 1.6 } else { 4.0 },
                "of the output transistor; from the dropouts of a pnp, of a follower no point tells it",
            )
            .free_if(is_pnp && drops),
            InnerValue::about(
                "transit_time",
                Dimension::SECOND,
                TRANSIT_S,
                4.0,
                "base charge over current, 1/(2π·f_T), of each transistor; from load steps, weakly",
            )
            .free_if(steps || !sheet.impedances.is_empty()),
        ]
    }
}

/// The output current for which a driver is assumed to have base current, A.
fn driven_a(sheet: &Datasheet) -> f64 {
    let limit_a = sheet.limit.map_or(0.0, |limit| limit.limit_a);
    (BASE_RESERVE * sheet.rated_current_a).max(LIMIT_RESERVE * limit_a)
}

fn junctions(topology: Topology) -> f64 {
    if topology == Topology::Darlington { 2.0 } else { 1.0 }
}

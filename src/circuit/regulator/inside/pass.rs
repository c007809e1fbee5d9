//! The pass device of any topology, as the rest of the estimates sees it.

use super::super::sheet::{Datasheet, Topology};
use super::InnerValue;
use super::bipolar::Bipolar;
use super::conditions::Conditions;
use super::mos::Mos;

/// A load of nothing is taken as this share of the larger one where a logarithm is.
const LEAST_SHARE: f64 = 1e-4;

pub(super) enum Pass {
    Mos(Mos),
    Bipolar(Bipolar),
}

impl Pass {
    pub(super) fn estimate(sheet: &Datasheet, at: &Conditions) -> Self {
        if sheet.topology.is_mos() {
            Self::Mos(Mos::estimate(sheet, at))
        } else {
            Self::Bipolar(Bipolar::estimate(sheet, at))
        }
    }

    /// By how much the amplifier's internal node moves between two loads, V.
    pub(super) fn travel_v(&self, from_a: f64, to_a: f64) -> f64 {
        let from_a = from_a.max(LEAST_SHARE * to_a);
        match self {
            Self::Mos(mos) => mos.gate_v(to_a) - mos.gate_v(from_a),
            Self::Bipolar(bipolar) => bipolar.control_v(to_a) - bipolar.control_v(from_a),
        }
    }

    /// Where the amplifier's internal node stands at the light load of the sheet's load regulation, or
    /// at a tenth of the rated current, V above ground.
    pub(super) fn rests_at_v(&self, sheet: &Datasheet, at: &Conditions) -> f64 {
        /// Of the rated current.
        const LIGHT: f64 = 0.1;
        let told = sheet.load_regulations.iter().map(|row| row.from_a).find(|a| *a > 0.0);
        let load_a = told.unwrap_or(LIGHT * at.rated_a);
        let control_v = match self {
            Self::Mos(mos) => mos.gate_v(load_a),
            Self::Bipolar(bipolar) => bipolar.control_v(load_a),
        };
        match sheet.topology {
            Topology::Pmos => at.input_v - control_v,
            Topology::Pnp => control_v,
            _ => at.output_v + control_v,
        }
    }

    /// By how much the internal node must move for a volt of input, V, in regulation.
    pub(super) fn travel_per_input(&self, topology: Topology, load_a: f64) -> f64 {
        match self {
            // The stage returns to ground, so the gate of a PMOS goes along with the input.
            Self::Mos(mos) if topology == Topology::Pmos => 1.0 + mos.travel_per_channel(load_a),
            Self::Mos(mos) => mos.travel_per_channel(load_a),
            Self::Bipolar(bipolar) => bipolar.travel_per_collector(load_a),
        }
    }

    /// Output current per volt of the internal node, S.
    pub(super) fn slope_s(&self, load_a: f64) -> f64 {
        match self {
            Self::Mos(mos) => mos.slope_s(load_a),
            Self::Bipolar(bipolar) => bipolar.slope_s(load_a),
        }
    }

    /// Behind leads of `lead_ohm`, Ω, which take a part of its dropout.
    pub(super) fn values(&self, sheet: &Datasheet, lead_ohm: f64) -> Vec<InnerValue> {
        match self {
            Self::Mos(mos) => mos.values(sheet, lead_ohm),
            Self::Bipolar(bipolar) => bipolar.values(sheet, lead_ohm),
        }
    }
}

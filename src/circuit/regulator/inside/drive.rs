//! What drives the gate or base.

use super::super::sheet::{Datasheet, Topology};
use super::InnerValue;
use super::mos::Mos;
use super::pass::Pass;
use crate::quantity::Dimension;
use std::f64::consts::TAU;

/// How fast a driver moves a gate, V/s (common practice, no source).
const GATE_SLEW: f64 = 3e6;
/// The pole of driver and gate, Hz (common practice, no source).
const GATE_POLE_HZ: f64 = 3.5e6;

pub(super) fn values(sheet: &Datasheet, pass: &Pass) -> Vec<InnerValue> {
    let steps = !sheet.transients.is_empty();
    let ground = sheet.ground;
    let (drive_a, driver_ohm) = match pass {
        Pass::Mos(mos) => {
            let farad = Mos::gate_farad(sheet.topology, mos.strength());
            (GATE_SLEW * farad, 1.0 / (TAU * GATE_POLE_HZ * farad))
        }
        Pass::Bipolar(bipolar) => (bipolar.drive_a, bipolar.driver_ohm),
    };
    let given = sheet.topology == Topology::Pnp && ground.in_dropout_a.is_some();
    let text = match sheet.topology {
        Topology::Pnp => "largest base current; outright from the ground current in dropout",
        Topology::Npn | Topology::Darlington => {
            "the most that the driver gives the base; only large steps tell it"
        }
        _ => "the most that the driver gives the gate; only large, fast steps tell it",
    };
    let mut current = InnerValue::about(
        "drive_current",
        Dimension::AMPERE,
        drive_a,
        if given { 1.2 } else { 4.0 },
        text,
    );
    if sheet.topology.is_mos() {
        current = current.free_if(steps);
    } else if sheet.topology == Topology::Pnp {
        // With less than this it could not carry its rated current.
        current = current.free_if(!given && (steps || !sheet.dropouts.is_empty()));
    } else {
        let least_a = drive_a / 2.0;
        current = current.between(least_a, f64::MAX).free_if(steps);
    }
    let mut values = vec![current];
    if sheet.topology != Topology::Pnp {
        let text = "of the driver; with the gate a pole, under a base a part of the dropout";
        values.push(
            InnerValue::about("driver_resistance", Dimension::OHM, driver_ohm, 3.0, text)
                .free_if(steps || (!sheet.topology.is_mos() && !sheet.dropouts.is_empty())),
        );
    }
    values
}

//! Writes circuits as large as one likes: a regulator at a corner of a power plane, its load elsewhere.

use std::fmt::Write;

/// Nodes of the plane, with decoupling capacitors at every so manieth of them.
const DECOUPLED: usize = 50;

/// The text of a circuit file with a plane of `wide` × `high` nodes, each tied to its neighbours by 2 mΩ and
/// to ground by 150 pF. A PMOS regulator for 1.8 V feeds it at one corner, and at two thirds of its length
/// and height the load steps from 20 mA to 300 mA. Invented.
pub(crate) fn plane(wide: usize, high: usize) -> String {
    let mut text = String::from(HEAD);
    let node = |x: usize, y: usize| format!("p{x}_{y}");
    let (load_x, load_y) = (2 * wide / 3, 2 * high / 3);
    let mut put = |line: std::fmt::Arguments<'_>| {
        let _ = text.write_fmt(format_args!("{line}\n"));
    };
    put(format_args!(
        r#"V_SUPPLY = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3.3 V" }}"#
    ));
    for y in 0..high {
        for x in 0..wide {
            let here = if (x, y) == (0, 0) { "vout".to_owned() } else { node(x, y) };
            for (name, to) in [("RX", (x + 1, y)), ("RY", (x, y + 1))] {
                if to.0 < wide && to.1 < high {
                    let there = node(to.0, to.1);
                    put(format_args!(
                        r#"{name}{x}_{y} = {{ kind = "resistor", nodes = ["{here}", "{there}"], resistance = "2 mΩ" }}"#
                    ));
                }
            }
            let capacitor = if (x + y * wide) % DECOUPLED == DECOUPLED - 1 {
                r#"capacitance = "220 nF", esr = "15 mΩ", esl = "0.4 nH""#
            } else {
                r#"capacitance = "150 pF""#
            };
            put(format_args!(
                r#"C{x}_{y} = {{ kind = "capacitor", nodes = ["{here}", "gnd"], {capacitor} }}"#
            ));
        }
    }
    let load = node(load_x, load_y);
    put(format_args!(
        r#"I_LOAD = {{ kind = "load", nodes = ["{load}", "gnd"], current = "20 mA" }}"#
    ));
    text.push_str(TAIL);
    text
}

const HEAD: &str = r#"title = "A power plane with its regulator at a corner"

[rail]
input = "vin"
output = "vout"
nominal = "1.8 V"
window = "5 %"
source = "V_SUPPLY"
load = "I_LOAD"
pass = "Q1"
feedback = "EA.sense"
ambient = "25 °C"

[parts]
V_REF = { kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "1.200 V" }
EA = { kind = "error-amplifier", reference = "ref", sense = "fb", output = "gate", supply = "vin", ground = "gnd", inverting = "reference", model = "ea" }
Q1 = { kind = "mosfet", source = "vin", gate = "gate", drain = "vout", series_resistance = "0.20 Ω", model = "pass" }
R_TOP = { kind = "resistor", nodes = ["vout", "fb"], resistance = "60 kΩ" }
R_BOT = { kind = "resistor", nodes = ["fb", "gnd"], resistance = "120 kΩ" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "4.7 µF", esr = "6 mΩ", esl = "0.6 nH" }
"#;

const TAIL: &str = r#"
[models.pass]
kind = "mosfet"
channel = "p"
threshold = "0.70 V"
transconductance = "1.736 A/V^2"
slope_factor = "1.4"
output_slope = "0.10 1/V"
gate_source_capacitance = "270 pF"
gate_drain_capacitance = "30 pF"
body_diode = { saturation_current = "10 pA" }

[models.ea]
kind = "error-amplifier"
transconductance = "200 µS"
stage_current = "20 µA"
stage_resistance = "7.5 MΩ"
lag_resistance = "300 kΩ"
lag_capacitance = "22 pF"
stage_capacitance = "0.15 pF"
returns_to = "ground"
swing_low = "0.15 V"
stage = "voltage"
output_resistance = "150 Ω"
drive_current = "1 mA"
supply_current = "60 µA"

[[tests]]
name = "load step"
kind = "load-step"
from = "20 mA"
to = "300 mA"
edge = "1 µs"
hold = "100 µs"
settle = "100 µs"
require = { droop = "<= 90 mV" }
"#;

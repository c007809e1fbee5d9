//! Regulators told by a few figures: one of linear parts, and one whose pass device is a resistance once
//! it is on.

/// A regulator by its figures alone: nominal voltage at `input_v` and without load, V/V from the input
/// to the output, Ω at the output.
pub(crate) fn by_its_figures(
    (nominal_v, input_v): (f64, f64),
    gain: f64,
    ohm: f64,
    tests: &str,
) -> String {
    let fixed_v = nominal_v - gain * input_v;
    format!(
        r#"title = "by its figures"
[rail]
input = "vin"
output = "vout"
nominal = "{nominal_v} V"
source = "V_IN"
load = "I_LOAD"
[parts]
V_IN = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "{input_v} V" }}
E_LINE = {{ kind = "controlled-voltage-source", plus = "line", minus = "gnd", input = ["vin", "gnd"], gain = {gain:e} }}
V_FIX = {{ kind = "voltage-source", plus = "inner", minus = "line", voltage = "{fixed_v} V" }}
R_OUT = {{ kind = "resistor", nodes = ["inner", "vout"], resistance = "{ohm:e} Ω" }}
I_LOAD = {{ kind = "load", nodes = ["vout", "gnd"], current = "0 A" }}
{tests}
"#
    )
}

/// A device that is all series resistance once it is on: 0.44 Ω, its channel a millionth of that.
pub(crate) const FULLY_ON: &str = r#"title = "fully on"
[rail]
input = "vin"
output = "vout"
nominal = "3.3 V"
source = "V_IN"
load = "I_LOAD"
pass = "Q1"
feedback = "EA.sense"
[parts]
V_IN = { kind = "voltage-source", plus = "cell", minus = "gnd", voltage = "5 V" }
R_IN = { kind = "resistor", nodes = ["cell", "vin"], resistance = "0.1 Ω" }
V_REF = { kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "3.3 V" }
EA = { kind = "error-amplifier", reference = "ref", sense = "vout", output = "gate", supply = "vin", ground = "gnd", inverting = "reference", transconductance = "200 µS", stage_current = "20 µA", stage_resistance = "5 MΩ", output_resistance = "1 kΩ", drive_current = "2 mA" }
Q1 = { kind = "mosfet", source = "vin", gate = "gate", drain = "vout", channel = "p", threshold = "0.7 V", transconductance = "1e6 A/V^2", series_resistance = "0.44 Ω" }
I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "500 mA" }
[[tests]]
name = "falling"
kind = "dropout"
load_levels = ["250 mA", "500 mA"]
[[tests]]
name = "half"
kind = "dropout"
load_level = "250 mA"
[[tests]]
name = "not far enough"
kind = "dropout"
to = "3.7 V"
"#;

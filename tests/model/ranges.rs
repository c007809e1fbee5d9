//! What a datasheet asks of the inside assumed for it: a recommended output capacitor that the points
//! of the same sheet cannot be stable with, little gain under a high output, a divider outside.

use super::{figures, modelled, plan};

/// 10 mΩ at 10 kHz where 10 µF and 0.5 Ω alone have 1.7 Ω: the loop still has a gain of a hundred there
/// and crosses over far above. With 1 mΩ in the place of 0.5 Ω the capacitor's zero, at 32 kHz to 145 kHz
/// with the ESR, is gone, and the poles of amplifier and output both lie below crossover.
const SHEET: &str = r#"title = "a sheet that recommends too much"
[rail]
input = "vin"
output = "vout"
nominal = "5 V"
source = "V_IN"
load = "I_OUT"
[parts]
V_IN = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "7 V" }
U1 = { kind = "regulator", input = "vin", output = "vout", ground = "gnd", model = "sheet" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "0.5 Ω" }
I_OUT = { kind = "load", nodes = ["vout", "gnd"], current = "1 mA" }
[models.sheet]
kind = "regulator"
topology = "pnp"
output_voltage = "5 V"
rated_current = "150 mA"
test_input = "7 V"
test_capacitor = "10 µF"
test_esr = "0.5 Ω"
capacitor_range = ["2.2 µF", "100 µF"]
esr_range = ["1 mΩ", "2 Ω"]
quiescent_current = "1 mA"
ground_current = "5 mA"
ground_current_in_dropout = "12 mA"
dropouts = [{ current = "150 mA", dropout = "250 mV" }]
rejections = [
  { frequency = "120 Hz", load = "50 mA", rejection = "80 dB" },
  { frequency = "10 kHz", load = "50 mA", rejection = "75 dB" },
]
impedances = [{ frequency = "10 kHz", load = "100 mA", impedance = "10 mΩ" }]
"#;

#[test]
fn an_esr_range_that_the_points_contradict_is_named() {
    let found = modelled(&plan(SHEET), false);
    assert!(found.meets_all(), "the points themselves go together");
    assert!(!found.is_consistent());
    let contradicted: Vec<&str> = found
        .range_ends
        .iter()
        .filter(|end| end.contradicts())
        .map(|end| end.name.as_str())
        .collect();
    assert!(contradicted.contains(&"stable with 2.2 µF and 1 mΩ"), "{contradicted:?}");
    assert!(contradicted.iter().all(|name| name.ends_with(" and 1 mΩ")), "{contradicted:?}");
    assert_eq!(found.range_ends.len(), 4);
}

/// 12 V and two junctions over them, and a gain that a modest load regulation leaves small: the amplifier
/// must reach 14 V all the same.
#[test]
fn a_follower_of_little_gain_reaches_its_output() {
    let sheet = r#"title = "a follower"
[rail]
input = "vin"
output = "vout"
nominal = "12 V"
source = "V_IN"
load = "I_OUT"
pass = "U1"
[parts]
V_IN = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "19 V" }
U1 = { kind = "regulator", input = "vin", output = "vout", ground = "gnd", model = "sheet" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF" }
I_OUT = { kind = "load", nodes = ["vout", "gnd"], current = "20 mA" }
[models.sheet]
kind = "regulator"
topology = "darlington"
output_voltage = "12 V"
rated_current = "1 A"
test_input = "19 V"
dropouts = [{ current = "1 A", dropout = "2.0 V", definition = "100 mV below" }]
load_regulations = [{ from = "5 mA", to = "1 A", change = "30 mV" }]
rejections = [{ frequency = "120 Hz", load = "500 mA", rejection = "68 dB" }]
[[tests]]
name = "rest"
kind = "operating-point"
transient_window = "none"
require = { output_level = "11.76 V .. 12.24 V" }
"#;
    let [level] = figures(&plan(sheet), &[])[0][..] else { panic!("one figure") };
    // 30 mV at 1 A and some more at rest: within 2 %.
    assert!((level / 12.0 - 1.0).abs() < 0.02, "{level}");
}

/// 45 µA are the part's own, whatever the divider around it draws: 80 µA here.
#[test]
fn a_divider_outside_is_no_ground_current() {
    let sheet = r#"title = "an adjustable part"
[parts]
V_IN = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3.3 V" }
U1 = { kind = "regulator", input = "vin", output = "vout", ground = "gnd", adjust = "adj", model = "sheet" }
R_1 = { kind = "resistor", nodes = ["vout", "adj"], resistance = "12.5 kΩ" }
R_2 = { kind = "resistor", nodes = ["adj", "gnd"], resistance = "10 kΩ" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF" }
[models.sheet]
kind = "regulator"
topology = "pmos"
reference_voltage = "0.8 V"
rated_current = "500 mA"
test_input = "3.3 V"
test_output = "1.8 V"
dropouts = [{ current = "500 mA", dropout = "200 mV" }]
quiescent_current = "45 µA"
ground_current = "120 µA"
"#;
    let found = modelled(&plan(sheet), false);
    for (key, asked) in [("quiescent_current", 45e-6), ("ground_current", 120e-6)] {
        let told = found.points.iter().find(|p| p.point.row.0 == key).expect("a point");
        let got = told.got.clone().expect("a figure");
        assert!((got / asked - 1.0).abs() < 0.05, "{key}: {got}");
    }
}

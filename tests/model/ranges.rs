//! A recommended output capacitor that the points of the same sheet cannot be stable with.

use super::{modelled, plan};

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

//! Overshoot on the return from dropout, and the clamp that makes it.

use crate::bench::{Bench, measured};
use railstep::analysis::Method;
use railstep::trial::Outcome;

/// A PNP regulator of 5 V whose battery dips to 4.6 V and comes back in 50 µs, or is switched on. In
/// regulation the amplifier's internal node stands at 20 mA / 45 / 12 mA/V = 37 mV; all the base
/// current there is takes 1 V.
fn regulator(ceiling: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "out of dropout"
[rail]
input = "vin"
output = "vout"
nominal = "5 V"
window = "3 %"
source = "V_BAT"
load = "I1"
pass = "Q1"
[parts]
V_BAT = {{ kind = "voltage-source", plus = "bat", minus = "gnd", voltage = "12 V" }}
R_WIRE = {{ kind = "resistor", nodes = ["bat", "vin"], resistance = "0.5 Ω" }}
C_IN = {{ kind = "capacitor", nodes = ["vin", "gnd"], capacitance = "10 µF", esr = "0.1 Ω" }}
V_REF = {{ kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "1.25 V" }}
EA = {{ kind = "error-amplifier", reference = "ref", sense = "fb", output = "base", supply = "vin", ground = "gnd", inverting = "sense", transconductance = "200 µS", stage_current = "20 µA", stage_resistance = "833 kΩ", stage_capacitance = "160 pF", returns_to = "ground", ceiling = "{ceiling}", swing_low = "-20 mV", stage = "current", output_transconductance = "12 mA/V", highest_current = "12 mA", direction = "sink" }}
Q1 = {{ kind = "bipolar", emitter = "vin", base = "base", collector = "vout", polarity = "pnp", saturation_current = "2e-13 A", forward_gain = 40, reverse_gain = 4, early_voltage = "60 V", collector_resistance = "1.3 Ω", transit_time = "20 ns" }}
R_TOP = {{ kind = "resistor", nodes = ["vout", "fb"], resistance = "37.4 kΩ" }}
R_BOT = {{ kind = "resistor", nodes = ["fb", "gnd"], resistance = "12.5 kΩ" }}
C_OUT = {{ kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "47 µF", esr = "1 Ω" }}
I1 = {{ kind = "load", nodes = ["vout", "gnd"], current = "20 mA" }}
[[tests]]
name = "dip"
kind = "line-step"
transient_window = "none"
from = "9 V"
to = "4.6 V"
edge = "1 ms"
edge_back = "50 µs"
before = "1 ms"
hold = "5 ms"
settle = "10 ms"
[[tests]]
name = "profile"
kind = "profile"
transient_window = "none"
source_points = [["0 s", "9 V"], ["1 ms", "9 V"], ["2 ms", "4.6 V"], ["7 ms", "4.6 V"], ["7.05 ms", "9 V"], ["17 ms", "9 V"]]
"#
    ))
}

fn windup_note(outcome: &Outcome) -> Option<&String> {
    outcome.notes.iter().find(|note| note.starts_with("overshoot by windup"))
}

/// V above where it settles after the return.
fn overshoot(outcome: &Outcome) -> f64 {
    let highest = measured(outcome, "output_maximum");
    let last = outcome.columns.iter().find(|c| c.name == "vout").expect("a column").values.last();
    highest - last.expect("a row")
}

/// Wound up to 3 V, the node first has to fall by 2 V at 20 µA / 160 pF, 16 µs at least, in which the
/// pass device puts (40·12 mA − 20 mA)·16 µs / 47 µF = 157 mV on the output: a bound from below, for
/// the error has to grow before the amplifier's input stage gives all of its 20 µA.
#[test]
fn exact_the_least_overshoot_of_a_wound_up_amplifier() {
    let bench = regulator("3 V");
    for test in ["dip", "profile"] {
        let outcome = bench.outcome(test, Method::Rodas4p);
        let found = overshoot(&outcome);
        assert!(found > 0.157, "{test} {found}");
        let note = windup_note(&outcome).unwrap_or_else(|| panic!("{test}: {:?}", outcome.notes));
        for part in ["`EA` was wound up at its upper swing", "clamp (`ceiling`"] {
            assert!(note.contains(part), "{note}");
        }
    }
}

/// The same with the clamp at 100 mV, not far above the 37 mV of regulation: nothing is left to come back
/// from, and the output returns without passing its level by 0.1 % of nominal.
#[test]
fn a_clamp_close_to_the_working_point_removes_the_overshoot() {
    let bench = regulator("100 mV");
    for test in ["dip", "profile"] {
        let outcome = bench.outcome(test, Method::Rodas4p);
        // It has been in dropout all the same.
        let lowest = measured(&outcome, "output_minimum");
        assert!(lowest < 4.7, "{test} {lowest}");
        let found = overshoot(&outcome);
        assert!(found < 5e-3, "{test} {found}");
        assert_eq!(windup_note(&outcome), None, "{test}");
    }
}

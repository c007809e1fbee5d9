//! The text of a run as people read it.

use crate::bench::Bench;
use insta::assert_snapshot;

/// A source behind resistance and inductance, which ring with the capacitor.
const RINGING: &str = r#"title = "ringing bench rail"
[rail]
input = "vin"
output = "vout"
nominal = "3 V"
window = "5 %"
source = "V1"
load = "I_LOAD"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }
L_OUT = { kind = "inductor", nodes = ["vin", "vout"], inductance = "1 µH", series_resistance = "0.1 Ω" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", remaining = "80 %" }
I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }

[[tests]]
name = "step"
kind = "load-step"
from = "10 mA"
to = "110 mA"
edge = "100 ns"
hold = "300 µs"
require = { droop = "<= 40 mV", recovery = { limit = "<= 50 µs", band = "0.2 %" }, overshoot = "<= 20 mV" }

[[tests]]
name = "rest"
kind = "operating-point"
"#;

#[test]
fn a_run_reads_as_a_whole() {
    // Solved far tighter than what is shown, so that no digit shown depends on the steps taken.
    let told = Bench::with(RINGING).run(&["--accuracy", "1nV"]).expect(1);
    assert_snapshot!(told.out, @"");
}

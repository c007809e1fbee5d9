//! A regulator that folds back into a load of constant current: two stable rests and one between them that no
//! circuit holds.

use crate::bench::{BOTH, Bench, instant, measured, unknown};
use railstep::analysis::{Method, operating_point};
use railstep::curve::Cell;
use railstep::system::System;
use railstep::trial::Outcome;
use railstep::waveform::Side;

/// An npn of gain 5000 driven by at most 1 mA, and a limit that folds from 4 A at 5 V to 1.5 A in a short.
const PARTS: &str = r#"[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "14 V" }
V_REF = { kind = "voltage-source", plus = "ref", minus = "gnd", voltage = "6.25 V" }
EA = { kind = "error-amplifier", reference = "ref", sense = "vout", output = "base", supply = "vin", ground = "gnd", transconductance = "10 mS", stage_current = "1 mA", stage_resistance = "1 MΩ", stage_capacitance = "10 nF", stage = "current", direction = "source", output_transconductance = "1 mA/V", highest_current = "1 mA" }
Q1 = { kind = "bipolar", polarity = "npn", collector = "vin", base = "base", emitter = "e", saturation_current = "1e-12 A", forward_gain = "5000" }
LIM = { kind = "current-limit", input = "e", output = "vout", ground = "gnd", from = "base", to = "vout", resistance = "0.1 Ω", limit = "4 A", short_current = "1.5 A", fold_voltage = "5 V", steepness = "1", highest_current = "2 mA" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "0.5 Ω" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "2.5 A", fade = "0.5 V" }
"#;
const RAIL: &str = "[rail]\ninput = \"vin\"\noutput = \"vout\"\nnominal = \"6.25 V\"\nwindow = \"5 %\"\nsource = \"V1\"\nload = \"I1\"\n";
const LOAD_A: f64 = 2.5;
const FADE_V: f64 = 0.5;

/// A per volt of the fold, and what it starts from at 0 V.
const SLOPE_S: f64 = (4.0 - 1.5) / 5.0;
const SHORT_A: f64 = 1.5;

/// A delivered on the fold: the emitter's i = L(v) + s/1 and what the limit takes of the drive, s = 1 mA − i/5001,
/// which comes out at the output as well. So i·(1 + 1/5001) = L + 1 mA and I = i + s = L + 2·s.
fn folded(volt: f64) -> f64 {
    let level = SHORT_A + SLOPE_S * volt;
    let emitter = (level + 1e-3) / (1.0 + 1.0 / 5001.0);
    level + 2.0 * (emitter - level)
}

/// Where I(v) = 2.5 A·tanh(v/0.5 V), far below and on the slope; and in regulation, where Q1's base takes
/// 2.5 A/5001 of 1 mA/V·v_x, and v_x/1 MΩ of the input stage's 10 mS.
fn rests() -> [f64; 3] {
    let (mut latched, mut middle) = (0.4, 2.0);
    for _ in 0..200 {
        latched = FADE_V * (folded(latched) / LOAD_A).atanh();
        // I(v) is a straight line.
        let drawn = LOAD_A * f64::tanh(middle / FADE_V);
        middle = (drawn - folded(0.0)) / (folded(1.0) - folded(0.0));
    }
    let internal = LOAD_A / 5001.0 / 1e-3;
    [latched, middle, 6.25 - internal / 1e6 / 10e-3]
}

/// Corners of the limit are rounded: e^(−v/25 mV) of 12.5 mA is left of the fold's at 0.4 V, and slopes are 0.5 S.
const ROUNDED_V: f64 = 1e-7;

fn bench(head: &str, test: &str) -> Bench {
    Bench::of(&format!("title = \"foldback\"\n{head}{PARTS}[[tests]]\nname = \"t\"\n{test}\n"))
}

fn run(test: &str) -> Outcome {
    bench(RAIL, test).outcome("t", Method::Rodas4p)
}

/// Textbooks call it foldback latch-up: Horowitz and Hill, The Art of Electronics (from memory).
#[test]
fn exact_a_foldback_meets_a_constant_current_three_times_and_holds_it_twice() {
    let outcome = run("kind = \"overload\"\nloads = [{ current = \"2.5 A\", fade = \"0.5 V\" }]");
    let listing = outcome.listings.iter().find(|l| l.name == "rests").expect("rests");
    let told: Vec<(f64, &Cell)> = listing
        .rows
        .iter()
        .map(|row| match &row[3] {
            Cell::Number(volt) => (*volt, &row[6]),
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(told.len(), 3, "{told:?}");
    for ((volt, stable), (expected, holds)) in
        told.iter().zip(rests().iter().zip([true, false, true]))
    {
        // The crossing is solved to 1 nA over no less than 0.5 S.
        assert!((volt - expected).abs() < ROUNDED_V, "{volt} for {expected}");
        assert_eq!(**stable == Cell::Text("stable".to_owned()), holds, "{told:?}");
    }
    let words = outcome.notes.join("\n");
    let below = format!("below {:.2} V", rests()[1]);
    assert!(words.contains("sticks at") && words.contains(&below), "{words}");
}

/// Where the search ends that starts with the output at so many V, all else as it then is: the rest of the same
/// circuit with its output forced there.
fn from(system: &System, head: &str, volt: f64) -> f64 {
    let force = format!(
        "V_F = {{ kind = \"voltage-source\", plus = \"vout\", minus = \"gnd\", voltage = \"{volt:e} V\" }}\n"
    );
    let forced = format!(
        "title = \"forced\"\n{head}{PARTS}{force}[[tests]]\nname = \"t\"\nkind = \"operating-point\"\n"
    );
    let (forced, z) = Bench::of(&forced).at_rest("t");
    let mut start = vec![0.0; system.extent()];
    for (x, u) in start.iter_mut().zip(&system.unknowns).skip(1) {
        *x = z[unknown(&forced, &u.name)];
    }
    let rest = operating_point(system, &system.pieces(-1.0), 0.0, Some(&start)).expect("rest");
    rest.z[unknown(system, "vout")]
}

/// From anywhere, and with a rail's nominal voltage or without: one of the two that hold; with it the upper.
#[test]
fn exact_the_search_for_rest_ends_at_one_of_the_two_that_hold() {
    let [latched, middle, regulated] = rests();
    let mut seen = [0, 0];
    for head in ["", RAIL] {
        let bench = bench(head, "kind = \"operating-point\"");
        let system = System::build(&bench.plan.nominal.net(&[]));
        let nothing = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
        let nothing = nothing.z[unknown(&system, "vout")];
        for start in [0.0, latched, 1.0, middle, 4.0, regulated] {
            let found = from(&system, head, start);
            let side = usize::from((found - regulated).abs() < (found - latched).abs());
            // Newton's last change is below 1e-9 of a volt.
            let off = (found - [latched, regulated][side]).abs();
            assert!(off < ROUNDED_V, "{found} from {start:?}: neither {latched} nor {regulated}");
            seen[side] += 1;
            // At a rest that holds there is nothing to search.
            if start == latched || start == regulated {
                assert_eq!(side, usize::from(start == regulated), "{found} from {start}");
            }
        }
        let expected = if head.is_empty() { [latched, regulated] } else { [regulated; 2] };
        assert!(expected.iter().any(|v| (nothing - v).abs() < ROUNDED_V), "{nothing}");
    }
    assert!(seen[0] > 0 && seen[1] > 0, "{seen:?}");
}

/// The output at the end of the record.
fn end(outcome: &Outcome) -> f64 {
    let output = outcome.waveform.signal("output").expect("an output");
    let end_s = *outcome.waveform.time_s.last().expect("samples");
    outcome.waveform.at(output, end_s, Side::Before).expect("a value")
}

/// A source that comes up with the load on sticks; with 1.5 A, below the fold at any voltage, the rail is there,
/// and stays when the load grows to the 2.5 A that it could not have started into.
#[test]
fn exact_which_rest_is_reached_depends_on_the_way() {
    let [latched, _, regulated] = rests();
    for method in BOTH {
        let start = |load: &str| {
            let test = format!(
                "kind = \"start-up\"\nload_level = \"{load}\"\nramp = \"1 ms\"\nhold = \"9 ms\"\n\
                 require = {{ settled_level = \">= 6 V\", start_time = \"<= 5 ms\" }}"
            );
            bench(RAIL, &test).outcome("t", method)
        };
        let stuck = start("2.5 A");
        let row = stuck.measurements.iter().find(|m| m.name == "start_time").expect("a row");
        let words = row.reason.as_deref().unwrap_or_default();
        assert!(words.contains(&format!("stuck at {:.1} mV", 1e3 * latched)), "{words}");
        assert_eq!(row.verdict, railstep::measure::Verdict::Fail);
        let level = end(&stuck);
        assert!((level - latched).abs() < 1e-5, "{level} for {latched}");

        let up = end(&start("1.4 A"));
        // 50 µV less for each 2.5 A.
        let unloaded = 6.25 - (6.25 - regulated) * 1.4 / LOAD_A;
        assert!((up - unloaded).abs() < 1e-5, "{up} for {unloaded}");

        let test = "kind = \"load-step\"\nfrom = \"1.4 A\"\nto = \"2.5 A\"\nedge = \"100 µs\"\nhold = \"20 ms\"";
        let stepped = bench(RAIL, test).outcome("t", method);
        let loaded = measured(&stepped, "loaded_level");
        assert!((loaded - regulated).abs() < 2e-5, "{loaded} for {regulated}");
        assert!(instant(&stepped, "output_minimum") > 0.0);
    }
}

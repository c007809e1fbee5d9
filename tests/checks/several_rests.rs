//! Circuits with several rests: the one that is found is stable, and the one that the rail is for
//! where it has that one.

use crate::bench::{Bench, measured};
use railstep::circuit::{Change, Changes};
use railstep::trial::RunOptions;

/// A node whose current into the part is k·(v − a)(v − b)(v − c): three rests, with di/dv > 0 at the
/// outer ones and < 0 in the middle.
fn cubic([a, b, c]: [f64; 3], rail: &str, farad: Option<f64>) -> f64 {
    let capacitor = farad.map_or_else(String::new, |farad| {
        format!("C1 = {{ kind = \"capacitor\", nodes = [\"v\", \"gnd\"], capacitance = \"{farad} F\" }}\n")
    });
    let text = format!(
        "title = \"cubic\"\n{rail}\n[parts]\n{capacitor}\
         G1 = {{ kind = \"law\", nodes = [\"v\", \"gnd\"], inputs = {{ x = [\"v\", \"gnd\"] }}, \
         current = \"1 mA * (x / 1 V - {a}) * (x / 1 V - {b}) * (x / 1 V - {c})\" }}\n\
         R1 = {{ kind = \"resistor\", nodes = [\"v\", \"w\"], resistance = \"1 kΩ\" }}\n\
         R2 = {{ kind = \"resistor\", nodes = [\"w\", \"v\"], resistance = \"1 kΩ\" }}\n\
         [[tests]]\nname = \"t\"\nkind = \"operating-point\"\n"
    );
    let (system, z) = Bench::of(&text).at_rest("t");
    z[crate::bench::unknown(&system, "v")]
}

fn rail(nominal: &str) -> String {
    format!("[rail]\noutput = \"v\"\nnominal = \"{nominal}\"\n")
}

/// The search begins at 0 V, which is the middle rest, or close to it.
#[test]
fn exact_the_middle_one_of_three_rests_is_never_returned() {
    for middle in [-0.2, 0.0, 0.05, 0.4] {
        for farad in [None, Some(1e-12), Some(1e-6), Some(1.0)] {
            let roots = [-1.0, middle, 3.0];
            for (rail, wanted) in [
                (String::new(), -1.0),
                (rail("3 V"), 3.0),
                (rail("-1 V"), -1.0),
                (rail("2 V"), 3.0),
            ] {
                let found = cubic(roots, &rail, farad);
                let is_outer = [-1.0, 3.0].iter().any(|root| (found - root).abs() < 1e-9);
                assert!(is_outer, "{found} of {roots:?}, {farad:?} F, {rail}");
                // Without a rail the one nearer to no voltage, if the middle one was found at all.
                if !rail.is_empty() || middle == 0.0 {
                    assert!(
                        (found - wanted).abs() < 1e-9,
                        "{found}, {roots:?}, {farad:?} F, {rail}"
                    );
                }
            }
        }
    }
}

/// A coil beside a capacitor and i = −v/100 Ω + v³: an oscillator, with one rest, at 0 V. Its natural
/// frequencies are roots of s² − s·G/C + 1/(L·C): a complex pair for 1 µF, two real ones for 1 nF.
#[test]
fn exact_the_rest_of_an_oscillator_is_kept() {
    for farad in ["1 µF", "1 nF"] {
        let text = format!(
            "title = \"oscillator\"\n[parts]\n\
             C1 = {{ kind = \"capacitor\", nodes = [\"v\", \"gnd\"], capacitance = \"{farad}\" }}\n\
             L1 = {{ kind = \"inductor\", nodes = [\"v\", \"gnd\"], inductance = \"100 µH\" }}\n\
             G1 = {{ kind = \"law\", nodes = [\"v\", \"gnd\"], inputs = {{ x = [\"v\", \"gnd\"] }}, \
             current = \"-x / 100 Ω + 1 mA * (x / 1 V)^3\" }}\n\
             [[tests]]\nname = \"t\"\nkind = \"operating-point\"\n"
        );
        let (system, z) = Bench::of(&text).at_rest("t");
        assert!(z[crate::bench::unknown(&system, "v")].abs() < 1e-9, "{farad}");
    }
}

const BENCH_SUPPLY: &str = include_str!("../../netlists/bench-supply.toml");

/// The circuit of the bench supply with one test of our own.
fn bench_supply(test: &str) -> Bench {
    let parts = BENCH_SUPPLY.split("[[tests]]").next().expect("a file");
    Bench::of(&format!("{parts}\n[[tests]]\nname = \"t\"\n{test}\n"))
}

/// Its limit is 0.833 A in a short and 2.196 A at 11.4 V (`tests/demos/bench_supply.rs`, by other code):
/// a constant current between the two has a rest in the window, one on the slope and one near 0 V.
#[test]
fn a_supply_that_folds_back_rests_in_its_window_with_every_current_below_its_limit() {
    for load in ["0.88 A", "0.9 A", "1 A", "1.2 A", "1.5 A", "1.8 A", "2.1 A"] {
        let bench = bench_supply(&format!("kind = \"operating-point\"\nload_level = \"{load}\""));
        let outcome = bench.ended("t", &RunOptions::default());
        let found = measured(&outcome, "output_level");
        assert!((11.94..=12.06).contains(&found), "{found} V at {load}");
    }
    // Above the limit there is only the one that is latched.
    let bench = bench_supply("kind = \"operating-point\"\nload_level = \"2.3 A\"");
    let found = measured(&bench.ended("t", &RunOptions::default()), "output_level");
    assert!((0.0..0.1).contains(&found), "{found} V");
}

/// As studies find it: from the rest with nothing changed.
#[test]
fn a_changed_load_keeps_the_rest_in_the_window() {
    let bench = bench_supply("kind = \"operating-point\"");
    for load in ["0.5 A", "1.5 A", "2.1 A"] {
        let changes = Changes { list: vec![Change::new("I_OUT.current", load)] };
        let options = RunOptions { changes, ..RunOptions::default() };
        let found = measured(&bench.ended("t", &options), "output_level");
        assert!((11.94..=12.06).contains(&found), "{found} V at {load}");
    }
}

/// What a start leads to is not asked of the rest: it begins without power and sticks.
#[test]
fn a_start_into_a_load_that_it_cannot_start_sticks_with_a_window_and_without() {
    for window in ["window = \"none\"", "transient_window = \"none\""] {
        let bench = bench_supply(&format!(
            "kind = \"start-up\"\nload_level = \"0.9 A\"\nramp = \"10 ms\"\nhold = \"90 ms\"\n{window}\n\
             require = {{ start_time = \"<= 20 ms\" }}"
        ));
        let outcome = bench.ended("t", &RunOptions::default());
        let row = outcome.measurements.iter().find(|m| m.name == "start_time").expect("a row");
        assert_eq!(row.value, None, "{window}");
        // 0.18286 V, where limit and load cross.
        assert_eq!(row.reason.as_deref(), Some("stuck at 182.9 mV"), "{window}");
    }
}

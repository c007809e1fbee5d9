//! Each doubt is raised where it should be, says what to do, and is raised nowhere else.

use crate::circuit::Changes;
use crate::diagnostic::{Diagnostic, Severity};
use crate::document::NoFiles;
use crate::plan;

const DEMO: &str = include_str!("../../../netlists/buoy-radio.toml");

/// What is told of a file that can be run.
fn doubts(text: &str) -> Vec<(Diagnostic, String)> {
    let reading = plan::read("t.toml", text, &NoFiles, &Changes::default());
    assert!(reading.plan.is_some(), "{:#?}", reading.diagnostics);
    let placed = |d: Diagnostic| {
        assert_eq!(d.severity, Severity::Warning);
        assert!(d.hint.is_some() && !d.label.is_empty(), "{d:?}");
        let span = d.span.unwrap_or_else(|| panic!("{d:?}"));
        let at = text.get(span.start..span.end).unwrap_or("").to_owned();
        (d, at)
    };
    reading.diagnostics.into_iter().map(placed).collect()
}

/// The only doubt: its message, its hint and what it points at.
fn only(text: &str) -> [String; 3] {
    let mut all = doubts(text);
    assert_eq!(all.len(), 1, "{all:#?}");
    let (doubt, at) = all.remove(0);
    [doubt.message, doubt.hint.unwrap_or_default(), at]
}

fn changed(from: &str, to: &str) -> String {
    assert_eq!(DEMO.matches(from).count(), 1, "`{from}`");
    DEMO.replace(from, to)
}

#[test]
fn the_buoy_raises_no_doubt() {
    let all = doubts(DEMO);
    assert!(all.is_empty(), "{all:#?}");
}

/// A source, a choke with so much resistance, a capacitor.
fn choke(ohm: &str) -> String {
    format!(
        "title = \"t\"\n[parts]\nV1 = {{ kind = \"voltage-source\", plus = \"a\", minus = \"gnd\", voltage = \"5 V\" }}\nL1 = {{ kind = \"inductor\", nodes = [\"a\", \"b\"], inductance = \"1 µH\", series_resistance = \"{ohm}\" }}\nC1 = {{ kind = \"capacitor\", nodes = [\"b\", \"gnd\"], capacitance = \"1 µF\" }}\n"
    )
}

#[test]
fn exact_a_choke_with_a_capacitor_rings_at_its_own_frequency_and_quality() {
    // Series resonance: f = 1/(2π·√(L·C)) = 159.155 kHz, Q = √(L/C)/R = 1 Ω / 1 mΩ.
    let [message, hint, at] = only(&choke("1 mΩ"));
    assert_eq!(message, "`L1` rings with `C1` at 159 kHz, with a Q of 1000");
    assert_eq!(hint, "give `L1` its `series_resistance`, or `C1` its `esr`");
    assert_eq!(at, "L1");
}

#[test]
fn exact_a_quality_of_a_hundred_is_the_border() {
    // Q = 1 Ω / R: 99 at 10.1 mΩ, 101 at 9.9 mΩ.
    assert!(doubts(&choke("10.1 mΩ")).is_empty());
    assert_eq!(only(&choke("9.9 mΩ"))[0], "`L1` rings with `C1` at 159 kHz, with a Q of 101");
}

#[test]
fn a_choke_without_any_resistance_rings_for_ever() {
    let [message, ..] = only(&choke("0 Ω"));
    assert!(message.ends_with("with a Q of beyond 1e6"), "{message}");
}

#[test]
fn a_capacitor_with_esl_and_no_esr_rings_with_the_next() {
    let text = "title = \"t\"\n[parts]\nV1 = { kind = \"voltage-source\", plus = \"a\", minus = \"gnd\", voltage = \"5 V\" }\nR1 = { kind = \"resistor\", nodes = [\"a\", \"b\"], resistance = \"1 kΩ\" }\nC1 = { kind = \"capacitor\", nodes = [\"b\", \"gnd\"], capacitance = \"10 µF\", esl = \"1 nH\" }\nC2 = { kind = \"capacitor\", nodes = [\"b\", \"gnd\"], capacitance = \"100 nF\" }\n";
    let [message, hint, at] = only(text);
    // 1 nH with 100 nF behind 10 µF, 99.01 nF: 15.995 MHz.
    assert!(message.starts_with("the ESL of `C1` rings with `C2` at 16.0 MHz"), "{message}");
    assert!(hint.starts_with("give `C1` its `esr`"), "{hint}");
    assert_eq!(at, "C1");
    assert!(doubts(&text.replace("esl = \"1 nH\"", "esl = \"1 nH\", esr = \"5 mΩ\"")).is_empty());
}

#[test]
fn a_loop_of_the_wrong_sign_is_told() {
    let text = changed("inverting = \"reference\", model = \"ea\"", "model = \"ea\"");
    let told = doubts(&text);
    let found =
        told.iter().find(|(d, _)| d.message == "the loop around `EA` feeds back positively");
    let (doubt, at) = found.unwrap_or_else(|| panic!("{told:#?}"));
    let hint = "write `inverting = \"reference\"`, or swap `reference` and `sense`";
    assert_eq!(doubt.hint.as_deref(), Some(hint));
    assert_eq!(at, "EA");
}

#[test]
fn swapped_inputs_are_a_loop_of_the_wrong_sign_too() {
    let text =
        changed("reference = \"ref\", sense = \"fb\"", "reference = \"fb\", sense = \"ref\"")
            .replace("feedback         = \"EA.sense\"", "feedback = \"EA.reference\"");
    let told = doubts(&text);
    assert!(told.iter().any(|(d, _)| d.message.contains("feeds back positively")), "{told:#?}");
    // With both turned round the sign is right again.
    let both = text.replace("inverting = \"reference\", model", "inverting = \"sense\", model");
    let told = doubts(&both);
    assert!(told.iter().all(|(d, _)| !d.message.contains("feeds back")), "{told:#?}");
}

#[test]
fn a_reversed_capacitor_and_one_above_its_rating_are_told() {
    let of = |nodes: &str, rated: &str| {
        format!(
            "title = \"t\"\n[parts]\nV1 = {{ kind = \"voltage-source\", plus = \"a\", minus = \"gnd\", voltage = \"5 V\" }}\nC1 = {{ kind = \"capacitor\", nodes = {nodes}, capacitance = \"1 µF\", esr = \"1 Ω\", rated_voltage = \"{rated}\" }}\n"
        )
    };
    let [message, hint, _] = only(&of("[\"gnd\", \"a\"]", "6.3 V"));
    assert_eq!(message, "`C1` is reversed: -5.00 V across it at rest");
    assert_eq!(hint, "write `nodes = [\"a\", \"gnd\"]`");
    let [message, _, at] = only(&of("[\"a\", \"gnd\"]", "4 V"));
    assert_eq!(message, "`C1` bears 5.00 V at rest, rated 4.00 V");
    assert_eq!(at, "\"4 V\"");
    assert!(doubts(&of("[\"a\", \"gnd\"]", "6.3 V")).is_empty());
}

#[test]
fn figures_off_by_a_thousand_are_told() {
    let cases = [
        ("{ value = \"4.7 µF\",", "{ value = \"4.7 F\",", "`capacitance` of `C_OUT` is 4.70 F"),
        ("resistance = \"160 kΩ\"", "resistance = \"160 mΩ\"", "`resistance` of `R_TOP` is 160 mΩ"),
        ("inductance = \"4 nH\"", "inductance = \"4 H\"", "`inductance` of `L_TRACE` is 4.00 H"),
        ("esr = \"5 mΩ\"", "esr = \"5 kΩ\"", "`esr` of `C_IN` is 5.00 kΩ"),
    ];
    for (from, to, message) in cases {
        let told = doubts(&changed(from, to));
        assert!(told.iter().any(|(d, _)| d.message == message), "{message}: {told:#?}");
    }
    let hot = DEMO.replacen("to = \"180 mA\"", "to = \"180 kA\"", 1);
    let told = doubts(&hot);
    let found = told.iter().find(|(d, _)| d.message == "test `transmit burst` draws 180 kA");
    assert_eq!(found.map(|(_, at)| at.as_str()), Some("\"180 kA\""), "{told:#?}");
}

#[test]
fn a_load_that_the_source_cannot_carry_is_told() {
    // 2.950 V - 2.008 Ω · 180 mA = 2.589 V at the pin, for 2.80 V.
    let [message, hint, at] = only(&changed("r_cell = \"0.45 Ω\"", "r_cell = \"2 Ω\""));
    let start = "at its heaviest load, 180 mA, test `transmit burst, cold aged cell` rests at ";
    assert!(message.starts_with(start), "{message}");
    assert!(message.ends_with("below 2.74 V"), "{message}");
    assert!(hint.starts_with("the source leaves 2.59 V at the input"), "{hint}");
    assert_eq!(at, "transmit burst, cold aged cell");
}

#[test]
fn a_signed_measurement_bounded_on_one_side_is_doubted() {
    let line = "droop = \"<= 14 mV\"";
    for (limit, doubted) in [
        ("<= 5 mV", true),
        (">= -5 mV", true),
        ("-5 mV .. 5 mV", false),
        (">= 0 V", false),
        ("<= 0 V", false),
    ] {
        let text = changed(line, &format!("{line}\nstatic_change = \"{limit}\""));
        if doubted {
            let [message, hint, _] = only(&text);
            let told = format!("`static_change` has a sign, and `{limit}` bounds one side only");
            assert_eq!(message, told);
            let both = hint.strip_prefix("write `static_change = \"").unwrap_or_default();
            assert_eq!(both.matches("5.00 mV").count(), 2, "{hint}");
        } else {
            assert!(doubts(&text).is_empty(), "{limit}");
        }
    }
}

//! Load and line regulation, dropout and ripple rejection as books and data sheets count them.

#![allow(clippy::unreadable_literal)] // published digits are compared by eye with their source

use crate::bench::{Bench, measured};
use crate::few_figures::{FULLY_ON, by_its_figures};
use crate::sources::{BELL_4, BELL_5, FLOYD, FRANCO, MALVINO, TOSHIBA};
use crate::table::{Check, Figures, Section};
use railstep::analysis::Method;
use railstep::trial::Outcome;

pub(crate) const SECTION: Section = Section {
    title: "Regulation, dropout and ripple rejection",
    checks: &[
        Check::new("load regulation, 12 V to 11.9 V", (&FLOYD, "example 17.2"), "%", || {
            load_regulation(12.0, 11.9, 0.840336)
        }),
        Check::new("load regulation, 9.91 V to 9.81 V", (&MALVINO, "example 24-6"), "%", || {
            load_regulation(9.91, 9.81, 1.0194)
        }),
        Check::new("load regulation, 10.16 V to 10.15 V", (&MALVINO, "example 24-10"), "%", || {
            load_regulation(10.16, 10.15, 0.0985)
        }),
        Check::new("line regulation, 0.25 V of 15 V", (&FLOYD, "example 17.1"), "%", || {
            line_regulation(15.0, 0.25, 5.0 * 0.33333)
        }),
        Check::new("line regulation, 9.94 V to 9.79 V", (&MALVINO, "example 24-6"), "%", || {
            line_regulation(9.79, 0.15, 1.5322)
        }),
        Check::new("line regulation, 10.16 V to 10.07 V", (&MALVINO, "example 24-10"), "%", || {
            line_regulation(10.07, 0.09, 0.894)
        }),
        Check::new(
            "5 V regulator: line, load, output resistance, ripple",
            (&FRANCO, "example 11.1"),
            "%",
            of_5_v,
        )
        .but("figures of two digits"),
        Check::new(
            "dropout of 0.44 Ω at 500 mA and 250 mA, three definitions",
            (&TOSHIBA, "TCR5FM"),
            "V",
            dropout,
        ),
        Check::new(
            "ripple rejection of a zener divider",
            (&BELL_5, "examples 16.5 and 16.6"),
            "dB",
            zener_divider,
        ),
        Check::new(
            "regulator with a gain of 100: source and load effect, ripple",
            (&BELL_4, "example 18.1"),
            "V",
            gain_of_100,
        )
        .but("the book divides by the gain, the loop by one more"),
    ],
};

fn run(text: &str, name: &str) -> Outcome {
    Bench::of(text).outcome(name, Method::Rodas4p)
}

/// A step of the load from 0 A, or of the source.
fn step(kind: &str, from: &str, to: &str) -> String {
    format!("[[tests]]\nname = \"step\"\nkind = \"{kind}\"\nfrom = \"{from}\"\nto = \"{to}\"\n")
}

/// Load regulation as the textbooks count it, over the voltage at full load, which is taken for the
/// nominal one: Floyd, example 17.2: 12 V to 11.9 V at 10 mA, 0.840336 %, 0.0840336 %/mA. Malvino,
/// examples 24-6 and 24-10: 9.91 V to 9.81 V, 1.0194 %; 10.16 V to 10.15 V, 0.0985 % (the current is ours,
/// 10 mA). Figures of three to six digits.
fn load_regulation(free_v: f64, full_v: f64, percent: f64) -> Figures {
    let mut f = Figures::default();
    let ohm = (free_v - full_v) / 10e-3;
    let text = by_its_figures((full_v, 15.0), 0.0, ohm, &step("load-regulation", "0 A", "10 mA"));
    let outcome = run(&text, "step");
    f.close(100.0 * measured(&outcome, "load_regulation_share"), percent, 5e-5);
    f.near(measured(&outcome, "load_regulation_slope"), ohm, 1e-6);
    f
}

/// Line regulation: Floyd, example 17.1: 0.25 V of 15 V for 5 V, 0.33333 %/V. Malvino, the same
/// examples: 9.94 V to 9.79 V, 1.5322 %; 10.16 V to 10.07 V, 0.894 % (over 5 V here, which is ours).
fn line_regulation(nominal_v: f64, more_v: f64, percent: f64) -> Figures {
    let mut f = Figures::default();
    let test = step("line-regulation", "20 V", "25 V");
    let outcome = run(&by_its_figures((nominal_v, 20.0), more_v / 5.0, 1.0, &test), "step");
    f.close(100.0 * measured(&outcome, "line_regulation") / nominal_v, percent, 3e-4);
    f.close(500.0 * measured(&outcome, "line_regulation_slope"), percent, 3e-4);
    f
}

/// Franco, example 11.1, a regulator of 5 V: 3 mV for 7 V to 25 V is 0.0033 %/V; 5 mV for 0.25 A to 0.75 A
/// is 0.2 %/A and 10 mΩ; 78 dB let 0.1259 mV of each volt of ripple through. Figures of two and four
/// digits.
fn of_5_v() -> Figures {
    let mut f = Figures::default();
    let line = |tests: &str| run(&by_its_figures((5.0, 7.0), 3e-3 / 18.0, 10e-3, tests), "step");
    let load = line(&step("load-regulation", "0.25 A", "0.75 A"));
    f.close(100.0 * measured(&load, "load_regulation_share") / 0.5, 0.2, 1e-5);
    f.close(measured(&load, "load_regulation"), 5e-3, 1e-8);
    f.close(measured(&load, "load_regulation_slope"), 10e-3, 1e-8);
    let slope = measured(&line(&step("line-regulation", "7 V", "25 V")), "line_regulation_slope");
    f.close(100.0 * slope, 0.0033, 5e-5);
    let ripple = "[[tests]]\nname = \"step\"\nkind = \"ripple-rejection\"\n";
    let ripple = run(&by_its_figures((5.0, 7.0), 0.1259e-3, 10e-3, ripple), "step");
    f.close(measured(&ripple, "ripple_rejection"), 78.0, 5e-3);
    f
}

/// A data sheet's 220 mV at 500 mA is R_DS(on) = V_DO/I = 0.44 Ω, so that dropout scales with current:
/// Toshiba's questions and answers on TCR5FM for 220 mV at 500 mA, TI's data sheets UA78M and TLV772 for
/// R_DS(on) = V_DO/I_rated. The channel adds a microvolt, and the definitions by the output take it where
/// the fall is nearly all made.
fn dropout() -> Figures {
    let mut f = Figures::default();
    for (test, volt) in [("falling", 0.220), ("half", 0.110)] {
        let outcome = run(FULLY_ON, test);
        for definition in ["100 mV below", "2 % below", "fully on"] {
            let by = |m: &&railstep::measure::Measurement| {
                m.settings.get("definition").is_some_and(|d| d == definition)
            };
            let found = outcome.measurements.iter().find(by).expect(definition);
            f.close(found.value.unwrap(), volt, 2e-6);
        }
        // What Newton's iteration and the search for a level leave.
        f.close(measured(&outcome, "sweep_hysteresis"), 0.0, 2e-9);
        let fully_on = outcome.measurements.iter().find(|m| m.name == "dropout").unwrap();
        assert_eq!(fully_on.reason, None);
    }
    f
}

/// A circuit from `vin` to `vout` with one test.
fn with_test(parts: &str, nominal: &str, test: &str) -> Outcome {
    let text = format!(
        "title = \"rejection\"\n[rail]\ninput = \"vin\"\noutput = \"vout\"\nnominal = \"{nominal}\"\n\
         source = \"V1\"\nload = \"I1\"\n[parts]\n{parts}\n{test}"
    );
    run(&text, "step")
}

const RIPPLE: &str = "[[tests]]\nname = \"step\"\nkind = \"ripple-rejection\"\n";

/// 15 V, 150 Ω, a 6.2 V zener of 7 Ω: 20·log10(157/7) = 27.016 dB. Here the zener is its own linear
/// model, 6.2 V behind 7 Ω; the load takes nothing.
fn zener_divider() -> Figures {
    let mut f = Figures::default();
    let parts = r#"V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "15 V" }
R1 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "150 Ω" }
D1 = { kind = "voltage-source", plus = "vout", minus = "gnd", voltage = "6.2 V", resistance = "7 Ω" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "0 A" }"#;
    let outcome = with_test(parts, "1 V", RIPPLE);
    // Half of the last digit printed.
    f.close(measured(&outcome, "ripple_rejection"), 27.016, 5e-4);
    f
}

/// A series regulator whose amplifier has a gain of 100: source effect 2 V/100 = 20 mV, load effect
/// 1 V/100 = 10 mV, ripple rejection 40 dB (4th ed., example 18.1, and 5th ed., example 16.7). The book
/// divides by the gain; the loop divides by one more.
fn gain_of_100() -> Figures {
    let mut f = Figures::default();
    let parts = r#"V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "20 V" }
E1 = { kind = "law", nodes = ["e", "gnd"], inputs = { x = ["vin", "gnd"], y = ["vout", "gnd"] }, voltage = "x - 8 V + 100 * (12 V - y)" }
R1 = { kind = "resistor", nodes = ["e", "vout"], resistance = "1 Ω" }
I1 = { kind = "load", nodes = ["vout", "gnd"], current = "1 A", fade = "1 mV" }"#;
    // One beside a hundred: 1 %, and 20·log(101/100) = 0.086 dB.
    let line = with_test(parts, "12 V", &step("line-regulation", "20 V", "22 V"));
    let line_v = measured(&line, "line_regulation");
    f.near(line_v, 20e-3, 0.01);
    f.close(line_v, 2.0 / 101.0, 1e-9);
    let load = with_test(parts, "12 V", &step("load-regulation", "0 A", "1 A"));
    let load_v = measured(&load, "load_regulation");
    f.near(load_v, 10e-3, 0.01);
    f.close(load_v, 1.0 / 101.0, 1e-9);
    let rejection_db = measured(&with_test(parts, "12 V", RIPPLE), "ripple_rejection");
    f.close(rejection_db, 40.0, 0.09);
    f.close(rejection_db, 20.0 * 101_f64.log10(), 1e-8);
    f
}

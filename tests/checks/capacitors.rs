//! Capacitors whose capacitance follows their voltage, and series resistance that follows frequency,
//! against closed forms; what they bear; and the books with a charge that is no C·v.

use crate::bench::{BOTH, Bench, NoFiles, measured};
use nalgebra::Complex;
use railstep::analysis::Method;
use railstep::circuit::{Change, Changes};
use railstep::curve::{Cell, Listing};
use railstep::device::capacitor_figures;
use railstep::plan;
use railstep::trial::Outcome;
use std::f64::consts::TAU;

const BUOY: &str = include_str!("../../netlists/buoy-radio.toml");

/// Width of the law 1/√(1 + (v/w)²) that leaves 40 % at 6.3 V: w = 6.3 V/√(1/0.4² - 1).
fn width_v() -> f64 {
    6.3 / 5.25_f64.sqrt()
}

fn capacitor(keys: &str) -> String {
    format!(
        "C1 = {{ kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitance = \"10 µF\", {keys} }}\n"
    )
}

const CLASS: &str = r#"dielectric = "X5R", rated_voltage = "6.3 V", initial = "4 V""#;
const CURVE: &str = r#"bias_curve = [["0 V", "100 %"], ["1 V", "96 %"], ["2.8 V", "62 %"], ["4 V", "40 %"]], initial = "4 V""#;

/// 1 mA from t = 0 on into a capacitor at rest.
fn charged(keys: &str) -> Bench {
    Bench::of(&format!(
        "title = \"charge\"\n[parts]\n{}R1 = {{ kind = \"resistor\", nodes = [\"a\", \"gnd\"], \
         resistance = \"1000 GΩ\" }}\n\
         I1 = {{ kind = \"current-source\", nodes = [\"gnd\", \"a\"], current = \"0 A\", \
         varies = {{ shape = \"pulse\", change = \"1 mA\", edge = \"0 s\", width = \"1 s\" }} }}\n\
         [[tests]]\nname = \"charge\"\nkind = \"profile\"\nduration = \"60 ms\"\n",
        capacitor(keys)
    ))
}

/// Q = I·t and Q = C₀·w·arsinh(v/w) give v = w·sinh(I·t/(C₀·w)).
#[test]
fn exact_current_charges_a_ceramic_by_the_law_of_its_class() {
    let bench = charged(CLASS);
    for method in BOTH {
        // A charge that grows in a straight line allows steps over which the voltage bends more than a
        // curve between their ends can follow: look where steps end.
        let times = [5e-3, 20e-3, 40e-3, 60e-3];
        let run = bench.solve("charge", method, 1e-7, &times);
        for t in times {
            let exact = width_v() * (1e-3 * t / (10e-6 * width_v())).sinh();
            let found = run.at("a", t);
            // Errors of 0.1 µV a step add up over some hundred steps.
            assert!((found - exact).abs() < 2e-5, "{method:?} at {t} s: {found} for {exact}");
        }
    }
}

/// The charge at the voltage reached is what the current brought, whatever the curve.
#[test]
fn exact_current_charges_a_curve_by_its_integral() {
    let bench = charged(CURVE);
    let plan = plan::read("x", &circuit_with(CURVE), &NoFiles, &Changes::default()).plan.unwrap();
    let figures = capacitor_figures(&plan.nominal.part("C1").unwrap().parameters);
    for method in BOTH {
        let times = [5e-3, 10e-3, 20e-3, 30e-3, 60e-3];
        let run = bench.solve("charge", method, 1e-7, &times);
        for t in times {
            let found = figures.charge_c(run.at("a", t));
            // 20 µV of 10 µF.
            assert!((found - 1e-3 * t).abs() < 2e-10, "{method:?} at {t} s: {found} C");
        }
    }
}

fn circuit_with(keys: &str) -> String {
    format!(
        "title = \"one\"\n[parts]\n{}R1 = {{ kind = \"resistor\", nodes = [\"a\", \"gnd\"], \
         resistance = \"1 kΩ\" }}\n",
        capacitor(keys)
    )
}

/// R·C(v)·dv/dt = -v from the initial 4 V: arsinh(w/v) - arsinh(w/v₀) = t/(R·C₀).
#[test]
fn exact_discharge_from_an_initial_voltage_follows_the_law() {
    let text = circuit_with(CLASS)
        + "[[tests]]\nname = \"fall\"\nkind = \"profile\"\nduration = \"30 ms\"\n\
           start = \"initial-values\"\n";
    let bench = Bench::of(&text);
    let w = width_v();
    for method in BOTH {
        let run = bench.solve("fall", method, 1e-7, &[]);
        assert!((run.at("a", 0.0) - 4.0).abs() < 1e-5, "{method:?}: {}", run.at("a", 0.0));
        for t in [1e-3, 5e-3, 10e-3, 30e-3] {
            let exact = w / (t / 10e-3 + (w / 4.0).asinh()).sinh();
            let found = run.at("a", t);
            assert!((found - exact).abs() < 2e-5, "{method:?} at {t} s: {found} for {exact}");
        }
    }
}

#[test]
fn an_initial_voltage_holds_on_a_curve_too() {
    let text = circuit_with(CURVE)
        + "[[tests]]\nname = \"fall\"\nkind = \"profile\"\nduration = \"1 ms\"\n\
           start = \"initial-values\"\n";
    let run = Bench::of(&text).solve("fall", Method::default(), 1e-7, &[]);
    assert!((run.at("a", 0.0) - 4.0).abs() < 1e-5, "{}", run.at("a", 0.0));
}

/// Series resistance by a ladder: Re Z falls from esr_low to esr, half-way at the corner.
#[test]
fn exact_impedance_of_a_ladder() {
    let text = r#"title = "ladder"
[rail]
output = "a"
nominal = "1 V"
load = "I1"
[parts]
C1 = { kind = "capacitor", nodes = ["a", "gnd"], capacitance = "100 µF", esr = "0.2 Ω", esr_low = "1.2 Ω", esr_corner = "20 kHz", esl = "8 nH" }
V1 = { kind = "voltage-source", plus = "b", minus = "gnd", voltage = "1 V" }
L1 = { kind = "inductor", nodes = ["a", "b"], inductance = "1 MH" }
I1 = { kind = "load", nodes = ["a", "gnd"], current = "1 mA" }
[[tests]]
name = "z"
kind = "output-impedance"
lowest = "100 Hz"
highest = "10 MHz"
"#;
    let outcome = Bench::of(text).outcome("z", Method::default());
    let curve = &outcome.curves[0];
    let farad = 1.0 / (TAU * 20e3);
    let exact = |hz: f64| {
        let s = Complex::new(0.0, TAU * hz);
        (s * 100e-6).inv() + s * 8e-9 + 0.2 + (s * farad + 1.0).inv()
    };
    let corner = exact(20e3);
    assert!((corner.re - 0.7).abs() < 1e-12);
    for column in ["impedance", "C1.impedance"] {
        let points = curve.points("frequency", column);
        assert!(points.len() > 20);
        for (hz, found) in points {
            let z = exact(hz).norm();
            // 1 MH beside it takes 1e-8 at 100 Hz.
            assert!((found / z - 1.0).abs() < 1e-7, "{column} at {hz} Hz: {found} for {z}");
        }
    }
}

fn listing(outcome: &Outcome) -> &Listing {
    outcome.listings.iter().find(|l| l.name == "capacitors").expect("capacitors")
}

fn cell(listing: &Listing, part: &str, column: &str) -> Option<f64> {
    let at = listing.columns.iter().position(|c| c.name == column).unwrap();
    let row = listing.rows.iter().find(|r| r[0] == Cell::from(part)).expect("the part");
    match row[at] {
        Cell::Number(value) => Some(value),
        _ => None,
    }
}

/// 1 A of a sine from t = 0 on into 100 µF: the current's rms is 1/√2 A over whole periods, and
/// v = I/(ω·C)·(1 - cos ωt) peaks at twice I/(ω·C).
#[test]
fn exact_ripple_and_stress_of_a_sine() {
    let text = r#"title = "ripple"
[rail]
output = "a"
nominal = "1 V"
[parts]
C1 = { kind = "capacitor", nodes = ["a", "gnd"], capacitance = "100 µF", rated_voltage = "5 V", derating = "80 %", rated_ripple = "0.5 A" }
C2 = { kind = "capacitor", nodes = ["gnd", "a"], capacitance = "1 pF" }
R1 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "1 MΩ" }
I1 = { kind = "current-source", nodes = ["gnd", "a"], current = "0 A", varies = { shape = "sine", amplitude = "1 A", frequency = "1 kHz" } }
[[tests]]
name = "ripple"
kind = "profile"
duration = "5 ms"
require = { capacitor_stress = [{ limit = "<= 80 %", of = "C1" }, { limit = "<= 80 %", of = "C2" }] }
[[tests]]
name = "rest"
kind = "operating-point"
"#;
    let bench = Bench::of(text);
    let outcome = bench.outcome("ripple", Method::default());
    let told = listing(&outcome);
    let peak = 2.0 / (TAU * 1e3 * 100e-6);
    // 1 MΩ takes 3 µA, and 10 µV of 3 V are asked of the solution.
    assert!((cell(told, "C1", "ripple").unwrap() / 0.5_f64.sqrt() - 1.0).abs() < 1e-5);
    assert!(
        (cell(told, "C1", "of_rated_ripple").unwrap() / (200.0 / 2.0_f64.sqrt()) - 1.0).abs()
            < 1e-5
    );
    assert!((cell(told, "C1", "peak").unwrap() / peak - 1.0).abs() < 1e-5);
    assert!((cell(told, "C1", "of_rating").unwrap() / (100.0 * peak / 4.0) - 1.0).abs() < 1e-5);
    assert_eq!(cell(told, "C2", "of_rating"), None);
    let stress = measured(&outcome, "capacitor_stress");
    assert!((stress / (peak / 4.0) - 1.0).abs() < 1e-5, "{stress}");
    let of_c2 = outcome.measurements.iter().rfind(|m| m.name == "capacitor_stress").unwrap();
    assert_eq!(of_c2.reason.as_deref(), Some("`C2` has no `rated_voltage`"));
    let rest = bench.outcome("rest", Method::default());
    assert_eq!(cell(listing(&rest), "C1", "ripple"), None);
    assert!(measured(&rest, "capacitor_stress").abs() < 1e-9);
}

/// The buoy with a curve through the same 62 % at 2.8 V in place of the figure.
fn curved_buoy() -> Bench {
    let curve =
        r#"bias_curve = [["0 V", "100 %"], ["1 V", "93 %"], ["2.8 V", "62 %"], ["6.3 V", "20 %"]]"#;
    let text = BUOY.replacen("remaining = \"62 %\"", curve, 1);
    assert_ne!(text, BUOY);
    Bench::of(&text)
}

#[test]
fn the_books_balance_and_the_split_adds_up_with_a_capacitance_that_follows_its_voltage() {
    let bench = curved_buoy();
    for method in BOTH {
        let outcome = bench.outcome("transmit burst", method);
        let books = outcome.balance.expect("books");
        // As for the buoy with a constant capacitance (see `books`).
        for (what, account) in [("energy", books.energy), ("charge", books.charge)] {
            assert!(account.residual() <= 1e-5, "{what} by {method:?}: {account:?}");
            let of_stored = 10e-6 / 20e-3;
            assert!(account.residual_of_stored() <= of_stored, "{what} by {method:?}: {account:?}");
        }
        let droop = measured(&outcome, "droop");
        let causes = &outcome.explanation.as_ref().expect("explained").causes;
        let sum: f64 = causes.iter().map(|c| c.volt).sum();
        assert!((sum - droop).abs() < 1e-9, "{method:?}: {sum} of {droop}: {causes:?}");
    }
}

/// 62 % at 2.8 V whichever way it is said: C changes by some 15 % a volt there, the output by 20 mV.
#[test]
fn a_curve_gives_nearly_the_droop_of_the_figure_at_its_bias() {
    let [curved, plain] = [curved_buoy(), Bench::of(BUOY)]
        .map(|bench| measured(&bench.outcome("transmit burst", Method::default()), "droop"));
    assert!((curved / plain - 1.0).abs() < 5e-3, "{curved} {plain}");
    assert!(curved != plain);
}

#[test]
fn age_and_drift_are_set_by_their_paths() {
    let text = circuit_with(r#"dielectric = "X7R", remaining = "50 %""#);
    let farad = |changes: &[(&str, &str)]| {
        let list = changes.iter().map(|(path, text)| Change::new(*path, *text)).collect();
        let reading = plan::read("x", &text, &NoFiles, &Changes { list });
        let plan = reading.plan.unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
        capacitor_figures(&plan.nominal.part("C1").unwrap().parameters).farad
    };
    assert_eq!(farad(&[]), 5e-6);
    // Two decades of 2.5 %.
    let aged = farad(&[("C1.age", "100000 h")]);
    assert!((aged / 4.75e-6 - 1.0).abs() < 1e-12, "{aged}");
    let other =
        farad(&[("C1.temperature_drift", "-15 %"), ("C1.ageing", "5 %"), ("C1.age", "10000 h")]);
    assert!((other / (5e-6 * 0.85 * 0.95) - 1.0).abs() < 1e-12, "{other}");
}

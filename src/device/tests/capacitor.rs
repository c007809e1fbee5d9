//! Capacitors as they are: factors against closed forms, and what is laid out of them.

use super::{assert_close, laid, laws, parameters};
use crate::device::{
    Dielectric, Element, Loss, OverBias, Parameters, capacitor_figures, effective,
    outside_temperature, temperature_band,
};

fn capacitor(
    dielectric: Option<&'static str>,
    celsius: f64,
    set: &[(&'static str, f64)],
) -> Parameters {
    let words: Vec<_> = dielectric.map(|word| ("dielectric", word)).into_iter().collect();
    let mut p = parameters("capacitor", &words, &[("capacitance", 10e-6)]);
    p.temperature_k = celsius + 273.15;
    for (key, number) in set {
        p.numbers.insert(key, *number);
    }
    p
}

#[test]
fn exact_ageing_is_a_straight_line_over_decades() {
    let aged = |word, ageing: &[(&'static str, f64)], hours: f64| {
        let set = [ageing, &[("age", hours * 3600.0)]].concat();
        capacitor_figures(&capacitor(word, 25.0, &set)).farad / 10e-6
    };
    assert_eq!(aged(Some("X7R"), &[], 1e3), 1.0);
    assert_close(aged(Some("X7R"), &[], 1e4), 0.975, 1e-14);
    assert_close(aged(Some("X7R"), &[], 10.0), 1.05, 1e-14);
    assert_close(aged(Some("X7R"), &[("ageing", 0.05)], 1e5), 0.90, 1e-14);
    assert_close(aged(None, &[("ageing", 0.03)], 5e4), 1.0 - 0.03 * 50.0_f64.log10(), 1e-14);
    assert_eq!(aged(Some("C0G"), &[], 1e6), 1.0);
    assert_eq!(aged(None, &[], 1e6), 1.0);
    // Never below a tenth.
    assert_eq!(aged(None, &[("ageing", 1.0)], 1e5), 0.1);
}

#[test]
fn exact_temperature_follows_the_class_unless_a_coefficient_is_given() {
    let at = |word, celsius, set: &[(&'static str, f64)]| {
        capacitor_figures(&capacitor(word, celsius, set)).farad / 10e-6
    };
    assert_close(at(Some("U2J"), 85.0, &[]), 1.0 - 750e-6 * 60.0, 1e-12);
    assert_close(at(Some("U2J"), 85.0, &[("temperature_coefficient", 1e-4)]), 1.006, 1e-12);
    assert_eq!(at(Some("X5R"), 85.0, &[]), 1.0);
    assert_close(at(Some("X5R"), 85.0, &[("temperature_drift", -0.15)]), 0.85, 1e-14);
    // Around the nominal course: 60 K of ± 120e-6/K.
    let band = temperature_band(&capacitor(Some("U2J"), 85.0, &[])).expect("a band");
    assert_close(band[0], -7.2e-3, 1e-9);
    let band = temperature_band(&capacitor(Some("Y5V"), 85.0, &[])).expect("a band");
    assert_close(band[0], -0.82, 1e-9);
    assert_close(band[1], 0.22, 1e-9);
    assert_eq!(temperature_band(&capacitor(None, 85.0, &[])), None);
    let told = outside_temperature(&capacitor(Some("X5R"), 105.0, &[]));
    assert_eq!(told.as_deref(), Some("105 °C is above the 85 °C that X5R is made for"));
    assert_eq!(outside_temperature(&capacitor(Some("X7R"), 105.0, &[])), None);
}

/// At -40 °C eight times, at 20 °C once: at -10 °C, half-way, √8.
#[test]
fn exact_esr_is_straight_in_its_logarithm_over_temperature() {
    let esr = |celsius: f64| {
        let mut p =
            capacitor(None, celsius, &[("esr", 0.5), ("esr_low", 1.5), ("esr_corner", 1e4)]);
        p.curves.insert("esr_curve", vec![[233.15, 8.0], [293.15, 1.0]]);
        let figures = capacitor_figures(&p);
        let ladder = figures.ladder.expect("a ladder");
        // The corner stays where it is.
        assert_close(1.0 / (std::f64::consts::TAU * ladder.ohm * ladder.farad), 1e4, 1e-13);
        assert_close(ladder.ohm, 2.0 * figures.esr_ohm, 1e-13);
        figures.esr_ohm
    };
    assert_close(esr(-40.0), 4.0, 1e-12);
    assert_close(esr(-10.0), 0.5 * 8.0_f64.sqrt(), 1e-12);
    assert_close(esr(20.0), 0.5, 1e-12);
    assert_close(esr(-60.0), 4.0, 1e-12);
    assert_close(esr(100.0), 0.5, 1e-12);
}

/// Half-way between esr_low and esr at the corner, and the whole against the sum of its impedances.
#[test]
fn exact_impedance_with_ladder_and_leakage() {
    let set = [
        ("esr", 0.2),
        ("esr_low", 1.2),
        ("esr_corner", 2e4),
        ("esl", 8e-9),
        ("leakage_resistance", 1e3),
    ];
    let figures = capacitor_figures(&capacitor(None, 25.0, &set));
    let omega = std::f64::consts::TAU * 2e4;
    // 1 kΩ beside 10 µF: (1/R - jωC)/(1/R² + ω²C²).
    let size = 1e-6 + (omega * 10e-6).powi(2);
    let [re, im] = figures.impedance_ohm(2e4, 3.0);
    assert_close(re, 0.7 + 1e-3 / size, 1e-12);
    assert_close(im, omega * 8e-9 - 0.5 - omega * 10e-6 / size, 1e-12);
    assert_close(figures.esr_low_ohm(), 1.2, 1e-14);
}

#[test]
fn a_bias_law_stands_only_where_nothing_else_says_what_bias_takes() {
    let rated = ("rated_voltage", 6.3);
    let over = |p: &Parameters| capacitor_figures(p).over_bias;
    assert!(matches!(over(&capacitor(Some("X5R"), 25.0, &[rated])), OverBias::Class(_)));
    let given = [rated, ("remaining", 0.62)];
    assert!(matches!(over(&capacitor(Some("X5R"), 25.0, &given)), OverBias::Constant));
    assert!(matches!(over(&capacitor(Some("X5R"), 25.0, &[])), OverBias::Constant));
    assert!(matches!(over(&capacitor(Some("C0G"), 25.0, &[rated])), OverBias::Constant));
    assert!(matches!(over(&capacitor(None, 25.0, &[rated])), OverBias::Constant));
    let mut curved = capacitor(Some("X5R"), 25.0, &[rated]);
    curved.curves.insert("bias_curve", vec![[0.0, 1.0], [2.8, 0.62]]);
    assert!(matches!(over(&curved), OverBias::Curve(_)));
    let of = |word: &str| Dielectric::of(word).and_then(|d| d.left_at_rated);
    assert_eq!(["X7R", "X5R", "Y5V", "film"].map(of), [Some(0.5), Some(0.4), Some(0.2), None]);
}

#[test]
fn without_a_bias_law_the_capacitance_stays_a_linear_element() {
    let set = [("capacitance", 10e-6), ("remaining", 0.62), ("rated_voltage", 6.3)];
    let net =
        laid("capacitor", &parameters("capacitor", &[("dielectric", "X5R")], &set), &["a"; 2]);
    let Element::Capacitance { farad, .. } = net.elements[0].1 else { panic!("a capacitance") };
    assert_close(farad, 6.2e-6, 1e-15);
    assert!(laws(&net).is_empty());
}

#[test]
fn a_ladder_lies_between_the_rest_in_series_and_the_plate() {
    let set = [
        ("capacitance", 10e-6),
        ("esr", 0.2),
        ("esr_low", 1.2),
        ("esr_corner", 2e4),
        ("esl", 8e-9),
        ("rated_voltage", 6.3),
        ("initial", 6.3),
    ];
    let p = parameters("capacitor", &[("dielectric", "X5R")], &set);
    let net = laid("capacitor", &p, &["a", "gnd"]);
    let names: Vec<&str> = net.unknowns[2..].iter().map(|u| u.name.as_str()).collect();
    assert_eq!(names, ["X.ladder", "X.current", "X.plate"]);
    let Element::Law { charges, initial_c, .. } = &net.elements[3].1 else { panic!("a charge") };
    assert_eq!((charges[0][0].unknown, charges[0][1].unknown), (4, 0));
    // C₀·w·arsinh(6.3 V/w), w = 6.3 V/√5.25.
    let root = 5.25_f64.sqrt();
    assert_close(initial_c.expect("a start"), 10e-6 * 6.3 / root * root.asinh(), 1e-13);
}

#[test]
fn exact_factors_multiply_to_the_effective_value_and_say_why() {
    let set = [
        ("rated_voltage", 6.3),
        ("age", 3.6e7),
        ("temperature_drift", -0.1),
        ("temperature_coefficient", -1e-3),
    ];
    let found = effective(&capacitor(Some("X5R"), 35.0, &set), 6.3);
    assert_close(found.farad, 10e-6 * 0.4 * 0.975 * 0.9 * 0.99, 1e-12);
    let product: f64 = found.factors.iter().map(|f| f.share).product();
    assert_close(found.farad, found.label_f * product, 1e-12);
    let losses: Vec<Loss> = found.factors.iter().map(|f| f.loss).collect();
    assert_eq!(losses, [Loss::Bias, Loss::Temperature, Loss::Drift, Loss::Ageing]);
    assert_eq!(
        found.why(),
        "40 % left at 6.3 V by what X5R commonly keeps, no source: look it up, 99 % at 35 °C, 90 % by \
         its temperature drift, 97.5 % at an age of 10000 h"
    );
    assert!(effective(&capacitor(None, 25.0, &[]), 5.0).why().is_empty());
}

//! Zener diode against its own figures, and the words for where it works.

use super::{assert_close, bisect, evaluate, laid, laws, limit, noise, parameters, region};
use crate::device::temperature::{BOLTZMANN, ELEMENTARY_CHARGE};
use crate::device::{NoiseCause, Nonlinear, Parameters};

const SET: [(&str, f64); 4] = [
    ("breakdown_voltage", 9.1),
    ("test_current", 5e-3),
    ("resistance", 12.0),
    ("knee_current", 0.5e-3),
];

fn law(p: &Parameters) -> Nonlinear {
    laws(&laid("zener", p, &["a", "k"]))[0].clone()
}

fn zener(more: &[(&'static str, f64)]) -> Nonlinear {
    law(&parameters("zener", &[], &[&SET, more].concat()))
}

/// Current into the cathode and its slope, w = v(cathode) − v(anode).
fn at(law: &Nonlinear, w: f64) -> (f64, f64) {
    let e = evaluate(law, &[-w]);
    (e.currents[0] - e.currents[1], -(e.current_slopes[0][0] - e.current_slopes[1][0]))
}

/// Voltage at a current.
fn volt(law: &Nonlinear, ampere: f64) -> f64 {
    bisect(0.0, 100.0, |w| at(law, w).0 - ampere)
}

/// What the data sheet says is what the curve does, also where there is hardly a knee: figures by
/// definition of the keys.
#[test]
fn exact_figures_at_test_and_knee_current() {
    for (test_v, ohm, knee_a) in [(9.1, 12.0, 0.5e-3), (6.8, 20.0, 0.2e-3), (2.7, 300.0, 3e-3)] {
        let more = [("breakdown_voltage", test_v), ("resistance", ohm), ("knee_current", knee_a)];
        let law = zener(&more);
        let (ampere, siemens) = at(&law, test_v);
        // The reversed junction adds 1e-14 A.
        assert_close(ampere, 5e-3, 1e-11);
        assert_close(1.0 / siemens, ohm, 1e-12);
        // The slope far above, where the curve is a straight line.
        let far_ohm = 1.0 / at(&law, test_v + 1e6).1;
        let knee_ohm = 1.0 / at(&law, volt(&law, knee_a)).1;
        // What is subtracted so that nothing flows at 0 V is e^-2 of the knee in the softest one.
        let within = if test_v < 3.0 { 0.2 } else { 1e-9 };
        assert_close(knee_ohm, 2.0 * far_ohm, within);
        assert_eq!(at(&law, 0.0).0, 0.0);
    }
}

/// Below the knee the current falls by e every r·I_k/ln 2.
#[test]
fn exact_fall_below_the_knee() {
    let law = zener(&[]);
    let ohm = 12.0 * (1.0 - 2f64.powi(-10));
    let width_v = ohm * 0.5e-3 / 2f64.ln();
    let w = volt(&law, 1e-9);
    // ln(1 + x) = x − x²/2, x = 1e-9·ln 2/0.5e-3.
    assert_close(at(&law, w + width_v).0 / 1e-9, 1f64.exp(), 1e-5);
}

#[test]
fn exact_voltage_follows_temperature_at_the_test_current() {
    let mut p = parameters(
        "zener",
        &[],
        &[&SET[..], &[("voltage_temperature_coefficient", 4.9e-3)]].concat(),
    );
    p.temperature_k = 298.15 + 60.0;
    let (ampere, siemens) = at(&law(&p), 9.1 + 60.0 * 4.9e-3);
    // At 85 °C the reversed junction adds 24 pA.
    assert_close(ampere, 5e-3, 1e-8);
    assert_close(1.0 / siemens, 12.0, 1e-9);
}

/// Where there is hardly a knee, what is subtracted so that nothing flows at 0 V moves with
/// temperature too; still the curve goes through both of its points: figures by definition of the
/// keys. A voltage that temperature would drive below any such curve ends at a straight line.
#[test]
fn exact_a_soft_knee_goes_through_its_point_at_every_temperature() {
    let soft = [
        ("breakdown_voltage", 2.7),
        ("resistance", 300.0),
        ("knee_current", 3e-3),
        ("voltage_temperature_coefficient", -2e-3),
    ];
    let mut p = parameters("zener", &[], &[&SET[..], &soft].concat());
    for celsius in [-40.0, 25.0, 125.0] {
        p.temperature_k = 273.15 + celsius;
        let law = law(&p);
        let breakdown = evaluate(&law, &[-(2.7 - 2e-3 * (celsius - 25.0))]).currents[0];
        assert_close(breakdown, 5e-3, 1e-12);
        assert_eq!(evaluate(&law, &[0.0]).currents[0], 0.0);
    }
    p.temperature_k = 1500.0;
    let hot = law(&p);
    let slopes = [1e-3, 0.5, 1.0, 2.0].map(|w| -evaluate(&hot, &[-w]).current_slopes[0][0]);
    let straight = slopes.iter().all(|s| (s / slopes[0] - 1.0).abs() < 1e-2);
    assert!(straight && slopes[0] > 0.0, "{slopes:?}");
}

/// The forward junction is a diode: I_S·(e^(v/U_T) − 1), U_T = 25.69257912108585 mV at 298.15 K
/// (constants of the SI).
#[test]
fn exact_forward_junction() {
    let (ampere, _) = at(&zener(&[("saturation_current", 1e-14)]), -0.7);
    assert_close(-ampere, 1e-14 * (0.7_f64 / 0.02569257912108585).exp_m1(), 1e-12);
}

/// 2q·I in breakdown; 4kT·g at rest (Nyquist) even where some current leaks; the given density
/// times the slope at the test current.
#[test]
fn exact_noise() {
    let plain = zener(&[]);
    let shot = noise(&plain, &[-9.1])[0];
    assert_eq!(shot.cause, NoiseCause::Shot);
    assert_close(shot.white, 2.0 * ELEMENTARY_CHARGE * 5e-3, 1e-12);
    let soft = zener(&[("breakdown_voltage", 2.7), ("resistance", 300.0), ("knee_current", 3e-3)]);
    let siemens = -evaluate(&soft, &[0.0]).current_slopes[0][0];
    assert_close(noise(&soft, &[0.0])[0].white, 4.0 * BOLTZMANN * 298.15 * siemens, 1e-9);
    let noisy = zener(&[("noise_density", 1e-6), ("noise_corner", 100.0)]);
    let found = noise(&noisy, &[-9.1])[0];
    assert_eq!(found.cause, NoiseCause::Source);
    let given = (1e-6_f64 / 12.0).powi(2);
    assert_close(found.white, given + 2.0 * ELEMENTARY_CHARGE * 5e-3, 1e-9);
    assert_close(found.flicker_at_1hz, 100.0 * given, 1e-9);
}

#[test]
fn regions_are_told_in_words() {
    let law = zener(&[]);
    let told = |w: f64| region(&law, &[-w]);
    assert_eq!(told(9.2), Some("in breakdown"));
    assert_eq!(told(volt(&law, 0.51e-3)), Some("in breakdown"));
    assert_eq!(told(volt(&law, 0.1e-3)), Some("at its knee"));
    assert_eq!(told(5.0), Some("off"));
    assert_eq!(told(0.0), Some("off"));
    assert_eq!(told(-0.7), Some("on"));
}

/// From anywhere below breakdown an iterate lands where the curve is a line, not at the 900 V that a
/// slope of nothing asks for; one that is there already is left alone.
#[test]
fn steps_into_breakdown_are_shortened() {
    let law = zener(&[]);
    assert_eq!(limit(&law, &[0.0], &[-900.0]), [-(9.1 + 10.0 * 5e-3 * 12.0)]);
    assert_eq!(limit(&law, &[0.0], &[-9.0]), [-9.0]);
    assert_eq!(limit(&law, &[-9.2], &[-900.0]), [-900.0]);
    assert!(limit(&law, &[0.0], &[5.0])[0] < 1.2);
}

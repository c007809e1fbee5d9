//! Noise of parts against closed forms.

use super::{assert_close, evaluate, laid, laws, noise, parameters};
use crate::device::temperature::{BOLTZMANN, ELEMENTARY_CHARGE, thermal_voltage_v};
use crate::device::{Net, NoiseCause, NoisePlace, Nonlinear, kind};

const KELVIN: f64 = 298.15;
const FOUR_KT: f64 = 4.0 * BOLTZMANN * KELVIN;
const TWO_Q: f64 = 2.0 * ELEMENTARY_CHARGE;

fn diode(set: &[(&'static str, f64)]) -> Nonlinear {
    let set = [&[("saturation_current", 1e-14)], set].concat();
    laws(&laid("diode", &parameters("diode", &[], &set), &["a", "b"]))[0].clone()
}

/// Forward 2q·(i + 2·I_S), reversed 2q·I_S, and 4kT·g at rest whatever the ideality: Nyquist's
/// theorem knows no mechanisms.
#[test]
fn exact_shot_noise_of_a_junction() {
    let law = diode(&[]);
    for v in [-0.4, -0.05, -1e-3, -1e-9, 1e-9, 1e-3, 0.05, 0.6] {
        let found = noise(&law, &[v])[0];
        assert_eq!(found.cause, NoiseCause::Shot);
        let expected = TWO_Q * (evaluate(&law, &[v]).currents[0] + 2e-14);
        assert_close(found.white, expected, 1e-12);
    }
    for ideality in [1.0, 1.3, 2.0] {
        let law = diode(&[("ideality", ideality)]);
        let at_rest = FOUR_KT * evaluate(&law, &[0.0]).current_slopes[0][0];
        assert_close(noise(&law, &[0.0])[0].white, at_rest, 1e-13);
        // The first order in v/w is the slope's own change.
        assert_close(noise(&law, &[1e-12])[0].white, at_rest, 1e-10);
        let forward = TWO_Q * evaluate(&law, &[0.6]).currents[0];
        assert_close(noise(&law, &[0.6])[0].white, forward, 1e-7);
    }
}

/// 2q·I = 2kT·g of a conducting junction with ideality 1 (published-form identity of shot and
/// thermal noise), exact up to I_S.
#[test]
fn exact_shot_noise_is_half_the_thermal_noise_of_the_slope() {
    let law = diode(&[]);
    let slope = evaluate(&law, &[0.7]).current_slopes[0][0];
    assert_close(noise(&law, &[0.7])[0].white, 0.5 * FOUR_KT * slope, 1e-11);
}

#[test]
fn exact_flicker_noise_equals_shot_noise_at_the_corner() {
    let law = diode(&[("flicker_corner", 500.0)]);
    let found = noise(&law, &[0.6])[0];
    assert_close(found.flicker_at_1hz / 500.0, found.white, 1e-9);
    assert_eq!(noise(&law, &[0.0])[0].flicker_at_1hz, 0.0);
}

#[test]
fn exact_noise_of_a_bipolar_transistor() {
    let set = [
        ("saturation_current", 1e-15),
        ("forward_gain", 120.0),
        ("reverse_gain", 4.0),
        ("early_voltage", 60.0),
        ("knee_current", 0.02),
        ("flicker_corner", 2e3),
        ("base_leakage_current", 1e-14),
    ];
    let net =
        laid("bipolar", &parameters("bipolar", &[("polarity", "npn")], &set), &["c", "b", "e"]);
    let [transistor, leakage] = laws(&net)[..] else { panic!("a transistor and its leakage") };
    // Active: 2q·i_C and 2q·i_B, as every textbook has it, up to the saturation currents.
    let u = [0.72, -3.0];
    let (currents, sources) = (evaluate(transistor, &u).currents, noise(transistor, &u));
    for k in 0..2 {
        assert_close(sources[k].white, TWO_Q * currents[k], 1e-9);
    }
    assert_eq!(sources[0].flicker_at_1hz, 0.0);
    assert_close(sources[1].flicker_at_1hz, TWO_Q * currents[1] * 2e3, 1e-9);
    let leaking = noise(leakage, &u[..1])[0];
    assert_close(
        leaking.flicker_at_1hz,
        TWO_Q * evaluate(leakage, &u[..1]).currents[0] * 2e3,
        1e-9,
    );
    // Both junctions alike, so that nothing flows from collector to emitter: 4kT·g of that path.
    // Its voltage is v_BE − v_BC.
    for v in [-0.1, 0.0, 0.5, 0.7] {
        let slopes = evaluate(transistor, &[v, v]).current_slopes;
        let siemens = 0.5 * (slopes[0][0] - slopes[0][1]);
        assert_close(noise(transistor, &[v, v])[0].white, FOUR_KT * siemens, 1e-12);
    }
}

const CHANNEL: [(&str, f64); 3] =
    [("threshold", 0.5), ("transconductance", 1e-3), ("slope_factor", 1.3)];

fn channel(set: &[(&'static str, f64)], nodes: [&str; 4]) -> Nonlinear {
    let set = [&CHANNEL[..], set].concat();
    let net: Net = laid("mosfet", &parameters("mosfet", &[("channel", "n")], &set), &nodes);
    laws(&net)[0].clone()
}

/// Nyquist's theorem: a channel without voltage is a resistance, from weak to strong inversion.
#[test]
fn exact_channel_without_voltage_makes_the_noise_of_its_conductance() {
    let tied = channel(&[("output_slope", 0.05)], ["d", "g", "s", "s"]);
    let apart = channel(&[], ["d", "g", "s", "b"]);
    for v_gs in [-0.5, 0.1, 0.4, 0.5, 0.55, 0.6, 0.7, 1.0, 3.0, 12.0] {
        let siemens = evaluate(&tied, &[v_gs, 0.0]).current_slopes[0][1];
        let found = noise(&tied, &[v_gs, 0.0])[0];
        assert_eq!(found.cause, NoiseCause::Thermal);
        assert_close(found.white, FOUR_KT * siemens, 1e-12);
        let siemens = evaluate(&apart, &[v_gs, 0.0, -0.3]).current_slopes[0][1];
        assert_close(noise(&apart, &[v_gs, 0.0, -0.3])[0].white, FOUR_KT * siemens, 1e-12);
    }
}

/// Saturated: 4kT·(2/3)·n·g_m in strong inversion, 2q·i_D in weak inversion.
#[test]
fn exact_saturated_channel() {
    let law = channel(&[], ["d", "g", "s", "s"]);
    let u = [40.5, 60.0];
    let slope = evaluate(&law, &u).current_slopes[0][0];
    // The next term is 6/ℓ³ of it, ℓ = 600 half thermal voltages of pinch-off.
    assert_close(noise(&law, &u)[0].white, FOUR_KT * 2.0 / 3.0 * 1.3 * slope, 1e-7);
    let u = [-0.6, 2.0];
    // The first correction is of the order of ℓ = 1e-7 here.
    assert_close(noise(&law, &u)[0].white, TWO_Q * evaluate(&law, &u).currents[0], 1e-6);
}

/// ∫F'(u)²du/∫F'(u)du by Simpson's rule, with F' = ln(1 + e^(u/2))/(1 + e^(−u/2)) as it stands.
fn klaassen_prins(high: f64, low: f64) -> f64 {
    const HALVES: usize = 20_000;
    let step = (high - low) / (2 * HALVES) as f64;
    let (mut squares, mut sum) = (0.0, 0.0);
    for k in 0..=2 * HALVES {
        let u = low + step * k as f64;
        let slope = (u / 2.0).exp().ln_1p() / (1.0 + (-u / 2.0).exp());
        let weight = if k == 0 || k == 2 * HALVES { 1.0 } else { 2.0 + 2.0 * (k % 2) as f64 };
        squares += weight * slope * slope;
        sum += weight * slope;
    }
    squares / sum
}

#[test]
fn exact_channel_between_its_limits() {
    let law = channel(&[], ["d", "g", "s", "s"]);
    let thermal_v = thermal_voltage_v(KELVIN);
    let scale = FOUR_KT * 2.0 * 1.3 * 1e-3 * thermal_v;
    // ℓ of the source runs from 0.05 to 30, with its difference to the drain's on both sides of 1.
    for over in [-6.0, -2.0, 0.6, 1.0, 1.1, 3.0, 8.0, 60.0] {
        for drop in [0.01, 0.5, 1.9, 2.1, 5.0, 20.0, 80.0] {
            let u = [0.5 + 1.3 * thermal_v * over, thermal_v * drop];
            let expected = scale * klaassen_prins(over, over - drop);
            // Simpson's rule itself is good to 1e-11 here.
            assert_close(noise(&law, &u)[0].white, expected, 1e-10);
            // Source and drain exchanged, the channel makes the same noise.
            let turned = [u[0] - u[1], -u[1]];
            let apart = channel(&[], ["d", "g", "s", "b"]);
            let back = noise(&apart, &[turned[0], turned[1], -u[1]])[0].white;
            assert_close(back, expected, 1e-10);
        }
    }
}

#[test]
fn exact_factor_and_flicker_of_a_channel() {
    let plain = channel(&[], ["d", "g", "s", "s"]);
    let set = [("channel_noise_factor", 2.5), ("flicker_density", 3e-6)];
    let noisy = channel(&set, ["d", "g", "s", "s"]);
    let u = [0.9, 1.2];
    let slope = evaluate(&plain, &u).current_slopes[0][0];
    let [without, with] = [&plain, &noisy].map(|law| noise(law, &u)[0]);
    assert_close(with.white, 2.5 * without.white, 1e-15);
    assert_close(with.flicker_at_1hz, (3e-6 * slope).powi(2), 1e-14);
    assert_eq!(without.flicker_at_1hz, 0.0);
    // Without a voltage along it, no gate moves its current.
    assert_eq!(noise(&noisy, &[0.9, 0.0])[0].flicker_at_1hz, 0.0);
}

#[test]
fn exact_amplifier_noise_is_its_density_through_the_slope_of_its_input_stage() {
    let set = [
        ("transconductance", 200e-6),
        ("stage_current", 20e-6),
        ("stage_resistance", 5e6),
        ("output_resistance", 1e3),
        ("drive_current", 2e-3),
        ("noise_density", 40e-9),
        ("noise_corner", 300.0),
    ];
    let net = laid(
        "error-amplifier",
        &parameters("error-amplifier", &[], &set),
        &["ref", "fb", "out", "vin", "gnd"],
    );
    assert!(net.noise.is_empty(), "what stands for stages makes no noise of its own");
    let found = noise(laws(&net)[0], &[0.0])[0];
    assert_eq!(found.cause, NoiseCause::Source);
    assert_close(found.white, (40e-9 * 200e-6_f64).powi(2), 1e-14);
    assert_close(found.flicker_at_1hz, 300.0 * found.white, 1e-15);
    assert!(noise(laws(&net)[0], &[2.0])[0].white < 1e-12 * found.white);
}

/// What `resistances` come to, in V²/Hz or, of a conductance, as what it makes open: 4kT·R.
fn thermal_ohms(net: &Net) -> Vec<f64> {
    let ohm = |source: &crate::device::NoiseSource| {
        assert_eq!(source.noise.cause, NoiseCause::Thermal);
        match source.place {
            NoisePlace::Between(_) => FOUR_KT / source.noise.white,
            NoisePlace::InBranch(_) => source.noise.white / FOUR_KT,
        }
    };
    net.noise.iter().map(|(_, source)| ohm(source)).collect()
}

/// Every resistance that a key gives makes 4kT·R, and nothing else does.
#[test]
fn exact_thermal_noise_of_every_resistance() {
    type Set = &'static [(&'static str, f64)];
    let table: [(&str, Set, &[&str], &[f64]); 9] = [
        ("resistor", &[("resistance", 470.0)], &["a", "b"], &[470.0]),
        (
            "capacitor",
            &[("capacitance", 1e-6), ("esr", 0.02), ("esl", 1e-9), ("leakage_resistance", 1e7)],
            &["a", "b"],
            &[0.02, 1e7],
        ),
        ("capacitor", &[("capacitance", 1e-6), ("esr", 0.5)], &["a", "b"], &[0.5]),
        ("capacitor", &[("capacitance", 1e-6), ("esl", 1e-9)], &["a", "b"], &[]),
        (
            "capacitor",
            &[("capacitance", 1e-6), ("esr", 0.25), ("esr_low", 1.0), ("esr_corner", 1e4)],
            &["a", "b"],
            &[0.25, 0.75],
        ),
        ("inductor", &[("inductance", 1e-6), ("series_resistance", 0.3)], &["a", "b"], &[0.3]),
        ("voltage-source", &[("voltage", 3.0), ("resistance", 0.15)], &["a", "b"], &[0.15]),
        (
            "diode",
            &[("saturation_current", 1e-12), ("series_resistance", 2.0)],
            &["a", "b"],
            &[2.0],
        ),
        ("current-source", &[("current", 1.0)], &["a", "b"], &[]),
    ];
    for (name, set, nodes, expected) in table {
        let found = thermal_ohms(&laid(name, &parameters(name, &[], set), nodes));
        assert_eq!(found.len(), expected.len(), "{name} {set:?}");
        found.iter().zip(expected).for_each(|(found, ohm)| assert_close(*found, *ohm, 1e-14));
    }
    let set = [
        ("saturation_current", 1e-15),
        ("forward_gain", 100.0),
        ("base_resistance", 50.0),
        ("emitter_resistance", 0.4),
        ("collector_resistance", 3.0),
    ];
    let p = parameters("bipolar", &[("polarity", "pnp")], &set);
    let mut found = thermal_ohms(&laid("bipolar", &p, &["c", "b", "e"]));
    found.sort_by(f64::total_cmp);
    [0.4, 3.0, 50.0].iter().zip(&found).for_each(|(ohm, found)| assert_close(*found, *ohm, 1e-14));
    assert_eq!(found.len(), 3);

    let mut p = parameters("mosfet", &[("channel", "n")], &CHANNEL);
    p.numbers.insert("series_resistance", 0.05);
    let mut table = kind("diode").expect("a kind").defaults(100.0);
    table.numbers.extend([("saturation_current", 1e-12), ("series_resistance", 0.2)]);
    p.tables.insert("body_diode", table);
    let found = thermal_ohms(&laid("mosfet", &p, &["d", "g", "s", "s"]));
    assert_eq!(found.len(), 2);
    assert_close(found[0], 0.05, 1e-14);
    // The body diode is as warm as its transistor, whatever its own table says.
    assert_close(found[1], 0.2, 1e-14);
}

#[test]
fn exact_a_resistance_is_as_warm_as_its_part_and_follows_its_coefficient() {
    let mut p = parameters(
        "resistor",
        &[],
        &[("resistance", 1e3), ("temperature_coefficient", 1e-3), ("characterised_at", 300.0)],
    );
    p.temperature_k = 400.0;
    let net = laid("resistor", &p, &["a", "b"]);
    assert_close(net.noise[0].1.noise.white, 4.0 * BOLTZMANN * 400.0 / 1100.0, 1e-14);
}

#[test]
fn exact_loads() {
    for (key, level, expected) in
        [("resistance", 28.0, FOUR_KT / 28.0), ("current", 0.1, 0.0), ("power", 0.1, 0.0)]
    {
        let net = laid("load", &parameters("load", &[], &[(key, level)]), &["a", "b"]);
        let found = noise(laws(&net)[0], &[2.8, level])[0];
        assert_eq!(found.flicker_at_1hz, 0.0);
        assert!((found.white - expected).abs() <= 1e-14 * expected, "{key}");
    }
}

#[test]
fn exact_given_densities() {
    let set = [("noise_density", 30e-9), ("noise_corner", 50.0), ("resistance", 2.0)];
    let net = laid("voltage-source", &parameters("voltage-source", &[], &set), &["a", "b"]);
    let [(0, heat), (0, given)] = net.noise[..] else { panic!("heat and a given density") };
    assert_eq!(heat.noise.cause, NoiseCause::Thermal);
    assert_eq!((given.place, given.noise.cause), (NoisePlace::InBranch(3), NoiseCause::Source));
    assert_close(given.noise.white, 9e-16, 1e-14);
    assert_close(given.noise.flicker_at_1hz, 4.5e-14, 1e-14);
    let net = laid("current-source", &parameters("current-source", &[], &set[..2]), &["a", "b"]);
    let [(0, given)] = net.noise[..] else { panic!("a given density") };
    assert!(matches!(given.place, NoisePlace::Between([a, b]) if (a.unknown, b.unknown) == (1, 2)));
}

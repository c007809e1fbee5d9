//! Damped ringing in closed form: v(t) = 1 − e^(−ζt)·(cos ωt + (ζ/ω)·sin ωt), ω = √(1 − ζ²), the
//! unit step response of a second-order system with ω0 = 1.

use super::*;

/// The step response and its rate.
fn response(zeta: f64, t: f64) -> (f64, f64) {
    let omega = (1.0 - zeta * zeta).sqrt();
    let decay = (-zeta * t).exp();
    let value = 1.0 - decay * ((omega * t).cos() + zeta / omega * (omega * t).sin());
    (value, decay * (omega * t).sin() / omega)
}

/// Rests at 1 for 10 s, falls to 0 ringing, rises back to 1 ringing.
fn record(zeta: f64) -> (Waveform, f64) {
    // Long enough for e^(−ζ·dwell) to be below rounding, fine enough (h⁴/384 ≈ 2e-12) for the
    // cubic between samples to be exact to the tolerances below.
    let (dwell_s, step_s) = (36.0 / zeta, 0.005);
    let (mut times, mut values, mut rates) = (vec![0.0], vec![1.0], vec![0.0]);
    for (start_s, from, sign) in [(10.0, 1.0, -1.0), (10.0 + dwell_s, 0.0, 1.0)] {
        let count = (dwell_s / step_s).ceil();
        for k in 0..=count as usize {
            let t = dwell_s * k as f64 / count;
            let (v, rate) = response(zeta, t);
            times.push(start_s + t);
            values.push(from + sign * v);
            rates.push(sign * rate);
        }
    }
    let output = Signal::from_rates("output", "V", &times, &values, &rates);
    (Waveform { time_s: times, signals: vec![output] }, dwell_s)
}

/// ζ, overshoot, ω0·t of the last crossing of the 2 % band.
///
/// Overshoot is exp(−πζ/√(1−ζ²)); the settling times are the exact last crossings, evaluated with
/// 40 digits from the response above (not the envelope).
const COLUMNS: [(f64, f64, f64); 10] = [
    (0.05, 0.854_467_893_006_756, 76.009_419_478_3),
    (0.1, 0.729_247_614_287_671, 38.383_280_486_9),
    (0.2, 0.526_620_599_330_303, 19.601_903_730_4),
    (0.3, 0.372_326_104_926_586, 11.230_081_467_8),
    (0.4, 0.253_826_721_980_109, 8.409_319_627_66),
    (0.5, 0.163_033_534_821_580, 8.076_348_973_93),
    (0.6, 0.094_780_224_842_154_9, 5.942_987_878_64),
    (0.7, 0.045_987_910_260_267_7, 5.978_792_367_4),
    (0.8, 0.015_164_619_864_546_6, 3.755_841_305_31),
    (0.9, 0.001_523_755_820_519_41, 4.699_596_989_09),
];

#[test]
fn exact_second_order_overshoot_ring_back_and_settling() {
    for (zeta, overshoot, settling) in COLUMNS {
        let (waveform, dwell_s) = record(zeta);
        let edges = [(10.0, 1.0), (10.0 + dwell_s, -1.0)];
        let scene = steps(&waveform, TestKind::LoadStep, &edges, 10.0 + 2.0 * dwell_s);
        let mut settled = at_most("overshoot", 1.0);
        settled.about = Some(About::Settled);
        let requirements = [
            settled,
            at_most("overshoot", 2.0),
            with_band("recovery", 100.0, 0.02),
            with_band("release_recovery", 100.0, 0.02),
        ];
        let rows = measure(&scene, &requirements);
        close(value(&rows, "droop"), 1.0 + overshoot, 1e-9);
        // The second extreme of the ringing is the square of the first.
        close(value(&rows, "ring_back"), overshoot * overshoot, 1e-9);
        let both: Vec<f64> =
            rows.iter().filter(|m| m.name == "overshoot").filter_map(|m| m.value).collect();
        close(both[0], overshoot, 1e-9);
        close(both[1], 1.0 + overshoot, 1e-9);
        close(value(&rows, "recovery"), settling, 2e-9);
        close(value(&rows, "release_recovery"), settling, 2e-9);
        let peak = std::f64::consts::PI / (1.0 - zeta * zeta).sqrt();
        // An extreme's time is known to the square root of what its height is known to.
        close(row(&rows, "droop").at_s.unwrap() - 10.0, peak, 1e-6);
    }
}

#[test]
fn exact_parallel_resonator_droop() {
    // A current step into R, L, C in parallel: v = −ΔI/(Cω)·e^(−αt)·sin ωt with ΔI = 0.1 A,
    // R = 5 Ω, L = 1 µH, C = 1 µF, from rest: 0.0862600369650848 V at 1.478037662374775 µs
    // (closed form ΔI√(L/C)·exp(−(ζ/√(1−ζ²))·acos ζ), 40-digit evaluation).
    let (alpha, c): (f64, f64) = (1e5, 1e-6);
    let omega = (1e12 - alpha * alpha).sqrt();
    let step_s = 5e-9;
    let times: Vec<f64> = (0..=60_000).map(|k| f64::from(k) * step_s).collect();
    let response = |t: f64| {
        let scale = -0.1 / (c * omega) * (-alpha * t).exp();
        let (sin, cos) = (omega * t).sin_cos();
        (scale * sin, scale * (omega * cos - alpha * sin))
    };
    let values: Vec<f64> = times.iter().map(|t| 1.0 + response(*t).0).collect();
    let rates: Vec<f64> = times.iter().map(|t| response(*t).1).collect();
    let mut time_s = vec![-1e-6];
    time_s.extend(&times);
    let mut all_values = vec![1.0];
    all_values.extend(&values);
    let mut output = Signal::from_rates("output", "V", &times, &values, &rates);
    output.values = all_values;
    output.bends.insert(0, [0.0, 0.0]);
    let waveform = Waveform { time_s, signals: vec![output] };
    let mut scene = steps(&waveform, TestKind::LoadStep, &[(0.0, 0.1)], 300e-6);
    scene.dwells[0].window.from_s = -1e-6;
    let rows = measure(&scene, &[]);
    close(value(&rows, "droop"), 0.086_260_036_965_084_8, 1e-11);
    close(row(&rows, "droop").at_s.unwrap(), 1.478_037_662_374_775e-6, 1e-12);
}

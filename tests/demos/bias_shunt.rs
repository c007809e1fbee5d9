//! The bias rail: verdicts that its file announces, and its figures against an independent
//! integration and solution (how: see `independent` and `steady`; here with tolerances of 1e-8 V and
//! 1e-9 V, between which voltages move by less than 3e-7 V, times by less than 1e-10 s). Our own
//! work, not published.

use super::announced::check;
use super::independent::{ACCURACY_V, Row, hold_found};
use super::steady::{self, share};
use super::{SHUNT, outcomes};
use railstep::analysis::Method;
use railstep::measure::Verdict;

#[test]
fn the_bias_rail_has_the_verdicts_its_file_announces() {
    let island = &["phase_margin", "loop_distance", "closed_loop_damping"];
    check(
        SHUNT,
        &[
            ("beams free", Verdict::Pass, &[]),
            ("least current in the shunt", Verdict::Pass, &[]),
            ("most heat in the resistor", Verdict::Marginal, &[]),
            ("one receiver too many", Verdict::Fail, &["output_level"]),
            ("beams broken", Verdict::Pass, &[]),
            ("beams broken, a good ceramic", Verdict::Fail, &["recovery"]),
            (
                "beams broken, no capacitor",
                Verdict::Fail,
                &["droop", "overshoot", "transient_window"],
            ),
            ("line switched on", Verdict::Pass, &[]),
            ("stable, tantalum", Verdict::Pass, &[]),
            ("stable, none", Verdict::Pass, &[]),
            ("stable, 1 nF", Verdict::Fail, island),
            ("stable, 33 nF", Verdict::Fail, island),
            ("stable, 1 µF", Verdict::Fail, island),
            ("stable, 10 µF ceramic", Verdict::Fail, &["phase_margin"]),
            ("stable, 47 µF ceramic", Verdict::Pass, &[]),
            ("stable, 3.3 nF and a long track", Verdict::Fail, island),
            ("impedance", Verdict::Pass, &[]),
            ("ripple on the line's 15 V", Verdict::Pass, &[]),
            ("static load", Verdict::Pass, &[]),
            ("static line", Verdict::Pass, &[]),
            ("quiet enough", Verdict::Pass, &[]),
            ("usable source", Verdict::Marginal, &[]),
        ],
    );
}

const LEVELS_V: &[Row] = &[
    ("beams free", "output_level", 7.517_423_892),
    ("least current in the shunt", "output_level", 7.500_928_972),
    ("one receiver too many", "output_level", 6.496_898_144),
    ("beams broken", "loaded_level", 7.505_460_54),
    ("beams broken", "droop", 0.017_945_177),
    ("beams broken", "overshoot", 0.017_945_177),
    ("beams broken, a good ceramic", "droop", 0.088_024_955),
    ("beams broken, a good ceramic", "overshoot", 0.065_443_124),
    ("beams broken, no capacitor", "droop", 3.233_126_74),
    ("beams broken, no capacitor", "overshoot", 2.727_688_10),
    ("line switched on", "start_overshoot", 0.012_157_034),
];

/// s; the band of 7.5 mV is left at 6 mV/µs (12 mA in 1 Ω over 2 µs) and entered, where it rings, at
/// 1 mV/µs or more, which 10 µV move by 10 ns.
const TIMES_S: &[Row] = &[
    ("beams broken", "recovery", 0.728_632e-6),
    ("beams broken, a good ceramic", "recovery", 110.745_44e-6),
    ("beams broken, no capacitor", "recovery", 13.877_784e-6),
];

/// A and W at rest, in a circuit of resistors: 10 µV at the output are 30 nA and 1 µW.
const STEADY: &[Row] = &[
    ("beams free", "ground_current", 0.020_674_473_05),
    ("least current in the shunt", "ground_current", 0.004_179_003_115),
    ("most heat in the resistor", "ground_current", 0.025_206_195_56),
    ("most heat in the resistor", "pass_power_mean", 0.244_258_435_4),
    ("line switched on", "inrush_peak", 0.039_570_056_77),
];

/// s; the output passes 95 % at 2 mV/µs. The first formula agrees to 1 ns, the second, of a lower order,
/// to 10 ns.
const STARTS_S: &[Row] = &[("line switched on", "start_time", 2.873_540_6e-3)];

#[test]
fn the_bias_rail_agrees_with_an_independent_integration_by_both_formulas() {
    for (method, start_s) in [(Method::Rodas4p, 1e-9), (Method::TrBdf2, 10e-9)] {
        let all = outcomes(SHUNT, method, true);
        hold_found(all, LEVELS_V, ACCURACY_V);
        hold_found(all, TIMES_S, 10e-9);
        hold_found(all, STEADY, 1e-6);
        hold_found(all, STARTS_S, start_s);
    }
}

const LINEAR: &[steady::Row] = &[
    ("stable, tantalum", "phase_margin", "", 63.203_127_72),
    ("stable, tantalum", "loop_distance", "", 0.913_710_528_6),
    ("stable, tantalum", "closed_loop_damping", "", 0.614_554_580_5),
    ("stable, none", "phase_margin", "", 51.319_808_45),
    ("stable, none", "loop_distance", "", 0.592_944_135_9),
    ("stable, none", "closed_loop_damping", "", 0.478_995_235_9),
    ("stable, 1 nF", "phase_margin", "", 11.678_546_41),
    ("stable, 1 nF", "closed_loop_damping", "", 0.096_048_700_18),
    ("stable, 33 nF", "phase_margin", "", 3.847_637_033),
    ("stable, 33 nF", "loop_distance", "", 0.066_645_530_64),
    ("stable, 33 nF", "closed_loop_damping", "", 0.033_409_377_4),
    ("stable, 1 µF", "phase_margin", "", 11.487_096_06),
    ("stable, 1 µF", "closed_loop_damping", "", 0.100_269_726_1),
    ("stable, 10 µF ceramic", "phase_margin", "", 34.300_698_53),
    ("stable, 10 µF ceramic", "closed_loop_damping", "", 0.308_966_819_5),
    ("stable, 47 µF ceramic", "phase_margin", "", 63.648_577_12),
    ("stable, 3.3 nF and a long track", "phase_margin", "", -1.695_697_593),
    ("stable, 3.3 nF and a long track", "closed_loop_damping", "", -0.013_754_263_23),
    ("impedance", "output_impedance_peak", "", 1.820_830_262_99),
    ("impedance", "output_impedance", "at 1 kHz", 1.015_234_045_05),
    ("ripple on the line's 15 V", "ripple_rejection", "at 100 Hz", 50.395_248_819),
    ("quiet enough", "noise_density", "at 1 kHz", 207.919_476_95e-9),
];

const DIFFERENCES: &[steady::Row] = &[
    ("static load", "load_regulation", "", 0.011_963_348_65),
    ("static load", "load_regulation_slope", "", 0.996_945_720_8),
    ("static line", "line_regulation", "", 0.009_063_142_917),
    ("static line", "line_regulation_slope", "", 0.402_806_351_9e-3),
];

const LEASTS: &[steady::Row] =
    &[("ripple on the line's 15 V", "ripple_rejection", "", 45.164_889_54)];

const SUMS: &[steady::Row] = &[("quiet enough", "noise", "", 25.123_933_39e-6)];

const USABLE: &[steady::Row] = &[("usable source", "usable_input", "", 12.884_940_60)];

#[test]
fn the_bias_rail_at_rest_agrees_with_an_independent_solution() {
    let all = outcomes(SHUNT, Method::Rodas4p, true);
    steady::hold_found(all, LINEAR, share(steady::LINEAR_SHARE));
    steady::hold_found(all, DIFFERENCES, share(steady::DIFFERENCE_SHARE));
    steady::hold_found(all, LEASTS, share(steady::LEAST_SHARE));
    steady::hold_found(all, SUMS, share(steady::SUM_SHARE));
    steady::hold_found(all, USABLE, |_| steady::USABLE_V);
}

/// The shunt is R in series with L, R = 1/(3 S · H), L = R/(2π · 6 kHz): with C and its ESR a tuned
/// circuit, of damping (R + ESR)/2 · √(C/L). What R_S, the second pole and the pin's capacitance add
/// at 10 kHz and below is less than 1 %.
#[test]
fn exact_the_damping_is_that_of_a_tuned_circuit() {
    let all = outcomes(SHUNT, Method::Rodas4p, true);
    let (ohm, henry) = (1.0, 1.0 / (std::f64::consts::TAU * 6e3));
    for (test, farad, esr) in [
        ("stable, tantalum", 10e-6, 1.0),
        ("stable, 10 µF ceramic", 10e-6, 5e-3),
        ("stable, 47 µF ceramic", 47e-6, 5e-3),
    ] {
        let by_hand = f64::midpoint(ohm, esr) * f64::sqrt(farad / henry);
        steady::hold_found(all, &[(test, "closed_loop_damping", "", by_hand)], share(0.01));
    }
}

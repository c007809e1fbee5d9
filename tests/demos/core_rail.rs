//! The core rail: verdicts that its file announces, and its figures against an independent
//! integration and solution (how: see `independent` and `steady`; here with tolerances of 1e-8 V and
//! 3e-9 V, between which voltages move by less than 2e-8 V, times by less than 1e-10 s, the power by
//! less than 3e-7 W; of the trains, run until one period is like the one before, with 1e-7 V and
//! 1e-8 V, 2e-7 V between them). Our own work, not published.

use super::announced::check;
use super::independent::{ACCURACY_V, Row, hold_found};
use super::steady::{self, share};
use super::{CORE, named, outcomes, regress};
use railstep::analysis::Method;
use railstep::measure::Verdict;

#[test]
fn the_core_rail_has_the_verdicts_its_file_announces() {
    let low = &["droop", "overshoot", "recovery", "release_recovery"];
    check(
        CORE,
        &[
            ("waiting", Verdict::Pass, &[]),
            ("bean", Verdict::Pass, &[]),
            ("line after line", Verdict::Pass, &[]),
            ("line after line, where the impedance peaks", Verdict::Pass, &[]),
            ("bean, low input", Verdict::Fail, low),
            ("bean, low input, Q1 twice as wide", Verdict::Pass, &[]),
            ("bean, low input, gate from 2.5 V", Verdict::Fail, &["droop", "overshoot"]),
            ("switched on, gate driven first", Verdict::Fail, &["start_overshoot"]),
            ("switched on, gate driven last", Verdict::Pass, &[]),
            ("switched off, gate driven", Verdict::Pass, &[]),
            ("input runs down", Verdict::Pass, &[]),
            ("static load", Verdict::Pass, &[]),
            ("static line", Verdict::Pass, &[]),
            ("stable", Verdict::Pass, &[]),
            ("stable, twice the bulk", Verdict::Fail, &["phase_margin"]),
            ("impedance", Verdict::Marginal, &[]),
            ("ripple of the switcher", Verdict::Pass, &[]),
            ("ripple of the switcher, low input", Verdict::Fail, &["ripple_rejection"]),
            ("usable input", Verdict::Fail, &["usable_input"]),
        ],
    );
}

#[test]
fn the_gate_driven_from_too_little_is_told_to_wind_up() {
    let all = outcomes(CORE, Method::Rodas4p, true);
    let told = named(all, "bean, low input, gate from 2.5 V").explanation.as_ref().unwrap();
    let limit = told.limited_by.as_deref().unwrap();
    assert!(limit.contains("dropout") && limit.contains("wound up at its upper swing"), "{limit}");
}

const LEVELS_V: &[Row] = &[
    ("waiting", "output_level", 1.048_575_690),
    ("bean", "loaded_level", 1.048_167_494),
    ("bean", "droop", 0.016_531_086),
    ("bean", "overshoot", 0.017_565_701),
    ("bean", "input_minimum", 1.188_783_927),
    ("line after line", "train_droop", 0.016_531_089),
    ("line after line", "train_overshoot", 0.017_092_188),
    ("line after line", "periodic_peak_to_peak", 0.033_603_315),
    ("line after line, where the impedance peaks", "train_droop", 0.016_531_089),
    ("line after line, where the impedance peaks", "train_overshoot", 0.011_658_445),
    ("line after line, where the impedance peaks", "periodic_peak_to_peak", 0.024_094_859),
    ("bean, low input", "loaded_level", 1.047_768_658),
    ("bean, low input", "droop", 0.023_996_136),
    ("bean, low input", "overshoot", 0.030_965_144),
    ("bean, low input, Q1 twice as wide", "droop", 0.015_022_529),
    ("bean, low input, Q1 twice as wide", "overshoot", 0.016_022_966),
    ("bean, low input, gate from 2.5 V", "loaded_level", 1.023_953_932),
    ("bean, low input, gate from 2.5 V", "droop", 0.025_913_772),
    ("bean, low input, gate from 2.5 V", "overshoot", 0.045_559_827),
    ("switched on, gate driven first", "start_overshoot", 0.023_812_074),
    ("switched on, gate driven last", "start_overshoot", 0.001_732_340),
];

/// s; the band is entered at 0.65 mV/µs (5.25 mV over the lag's 8 µs), which 10 µV move by 15 ns.
const TIMES_S: &[Row] = &[
    ("bean", "recovery", 11.631_243e-6),
    ("bean", "release_recovery", 11.371_116e-6),
    ("bean, low input", "recovery", 19.674_302e-6),
    ("bean, low input", "release_recovery", 16.601_324e-6),
    ("bean, low input, Q1 twice as wide", "recovery", 10.009_578e-6),
    ("bean, low input, Q1 twice as wide", "release_recovery", 10.027_177e-6),
];

/// W; 10 µV at the output are 10 µV · 22.9 at the gate, which at 5.5 S and 0.2 V are 0.25 mW.
const POWERS_W: &[Row] = &[
    ("bean", "pass_power_peak", 0.300_522_09),
    ("bean, low input", "pass_power_peak", 0.197_958_34),
    ("bean, low input, Q1 twice as wide", "pass_power_peak", 0.185_214_75),
];

#[test]
fn the_core_rail_agrees_with_an_independent_integration_by_both_formulas() {
    for method in [Method::Rodas4p, Method::TrBdf2] {
        let all = outcomes(CORE, method, true);
        hold_found(all, LEVELS_V, ACCURACY_V);
        hold_found(all, TIMES_S, 15e-9);
        hold_found(all, POWERS_W, 0.25e-3);
    }
}

const LINEAR: &[steady::Row] = &[
    ("stable", "phase_margin", "", 58.134_129_84),
    ("stable", "gain_margin", "", 23.299_603_62),
    ("stable", "crossover", "", 29_694.395_32),
    ("stable", "loop_distance", "", 0.850_292_928_6),
    ("stable", "low_frequency_gain", "", 34.502_339_92),
    ("stable, twice the bulk", "phase_margin", "", 48.976_029_12),
    ("stable, twice the bulk", "gain_margin", "", 23.888_164_38),
    ("stable, twice the bulk", "crossover", "", 20_786.307_17),
    ("stable, twice the bulk", "loop_distance", "", 0.819_547_106_2),
    ("impedance", "output_impedance_peak", "", 0.018_168_123_68),
    ("impedance", "impedance_mask", "", -0.321_318_086_1),
    ("ripple of the switcher", "ripple_rejection", "at 1.1 MHz", 33.351_944_06),
    ("ripple of the switcher, low input", "ripple_rejection", "at 1.1 MHz", 28.013_012_53),
];

const DIFFERENCES: &[steady::Row] = &[
    ("static load", "load_regulation", "", 0.001_308_411_11),
    ("static load", "load_regulation_slope", "", 0.735_062_421_1e-3),
    ("static line", "line_regulation", "", 0.783_600_504e-3),
    ("static line", "line_regulation_slope", "", 0.006_219_051_628),
];

const LEASTS: &[steady::Row] = &[
    ("ripple of the switcher", "ripple_rejection", "", 17.497_322_78),
    ("ripple of the switcher, low input", "ripple_rejection", "", 7.854_504_695),
];

const DROPOUTS: &[steady::Row] = &[
    ("input runs down", "dropout", "definition 2 % below", 0.079_605_679_76),
    ("input runs down", "dropout", "definition 100 mV below", 0.075_917_016_19),
    ("input runs down", "dropout", "definition fully on", 0.074_940_316_54),
];

const USABLE: &[steady::Row] = &[("usable input", "usable_input", "", 1.177_184_796)];

#[test]
fn the_core_rail_at_rest_agrees_with_an_independent_solution() {
    let all = outcomes(CORE, Method::Rodas4p, true);
    steady::hold_found(all, LINEAR, share(steady::LINEAR_SHARE));
    steady::hold_found(all, DIFFERENCES, share(steady::DIFFERENCE_SHARE));
    steady::hold_found(all, LEASTS, share(steady::LEAST_SHARE));
    steady::hold_found(all, DROPOUTS, |_| steady::DROPOUT_V);
    steady::hold_found(all, USABLE, |_| steady::USABLE_V);
}

/// Step attempts of 2026-11-26.
#[test]
fn regress_attempts_of_the_core_rail() {
    regress::hold(
        CORE,
        &[
            ("bean", 272),
            ("line after line", 50_638),
            ("line after line, where the impedance peaks", 3558),
            ("bean, low input", 250),
            ("bean, low input, Q1 twice as wide", 257),
            ("bean, low input, gate from 2.5 V", 263),
            ("switched on, gate driven first", 179),
            ("switched on, gate driven last", 192),
            ("switched off, gate driven", 196),
        ],
    );
}

//! The isolated supply: verdicts that its file announces, and its figures against an independent
//! integration and solution (how: see `independent` and `steady`; here with tolerances of 1e-8 V and
//! 1e-9 V, between which voltages move by less than 5e-8 V, times by less than 1e-11 s). Our own
//! work, not published.

use super::announced::check;
use super::independent::{ACCURACY_V, Row, hold_found};
use super::steady::{self, share};
use super::{ISOLATED, outcomes};
use railstep::analysis::Method;
use railstep::measure::Verdict;

#[test]
fn the_isolated_supply_has_the_verdicts_its_file_announces() {
    let narrow = &["phase_margin", "loop_distance"];
    check(
        ISOLATED,
        &[
            ("curtain moving", Verdict::Pass, &[]),
            ("curtain at rest, weak coupler", Verdict::Pass, &[]),
            ("curtain at rest, aged coupler", Verdict::Fail, &["output_level"]),
            ("curtain moving, no bleed", Verdict::Fail, &["output_level"]),
            ("curtain starts", Verdict::Pass, &[]),
            ("curtain starts, cold", Verdict::Pass, &[]),
            ("primary switched on", Verdict::Pass, &[]),
            ("primary switched on, curtain moving", Verdict::Pass, &[]),
            ("stable", Verdict::Pass, &[]),
            ("stable, weak coupler", Verdict::Pass, &[]),
            ("stable, strong coupler", Verdict::Pass, &[]),
            ("stable, polymer instead", Verdict::Fail, narrow),
            ("stable, cold", Verdict::Fail, narrow),
            ("impedance", Verdict::Pass, &[]),
            ("ripple on the primary's 5 V", Verdict::Marginal, &[]),
            ("static load", Verdict::Pass, &[]),
        ],
    );
}

const LEVELS_V: &[Row] = &[
    ("curtain moving", "output_level", 11.998_037_34),
    ("curtain at rest, weak coupler", "output_level", 12.005_404_12),
    ("curtain at rest, aged coupler", "output_level", 15.169_656_25),
    ("curtain moving, no bleed", "output_level", 4.228_579),
    ("curtain starts", "loaded_level", 11.998_037_3),
    ("curtain starts", "droop", 0.024_677_143),
    ("curtain starts", "overshoot", 0.025_371_474),
    ("curtain starts, cold", "droop", 0.165_834_496),
    ("curtain starts, cold", "overshoot", 0.142_026_829),
    ("primary switched on", "start_overshoot", 0.024_822_085),
    ("primary switched on, curtain moving", "start_overshoot", 0.006_363_669),
];

/// s; the band of 12 mV is entered at 1 mV/µs and more, which 10 µV move by 10 ns.
const TIMES_S: &[Row] = &[
    ("curtain starts", "recovery", 6.742_273e-6),
    ("curtain starts, cold", "recovery", 8.628_047e-6),
];

/// s; the output passes 95 % at 2.2 mV/µs and 0.53 mV/µs, which 10 µV move by 5 ns and 19 ns.
const STARTS_S: &[Row] = &[
    ("primary switched on", "start_time", 5.676_148_0e-3),
    ("primary switched on, curtain moving", "start_time", 22.654_381_4e-3),
];

#[test]
fn the_isolated_supply_agrees_with_an_independent_integration_by_both_formulas() {
    for method in [Method::Rodas4p, Method::TrBdf2] {
        let all = outcomes(ISOLATED, method, true);
        hold_found(all, LEVELS_V, ACCURACY_V);
        hold_found(all, TIMES_S, 10e-9);
        hold_found(all, STARTS_S, 19e-9);
    }
}

const LINEAR: &[steady::Row] = &[
    ("stable", "phase_margin", "", 60.028_280_24),
    ("stable", "gain_margin", "", 36.812_181_74),
    ("stable", "loop_distance", "", 0.785_384_993_1),
    ("stable, weak coupler", "phase_margin", "", 61.670_757_21),
    ("stable, weak coupler", "gain_margin", "", 38.955_598_37),
    ("stable, weak coupler", "loop_distance", "", 0.811_364_943_4),
    ("stable, strong coupler", "phase_margin", "", 54.645_921_52),
    ("stable, strong coupler", "gain_margin", "", 32.448_206_57),
    ("stable, strong coupler", "loop_distance", "", 0.720_659_081_8),
    ("stable, polymer instead", "phase_margin", "", 20.664_671_54),
    ("stable, polymer instead", "loop_distance", "", 0.340_690_288),
    ("stable, cold", "phase_margin", "", 23.622_639_05),
    ("stable, cold", "gain_margin", "", 15.495_988_08),
    ("stable, cold", "loop_distance", "", 0.368_507_321_3),
    ("impedance", "output_impedance_peak", "", 0.039_063_017_41),
    ("impedance", "output_impedance", "at 100 Hz", 0.012_259_418_15),
    ("ripple on the primary's 5 V", "ripple_rejection", "at 100 Hz", 50.271_802_66),
];

const DIFFERENCES: &[steady::Row] = &[("static load", "load_regulation", "", 0.005_689_479_869)];

const LEASTS: &[steady::Row] =
    &[("ripple on the primary's 5 V", "ripple_rejection", "", 40.205_988_61)];

#[test]
fn the_isolated_supply_at_rest_agrees_with_an_independent_solution() {
    let all = outcomes(ISOLATED, Method::Rodas4p, true);
    steady::hold_found(all, LINEAR, share(steady::LINEAR_SHARE));
    steady::hold_found(all, DIFFERENCES, share(steady::DIFFERENCE_SHARE));
    steady::hold_found(all, LEASTS, share(steady::LEAST_SHARE));
}

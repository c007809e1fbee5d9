//! Figures of the demos' tests at rest and over frequency against an independent solution: node
//! equations written by hand for each circuit, slopes to full precision, solved as full matrices;
//! extremes searched to 1e-10 in frequency; noise added up on 1000 frequencies a decade. Our own
//! work, not published.

use super::{BUOY, SENSOR, outcomes};
use railstep::analysis::Method;
use railstep::measure::Measurement;
use railstep::trial::Outcome;

/// Test, measurement, the option and setting that single it out, value in SI units.
pub(crate) type Row = (&'static str, &'static str, &'static str, f64);

/// Linear equations around the same rest. A rest good to some nV is slopes good to 1e-7.
pub(crate) const LINEAR_SHARE: f64 = 1e-6;
const LINEAR: [&[Row]; 2] = [
    &[
        ("stable awake", "phase_margin", "", 54.294_860_17),
        ("stable awake", "crossover", "", 32_552.985_73),
        ("stable awake", "loop_distance", "", 0.816_071_497_2),
        ("stable awake", "low_frequency_gain", "", 87.848_074_78),
        ("stable awake", "closed_loop_damping", "", 0.536_906_129_5),
        ("stable asleep", "phase_margin", "", 22.691_411_35),
        ("stable asleep", "crossover", "", 6_230.929_057),
        ("stable asleep", "loop_distance", "", 0.389_162_509_5),
        ("stable asleep", "closed_loop_damping", "", 0.200_848_020_3),
        ("stable with the radio's own capacitor", "phase_margin", "", 30.870_336_75),
        ("stable with the radio's own capacitor", "crossover", "", 10_707.512_35),
        ("stable with the radio's own capacitor", "loop_distance", "", 0.529_779_564_4),
        ("stable with the radio's own capacitor", "closed_loop_damping", "", 0.272_397_669_5),
        ("stable, capacitance lost", "phase_margin", "", 58.971_293_21),
        ("stable, capacitance lost", "loop_distance", "", 0.732_957_224_6),
        ("stable, capacitance lost", "closed_loop_damping", "", 0.542_528_400_1),
        ("impedance transmitting", "output_impedance_peak", "", 0.083_066_994_07),
        ("impedance transmitting", "output_impedance", "at 1 kHz", 0.004_818_225_024),
        ("impedance listening", "output_impedance_peak", "", 1.037_793_808),
        ("impedance listening", "output_impedance", "at 1 kHz", 0.058_980_859_25),
        ("charger's ripple", "ripple_rejection", "at 1 kHz", 52.583_267_26),
        ("charger's ripple", "ripple_rejection", "at 100 kHz", 29.428_234_75),
        ("charger's ripple, empty cell", "ripple_rejection", "at 1 kHz", 29.482_872_26),
        ("charger's ripple, empty cell", "ripple_rejection", "at 100 kHz", 10.826_857_54),
        ("quiet enough", "noise_density", "at 10 kHz", 200.830_052_7e-9),
    ],
    &[
        ("stable, new", "phase_margin", "", 68.678_115_83),
        ("stable, new", "gain_margin", "", 27.332_950_22),
        ("stable, new", "crossover", "", 16_626.997_17),
        ("stable, new", "loop_distance", "", 0.812_182_652_9),
        ("stable, new", "low_frequency_gain", "", 73.141_899_37),
        ("stable, new", "closed_loop_damping", "", 0.907_670_513_0),
        ("stable, least ESR", "phase_margin", "", 58.895_731_60),
        ("stable, least ESR", "gain_margin", "", 36.032_212_49),
        ("stable, least ESR", "loop_distance", "", 0.878_941_176_4),
        ("stable, worn out", "phase_margin", "", 55.855_889_29),
        ("stable, worn out", "gain_margin", "", 18.175_212_66),
        ("stable, worn out", "loop_distance", "", 0.675_614_327_8),
        ("stable, cold", "phase_margin", "", 38.812_068_99),
        ("stable, cold", "gain_margin", "", 9.549_199_603),
        ("stable, cold", "loop_distance", "", 0.479_873_848_6),
        ("stable, cold and worn out", "phase_margin", "", 6.832_798_819),
        ("stable, cold and worn out", "gain_margin", "", 2.019_916_371),
        ("stable, cold and worn out", "loop_distance", "", 0.103_176_431_3),
        ("stable, cold and worn out", "closed_loop_damping", "", 0.050_592_210_61),
        ("stable, cold, tantalum", "phase_margin", "", 70.452_493_76),
        ("stable, cold, tantalum", "gain_margin", "", 39.009_621_61),
        ("stable, cold, tantalum", "loop_distance", "", 0.954_235_916_5),
        ("stable, ceramic instead", "phase_margin", "", 5.408_414_701),
        ("stable, ceramic instead", "gain_margin", "", 12.160_447_63),
        ("stable, ceramic instead", "loop_distance", "", 0.093_626_139_18),
        ("stable, ceramic instead", "closed_loop_damping", "", 0.047_096_047_34),
        ("stable, with the sensors' own capacitors", "phase_margin", "", 58.489_528_38),
        ("stable, with the sensors' own capacitors", "gain_margin", "", 18.505_173_24),
        ("stable, with the sensors' own capacitors", "loop_distance", "", 0.711_677_038_1),
        ("stable, with a good ceramic beside it", "phase_margin", "", 35.960_882_55),
        ("stable, with a good ceramic beside it", "gain_margin", "", 17.777_656_13),
        ("stable, with a good ceramic beside it", "loop_distance", "", 0.519_502_557_2),
        ("impedance", "output_impedance_peak", "", 1.135_690_267),
        ("impedance, cold", "output_impedance_peak", "", 13.614_436_32),
        ("ripple on the battery", "ripple_rejection", "at 1 kHz", 80.910_258_96),
        ("ripple on the battery", "ripple_rejection", "at 10 kHz", 72.710_072_70),
        ("quiet enough", "noise_density", "at 1 kHz", 447.836_837_7e-9),
    ],
];

/// Differences of two levels, each good to some nV, of 1 mV and more.
pub(crate) const DIFFERENCE_SHARE: f64 = 1e-5;
const DIFFERENCES: [&[Row]; 2] = [
    &[
        ("static load, end of discharge", "load_regulation", "", 0.002_636_021_135),
        ("static load, end of discharge", "load_regulation_share", "", 0.000_941_436_119_7),
        ("static load, end of discharge", "load_regulation_slope", "", 0.014_726_375_06),
        ("static line", "line_regulation", "", 0.002_645_964_302),
        ("static line", "line_regulation_share", "", 0.000_944_987_250_7),
        ("static line", "line_regulation_slope", "", 0.000_787_489_376_5),
    ],
    &[
        ("static load", "load_regulation", "", 0.008_617_414_771),
        ("static load", "load_regulation_share", "", 0.001_723_482_954),
        ("static load", "load_regulation_slope", "", 0.074_934_041_49),
        ("static line", "line_regulation", "", 0.001_346_900_719),
        ("static line", "line_regulation_slope", "", 2.865_608_978e-5),
    ],
];

/// Least values between the points of a grid, one of them where curve and straight mask run
/// alongside.
pub(crate) const LEAST_SHARE: f64 = 1e-4;
const LEASTS: [&[Row]; 2] = [
    &[("impedance transmitting", "impedance_mask", "", 0.169_330_059_3)],
    &[
        ("impedance", "impedance_mask", "", 0.488_312_553_5),
        ("impedance, cold", "impedance_mask", "", -4.445_774_529),
        ("ripple on the battery", "ripple_rejection", "", 66.565_334_02),
    ],
];

/// A sum over a grid of 25 frequencies a decade, of a density that falls and rises slowly.
pub(crate) const SUM_SHARE: f64 = 1e-3;
const SUMS: [&[Row]; 2] = [
    &[("quiet enough", "noise", "", 62.339_746_43e-6)],
    &[("quiet enough", "noise", "", 88.675_307_71e-6)],
];

/// V: a place on a curve that falls as the input does, at the accuracy every level is asked for.
pub(crate) const DROPOUT_V: f64 = 10e-6;
const DROPOUTS: [&[Row]; 2] = [
    &[
        ("cell runs down", "dropout", "definition 2 % below", 0.102_234_840_3),
        ("cell runs down", "dropout", "definition 100 mV below", 0.103_354_022_8),
        ("cell runs down", "dropout", "definition fully on", 0.108_199_582_4),
    ],
    &[
        ("battery runs down", "dropout", "definition 2 % below", 0.203_443_742_7),
        ("battery runs down", "dropout", "definition 100 mV below", 0.203_443_733_8),
        ("battery runs down", "dropout", "definition fully on", 0.203_433_314_7),
    ],
];

/// V. The input pin can be held at what it is with the first load or with the last, or at the
/// source's level: between these readings lie 0.9 µV.
const HELD_V: f64 = 1e-6;
const HELD: [&[Row]; 2] = [&[("static load", "load_regulation", "", 0.000_842_562_145)], &[]];

/// V: a level of the source, sought by halving; nobody reads a cell more closely.
pub(crate) const USABLE_V: f64 = 1e-3;
const USABLE: [&[Row]; 2] = [
    &[("usable cell", "usable_input", "", 3.131_727_403)],
    &[("usable battery", "usable_input", "", 5.759_894_966)],
];

/// What was solved of the two demos, buoy first.
fn solved() -> [&'static [Outcome]; 2] {
    [BUOY, SENSOR].map(|text| outcomes(text, Method::Rodas4p, true))
}

fn find<'a>(outcomes: &'a [Outcome], (test, name, setting, _): &Row) -> &'a Measurement {
    let outcome = super::named(outcomes, test);
    let asked = |m: &&Measurement| {
        let singled = ["at", "definition"]
            .into_iter()
            .find_map(|key| m.settings.get(key).map(|value| format!("{key} {value}")));
        m.name == *name && singled.unwrap_or_default() == *setting
    };
    outcome.measurements.iter().find(asked).unwrap_or_else(|| panic!("{test}: no {name} {setting}"))
}

fn hold(outcomes: &[&[Outcome]; 2], rows: [&[Row]; 2], allowed: impl Fn(f64) -> f64) {
    for (outcomes, rows) in outcomes.iter().zip(rows) {
        hold_found(outcomes, rows, &allowed);
    }
}

pub(crate) fn hold_found(outcomes: &[Outcome], rows: &[Row], allowed: impl Fn(f64) -> f64) {
    for row in rows {
        let (test, name, setting, expected) = row;
        let found = find(outcomes, row);
        let got = found.value.unwrap_or_else(|| panic!("{test}: {name}: {:?}", found.reason));
        let apart = (got - expected).abs();
        assert!(apart <= allowed(*expected), "{test}: {name} {setting} {got} not {expected}");
    }
}

/// As far as a share of what is expected.
pub(crate) fn share(share: f64) -> impl Fn(f64) -> f64 {
    move |expected| share * expected.abs()
}

#[test]
fn the_steady_tests_agree_with_an_independent_solution() {
    let outcomes = solved();
    hold(&outcomes, LINEAR, share(LINEAR_SHARE));
    hold(&outcomes, DIFFERENCES, share(DIFFERENCE_SHARE));
    hold(&outcomes, LEASTS, share(LEAST_SHARE));
    hold(&outcomes, SUMS, share(SUM_SHARE));
    hold(&outcomes, DROPOUTS, |_| DROPOUT_V);
    hold(&outcomes, HELD, |_| HELD_V);
    hold(&outcomes, USABLE, |_| USABLE_V);
}

//! Every law: exact slopes, finite everywhere.

use super::{evaluate, laid, laws, noise, parameters};
use crate::device::{BiasCurve, ClassBias, HeatedBy, Nonlinear, Parameters, Short, kind};

/// A law with a grid for each of its inputs, seams among the points: parameters are chosen so that
/// doubles hit the seams exactly.
pub(super) struct Case {
    pub(super) label: &'static str,
    pub(super) law: Nonlinear,
    /// One of the same kind in which every number is another.
    pub(super) other: Nonlinear,
    pub(super) grid: Vec<Vec<f64>>,
}

/// The law that a part lays at place `which`, and that of a part whose every number is a fourteenth more.
fn both(name: &str, p: &Parameters, nodes: &[&str], which: usize) -> (Nonlinear, Nonlinear) {
    let mut more = p.clone();
    more.numbers.values_mut().for_each(|number| *number *= 15.0 / 14.0);
    more.tables.values_mut().for_each(|table| {
        table.numbers.values_mut().for_each(|number| *number *= 15.0 / 14.0);
    });
    let law = |p: &Parameters| laws(&laid(name, p, nodes))[which].clone();
    (law(p), law(&more))
}

fn case(
    label: &'static str,
    name: &str,
    words: &[(&'static str, &'static str)],
    set: &[(&'static str, f64)],
    nodes: &[&str],
    which: usize,
    grid: &[&[f64]],
) -> Case {
    let mut p = parameters(name, words, set);
    if name == "mosfet" {
        let mut table = kind("diode").expect("a kind").defaults(300.0);
        table.numbers.insert("saturation_current", 1e-12);
        p.tables.insert("body_diode", table);
    }
    let (law, other) = both(name, &p, nodes, which);
    Case { label, law, other, grid: grid.iter().map(|g| g.to_vec()).collect() }
}

/// Rises of a junction above 300 K, none of them where the range of temperatures ends. Hotter, a
/// saturation current is milliamperes, in whose rounding the slopes of a reverse bias drown.
const RISES: [f64; 5] = [-90.0, 0.0, 25.0, 130.0, 200.0];

/// The same part on a heat path; the last input is the rise.
fn warm(
    label: &'static str,
    name: &str,
    words: &[(&'static str, &'static str)],
    set: &[(&'static str, f64)],
    nodes: &[&str],
    grid: &[&[f64]],
) -> Case {
    let mut p = parameters(name, words, set);
    p.heated_by = Some(HeatedBy { junction: 1, ambient_k: 300.0 });
    let (law, other) = both(name, &p, nodes, 0);
    Case { label, law, other, grid: grid.iter().chain(&[&RISES[..]]).map(|g| g.to_vec()).collect() }
}

const SHUNT: [(&str, f64); 8] = [
    ("reference_voltage", 2.5),
    ("temperature_coefficient", 50e-6),
    ("transconductance", 2.0),
    ("full_current", 3e-3),
    ("minimum_current", 1e-3),
    ("highest_current", 60e-3),
    ("noise_density", 1e-7),
    ("noise_corner", 1e3),
];
const DRIVEN: &[f64] = &[-900.0, -6.0, -1.0, -1e-3, 0.0, 1e-3, 1.0, 28.5, 900.0];
const CATHODE: &[f64] = &[-900.0, -1.0, 0.0, 1.0, 1.9, 2.0, 2.1, 2.5, 12.0, 900.0];

fn warm_shunt(label: &'static str, which: usize, grid: &[&[f64]]) -> Case {
    let mut p = parameters("adjustable-shunt", &[], &SHUNT);
    p.heated_by = Some(HeatedBy { junction: 1, ambient_k: 300.0 });
    let (law, other) = both("adjustable-shunt", &p, &["k", "r", "a"], which);
    Case { label, law, other, grid: grid.iter().chain(&[&RISES[..]]).map(|g| g.to_vec()).collect() }
}

fn on_heat_paths() -> Vec<Case> {
    let diode = [("saturation_current", 1e-14), ("ideality", 1.3), ("flicker_corner", 1e3)];
    let charged =
        [&diode[..], &[("zero_bias_capacitance", 1e-11), ("transit_time", 1e-9)]].concat();
    let bipolar = [
        ("saturation_current", 1e-14),
        ("forward_gain", 100.0),
        ("forward_gain_temperature_coefficient", 5e-3),
        ("early_voltage", 50.0),
        ("knee_current", 0.05),
        ("flicker_corner", 1e3),
    ];
    let stored =
        [&bipolar[..], &[("transit_time", 1e-9), ("base_emitter_capacitance", 1e-11)]].concat();
    let mosfet = [
        ("threshold", 0.5),
        ("transconductance", 1e-3),
        ("threshold_temperature_coefficient", -2e-3),
        ("output_slope", 0.05),
        ("flicker_density", 1e-6),
    ];
    let resistor = [("resistance", 50.0), ("temperature_coefficient", 3.9e-3)];
    let (npn, n) = ([("polarity", "npn")], [("channel", "n")]);
    // At 900 V a channel's current over 1 mV is a difference of terms 1e6 times as large, whose
    // rounding hides what a thousandth of a kelvin does.
    let volts: &[f64] = &[-30.0, -3.0, -0.4, -1e-3, 0.0, 1e-3, 0.3, 0.5, 0.7, 2.0, 5.0];
    let body: &[f64] = &[-2.0, 0.0, 0.3];
    let bases = ["c", "b", "e"];
    let zener = [
        ("breakdown_voltage", 9.1),
        ("test_current", 5e-3),
        ("resistance", 12.0),
        ("voltage_temperature_coefficient", 4.9e-3),
        ("noise_density", 1e-7),
    ];
    let soft = [
        ("breakdown_voltage", 2.7),
        ("test_current", 5e-3),
        ("resistance", 300.0),
        ("knee_current", 3e-3),
        ("voltage_temperature_coefficient", -2e-3),
        ("zero_bias_capacitance", 1e-10),
    ];
    let breakdown: &[f64] = &[-12.0, -9.2, -9.1, -9.0, -2.7, -1.0, -1e-3, 0.0, 0.3, 0.7];
    vec![
        warm("warm zener", "zener", &[], &zener, &["a", "k"], &[breakdown]),
        warm("warm charged zener", "zener", &[], &soft, &["a", "k"], &[breakdown]),
        warm_shunt("warm shunt input", 0, &[&[0.0, 2.4, 2.494, 2.5, 2.5001, 2.52, 2.53]]),
        warm_shunt("warm shunt output", 1, &[DRIVEN, CATHODE]),
        warm("warm resistor", "resistor", &[], &resistor, &["a", "b"], &[volts]),
        warm("warm diode", "diode", &[], &diode, &["a", "b"], &[&JUNCTION]),
        warm("warm charged diode", "diode", &[], &charged, &["a", "b"], &[&JUNCTION]),
        warm("warm bipolar", "bipolar", &npn, &bipolar, &bases, &[&JUNCTION, &JUNCTION]),
        warm("warm charged bipolar", "bipolar", &npn, &stored, &bases, &[&JUNCTION, &JUNCTION]),
        warm("warm mosfet", "mosfet", &n, &mosfet, &["d", "g", "s", "s"], &[volts, volts]),
        warm("warm body", "mosfet", &n, &mosfet, &["d", "g", "s", "b"], &[volts, volts, body]),
    ]
}

const JUNCTION: [f64; 14] =
    [-900.0, -40.0, -3.0, -0.2, -1e-3, 0.0, 0.02, 0.3, 0.375, 0.55, 0.7, 0.9, 0.9375, 1.2];

fn junctions() -> Vec<Case> {
    let diode =
        [("saturation_current", 1e-14), ("thermal_voltage", 0.025), ("flicker_corner", 1e3)];
    let charged =
        [&diode[..], &[("zero_bias_capacitance", 1e-11), ("transit_time", 1e-9)]].concat();
    let bipolar = [
        ("saturation_current", 1e-14),
        ("forward_gain", 100.0),
        ("early_voltage", 50.0),
        ("reverse_early_voltage", 1.0),
        ("knee_current", 0.05),
        ("reverse_knee_current", 0.02),
        ("flicker_corner", 1e3),
    ];
    let stored = [
        &bipolar[..],
        &[
            ("transit_time", 1e-9),
            ("reverse_transit_time", 1e-7),
            ("base_emitter_capacitance", 1e-11),
            ("base_collector_capacitance", 5e-12),
        ],
    ]
    .concat();
    // 3.75 V is 150 thermal voltages, where the tangent takes over.
    let edge = [&JUNCTION[..], &[3.75, 5.0, 900.0]].concat();
    let npn = [("polarity", "npn")];
    let both = [&JUNCTION[..], &JUNCTION[..]];
    let nodes = ["c", "b", "e"];
    vec![
        case("diode", "diode", &[], &diode, &["a", "b"], 0, &[&edge]),
        case("charged diode", "diode", &[], &charged, &["a", "b"], 0, &[&edge]),
        case("bipolar", "bipolar", &npn, &bipolar, &nodes, 0, &both),
        case("charged bipolar", "bipolar", &npn, &stored, &nodes, 0, &both),
    ]
}

fn channels() -> Vec<Case> {
    let set = [
        ("threshold", 0.5),
        ("transconductance", 1e-3),
        ("output_slope", 0.05),
        ("flicker_density", 1e-6),
    ];
    let n = [("channel", "n")];
    let wide: &[f64] = &[-900.0, -3.0, -0.4, -1e-3, 0.0, 1e-3, 0.3, 0.5, 0.8, 2.0, 5.0, 900.0];
    let body: &[f64] = &[-900.0, -2.0, 0.0, 0.3];
    vec![
        case("mosfet", "mosfet", &n, &set, &["d", "g", "s", "s"], 0, &[wide, wide]),
        case("mosfet and body", "mosfet", &n, &set, &["d", "g", "s", "b"], 0, &[wide, wide, body]),
        case("body diode", "mosfet", &n, &set, &["d", "g", "s", "b"], 1, &[&JUNCTION]),
    ]
}

fn loads() -> Vec<Case> {
    let volts: &[f64] = &[-900.0, -0.5, -0.1, 0.0, 1e-3, 0.1, 0.4, 0.5, 0.6, 2.8, 900.0];
    let levels: &[f64] = &[0.01, 0.5, 20.0];
    let nodes = ["a", "b"];
    ["current", "resistance", "power"]
        .map(|key| case("load", "load", &[], &[(key, 1.0)], &nodes, 0, &[volts, levels]))
        .into_iter()
        .chain([Case {
            label: "load",
            law: Short.into(),
            other: Short.into(),
            grid: vec![volts.to_vec(), levels.to_vec()],
        }])
        .collect()
}

fn amplifiers() -> Vec<Case> {
    let common = [
        ("transconductance", 200e-6),
        ("stage_current", 20e-6),
        ("stage_resistance", 5e6),
        ("output_resistance", 1e3),
        ("drive_current", 2e-3),
        ("output_transconductance", 0.03125),
        ("lowest_current", 0.0009765625),
        ("highest_current", 0.0166015625),
        ("swing_low", 0.25),
        ("swing_high", 0.25),
        ("noise_density", 1e-8),
        ("noise_corner", 1e3),
    ];
    let capped = [&common[..], &[("ceiling", 2.0)]].concat();
    let nodes = ["ref", "fb", "out", "vin", "gnd"];
    let small: &[f64] = &[-900.0, -0.3, -0.05, -1e-4, 0.0, 1e-6, 2e-3, 0.1, 0.4, 900.0];
    let swing: &[f64] =
        &[-900.0, -1.0, 0.24, 0.25, 0.26, 1.0, 1.99, 2.0, 2.01, 3.49, 3.5, 3.51, 9.0, 900.0];
    let supply: &[f64] = &[-900.0, 0.0, 1.0, 2.24, 2.25, 2.26, 3.75, 900.0];
    let drive: &[f64] = &[-900.0, -1.0, 0.0, 0.03, 0.03125, 0.032, 0.3, 0.53, 0.53125, 0.54, 900.0];
    let current = [("stage", "current")];
    let amplifier = "error-amplifier";
    vec![
        case("input stage", amplifier, &[], &common, &nodes, 0, &[small]),
        case("clamp", amplifier, &[], &common, &nodes, 1, &[swing, supply]),
        case("ceiling clamp", amplifier, &[], &capped, &nodes, 1, &[swing, supply]),
        case("voltage stage", amplifier, &[], &common, &nodes, 2, &[small]),
        case("current stage", amplifier, &current, &common, &nodes, 2, &[drive]),
    ]
}

fn capacitances() -> Vec<Case> {
    // Knots among the points, and 0 V, where one side mirrors the other.
    let grid: &[f64] = &[
        -900.0, -6.25, -4.0, -2.75, -0.5, -1e-3, 0.0, 1e-3, 1.0, 1.5, 2.75, 3.0, 4.0, 6.25, 900.0,
    ];
    let points = [[0.0, 1.0], [1.0, 0.96], [2.75, 0.62], [4.0, 0.4], [6.25, 0.25]];
    let late = [[1.0, 0.9], [4.0, 0.5]];
    let curve = |farad: f64, points: &[[f64; 2]]| BiasCurve::new(farad, points).into();
    let class = |farad: f64, volt: f64| ClassBias::new(farad, volt, 0.4).into();
    let laws: [(&'static str, Nonlinear, Nonlinear); 3] = [
        ("bias curve", curve(10e-6, &points), curve(11e-6, &late)),
        ("bias curve from 1 V on", curve(10e-6, &late), curve(11e-6, &points)),
        ("bias of a class", class(10e-6, 6.3), class(11e-6, 6.5)),
    ];
    laws.map(|(label, law, other)| Case { label, law, other, grid: vec![grid.to_vec()] }).into()
}

fn contacts() -> Vec<Case> {
    let volts: &[f64] = &[-30.0, -1.0, 0.0, 1e-3, 5.0];
    // Off the ends 0 and 1, where a contact stops.
    let levels: &[f64] = &[-2.0, 0.125, 0.5, 0.875, 3.0];
    let switch = [("on_resistance", 0.01), ("off_resistance", 1e6)];
    let card = [("capacitance", 1e-5), ("resistance", 0.5), ("at", 1e-3), ("initial", 2.0)];
    let nodes = ["a", "b"];
    vec![
        case("contact", "switch", &[], &switch, &nodes, 0, &[volts, levels]),
        case("gate", "capacitor-connect", &[], &card, &nodes, 0, &[volts, levels]),
        case("holding gate", "capacitor-connect", &[], &card, &nodes, 1, &[volts, levels]),
    ]
}

fn more_amplifiers() -> Vec<Case> {
    let op = [
        ("gain", 1e5),
        ("bandwidth", 1e6),
        ("second_pole", 3e6),
        ("slew_rate", 0.5e6),
        ("swing_low", 0.25),
        ("swing_high", 1.25),
        ("output_current", 15e-3),
        ("offset", 0.03125),
        ("noise_density", 1e-8),
        ("noise_corner", 1e3),
    ];
    let nodes = ["p", "m", "out", "vin", "gnd"];
    let small: &[f64] = &[-900.0, -0.3, -0.03125, -1e-4, 0.0, 1e-6, 2e-3, 0.1, 0.4, 900.0];
    // Not 0 V: without supply the upper and the lower clamp cancel there to the last digit.
    let swing: &[f64] = &[-900.0, -1.0, 0.01, 0.24, 0.25, 0.26, 1.0, 3.74, 3.75, 3.76, 900.0];
    let supply: &[f64] = &[-900.0, 0.0, 1.0, 1.25, 1.26, 1.5, 1.51, 5.0, 900.0];
    let current = [("transconductance", 1e-3), ("highest_current", 1e-4), ("noise_density", 1e-8)];
    let at_reference: &[f64] =
        &[-900.0, 0.0, 2.4, 2.493, 2.494, 2.4995, 2.5, 2.5001, 2.52, 2.5285, 2.53, 900.0];
    let limit = [
        ("resistance", 0.5),
        ("limit", 1.5),
        ("short_current", 0.5),
        ("fold_voltage", 8.0),
        ("steepness", 2.0),
        ("highest_current", 0.03125),
    ];
    let sensed: &[f64] = &[-900.0, -0.1, 0.0, 0.25, 0.255, 0.5, 0.75, 0.7578125, 0.8, 900.0];
    let output: &[f64] = &[-900.0, -0.01, 0.0, 0.01, 4.0, 7.99, 8.0, 8.01, 900.0];
    let downhill: &[f64] = &[-900.0, 0.0, 0.1, 0.2, 0.7, 900.0];
    let referred = [("voltage", 1.25), ("headroom", 0.25), ("rise", 1e-4)];
    let three = ["ref", "gnd", "vin"];
    let five = ["i", "o", "g", "f", "t"];
    let (op_name, shunt_name) = ("operational-amplifier", "adjustable-shunt");
    vec![
        case("offset stage", op_name, &[], &op, &nodes, 0, &[small]),
        case("swing limits", op_name, &[], &op, &nodes, 1, &[swing, supply]),
        case("transconductor", "transconductor", &[], &current, &nodes, 0, &[small]),
        case("shunt input", shunt_name, &[], &SHUNT, &["k", "r", "a"], 0, &[at_reference]),
        case("shunt output", shunt_name, &[], &SHUNT, &["k", "r", "a"], 1, &[DRIVEN, CATHODE]),
        case("limit demand", "current-limit", &[], &limit, &five, 0, &[sensed, output]),
        case(
            "steering",
            "current-limit",
            &[],
            &limit,
            &five,
            1,
            &[&[-0.1, 0.0, 0.5, 1.0], downhill],
        ),
        case(
            "supplied reference",
            "reference",
            &[],
            &referred,
            &three,
            0,
            &[swing, supply, &[0.0, 0.5, 1.0]],
        ),
    ]
}

fn zeners() -> Vec<Case> {
    let set = [
        ("breakdown_voltage", 9.1),
        ("test_current", 5e-3),
        ("resistance", 12.0),
        ("noise_density", 1e-7),
        ("noise_corner", 100.0),
    ];
    let charged = [&set[..], &[("zero_bias_capacitance", 1e-10)]].concat();
    // One with hardly a knee.
    let soft = [
        ("breakdown_voltage", 2.7),
        ("test_current", 5e-3),
        ("resistance", 300.0),
        ("knee_current", 4e-3),
    ];
    let volts: &[f64] = &[
        -900.0, -12.0, -9.2, -9.1, -9.03, -9.0, -8.9, -3.0, -2.7, -1.0, -1e-3, 0.0, 0.3, 0.375,
        0.7, 0.9, 900.0,
    ];
    let ends = ["a", "k"];
    vec![
        case("zener", "zener", &[], &set, &ends, 0, &[volts]),
        case("charged zener", "zener", &[], &charged, &ends, 0, &[volts]),
        case("soft zener", "zener", &[], &soft, &ends, 0, &[volts]),
    ]
}

pub(super) fn every_case() -> Vec<Case> {
    let families = [
        junctions(),
        channels(),
        loads(),
        amplifiers(),
        capacitances(),
        contacts(),
        on_heat_paths(),
        more_amplifiers(),
        zeners(),
    ];
    families.into_iter().flatten().collect()
}

/// Calls `check` at every point of the grid.
pub(super) fn at_every_point(
    case: &Case,
    grid: &[Vec<f64>],
    check: &mut impl FnMut(&Case, &[f64]),
) {
    let mut point = vec![0.0; grid.len()];
    let count: usize = grid.iter().map(Vec::len).product();
    for k in 0..count {
        let mut rest = k;
        for (x, choices) in point.iter_mut().zip(grid) {
            *x = choices[rest % choices.len()];
            rest /= choices.len();
        }
        check(case, &point);
    }
}

/// Steps of the differences in V. Each gives an estimate of the slope of its own: the short ones
/// hold at seams, where only the slope is continuous and the error is about step/(4·width); the long
/// ones where large terms cancel and rounding drowns a short difference. A wrong slope fits none.
const STEPS: [f64; 5] = [4e-9, 1e-7, 3e-6, 1e-4, 3e-3];

/// All outputs in a row.
fn outputs(law: &Nonlinear, u: &[f64]) -> Vec<f64> {
    let e = evaluate(law, u);
    [e.currents, e.charges].concat()
}

/// Whether a central difference over this step agrees with the slope to 1e-6, or to what doubles
/// can tell of a difference of these values.
fn agrees(law: &Nonlinear, u: &[f64], input: usize, output: usize, step: f64, slope: f64) -> bool {
    let moved = |step: f64| {
        let mut v = u.to_vec();
        v[input] += step;
        (outputs(law, &v)[output], v[input])
    };
    let ((high, x_high), (low, x_low)) = (moved(step), moved(-step));
    let difference = (high - low) / (x_high - x_low);
    let rounding = 4.0 * f64::EPSILON * high.abs().max(low.abs()) / (x_high - x_low);
    // Where the slope is zero the curvature is all a difference sees; the strongest here is the
    // 20 W load's.
    let flat = if slope == 0.0 { 1e3 * step * step } else { 0.0 };
    (difference - slope).abs() <= 1e-6 * slope.abs() + rounding + flat + 1e-30
}

fn compare(case: &Case, u: &[f64]) {
    let exact = evaluate(&case.law, u);
    let slopes = [exact.current_slopes, exact.charge_slopes].concat();
    for (output, slopes) in slopes.iter().enumerate() {
        for (input, &slope) in slopes.iter().enumerate() {
            let fits = |step: &f64| agrees(&case.law, u, input, output, *step, slope);
            assert!(
                STEPS.iter().any(fits),
                "{} at {u:?}: slope {slope:e} of output {output} to input {input} fits no difference",
                case.label
            );
        }
    }
}

/// Automatic differentiation against central differences, seams included.
#[test]
fn exact_slopes_equal_central_differences() {
    for case in every_case() {
        at_every_point(&case, &case.grid, &mut compare);
    }
}

#[test]
fn no_input_makes_anything_but_a_number() {
    let wild = vec![
        -f64::MAX,
        -1e300,
        -1e100,
        -1e30,
        -1e3,
        -51.0,
        -1.0,
        0.0,
        1.0,
        51.0,
        1e3,
        1e30,
        1e100,
        1e300,
        f64::MAX,
    ];
    for case in every_case() {
        let mut grid = vec![wild.clone(); case.grid.len()];
        if case.label == "load" {
            // A load's second input is its level, which a file sets and no iterate throws about.
            grid[1].retain(|level| level.abs() <= 1e30);
        }
        at_every_point(&case, &grid, &mut |case, u| {
            let e = evaluate(&case.law, u);
            let slopes = e.current_slopes.iter().chain(&e.charge_slopes).flatten();
            let all = e.currents.iter().chain(&e.charges).chain(slopes);
            assert!(all.into_iter().all(|x| x.is_finite()), "{} at {u:?}: {e:?}", case.label);
            for noise in noise(&case.law, u) {
                let sizes = [noise.white, noise.flicker_at_1hz];
                let sound = sizes.iter().all(|x| x.is_finite() && *x >= 0.0);
                assert!(sound, "{} at {u:?}: {noise:?}", case.label);
            }
        });
    }
}

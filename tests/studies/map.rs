//! Maps against closed forms.

use railstep::circuit::Changes;
use railstep::document::Files;
use railstep::plan::{self, Plan};
use railstep::study::axis::axis;
use railstep::study::map::{Kind, Map, Plot, USUAL_COUNT, map, subject};
use railstep::study::{Forgetful, Ground, Halt, Runner};
use railstep::trial::RunOptions;

struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _path: &str) -> Result<String, String> {
        Err("there is no such file".to_owned())
    }
}

fn plan_of(text: &str) -> Plan {
    let reading = plan::read("circuit.toml", text, &NoFiles, &Changes::default());
    assert!(reading.plan.is_some(), "{:?}", reading.diagnostics);
    reading.plan.unwrap()
}

fn mapped(text: &str, vary: &[&str], threads: usize) -> Result<Map, Halt> {
    let plan = plan_of(text);
    let options = RunOptions::default();
    let ground = Ground { circuit: &plan.circuit, tests: &plan.tests, options, threads };
    let mut axes: Vec<_> =
        vary.iter().map(|v| axis(&plan.circuit, &Changes::default(), v).unwrap()).collect();
    let finer = vary.len() == 2 && vary.iter().all(|v| !v.contains(':'));
    if finer {
        axes.iter_mut().for_each(|axis| axis.count = USUAL_COUNT);
    }
    let subject = subject(&ground, &[], None).map_err(Halt::Refused)?;
    let runner = Runner::new(ground, &[subject.test], &subject.watch(), &Forgetful)?;
    map(&runner, &Plot { axes, finer, subject })
}

/// Values at every corner of the boundary.
fn corners(map: &Map) -> Vec<[f64; 2]> {
    let values = |place: &[f64; 2]| [map.axes[0].at(place[0]), map.axes[1].at(place[1])];
    map.boundary.iter().flatten().map(values).collect()
}

/// An ideal source behind R and L, and C with its ESR.
const SECOND_ORDER: &str = r#"title = "second-order rail"
[values]
c = { value = "10 µF", tolerance = "20 %" }
esr = "5 mΩ"
[rail]
output = "vout"
nominal = "1 V"
source = "V0"
load = "I1"
[parts]
V0 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "1 V" }
L1 = { kind = "inductor", nodes = ["vin", "vout"], inductance = "100 nH", series_resistance = "20 mΩ" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "c", esr = "esr" }
I1 = { kind = "current-source", nodes = ["vout", "gnd"] }
[[tests]]
name = "step"
kind = "load-step"
from = "0 A"
to = "0.5 A"
before = "1 µs"
edge = "0"
hold = "60 µs"
accuracy = "1 µV"
require = { droop = "<= 40 mV" }
"#;

const LIMIT_V: f64 = 40e-3;

/// Largest droop of that rail in V: ΔV(t) = −ΔI·[R + e^(−αt)(A cos ω_d t + B sin ω_d t)] with
/// A = Re − R and slope −ΔI·(1/C − Re²/L) at 0+ (published-checks B.8a: the response of R + sL in
/// parallel with C + Re, a closed form). Damping stays below 1 for all values here.
fn droop_v(farad: f64, esr: f64) -> f64 {
    let (r, l, ampere) = (20e-3, 100e-9, 0.5);
    let alpha = (r + esr) / (2.0 * l);
    let omega = (1.0 / (l * farad) - alpha * alpha).sqrt();
    let a = esr - r;
    let b = (1.0 / farad - esr * esr / l + alpha * a) / omega;
    let at = |t: f64| {
        ampere * (r + (-alpha * t).exp() * (a * (omega * t).cos() + b * (omega * t).sin()))
    };
    // The first period holds the extreme; its top is a parabola to 1e-8 at this fineness.
    let steps = 20_000;
    let period = std::f64::consts::TAU / omega;
    (0..=steps).map(|k| at(period * f64::from(k) / f64::from(steps))).fold(0.0, f64::max)
}

#[test]
fn published_boundary_of_a_second_order_rail() {
    // Case A1 of that table, evaluated there with 40 digits.
    assert!((droop_v(10e-6, 5e-3) - 0.050_481_670_648_370_22).abs() < 1e-8);
    let map = mapped(SECOND_ORDER, &["c=4.7uF..47uF", "esr=2mohm..60mohm"], 2).unwrap();
    // 1 µV is asked for; what a jump leaves in the layer behind it comes on top.
    let good_to_v = 3e-6;
    for point in &map.points {
        let expected = droop_v(point.at[0], point.at[1]);
        let value = point.value.unwrap();
        assert!((value - expected).abs() < good_to_v, "{point:?}: {expected}");
    }
    let found = corners(&map);
    assert!(found.len() > 20 && map.boundary.len() == 1, "{}", found.len());
    for [farad, esr] in found {
        // Crossings are good to 1 % of a side: 0.01·ln 10/24 = 0.1 % of C, 0.01·ln 30/24 = 0.14 % of
        // the ESR. The droop goes with the square root of 1/C and less than the 0.7th power of ESR.
        let droop = droop_v(farad, esr);
        assert!((droop / LIMIT_V - 1.0).abs() < 1e-3, "{farad} {esr}: {droop}");
    }
    // The present design misses; what is told about its nearest edge was run on both sides.
    let present = map.present.as_ref().unwrap();
    assert!(!map.points[present.point].holds && !present.is_crossed);
    let nearest = map.nearest.as_ref().unwrap();
    let [holds, misses] = [nearest.holds, nearest.misses].map(|k| &map.points[k]);
    assert!(droop_v(holds.at[0], holds.at[1]) <= LIMIT_V + good_to_v);
    assert!(droop_v(misses.at[0], misses.at[1]) > LIMIT_V - good_to_v);
    // No place of the contour is nearer: searched by angle on the closed form, in logarithms.
    let reach = |angle: f64| {
        let at = |d: f64| droop_v(10e-6 * (d * angle.cos()).exp(), 5e-3 * (d * angle.sin()).exp());
        let (mut low, mut high) = (0.0, 1.5);
        for _ in 0..40 {
            let middle = f64::midpoint(low, high);
            if at(middle) > LIMIT_V { low = middle } else { high = middle }
        }
        low
    };
    let least = (-30..=30).map(|k| reach(0.02 * f64::from(k))).fold(f64::INFINITY, f64::min);
    // Both sides lie 0.2 % apart, and the line was traced with corners.
    assert!((nearest.distance - least).abs() < 4e-3, "{} {least}", nearest.distance);
    // Along the capacitance alone, up to where the closed form holds.
    let up = map.along.iter().find(|a| a.axis == 0 && a.up).unwrap().edge.as_ref().unwrap();
    let alone = reach(0.0).exp() * 10e-6;
    assert!((map.points[up.holds].at[0] / alone - 1.0).abs() < 2e-3);
}

/// The regulator's current frozen: droop = I·ESR + I·(t_r/2 + T)/C (published-checks B.8; common
/// practice, no source), here 10 mV + 52.5 mV at 20 mΩ and 10 µF.
const FROZEN: &str = r#"title = "frozen source"
[values]
c = "10 µF"
esr = "20 mΩ"
[rail]
output = "vout"
nominal = "3 V"
source = "V0"
load = "I1"
[parts]
V0 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }
L1 = { kind = "inductor", nodes = ["vin", "vout"], inductance = "1 H", series_resistance = "1 mΩ" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "c", esr = "esr", esl = "1 nH" }
I1 = { kind = "current-source", nodes = ["vout", "gnd"] }
[[tests]]
name = "step"
kind = "load-step"
from = "0 A"
to = "0.5 A"
before = "1 µs"
edge = "100 ns"
hold = "1 µs"
accuracy = "100 nV"
require = { droop = "<= 80 mV" }
"#;

#[test]
fn published_boundary_at_the_first_instants_of_a_step() {
    // The formula above [from memory there: TI SLVA072/SLVA079].
    let map = mapped(FROZEN, &["c=4uF..40uF", "esr=5mohm..100mohm"], 2).unwrap();
    let droop = |farad: f64, esr: f64| 0.5 * esr + 0.5 * 1.05e-6 / farad;
    let found = corners(&map);
    assert!(found.len() > 20);
    for [farad, esr] in found {
        // As above, with a droop that goes with 1/C and ESR: 0.01·ln 20/24 = 0.13 %.
        assert!((droop(farad, esr) / 80e-3 - 1.0).abs() < 1.3e-3, "{farad} {esr}");
    }
    // C may fall until the charge takes what the ESR leaves: 0.525 µC / 70 mV = 7.5 µF.
    let down = map.along.iter().find(|a| a.axis == 0 && !a.up).unwrap().edge.as_ref().unwrap();
    assert!((map.points[down.holds].at[0] / 7.5e-6 - 1.0).abs() < 2.1e-3);
    assert!(map.along.iter().find(|a| a.axis == 0 && a.up).unwrap().edge.is_none());
    // ESR may rise until it takes what the charge leaves: 27.5 mV / 0.5 A.
    let up = map.along.iter().find(|a| a.axis == 1 && a.up).unwrap().edge.as_ref().unwrap();
    assert!((map.points[up.holds].at[1] / 55e-3 - 1.0).abs() < 2.1e-3);
}

#[test]
fn exact_edge_of_one_value_lies_between_two_runs() {
    let map = mapped(FROZEN, &["c=4uF..40uF:9"], 1).unwrap();
    let [edge] = map.edges.as_slice() else { panic!("{:?}", map.edges) };
    let [holds, misses] = [edge.holds, edge.misses].map(|k| map.points[k].at[0]);
    assert!(misses < 7.5e-6 && 7.5e-6 <= holds && holds / misses < 1.0021, "{holds} {misses}");
    // Few runs: each of the 9 places once, the present design, and what closes in on the edge.
    assert!(map.points.len() <= 9 + 1 + 8, "{}", map.points.len());
    assert_eq!(map.nearest, map.along[0].edge);
    assert!(map.patches.is_empty() && map.along[1].edge.is_none());
}

#[test]
fn refining_takes_fewer_runs_than_a_grid_as_fine() {
    let finer = mapped(SECOND_ORDER, &["c=4.7uF..47uF", "esr=2mohm..60mohm"], 2).unwrap();
    let count = |map: &Map, kind: Kind| map.points.iter().filter(|p| p.kind == kind).count();
    let fine = count(&finer, Kind::Grid) + count(&finer, Kind::Refined);
    assert_eq!(count(&finer, Kind::Grid), 13 * 13);
    assert!(fine < 25 * 25 / 2, "{fine}");
}

#[test]
fn a_map_is_the_same_for_any_number_of_threads() {
    let make = |threads| mapped(SECOND_ORDER, &["c=4.7uF..47uF:5", "esr=2mohm..60mohm:5"], threads);
    let (one, three) = (make(1).unwrap(), make(3).unwrap());
    assert_eq!((one.points, one.boundary), (three.points, three.boundary));
}

#[test]
fn tolerances_that_the_boundary_passes_through_are_told() {
    // 20 µF hold, 16 µF do not: 36.0 mV and 40.1 mV.
    let text = SECOND_ORDER.replace("value = \"10 µF\"", "value = \"20 µF\"");
    let map = mapped(&text, &["c=4.7uF..47uF:5", "esr=2mohm..60mohm:5"], 2).unwrap();
    let present = map.present.as_ref().unwrap();
    let holds = droop_v(20e-6, 5e-3) <= LIMIT_V;
    let worst = droop_v(16e-6, 5e-3) <= LIMIT_V;
    assert_eq!(map.points[present.point].holds, holds);
    assert_eq!(present.is_crossed, holds != worst);
    assert!(holds != worst, "{} {}", droop_v(20e-6, 5e-3), droop_v(16e-6, 5e-3));
    let [Some([low, high]), None] = present.limits[..] else { panic!("{present:?}") };
    assert!((low / 16e-6 - 1.0).abs() < 1e-12 && (high / 24e-6 - 1.0).abs() < 1e-12);
}

/// A source that gives 100 mA at the most.
const LIMITED: &str = r#"title = "a source of 100 mA"
[values]
i0 = "10 mA"
[rail]
output = "vout"
nominal = "1 V"
load = "I1"
[parts]
V0 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "1 V" }
S1 = { kind = "law", nodes = ["vin", "vout"], inputs = { u = ["vin", "vout"] }, current = "100 mA * tanh(u / 50 mV)" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "1 µF", esr = "10 mΩ" }
I1 = { kind = "current-source", nodes = ["vout", "gnd"], current = "i0" }
[[tests]]
name = "one more"
kind = "load-step"
from = "i0"
to = "i0 + 0.1 mA"
edge = "1 µs"
hold = "50 µs"
require = { droop = "<= 80 mV" }
"#;

#[test]
fn what_cannot_be_solved_is_a_row_and_bounds_what_holds() {
    let map = mapped(LIMITED, &["i0=10mA..300mA:7:linear"], 2).unwrap();
    let unsolved: Vec<_> = map.points.iter().filter(|p| p.failed).collect();
    assert!(unsolved.len() > 4, "{}", unsolved.len());
    for point in unsolved {
        assert!(point.value.is_none() && !point.holds && point.reason.is_some(), "{point:?}");
        assert!(point.at[0] > 99e-3, "{point:?}");
    }
    let edge = &map.edges[0];
    let (holds, misses) = (map.points[edge.holds].at[0], map.points[edge.misses].at[0]);
    assert!((95e-3..101e-3).contains(&holds) && misses > holds, "{holds} {misses}");
}

#[test]
fn what_cannot_be_mapped_is_refused_with_what_to_do() {
    let refused = |text: &str, vary: &[&str]| match mapped(text, vary, 1) {
        Err(Halt::Refused(why)) => why,
        other => panic!("{other:?}"),
    };
    let pinned = FROZEN.replace("hold = \"1 µs\"", "hold = \"1 µs\"\nvalues = { c = \"10 µF\" }");
    let why = refused(&pinned, &["c=4uF..40uF:3"]);
    assert!(why.contains("sets `c` itself") && why.contains("--test"), "{why}");
    let why = refused(FROZEN, &["c=4uF..40uF:3", "c=4uF..40uF:3"]);
    assert!(why.contains("varied twice"), "{why}");
    let why = refused(FROZEN, &["c=4uF..40uF:5000", "esr=1mohm..2mohm:5000"]);
    assert!(why.contains("fewer"), "{why}");
    let why =
        refused(&FROZEN.replace("require = { droop = \"<= 80 mV\" }", ""), &["c=4uF..40uF:3"]);
    assert!(why.contains("no test of the file has a requirement"), "{why}");
}

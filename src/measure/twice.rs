//! A test solved twice, the second time at a tenth of the tolerance: how far each figure is uncertain, and
//! whether what oscillates does so in both.

use super::bench::{Bench, Finding, Number, State, Tighter};
use super::definition::Procedure;
use super::oscillation::OSCILLATES;
use super::{Measurement, Requirement, Row, Scene, heat_rows, rows, supply};

/// As [`measure`](super::measure), without uncertainties, but what oscillates held against `tighter`.
pub fn measure_confirmed(
    scene: &Scene,
    (tighter, node_tolerance_v): (&Scene, f64),
    requirements: &[Requirement],
) -> Vec<Measurement> {
    let second = Bench::new(tighter, requirements);
    let tighter = Tighter { bench: &second, node_tolerance_v };
    let bench = Bench::new(scene, requirements).beside(tighter);
    let rows = rows(scene, requirements).into_iter();
    rows.map(|row| row.measurement(&bench, row.find(&bench), None)).collect()
}

/// As [`measure`](super::measure), with numerical uncertainties from a second solution of the same test at a
/// tenth of the tolerance.
///
/// `node_tolerance_v` is the absolute tolerance of a node voltage that `scene` was solved with.
/// The uncertainty of a value is twice its difference between both solutions, and not less than:
/// half the tolerance for a voltage; for a time, what its crossings move by when the output is
/// displaced by the larger of half the tolerance and twice the difference there.
pub fn measure_twice(
    scene: &Scene,
    tighter: &Scene,
    requirements: &[Requirement],
    node_tolerance_v: f64,
) -> Vec<Measurement> {
    let second = Bench::new(tighter, requirements);
    let tighter = Tighter { bench: &second, node_tolerance_v };
    let bench = Bench::new(scene, requirements).beside(tighter);
    rows(scene, requirements)
        .into_iter()
        .map(|row| {
            let (found, again) = (row.find(&bench), row.find(&second));
            let (finding, uncertainty) = match (found, again) {
                (Finding::Value(a), Finding::Value(b)) => {
                    let u = uncertainty(&row, (&bench, &a), (&second, &b), node_tolerance_v);
                    (Finding::Value(a), Some(u))
                }
                // Whether it oscillates has been asked of both.
                (Finding::Value(Number { condemned: Some(words), .. }), Finding::State(_))
                    if words.contains(OSCILLATES) =>
                {
                    (Finding::State(State { words, watched_s: None }), None)
                }
                (
                    Finding::Value(_),
                    Finding::State(State { words, .. })
                    | Finding::Beyond(words, _)
                    | Finding::NotYet { words, .. }
                    | Finding::Missing(words),
                ) => (Finding::Missing(format!("solved tighter: {words}")), None),
                (Finding::State(state), Finding::Value(_)) if !state.words.contains(OSCILLATES) => {
                    (Finding::Missing(format!("{}; not so when solved tighter", state.words)), None)
                }
                (other, _) => (other, None),
            };
            row.measurement(&bench, finding, uncertainty)
        })
        .collect()
}

/// What a figure taken around a point at rest is uncertain by at least: a rest is iterated until
/// its last change is below 1e-9 of each voltage, and figures may multiply that by some ten.
const REST_SHARE: f64 = 1e-8;

/// K that a junction may err by per volt that a node may: the engine's own ratio of the two.
const KELVIN_PER_VOLT: f64 = 1000.0;

/// See [`measure_twice`].
fn uncertainty(
    row: &Row,
    (bench, found): (&Bench, &Number),
    (second, again): (&Bench, &Number),
    node_tolerance_v: f64,
) -> f64 {
    let twice = 2.0 * (found.value - again.value).abs();
    let least_v = 0.5 * node_tolerance_v;
    let floor = match row.definition.map(|d| d.unit) {
        Some("V") => least_v,
        Some("s") => {
            let displaced_v = found
                .instants
                .iter()
                .filter_map(|t| supply::output_difference(bench, second, *t))
                .fold(least_v, |most, difference| most.max(2.0 * difference));
            displaced_v * found.seconds_per_volt
        }
        // A share of what a capacitor may see, which is hardly less than what its rail carries.
        _ if row.name == "capacitor_stress" => {
            bench.scene.rail.nominal_v.map_or(0.0, |nominal_v| least_v / nominal_v.abs())
        }
        Some("K" | heat_rows::RISE_UNIT) => KELVIN_PER_VOLT * least_v,
        _ => 0.0,
    };
    let of_rest = match row.definition.map(|d| d.procedure) {
        Some(Procedure::Stations(_)) => REST_SHARE * found.value.abs(),
        _ => 0.0,
    };
    twice.max(floor).max(of_rest)
}

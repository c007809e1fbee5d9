//! The numerical uncertainty that is stated holds: over seeded variants of the demos the true
//! error, against a solution three hundred times tighter, lies inside it.
#![allow(missing_docs, clippy::expect_used)]

use railstep::circuit::{Change, Changes};
use railstep::document::Files;
use railstep::measure::TestKind;
use railstep::plan::{self, Plan};
use railstep::trial::{RunOptions, Test, run};

struct NoFiles;

impl Files for NoFiles {
    fn read(&self, path: &str) -> Result<String, String> {
        Err(format!("`{path}` is not at hand"))
    }
}

const BUOY: &str = include_str!("../netlists/buoy-radio.toml");
const SENSOR: &str = include_str!("../netlists/sensor-supply.toml");
/// Accuracy of the reference in V. Its own error, some 2e-8 V, is a hundredth of the least that is
/// stated; at a node tolerance of 1e-9 V the rounding of charges over femtosecond steps stops some
/// variants behind their edges.
const REFERENCE_ACCURACY_V: f64 = 3.4e-8;
const VARIANTS: usize = 60;

fn plan(text: &str) -> Plan {
    plan::read("demo.toml", text, &NoFiles, &Changes::default()).plan.expect("no mistakes")
}

/// A fixed sequence of numbers between 0 and 1 (Knuth's linear congruential generator, MMIX).
struct Sequence(u64);

impl Sequence {
    fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.next())
    }
}

fn variant(of_the_buoy: bool, sequence: &mut Sequence) -> Changes {
    let mut change = |path: &str, low: f64, high: f64, unit: &str| {
        Change::new(path, format!("{:e} {unit}", sequence.between(low, high)))
    };
    if !of_the_buoy {
        let list = vec![change("c_out", 33e-6, 68e-6, "F"), change("esr_out", 0.5, 2.0, "Ω")];
        return Changes { list };
    }
    Changes {
        list: vec![
            change("c_out", 2e-6, 22e-6, "F"),
            change("esr_out", 2e-3, 0.3, "Ω"),
            change("models.ea.stage_resistance", 2e6, 2e7, "Ω"),
            change("models.ea.lag_resistance", 1e5, 4e5, "Ω"),
        ],
    }
}

/// Measurements that are numbers of the output or of times; powers and currents are stated too, but
/// their floor is not a rule of the solver's.
fn counts(name: &str) -> bool {
    !name.contains("power") && !name.contains("current") && name != "efficiency"
}

/// Whether a figure is decided where the output moves. A settled level is exact to rounding, and the
/// floor of half a tolerance stands far above its error by design, so it says nothing of the rule.
fn is_decided_in_motion(name: &str) -> bool {
    ["droop", "overshoot", "recovery", "minimum", "maximum", "transient", "below"]
        .iter()
        .any(|word| name.contains(word))
}

/// The floor was chosen on these variants.
#[test]
fn the_true_error_lies_inside_the_stated_uncertainty() {
    hold(20_261_124);
}

/// Of six seeds tried afterwards the worst.
#[test]
fn the_true_error_lies_inside_the_stated_uncertainty_of_other_variants() {
    hold(4);
}

fn hold(seed: u64) {
    let plans = [plan(BUOY), plan(SENSOR)];
    let mut sequence = Sequence(seed);
    let (mut inside, mut outside, mut ratios) = (0, Vec::new(), Vec::new());
    for k in 0..VARIANTS {
        // Two of three are variants of the buoy, whose edges are the harder.
        let of_the_buoy = k % 3 != 2;
        let plan = &plans[usize::from(!of_the_buoy)];
        let in_time = |t: &&Test| t.kind != TestKind::OperatingPoint && !t.kind.is_steady();
        let timed = plan.tests.iter().filter(in_time);
        let tests: Vec<_> = timed.collect();
        let test = tests[k % tests.len()];
        let changes = variant(of_the_buoy, &mut sequence);
        let options = RunOptions { changes: changes.clone(), ..RunOptions::default() };
        let stated = run(&plan.circuit, test, &options).expect("a variant of the demo");
        let accuracy_v = Some(REFERENCE_ACCURACY_V);
        let tight = RunOptions { changes, accuracy_v, quick: true, ..RunOptions::default() };
        let truth = run(&plan.circuit, test, &tight).expect("a variant of the demo");
        assert!(stated.failure.is_none() && truth.failure.is_none(), "{k}: {:?}", truth.failure);
        for (m, t) in stated.measurements.iter().zip(&truth.measurements) {
            let (Some(value), Some(u), Some(exact)) = (m.value, m.numerical_uncertainty, t.value)
            else {
                continue;
            };
            if !counts(&m.name) {
                continue;
            }
            let error = (value - exact).abs();
            if error <= u {
                inside += 1;
            } else {
                outside.push(format!("{} {}: {error:e} > {u:e}", test.name, m.name));
            }
            if error > 0.0 && u > 0.0 && is_decided_in_motion(&m.name) {
                ratios.push(u / error);
            }
        }
    }
    ratios.sort_by(f64::total_cmp);
    let median = ratios[ratios.len() / 2];
    let share = f64::from(inside) / (f64::from(inside) + outside.len() as f64);
    assert!(share >= 0.99, "only {share} inside: {outside:#?}");
    assert!(inside > 500, "only {inside} figures, {} outside, median {median}", outside.len());
    assert!(median <= 20.0, "overstated {median} times in the median");
}

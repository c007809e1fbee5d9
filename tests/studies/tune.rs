//! `tune` on a rail whose droop has a closed form.

use railstep::circuit::{Change, Changes};
use railstep::document::Files;
use railstep::measure::Verdict;
use railstep::output::studies::tune::{View, bundle};
use railstep::plan::{self, Plan};
use railstep::study::tune::{Asked, Fate, Scope, Standing, Tuning, WhyNot, scope, tune, tuned};
use railstep::study::{Forgetful, Ground, Runner, Shot, Watch};
use railstep::trial::RunOptions;

struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _path: &str) -> Result<String, String> {
        Err("there is no such file".to_owned())
    }
}

/// An ideal source behind R + sL, a capacitor with ESR, and a step of 0.5 A.
const RAIL: &str = r#"title = "second-order rail"
[values]
c = { value = "10 µF", range = ["4.7 µF", "47 µF"], series = "E3" }
esr = { value = "5 mΩ", range = ["4.7 mΩ", "47 mΩ"], series = "E3" }
r = "20 mΩ"
[rail]
output = "vout"
nominal = "3 V"
source = "V0"
load = "I1"
[parts]
V0 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }
L1 = { kind = "inductor", nodes = ["vin", "vout"], inductance = "100 nH", series_resistance = "r" }
C1 = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "c", esr = "esr", rated_voltage = "10 V" }
I1 = { kind = "current-source", nodes = ["vout", "gnd"] }
[[tests]]
name = "step"
kind = "load-step"
from = "0 A"
to = "0.5 A"
edge = "1 ns"
hold = "200 µs"
require = { droop = "<= 40 mV" }
"#;
const LIMIT_V: f64 = 40e-3;

/// Greatest fall of the output in V: Laplace transform of the network, by hand (second-order step
/// response, textbook), searched over time. An edge of 1 ns against periods of some µs changes it by
/// less than 0.1 %.
fn droop_v(c: f64, esr: f64, r: f64) -> f64 {
    let (l, step) = (100e-9, 0.5);
    let alpha = (r + esr) / (2.0 * l);
    let omega_0 = 1.0 / (l * c).sqrt();
    let a = esr - r;
    let b = (1.0 / c - esr * esr / l) + alpha * a;
    let apart = alpha * alpha - omega_0 * omega_0;
    let rate = apart.abs().sqrt();
    let fall = |t: f64| {
        let (even, odd) = if apart < 0.0 {
            ((rate * t).cos(), (rate * t).sin())
        } else {
            ((rate * t).cosh(), (rate * t).sinh())
        };
        step * (r + (-alpha * t).exp() * (a * even + b / rate * odd))
    };
    let count = 40_000;
    (0..count).map(|k| instant(k, count, omega_0)).map(fall).fold(0.0, f64::max)
}

/// Instants over four natural periods.
fn instant(k: usize, count: usize, omega_0: f64) -> f64 {
    k as f64 / count as f64 * 4.0 * std::f64::consts::TAU / omega_0
}

struct Study {
    plan: Plan,
    scope: Scope,
    tuning: Tuning,
    text: String,
    files: Vec<(String, Vec<u8>)>,
}

fn plan_of(text: &str) -> Plan {
    let reading = plan::read("circuit.toml", text, &NoFiles, &Changes::default());
    assert!(reading.plan.is_some(), "{:?}", reading.diagnostics);
    reading.plan.unwrap()
}

fn asked(vary: &[&str], nominal: bool) -> Asked {
    let vary = vary.iter().map(|v| (*v).to_owned()).collect();
    Asked { vary, nominal, limit: 1000, ..Asked::default() }
}

fn ground(plan: &Plan, threads: usize) -> Ground<'_> {
    let options = RunOptions::default();
    Ground { circuit: &plan.circuit, tests: &plan.tests, options, threads }
}

fn study_on(text: &str, asked: &Asked, threads: usize) -> Study {
    let plan = plan_of(text);
    let all: Vec<usize> = (0..plan.tests.len()).collect();
    let tuned = tuned(&plan.circuit, &Changes::default(), asked).unwrap();
    let scope = scope(&plan.nominal, &plan.tests, &all, &tuned);
    let (tuning, sheets) = {
        let ground = ground(&plan, threads);
        let runner = Runner::new(ground, &scope.run(), &Watch::Counting, &Forgetful).unwrap();
        (tune(&runner, tuned, &scope, asked).unwrap(), runner.sheets)
    };
    let options = &RunOptions::default();
    let (file, sheets) = ("circuit.toml", sheets.as_slice());
    let view = View { file, plan: &plan, options, sheets, scope: &scope, tuning: &tuning };
    let told = bundle(&view, 100);
    Study { text: told.text, files: told.files, plan, scope, tuning }
}

fn study(text: &str, asked: &Asked) -> Study {
    study_on(text, asked, 2)
}

fn choices(tuning: &Tuning) -> impl Iterator<Item = &Standing> {
    tuning.standings.iter().filter(|s| !s.candidate.places.is_empty())
}

fn chosen(tuning: &Tuning) -> &Standing {
    &tuning.standings[tuning.choice.unwrap()]
}

#[test]
fn exact_the_values_that_pass_are_those_of_the_closed_form() {
    let Study { tuning, text, .. } = study(RAIL, &asked(&[], true));
    let mut met = 0;
    for s in choices(&tuning) {
        let [c, esr] = s.candidate.values[..] else { panic!("two values are tuned") };
        let expected = droop_v(c, esr, 20e-3);
        // No candidate lies so near to the limit that 1 ns or the accuracy of 10 µV could decide.
        assert!((expected / LIMIT_V - 1.0).abs() > 0.01, "{c} {esr}: {expected}");
        assert_eq!(s.fate == Fate::Meets, expected < LIMIT_V, "{c} {esr}: {expected}");
        if let Fate::Misses { spot, .. } = &s.fate {
            let value = spot.line.value.unwrap();
            assert!((value / expected - 1.0).abs() < 2e-3, "{c} {esr}: {value} {expected}");
            assert_eq!(spot.line.verdict, Verdict::Fail);
        } else {
            met += 1;
            let margin = 1.0 - expected / LIMIT_V;
            assert!((s.margin() - margin).abs() < 2e-3, "{c} {esr}: {} {margin}", s.margin());
        }
    }
    // 22 µF and 47 µF with any ESR, of 4 by 4.
    assert_eq!((met, choices(&tuning).count()), (8, 16));
    // 22 µF is the smaller one that has 10 % to spare; of its ESRs 47 mΩ leaves most.
    assert_eq!(chosen(&tuning).candidate.values, [22e-6, 47e-3]);
    assert!((chosen(&tuning).candidate.size_fv - 220e-6).abs() < 1e-15);
    let edge = chosen(&tuning).edge.unwrap();
    assert!(edge.0 == 0 && (edge.1 - 10.0 / 22.0).abs() < 1e-12, "{edge:?}");
    assert!(tuning.is_met() && text.contains("all 16 candidates looked at"), "{text}");
    // The design as it stands is none of them, and misses.
    let present = &tuning.standings[tuning.present.unwrap()];
    assert!(present.candidate.places.is_empty() && present.fate != Fate::Meets);
}

#[test]
fn exact_the_allowed_region_ends_where_the_closed_form_meets_the_limit() {
    let Study { tuning, .. } = study(RAIL, &asked(&[], true));
    let [region] = &tuning.regions[..] else { panic!("one capacitor is tuned") };
    assert!(region.is_verified);
    let (c, r) = (&region.capacitance, &region.esr);
    let holds = |c: f64, esr: f64| droop_v(c, esr, 20e-3) <= LIMIT_V * 1.002;
    for c in [c.low.value, c.high.value] {
        for esr in [r.low.value, r.high.value] {
            assert!(holds(c, esr), "{c} {esr}");
        }
    }
    // More capacitance never hurts here, so that side ends with what was looked at.
    assert_eq!((c.high.stopped_by, c.high.value), (None, c.reach[1]));
    // The lower side is stopped, and nothing is given away: 2.5 % further a corner of the box misses.
    assert_eq!(c.low.stopped_by, Some(0));
    let beyond = c.low.value / 1.025;
    let lost = [r.low.value, r.high.value].into_iter().any(|esr| !holds(beyond, esr));
    assert!(lost, "{} could be lower", c.low.value);
    // The upper side of ESR: the first instant alone takes ESR · 0.5 A.
    assert_eq!(r.high.stopped_by, Some(0));
    assert!(r.high.value * 0.5 <= LIMIT_V * 1.002);
    // Label and effective value are the same here, and nothing scatters.
    assert_eq!(c.label, Some([c.low.value, c.high.value]));
}

/// With a corner in R and 20 % of C, the worst of each candidate is the worst of the closed form's
/// six places; the printed arguments give the same reading again.
#[test]
fn exact_the_worst_corner_is_that_of_the_closed_form_and_can_be_reproduced() {
    let text = RAIL
        .replace("series = \"E3\" }\nesr", "series = \"E3\", tolerance = \"20 %\" }\nesr")
        .replace("[rail]", "[corners]\nr = [\"10 mΩ\", \"20 mΩ\"]\n[rail]");
    let Study { plan, scope, tuning, .. } = study(&text, &asked(&[], false));
    let best = chosen(&tuning);
    let [c, esr] = best.candidate.values[..] else { panic!("two values are tuned") };
    let places = [0.8, 1.0, 1.2].into_iter().flat_map(|f| [(f, 10e-3), (f, 20e-3)]);
    let worst = places.map(|(f, r)| droop_v(c * f, esr, r)).fold(0.0, f64::max);
    let (row, spot) = best.nearest.as_ref().unwrap();
    assert!((spot.line.value.unwrap() / worst - 1.0).abs() < 2e-3, "{spot:?} {worst}");
    let ground = ground(&plan, 1);
    let runner = Runner::new(ground, &scope.run(), &Watch::Counting, &Forgetful).unwrap();
    let changes: Vec<Change> = best.candidate.changes.iter().chain(&spot.over).cloned().collect();
    let row = tuning.rows[*row];
    let again = runner.run(&[Shot { test: row.test, changes }]).unwrap();
    assert_eq!(again[0].lines[row.row], spot.line);
    // The region holds for what C is, so its tolerance widens what may stand on the label.
    let c = &tuning.regions[0].capacitance;
    let [low, high] = c.label.unwrap();
    // Both are told to six digits.
    assert!((low / (c.low.value / 0.8) - 1.0).abs() < 1e-5);
    assert!((high / (c.high.value / 1.2) - 1.0).abs() < 1e-5);
}

#[test]
fn what_nobody_meets_is_set_apart_and_told() {
    // 10 mV of droop stay as long as the load does; at 1 A 20 mV, which no capacitor moves.
    let text = RAIL.to_owned()
        + r#"
[[tests]]
name = "less than what stays"
kind = "load-step"
from = "0 A"
to = "0.5 A"
edge = "1 ns"
hold = "200 µs"
require = { droop = "<= 9 mV" }
[[tests]]
name = "heavy"
kind = "operating-point"
load_level = "1 A"
require = { output_level = ">= 2.99 V" }
[[tests]]
name = "what if"
kind = "load-step"
values = { esr = "1 Ω" }
from = "0 A"
to = "0.5 A"
edge = "1 ns"
hold = "200 µs"
require = { droop = "<= 40 mV" }
"#;
    let Study { scope, tuning, text, .. } = study(&text, &asked(&[], true));
    assert_eq!((&scope.moved[..], &scope.at_rest[..]), (&[0, 1][..], &[2][..]));
    assert_eq!(scope.what_if, [(3, "esr".to_owned())]);
    let whys: Vec<_> = tuning.not_cured.iter().map(|n| (n.row.test, n.why.clone())).collect();
    // The first test leaves 8 of 16.
    let nobody = WhyNot::Nobody { left: 8, all: false };
    assert_eq!(whys, [(1, nobody), (2, WhyNot::NotMoved)]);
    let best = tuning.not_cured[0].best.line.value.unwrap();
    let least = |c: f64| {
        [4.7e-3, 10e-3, 22e-3, 47e-3]
            .map(|esr| droop_v(c, esr, 20e-3))
            .into_iter()
            .fold(1.0, f64::min)
    };
    assert!((best / least(47e-6) - 1.0).abs() < 2e-3, "{best}");
    // The choice among the rest is given all the same.
    assert_eq!(chosen(&tuning).candidate.values, [22e-6, 47e-3]);
    assert!(!tuning.is_met() && text.contains("verdict: fail"), "{text}");
    assert!(text.contains("left out, as they set `esr` themselves: `what if`"), "{text}");
}

#[test]
fn where_nothing_is_left_to_choose_by_nothing_is_chosen() {
    // 10 mV of droop stay as long as the load does.
    let text = RAIL.replace("<= 40 mV", "<= 9 mV");
    for nominal in [true, false] {
        let Study { tuning, text, .. } = study(&text, &asked(&[], nominal));
        assert_eq!((tuning.not_cured.len(), tuning.choice, tuning.regions.len()), (1, None, 0));
        assert!(tuning.standings.iter().all(|s| s.fate != Fate::Meets));
        assert!(text.contains("verdict: fail (no candidate meets what was asked)"), "{text}");
    }
}

#[test]
fn what_is_left_out_with_a_test_that_nobody_passes_is_told() {
    let text = RAIL.to_owned()
        + r#"
[[tests]]
name = "heavier"
kind = "load-step"
from = "0 A"
to = "0.6 A"
edge = "1 ns"
hold = "200 µs"
require = { droop = "<= 9 mV", overshoot = "<= 1 V" }
"#;
    let Study { tuning, text, .. } = study(&text, &asked(&[], true));
    assert_eq!((tuning.not_cured.len(), tuning.choice.is_some()), (1, true));
    assert!(text.contains("with them all other requirements of `heavier` are left out"), "{text}");
}

#[test]
fn the_table_counts_what_it_leaves_out() {
    // The design as it stands is the largest of 20 that hold, so it is the last, and shown after the first 12.
    let text = RAIL.replace("<= 40 mV", "<= 200 mV");
    let Study { tuning, text, .. } = study(&text, &asked(&["c=4 µF..10 µF:20"], true));
    assert_eq!(tuning.ranking.len(), 20);
    assert!(text.contains("20 now") && text.contains("(7 more in tune.csv)"), "{text}");
}

#[test]
fn stock_is_chosen_from_and_the_limit_is_told() {
    let text =
        RAIL.replace("series = \"E3\" }\nesr", "stock = [\"33 µF\", \"12 µF\", \"100 µF\"] }\nesr");
    let Study { tuning, text, .. } = study(&text, &asked(&["c"], true));
    let values: Vec<f64> = choices(&tuning).map(|s| s.candidate.values[0]).collect();
    // 100 µF lies outside of the range.
    assert_eq!(values, [12e-6, 33e-6]);
    assert_eq!(chosen(&tuning).candidate.values, [33e-6]);
    assert!(text.contains("the stock list of the file"), "{text}");

    let few = Asked { limit: 3, ..asked(&[], true) };
    let Study { tuning, text, .. } = study(RAIL, &few);
    assert_eq!(choices(&tuning).count(), 3);
    assert!(choices(&tuning).all(|s| s.candidate.values[0] <= 10e-6));
    assert!(text.contains("limit of 3 reached"), "{text}");
}

/// n equal capacitors are one of C·n and ESR/n (Kirchhoff's current law), to the accuracy of 10 µV.
#[test]
fn exact_several_in_parallel_are_one_larger() {
    let three =
        Asked { parallel: vec!["C1=1..3".to_owned()], ..asked(&["esr=15 mΩ..15.1 mΩ:2"], true) };
    let Study { plan, scope, tuning, .. } = study(RAIL, &three);
    let counts: Vec<f64> = choices(&tuning).map(|s| s.candidate.count).collect();
    assert_eq!(counts, [1.0, 2.0, 3.0, 1.0, 2.0, 3.0]);
    let runner = Runner::new(ground(&plan, 1), &scope.run(), &Watch::Counting, &Forgetful).unwrap();
    let shot = |changes: &[(&str, &str)]| Shot {
        test: 0,
        changes: changes.iter().map(|(path, text)| Change::new(*path, *text)).collect(),
    };
    let both = runner
        .run(&[
            shot(&[("C1.count", "3"), ("esr", "15 mΩ")]),
            shot(&[("c", "30 µF"), ("esr", "5 mΩ")]),
        ])
        .unwrap();
    let value = |k: usize| both[k].lines[0].value.unwrap();
    assert!((value(0) - value(1)).abs() < 1e-9, "{} {}", value(0), value(1));
    assert!((value(0) / droop_v(30e-6, 5e-3, 20e-3) - 1.0).abs() < 2e-3);
}

#[test]
fn results_depend_neither_on_threads_nor_on_the_order_of_what_is_varied() {
    let text = RAIL.replace("[rail]", "[corners]\nr = [\"10 mΩ\", \"20 mΩ\"]\n[rail]");
    let one = study_on(&text, &asked(&[], false), 1);
    let two = study_on(&text, &asked(&[], false), 2);
    assert_eq!(one.files, two.files);
    assert_eq!(one.text, two.text);
    let turned = study(&text, &asked(&["esr", "c"], false));
    let order = |tuning: &Tuning, flip: bool| -> Vec<Vec<f64>> {
        let values = |&k: &usize| {
            let mut values = tuning.standings[k].candidate.values.clone();
            if flip {
                values.reverse();
            }
            values
        };
        tuning.ranking.iter().map(values).collect()
    };
    assert_eq!(order(&one.tuning, false), order(&turned.tuning, true));
    let [a, b] = [&one, &turned].map(|s| &s.tuning.regions[0]);
    assert_eq!((&a.capacitance, &a.esr), (&b.capacitance, &b.esr));
}

#[test]
fn questions_that_make_no_sense_are_refused_with_what_to_type() {
    let plan = plan_of(RAIL);
    let refusal = |asked: &Asked| tuned(&plan.circuit, &Changes::default(), asked).unwrap_err();
    let parallel = |text: &str| Asked { parallel: vec![text.to_owned()], ..asked(&["c"], true) };
    for (asked, part) in [
        (asked(&["cc"], true), "is `c` meant?"),
        (asked(&["r"], true), "no `range`"),
        (asked(&["c", "c"], true), "varied twice"),
        (asked(&["c=1.1 µF..1.2 µF"], true), "0 values"),
        (asked(&["rail.ambient=0 °C..50 °C"], true), ":COUNT"),
        (parallel("C1=0..3"), "--parallel C_OUT=1..3"),
        (parallel("L1=1..3"), "no capacitor"),
        (parallel("C9=1..3"), "no part `C9`"),
    ] {
        let why = refusal(&asked);
        assert!(why.contains(part), "{why}");
    }
}

//! Frequency and time must tell the same of every demo: how a small step rings, and where it settles.

use crate::{DEMOS, named, plan, value};
use railstep::curve::{Cell, Listing};
use railstep::measure::TestKind;
use railstep::trial::{Outcome, RunOptions};

/// What an oscillation in time shows of its damping, against the poles. 5 % are asked for; a step small
/// enough that nothing bends, solved as finely as rounding lets it, leaves less than half a percent.
const RINGING_SHARE: f64 = 0.01;

/// What is asked for. Over so short a step the output bends by a seventh of it at the most (the isolated
/// supply, whose shunt has little current left at its heaviest load), and its fall is some µV, solved to
/// 1 nV.
const SETTLED_SHARE: f64 = 1e-3;

fn column(listing: &Listing, name: &str) -> usize {
    listing.columns.iter().position(|c| c.name == name).expect(name)
}

fn number(cell: &Cell) -> Option<f64> {
    match cell {
        Cell::Number(value) => Some(*value),
        _ => None,
    }
}

/// How many conditions of a loop-gain test rang, each as its poles say.
fn rang(outcome: &Outcome) -> usize {
    let loops = outcome.listings.iter().find(|l| l.name == "loop_gain").expect("a table of loops");
    let [poles, time] = ["damping_of_poles", "damping_in_time"].map(|name| column(loops, name));
    let mut rang = 0;
    for row in &loops.rows {
        let Some(by_poles) = number(&row[poles]) else { continue };
        if by_poles < 0.0 {
            // Nothing dies away there.
            assert_eq!(number(&row[time]), None, "{}: {row:?}", outcome.name);
            continue;
        }
        let in_time = number(&row[time]).unwrap_or_else(|| panic!("{}: {row:?}", outcome.name));
        let apart = (in_time / by_poles - 1.0).abs();
        assert!(apart <= RINGING_SHARE, "{}: {row:?}", outcome.name);
        rang += 1;
    }
    rang
}

#[test]
fn what_rings_in_time_is_damped_as_the_poles_say_at_every_condition_of_every_demo() {
    let options = RunOptions { quick: true, ..RunOptions::default() };
    let mut all = 0;
    for (_, text, _) in DEMOS {
        let plan = plan(text);
        let loops = plan.tests.iter().filter(|t| t.kind == TestKind::LoopGain);
        all += loops.map(|t| rang(&plan.run(t, &options).expect("can be run"))).sum::<usize>();
    }
    assert!(all >= 100, "{all}");
}

#[test]
fn a_load_step_settles_by_the_impedance_at_rest_in_every_demo() {
    let heaviest = [180.0, 120.0, 1800.0, 60.0, 14.0, 1000.0, 1500.0];
    for ((stem, text, _), ma) in DEMOS.iter().zip(heaviest) {
        // The bench supply is so stiff, and so straight, that it takes more to see.
        let share = if *stem == "bench-supply" { 0.02 } else { 0.005 };
        let (low, high) = ((1.0 - share) * ma, (1.0 + share) * ma);
        let windows = "window = \"none\"\ntransient_window = \"none\"\n";
        let tests = format!(
            "[[tests]]\nname = \"added step\"\nkind = \"load-step\"\nfrom = \"{low} mA\"\n\
             to = \"{high} mA\"\nedge = \"10 µs\"\nhold = \"0.5 s\"\naccuracy = \"1 nV\"\n{windows}\
             [[tests]]\nname = \"added z\"\nkind = \"output-impedance\"\nlowest = \"1 mHz\"\n\
             highest = \"1 kHz\"\nload_level = \"{ma} mA\"\nwindow = \"none\"\n"
        );
        let plan = plan(&format!("{text}\n{tests}"));
        let chosen = plan.tests.iter().filter(|t| t.name.starts_with("added"));
        let options = RunOptions { quick: true, ..RunOptions::default() };
        let all: Vec<Outcome> =
            chosen.map(|t| plan.run(t, &options).expect("can be run")).collect();
        let fall = -value(named(&all, "added step"), "static_change");
        let ohm = fall / (1e-3 * (high - low));
        let z = value(named(&all, "added z"), "output_impedance");
        assert!((ohm / z - 1.0).abs() <= SETTLED_SHARE, "{stem}: {ohm} Ω in time, {z} Ω");
    }
}

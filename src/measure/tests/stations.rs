//! Figures of several conditions: which is told, and when none satisfies.

use super::*;
use crate::measure::{Absence, Asked, Figure, Station, Wanted};

fn station(condition: &str, figure: Result<Figure, Absence>) -> Station {
    let wanted = Wanted { name: "phase_margin", asked: Asked::default() };
    Station { condition: condition.to_owned(), figures: vec![(wanted, figure)] }
}

fn told(stations: &[Station]) -> Measurement {
    let waveform = Waveform::default();
    let scene = Scene { stations, ..steps(&waveform, TestKind::LoopGain, &[], 0.0) };
    let required = [Requirement::new("phase_margin", Limit::AtLeast(45.0))];
    let rows = measure(&scene, &required);
    rows.into_iter().find(|m| m.name == "phase_margin").unwrap()
}

#[test]
fn the_lowest_margin_is_told_with_its_condition() {
    let row = told(&[
        station("1 mA", Ok(Figure::at(70.0, 1e5))),
        station("9 mA", Ok(Figure::at(50.0, 2e5))),
        station("no load", Err(Absence::Harmless("no crossover".to_owned()))),
    ]);
    assert_eq!((row.value, row.verdict), (Some(50.0), Verdict::Pass));
    assert_eq!(row.settings["condition"], "9 mA");
    assert_eq!(row.settings["frequency"], "200 kHz");
}

#[test]
fn a_loop_that_is_unstable_fails_whatever_its_margin() {
    let grows = Some("the closed loop is unstable".to_owned());
    let row = told(&[
        station("1 mA", Ok(Figure { condemned: grows, ..Figure::at(70.0, 1e5) })),
        station("9 mA", Ok(Figure::at(50.0, 2e5))),
    ]);
    assert_eq!((row.value, row.verdict), (Some(70.0), Verdict::Fail));
    assert!(row.reason.unwrap().contains("unstable"));
}

#[test]
fn a_condition_that_cannot_be_told_is_not_passed_over() {
    let row = told(&[
        station("1 mA", Ok(Figure::at(70.0, 1e5))),
        station("9 mA", Err(Absence::Unknown("not in regulation".to_owned()))),
    ]);
    assert_eq!((row.value, row.verdict), (None, Verdict::NotEvaluated));
    assert!(row.reason.unwrap().contains("not in regulation (at 9 mA)"));
}

#[test]
fn a_margin_without_end_passes_and_no_crossover_anywhere_is_not_evaluated() {
    let beyond = Absence::Beyond("none up to 1 MHz".to_owned());
    assert_eq!(told(&[station("1 mA", Err(beyond))]).verdict, Verdict::Pass);
    let harmless = Absence::Harmless("no crossover".to_owned());
    assert_eq!(told(&[station("1 mA", Err(harmless))]).verdict, Verdict::NotEvaluated);
}

//! The river gauge: what one page of a datasheet decides, and what it does not.

use super::{modelled, plan};
use railstep::study::model::Rests;

#[test]
fn a_page_decides_the_droop_but_not_the_phase_margin() {
    let plan = plan(include_str!("../../netlists/gauge-supply.toml"));
    let found = modelled(&plan, true);
    assert!(found.meets_all() && found.contradiction.is_none());
    assert!(found.ensemble.models.len() > 20, "{}", found.ensemble.models.len());
    let line = |test: &str, measurement: &str| {
        let is = |l: &&railstep::study::model::Line| l.test == test && l.measurement == measurement;
        found.lines.iter().find(is).unwrap_or_else(|| panic!("{test}: no {measurement}"))
    };
    // As the file announces beside its tests: 14 mV to 25 mV, and 23° to 44° by hand for four lag times.
    let droop = line("telegram", "droop");
    assert_eq!(droop.rests, Rests::OnSheet);
    let [low, high] = droop.range.expect("numbers");
    assert!(low > 10e-3 && high < 30e-3, "{low} {high}");
    let margin = line("stable with the radio", "phase_margin");
    assert_eq!(margin.rests, Rests::OnAssumed);
    let [low, high] = margin.range.expect("numbers");
    assert!(low < 23.0 && high > 44.0, "{low} {high}");
    let goes = margin.goes_with.as_ref().expect("it moves");
    // The sheet ties the two to one another: the longer the lag, the more gain above it.
    assert!(["U1.lag_time", "U1.mid_gain"].contains(&goes.0.as_str()), "{}", goes.0);
    let cured = line("stable, half an ohm in front of the radio's capacitor", "phase_margin");
    assert_eq!(cured.rests, Rests::OnSheet);
}

#[test]
fn a_file_without_tests_is_told_on_the_bench_what_its_sheet_leaves_open() {
    let whole = include_str!("../../netlists/gauge-supply.toml");
    let plan = plan(whole.split_once("[[tests]]").expect("it has tests").0);
    let found = modelled(&plan, true);
    let line = |measurement: &str| {
        let line = found.lines.iter().find(|l| l.measurement == measurement).expect(measurement);
        assert!(line.test.starts_with("on the bench, 15 mA"), "{}", line.test);
        assert_eq!(line.rests, Rests::Unasked);
        line.range.expect("numbers")
    };
    // Droop goes with the way of the gate, which the sheet's own step has nearly as long: 32 mV are asked
    // there. Phase margin has no such hold.
    let ([low, high], [least, most]) = (line("droop"), line("phase_margin"));
    assert!(low > 5e-3 && high < 64e-3 && low < high, "{low} {high}");
    assert!(most - least > 10.0, "{least} {most}");
}

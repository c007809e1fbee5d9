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
    // As the file announces beside its tests: 15 mV to 25 mV, and 23° to 44° by hand for four lag times.
    let droop = line("telegram", "droop");
    assert_eq!(droop.rests, Rests::OnSheet);
    let [low, high] = droop.range.expect("numbers");
    assert!(low > 10e-3 && high < 30e-3, "{low} {high}");
    let margin = line("stable with the radio", "phase_margin");
    assert_eq!(margin.rests, Rests::OnAssumed);
    let [low, high] = margin.range.expect("numbers");
    assert!(low < 23.0 && high > 44.0, "{low} {high}");
    let goes = margin.goes_with.as_ref().expect("it moves");
    assert_eq!(goes.0, "U1.lag_time");
    let cured = line("stable, half an ohm in front of the radio's capacitor", "phase_margin");
    assert_eq!(cured.rests, Rests::OnSheet);
}

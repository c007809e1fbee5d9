//! The verdicts that stand in the comments of the demo files.

use super::{BUOY, SENSOR, named, outcomes};
use railstep::analysis::Method;
use railstep::measure::Verdict;

/// Verdict of a test, and the measurements that fail in it without being advisory.
pub(crate) type Row = (&'static str, Verdict, &'static [&'static str]);

/// Every line of a test of stability.
const STABILITY: &[&str] = &["phase_margin", "gain_margin", "loop_distance"];

pub(crate) fn check(text: &'static str, rows: &[Row]) {
    let outcomes = outcomes(text, Method::Rodas4p, false);
    assert_eq!(outcomes.len(), rows.len());
    for (test, verdict, failing) in rows {
        let outcome = named(outcomes, test);
        assert_eq!(outcome.failure, None, "{test}");
        assert_eq!(outcome.verdict, *verdict, "{test}: {:#?}", outcome.measurements);
        let failed: Vec<&str> = outcome
            .measurements
            .iter()
            .filter(|m| m.verdict == Verdict::Fail && !m.advisory)
            .map(|m| m.name.as_str())
            .collect();
        assert_eq!(failed, *failing, "{test}");
    }
}

#[test]
fn the_buoy_has_the_verdicts_its_file_announces() {
    check(
        BUOY,
        &[
            ("receive idle", Verdict::Pass, &[]),
            ("transmit burst", Verdict::Pass, &[]),
            ("transmit burst, filtered edge", Verdict::Pass, &[]),
            ("transmit burst, end of discharge", Verdict::Pass, &[]),
            ("transmit burst, cold aged cell", Verdict::Fail, &["overshoot", "transient_window"]),
            ("charger connected", Verdict::Pass, &[]),
            ("receive then transmit", Verdict::Pass, &[]),
            ("cell runs down", Verdict::Pass, &[]),
            ("static load", Verdict::Pass, &[]),
            ("static load, end of discharge", Verdict::Pass, &[]),
            ("static line", Verdict::Pass, &[]),
            ("stable awake", Verdict::Pass, &[]),
            ("stable asleep", Verdict::Pass, &[]),
            ("stable with the radio's own capacitor", Verdict::Fail, &["phase_margin"]),
            ("stable, capacitance lost", Verdict::Pass, &[]),
            ("impedance transmitting", Verdict::Pass, &[]),
            ("impedance listening", Verdict::Pass, &[]),
            ("charger's ripple", Verdict::Pass, &[]),
            (
                "charger's ripple, empty cell",
                Verdict::Fail,
                &["ripple_rejection", "ripple_rejection"],
            ),
            ("quiet enough", Verdict::Pass, &[]),
            ("usable cell", Verdict::Marginal, &[]),
        ],
    );
}

#[test]
fn the_sensor_supply_has_the_verdicts_its_file_announces() {
    check(
        SENSOR,
        &[
            ("sensors idle", Verdict::Pass, &[]),
            ("sensor pulse", Verdict::Pass, &[]),
            ("sensor pulse, ceramic instead", Verdict::Fail, &["recovery"]),
            ("sensor pulse, cold", Verdict::Fail, &["droop", "overshoot", "transient_window"]),
            ("crank to 5.4 V", Verdict::Pass, &[]),
            ("crank to 5.0 V", Verdict::Fail, &["longest_below"]),
            ("bottom of the crank", Verdict::Pass, &[]),
            ("crank to 5.4 V, cold", Verdict::Fail, &["longest_below"]),
            ("fast return", Verdict::Pass, &[]),
            ("fast return, idle", Verdict::Pass, &[]),
            ("fast return, cold", Verdict::Fail, &["output_maximum"]),
            ("battery runs down", Verdict::Pass, &[]),
            ("static load", Verdict::Pass, &[]),
            ("static line", Verdict::Pass, &[]),
            ("stable, new", Verdict::Pass, &[]),
            ("stable, least ESR", Verdict::Pass, &[]),
            ("stable, worn out", Verdict::Pass, &[]),
            ("stable, cold", Verdict::Fail, STABILITY),
            ("stable, cold and worn out", Verdict::Fail, STABILITY),
            ("stable, cold, tantalum", Verdict::Pass, &[]),
            ("stable, ceramic instead", Verdict::Fail, &["phase_margin", "loop_distance"]),
            ("stable, with the sensors' own capacitors", Verdict::Pass, &[]),
            ("stable, with a good ceramic beside it", Verdict::Fail, &["phase_margin"]),
            ("impedance", Verdict::Pass, &[]),
            ("impedance, cold", Verdict::Fail, &["output_impedance_peak", "impedance_mask"]),
            ("ripple on the battery", Verdict::Pass, &[]),
            ("quiet enough", Verdict::Pass, &[]),
            ("usable battery", Verdict::Pass, &[]),
        ],
    );
}

#[test]
fn the_cold_cell_is_told_to_wind_up_and_the_crank_to_hold_the_base_at_its_limit() {
    let buoy = outcomes(BUOY, Method::Rodas4p, true);
    let cold = named(buoy, "transmit burst, cold aged cell").explanation.as_ref().unwrap();
    assert!(cold.limited_by.as_deref().unwrap().contains("wound up at its lower swing"));
    let sensor = outcomes(SENSOR, Method::Rodas4p, true);
    let (_, parts) = named(sensor, "bottom of the crank").at_rest.as_ref().unwrap();
    let amplifier = parts.iter().find(|p| p.name == "EA").unwrap();
    assert!(amplifier.regions.contains(&"at its drive limit"), "{:?}", amplifier.regions);
}

//! What is said beside a figure, and where the two ways of looking part: notes at their exact limits.

use super::*;

/// Falls by 0.1 V at 10 s to `lowest`, and stays at 0.9 V.
fn fall(lowest: f64) -> Waveform {
    let time_s = [0.0, 10.0, 11.0, 12.0, 100.0];
    lines(&time_s, &[("output", "V", &[1.0, 1.0, lowest, 0.9, 0.9])])
}

fn note(waveform: &Waveform) -> Option<String> {
    let scene = steps(waveform, TestKind::LoadStep, &[(10.0, 1.0)], 100.0);
    row(&measure(&scene, &[]), "droop").reason.clone()
}

#[test]
fn a_lowest_value_within_a_thousandth_of_the_droop_has_no_time() {
    // A droop of 100 mV: 0.05 mV below the settled level are half a thousandth of it, 0.2 mV are two.
    let words = note(&fall(0.9 - 0.05e-3)).unwrap_or_default();
    assert!(words.contains("settles without undershoot"), "{words}");
    assert_eq!(note(&fall(0.9 - 0.2e-3)), None);
}

#[test]
fn exact_a_source_that_falls_first_is_looked_at_after_each_edge() {
    let waveform = fall(0.8);
    let droop = |kind| {
        let scene = steps(&waveform, kind, &[(10.0, -1.0)], 100.0);
        row(&measure(&scene, &[]), "droop").value
    };
    close(droop(TestKind::LineStep).unwrap(), 0.2, 1e-12);
    // Of a load it is a release, after which nothing is looked for low.
    assert_eq!(droop(TestKind::LoadStep), None);
}

#[test]
fn exact_of_two_equal_peaks_the_first_is_reported() {
    let time_s = [0.0, 10.0, 11.0, 12.0, 20.0, 30.0, 31.0, 32.0, 40.0];
    let output = [1.0, 1.0, 1.25, 1.0, 1.0, 1.0, 1.25, 1.0, 1.0];
    let waveform = lines(&time_s, &[("output", "V", &output)]);
    let edges = [(10.0, -1.0), (20.0, 1.0), (30.0, -1.0)];
    let scene = steps(&waveform, TestKind::LoadStep, &edges, 40.0);
    let rows = measure(&scene, &[]);
    close(value(&rows, "overshoot"), 0.25, 1e-12);
    assert_eq!(row(&rows, "overshoot").at_s, Some(11.0));
}

/// At 0.98 V throughout, of a rail of 0.8 V.
fn at_rest(waveform: &Waveform) -> Scene<'_> {
    let rail = RailView {
        nominal_v: Some(0.8),
        window: Bound::Within { low_v: 0.9, high_v: 1.0 },
        ..RailView::default()
    };
    Scene { rail, ..steps(waveform, TestKind::OperatingPoint, &[], 1.0) }
}

#[test]
fn exact_the_error_of_a_rest_is_a_share_of_nominal() {
    let waveform = lines(&[0.0, 1.0], &[("output", "V", &[0.98, 0.98])]);
    let scene = at_rest(&waveform);
    let rows = measure(&scene, &[]);
    close(value(&rows, "output_error"), 0.18 / 0.8, 1e-12);
    close(value(&rows, "window"), 0.02, 1e-12);
}

/// Swings by ±`amplitude` about 1 V, four times as fast as the last fifth of a hundred seconds is long.
fn swing(amplitude: f64) -> Waveform {
    let time_s: Vec<f64> = (0..=200).map(|k| f64::from(k) * 0.5).collect();
    let swing = |k: i32| [0.0, amplitude, 0.0, -amplitude][(k % 4) as usize];
    let output: Vec<f64> = (0..=200).map(|k| 1.0 + swing(k)).collect();
    lines(&time_s, &[("output", "V", &output)])
}

#[test]
fn exact_what_still_moves_by_more_than_a_thousandth_of_nominal_does_not_settle() {
    let late = |amplitude, inputs_hold| {
        let waveform = swing(amplitude);
        let scene = Scene { inputs_hold, ..steps(&waveform, TestKind::Profile, &[], 100.0) };
        let rows = measure(&scene, &[]);
        close(value(&rows, "late_ripple"), 2.0 * amplitude, 1e-12);
        row(&rows, "late_ripple").reason.clone().unwrap_or_default()
    };
    // Of 1 V, 1 mV from peak to peak is allowed.
    assert_eq!(late(0.49e-3, true), "");
    // A period is four samples of half a second.
    let words = late(0.51e-3, true);
    assert!(words.contains("1.02 mV peak to peak at 500 mHz"), "{words}");
    let words = late(0.51e-3, false);
    assert!(words.contains("a source or load that varies keeps it moving"), "{words}");
}

//! Starts and ends of a rail on straight lines, where every answer is a sum on paper.

use super::*;
use crate::waveform::Window as W;

/// A start at 10 s (or the end of a rail) that is watched to `end_s`.
fn switched(waveform: &Waveform, kind: TestKind, end_s: f64) -> Scene<'_> {
    let [ahead, behind] = match kind {
        TestKind::StartUp => [Role::Unpowered, Role::Running],
        _ => [Role::Running, Role::Unpowered],
    };
    let dwell = |from_s, to_s, role| Dwell { window: W::new(from_s, to_s), role };
    let change = if kind == TestKind::StartUp { 5.0 } else { -5.0 };
    Scene {
        edges: vec![Edge { start_s: 10.0, end_s: 11.0, change }],
        dwells: vec![dwell(0.0, 10.0, ahead), dwell(11.0, end_s, behind)],
        rail: RailView {
            nominal_v: Some(1.0),
            window: Bound::Within { low_v: 0.9, high_v: 1.1 },
            ..RailView::default()
        },
        ..steps(waveform, kind, &[], end_s)
    }
}

const TIMES: [f64; 9] = [0.0, 10.0, 12.0, 13.0, 15.0, 17.0, 18.0, 20.0, 110.0];
/// Up to 0.7 V, back to 0.4 V, on to 1.2 V, down to 0.95 V, settles at 1 V.
const UP: [f64; 9] = [0.0, 0.0, 0.7, 0.4, 1.2, 0.95, 1.0, 1.0, 1.0];
/// The input comes to 2 V, falls to 1.5 V as the rail starts, ends at 1.9 V.
const INPUT: [f64; 9] = [0.0, 0.0, 2.0, 1.5, 1.9, 1.9, 1.9, 1.9, 1.9];
/// 3 A at its peak, 1 A in the end.
const SOURCE: [f64; 9] = [0.0, 0.0, 3.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0];

#[test]
fn exact_rows_of_a_start_in_straight_lines() {
    let waveform = lines(
        &TIMES,
        &[("output", "V", &UP), ("input", "V", &INPUT), ("source_current", "A", &SOURCE)],
    );
    let scene = switched(&waveform, TestKind::StartUp, 110.0);
    let rows = measure(&scene, &[with_band("start_settling", 100.0, 0.02)]);
    for (name, wanted) in [
        ("settled_level", 1.0),
        // 0.4 V to 1.2 V in 2 s passes 0.95 V after 0.55/0.8 of it.
        ("start_time", 3.0 + 2.0 * 0.55 / 0.8),
        // From 0.95 V to 1 V in 1 s: into 0.98 V after 0.6 of it.
        ("start_settling", 7.0 + 0.6),
        ("start_dip", 0.3),
        ("start_overshoot", 0.2),
        ("inrush_peak", 3.0),
        // ∫(i² − 1): i from 0 to 3 in 2 s is above 1 for 4/3 s: (27 − 1)/3·(2/3) − 4/3 = 40/9; from 3 to 1
        // in 1 s: 26/6 − 1 = 10/3.
        ("inrush_i2t", 40.0 / 9.0 + 10.0 / 3.0),
        // From the 1.9 V where it settles, though it had been at 2 V.
        ("source_sag", 0.4),
        // Through 0.5 V on the way from 0.7 V to 0.4 V.
        ("chatter", 1.0),
        ("window", 0.1),
        // Only above: 1.1 V − 1.2 V.
        ("transient_window", -0.1),
    ] {
        close(value(&rows, name), wanted, 1e-12);
    }
    assert_eq!(row(&rows, "start_dip").at_s, Some(13.0));
}

#[test]
fn a_rail_that_rests_below_its_window_is_stuck_and_fails_what_is_asked() {
    let times = [0.0, 10.0, 12.0, 110.0];
    let waveform = lines(&times, &[("output", "V", &[0.0, 0.0, 0.32, 0.32])]);
    let scene = switched(&waveform, TestKind::StartUp, 110.0);
    let rows = measure(&scene, &[at_most("start_time", 5.0), at_most("start_dip", 0.1)]);
    for name in ["start_time", "start_dip"] {
        let row = row(&rows, name);
        assert_eq!((row.value, row.verdict), (None, Verdict::Fail), "{name}");
        assert_eq!(row.reason.as_deref(), Some("stuck at 320 mV"), "{name}");
    }
    assert_eq!(row(&rows, "window").verdict, Verdict::Fail);
    close(value(&rows, "chatter"), 0.0, 0.0);
    let mut high = switched(&waveform, TestKind::StartUp, 110.0);
    high.rail.window = Bound::Within { low_v: 0.1, high_v: 0.2 };
    let rows = measure(&high, &[at_most("start_time", 5.0)]);
    let reason = row(&rows, "start_time").reason.clone();
    assert_eq!(reason.as_deref(), Some("settles at 320 mV, beyond the window"));
}

/// Without a window nominal decides: at 90 % of it a rail is where it is for.
#[test]
fn a_rail_without_a_window_is_stuck_below_nine_tenths_of_nominal() {
    let times = [0.0, 10.0, 12.0, 110.0];
    for (level, is_stuck) in [(0.183, true), (0.6, true), (0.89, true), (0.91, false), (1.2, false)]
    {
        let waveform = lines(&times, &[("output", "V", &[0.0, 0.0, level, level])]);
        for window in [Bound::NotGiven, Bound::Off] {
            let mut scene = switched(&waveform, TestKind::StartUp, 110.0);
            scene.rail.window = window;
            let asked = [at_most("start_time", 5.0), at_most("start_overshoot", 0.1)];
            let rows = measure(&scene, &asked);
            for name in ["start_time", "start_overshoot"] {
                let row = row(&rows, name);
                let wanted = if is_stuck { Verdict::Fail } else { Verdict::Pass };
                assert_eq!(
                    (row.value.is_none(), row.verdict),
                    (is_stuck, wanted),
                    "{name} {level}"
                );
                let told = row.reason.as_deref().is_some_and(|r| r.starts_with("stuck at "));
                assert_eq!(told, is_stuck, "{:?}", row.reason);
            }
            // What is not known is not held against it.
            scene.rail.nominal_v = None;
            let rows = measure(&scene, &[at_most("start_time", 5.0)]);
            assert_eq!(row(&rows, "start_time").verdict, Verdict::Pass, "{level}");
        }
    }
}

#[test]
fn a_start_that_drifts_or_swings_does_not_settle() {
    let times = [0.0, 10.0, 12.0, 110.0];
    let drifting = lines(&times, &[("output", "V", &[0.0, 0.0, 0.5, 1.0])]);
    let scene = switched(&drifting, TestKind::StartUp, 110.0);
    // The limit passes within what was watched: it fails; a longer one cannot be told.
    let rows = measure(&scene, &[at_most("start_time", 5.0), at_most("start_time", 500.0)]);
    let starts: Vec<_> = rows.iter().filter(|r| r.name == "start_time").collect();
    assert_eq!(starts[0].verdict, Verdict::Fail);
    assert_eq!(starts[1].verdict, Verdict::NotEvaluated);
    assert!(starts[0].reason.as_ref().unwrap().contains("running dwell has not settled"));

    let times: Vec<f64> = (0..=220).map(|k| 0.5 * f64::from(k)).collect();
    let level = |t: &f64| if *t <= 10.0 { 0.0 } else { 1.0 + 0.05 * (2.0 * t).sin() };
    let levels: Vec<f64> = times.iter().map(level).collect();
    let swinging = lines(&times, &[("output", "V", &levels)]);
    let scene = switched(&swinging, TestKind::StartUp, 110.0);
    let rows = measure(&scene, &[at_most("start_time", 500.0)]);
    let row = row(&rows, "start_time");
    assert_eq!(row.verdict, Verdict::Fail);
    let reason = row.reason.as_ref().unwrap();
    assert!(reason.starts_with("does not settle: it oscillates"), "{reason}");
}

#[test]
fn exact_rows_of_the_end_of_a_rail_in_straight_lines() {
    let times = [0.0, 10.0, 20.0, 30.0, 40.0];
    let waveform = lines(
        &times,
        &[
            ("output", "V", &[1.0, 1.0, 0.8, 0.0, 0.0]),
            ("pass_current", "A", &[1.0, 1.0, -2.0, 0.0, 0.0]),
        ],
    );
    let scene = switched(&waveform, TestKind::PowerDown, 40.0);
    let rows = measure(&scene, &[]);
    for (name, wanted) in [
        ("hold_up", 5.0),
        // 0.8 V to 0 V in 10 s passes 0.1 V after 7/8 of it.
        ("discharge_time", 10.0 + 8.75),
        ("reverse_current_peak", 2.0),
        // 0 to −2 A in 2/3 of 10 s, −2 A to 0 in 10 s: 4/3 A² times 50/3 s.
        ("reverse_i2t", 4.0 / 3.0 * (20.0 / 3.0 + 10.0)),
        ("output_minimum", 0.0),
        // Of the level before.
        ("window", 0.1),
    ] {
        close(value(&rows, name), wanted, 1e-12);
    }
}

#[test]
fn what_has_not_happened_when_the_record_ends_is_held_against_its_limit() {
    let times = [0.0, 10.0, 40.0];
    let waveform = lines(&times, &[("output", "V", &[1.0, 1.0, 0.95])]);
    let scene = switched(&waveform, TestKind::PowerDown, 40.0);
    let at_least = |limit| Requirement::new("hold_up", Limit::AtLeast(limit));
    let rows = measure(
        &scene,
        &[
            at_least(20.0),
            at_least(60.0),
            at_most("hold_up", 20.0),
            at_most("discharge_time", 20.0),
        ],
    );
    let verdicts: Vec<Verdict> =
        rows.iter().filter(|r| r.name == "hold_up").map(|r| r.verdict).collect();
    assert_eq!(verdicts, [Verdict::Pass, Verdict::NotEvaluated, Verdict::Fail]);
    assert_eq!(row(&rows, "hold_up").reason.as_deref(), Some("still in the window after 30 s"));
    let discharge = row(&rows, "discharge_time");
    assert_eq!(discharge.verdict, Verdict::Fail);
    assert_eq!(discharge.reason.as_deref(), Some("still at 950 mV after 30 s"));
    // No pass device: nothing is made up.
    assert!(row(&rows, "reverse_current_peak").value.is_none());
}

/// A rail of −1 V counts as one of 1 V turned over.
#[test]
fn a_negative_rail_starts_downwards() {
    let times = [0.0, 10.0, 12.0, 13.0, 15.0, 110.0];
    let waveform = lines(&times, &[("output", "V", &[0.0, 0.0, -0.7, -0.4, -1.0, -1.0])]);
    let mut scene = switched(&waveform, TestKind::StartUp, 110.0);
    scene.rail.nominal_v = Some(-1.0);
    scene.rail.window = Bound::Within { low_v: -1.1, high_v: -0.9 };
    let rows = measure(&scene, &[]);
    close(value(&rows, "start_dip"), 0.3, 1e-12);
    close(value(&rows, "chatter"), 1.0, 0.0);
    // 0.4 V to 1 V in 2 s passes 0.95 V after 0.55/0.6 of it.
    close(value(&rows, "start_time"), 3.0 + 2.0 * 0.55 / 0.6, 1e-12);
    // The lowest value is −1 V: 0.1 V inside.
    close(value(&rows, "transient_window"), 0.1, 1e-12);
}

//! Definitions and their edge cases on straight lines, where every answer is a sum on paper.

use super::*;

/// Load rises at 10 s and falls at 110 s: dips to 0.90 V, rings back to 0.99 V, settles at
/// 0.98 V; then shoots up to 1.05 V and comes back to 1.00 V.
const TIMES: [f64; 12] =
    [0.0, 10.0, 10.0, 12.0, 14.0, 20.0, 110.0, 110.0, 112.0, 120.0, 160.0, 210.0];
const OUTPUT: [f64; 12] = [1.0, 1.0, 0.95, 0.90, 0.99, 0.98, 0.98, 1.0, 1.05, 1.0, 1.0, 1.0];
const LOADING_FIRST: [(f64, f64); 2] = [(10.0, 1.0), (110.0, -1.0)];

fn wave() -> Waveform {
    lines(&TIMES, &[("output", "V", &OUTPUT)])
}

fn with_level(name: &str, level: f64) -> Requirement {
    Requirement { level: Some(level), ..at_most(name, 100.0) }
}

#[test]
fn exact_rows_of_a_load_step_in_straight_lines() {
    let waveform = wave();
    let scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    let rows = measure(
        &scene,
        &[
            with_band("recovery", 10.0, 0.015),
            with_band("release_recovery", 10.0, 0.015),
            with_level("longest_below", 0.95),
            with_level("total_below", 0.95),
            with_level("longest_above", 1.02),
        ],
    );
    for (name, wanted) in [
        ("before_level", 1.0),
        ("loaded_level", 0.98),
        ("released_level", 1.0),
        ("droop", 0.10),
        ("ring_back", 0.01),
        ("overshoot", 1.05 - 0.98),
        ("static_change", -0.02),
        ("output_minimum", 0.90),
        ("output_maximum", 1.05),
        ("late_ripple", 0.0),
        // 0.90 V to 0.99 V in 2 s passes 0.98 V − 15 mV after 0.065/0.09 of it.
        ("recovery", 2.0 + 2.0 * 0.065 / 0.09),
        // 1.05 V to 1.00 V in 8 s passes 1.00 V + 15 mV after 0.035/0.05 of it.
        ("release_recovery", 2.0 + 8.0 * 0.7),
        ("longest_below", 2.0 + 2.0 * 0.05 / 0.09),
        ("total_below", 2.0 + 2.0 * 0.05 / 0.09),
        // 1.02 V is passed 0.8 s after the edge and again 4.8 s after the peak.
        ("longest_above", 1.2 + 4.8),
    ] {
        close(value(&rows, name), wanted, 1e-12);
    }
    assert_eq!(row(&rows, "droop").at_s, Some(12.0));
    assert_eq!(row(&rows, "ring_back").at_s, Some(14.0));
    assert_eq!(row(&rows, "overshoot").at_s, Some(112.0));
}

#[test]
fn exact_recovery_counts_the_last_entry_and_two_bands_give_two_rows() {
    let waveform = wave();
    let scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    // The narrow band is left again by the ring-back and entered for good at 17 s.
    let both = [with_band("recovery", 10.0, 0.015), with_band("recovery", 10.0, 0.005)];
    let found: Vec<Measurement> =
        measure(&scene, &both).into_iter().filter(|m| m.name == "recovery").collect();
    assert_eq!(found.len(), 2);
    assert_eq!(found[0].settings["band"], "15 mV");
    assert_eq!(found[1].settings["band"], "5 mV");
    assert_eq!(found[1].settings["about"], "settled");
    close(found[1].value.unwrap(), 7.0, 1e-12);
    close(found[1].at_s.unwrap(), 17.0, 1e-12);
}

#[test]
fn exact_edges_are_told_by_sign_and_not_by_order() {
    // The same record read as a test that starts loaded: the first edge releases.
    let waveform = wave();
    let edges = [(10.0, -1.0), (110.0, 1.0)];
    let scene = steps(&waveform, TestKind::LoadStep, &edges, 210.0);
    let rows = measure(&scene, &[with_band("recovery", 10.0, 0.015)]);
    close(value(&rows, "loaded_level"), 0.98, 1e-12);
    // Loading edge at 110 s: the lowest value after it is 1.00 V, ahead of it 0.98 V.
    close(value(&rows, "droop"), -0.02, 1e-12);
    close(value(&rows, "overshoot"), -0.01, 1e-12);
    close(value(&rows, "recovery"), 2.0 + 8.0 * 0.7, 1e-12);
}

#[test]
fn exact_line_step_looks_after_both_edges() {
    let waveform = wave();
    let scene = steps(&waveform, TestKind::LineStep, &LOADING_FIRST, 210.0);
    let about = |about| Requirement { about: Some(about), ..at_most("overshoot", 1.0) };
    let rows = measure(
        &scene,
        &[
            about(About::Before),
            about(About::Settled),
            about(About::Nominal),
            with_band("recovery", 10.0, 0.015),
        ],
    );
    close(value(&rows, "droop"), 0.1, 1e-12);
    let overshoots: Vec<f64> =
        rows.iter().filter(|m| m.name == "overshoot").filter_map(|m| m.value).collect();
    for found in overshoots {
        close(found, 0.05, 1e-12);
    }
    // The longer of both edges.
    close(value(&rows, "recovery"), 2.0 + 8.0 * 0.7, 1e-12);
    assert!(rows.iter().all(|m| m.name != "ring_back" && m.name != "release_recovery"));
}

#[test]
fn exact_the_worst_of_repeated_pulses_is_reported() {
    let times = [0.0, 10.0, 11.0, 12.0, 20.0, 21.0, 22.0, 30.0, 31.0, 32.0, 40.0, 41.0, 42.0, 50.0];
    let output = [1.0, 1.0, 0.9, 1.0, 1.0, 1.04, 1.0, 1.0, 0.8, 0.99, 0.99, 1.07, 1.0, 1.0];
    let waveform = lines(&times, &[("output", "V", &output)]);
    let edges = [(10.0, 1.0), (20.0, -1.0), (30.0, 1.0), (40.0, -1.0)];
    let scene = steps(&waveform, TestKind::LoadStep, &edges, 50.0);
    let rows = measure(&scene, &[with_band("recovery", 10.0, 0.01)]);
    close(value(&rows, "droop"), 0.2, 1e-12);
    assert_eq!(row(&rows, "droop").at_s, Some(31.0));
    close(value(&rows, "loaded_level"), 0.99, 1e-12);
    close(value(&rows, "overshoot"), 0.08, 1e-12);
    // Second pulse: 0.8 V to 0.99 V in 1 s passes 0.98 V after 18/19 of it; first: 0.9 of it.
    close(value(&rows, "recovery"), 1.0 + 0.18 / 0.19, 1e-12);
}

#[test]
fn a_rail_that_never_leaves_the_band_recovers_in_no_time_and_says_so() {
    let waveform = wave();
    let scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    let rows = measure(&scene, &[with_band("recovery", 1.0, 0.2)]);
    let found = row(&rows, "recovery");
    assert_eq!(found.value, Some(0.0));
    assert_eq!(found.verdict, Verdict::Pass);
    assert_eq!(found.reason.as_deref(), Some("stayed within the band"));
}

/// Falls by 0.1 V at 10 s and creeps up by 50 mV until 110 s.
fn creeping() -> Waveform {
    lines(&[0.0, 10.0, 10.0, 110.0], &[("output", "V", &[1.0, 1.0, 0.9, 0.95])])
}

#[test]
fn an_unsettled_dwell_fails_a_shorter_limit_and_cannot_judge_a_longer_one() {
    let waveform = creeping();
    let scene = steps(&waveform, TestKind::LoadStep, &[(10.0, 1.0)], 110.0);
    let verdict = |limit: f64| {
        let rows = measure(&scene, &[with_band("recovery", limit, 0.02)]);
        let found = row(&rows, "recovery").clone();
        assert_eq!(found.value, None);
        (found.verdict, found.reason.unwrap())
    };
    let (failed, words) = verdict(50.0);
    assert_eq!(failed, Verdict::Fail);
    assert!(words.contains("has not settled") && words.contains("50 mV"), "{words}");
    let (unknown, words) = verdict(150.0);
    assert_eq!(unknown, Verdict::NotEvaluated);
    assert!(words.contains("shorter than the limit"), "{words}");
    // What rests on the level is not told either.
    let rows = measure(&scene, &[at_most("ring_back", 1.0)]);
    assert_eq!(row(&rows, "ring_back").verdict, Verdict::NotEvaluated);
    assert!(!row(&rows, "ring_back").advisory);
    assert_eq!(row(&rows, "loaded_level").verdict, Verdict::NotEvaluated);
    assert!(row(&rows, "loaded_level").advisory);
    close(value(&rows, "droop"), 0.1, 1e-12);
}

#[test]
fn a_drifting_first_dwell_refuses_the_droop() {
    let waveform = lines(&[0.0, 10.0, 12.0, 110.0], &[("output", "V", &[1.0, 1.01, 0.9, 1.0])]);
    let scene = steps(&waveform, TestKind::LoadStep, &[(10.0, 1.0)], 110.0);
    let rows = measure(&scene, &[at_most("droop", 0.2)]);
    let found = row(&rows, "droop");
    assert_eq!((found.value, found.verdict), (None, Verdict::NotEvaluated));
    assert!(found.reason.as_deref().unwrap().contains("before dwell"));
}

#[test]
fn settling_beside_nominal_never_recovers_about_nominal() {
    let waveform = wave();
    let scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    let nominal =
        Requirement { about: Some(About::Nominal), ..with_band("recovery", 1000.0, 0.015) };
    let rows = measure(&scene, &[nominal]);
    let found = row(&rows, "recovery");
    assert_eq!((found.value, found.verdict), (None, Verdict::Fail));
    assert!(found.reason.as_deref().unwrap().contains("980 mV"), "{:?}", found.reason);
}

/// Rings for ever: 20 mV peak to peak at 5 Hz after a step at 10 s.
fn ringing_for_ever() -> Waveform {
    let mut times = vec![0.0];
    let mut values = vec![1.0];
    for k in 0..=4000 {
        let t = f64::from(k) * 0.005;
        times.push(10.0 + t);
        values.push(1.0 - 0.01 * (std::f64::consts::TAU * 5.0 * t).sin());
    }
    lines(&times, &[("output", "V", &values)])
}

#[test]
fn an_oscillating_rail_fails_in_words_unless_something_drives_it() {
    let waveform = ringing_for_ever();
    let mut scene = steps(&waveform, TestKind::LoadStep, &[(10.0, 1.0)], 30.0);
    scene.rail.window = Bound::Within { low_v: 0.9, high_v: 1.1 };
    let requirements = [with_band("recovery", 1000.0, 0.002), with_band("recovery", 5.0, 0.05)];
    let rows = measure(&scene, &requirements);
    for found in rows.iter().filter(|m| m.name == "recovery" || m.name == "window") {
        assert_eq!(found.verdict, Verdict::Fail, "{found:?}");
        let words = found.reason.as_deref().unwrap();
        assert!(words.contains("oscillates: 20 mV peak to peak at 5 Hz"), "{words}");
    }
    close(value(&rows, "late_ripple"), 0.02, 1e-4);
    assert!(row(&rows, "late_ripple").reason.as_deref().unwrap().contains("does not settle"));
    // The same trace under a source that varies is ripple, not oscillation.
    scene.inputs_hold = false;
    let rows = measure(&scene, &requirements[1..]);
    assert_eq!(row(&rows, "recovery").verdict, Verdict::Pass);
    assert_eq!(row(&rows, "window").verdict, Verdict::Pass);
}

#[test]
fn a_ringing_that_dies_away_is_no_oscillation() {
    let mut times = vec![0.0];
    let mut values = vec![1.0];
    for k in 0..=4000 {
        let t = f64::from(k) * 0.005;
        times.push(10.0 + t);
        values.push(1.0 - 0.1 * (-t / 10.0).exp() * (std::f64::consts::TAU * 5.0 * t).sin());
    }
    let waveform = lines(&times, &[("output", "V", &values)]);
    let scene = steps(&waveform, TestKind::LoadStep, &[(10.0, 1.0)], 30.0);
    let rows = measure(&scene, &[with_band("recovery", 15.0, 0.05)]);
    assert_eq!(row(&rows, "recovery").verdict, Verdict::Pass, "{:?}", row(&rows, "recovery"));
}

#[test]
fn exact_windows_judge_settled_levels_and_every_instant_apart() {
    let waveform = wave();
    let mut scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    scene.rail.window = Bound::Within { low_v: 0.95, high_v: 1.03 };
    let rows = measure(&scene, &[]);
    let settled = row(&rows, "window");
    close(settled.value.unwrap(), 0.03, 1e-12);
    assert_eq!(settled.verdict, Verdict::Pass);
    assert_eq!(settled.margin, None);
    assert_eq!(settled.limit.as_deref(), Some(">= 0 V"));
    assert_eq!(settled.settings["window"], "950 mV .. 1.03 V");
    // Without a window of its own the static one holds for every instant: 50 mV below it.
    let instant = row(&rows, "transient_window");
    close(instant.value.unwrap(), -0.05, 1e-12);
    assert_eq!((instant.at_s, instant.verdict), (Some(12.0), Verdict::Fail));
    assert_eq!(overall(&rows), Verdict::Fail);
    scene.rail.transient_window = Bound::Off;
    let rows = measure(&scene, &[]);
    let off = row(&rows, "transient_window");
    assert_eq!((off.verdict, off.advisory), (Verdict::NotEvaluated, true));
    assert_eq!(overall(&rows), Verdict::Pass);
}

#[test]
fn settling_outside_the_window_fails_the_window_and_the_recovery() {
    let waveform = wave();
    let mut scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    scene.rail.window = Bound::Within { low_v: 0.99, high_v: 1.03 };
    let rows = measure(&scene, &[with_band("recovery", 10.0, 0.015)]);
    close(value(&rows, "window"), -0.01, 1e-12);
    for name in ["window", "recovery"] {
        assert_eq!(row(&rows, name).verdict, Verdict::Fail);
        let words = row(&rows, name).reason.as_deref().unwrap();
        assert!(words.contains("980 mV") && words.contains("outside the window"), "{words}");
    }
}

/// A rail upside down is told in the same words: latched near 0 V, and only there.
#[test]
fn exact_a_negative_rail_has_latched_near_zero_and_not_beyond_its_window() {
    for (level, is_latched) in [(0.3, true), (0.8, false), (1.2, false)] {
        for sign in [1.0, -1.0] {
            let waveform = lines(&[0.0, 100.0], &[("output", "V", &[sign * level; 2])]);
            let mut scene = steps(&waveform, TestKind::LoadStep, &[(10.0, 1.0)], 100.0);
            let [a, b] = [0.95 * sign, 1.05 * sign];
            scene.rail.nominal_v = Some(sign);
            scene.rail.window = Bound::Within { low_v: a.min(b), high_v: a.max(b) };
            let rows = measure(&scene, &[with_band("recovery", 10.0, 0.01)]);
            let words = row(&rows, "recovery").reason.as_deref().unwrap();
            assert!(words.contains("outside the window"), "{words}");
            assert_eq!(words.contains("latched"), is_latched, "{}: {words}", sign * level);
        }
    }
}

#[test]
fn exact_profile_takes_the_end_of_its_record() {
    let waveform = lines(&[0.0, 50.0, 100.0], &[("output", "V", &[0.0, 1.0, 1.0])]);
    let mut scene = steps(&waveform, TestKind::Profile, &[], 100.0);
    scene.dwells.clear();
    scene.rail.window = Bound::Within { low_v: 0.9, high_v: 1.05 };
    scene.rail.transient_window = Bound::Off;
    let rows = measure(&scene, &[with_level("total_below", 0.5)]);
    close(value(&rows, "window"), 0.05, 1e-12);
    close(value(&rows, "total_below"), 25.0, 1e-12);
    assert_eq!(row(&rows, "output_minimum").value, Some(0.0));
    assert!(rows.iter().all(|m| m.name != "droop"));
}

#[test]
fn exact_operating_point_rows() {
    let waveform = lines(
        &[0.0],
        &[
            ("output", "V", &[0.98]),
            ("input", "V", &[1.5]),
            ("pass_power", "W", &[0.052]),
            ("source_current", "A", &[0.11]),
            ("source_power", "W", &[0.165]),
            ("load_current", "A", &[0.1]),
            ("load_power", "W", &[0.098]),
        ],
    );
    let scene = steps(&waveform, TestKind::OperatingPoint, &[], 0.0);
    let rows = measure(&scene, &[]);
    for (name, wanted) in [
        ("output_level", 0.98),
        ("output_error", -0.02),
        ("headroom", 0.52),
        ("headroom_minimum", 0.52),
        ("pass_power_peak", 0.052),
        ("pass_power_mean", 0.052),
        ("efficiency", 0.098 / 0.165),
        ("ground_current", 0.01),
    ] {
        close(value(&rows, name), wanted, 1e-15);
    }
    assert_eq!(overall(&rows), Verdict::NoRequirements);
}

#[test]
fn exact_powers_and_currents_over_the_loaded_tail() {
    let times = [0.0, 10.0, 10.0, 100.0, 110.0, 110.0, 210.0];
    let waveform = lines(
        &times,
        &[
            ("output", "V", &[1.0; 7]),
            ("input", "V", &[2.0, 2.0, 1.8, 1.6, 1.6, 1.9, 2.0]),
            // Rises by 2 W over the last tenth of the loaded dwell: mean 5 W.
            ("pass_power", "W", &[1.0, 1.0, 9.0, 4.0, 6.0, 1.0, 1.0]),
            ("source_current", "A", &[0.1, 0.1, 1.3, 1.1, 1.1, 0.1, 0.1]),
            ("supply_current", "A", &[0.01; 7]),
            ("source_power", "W", &[0.2, 0.2, 2.0, 1.0, 3.0, 0.2, 0.2]),
            ("load_current", "A", &[0.0, 0.0, 1.0, 1.0, 1.0, 0.0, 0.0]),
            ("load_power", "W", &[0.0, 0.0, 1.0, 1.0, 1.0, 0.0, 0.0]),
        ],
    );
    let mut scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    scene.rail.has_supplies = true;
    let rows = measure(&scene, &[]);
    for (name, wanted) in [
        ("pass_power_peak", 9.0),
        ("pass_power_mean", 5.0),
        ("source_current_peak", 1.3),
        ("efficiency", 0.5),
        ("ground_current", 0.11),
        ("headroom_minimum", 0.6),
        ("input_minimum", 1.6),
        ("input_maximum", 2.0),
    ] {
        close(value(&rows, name), wanted, 1e-12);
    }
}

#[test]
fn what_the_file_lacks_is_said_and_counts_only_if_it_is_required() {
    let waveform = wave();
    let scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    let rows = measure(&scene, &[at_most("pass_power_peak", 1.0), at_most("droop", 0.2)]);
    let required = row(&rows, "pass_power_peak");
    assert_eq!((required.verdict, required.advisory), (Verdict::NotEvaluated, false));
    assert_eq!(required.reason.as_deref(), Some("`[rail]` names no `pass`"));
    let unasked = row(&rows, "input_minimum");
    assert_eq!((unasked.verdict, unasked.advisory), (Verdict::NotEvaluated, true));
    assert_eq!(overall(&rows), Verdict::NotEvaluated);
    // A band or level that is asked for and not given is told too.
    let words = row(&rows, "recovery").reason.as_deref().unwrap();
    assert!(words.contains("needs a band"), "{words}");
    // A measurement of another kind of test is a row, too.
    let rows = measure(&scene, &[at_most("output_level", 1.0)]);
    assert_eq!(row(&rows, "output_level").verdict, Verdict::NotEvaluated);
}

#[test]
fn settling_from_one_side_leaves_the_time_of_the_lowest_value_open() {
    let waveform = lines(&[0.0, 10.0, 12.0, 110.0], &[("output", "V", &[1.0, 1.0, 0.9, 0.9])]);
    let scene = steps(&waveform, TestKind::LoadStep, &[(10.0, 1.0)], 110.0);
    let rows = measure(&scene, &[]);
    close(value(&rows, "droop"), 0.1, 1e-12);
    assert!(row(&rows, "droop").reason.as_deref().unwrap().contains("without undershoot"));
}

#[test]
fn instants_are_the_extremes_and_crossings_between_samples() {
    let waveform = wave();
    let scene = steps(&waveform, TestKind::LoadStep, &LOADING_FIRST, 210.0);
    assert_eq!(find(&scene, &[]).instants(&scene), [0.0; 0]);
    let found = find(&scene, &[with_level("longest_above", 1.02)]).instants(&scene);
    assert_eq!(found.len(), 2);
    close(found[0], 110.8, 1e-12);
    close(found[1], 116.8, 1e-12);
}

/// Stress is the peak of either sign, of the worst or of the one asked for.
#[test]
fn exact_capacitor_stress_is_the_peak_of_either_sign() {
    let waveform = lines(
        &[0.0, 1.0, 2.0, 3.0],
        &[
            ("output", "V", &[1.0; 4]),
            ("capacitor_stress.C1", "1", &[0.2, 0.5, 0.4, 0.4]),
            ("capacitor_stress.C2", "1", &[0.1, 0.1, -0.7, 0.1]),
        ],
    );
    let scene = steps(&waveform, TestKind::Profile, &[], 3.0);
    let of =
        |part: &str| Requirement { of: Some(part.to_owned()), ..at_most("capacitor_stress", 0.6) };
    let found = |asked: &[Requirement]| {
        let rows = measure(&scene, asked);
        rows.into_iter().filter(|m| m.name == "capacitor_stress").collect::<Vec<_>>()
    };
    let worst = &found(&[])[0];
    assert_eq!((worst.value, worst.at_s), (Some(0.7), Some(2.0)));
    assert_eq!(worst.reason.as_deref(), Some("worst of all: `C2`"));
    let each = found(&[of("C1"), of("C2"), of("C3")]);
    assert_eq!((each[0].value, each[0].verdict), (Some(0.5), Verdict::Pass));
    assert_eq!((each[1].value, each[1].verdict), (Some(0.7), Verdict::Fail));
    assert_eq!((each[2].value, each[2].verdict), (None, Verdict::NotEvaluated));
    assert_eq!(each[2].reason.as_deref(), Some("`C3` has no `rated_voltage`"));
    assert_eq!(each[0].settings.get("of").map(String::as_str), Some("C1"));
}

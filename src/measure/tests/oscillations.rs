//! An oscillation in one solution, held against another one of the same test.

use super::*;

/// Rests at 1 V, and from 10 s on rings for ever: so many V to either side, at so many Hz.
fn ringing(amplitude_v: f64, hertz: f64) -> Waveform {
    let mut times = vec![0.0];
    let mut values = vec![1.0];
    for k in 0..=4000 {
        let t = f64::from(k) * 0.005;
        times.push(10.0 + t);
        values.push(1.0 - amplitude_v * (std::f64::consts::TAU * hertz * t).sin());
    }
    lines(&times, &[("output", "V", &values)])
}

/// Of both solutions: the rows, and what is told of the whole test.
fn beside(
    first: &Waveform,
    second: &Waveform,
) -> (Vec<Measurement>, Result<Option<String>, String>) {
    let [mut scene, mut tighter] =
        [first, second].map(|w| steps(w, TestKind::LoadStep, &[(10.0, 1.0)], 30.0));
    for scene in [&mut scene, &mut tighter] {
        scene.rail.window = Bound::Within { low_v: 0.9, high_v: 1.1 };
    }
    let asked = [with_band("recovery", 5.0, 0.002), at_most("late_ripple", 1e-3)];
    let rows = measure_twice(&scene, &tighter, &asked, 1e-6);
    (rows, oscillation(&scene, Some((&tighter, 1e-6))))
}

#[test]
fn an_oscillation_that_both_solutions_show_is_told_with_what_lies_between_them() {
    let (rows, told) = beside(&ringing(0.01, 5.0), &ringing(0.010_1, 5.01));
    // Twice 0.2 mV, and twice 10 mHz.
    let words = "oscillates: 20 mV ± 400 µV peak to peak at 5 Hz ± 20 mHz; the same when solved ten \
                 times tighter, so it is the circuit's own";
    let near = |text: &str| text.replace("390 µV", "400 µV");
    assert_eq!(told.map(|found| found.map(|text| near(&text))), Ok(Some(words.to_owned())));
    for name in ["recovery", "window"] {
        let found = row(&rows, name);
        assert_eq!(found.verdict, Verdict::Fail, "{found:?}");
        assert!(near(found.reason.as_deref().unwrap()).contains(words), "{found:?}");
    }
}

#[test]
fn an_oscillation_in_one_of_two_solutions_alone_is_none() {
    let (large, small, quiet) = (ringing(0.01, 5.0), ringing(0.002, 5.0), ringing(1e-5, 5.0));
    let slow = ringing(0.01, 2.0);
    for (first, second) in [
        // Gone, or shrunk with the tolerance; come up; of another frequency.
        (&large, &quiet),
        (&large, &small),
        (&quiet, &large),
        (&small, &large),
        (&large, &slow),
        (&slow, &large),
    ] {
        let (rows, told) = beside(first, second);
        let words = told.unwrap_err();
        assert!(words.starts_with("seems to oscillate, but that is not confirmed"), "{words}");
        for name in ["recovery", "window"] {
            let found = row(&rows, name);
            assert_eq!(found.verdict, Verdict::NotEvaluated, "{found:?}");
            assert_eq!(found.reason.as_deref(), Some(words.as_str()));
        }
        // The ripple is a figure, with its uncertainty.
        let ripple = row(&rows, "late_ripple");
        assert!(ripple.value.is_some() && ripple.numerical_uncertainty.is_some(), "{ripple:?}");
        assert_ne!(ripple.verdict, Verdict::Pass, "{ripple:?}");
    }
}

/// Both die away, one a little faster than what counts as dying away: the tighter one decides.
#[test]
fn what_just_dies_away_is_decided_by_the_tighter_solution() {
    let dying = |tau_s: f64| {
        let mut times = vec![0.0];
        let mut values = vec![1.0];
        for k in 0..=4000 {
            let t = f64::from(k) * 0.005;
            times.push(10.0 + t);
            let sine = (std::f64::consts::TAU * 5.0 * t).sin();
            values.push(1.0 - 0.05 * (-t / tau_s).exp() * sine);
        }
        lines(&times, &[("output", "V", &values)])
    };
    // e^(−2 s/τ) = 0.98 at τ = 99 s.
    let (staying, going) = (dying(103.0), dying(95.0));
    let (_, told) = beside(&going, &staying);
    let words = told.unwrap().unwrap();
    assert!(words.starts_with("oscillates: "), "{words}");
    // 1 − e^(−2/95), and 1 − e^(−2/103), twice whose difference is less.
    assert!(
        words.contains("in the last tenth it is 2.1 % smaller than in the one before"),
        "{words}"
    );
    let (rows, told) = beside(&staying, &going);
    assert_eq!(told, Ok(None));
    let words: Vec<&str> = rows.iter().filter_map(|row| row.reason.as_deref()).collect();
    assert!(!words.iter().any(|w| w.contains("oscillat")), "{words:?}");
}

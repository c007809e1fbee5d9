//! Questions about waveforms, against closed forms.
#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

use super::*;
use proptest::prelude::*;

/// A cubic a + b·t + c·t² + d·t³ cut into segments at `times`.
fn cubic(coefficients: [f64; 4], times: &[f64]) -> Waveform {
    let [a, b, c, d] = coefficients;
    let value = |t: f64| a + t * (b + t * (c + t * d));
    let rate = |t: f64| b + t * (2.0 * c + t * 3.0 * d);
    curve(times, value, rate)
}

/// The cubics through a function and its rate.
fn curve(times: &[f64], value: impl Fn(f64) -> f64, rate: impl Fn(f64) -> f64) -> Waveform {
    let values: Vec<f64> = times.iter().map(|t| value(*t)).collect();
    let rates: Vec<f64> = times.iter().map(|t| rate(*t)).collect();
    let signal = Signal::from_rates("v", "V", times, &values, &rates);
    Waveform { time_s: times.to_vec(), signals: vec![signal] }
}

fn lines(points: &[(f64, f64)]) -> Waveform {
    let values = points.iter().map(|p| p.1).collect();
    Waveform {
        time_s: points.iter().map(|p| p.0).collect(),
        signals: vec![Signal::straight("v", "V", values)],
    }
}

fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} is not {b} within {tolerance}");
}

#[test]
fn exact_cubic_extremes_lie_at_the_roots_of_its_derivative() {
    // t³ − 3t: highest 2 at −1, lowest −2 at 1.
    let w = cubic([0.0, -3.0, 0.0, 1.0], &[-1.9, 0.3, 1.9]);
    let window = w.record().unwrap();
    let low = w.extreme(&w.signals[0], window, Extreme::Lowest).unwrap();
    let high = w.extreme(&w.signals[0], window, Extreme::Highest).unwrap();
    close(low.time_s, 1.0, 1e-9);
    close(low.value, -2.0, 1e-14);
    close(high.time_s, -1.0, 1e-9);
    close(high.value, 2.0, 1e-14);
    // Clipped to where it only falls, the ends are the extremes.
    let low = w.extreme(&w.signals[0], Window::new(-0.5, 0.5), Extreme::Lowest).unwrap();
    close(low.value, 0.125 - 1.5, 1e-14);
    close(low.time_s, 0.5, 1e-14);
}

#[test]
fn exact_crossings_of_a_cubic_are_its_roots() {
    // (t − 0.25)(t − 0.5)(t − 0.875) inside one segment.
    let w = cubic([-0.109_375, 0.781_25, -1.625, 1.0], &[0.0, 1.0]);
    let found = w.crossings(&w.signals[0], Window::new(0.0, 1.0), 0.0);
    let rising: Vec<bool> = found.iter().map(|c| c.rising).collect();
    assert_eq!(rising, [true, false, true]);
    for (crossing, root) in found.iter().zip([0.25, 0.5, 0.875]) {
        close(crossing.time_s, root, 1e-14);
    }
    close(w.total(&w.signals[0], Window::new(0.0, 1.0), Relation::Below, 0.0), 0.625, 1e-14);
    let longest = w.longest(&w.signals[0], Window::new(0.0, 1.0), Relation::Below, 0.0).unwrap();
    close(longest.from_s, 0.5, 1e-14);
    close(longest.to_s, 0.875, 1e-14);
}

#[test]
fn exact_mean_and_slope_of_a_cubic() {
    // t³ on [0, 1] has mean 1/4. With x = 2t − 1 and weights (1 − x²)², t³ = (1 + x)³/8 has the
    // slope (∫x⁴ + 3∫x²)/8/∫x² = (16/315 + 48/105)/8/(16/105) = 5/12 a unit of x, 5/6 a second.
    let w = cubic([0.0, 0.0, 0.0, 1.0], &[-1.0, 0.2, 0.7, 2.0]);
    close(w.mean(&w.signals[0], Window::new(0.0, 1.0)).unwrap(), 0.25, 1e-14);
    close(w.slope(&w.signals[0], Window::new(0.0, 1.0)).unwrap(), 5.0 / 6.0, 1e-13);
}

#[test]
fn a_ripple_is_hardly_taken_for_a_slope() {
    let times: Vec<f64> = (0..=1000).map(|k| f64::from(k) / 1000.0).collect();
    let omega = std::f64::consts::TAU * 10.0;
    let w = curve(&times, |t| 0.25 * t + (omega * t).sin(), |t| 0.25 + omega * (omega * t).cos());
    // By parts, the ripple's share is 105/(10π)³ a unit of x, twice that a second, and the terms
    // left out are smaller by (10π)². Equal weights would give 6/(10π) and more than a hundredfold.
    let expected = 2.0 * 105.0 / (std::f64::consts::PI * 10.0).powi(3);
    let slope = w.slope(&w.signals[0], Window::new(0.0, 1.0)).unwrap();
    close((slope - 0.25).abs(), expected, 0.05 * expected);
}

#[test]
fn exact_value_rate_and_curvature_inside_a_segment() {
    let w = cubic([1.0, 2.0, -3.0, 0.5], &[0.0, 2.0]);
    let s = &w.signals[0];
    close(w.at(s, 0.5, Side::After).unwrap(), 1.0 + 1.0 - 0.75 + 0.0625, 1e-14);
    close(w.rate(s, 0.5, Side::After).unwrap(), 2.0 - 3.0 + 0.375, 1e-14);
    close(w.curvature(s, 0.5, Side::Before).unwrap(), -6.0 + 1.5, 1e-13);
}

#[test]
fn a_jump_has_a_value_on_each_side_and_belongs_to_the_window_it_leads_into() {
    let w = lines(&[(0.0, 1.0), (1.0, 1.0), (1.0, 5.0), (2.0, 3.0)]);
    let s = &w.signals[0];
    assert_eq!(w.at(s, 1.0, Side::Before), Some(1.0));
    assert_eq!(w.at(s, 1.0, Side::After), Some(5.0));
    let highest = |from, to| w.extreme(s, Window::new(from, to), Extreme::Highest).unwrap();
    assert_eq!(highest(0.0, 1.0).value, 1.0);
    assert_eq!(highest(0.0, 2.0), Instant { time_s: 1.0, value: 5.0 });
    assert_eq!(w.extreme(s, Window::new(1.0, 2.0), Extreme::Lowest).unwrap().value, 3.0);
    let crossings = w.crossings(s, Window::new(0.0, 2.0), 4.0);
    assert_eq!(
        crossings,
        [Crossing { time_s: 1.0, rising: true }, Crossing { time_s: 1.5, rising: false }]
    );
}

#[test]
fn a_jump_at_the_very_start_or_end_of_the_record_counts_with_all_its_values() {
    let w = lines(&[(0.0, 9.0), (0.0, 1.0), (1.0, 2.0), (1.0, -3.0)]);
    let record = w.record().unwrap();
    assert_eq!(w.extreme(&w.signals[0], record, Extreme::Highest).unwrap().value, 9.0);
    assert_eq!(w.extreme(&w.signals[0], record, Extreme::Lowest).unwrap().value, -3.0);
}

#[test]
fn the_earliest_of_equal_extremes_wins() {
    let w = lines(&[(0.0, 0.0), (1.0, 1.0), (2.0, 0.0), (3.0, 1.0 + f64::EPSILON), (4.0, 0.0)]);
    let found = w.extreme(&w.signals[0], w.record().unwrap(), Extreme::Highest).unwrap();
    assert_eq!(found.time_s, 1.0);
}

#[test]
fn touching_a_level_is_no_crossing_and_staying_on_it_is_neither_above_nor_below() {
    let touch = cubic([0.0, 0.0, 1.0, 0.0], &[-1.0, 1.0]);
    assert!(touch.crossings(&touch.signals[0], Window::new(-1.0, 1.0), 0.0).is_empty());
    close(touch.total(&touch.signals[0], Window::new(-1.0, 1.0), Relation::Above, 0.0), 2.0, 1e-15);
    let flat = lines(&[(0.0, 2.0), (1.0, 2.0), (2.0, 3.0)]);
    let s = &flat.signals[0];
    assert_eq!(flat.total(s, Window::new(0.0, 2.0), Relation::Above, 2.0), 1.0);
    assert_eq!(flat.total(s, Window::new(0.0, 2.0), Relation::Below, 2.0), 0.0);
}

#[test]
fn degenerate_waveforms_are_answered_by_nothing() {
    let empty = Waveform::default();
    let stray = Signal::straight("v", "V", vec![1.0]);
    let window = Window::new(0.0, 1.0);
    assert_eq!(empty.record(), None);
    assert_eq!(empty.at(&stray, 0.0, Side::After), None);
    assert_eq!(empty.extreme(&stray, window, Extreme::Lowest), None);
    assert_eq!(empty.mean(&stray, window), None);
    assert_eq!(empty.slope(&stray, window), None);
    assert!(empty.crossings(&stray, window, 0.5).is_empty());
    let single = lines(&[(0.0, 3.0)]);
    let s = &single.signals[0];
    assert_eq!(single.mean(s, window), Some(3.0));
    assert_eq!(single.extreme(s, window, Extreme::Highest).unwrap().value, 3.0);
    assert_eq!(single.extreme(s, Window::new(1.0, 2.0), Extreme::Highest), None);
    let ragged = Waveform { time_s: vec![0.0, 1.0, 2.0], signals: vec![] };
    let short = Signal::straight("v", "V", vec![1.0, f64::NAN]);
    assert_eq!(ragged.mean(&short, Window::new(0.0, 2.0)), None);
    assert_eq!(ragged.at(&short, 1.0, Side::Before), None);
    assert_eq!(ragged.at(&short, f64::NAN, Side::Before), None);
}

#[test]
fn a_sum_of_curves_is_the_curve_of_the_sum() {
    let a = cubic([1.0, 2.0, -3.0, 0.5], &[0.0, 0.7, 2.0]);
    let b = cubic([-1.0, 0.5, 1.0, -0.25], &[0.0, 0.7, 2.0]);
    let difference = a.signals[0].plus(-1.0, &b.signals[0], "difference");
    let t: f64 = 1.3;
    let wanted = 2.0 + 1.5 * t - 4.0 * t * t + 0.75 * t.powi(3);
    close(a.at(&difference, t, Side::After).unwrap(), wanted, 1e-14);
}

proptest! {
    #[test]
    fn time_below_and_above_a_level_fill_the_window(
        values in prop::collection::vec(-1.0..1.0f64, 2..20),
        bends in prop::collection::vec((-2.0..2.0f64, -2.0..2.0f64), 20),
        level in -1.0..1.0f64,
    ) {
        let time_s: Vec<f64> = (0..values.len()).map(|k| k as f64).collect();
        let bends = bends[..values.len() - 1].iter().map(|b| [b.0, b.1]).collect();
        let signal = Signal { name: "v".into(), unit: "V", values, bends };
        let w = Waveform { time_s, signals: vec![signal] };
        let (s, record) = (&w.signals[0], w.record().unwrap());
        let below = w.total(s, record, Relation::Below, level);
        let above = w.total(s, record, Relation::Above, level);
        prop_assert!((below + above - record.length_s()).abs() < 1e-9);
        for crossing in w.crossings(s, record, level) {
            let there = w.at(s, crossing.time_s, Side::After).unwrap();
            prop_assert!((there - level).abs() < 1e-9);
        }
        let high = w.extreme(s, record, Extreme::Highest).unwrap().value;
        let low = w.extreme(s, record, Extreme::Lowest).unwrap().value;
        for k in 0..=200 {
            let t = record.length_s() * f64::from(k) / 200.0;
            let v = w.at(s, t, Side::After).unwrap();
            prop_assert!(v <= high + 1e-12 && v >= low - 1e-12);
        }
    }
}

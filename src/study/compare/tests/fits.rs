//! Fits of the closed form: shift, values, intervals, and what cannot be told apart.

use super::rail::{Noise, RAIL, Rail, START_S, knob};
use crate::circuit::Change;
use crate::quantity::Dimension;
use crate::study::compare::fit::{Descent, fit};
use crate::study::compare::intervals::worth;
use crate::study::compare::problem::Problem;
use crate::study::compare::{Knob, Known, Only, Shift, Solution, Trace, Worth};
use std::cell::Cell;

const NOISE_V: f64 = 0.5e-3;

struct Case<'a> {
    truth: Rail,
    trace: &'a Trace,
    knobs: &'a [Knob],
    shift: Shift,
    offset_free: bool,
}

impl Case<'_> {
    fn made(&self) -> (Vec<Descent>, Worth) {
        let solve = |lists: &[Vec<Change>]| -> Vec<Result<Solution, String>> {
            lists.iter().map(|changes| Ok(self.truth.with(changes).solution())).collect()
        };
        let problem = Problem {
            trace: self.trace,
            knobs: self.knobs,
            shift: self.shift,
            offset_free: self.offset_free,
            // The closed form is exact but for its cubics, which are good to a nanovolt.
            blur_v: 1e-9,
            threads: 1,
            solve: &solve,
            runs: Cell::new(0),
        };
        let found = fit(&problem).unwrap();
        let worth = worth(&problem, &found[0]).unwrap();
        (found, worth)
    }
}

fn capacitor() -> [Knob; 2] {
    [knob("c", Dimension::FARAD, 3e-6, 30e-6), knob("esr", Dimension::OHM, 1e-3, 50e-3)]
}

fn values(descent: &Descent, knobs: &[Knob]) -> Vec<f64> {
    knobs.iter().zip(&descent.seen.place.u).map(|(knob, u)| knob.at(*u)).collect()
}

/// Samples every 0.2 µs; a shift known to a twentieth of that is a hundredth of the rise time.
#[test]
fn exact_a_known_shift_is_found_to_a_twentieth_of_a_sample() {
    for (seed, zero_s, volt) in
        [(1, 5.033e-6, 0.0), (2, 0.0, NOISE_V), (3, -3.217e-6, NOISE_V), (4, 31.4159e-6, NOISE_V)]
    {
        let trace = RAIL.trace(1e-6, 150, zero_s, &mut Noise::of(volt, seed));
        let case =
            Case { truth: RAIL, trace: &trace, knobs: &[], shift: Shift::Free, offset_free: false };
        let (found, worth) = case.made();
        let off_s = found[0].seen.place.shift_s - zero_s;
        assert!(off_s.abs() < 0.2e-6 / 20.0, "zero at {zero_s}: off by {off_s}");
        if volt > 0.0 {
            // Twice the half-width is beyond chance, one in 10⁴.
            assert!(off_s.abs() < 2.0 * worth.shift_s.unwrap(), "{off_s} {worth:?}");
        }
    }
}

#[test]
fn exact_values_and_offset_are_recovered_from_a_clean_trace_far_from_the_start() {
    let trace = RAIL.trace(1e-6, 200, 4.1e-6, &mut Noise::of(0.0, 0));
    let lifted = Trace { volt: trace.volt.iter().map(|v| v + 7.3e-3).collect(), ..trace.clone() };
    let knobs = capacitor();
    let (truth, shift) = (RAIL, Shift::Free);
    let case = Case { truth, trace: &lifted, knobs: &knobs, shift, offset_free: true };
    let (found, _) = case.made();
    let (best, got) = (&found[0].seen.place, values(&found[0], &knobs));
    // Texts have six digits.
    assert!((got[0] / RAIL.farad - 1.0).abs() < 1e-5, "{got:?}");
    assert!((got[1] / RAIL.esr - 1.0).abs() < 1e-5, "{got:?}");
    assert!((best.offset_v - 7.3e-3).abs() < 1e-7 && (best.shift_s - 4.1e-6).abs() < 1e-11);
}

/// With a true coverage of 95 %, 200 trials hold 190 ± 3.1 times; fewer than 180 come by chance once
/// in a thousand times (binomial distribution).
#[test]
fn exact_stated_intervals_hold_the_known_values_in_95_of_100_trials() {
    const TRIALS: u64 = 200;
    let knobs = capacitor();
    let zero_s = 4.7e-6;
    let mut held = [0; 3];
    for seed in 0..TRIALS {
        let trace = RAIL.trace(1e-6, 120, zero_s, &mut Noise::of(NOISE_V, 1000 + seed));
        let case = Case {
            truth: RAIL,
            trace: &trace,
            knobs: &knobs,
            shift: Shift::Free,
            offset_free: false,
        };
        let (found, worth) = case.made();
        for (k, truth) in [RAIL.farad, RAIL.esr].into_iter().enumerate() {
            if let Known::Within { low, high, .. } = worth.known[k] {
                held[k] += u32::from(low <= truth && truth <= high);
            }
        }
        let off_s = (found[0].seen.place.shift_s - zero_s).abs();
        held[2] += u32::from(off_s <= worth.shift_s.unwrap());
    }
    assert!(held.iter().all(|&n| (180..200).contains(&n)), "of {TRIALS}: {held:?}");
}

#[test]
fn exact_only_the_sum_of_what_adds_up_is_told() {
    let trace = RAIL.trace(1e-6, 200, START_S, &mut Noise::of(NOISE_V, 7));
    let cases = [
        (["r1", "r2"], Dimension::OHM, 1e-3, 0.1, Only::Sum, RAIL.ohm),
        (["c1", "c2"], Dimension::FARAD, 0.5e-6, 20e-6, Only::Sum, RAIL.farad),
        (["ra", "rb"], Dimension::OHM, 25e-3, 0.5, Only::Parallel, RAIL.ohm),
    ];
    for (names, dimension, low, high, only, truth) in cases {
        let knobs = names.map(|name| knob(name, dimension, low, high));
        let shift = Shift::Given(START_S);
        let case = Case { truth: RAIL, trace: &trace, knobs: &knobs, shift, offset_free: false };
        let (_, worth) = case.made();
        assert_eq!(worth.known, [Known::Lost, Known::Lost], "{names:?}");
        let [lost] = worth.lost.as_slice() else { panic!("{:?}", worth.lost) };
        let equal = names.map(str::to_owned);
        assert_eq!(lost.names, equal, "{}", lost.words());
        // Where both came out alike, several combinations stay the same to first order; the
        // simplest is told, and its figure is as right.
        assert!(lost.only == only || lost.only == Only::Sum, "{}", lost.words());
        assert!(lost.words().contains("cannot be told apart by this trace: only"));
        let [value, low, high] = lost.figure.unwrap();
        if lost.only == only {
            assert!(low < truth && truth < high, "{names:?}: {low} {value} {high}");
            assert!(high - low < 0.2 * truth);
        }
    }
}

/// From 19.5 mΩ on the first resistor is about all that the sum needs, so the other may well come to
/// its lower bound of 0.5 mΩ; it is not known better for that.
#[test]
fn a_bound_does_not_tell_apart_what_adds_up() {
    let trace = RAIL.trace(1e-6, 200, START_S, &mut Noise::of(NOISE_V, 9));
    let knobs =
        [knob("r1", Dimension::OHM, 15e-3, 19.5e-3), knob("r2", Dimension::OHM, 0.5e-3, 4e-3)];
    let shift = Shift::Given(START_S);
    let case = Case { truth: RAIL, trace: &trace, knobs: &knobs, shift, offset_free: false };
    let (_, worth) = case.made();
    assert_eq!(worth.known, [Known::Lost, Known::Lost]);
    assert!(worth.lost[0].names == ["r1", "r2"] && worth.lost[0].only == Only::Sum);
}

#[test]
fn a_value_that_moves_nothing_is_told_and_one_on_its_bound_gets_no_interval() {
    let trace = RAIL.trace(1e-6, 200, START_S, &mut Noise::of(NOISE_V, 8));
    let knobs =
        [knob("c", Dimension::FARAD, 12e-6, 30e-6), knob("nothing", Dimension::OHM, 1.0, 10.0)];
    let shift = Shift::Given(START_S);
    let case = Case { truth: RAIL, trace: &trace, knobs: &knobs, shift, offset_free: false };
    let (_, worth) = case.made();
    // The truth is 10 µF.
    assert_eq!(worth.known[0], Known::OnBound(crate::study::compare::Bound::Lower));
    assert_eq!(worth.known[1], Known::Lost);
    assert_eq!(worth.lost[0].only, Only::Nothing);
    assert!(worth.lost[0].words().starts_with("`nothing` cannot be told by this trace"));
}

/// Noise that is averaged over neighbours has fewer independent samples, and wider intervals.
#[test]
fn exact_correlated_noise_is_counted_at_what_it_is_worth() {
    let knobs = capacitor();
    let mut noise = Noise::of(NOISE_V, 11);
    let white = RAIL.trace(1e-6, 200, START_S, &mut noise);
    let clean = RAIL.trace(1e-6, 200, START_S, &mut Noise::of(0.0, 0));
    // First-order autoregression with ρ = 0.8: n(1 − ρ)/(1 + ρ) is a ninth.
    let mut last = 0.0;
    let volt = white.volt.iter().zip(&clean.volt).map(|(with, without)| {
        last = 0.8 * last + 0.6 * (with - without);
        without + last
    });
    let volt: Vec<f64> = volt.collect();
    let coloured = Trace { volt, ..white.clone() };
    let made = |trace| {
        let shift = Shift::Given(START_S);
        Case { truth: RAIL, trace, knobs: &knobs, shift, offset_free: false }.made().1
    };
    let (white, coloured) = (made(&white), made(&coloured));
    assert!(white.independent > 150.0, "{}", white.independent);
    // 200/9 is 22; the correlation of 200 samples is known to ±0.05 only.
    assert!((12.0..45.0).contains(&coloured.independent), "{}", coloured.independent);
    let width = |worth: &Worth| match worth.known[0] {
        Known::Within { low, high, .. } => high - low,
        _ => f64::NAN,
    };
    assert!(width(&coloured) > 2.0 * width(&white));
}

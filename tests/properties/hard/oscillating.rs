//! Regulators that oscillate: told with amplitude and frequency, by whatever steps they are solved; and circuits
//! that are stable, by however little, and are not said to.
//!
//! A linear loop of gain G(jω) behind one stage that saturates goes in a limit cycle where N(A)·G(jω) = −1, N the
//! gain of the saturating stage for the fundamental of a sine of amplitude A: at the frequency where the phase
//! of G crosses −180°, with N(A)/N(0) = 1/|G| (Gelb and Vander Velde, Multiple-Input Describing Functions and
//! Nonlinear System Design, 1968, from memory). It leaves harmonics out, of which the third is the largest.

use crate::bench::{BOTH, Bench, march, point_at, unknown};
use nalgebra::Complex;
use railstep::analysis::{Method, Point, operating_point};
use railstep::measure::{Measurement, Verdict};
use railstep::system::System;
use railstep::trial::{Outcome, RunOptions};
use std::f64::consts::{PI, TAU};

/// A stage of I·tanh(g·d/I) into 100 kΩ, two lags of RC behind buffers, and an output of 10 Ω into a capacitor
/// with its ESR. Everything rests at 2.5 V, where the stage is at balance.
#[derive(Clone, Copy)]
struct Loop {
    siemens: f64,
    limit_a: f64,
    /// Of stage, lags and output, in s.
    tau_s: [f64; 4],
    esr_ohm: f64,
}

/// In which each of these loops has grown to its limit cycle, with ten left over.
const PERIODS: f64 = 45.0;
const STAGE_OHM: f64 = 1e5;
const LAG_OHM: f64 = 1e3;
const OUTPUT_OHM: f64 = 10.0;

impl Loop {
    fn text(&self, seconds: f64, accuracy: &str) -> String {
        let farad = |k: usize, ohm: f64| self.tau_s[k] / ohm;
        let lag = |k: usize, from: &str, to: &str| {
            let buffer = format!(
                "E{k} = {{ kind = \"controlled-voltage-source\", plus = \"b{k}\", minus = \"gnd\", input = [\"{from}\", \"gnd\"], gain = 1 }}\n"
            );
            if self.tau_s[k] == 0.0 {
                return format!(
                    "{buffer}R{k} = {{ kind = \"resistor\", nodes = [\"b{k}\", \"{to}\"], resistance = \"{LAG_OHM} Ω\" }}\nR{k}B = {{ kind = \"resistor\", nodes = [\"{to}\", \"gnd\"], resistance = \"1e12 Ω\" }}\n"
                );
            }
            format!(
                "{buffer}R{k} = {{ kind = \"resistor\", nodes = [\"b{k}\", \"{to}\"], resistance = \"{LAG_OHM} Ω\" }}\n\
                C{k} = {{ kind = \"capacitor\", nodes = [\"{to}\", \"gnd\"], capacitance = \"{:e} F\" }}\n",
                farad(k, LAG_OHM)
            )
        };
        format!(
            "title = \"loop\"\n[rail]\noutput = \"out\"\nnominal = \"2.5 V\"\nload = \"I1\"\nwindow = \"5 %\"\nfeedback = \"G1.minus\"\n[parts]\n\
            V1 = {{ kind = \"voltage-source\", plus = \"ref\", minus = \"gnd\", voltage = \"2.5 V\" }}\n\
            G1 = {{ kind = \"transconductor\", plus = \"ref\", minus = \"out\", output = \"x\", ground = \"ref\", transconductance = \"{:e} S\", highest_current = \"{:e} A\", output_resistance = \"{STAGE_OHM} Ω\", output_capacitance = \"{:e} F\" }}\n\
            {}{}\
            E3 = {{ kind = \"controlled-voltage-source\", plus = \"b3\", minus = \"gnd\", input = [\"y2\", \"gnd\"], gain = 1 }}\n\
            R3 = {{ kind = \"resistor\", nodes = [\"b3\", \"out\"], resistance = \"{OUTPUT_OHM} Ω\" }}\n\
            C3 = {{ kind = \"capacitor\", nodes = [\"out\", \"gnd\"], capacitance = \"{:e} F\", esr = \"{:e} Ω\" }}\n\
            I1 = {{ kind = \"current-source\", nodes = [\"out\", \"gnd\"], current = \"0 A\" }}\n\
            [[tests]]\nname = \"step\"\nkind = \"load-step\"\nfrom = \"0 A\"\nto = \"1 mA\"\nedge = \"1 µs\"\nhold = \"{seconds:e} s\"\nsettle = \"{:e} s\"\naccuracy = \"{accuracy}\"\n\
            require = {{ recovery = {{ limit = \"<= 1 s\", band = \"1 mV\" }} }}\n\
            [[tests]]\nname = \"loop\"\nkind = \"loop-gain\"\n",
            self.siemens,
            self.limit_a,
            farad(0, STAGE_OHM),
            lag(1, "x", "y1"),
            lag(2, "y1", "y2"),
            farad(3, OUTPUT_OHM),
            self.esr_ohm,
            0.1 * seconds,
        )
    }

    /// Loop gain without its sign.
    fn gain(&self, omega: f64) -> Complex<f64> {
        let one = |tau: f64| Complex::new(1.0, omega * tau);
        let [stage, first, second, output] = self.tau_s;
        let zero_s = output * self.esr_ohm / OUTPUT_OHM;
        Complex::from(self.siemens * STAGE_OHM) * one(zero_s)
            / (one(stage) * one(first) * one(second) * one(output + zero_s))
    }

    /// The phase, from 0° at DC.
    fn phase(&self, omega: f64) -> f64 {
        let [stage, first, second, output] = self.tau_s;
        let zero_s = output * self.esr_ohm / OUTPUT_OHM;
        let lags = [stage, first, second, output + zero_s];
        (omega * zero_s).atan() - lags.iter().map(|tau| (omega * tau).atan()).sum::<f64>()
    }

    /// rad/s where the phase crosses −180°.
    fn crossing(&self) -> f64 {
        let (mut low, mut high) = (1.0_f64, 1e9_f64);
        for _ in 0..100 {
            let middle = (low * high).sqrt();
            if self.phase(middle) > -PI { low = middle } else { high = middle }
        }
        low
    }

    /// A of harmonic n of the stage for a sine of so many V.
    fn harmonic(&self, n: f64, volt: f64) -> f64 {
        let count = 2000;
        let sum: f64 = (0..count)
            .map(|k| PI * (f64::from(k) + 0.5) / f64::from(count))
            .map(|a| (self.siemens * volt * a.sin() / self.limit_a).tanh() * (n * a).sin())
            .sum();
        self.limit_a * sum * 2.0 / f64::from(count)
    }

    /// V at which the fundamental is turned round once.
    fn amplitude(&self) -> f64 {
        let needed = self.siemens / self.gain(self.crossing()).norm();
        let (mut low, mut high) = (1e-6_f64, 1e3_f64);
        for _ in 0..100 {
            let middle = (low * high).sqrt();
            if self.harmonic(1.0, middle) / middle > needed { low = middle } else { high = middle }
        }
        low
    }

    /// The third harmonic at the output over the fundamental: what the describing function leaves out, and what
    /// may be added to an extreme.
    fn left_out(&self) -> f64 {
        let (omega, volt) = (self.crossing(), self.amplitude());
        let third = self.harmonic(3.0, volt).abs() * self.gain(3.0 * omega).norm() / self.siemens;
        third / volt
    }

    fn periods(&self, count: f64) -> f64 {
        count * TAU / self.crossing()
    }

    fn bench(&self, accuracy: &str) -> Bench {
        Bench::of(&self.text(self.periods(PERIODS), accuracy))
    }
}

/// Three lags of 10 µs: −180° at √3/τ, where 1/8 of the gain is left, which is 16.
const THREE_LAGS: Loop =
    Loop { siemens: 16e-5, limit_a: 40e-6, tau_s: [1e-5, 1e-5, 0.0, 1e-5], esr_ohm: 0.0 };

/// Lags of 10 µs, 1 µs, 1 µs and an output of 10 µF: a loop that lives on its capacitor's ESR.
fn with_esr(esr_ohm: f64) -> Loop {
    Loop { siemens: 1e-3, limit_a: 40e-6, tau_s: [1e-5, 1e-6, 1e-6, 1e-4], esr_ohm }
}

fn row<'a>(outcome: &'a Outcome, name: &str) -> &'a Measurement {
    outcome.measurements.iter().find(|m| m.name == name).expect("a row")
}

/// In SI units, from `584 mV` or `27.4 kHz`.
fn number(text: &str) -> f64 {
    let (digits, unit) = text.trim().split_once(' ').expect("a unit");
    let factor = match unit.chars().next() {
        Some('k') => 1e3,
        Some('M') => 1e6,
        Some('m') => 1e-3,
        Some('µ') => 1e-6,
        Some('n') => 1e-9,
        _ => 1.0,
    };
    digits.parse::<f64>().expect("a number") * factor
}

/// Peak to peak and Hz, each with its uncertainty.
fn told(outcome: &Outcome) -> [[f64; 2]; 2] {
    let words = row(outcome, "recovery").reason.as_deref().unwrap_or_default();
    let figures = words.strip_prefix("oscillates: ").unwrap_or_else(|| panic!("{words}"));
    let (figures, rest) = figures.split_once("; ").expect("what confirms it");
    assert_eq!(rest, "the same when solved ten times tighter, so it is the circuit's own");
    let (size, hertz) = figures.split_once(" peak to peak at ").expect("a frequency");
    [size, hertz].map(|both| {
        let (value, uncertainty) = both.split_once(" ± ").expect("an uncertainty");
        [number(value), number(uncertainty)]
    })
}

fn near(found: f64, expected: f64, allowed: f64) {
    assert!((found - expected).abs() <= allowed, "{found} for {expected}, {allowed} allowed");
}

#[test]
fn exact_a_regulator_of_negative_margin_oscillates_where_its_phase_crosses_180_degrees() {
    near(THREE_LAGS.crossing(), 3_f64.sqrt() / 1e-5, 1e-3);
    for of in [THREE_LAGS, with_esr(0.0), with_esr(30.0)] {
        let bench = of.bench("1 mV");
        let margin = bench.outcome("loop", Method::Rodas4p);
        let over = of.gain(of.crossing()).norm();
        // Solved at rest, to the last of the digits told.
        near(crate::bench::measured(&margin, "gain_margin"), -20.0 * over.log10(), 1e-3);
        let methods = if of.tau_s[2] == 0.0 { &BOTH[..] } else { &BOTH[..1] };
        for &method in methods {
            let outcome = bench.outcome("step", method);
            let [[size, _], [hertz, _]] = told(&outcome);
            let share = 2.0 * of.left_out();
            assert!(share < 0.05, "{share}");
            near(size, 2.0 * of.amplitude(), share * 2.0 * of.amplitude());
            near(hertz * TAU, of.crossing(), share * of.crossing());
            assert_eq!(row(&outcome, "recovery").verdict, Verdict::Fail);
        }
        // In a hurry as well an oscillation is told only if it is one.
        let quick = bench.ended("step", &RunOptions { quick: true, ..RunOptions::default() });
        near(told(&quick)[1][0] * TAU, of.crossing(), 2.0 * of.left_out() * of.crossing());
    }
}

#[test]
fn exact_the_same_regulator_with_the_esr_it_needs_is_at_rest() {
    let of = with_esr(1.0);
    assert!(of.gain(of.crossing()).norm() < 0.6);
    for method in BOTH {
        for accuracy in ["10 mV", "1 mV", "10 µV"] {
            let outcome = of.bench(accuracy).outcome("step", method);
            let words: Vec<&str> =
                outcome.measurements.iter().filter_map(|m| m.reason.as_deref()).collect();
            assert!(!words.iter().any(|w| w.contains("oscillat")), "{accuracy}: {words:?}");
            assert_eq!(row(&outcome, "recovery").verdict, Verdict::Pass);
        }
    }
}

/// Steps of RODAS4P go with the fourth root of the accuracy, those of TR-BDF2 with its third root; amplitude and frequency stay, within what is told.
#[test]
fn exact_amplitude_and_frequency_do_not_hang_on_accuracy_or_formula() {
    let mut all: Vec<[[f64; 2]; 2]> = Vec::new();
    for method in BOTH {
        for accuracy in ["10 mV", "1 mV", "300 µV"] {
            all.push(told(&THREE_LAGS.bench(accuracy).outcome("step", method)));
        }
    }
    for (k, a) in all.iter().enumerate() {
        for b in &all[..k] {
            for figure in 0..2 {
                // Four digits are written.
                let rounding = 1e-3 * a[figure][0];
                near(a[figure][0], b[figure][0], a[figure][1] + b[figure][1] + rounding);
            }
        }
    }
    // The loosest accuracy is 0.9 % of 1.17 V.
    for figure in 0..2 {
        let values = || all.iter().map(|told| told[figure][0]);
        let (low, high) = (values().fold(f64::MAX, f64::min), values().fold(0.0, f64::max));
        assert!(high - low < 9e-3 * high, "{all:?}");
    }
}

/// V and Hz of the output's last periods, from points that are `h` s apart.
fn by_steps(system: &System, from: &Point, method: Method, h: f64, seconds: f64) -> [f64; 2] {
    let out = unknown(system, "out");
    let mut seen: Vec<(f64, f64)> = Vec::new();
    let count = (seconds / h).round() as usize;
    march(system, method, from.clone(), (h, count), |point| {
        seen.push((point.t, point.x[out] - 2.5));
    });
    let late = &seen[seen.len() * 4 / 5..];
    // The vertex of the parabola through three points.
    let vertex = |w: &[(f64, f64)], sign: f64| {
        let [a, b, c] = [w[0].1, w[1].1, w[2].1].map(|v| sign * v);
        (b >= a && b > c).then(|| b + (a - c) * (a - c) / (8.0 * (2.0 * b - a - c)))
    };
    let highest = |sign: f64| {
        late.windows(3).filter_map(|w| vertex(w, sign)).fold(f64::NEG_INFINITY, f64::max)
    };
    let rises: Vec<f64> = late
        .windows(2)
        .filter(|w| w[0].1 < 0.0 && w[1].1 >= 0.0)
        .map(|w| w[0].0 + h * w[0].1 / (w[0].1 - w[1].1))
        .collect();
    let hertz = (rises.len() - 1) as f64 / (rises[rises.len() - 1] - rises[0]);
    [highest(1.0) + highest(-1.0), hertz]
}

/// With fixed steps, of which 40 and 80 make a period: what is of the steps would change.
#[test]
fn exact_a_limit_cycle_stays_when_every_step_is_halved() {
    let of = THREE_LAGS;
    let bench = of.bench("10 µV");
    let system = bench.system();
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let mut x = rest.z[..system.unknowns.len()].to_vec();
    // Pushed at its output.
    x[unknown(&system, "out")] += 0.1;
    let from = point_at(&system, &system.pieces(0.0), 0.0, x);
    let period = of.periods(1.0);
    for method in BOTH {
        let [coarse, fine] =
            [40.0, 80.0].map(|n| by_steps(&system, &from, method, period / n, 60.0 * period));
        // A step errs in frequency by C·(2π/40)^p of it: p = 4 and C < 1 make less than 6e-4; p = 2 and 0.04
        // of TR-BDF2 (from memory) 1e-3. Amplitudes move with the gain at that frequency, by less than twice
        // as much.
        let allowed = if method == Method::Rodas4p { 1.2e-3 } else { 2e-3 };
        for (a, b) in coarse.iter().zip(fine) {
            near(*a, b, allowed * b);
        }
        let share = 2.0 * of.left_out() + allowed;
        near(fine[0], 2.0 * of.amplitude(), share * 2.0 * of.amplitude());
        near(fine[1] * TAU, of.crossing(), share * of.crossing());
    }
}

/// 1 Ω, 1 µF and so many H across a current: rings with τ = 2·L/R and Q = √(L/C)/R, and stops.
fn ringing(tank: &str, edge: &str, seconds: f64, accuracy: &str) -> String {
    format!(
        "title = \"ringing\"\n[rail]\noutput = \"a\"\nnominal = \"1 V\"\nload = \"I1\"\n[parts]\n\
        V1 = {{ kind = \"voltage-source\", plus = \"in\", minus = \"gnd\", voltage = \"1 V\" }}\n{tank}\
        I1 = {{ kind = \"current-source\", nodes = [\"a\", \"gnd\"], current = \"0 A\" }}\n\
        [[tests]]\nname = \"step\"\nkind = \"load-step\"\nfrom = \"0 A\"\nto = \"100 mA\"\nedge = \"{edge}\"\nhold = \"{seconds:e} s\"\nsettle = \"{:e} s\"\naccuracy = \"{accuracy}\"\n\
        require = {{ recovery = {{ limit = \"<= 1 s\", band = \"1 %\" }} }}\n",
        0.1 * seconds
    )
}

fn says_nothing_of_an_oscillation(text: &str) {
    let bench = Bench::of(text);
    for method in BOTH {
        let outcome = bench.outcome("step", method);
        let words = outcome.measurements.iter().filter_map(|m| m.reason.as_deref());
        let words: Vec<&str> = words.chain(outcome.notes.iter().map(String::as_str)).collect();
        assert!(!words.iter().any(|w| w.contains("oscillat")), "{method:?}: {words:#?}\n{text}");
    }
}

/// A coil of 100 µH with so many mΩ, and 1 µF: 10 Ω, a period of 62.8 µs, τ = 2·L/R.
fn tank(milliohm: f64) -> String {
    format!(
        "R1 = {{ kind = \"resistor\", nodes = [\"in\", \"b\"], resistance = \"{milliohm} mΩ\" }}\n\
        L1 = {{ kind = \"inductor\", nodes = [\"b\", \"a\"], inductance = \"100 µH\" }}\n\
        C1 = {{ kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitance = \"1 µF\" }}\n"
    )
}

/// Q = 158, τ = 3.16 ms: after 5 ms a fifth is left of 100 mA on 10 Ω, far above what counts as quiet. Damped by a
/// formula it would die too early, driven by one stay.
#[test]
fn exact_a_circuit_that_rings_long_is_not_said_to_oscillate_by_any_steps() {
    for accuracy in ["100 mV", "1 mV", "100 µV"] {
        says_nothing_of_an_oscillation(&ringing(&tank(63.2), "1 µs", 0.005, accuracy));
    }
}

/// τ = 31.6 ms, ten times the dwell: that counts as staying, but it is told that it shrinks, by 1 − e^(−0.3/31.6)
/// from tenth to tenth, but for half a period by which the extremes in them may lie apart.
#[test]
fn exact_what_rings_longer_than_it_is_watched_is_told_to_shrink() {
    let expected = 100.0 * -(-0.3_f64 / 31.6).exp_m1();
    for method in BOTH {
        let bench = Bench::of(&ringing(&tank(6.32), "1 µs", 0.003, "100 µV"));
        let outcome = bench.outcome("step", method);
        let words = row(&outcome, "recovery").reason.as_deref().unwrap_or_default();
        let (_, told) = words.split_once("in the last tenth it is ").expect(words);
        let (share, _) = told.split_once(" % smaller").expect(words);
        near(share.parse().expect("a number"), expected, 100.0 * 31.4e-6 / 31.6e-3);
    }
}

/// Beside a rail of 10 µs a tank without any loss, of 2 ns: no step follows it, and no formula may feed it.
#[test]
fn exact_an_undamped_tank_far_faster_than_the_steps_is_not_said_to_oscillate() {
    let tank = "R1 = { kind = \"resistor\", nodes = [\"in\", \"a\"], resistance = \"1 Ω\" }\n\
        C1 = { kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitance = \"10 µF\" }\n\
        L2 = { kind = \"inductor\", nodes = [\"a\", \"b\"], inductance = \"1 nH\" }\n\
        C2 = { kind = \"capacitor\", nodes = [\"b\", \"gnd\"], capacitance = \"100 pF\" }\n";
    for edge in ["0 s", "1 µs"] {
        for accuracy in ["100 mV", "1 mV", "10 µV"] {
            says_nothing_of_an_oscillation(&ringing(tank, edge, 1e-3, accuracy));
        }
    }
}

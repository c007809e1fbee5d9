//! Circuits that are hard for a reason each, and known in closed form or bounded by physics.

mod bistable;
mod oscillating;

use crate::bench::{BOTH, Bench, Solved};
use railstep::analysis::Method;
use std::f64::consts::TAU;
use std::fmt::Write as _;

fn watch(parts: &str, duration_s: f64, start: &str) -> Bench {
    Bench::of(&format!(
        "title = \"hard\"\n[parts]\n{parts}\n[[tests]]\nname = \"watch\"\nkind = \"profile\"\nduration = \"{duration_s:e} s\"\n{start}"
    ))
}

const FROM_VALUES: &str = "start = \"initial-values\"\n";

/// What a run's errors add up to, in node tolerances: each step errs by one at most, and as the next forgets some of
/// it RODAS4P by 1.5 to 1.9 in all, TR-BDF2 by 2 to 20 times more; twice that here.
fn added_up(method: Method) -> f64 {
    if method == Method::Rodas4p { 4.0 } else { 80.0 }
}

fn near(run: &Solved, name: &str, t: f64, expected: f64, allowed: f64) {
    let got = run.at(name, t);
    assert!(
        (got - expected).abs() <= allowed,
        "{name} at {t:e}: {got} for {expected}, {allowed:e} allowed"
    );
}

/// v = cos ωt for ever. The exact motion keeps distances (in energy), so that errors of steps add up and do
/// not grow: no more than a tolerance each.
#[test]
fn exact_an_undamped_resonance_rings_on() {
    let parts = "C1 = { kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitance = \"1 µF\", initial = \"1 V\" }\n\
        L1 = { kind = \"inductor\", nodes = [\"a\", \"gnd\"], inductance = \"1 µH\", initial = \"0 A\" }";
    let periods = 100.0;
    let end = periods * TAU * 1e-6;
    for (method, s) in [(Method::Rodas4p, 1e-6), (Method::TrBdf2, 1e-6)] {
        let at = [0.25, 0.5, 0.775, 1.0].map(|share| share * end);
        let run = watch(parts, end, FROM_VALUES).solve("watch", method, s, &at);
        let allowed = run.work.steps as f64 * s;
        assert!(allowed < 0.05, "{method:?}: {} steps", run.work.steps);
        for t in at {
            near(&run, "a", t, (t * 1e6).cos(), allowed);
        }
        // Formulas that damp may take energy out, never put it in.
        let u = crate::bench::unknown(&run.system, "a");
        let most = (0..run.record.len()).map(|k| run.record.value(k, u).abs()).fold(0.0, f64::max);
        assert!(most <= 1.0 + s, "{method:?}: {most}");
    }
}

/// A source, two capacitors in series across it and a third one across both: charge divides at once, as
/// C1/(C1 + C2), and leaks away with R·(C1 + C2). The source's slope drives C3 with 1 nF·1 V/µs.
#[test]
fn exact_loops_of_capacitors_and_sources_divide_charge() {
    let parts = "V1 = { kind = \"voltage-source\", plus = \"in\", minus = \"gnd\", varies = { shape = \"ramp\", change = \"1 V\", delay = \"1 µs\", edge = \"1 µs\" } }\n\
        C1 = { kind = \"capacitor\", nodes = [\"in\", \"m\"], capacitance = \"1 nF\" }\n\
        C2 = { kind = \"capacitor\", nodes = [\"m\", \"gnd\"], capacitance = \"3 nF\" }\n\
        C3 = { kind = \"capacitor\", nodes = [\"in\", \"gnd\"], capacitance = \"1 nF\" }\n\
        R1 = { kind = \"resistor\", nodes = [\"m\", \"gnd\"], resistance = \"10 kΩ\" }";
    let tau = 10e3 * 4e-9;
    // During the ramp m follows R·C1·slope·(1 − e^(−t/τ)).
    let peak = 10e3 * 1e-9 * 1e6 * (1.0 - (-1e-6_f64 / tau).exp());
    for method in BOTH {
        let times = [1.5e-6, 2e-6, 42e-6, 100e-6];
        let run = watch(parts, 120e-6, "").solve("watch", method, 1e-7, &times);
        let allowed = added_up(method) * 1e-7;
        near(&run, "m", 1.5e-6, 10.0 * (1.0 - (-0.5e-6_f64 / tau).exp()), allowed);
        for t in [2e-6, 42e-6, 100e-6] {
            near(&run, "m", t, peak * (-(t - 2e-6) / tau).exp(), allowed);
        }
        // C1 + C2 in series and C3, each by its slope of voltage; 300 times relaxed, 1 A for 10 V.
        let ampere = 1e-9 * 1e6 + 1e-9 * (1e6 - peak_slope(0.5e-6, tau));
        near(&run, "V1.current", 1.5e-6, -ampere, 300.0 * 1e-7 * 10.0);
    }
}

/// dv_m/dt so long into the ramp.
fn peak_slope(t: f64, tau: f64) -> f64 {
    10.0 / tau * (-t / tau).exp()
}

/// A jump of the source into the same loop is a jump of charge: both sides of it balance exactly.
#[test]
fn exact_a_jump_into_a_loop_of_capacitors_divides_as_they_do() {
    let parts = "V1 = { kind = \"voltage-source\", plus = \"in\", minus = \"gnd\", varies = { shape = \"ramp\", change = \"1 V\", delay = \"1 µs\", edge = \"0 s\" } }\n\
        C1 = { kind = \"capacitor\", nodes = [\"in\", \"m\"], capacitance = \"1 nF\" }\n\
        C2 = { kind = \"capacitor\", nodes = [\"m\", \"gnd\"], capacitance = \"3 nF\" }\n\
        R1 = { kind = \"resistor\", nodes = [\"m\", \"gnd\"], resistance = \"10 kΩ\" }";
    let tau = 10e3 * 4e-9;
    for method in BOTH {
        let run = watch(parts, 100e-6, "").solve("watch", method, 1e-7, &[2e-6, 41e-6]);
        for t in [2e-6, 41e-6] {
            near(&run, "m", t, 0.25 * (-(t - 1e-6) / tau).exp(), added_up(method) * 1e-7);
        }
    }
}

/// Inductors and a current source alone meet at a node: v = (L1·L2/(L1 + L2))·di/dt, and the current divides
/// as 1/L. Behind it a second such node, so that one derivative hangs on another node's current.
#[test]
fn exact_inductors_alone_with_a_current_source_divide_its_current() {
    let parts = "I1 = { kind = \"current-source\", nodes = [\"gnd\", \"a\"], varies = { shape = \"ramp\", change = \"1 A\", delay = \"1 µs\", edge = \"10 µs\" } }\n\
        L1 = { kind = \"inductor\", nodes = [\"a\", \"gnd\"], inductance = \"1 mH\", series_resistance = \"1 µΩ\" }\n\
        L2 = { kind = \"inductor\", nodes = [\"a\", \"b\"], inductance = \"1 mH\", series_resistance = \"1 µΩ\" }\n\
        L3 = { kind = \"inductor\", nodes = [\"b\", \"gnd\"], inductance = \"4 mH\", series_resistance = \"1 µΩ\" }\n\
        L4 = { kind = \"inductor\", nodes = [\"b\", \"gnd\"], inductance = \"4 mH\", series_resistance = \"1 µΩ\" }";
    // L3 and L4 are 2 mH; with L2 3 mH; beside 1 mH: 0.75 mH. 0.1 A/µs make 75 V at a, 50 V at b.
    for method in BOTH {
        let run = watch(parts, 20e-6, "").solve("watch", method, 1e-6, &[6e-6, 18e-6]);
        // Relaxed three hundredfold, and 3e-7 a volt: 0.3 mV and 7 mV of 75 V.
        near(&run, "a", 6e-6, 75.0, 10e-3);
        near(&run, "b", 6e-6, 50.0, 10e-3);
        near(&run, "a", 18e-6, 0.0, 1e-3);
        near(&run, "L1.current", 18e-6, 0.75, 1e-4);
        near(&run, "L3.current", 18e-6, 0.125, 1e-4);
    }
}

/// Thirteen time constants from 1 ps to 1 s behind one source, 1 mΩ to 1 GΩ: v = 1 − e^(−t/τ) each.
#[test]
fn exact_twelve_decades_of_time_constants_in_one_circuit() {
    let mut parts = String::from(
        "V1 = { kind = \"voltage-source\", plus = \"in\", minus = \"gnd\", varies = { shape = \"ramp\", change = \"1 V\", delay = \"0 s\", edge = \"0 s\" } }\n",
    );
    for k in 0..13 {
        let _ = writeln!(
            parts,
            "R{k} = {{ kind = \"resistor\", nodes = [\"in\", \"n{k}\"], resistance = \"1e{} Ω\" }}\nC{k} = {{ kind = \"capacitor\", nodes = [\"n{k}\", \"gnd\"], capacitance = \"1 nF\", initial = \"0 V\" }}",
            k - 3
        );
    }
    let times = [1e-12, 1e-10, 1e-8, 1e-6, 1e-4, 1e-2, 1.0];
    for method in BOTH {
        let run = watch(&parts, 2.0, FROM_VALUES).solve("watch", method, 1e-7, &times);
        assert!(run.work.steps < 3000, "{method:?}: {} steps", run.work.steps);
        for t in times.into_iter().skip(1) {
            for k in 0..13 {
                let tau = 10_f64.powi(k - 12);
                // What corners leave lies within 10 ps of them: later it has decayed or not begun.
                near(&run, &format!("n{k}"), t, 1.0 - (-t / tau).exp(), 2e-6 + 2e-11 / t);
            }
        }
    }
}

/// 60 pulses of 5 µs with 1 µs edges, one a second: a minute, a part in 10⁷ of it moving. Behind 10 µs each
/// pulse is the first one, as the second between them lasts 10⁵ time constants.
#[test]
fn exact_microsecond_edges_in_a_minute() {
    let parts = "V1 = { kind = \"voltage-source\", plus = \"in\", minus = \"gnd\", varies = { shape = \"pulse\", change = \"1 V\", delay = \"0.5 s\", edge = \"1 µs\", width = \"5 µs\", period = \"1 s\" } }\n\
        R1 = { kind = \"resistor\", nodes = [\"in\", \"a\"], resistance = \"1 kΩ\" }\n\
        C1 = { kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitance = \"10 nF\" }";
    let tau = 1e-5_f64;
    // A ramp of slope 1/e over e from rest: (1/e)·(t − τ·(1 − e^(−t/τ))); then towards 1 V.
    let risen = 1e6 * (1e-6 - tau * (1.0 - (-1e-6 / tau).exp()));
    let after = |held_s: f64| 1.0 + (risen - 1.0) * (-held_s / tau).exp();
    let pulses: Vec<f64> = [0, 1, 17, 42, 59].map(|k| f64::from(k) + 0.5).to_vec();
    let times: Vec<f64> = pulses.iter().map(|t| t + 4e-6).collect();
    for method in BOTH {
        let run = watch(parts, 60.0, "").solve("watch", method, 1e-6, &times);
        assert!(run.work.attempts() < 60 * 200, "{method:?}: {} attempts", run.work.attempts());
        for t in &times {
            // 60 s are known to 7e-15 s: 0.1 V/µs make nothing of it.
            near(&run, "a", *t, after(3e-6), 1e-5);
        }
        near(&run, "a", 59.9, 0.0, 1e-6);
    }
}

/// C·v' = g·v − k·v³ (Bernoulli): v² = w²/(1 + (w²/v₀² − 1)·e^(−2gt/C)), w = √(g/k); to either side.
#[test]
fn exact_a_bistable_circuit_falls_to_the_side_it_is_pushed_to() {
    for push in [1e-3, -1e-3, -1.7] {
        let parts = format!(
            "C1 = {{ kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitance = \"1 nF\", initial = \"{push} V\" }}\n\
            R1 = {{ kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 kΩ\" }}\n\
            G1 = {{ kind = \"law\", nodes = [\"a\", \"gnd\"], inputs = {{ x = [\"a\", \"gnd\"] }}, current = \"-2 mS * x + 1 mA * (x / 1 V)^3\" }}"
        );
        let times = [1e-6, 4e-6, 7e-6, 20e-6];
        for method in BOTH {
            let run = watch(&parts, 20e-6, FROM_VALUES).solve("watch", method, 1e-7, &times);
            for t in times {
                let square = 1.0 / (1.0 + (1.0 / (push * push) - 1.0) * (-2.0 * t * 1e6).exp());
                let growth = (square.sqrt() / f64::abs(push)).max(1.0);
                // An error at the start grows as the voltage does.
                near(&run, "a", t, square.sqrt().copysign(push), added_up(method) * 1e-7 * growth);
            }
        }
    }
}

/// A coil, a capacitor and i = −g·v + k·v³: the limit cycle of van der Pol (Phil. Mag. 2 (1926), from memory):
/// amplitude √(4g/3k)·(1 + O(ε²)) and ω = ω₀·(1 − ε²/16), ε = g·√(L/C).
fn van_der_pol(siemens: f64) -> Bench {
    Bench::of(&format!(
        r#"title = "limit cycle"
[rail]
output = "a"
nominal = "5 V"
load = "I1"
[parts]
C1 = {{ kind = "capacitor", nodes = ["a", "gnd"], capacitance = "1 µF", initial = "1 V" }}
L1 = {{ kind = "inductor", nodes = ["a", "gnd"], inductance = "1 µH", initial = "0 A" }}
G1 = {{ kind = "law", nodes = ["a", "gnd"], inputs = {{ x = ["a", "gnd"] }}, current = "{siemens} S * ((x / 1 V)^2 / 3 - 1) * x" }}
I1 = {{ kind = "current-source", nodes = ["a", "gnd"], current = "0 A" }}
[[tests]]
name = "watch"
kind = "load-step"
from = "0 A"
to = "10 mA"
edge = "1 µs"
hold = "400 µs"
require = {{ recovery = {{ limit = "<= 1 ms", band = "1 %" }} }}
"#
    ))
}

#[test]
fn exact_a_limit_cycle_is_told_with_amplitude_and_frequency() {
    let epsilon: f64 = 0.2;
    for method in BOTH {
        let outcome = van_der_pol(epsilon).outcome("watch", method);
        let row = |name: &str| {
            let found = outcome.measurements.iter().find(|m| m.name == name).expect("a row");
            (found.value, found.reason.clone().unwrap_or_default())
        };
        // ω₀/(2π)·(1 − 0.04/16) = 158.76 kHz.
        let (_, words) = row("recovery");
        assert!(words.contains("V peak to peak at 158.8 kHz"), "{words}");
        assert!(words.contains("the same when solved ten times tighter"), "{words}");
        // Twice 2 V, to second order in ε.
        let ripple = row("late_ripple").0.expect("a ripple");
        assert!((ripple - 4.0).abs() < 4.0 * epsilon * epsilon / 16.0, "{ripple}");
        assert_eq!(outcome.verdict, railstep::measure::Verdict::Fail);
    }
}

/// i·R + n·U_T·ln(1 + i/I_S) = V, whatever V; backwards nothing but I_S.
#[test]
fn exact_diodes_at_a_hundred_volts_both_ways() {
    let width = 1.380_649e-23 / 1.602_176_634e-19 * 298.15;
    for (ohm, sign) in [(1e-3, 1.0), (1e3, 1.0), (1e9, 1.0), (1e-3, -1.0), (1e3, -1.0), (1e9, -1.0)]
    {
        let parts = format!(
            "V1 = {{ kind = \"voltage-source\", plus = \"in\", minus = \"gnd\", voltage = \"{} V\" }}\n\
            R1 = {{ kind = \"resistor\", nodes = [\"in\", \"a\"], resistance = \"{ohm:e} Ω\" }}\n\
            D1 = {{ kind = \"diode\", anode = \"a\", cathode = \"gnd\", saturation_current = \"1e-14 A\" }}",
            100.0 * sign
        );
        let (system, rest) = watch(&parts, 1.0, "").at_rest("watch");
        let v = rest[crate::bench::unknown(&system, "a")];
        if sign > 0.0 {
            let ampere = (100.0 - v) / ohm;
            let back = ampere * ohm + width * (ampere / 1e-14).ln_1p();
            assert!((back - 100.0).abs() < 1e-9, "{ohm:e} Ω: {back}");
        } else {
            // All of the voltage but R·I_S lies across it.
            assert!((v + 100.0 - 1e-14 * ohm).abs() < 1e-9, "{ohm:e} Ω: {v}");
        }
    }
}

/// A sine of 100 V through a diode into a resistor: forward its drop, backwards R·I_S, whatever the charge
/// stored in it, once that is gone.
#[test]
fn exact_a_hundred_volts_of_sine_through_a_diode() {
    let parts = "V1 = { kind = \"voltage-source\", plus = \"in\", minus = \"gnd\", varies = { shape = \"sine\", amplitude = \"100 V\", frequency = \"1 kHz\" } }\n\
        D1 = { kind = \"diode\", anode = \"in\", cathode = \"a\", saturation_current = \"1e-14 A\", zero_bias_capacitance = \"10 pF\", transit_time = \"10 ns\" }\n\
        R1 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 kΩ\" }";
    let width = 1.380_649e-23 / 1.602_176_634e-19 * 298.15;
    for method in BOTH {
        let times = [0.25e-3, 0.75e-3, 1.25e-3, 1.75e-3];
        let run = watch(parts, 2e-3, "").solve("watch", method, 1e-6, &times);
        for t in times {
            let v = run.at("a", t);
            if (t * 1e3).fract() < 0.5 {
                // At the peak nothing moves but the charge, by ppm.
                let drop = width * (v / 1e3 / 1e-14).ln_1p();
                assert!((v + drop - 100.0).abs() < 1e-4, "{method:?} {t}: {v} + {drop}");
            } else {
                assert!(v.abs() < 1e-4, "{method:?} {t}: {v}");
            }
        }
    }
}

/// I_S(T) = I_S·(T/T_c)³·exp((E_g·q/k)·(1/T_c − 1/T)), v = U_T·ln(1 + i/I_S(T)); a resistance 1 + α·ΔT.
#[test]
fn exact_junctions_and_resistances_from_55_below_to_175_degrees() {
    let per_kelvin = 1.380_649e-23 / 1.602_176_634e-19;
    for celsius in [-55.0, 0.0, 25.0, 125.0, 175.0] {
        let text = format!(
            "title = \"hot\"\n[rail]\nambient = \"{celsius} °C\"\n[parts]\n\
            I1 = {{ kind = \"current-source\", nodes = [\"gnd\", \"a\"], current = \"1 mA\" }}\n\
            D1 = {{ kind = \"diode\", anode = \"a\", cathode = \"gnd\", saturation_current = \"1e-14 A\" }}\n\
            I2 = {{ kind = \"current-source\", nodes = [\"gnd\", \"b\"], current = \"1 mA\" }}\n\
            Q1 = {{ kind = \"bipolar\", collector = \"b\", base = \"b\", emitter = \"gnd\", polarity = \"npn\", saturation_current = \"1e-15 A\", forward_gain = 100 }}\n\
            I3 = {{ kind = \"current-source\", nodes = [\"gnd\", \"c\"], current = \"1 mA\" }}\n\
            R1 = {{ kind = \"resistor\", nodes = [\"c\", \"gnd\"], resistance = \"1 kΩ\", temperature_coefficient = \"0.0039 1/K\" }}\n"
        );
        let system = Bench::of(&text).system();
        let rest = railstep::analysis::operating_point(&system, &system.pieces(-1.0), 0.0, None)
            .expect("rest");
        let (t, c): (f64, f64) = (celsius + 273.15, 298.15);
        let grown = (t / c).powi(3) * (1.11 / per_kelvin * (1.0 / c - 1.0 / t)).exp();
        let junction = |is: f64, ampere: f64| per_kelvin * t * (ampere / (is * grown)).ln_1p();
        let at = |name: &str| rest.z[crate::bench::unknown(&system, name)];
        let (a, b) = (junction(1e-14, 1e-3), junction(1e-15, 1e-3 / 1.01));
        assert!((at("a") - a).abs() < 1e-9, "{celsius}: {} for {a}", at("a"));
        // Collector and base currents together are (1 + 1/β)·I_CC.
        assert!((at("b") - b).abs() < 1e-9, "{celsius}: {} for {b}", at("b"));
        assert!(
            (at("c") - (1.0 + 0.0039 * (celsius - 25.0))).abs() < 1e-9,
            "{celsius}: {}",
            at("c")
        );
    }
}

/// Nothing has no current, and a part alone is solved as what it is: 0 V on a short of its own.
#[test]
fn exact_circuits_of_no_part_and_of_one() {
    let read = |parts: &str| {
        let text = format!(
            "title = \"small\"\n[parts]\n{parts}\n[[tests]]\nname = \"watch\"\nkind = \"profile\"\nduration = \"1 µs\"\n"
        );
        railstep::plan::read(
            "small.toml",
            &text,
            &crate::bench::NoFiles,
            &railstep::circuit::Changes::default(),
        )
    };
    let words = |parts: &str| -> Vec<String> {
        read(parts).diagnostics.iter().map(|d| d.message.clone()).collect()
    };
    let loose = "R1 = { kind = \"resistor\", nodes = [\"a\", \"b\"], resistance = \"1 Ω\" }";
    assert!(
        read(loose).plan.is_none() && words(loose).iter().any(|w| w.contains("gnd")),
        "{:?}",
        words(loose)
    );
    for parts in [
        "",
        "R1 = { kind = \"resistor\", nodes = [\"gnd\", \"gnd\"], resistance = \"1 Ω\" }",
        "C1 = { kind = \"capacitor\", nodes = [\"gnd\", \"gnd\"], capacitance = \"1 F\", esr = \"1 Ω\", esl = \"1 H\" }",
        "I1 = { kind = \"current-source\", nodes = [\"gnd\", \"gnd\"], current = \"1 A\" }",
    ] {
        let run = Bench::of(&read_text(parts)).solve("watch", Method::Rodas4p, 1e-6, &[]);
        assert_eq!(run.record.times_s().last(), Some(&1e-6), "{parts}");
        for k in 0..run.record.len() {
            assert!(run.record.point(k).x.iter().all(|x| *x == 0.0), "{parts}");
        }
    }
}

fn read_text(parts: &str) -> String {
    format!(
        "title = \"small\"\n[parts]\n{parts}\n[[tests]]\nname = \"watch\"\nkind = \"profile\"\nduration = \"1 µs\"\n"
    )
}

//! Loop gain by injection against a circuit whose loop gain has a closed form.

#![allow(clippy::unreadable_literal)] // digits as their sources have them
#![allow(clippy::format_push_string)] // a short netlist, written once

use crate::bench::{Bench, measured};
use crate::sources::{AN1148, MIDDLEBROOK, SECOND_ORDER};
use crate::table::{Check, Figures, Section};
use nalgebra::Complex;
use railstep::analysis::small_signal::{LoopPoint, SmallSignal};
use railstep::analysis::{Method, operating_point};
use railstep::curve::Cell;
use railstep::measure::margins::margins;
use railstep::measure::{Measurement, Verdict};
use railstep::trial::Outcome;
use std::f64::consts::TAU;

pub(crate) const SECTION: Section = Section {
    title: "Loop gain, margins, the window of the ESR",
    checks: &[
        Check::new(
            "two transconductors: gain and phase from 10 Hz to 1 MHz",
            (&MIDDLEBROOK, "closed form of the circuit"),
            "dB",
            two_transconductors,
        ),
        Check::new(
            "the same: crossover and phase margin",
            (&MIDDLEBROOK, "closed form of the circuit"),
            "Hz",
            crossover_of_two_transconductors,
        ),
        Check::new(
            "single and double injection where a current flows",
            (&MIDDLEBROOK, "p. 485"),
            "",
            single_injections,
        ),
        Check::new(
            "phase margin over damping",
            (&SECOND_ORDER, "second-order loop"),
            "deg",
            second_order_margins,
        ),
        Check::new(
            "ESR window of a p-type regulator: 1 Ω and four others",
            (&AN1148, ""),
            "deg",
            esr_window,
        ),
        Check::new(
            "four poles and zeros, drawn there as 1 MHz and 6°",
            (&AN1148, ""),
            "deg",
            drawn_by_asymptotes,
        ),
    ],
};

/// Two transconductors: -1 mS from `fb` into `a`, 0.1 S from `a` into `o`; `a` has 100 kΩ and 1 nF,
/// `o` 10 Ω and 10 µF with 10 mΩ; two 50 kΩ divide `o` to `fb`. All is linear.
fn circuit(feedback: &str, across: &str) -> Bench {
    Bench::of(&net(feedback, across))
}

fn net(feedback: &str, across: &str) -> String {
    format!(
        r#"title = "two transconductors"
[rail]
output = "o"
nominal = "1 V"
feedback = "{feedback}"
[parts]
V_W = {{ kind = "voltage-source", plus = "fb", minus = "in", voltage = "0 V" }}
G_1 = {{ kind = "controlled-current-source", nodes = ["a", "gnd"], input = ["in", "gnd"], transconductance = "1 mS" }}
R_1 = {{ kind = "resistor", nodes = ["a", "gnd"], resistance = "100 kΩ" }}
C_1 = {{ kind = "capacitor", nodes = ["a", "gnd"], capacitance = "1 nF" }}
G_2 = {{ kind = "controlled-current-source", nodes = ["gnd", "o"], input = ["a", "gnd"], transconductance = "0.1 S" }}
R_L = {{ kind = "resistor", nodes = ["o", "gnd"], resistance = "10 Ω" }}
C_O = {{ kind = "capacitor", nodes = ["o", "gnd"], capacitance = "10 µF", esr = "10 mΩ" }}
R_A = {{ kind = "resistor", nodes = ["o", "fb"], resistance = "50 kΩ" }}
R_B = {{ kind = "resistor", nodes = ["fb", "gnd"], resistance = "50 kΩ" }}
{across}
"#
    )
}

const WITHOUT: &str = "";
const C_M: &str = r#"C_M = { kind = "capacitor", nodes = ["a", "o"], capacitance = "100 pF" }"#;

fn with_loop<R>(bench: &Bench, ask: impl FnOnce(&mut dyn FnMut(f64) -> LoopPoint) -> R) -> R {
    let (system, wire) = bench.bridged();
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).expect("rest");
    let mut small = SmallSignal::new(&system, &rest.z);
    ask(&mut |hz| small.loop_gain(wire, hz).expect("no natural frequency there"))
}

/// T(s) = gm1·β·(gm2 + sCm)/[(Ya+sCm)(Yo+sCm) − sCm(sCm+gm2)].
fn closed_form(hz: f64, c_m: f64) -> Complex<f64> {
    let s = Complex::new(0.0, TAU * hz);
    let (y_a, s_m) = (s * 1e-9 + 1e-5, s * c_m);
    let y_o = s * 10e-6 / (s * 10e-6 * 10e-3 + 1.0) + 0.1 + 1e-5;
    (s_m + 0.1) * 0.5e-3 / ((y_a + s_m) * (y_o + s_m) - s_m * (s_m + 0.1))
}

fn complex(f: &mut Figures, got: Complex<f64>, expected: Complex<f64>, within: f64) {
    f.close(got.re, expected.re, within);
    f.close(got.im, expected.im, within);
}

/// Hz, dB, degrees without and with 100 pF; 25-digit arithmetic of the closed form.
const ROWS: [(f64, [f64; 2], [f64; 2]); 6] = [
    (10.0, [33.9781883342, -0.71995451620168], [33.978222607008, -0.71996095816891]),
    (100.0, [33.944277795464, -7.1901748434618], [33.947665753793, -7.1930325016357]),
    (1e3, [31.086179933185, -64.271039016503], [31.190433256115, -65.749718486218]),
    (1e4, [1.8266114557105, -161.56187991369], [1.0537883715924, -163.14336029193]),
    (1e5, [-37.941563466511, -174.58191864616], [-38.768142940296, -174.71145024718]),
    (1e6, [-76.511428930519, -147.67579638516], [-77.338395510779, -147.33268519412]),
];

fn two_transconductors() -> Figures {
    let mut f = Figures::default();
    for (across, column) in [(WITHOUT, 0), (C_M, 1)] {
        // The wire is the same whichever of its ends is called the terminal.
        for feedback in ["V_W.minus", "V_W.plus"] {
            let bench = circuit(feedback, across);
            with_loop(&bench, |gain| {
                for (hz, plain, with_c_m) in ROWS {
                    let expected = [plain, with_c_m][column];
                    let t = gain(hz).gain;
                    let db = 20.0 * t.norm().log10();
                    // T = 1/x − 1 loses what T is smaller than 1: at 1 MHz twelve digits are left.
                    f.close(db, expected[0], 1e-8);
                    let phase = t.arg().to_degrees();
                    f.close(phase, expected[1], 1e-7);
                    let form = closed_form(hz, [0.0, 100e-12][column]);
                    assert!((t - form).norm() < 1e-9 * form.norm().max(1e-3), "{hz}: {t} {form}");
                }
            });
        }
    }
    f
}

fn crossover_of_two_transconductors() -> Figures {
    let mut f = Figures::default();
    let cases =
        [(WITHOUT, 11_135.406856642, 16.661692584645), (C_M, 10_636.921039155, 15.901040749264)];
    for (across, crossover_hz, margin_deg) in cases {
        let grid: Vec<f64> = (0..161).map(|k| 10f64.powf(f64::from(k) / 20.0)).collect();
        let bench = circuit("V_W.minus", across);
        let found = with_loop(&bench, |gain| margins(&mut |hz| Some(gain(hz).gain), &grid));
        let at = found.crossover().expect("a crossover");
        f.near(at.hz, crossover_hz, 1e-10);
        f.close(at.phase_margin_deg, margin_deg, 1e-8);
        assert_eq!(found.crossovers.len(), 1);
    }
    f
}

/// At the wire from output to divider the terminal takes a current: single injections disagree,
/// both together give T (R. D. Middlebrook, Int. J. Electronics 38 (1975) 485-512).
fn single_injections() -> Figures {
    let mut f = Figures::default();
    let rows = [
        (
            1e3,
            Complex::new(15.556283091424, -32.285413479791),
            Complex::new(368_482.34800265, -218_955.43885752),
        ),
        (
            1e5,
            Complex::new(-0.012617489664053, -0.0011983010720492),
            Complex::new(49_449.795334757, 617_892.05076157),
        ),
    ];
    let bench = circuit("R_A.a", WITHOUT);
    with_loop(&bench, |gain| {
        for (hz, voltage_gain, current_gain) in rows {
            let at = gain(hz);
            let form = closed_form(hz, 0.0);
            complex(&mut f, at.gain, form, 1e-9 * form.norm().max(0.1));
            complex(&mut f, at.voltage_gain, voltage_gain, 1e-10 * voltage_gain.norm());
            // The current into the divider is a millionth of what flows: ten digits are left.
            complex(&mut f, at.current_gain, current_gain, 1e-8 * current_gain.norm());
            let middlebrook = (at.voltage_gain * at.current_gain - 1.0)
                / (at.voltage_gain + at.current_gain + 2.0);
            complex(&mut f, middlebrook, form, 1e-9 * form.norm().max(0.1));
        }
    });
    f
}

/// Four stages that do not load each other: a gain of 100 with the first pole, of 100 with the second, of
/// 1 with the third, and an inductance that makes the zero.
fn stages(poles_hz: [f64; 3], zero_hz: Option<f64>) -> Bench {
    let farad = poles_hz.map(|hz| 1.0 / (TAU * 1e3 * hz));
    let henry = zero_hz.map(|hz| {
        format!(
            "L_4 = {{ kind = \"inductor\", nodes = [\"d\", \"gnd\"], \
        inductance = \"{:e} H\", series_resistance = \"1 Ω\" }}",
            1.0 / (TAU * hz)
        )
    });
    let last = henry.unwrap_or_else(|| {
        "R_4 = { kind = \"resistor\", nodes = [\"d\", \"gnd\"], resistance = \"1 Ω\" }".to_owned()
    });
    let mut text = String::from(
        r#"title = "stages"
[rail]
output = "d"
nominal = "1 V"
feedback = "V_W.minus"
[parts]
V_W = { kind = "voltage-source", plus = "d", minus = "in", voltage = "0 V" }
"#,
    );
    let wires = [
        ("in", "[\"a\", \"gnd\"]"),
        ("a", "[\"gnd\", \"b\"]"),
        ("b", "[\"gnd\", \"c\"]"),
        ("c", "[\"gnd\", \"d\"]"),
    ];
    let siemens = ["100 mS", "100 mS", "1 mS", "1 S"];
    for (k, ((input, nodes), siemens)) in wires.into_iter().zip(siemens).enumerate() {
        text += &format!(
            "G_{k} = {{ kind = \"controlled-current-source\", nodes = {nodes}, \
             input = [\"{input}\", \"gnd\"], transconductance = \"{siemens}\" }}\n"
        );
    }
    for (node, farad) in ["a", "b", "c"].into_iter().zip(farad) {
        text += &format!(
            "R_{node} = {{ kind = \"resistor\", nodes = [\"{node}\", \"gnd\"], resistance = \"1 kΩ\" }}\n\
             C_{node} = {{ kind = \"capacitor\", nodes = [\"{node}\", \"gnd\"], capacitance = \"{farad:e} F\" }}\n"
        );
    }
    Bench::of(&format!(
        "{text}{last}\n[[tests]]\nname = \"loop\"\nkind = \"loop-gain\"\nlowest = \"1 Hz\"\n"
    ))
}

/// The P-type regulator of Texas Instruments AN-1148 (C. Simpson): load pole 159 Hz at 50 mA (100 Ω and
/// 10 µF), internal pole 1 kHz, pass-gate pole 500 kHz, 80 dB; the pole list was looked up on a secondary
/// page, gain and the cases of ESR are from memory; figures are closed arithmetic of 10 and more
/// digits. Rounded as published: 1 Ω, zero 16 kHz: 100 kHz and 70°; without a zero unstable.
fn esr_window() -> Figures {
    let poles_hz = [1.0 / (TAU * 100.0 * 10e-6), 1e3, 5e5];
    let mut f = Figures::default();
    for (zero_hz, crossover_hz, margin_deg) in [
        (Some(15_915.4943092), 99_329.2241089, 70.3294975573),
        (Some(159_154.943092), 40_451.0837926, 11.2767248664),
        (Some(318_309.886184), 39_980.4741663, 4.2481758851),
        (Some(795.774715459), 939_564.791904, 28.0423384322),
        (None, 39_824.769943, -2.88659917903),
    ] {
        margin(&mut f, poles_hz, zero_hz, [crossover_hz, margin_deg]);
    }
    f
}

/// The example of the same note with poles at 100 Hz, 10 kHz and 100 kHz and a zero at 1 kHz, drawn
/// there by asymptotes as 1 MHz and 6° (looked up on a page that cites it).
fn drawn_by_asymptotes() -> Figures {
    let mut f = Figures::default();
    margin(&mut f, [100.0, 1e4, 1e5], Some(1e3), [997_478.194586, 6.24762531]);
    f
}

/// Margin and crossover of [`stages`] as a user measures them.
fn margin(
    f: &mut Figures,
    poles_hz: [f64; 3],
    zero_hz: Option<f64>,
    [crossover_hz, margin_deg]: [f64; 2],
) {
    let outcome = stages(poles_hz, zero_hz).outcome("loop", Method::default());
    // The least given has nine digits behind the figure.
    f.close(measured(&outcome, "phase_margin"), margin_deg, 1e-7);
    f.near(measured(&outcome, "crossover"), crossover_hz, 1e-9);
    let grows = row(&outcome, "phase_margin").reason.as_deref().unwrap_or("");
    assert_eq!(grows.contains("unstable"), margin_deg < 0.0, "{grows}");
}

/// An integrator and a lag: T = ω0²/(s(s + 2ζω0)), ω0 = 2π·10 kHz; PM = atan(2ζ/√(√(1 + 4ζ⁴) − 2ζ²)),
/// evaluated with 40 digits.
fn second_order_margins() -> Figures {
    let mut f = Figures::default();
    for (damping, margin_deg) in [
        (0.5, 51.82729237),
        (0.05, 5.724792592),
        (0.1, 11.42061909),
        (0.2, 22.60228412),
        (0.3, 33.27249096),
        (0.4, 43.11759796),
        (0.6, 59.18726681),
        (0.7, 65.15639347),
        (0.8, 69.8599989),
        (0.9, 73.51372216),
    ] {
        let omega = TAU * 1e4;
        // i = 1 S·v into C: ω/C = ω0/2ζ (what leaks turns the phase by 1e-9°); then 1 Ω beside the capacitance that makes the lag 2ζω0.
        let (integrating, lagging) = (2.0 * damping / omega, 0.5 / (damping * omega));
        let text = format!(
            r#"title = "integrator and lag"
[rail]
output = "b"
nominal = "1 V"
feedback = "V_W.minus"
[parts]
V_W = {{ kind = "voltage-source", plus = "b", minus = "in", voltage = "0 V" }}
G_1 = {{ kind = "controlled-current-source", nodes = ["a", "gnd"], input = ["in", "gnd"], transconductance = "1 S" }}
C_1 = {{ kind = "capacitor", nodes = ["a", "gnd"], capacitance = "{integrating:e} F" }}
R_1 = {{ kind = "resistor", nodes = ["a", "gnd"], resistance = "1000 GΩ" }}
G_2 = {{ kind = "controlled-current-source", nodes = ["gnd", "b"], input = ["a", "gnd"], transconductance = "1 S" }}
R_2 = {{ kind = "resistor", nodes = ["b", "gnd"], resistance = "1 Ω" }}
C_2 = {{ kind = "capacitor", nodes = ["b", "gnd"], capacitance = "{lagging:e} F" }}
[[tests]]
name = "loop"
kind = "loop-gain"
"#
        );
        let outcome = Bench::of(&text).outcome("loop", Method::default());
        // Given to ten digits.
        f.close(measured(&outcome, "phase_margin"), margin_deg, 1e-7);
    }
    f
}

fn row<'a>(outcome: &'a Outcome, name: &str) -> &'a Measurement {
    outcome.measurements.iter().find(|m| m.name == name).expect(name)
}

/// What the table of loops remarks on the condition in row `k`.
fn remark(outcome: &Outcome, k: usize) -> &Cell {
    let loops = outcome.listings.iter().find(|l| l.name == "loop_gain").expect("a table of loops");
    let at = loops.columns.iter().position(|c| c.name == "remark").expect("remarks");
    &loops.rows[k][at]
}

const ASKED: &str = "require = { phase_margin = \">= 45 deg\" }";

#[test]
fn a_loop_whose_gain_stays_below_1_has_no_crossover_and_that_is_its_result() {
    let weak = net("V_W.minus", WITHOUT).replace("\"1 mS\"", "\"10 µS\"");
    let test = format!("[[tests]]\nname = \"loop\"\nkind = \"loop-gain\"\n{ASKED}\n");
    let outcome = Bench::of(&format!("{weak}\n{test}")).outcome("loop", Method::default());
    // A hundredth of the first of the rows above.
    assert!((measured(&outcome, "low_frequency_gain") - (ROWS[0].1[0] - 40.0)).abs() < 1e-8);
    let margin = row(&outcome, "phase_margin");
    assert_eq!((margin.value, margin.verdict), (None, Verdict::NotEvaluated), "{margin:?}");
    assert!(margin.reason.as_deref().is_some_and(|why| why.starts_with("no crossover")));
    assert_eq!(remark(&outcome, 0), &Cell::from("no crossover"));
}

#[test]
fn a_loop_out_of_regulation_has_no_margin_and_that_is_its_result() {
    let demo = include_str!("../../netlists/buoy-radio.toml");
    let test = format!(
        "[[tests]]\nname = \"lost\"\nkind = \"loop-gain\"\nload_level = \"180 mA\"\n\
         source_levels = [\"3.7 V\", \"2.8 V\"]\nwindow = \"none\"\n{ASKED}\n"
    );
    let outcome = Bench::of(&format!("{demo}\n{test}")).outcome("lost", Method::default());
    let margin = row(&outcome, "phase_margin");
    assert_eq!((margin.value, margin.verdict), (None, Verdict::NotEvaluated), "{margin:?}");
    let told = "the operating point is not in regulation: `EA` is wound up at its lower swing";
    assert!(margin.reason.as_deref().is_some_and(|why| why.starts_with(told)), "{margin:?}");
    assert_eq!(remark(&outcome, 0), &Cell::from(""));
    assert_eq!(remark(&outcome, 1), &Cell::from("not in regulation"));
    assert!(
        outcome.notes.contains(&format!("180 mA, 2.8 V, 25 °C: {told}")),
        "{:?}",
        outcome.notes
    );
}

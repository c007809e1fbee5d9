//! Steps into resonant circuits and RC ladders against their closed forms.

use crate::bench::{BOTH, Bench, instant, measured};
use railstep::analysis::Method;

/// 1 V jumps onto R, 10 µH and 10 µF in series.
fn series(ohm: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "series resonance"
[rail]
output = "v"
nominal = "1 V"
source = "V1"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd" }}
L1 = {{ kind = "inductor", nodes = ["in", "v"], inductance = "10 µH", series_resistance = "{ohm}" }}
C1 = {{ kind = "capacitor", nodes = ["v", "gnd"], capacitance = "10 µF" }}
[[tests]]
name = "jump"
kind = "profile"
duration = "200 µs"
accuracy = "3 nV"
source_points = [["0 s", "0 V"], ["0 s", "1 V"]]
"#
    ))
}

/// Error allowed per method at a node tolerance of 1e-9 V: RODAS4P adds up less than ten steps'
/// worth over a few periods; TR-BDF2, of order 2, takes thousands of steps, up to 1.5 tolerances
/// each at these levels.
fn allowed(method: Method) -> f64 {
    match method {
        Method::Rodas4p => 1e-8,
        Method::TrBdf2 => 2e-6,
    }
}

/// v = 1 − e^(−αt)(cos ω_d t + (α/ω_d) sin ω_d t), i = e^(−αt) sin(ω_d t)/(ω_d L); ζ = 0.2.
/// Closed form, evaluated with 40 digits.
#[test]
fn exact_underdamped_series_step() {
    let voltage = [
        (5e-6, 0.114_681_183_977_470_9),
        (10e-6, 0.405_033_767_362_112_2),
        (20e-6, 1.127_484_445_062_084),
        (50e-6, 1.005_544_451_824_09),
        (100e-6, 1.136_092_047_595_601),
        (200e-6, 0.984_014_871_078_450_7),
    ];
    let current = [(10e-6, 0.693_879_862_109_720_8), (50e-6, -0.368_948_219_323_025_2)];
    let times: Vec<f64> = voltage.iter().map(|row| row.0).collect();
    for method in BOTH {
        let run = series("0.4 Ω").solve("jump", method, 1e-9, &times);
        for (t, v) in voltage {
            let got = run.at("v", t);
            assert!((got - v).abs() < allowed(method), "{method:?} at {t}: {got}, expected {v}");
        }
        for (t, i) in current {
            let got = run.at("L1.current", t);
            // 1 V across the characteristic impedance of 1 Ω is 1 A: the same bound in A.
            assert!((got - i).abs() < allowed(method), "{method:?} at {t}: {got}, expected {i}");
        }
    }
}

/// v = 1 − (1 + αt)e^(−αt); ζ = 1. Closed form, evaluated with 40 digits.
#[test]
fn exact_critically_damped_series_step() {
    let voltage = [
        (10e-6, 0.264_241_117_657_115_4),
        (20e-6, 0.593_994_150_290_161_9),
        (50e-6, 0.959_572_318_005_487_2),
    ];
    for method in BOTH {
        let run = series("2 Ω").solve("jump", method, 1e-9, &voltage.map(|row| row.0));
        for (t, v) in voltage {
            let got = run.at("v", t);
            assert!((got - v).abs() < allowed(method), "{method:?} at {t}: {got}, expected {v}");
        }
    }
}

/// Overshoot exp(−πζ/√(1 − ζ²)) at π/ω_d, read as a measurement.
#[test]
fn exact_peak_of_the_series_step_is_measured() {
    let outcome = series("0.4 Ω").outcome("jump", Method::Rodas4p);
    let peak = measured(&outcome, "output_maximum");
    assert!((peak - 1.526_620_599_330_303).abs() < 3e-9, "{peak}");
    // The top is flat: δv of 3 nV under a curvature ω_0² e^(−αt) of 5e9 V/s² moves it √(2δv/v''),
    // a nanosecond; a cubic finds it closer than that.
    let at = instant(&outcome, "output_maximum");
    assert!((at - 32.063_745_754_046_6e-6).abs() < 1e-9, "{at}");
}

/// v = (ΔI/(Cω_d)) e^(−αt) sin ω_d t; ζ = 0.1; peak ΔI√(L/C)·exp(−(ζ/√(1−ζ²))·acos ζ). Closed
/// form, evaluated with 40 digits.
#[test]
fn exact_current_step_into_a_parallel_resonance() {
    let bench = Bench::of(
        r#"title = "parallel resonance"
[rail]
output = "v"
nominal = "1 V"
[parts]
I1 = { kind = "current-source", nodes = ["gnd", "v"], varies = { shape = "ramp", change = "0.1 A", edge = 0 } }
R1 = { kind = "resistor", nodes = ["v", "gnd"], resistance = "5 Ω" }
L1 = { kind = "inductor", nodes = ["v", "gnd"], inductance = "1 µH" }
C1 = { kind = "capacitor", nodes = ["v", "gnd"], capacitance = "1 µF" }
[[tests]]
name = "jump"
kind = "profile"
duration = "10 µs"
accuracy = "3 nV"
"#,
    );
    let voltage = [
        (0.5e-6, 0.045_623_696_601_882_49),
        (1e-6, 0.076_275_767_851_023_75),
        (2e-6, 0.075_161_550_212_598_88),
        (5e-6, -0.058_869_679_350_110_48),
        (10e-6, -0.018_534_570_698_460_59),
    ];
    for method in BOTH {
        let run = bench.solve("jump", method, 1e-9, &voltage.map(|row| row.0));
        for (t, v) in voltage {
            let got = run.at("v", t);
            assert!((got - v).abs() < allowed(method), "{method:?} at {t}: {got}, expected {v}");
        }
    }
    let outcome = bench.outcome("jump", Method::Rodas4p);
    let (peak, at) = (measured(&outcome, "output_maximum"), instant(&outcome, "output_maximum"));
    assert!((peak - 0.086_260_036_965_084_8).abs() < 3e-9, "{peak}");
    assert!((at - 1.478_037_662_374_775e-6).abs() < 3e-10, "{at}");
}

fn part(kind: &str, name: &str, [a, b]: &[String; 2], key: &str) -> String {
    format!("{name} = {{ kind = \"{kind}\", nodes = [\"{a}\", \"{b}\"], {key} }}\n")
}

/// N equal RC sections with the last node open: poles −(4/RC) sin²((2j−1)π/(2(2N+1))), hence the
/// step response by partial fractions. Closed form, evaluated with 40 digits.
#[test]
fn exact_step_into_ladders_of_equal_sections() {
    let times = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
    let table: [(usize, [f64; 6]); 3] = [
        (
            2,
            [
                0.213_354_400_696_631_7,
                0.455_504_333_990_137_1,
                0.826_595_349_759_536,
                0.974_317_755_944_186_7,
                0.999_436_653_423_887_7,
                0.999_999_994_054_289_9,
            ],
        ),
        (
            3,
            [
                0.055_710_978_170_058_53,
                0.191_161_473_407_727_7,
                0.546_782_593_387_902_3,
                0.831_603_725_682_153_7,
                0.976_764_120_148_989,
                0.999_938_956_606_359,
            ],
        ),
        (
            5,
            [
                0.002_117_869_376_854_899,
                0.021_667_294_702_772_94,
                0.176_653_448_543_676_6,
                0.443_612_594_258_971_6,
                0.752_359_838_367_325_3,
                0.978_207_701_551_049_3,
            ],
        ),
    ];
    for (sections, values) in table {
        let mut text = String::from(
            "title = \"ladder\"\n[parts]\nV1 = { kind = \"voltage-source\", plus = \"n0\", minus = \"gnd\", varies = { shape = \"ramp\", change = \"1 V\", edge = 0 } }\n",
        );
        for k in 0..sections {
            let next = k + 1;
            for (kind, ends, key) in [
                ("resistor", [format!("n{k}"), format!("n{next}")], "resistance = \"1 kΩ\""),
                ("capacitor", [format!("n{next}"), "gnd".to_owned()], "capacitance = \"1 nF\""),
            ] {
                let name = format!("{}{next}", kind[..1].to_uppercase());
                text += &part(kind, &name, &ends, key);
            }
        }
        text += "[[tests]]\nname = \"jump\"\nkind = \"profile\"\nduration = \"50 µs\"\n";
        let bench = Bench::of(&text);
        for method in BOTH {
            let run = bench.solve("jump", method, 1e-9, &times.map(|t| t * 1e-6));
            for (t, v) in times.iter().zip(values) {
                let got = run.at(&format!("n{sections}"), t * 1e-6);
                assert!((got - v).abs() < allowed(method), "{sections} {method:?} {t}: {got}");
            }
        }
    }
}

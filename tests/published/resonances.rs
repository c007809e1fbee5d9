//! Steps into resonant circuits and RC ladders against their closed forms.

use crate::bench::{BOTH, Bench, instant, measured};
use crate::sources::{ELMORE, SECOND_ORDER};
use crate::table::{Check, Figures, Section};
use railstep::analysis::Method;

pub(crate) const SECTION: Section = Section {
    title: "Resonances, RC ladders and lines in time",
    checks: &[
        Check::new(
            "series RLC, damping 0.2, by RODAS4P",
            (&SECOND_ORDER, "step response"),
            "V",
            || underdamped(Method::Rodas4p),
        ),
        Check::new("the same by TR-BDF2", (&SECOND_ORDER, "step response"), "V", || {
            underdamped(Method::TrBdf2)
        }),
        Check::new("its peak and when, as measured", (&SECOND_ORDER, "step response"), "V", peak),
        Check::new(
            "overshoot and when, over damping from 0.05 to 0.9",
            (&SECOND_ORDER, "overshoot"),
            "",
            overshoots,
        ),
        Check::new("settling to 2 % over damping", (&SECOND_ORDER, "last crossing"), "s", settling),
        Check::new(
            "series RLC, damping 1",
            (&SECOND_ORDER, "step response"),
            "V",
            critically_damped,
        ),
        Check::new(
            "parallel RLC, a step of current",
            (&SECOND_ORDER, "step response"),
            "V",
            parallel_resonance,
        ),
        Check::new(
            "ladders of 2, 3 and 5 equal sections",
            (&ELMORE, "partial fractions"),
            "V",
            || ladders(Method::Rodas4p),
        ),
        Check::new("the same by TR-BDF2", (&ELMORE, "partial fractions"), "V", || {
            ladders(Method::TrBdf2)
        }),
        Check::new("a line of 100 sections", (&ELMORE, "distributed line"), "V", line),
    ],
};

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
fn underdamped(method: Method) -> Figures {
    let mut f = Figures::default();
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
    let run = series("0.4 Ω").solve("jump", method, 1e-9, &times);
    for (t, v) in voltage {
        let got = run.at("v", t);
        f.close(got, v, allowed(method));
    }
    for (t, i) in current {
        let got = run.at("L1.current", t);
        // 1 V across the characteristic impedance of 1 Ω is 1 A: the same bound in A.
        f.close(got, i, allowed(method));
    }
    f
}

/// v = 1 − (1 + αt)e^(−αt); ζ = 1. Closed form, evaluated with 40 digits.
fn critically_damped() -> Figures {
    let mut f = Figures::default();
    let voltage = [
        (10e-6, 0.264_241_117_657_115_4),
        (20e-6, 0.593_994_150_290_161_9),
        (50e-6, 0.959_572_318_005_487_2),
    ];
    for method in BOTH {
        let run = series("2 Ω").solve("jump", method, 1e-9, &voltage.map(|row| row.0));
        for (t, v) in voltage {
            let got = run.at("v", t);
            f.close(got, v, allowed(method));
        }
    }
    f
}

/// Overshoot exp(−πζ/√(1 − ζ²)) at π/ω_d, read as a measurement.
fn peak() -> Figures {
    let mut f = Figures::default();
    let outcome = series("0.4 Ω").outcome("jump", Method::Rodas4p);
    let peak = measured(&outcome, "output_maximum");
    f.close(peak, 1.526_620_599_330_303, 3e-9);
    // The top is flat: δv of 3 nV under a curvature ω_0² e^(−αt) of 5e9 V/s² moves it √(2δv/v''),
    // a nanosecond; a cubic finds it closer than that.
    let at = instant(&outcome, "output_maximum");
    f.close(at, 32.063_745_754_046_6e-6, 1e-9);
    f
}

/// exp(−πζ/√(1 − ζ²)) at ω0·t = π/√(1 − ζ²), evaluated with 40 digits; R = 2ζ·√(L/C), √(L/C) being 1 Ω,
/// ω0 = 1e5/s.
fn overshoots() -> Figures {
    let mut f = Figures::default();
    for (damping, overshoot, turns) in [
        (0.5, 0.163_033_534_821_580, 3.627_598_728_468_4),
        (0.05, 0.854_467_893_006_756, 3.145_527_022_888),
        (0.1, 0.729_247_614_287_671, 3.157_419_416_998_3),
        (0.2, 0.526_620_599_330_303, 3.206_374_575_404_7),
        (0.3, 0.372_326_104_926_586, 3.293_283_941_915_2),
        (0.4, 0.253_826_721_980_109, 3.427_758_604_236_3),
        (0.6, 0.094_780_224_842_154_9, 3.926_990_816_987_2),
        (0.7, 0.045_987_910_260_267_7, 4.399_109_624_950_5),
        (std::f64::consts::FRAC_1_SQRT_2, 0.043_213_918_263_772_25, 4.442_882_938_158_37),
        (0.8, 0.015_164_619_864_546_6, 5.235_987_755_983),
        (0.9, 0.001_523_755_820_519_41, 7.207_307_841_456_7),
    ] {
        let outcome = series(&format!("{} Ω", 2.0 * damping)).outcome("jump", Method::Rodas4p);
        // The accuracy asked for is 3 nV; the top, bent by ω0²·overshoot, is as wide as that is low.
        f.close(measured(&outcome, "output_maximum") - 1.0, overshoot, 3e-9);
        let width_s = (2.0 * 3e-9 / (1e10 * overshoot)).sqrt();
        f.close(instant(&outcome, "output_maximum"), turns * 1e-5, width_s);
    }
    f
}

/// ω0·t of the last crossing of ±2 %, ω0 = 1e5/s, by a search with 40 digits.
fn settling() -> Figures {
    let mut f = Figures::default();
    for (damping, turns) in [
        (0.5, 8.076_348_973_93),
        (0.05, 76.009_419_478_3),
        (0.1, 38.383_280_486_9),
        (0.2, 19.601_903_730_4),
        (0.3, 11.230_081_467_8),
        (0.4, 8.409_319_627_66),
        (0.6, 5.942_987_878_64),
        (0.7, 5.978_792_367_4),
        (0.8, 3.755_841_305_31),
        (0.9, 4.699_596_989_09),
    ] {
        let ohm = 2.0 * damping;
        let outcome = Bench::of(&format!(
            r#"title = "series resonance"
[rail]
output = "v"
nominal = "1 V"
source = "V1"
[parts]
V1 = {{ kind = "voltage-source", plus = "in", minus = "gnd", voltage = "1 V" }}
L1 = {{ kind = "inductor", nodes = ["in", "v"], inductance = "10 µH", series_resistance = "{ohm} Ω" }}
C1 = {{ kind = "capacitor", nodes = ["v", "gnd"], capacitance = "10 µF" }}
[[tests]]
name = "jump"
kind = "line-step"
from = "0 V"
to = "1 V"
before = "10 µs"
edge = "0 s"
hold = "8 ms"
accuracy = "3 nV"
require = {{ recovery = {{ limit = "<= 1 ms", band = "20 mV" }} }}
"#
        ))
        .outcome("jump", Method::Rodas4p);
        // 3 nV where the curve crosses the band with some 100 V/s or more.
        f.close(measured(&outcome, "recovery"), turns * 1e-5, 1e-10);
    }
    f
}

/// v = (ΔI/(Cω_d)) e^(−αt) sin ω_d t; ζ = 0.1; peak ΔI√(L/C)·exp(−(ζ/√(1−ζ²))·acos ζ). Closed
/// form, evaluated with 40 digits.
fn parallel_resonance() -> Figures {
    let mut f = Figures::default();
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
            f.close(got, v, allowed(method));
        }
    }
    let outcome = bench.outcome("jump", Method::Rodas4p);
    let (peak, at) = (measured(&outcome, "output_maximum"), instant(&outcome, "output_maximum"));
    f.close(peak, 0.086_260_036_965_084_8, 3e-9);
    f.close(at, 1.478_037_662_374_775e-6, 3e-10);
    f
}

fn part(kind: &str, name: &str, [a, b]: &[String; 2], key: &str) -> String {
    format!("{name} = {{ kind = \"{kind}\", nodes = [\"{a}\", \"{b}\"], {key} }}\n")
}

/// N equal RC sections with the last node open: poles −(4/RC) sin²((2j−1)π/(2(2N+1))), hence the
/// step response by partial fractions. Closed form, evaluated with 40 digits.
fn ladders(method: Method) -> Figures {
    let mut f = Figures::default();
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
        let run = bench.solve("jump", method, 1e-9, &times.map(|t| t * 1e-6));
        for (t, v) in times.iter().zip(values) {
            let got = run.at(&format!("n{sections}"), t * 1e-6);
            f.close(got, v, allowed(method));
        }
    }
    f
}

/// An RC line with an open end, v = 1 − (4/π) Σ (−1)^k/(2k + 1)·e^(−((2k + 1)π/2)²·t/RC), in a hundred
/// sections, each with half its capacitance at either end: the second derivative along the line is
/// taken from three points, off by 1/(12·100²) of the fourth, so the k-th mode decays slower by
/// ((2k + 1)π/2)²/(12·100²), 2e-5 for the slowest and 5e-4 for the third, which is e^-6 at 0.1·RC.
fn line() -> Figures {
    let mut f = Figures::default();
    let sections = 100;
    let mut text = String::from(
        "title = \"line\"\n[parts]\nV1 = { kind = \"voltage-source\", plus = \"n0\", minus = \"gnd\", varies = { shape = \"ramp\", change = \"1 V\", edge = 0 } }\n",
    );
    for k in 1..=sections {
        let farad = if k == sections { "50 pF" } else { "100 pF" };
        let ends = [format!("n{}", k - 1), format!("n{k}")];
        text += &part("resistor", &format!("R{k}"), &ends, "resistance = \"1 Ω\"");
        let ends = [format!("n{k}"), "gnd".to_owned()];
        text += &part("capacitor", &format!("C{k}"), &ends, &format!("capacitance = \"{farad}\""));
    }
    text += "[[tests]]\nname = \"jump\"\nkind = \"profile\"\nduration = \"2 µs\"\n";
    // RC = 100 Ω·10 nF = 1 µs.
    let rows = [
        (0.5, 0.629_222_570_200_476_1),
        (0.1, 0.050_694_637_315_529_64),
        (0.2, 0.227_688_393_141_409_4),
        (1.0, 0.892_022_955_555_891),
        (2.0, 0.990_843_009_710_239_2),
        (0.130_158_890_478_25, 0.1),
        (0.378_747_838_271_4, 0.5),
        (0.503_180_566_421_91, 0.632_120_558_828_557_7),
        (1.031_104_982_283_2, 0.9),
        (1.312_026_953_568_8, 0.95),
        (1.964_307_570_716_3, 0.99),
    ];
    let run = Bench::of(&text).solve("jump", Method::Rodas4p, 1e-7, &rows.map(|row| row.0 * 1e-6));
    for (turns, v) in rows {
        f.near(run.at(&format!("n{sections}"), turns * 1e-6), v, 1e-3);
    }
    f
}

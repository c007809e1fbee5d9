//! Transistor amplifiers of the test sets for stiff and differential-algebraic problems.
//!
//! Each transistor is two controlled currents with one exponential and no charge, as in the
//! problem statement; the run starts from given capacitor voltages, which are not at rest.

use crate::bench::{BOTH, Bench, Solved, last, march, point_at, unknown};
use crate::sources::{HAIRER, TEST_SET};
use crate::table::{Check, Figures, Section};
use railstep::analysis::Method;

/// Elements of both problems up to the first collector. Names of nodes are the unknowns' of the
/// problem statement.
const FIRST_STAGE: &str = r#"
U_B = { kind = "voltage-source", plus = "sup", minus = "gnd", voltage = "6 V" }
R0 = { kind = "resistor", nodes = ["in", "y1"], resistance = "1 kΩ" }
C1 = { kind = "capacitor", nodes = ["y1", "y2"], capacitance = "1 µF", initial = "-3 V" }
R1 = { kind = "resistor", nodes = ["y2", "gnd"], resistance = "9 kΩ" }
R2 = { kind = "resistor", nodes = ["sup", "y2"], resistance = "9 kΩ" }
B1 = { kind = "law", nodes = ["y2", "y3"], inputs = { x = ["y2", "y3"] }, current = "(1 - alpha) * beta * (exp(x / u_f) - 1)" }
K1 = { kind = "law", nodes = ["y4", "y3"], inputs = { x = ["y2", "y3"] }, current = "alpha * beta * (exp(x / u_f) - 1)" }
R3 = { kind = "resistor", nodes = ["y3", "gnd"], resistance = "9 kΩ" }
C2 = { kind = "capacitor", nodes = ["y3", "gnd"], capacitance = "2 µF", initial = "3 V" }
R4 = { kind = "resistor", nodes = ["sup", "y4"], resistance = "9 kΩ" }
"#;

const SECOND_STAGE: &str = r#"
C3 = { kind = "capacitor", nodes = ["y4", "y5"], capacitance = "3 µF", initial = "3 V" }
R5 = { kind = "resistor", nodes = ["y5", "gnd"], resistance = "9 kΩ" }
R6 = { kind = "resistor", nodes = ["sup", "y5"], resistance = "9 kΩ" }
B2 = { kind = "law", nodes = ["y5", "y6"], inputs = { x = ["y5", "y6"] }, current = "(1 - alpha) * beta * (exp(x / u_f) - 1)" }
K2 = { kind = "law", nodes = ["y7", "y6"], inputs = { x = ["y5", "y6"] }, current = "alpha * beta * (exp(x / u_f) - 1)" }
R7 = { kind = "resistor", nodes = ["y6", "gnd"], resistance = "9 kΩ" }
C4 = { kind = "capacitor", nodes = ["y6", "gnd"], capacitance = "4 µF", initial = "3 V" }
R8 = { kind = "resistor", nodes = ["sup", "y7"], resistance = "9 kΩ" }
C5 = { kind = "capacitor", nodes = ["y7", "y8"], capacitance = "5 µF", initial = "6 V" }
R9 = { kind = "resistor", nodes = ["y8", "gnd"], resistance = "9 kΩ" }
"#;

const ONE_STAGE_LOAD: &str = r#"
C3 = { kind = "capacitor", nodes = ["y4", "y5"], capacitance = "3 µF", initial = "6 V" }
R5 = { kind = "resistor", nodes = ["y5", "gnd"], resistance = "9 kΩ" }
"#;

/// Either amplifier, driven with `amplitude` at 100 Hz and watched for `duration`.
fn amplifier(rest: &str, amplitude: &str, duration: &str) -> Bench {
    Bench::of(&format!(
        r#"title = "amplifier"
[values]
alpha = 0.99
beta = "1 µA"
u_f = "26 mV"
[parts]
U_E = {{ kind = "voltage-source", plus = "in", minus = "gnd", varies = {{ shape = "sine", amplitude = "{amplitude}", frequency = "100 Hz" }} }}
{FIRST_STAGE}{rest}
[[tests]]
name = "watch"
kind = "profile"
duration = "{duration}"
start = "initial-values"
accuracy = "0.3 nV"
"#
    ))
}

/// Node tolerance of the runs by RODAS4P, and what they may err by: the errors of single steps die
/// out within milliseconds, so that they do not add up beyond one tolerance. Ten digits of 6 V.
const TOLERANCE_V: f64 = 1e-10;
const ALLOWED_V: f64 = 1e-10;

/// y1, y2, … at `t`, each within `allowed` V.
fn hold(f: &mut Figures, run: &Solved, t: f64, row: &[f64], allowed: f64) {
    // The output first.
    for (k, y) in row.iter().enumerate().rev() {
        f.close(run.at(&format!("y{}", k + 1), t), *y, allowed);
    }
}

/// Test Set for Initial Value Problem Solvers, release 2.4, Mazzia & Magherini 2008, problem
/// transamp (PSIDE, rtol = atol = 1e-14); origin Rentrop, Roche & Steinebach, Numer. Math. 55
/// (1989) 545–563.
const TWO_STAGES_AT_200_MS: [f64; 8] = [
    -0.556_214_501_226_270_9e-2,
    3.006_522_471_903_042,
    2.849_958_788_608_128,
    2.926_422_536_206_241,
    2.704_617_865_010_554,
    2.761_837_778_393_145,
    4.770_927_631_616_772,
    1.236_995_868_091_548,
];

/// The same problem on the way, recomputed with an order-9 Radau IIA integration at two step
/// sizes that agree to 15 digits.
const TWO_STAGES_ON_THE_WAY: [(f64, [f64; 8]); 7] = [
    (
        0.005,
        [
            0.006_247_198_427_886_54,
            2.961_972_595_030_96,
            2.821_581_147_210_98,
            5.172_634_176_779_47,
            2.432_141_670_978_07,
            2.609_892_132_586_27,
            6.004_672_722_389_73,
            0.004_227_710_097_20,
        ],
    ),
    (
        0.010,
        [
            -0.005_283_769_264_214_29,
            3.005_255_352_609_84,
            2.848_671_456_418_80,
            4.401_927_969_787_05,
            1.965_441_715_908_87,
            2.270_287_433_847_40,
            6.004_906_014_551_54,
            0.004_003_913_363_204_99,
        ],
    ),
    (
        0.015,
        [
            0.005_675_388_445_521_67,
            2.964_575_587_761_26,
            2.824_262_172_797_46,
            4.791_816_721_150_84,
            2.606_788_846_382_24,
            2.449_995_844_111_41,
            4.055_812_297_962_35,
            -1.752_776_006_960_51,
        ],
    ),
    (
        0.020,
        [
            -0.005_516_180_585_070_94,
            3.006_313_249_576_27,
            2.849_746_227_669_10,
            4.075_913_974_775_25,
            2.129_637_521_490_38,
            2.194_255_329_594_48,
            5.900_322_288_753_65,
            0.107_845_503_482_789,
        ],
    ),
    (
        0.050,
        [
            -0.005_561_938_096_498_71,
            3.006_521_530_057_33,
            2.849_957_831_732_15,
            3.467_288_462_743_72,
            2.434_184_477_483_72,
            2.494_964_052_372_95,
            5.535_355_377_834_85,
            0.472_694_345_911_2,
        ],
    ),
    (
        0.100,
        [
            -0.005_562_144_986_867_38,
            3.006_522_471_787_45,
            2.849_958_788_490_69,
            3.074_078_542_778_46,
            2.630_790_044_266_63,
            2.688_981_139_042_71,
            5.136_152_192_289_61,
            0.871_807_476_571_974,
        ],
    ),
    (
        0.150,
        [
            -0.005_562_145_012_259_16,
            3.006_522_471_903_03,
            2.849_958_788_608_11,
            2.959_695_828_820_05,
            2.687_981_260_454_97,
            2.745_419_969_024_76,
            4.904_552_097_254_71,
            1.103_379_669_218_36,
        ],
    ),
];

/// Hairer & Wanner, eq. (1.14) p. 377: time, then y1 to y5; recomputed with an order-9 Radau IIA
/// integration.
const ONE_STAGE: [(f64, [f64; 5]); 7] = [
    (
        0.0025,
        [
            0.344_051_915_732_252,
            3.238_525_779_533_40,
            3.090_643_668_367_16,
            4.606_643_794_823_40,
            -1.228_282_529_774_11,
        ],
    ),
    (
        0.005,
        [
            0.028_220_794_899_624_9,
            2.872_508_894_348_20,
            2.807_779_858_039_32,
            5.851_145_325_250_78,
            0.050_344_011_259_176_6,
        ],
    ),
    (
        0.01,
        [
            -0.019_646_364_360_878_2,
            3.056_780_918_259_22,
            2.886_310_655_312_88,
            2.646_745_884_702_47,
            -2.909_034_714_919_74,
        ],
    ),
    (
        0.02,
        [
            -0.021_833_908_567_154_4,
            3.066_737_303_196_49,
            2.896_359_502_698_72,
            2.454_683_919_529_90,
            -2.694_710_419_959_09,
        ],
    ),
    (
        0.03,
        [
            -0.022_195_490_757_114_2,
            3.068_383_008_575_93,
            2.898_020_523_718_47,
            2.288_515_897_673_85,
            -2.524_862_464_227_73,
        ],
    ),
    (
        0.04,
        [
            -0.022_255_257_750_604_6,
            3.068_655_032_125_75,
            2.898_295_079_723_66,
            2.149_351_804_835_86,
            -2.385_090_099_725_26,
        ],
    ),
    (
        0.05,
        [
            -0.022_265_136_830_167_21,
            3.068_699_995_778_291,
            2.898_340_461_998_195,
            2.033_533_719_993_044,
            -2.269_171_471_570_406,
        ],
    ),
];

pub(crate) const SECTION: Section = Section {
    title: "Transistor amplifiers of the test sets for stiff equations",
    checks: &[
        Check::new(
            "two stages at 0.2 s (20 periods) and on the way, by RODAS4P",
            (&TEST_SET, "transamp"),
            "V",
            two_stages_by_rodas4p,
        ),
        Check::new(
            "the same at 0.2 s, as `railstep run` solves it to 0.3 nV",
            (&TEST_SET, "transamp"),
            "V",
            two_stages_as_a_user_runs_them,
        ),
        Check::new(
            "the same at 0.2 s, by TR-BDF2",
            (&TEST_SET, "transamp"),
            "V",
            two_stages_by_tr_bdf2,
        ),
        Check::new(
            "two stages at four times the drive",
            (&HAIRER, "transistor amplifier"),
            "V",
            two_stages_driven_harder,
        ),
        Check::new("one stage at seven instants", (&HAIRER, "eq. (1.14), p. 377"), "V", one_stage),
        Check::new(
            "one stage at a quarter of the drive",
            (&HAIRER, "eq. (1.14), p. 377"),
            "V",
            one_stage_driven_less,
        ),
        Check::new(
            "first slopes of all three, by both methods",
            (&HAIRER, "rows without charge, differentiated"),
            "V/s",
            first_slopes,
        ),
    ],
};

fn two_stages_by_rodas4p() -> Figures {
    let mut f = Figures::default();
    let bench = amplifier(SECOND_STAGE, "0.1 V", "0.2 s");
    let times: Vec<f64> = TWO_STAGES_ON_THE_WAY.iter().map(|row| row.0).collect();
    let run = bench.solve("watch", Method::Rodas4p, TOLERANCE_V, &times);
    hold(&mut f, &run, 0.2, &TWO_STAGES_AT_200_MS, ALLOWED_V);
    for (t, row) in TWO_STAGES_ON_THE_WAY {
        hold(&mut f, &run, t, &row, ALLOWED_V);
    }
    f
}

fn two_stages_as_a_user_runs_them() -> Figures {
    let mut f = Figures::default();
    let outcome = amplifier(SECOND_STAGE, "0.1 V", "0.2 s").outcome("watch", Method::Rodas4p);
    assert_eq!(outcome.times_s.last(), Some(&0.2));
    for (k, y) in TWO_STAGES_AT_200_MS.iter().enumerate().rev() {
        // The accuracy asked for is 0.3 nV.
        f.close(last(&outcome, &format!("y{}", k + 1)), *y, 3e-10);
    }
    f
}

fn two_stages_by_tr_bdf2() -> Figures {
    let mut f = Figures::default();
    let run = amplifier(SECOND_STAGE, "0.1 V", "0.2 s").solve("watch", Method::TrBdf2, 1e-8, &[]);
    // Of order 2: thousands of steps of one sign within the slowest time constant, 45 ms.
    hold(&mut f, &run, 0.2, &TWO_STAGES_AT_200_MS, 1e-6);
    f
}

/// Recomputed with an order-9 Radau IIA integration.
fn two_stages_driven_harder() -> Figures {
    let expected = [
        -0.022_265_136_830_167_2,
        3.068_699_995_778_29,
        2.898_340_461_998_20,
        2.596_171_357_999_51,
        1.584_140_445_211_56,
        3.099_903_020_137_63,
        5.352_621_258_642_04,
        0.656_288_741_357_958,
    ];
    let mut f = Figures::default();
    let bench = amplifier(SECOND_STAGE, "0.4 V", "50 ms");
    let run = bench.solve("watch", Method::Rodas4p, TOLERANCE_V, &[]);
    hold(&mut f, &run, 0.05, &expected, ALLOWED_V);
    f
}

fn one_stage() -> Figures {
    let mut f = Figures::default();
    let times: Vec<f64> = ONE_STAGE.iter().map(|row| row.0).collect();
    let bench = amplifier(ONE_STAGE_LOAD, "0.4 V", "50 ms");
    let run = bench.solve("watch", Method::Rodas4p, TOLERANCE_V, &times);
    for (t, row) in ONE_STAGE.iter().rev() {
        hold(&mut f, &run, *t, row, ALLOWED_V);
    }
    f
}

/// With 0.1 V; recomputed with an order-9 Radau IIA integration.
fn one_stage_driven_less() -> Figures {
    let expected = [
        -0.005_561_938_096_498_71,
        3.006_521_530_057_33,
        2.849_957_831_732_15,
        3.328_773_231_610_95,
        -0.993_197_124_240_664,
    ];
    let mut f = Figures::default();
    let bench = amplifier(ONE_STAGE_LOAD, "0.1 V", "50 ms");
    let run = bench.solve("watch", Method::Rodas4p, TOLERANCE_V, &[]);
    hold(&mut f, &run, 0.05, &expected, ALLOWED_V);
    f
}

/// Slopes at the start, from differentiating the sums of the rows that hold no charge; recomputed
/// from the equations of the problems above.
fn first_slopes() -> Figures {
    let mut f = Figures::default();
    let two = [
        51.339_276_517_180_72,
        51.339_276_517_180_72,
        -166.666_666_666_666_7,
        -24.970_328_515_406_33,
        -24.970_328_515_406_33,
        -83.333_333_333_333_33,
        -10.000_276_402_456_34,
        -10.000_276_402_456_34,
    ];
    let two_driven_harder = [
        205.514_399_228_218_1,
        205.514_399_228_218_1,
        -166.666_666_666_666_7,
        -42.561_573_788_236_95,
        -42.561_573_788_236_95,
        -83.333_333_333_333_33,
        -6.986_084_183_592_476,
        -6.986_084_183_592_476,
    ];
    let one = [
        205.514_399_228_218_1,
        205.514_399_228_218_1,
        -166.666_666_666_666_7,
        -63.771_794_175_450_46,
        -63.771_794_175_450_46,
    ];
    let cases: [(&str, &str, &[f64], &[f64]); 3] = [
        (SECOND_STAGE, "0.1 V", &[0.0, 3.0, 3.0, 6.0, 3.0, 3.0, 6.0, 0.0], &two),
        (SECOND_STAGE, "0.4 V", &[0.0, 3.0, 3.0, 6.0, 3.0, 3.0, 6.0, 0.0], &two_driven_harder),
        (ONE_STAGE_LOAD, "0.4 V", &[0.0, 3.0, 3.0, 6.0, 0.0], &one),
    ];
    for (rest, amplitude, start, slopes) in cases {
        let system = amplifier(rest, amplitude, "1 ms").system();
        let mut x = vec![0.0; system.unknowns.len()];
        x[unknown(&system, "sup")] = 6.0;
        for (k, y) in start.iter().enumerate() {
            x[unknown(&system, &format!("y{}", k + 1))] = *y;
        }
        let from = point_at(&system, &system.pieces(1e-4), 0.0, x);
        for method in BOTH {
            let reached = |h: f64| march(&system, method, from.clone(), (h, 1), |_| {}).x;
            let (whole, half) = (reached(2e-7), reached(1e-7));
            for (k, slope) in slopes.iter().enumerate() {
                let u = unknown(&system, &format!("y{}", k + 1));
                // Extrapolated, so that the bend of the curve drops out.
                let got = (4.0 * (half[u] - from.x[u]) - (whole[u] - from.x[u])) / 2e-7;
                // Rounding of 6 V, 1e-15 V over 1e-7 s, is 1e-8 V/s; third derivatives of up to
                // 1e10 V/s³ leave 1e-14 s² of themselves.
                f.close(got, *slope, 1e-4);
            }
        }
    }
    f
}

//! Noise at a node: closed forms, Nyquist's theorem for whole circuits at
//! equilibrium, and the transposed solve against driving every source in turn.

use crate::bench::{Bench, unknown};
use proptest::prelude::*;
use railstep::analysis::operating_point;
use railstep::analysis::small_signal::{BAND_TOLERANCE, OutputNoise, Phasor, SmallSignal, s_of};
use railstep::device::{GROUND, NoiseCause};
use railstep::system::{NoiseAt, System};
use std::f64::consts::TAU;

const BOLTZMANN: f64 = 1.380_649e-23; // J/K, exact in the SI of 2019
const CHARGE: f64 = 1.602_176_634e-19; // C, the same

/// A circuit at rest.
struct Rest {
    system: System,
    z: Vec<f64>,
}

impl Rest {
    fn of(parts: &str) -> Self {
        let system = Bench::of(&format!("title = \"noise\"\n[parts]\n{parts}")).system();
        let rest = operating_point(&system, &system.pieces(1e-9), 0.0, None).expect("a rest");
        Self { system, z: rest.z }
    }

    fn signal(&self) -> SmallSignal<'_> {
        SmallSignal::new(&self.system, &self.z)
    }

    /// Reads noise between a node and ground.
    fn noise_at<R>(&self, node: &str, read: impl FnOnce(&mut OutputNoise) -> R) -> R {
        let mut signal = self.signal();
        read(&mut OutputNoise::new(&mut signal, [unknown(&self.system, node), GROUND]))
    }

    /// V²/Hz
    fn density(&self, node: &str, frequency_hz: f64) -> f64 {
        self.noise_at(node, |n| n.densities(frequency_hz).expect("a solution").iter().sum())
    }

    /// V²
    fn in_band(&self, node: &str, band_hz: [f64; 2], known_hz: &[f64]) -> f64 {
        self.noise_at(node, |n| n.in_band(band_hz, known_hz).expect("an integral").total_v2())
    }

    /// Impedance from a node to ground in Ω.
    fn impedance(&self, node: &str, frequency_hz: f64) -> Phasor {
        let (mut signal, k) = (self.signal(), unknown(&self.system, node));
        signal.set(s_of(frequency_hz)).expect("a solution");
        signal.respond_to_current(GROUND, k).expect("a solution")[k]
    }
}

/// Joins node `a`, changes nothing, makes no noise.
const QUIET: &str = r#"I0 = { kind = "current-source", nodes = ["a", "gnd"], current = "0" }"#;

#[track_caller]
fn assert_close(value: f64, expected: f64, relative: f64) {
    let error = (value - expected).abs();
    assert!(
        error <= relative * expected.abs(),
        "{value:e} is {:e} relative away from {expected:e}",
        error / expected.abs()
    );
}

/// A conducting diode shows the voltage noise of half its slope resistance: 2q·I·r² = 2kT·r with
/// r = (kT/q)/(I + I_S), and I + 2·I_S in place of I.
#[test]
fn exact_noise_of_a_biased_diode() {
    let (saturation_a, ampere, kelvin) = (1e-12, 20e-6, 310.0);
    let rest = Rest::of(
        "I1 = { kind = \"current-source\", nodes = [\"gnd\", \"a\"], current = \"20 µA\" }\n\
         D1 = { kind = \"diode\", anode = \"a\", cathode = \"gnd\", saturation_current = \"1 pA\", \
         temperature = \"310 K\", characterised_at = \"310 K\", flicker_corner = \"1 kHz\" }",
    );
    let slope_ohm = BOLTZMANN * kelvin / CHARGE / (ampere + saturation_a);
    let share = (ampere + 2.0 * saturation_a) / (ampere + saturation_a);
    let white = 2.0 * BOLTZMANN * kelvin * slope_ohm * share;
    // The current comes out of Newton's iteration to 1e-12 of itself.
    assert_close(rest.density("a", 1e9), white * (1.0 + 1e-6), 1e-9);
    assert_close(rest.density("a", 1e3), 2.0 * white, 1e-7);
}

/// White noise with a corner, through a divider: ∫(1 + f_c/f)df = f_2 − f_1 + f_c·ln(f_2/f_1).
#[test]
fn exact_noise_of_a_reference() {
    let rest = Rest::of(&format!(
        "V1 = {{ kind = \"voltage-source\", plus = \"s\", minus = \"gnd\", voltage = \"1.2 V\", \
         noise_density = \"80 nV/√Hz\", noise_corner = \"200 Hz\" }}\n\
         E1 = {{ kind = \"controlled-voltage-source\", plus = \"a\", minus = \"gnd\", \
         input = [\"s\", \"gnd\"], gain = \"2.5\" }}\n\
         R1 = {{ kind = \"resistor\", nodes = [\"s\", \"gnd\"], resistance = \"1 kΩ\" }}\n{QUIET}"
    ));
    let expected = (2.5 * 80e-9_f64).powi(2);
    assert_close(rest.density("a", 50.0), 5.0 * expected, 1e-14);
    let (low, high) = (10.0_f64, 100e3);
    let band = expected * (high - low + 200.0 * (high / low).ln());
    assert_close(rest.in_band("a", [low, high], &[]), band, BAND_TOLERANCE);
    let rest = Rest::of(
        "I1 = { kind = \"current-source\", nodes = [\"a\", \"gnd\"], current = \"0\", \
         noise_density = \"3 pA/rtHz\" }\n\
         R1 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 MΩ\" }",
    );
    let heat = 4.0 * BOLTZMANN * 298.15 * 1e6;
    assert_close(rest.density("a", 50.0), 9e-24 * 1e12 + heat, 1e-14);
}

/// Noise of an amplifier in series with its input reaches the output as the reference does.
#[test]
fn exact_noise_of_an_amplifier_goes_the_way_of_the_reference() {
    let rest = Rest::of(
        "V1 = { kind = \"voltage-source\", plus = \"vin\", minus = \"gnd\", voltage = \"5 V\" }\n\
         V2 = { kind = \"voltage-source\", plus = \"ref\", minus = \"gnd\", voltage = \"1.2 V\" }\n\
         R1 = { kind = \"resistor\", nodes = [\"out\", \"fb\"], resistance = \"10 kΩ\" }\n\
         R2 = { kind = \"resistor\", nodes = [\"fb\", \"gnd\"], resistance = \"10 kΩ\" }\n\
         C1 = { kind = \"capacitor\", nodes = [\"out\", \"gnd\"], capacitance = \"1 nF\" }\n\
         U1 = { kind = \"error-amplifier\", reference = \"ref\", sense = \"fb\", output = \"out\", \
         supply = \"vin\", ground = \"gnd\", transconductance = \"200 µS\", stage_current = \"20 µA\", \
         stage_resistance = \"5 MΩ\", stage_capacitance = \"20 pF\", output_resistance = \"1 kΩ\", \
         drive_current = \"5 mA\", noise_density = \"30 nV/√Hz\", noise_corner = \"1 kHz\" }",
    );
    let (mut signal, out) = (rest.signal(), unknown(&rest.system, "out"));
    for frequency_hz in [10.0, 1e3, 50e3, 1e6, 20e6] {
        signal.set(s_of(frequency_hz)).expect("a solution");
        let reference = rest.system.parts.iter().position(|p| p.name == "V2").expect("V2");
        let drive = rest.system.parts[reference].drive.expect("a drive");
        let through = signal.respond_to_drive(drive).expect("a solution")[out].norm_sqr();
        let expected = 9e-16 * (1.0 + 1e3 / frequency_hz) * through;
        let found = rest.noise_at("out", |n| {
            let at = n.contributors().iter().position(|c| c.part == "U1").expect("U1");
            n.densities(frequency_hz).expect("a solution")[at]
        });
        assert_close(found, expected, 1e-11);
    }
}

/// Every kind of part that makes noise, joined to one network without any source of power. Nyquist's
/// theorem: whatever is inside, its noise is 4kT times the real part of its impedance.
const AT_EQUILIBRIUM: &str = r#"
V1 = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "0", resistance = "3 kΩ" }
R1 = { kind = "resistor", nodes = ["in", "a"], resistance = "1.7 kΩ" }
L1 = { kind = "inductor", nodes = ["a", "b"], inductance = "4.7 µH", series_resistance = "0.4 Ω" }
C1 = { kind = "capacitor", nodes = ["b", "gnd"], capacitance = "1 µF", esr = "30 mΩ", esl = "1 nH", leakage_resistance = "470 kΩ" }
C2 = { kind = "capacitor", nodes = ["a", "c"], capacitance = "3.3 nF", esr = "2 Ω" }
D1 = { kind = "diode", anode = "b", cathode = "c", saturation_current = "3 µA", ideality = 1.7, series_resistance = "12 Ω", zero_bias_capacitance = "40 pF", flicker_corner = "1 MHz" }
Q1 = { kind = "bipolar", collector = "c", base = "d", emitter = "a", polarity = "pnp", saturation_current = "2 µA", forward_gain = "30", reverse_gain = "3", base_leakage_current = "1 µA", base_resistance = "90 Ω", emitter_resistance = "1 Ω", collector_resistance = "5 Ω", transit_time = "1 ns", base_collector_capacitance = "9 pF", early_voltage = "40 V", knee_current = "1 mA", flicker_corner = "1 MHz" }
R2 = { kind = "resistor", nodes = ["d", "in"], resistance = "22 kΩ" }
M1 = { kind = "mosfet", drain = "c", gate = "d", source = "b", body = "gnd", channel = "n", threshold = "20 mV", transconductance = "40 mA/V^2", series_resistance = "1.5 Ω", gate_drain_capacitance = "50 pF", output_slope = "0.1 1/V", flicker_density = "1 µV/√Hz", body_diode = { saturation_current = "0.2 µA", series_resistance = "3 Ω" } }
I1 = { kind = "load", nodes = ["c", "gnd"], resistance = "8 kΩ" }
R3 = { kind = "resistor", nodes = ["c", "b"], resistance = "100 kΩ" }
"#;

#[test]
fn exact_noise_at_equilibrium_is_that_of_the_impedance() {
    let rest = Rest::of(AT_EQUILIBRIUM);
    assert!(rest.z[..rest.system.unknowns.len()].iter().all(|x| *x == 0.0), "nothing flows");
    let sources = rest.system.noise_sources(&rest.z);
    let of = |cause| sources.iter().filter(|s| s.cause == cause).count();
    // 5 resistors and a load, 1 of the source, 1 of the inductor, 3 of capacitors, 1 of the diode,
    // 3 of the bipolar, 2 of the mosfet and its diode, and the channel; 3 currents of the bipolar, its
    // leakage and two diodes. Nothing flows, so nothing flickers.
    assert_eq!([of(NoiseCause::Thermal), of(NoiseCause::Shot)], [16, 6], "{sources:#?}");
    assert_eq!(of(NoiseCause::Flicker), 0);
    for node in ["in", "a", "b", "c", "d"] {
        for exponent in 0..10 {
            let frequency_hz = 10_f64.powi(exponent);
            let real_ohm = rest.impedance(node, frequency_hz).re;
            let expected = 4.0 * BOLTZMANN * 298.15 * real_ohm;
            // Where the impedance is reactive its real part is what is left of larger terms.
            assert_close(rest.density(node, frequency_hz), expected, 1e-10);
        }
    }
}

/// R ∥ L ∥ C: kT/C over all frequencies, of which one resonance of quality 1e4 holds all; with the
/// frequency named and without.
#[test]
fn exact_noise_of_a_sharp_resonance() {
    let (farad, henry, ohm) = (1e-9_f64, 1e-6_f64, 316_227.766_016_837_94);
    let rest = Rest::of(
        "R1 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"316.22776601683794 kΩ\" }\n\
         L1 = { kind = \"inductor\", nodes = [\"a\", \"gnd\"], inductance = \"1 µH\" }\n\
         C1 = { kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitance = \"1 nF\" }",
    );
    let own_hz = 1.0 / (TAU * (henry * farad).sqrt());
    assert_close(ohm * (farad / henry).sqrt(), 1e4, 1e-12);
    // Above the band 1/(π²·RC·f) of it is missing, 6e-7/Q; below far less.
    let band = [1e-3 * own_hz, 1e3 * own_hz];
    let expected = BOLTZMANN * 298.15 / farad;
    for known in [&[][..], &[own_hz], &[own_hz, 1.0, 1e300, -5.0, f64::NAN]] {
        assert_close(rest.in_band("a", band, known), expected, 2.0 * BAND_TOLERANCE);
    }
}

/// A resonance far below everything around it still counts where its frequency is known, and costs
/// no more than the tolerance times some of its quality where it is not.
#[test]
fn exact_noise_of_a_faint_resonance() {
    let (farad, henry, ohm) = (1e-9_f64, 1e-6_f64, 10e-3_f64);
    // Two resistances in series with a tank of quality 3162 at an odd place of its panel.
    let rest = Rest::of(
        "R1 = { kind = \"resistor\", nodes = [\"b\", \"gnd\"], resistance = \"3 GΩ\" }\n\
         E1 = { kind = \"controlled-voltage-source\", plus = \"b\", minus = \"c\", input = [\"a\", \"gnd\"], gain = \"1\" }\n\
         R2 = { kind = \"resistor\", nodes = [\"c\", \"gnd\"], resistance = \"1 GΩ\" }\n\
         L1 = { kind = \"inductor\", nodes = [\"a\", \"gnd\"], inductance = \"1 µH\", series_resistance = \"10 mΩ\" }\n\
         C1 = { kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitance = \"1 nF\" }",
    );
    let own_hz = 1.0 / (TAU * (henry * farad).sqrt());
    let quality = (henry / farad).sqrt() / ohm;
    let band = [1e5, 1e8];
    let four_kt = 4.0 * BOLTZMANN * 298.15;
    let white = four_kt * 0.75e9 * (band[1] - band[0]);
    // Three quarters of the tank's voltage arrive at b: kT/C·9/16.
    let tank = BOLTZMANN * 298.15 / farad * 9.0 / 16.0;
    assert!(tank < 1e-6 * white && quality > 3000.0);
    assert_close(rest.in_band("b", band, &[own_hz]), white + tank, BAND_TOLERANCE);
    let tank_alone = rest.noise_at("b", |n| {
        let at = n.contributors().iter().position(|c| c.part == "L1").expect("L1");
        n.in_band(band, &[own_hz]).expect("an integral").squares_v2[at]
    });
    assert!((tank_alone - tank).abs() <= BAND_TOLERANCE * white);
    let unknown = rest.in_band("b", band, &[]);
    assert!((unknown - white).abs() <= 1e-7 * quality * white);
}

/// Drives a source alone, forwards: its transfer to the output, and the largest answer anywhere to
/// either of its ends alone, to whose rounding elimination knows all others.
fn driven(
    signal: &mut SmallSignal,
    source: &NoiseAt,
    output: usize,
    frequency_hz: f64,
) -> (Phasor, f64) {
    signal.set(s_of(frequency_hz)).expect("a solution");
    let mut answer = |sizes: [f64; 2]| {
        let mut right_side = signal.zeros();
        for (row, size) in source.rows.iter().zip(sizes) {
            right_side[*row] += size;
        }
        signal.solve(&mut right_side).expect("a solution");
        let largest = right_side.iter().fold(0.0_f64, |m, x| m.max(x.norm()));
        (right_side[output], largest)
    };
    (answer([-1.0, 1.0]).0, answer([1.0, 0.0]).1.max(answer([0.0, 1.0]).1))
}

/// One transposed solve against as many forward ones as there are sources, and sums of contributors
/// against sums of sources.
#[track_caller]
fn compare(rest: &Rest, node: &str, tolerance: f64) {
    let output = unknown(&rest.system, node);
    for frequency_hz in [1e-2, 10.0, 1e3, 3.3e4, 1e5, 1e6, 2.7e7, 1e9] {
        // Made anew, so that pivots suit the frequency: those of another one may cost digits down to
        // the backward error that a solution is taken with.
        let mut signal = rest.signal();
        let mut total = 0.0;
        let (sources, transfers, densities) = rest.noise_at(node, |n| {
            let transfers = n.transfers(frequency_hz).expect("a solution");
            let densities = n.densities(frequency_hz).expect("a solution");
            (n.sources().to_vec(), transfers, densities)
        });
        assert!(!sources.is_empty());
        for (source, adjoint) in sources.iter().zip(&transfers) {
            let (direct, largest) = driven(&mut signal, source, output, frequency_hz);
            let size = source.density(frequency_hz);
            assert!(size > 0.0 && size.is_finite(), "{source:?}");
            total += direct.norm_sqr() * size;
            let error = (adjoint - direct).norm();
            assert!(
                error <= tolerance * largest,
                "{source:?} at {frequency_hz} Hz: {adjoint} is not {direct}, {:e}",
                error / largest
            );
        }
        assert!(densities.iter().all(|s| *s >= 0.0));
        assert_close(densities.iter().sum(), total, tolerance);
    }
}

#[test]
fn exact_a_transposed_solve_equals_driving_every_source_in_both_demos() {
    for text in [
        include_str!("../../netlists/buoy-radio.toml"),
        include_str!("../../netlists/sensor-supply.toml"),
    ] {
        let bench = Bench::of(text);
        for test in bench.names() {
            let (system, z) = bench.at_rest(&test);
            let rest = Rest { system, z };
            // Rounding comes to 3e-15 here.
            compare(&rest, "vout", 1e-12);
            let shares = rest.noise_at("vout", |n| n.in_band([10.0, 100e3], &[]));
            let shares = shares.expect("an integral").squares_v2;
            assert!(shares.iter().all(|v| *v >= 0.0) && shares.iter().sum::<f64>() > 0.0);
        }
    }
}

/// At low frequency the two resistors of a divider show at the output as 4kT·R_top·(1 + R_top/R_bottom),
/// their parallel resistance seen through the gain of the reference, squared: common practice, no
/// source. What is missing is one over a loop gain of some thousand.
#[test]
fn exact_noise_of_the_divider_in_both_demos() {
    for (text, test, top_ohm, bottom_ohm) in [
        (include_str!("../../netlists/buoy-radio.toml"), "receive idle", 160e3, 120e3),
        (include_str!("../../netlists/sensor-supply.toml"), "sensors idle", 37.4e3, 12.5e3),
    ] {
        let (system, z) = Bench::of(text).at_rest(test);
        let divider: f64 = Rest { system, z }.noise_at("vout", |n| {
            let parts: Vec<bool> =
                n.contributors().iter().map(|c| ["R_TOP", "R_BOT"].contains(&&*c.part)).collect();
            let densities = n.densities(10.0).expect("a solution");
            densities.iter().zip(&parts).filter(|(_, own)| **own).map(|(s, _)| s).sum()
        });
        let expected = 4.0 * BOLTZMANN * 298.15 * top_ohm * (1.0 + top_ohm / bottom_ohm);
        assert_close(divider, expected, 2e-3);
    }
}

#[test]
fn a_band_without_width_holds_nothing_and_one_without_sense_is_refused() {
    let rest = Rest::of(&format!(
        "R1 = {{ kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 kΩ\" }}\n{QUIET}"
    ));
    assert_eq!(rest.in_band("a", [50.0, 50.0], &[]), 0.0);
    for band in [[0.0, 1e3], [1e3, 10.0], [f64::NAN, 1e3], [1.0, f64::INFINITY]] {
        let refused = rest.noise_at("a", |n| n.in_band(band, &[]));
        assert!(refused.expect_err("no band").message.starts_with("there is no band"));
    }
}

/// A part of a random network: two nodes of six (0 is ground), what it is, a size in decades.
type Piece = (usize, usize, u8, f64);

fn random_network(pieces: &[Piece]) -> String {
    let node = |k: usize| if k == 0 { "gnd".to_owned() } else { format!("n{k}") };
    // Every node has a resistance to ground and one to the next, so that each has a rest, a solution
    // and a neighbour.
    let frame = (1..6).flat_map(|k| {
        let (ohm, next) = (300 * k * k, k % 5 + 1);
        [
            format!(r#"RG{k} = {{ kind = "resistor", nodes = ["n{k}", "gnd"], resistance = "{ohm} Ω" }}"#),
            format!(r#"RN{k} = {{ kind = "resistor", nodes = ["n{k}", "n{next}"], resistance = "47 kΩ" }}"#),
        ]
    });
    let piece = |(at, &(a, b, what, decades)): (usize, &Piece)| {
        let (x, size, c) =
            (["R", "C", "L", "G", "V", "D"][what as usize], 10_f64.powf(decades), (a + b) % 6);
        let (a, b, c) = (node(a), node(b), node(c));
        let ends = format!(r#"nodes = ["{a}", "{b}"]"#);
        let rest = match what {
            0 => format!(r#""resistor", {ends}, resistance = "{size:e} kΩ""#),
            1 => format!(r#""capacitor", {ends}, capacitance = "{size:e} nF", esr = "{size:e} Ω""#),
            2 => format!(
                r#""inductor", {ends}, inductance = "{size:e} µH", series_resistance = "{size:e} Ω""#
            ),
            3 => format!(
                r#""controlled-current-source", {ends}, input = ["{c}", "gnd"], transconductance = "{size:e} µS""#
            ),
            4 => format!(
                r#""voltage-source", plus = "{a}", minus = "{b}", voltage = "{size:e} V", resistance = "5 Ω", noise_density = "{size:e} µV/√Hz""#
            ),
            _ => format!(
                r#""diode", anode = "{a}", cathode = "{b}", saturation_current = "{size:e} nA", flicker_corner = "1 kHz""#
            ),
        };
        format!("{x}{at} = {{ kind = {rest} }}")
    };
    let pieces = pieces.iter().enumerate().filter(|(_, p)| p.0 != p.1).map(piece);
    frame.chain(pieces).collect::<Vec<_>>().join("\n")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    /// Solutions are taken with backward errors up to 1e-12, which the condition of networks from
    /// 33 Ω to 33 kΩ with diodes of up to 100 S multiplies.
    #[test]
    fn a_transposed_solve_equals_driving_every_source_in_random_networks(
        pieces in prop::collection::vec((0_usize..6, 0_usize..6, 0_u8..6, -1.5_f64..1.5), 4..24)
    ) {
        let rest = Rest::of(&random_network(&pieces));
        for node in ["n1", "n4"] {
            compare(&rest, node, 1e-9);
        }
    }
}

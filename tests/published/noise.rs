//! Noise of resistors, diodes and capacitances as a test tells it.

use crate::bench::{Bench, measured};
use crate::sources::{JOHNSON, SCHOTTKY};
use crate::table::{Check, Figures, Section};
use railstep::analysis::Method;
use railstep::device::temperature::thermal_voltage_v;
use std::f64::consts::TAU;

pub(crate) const SECTION: Section = Section {
    title: "Noise",
    checks: &[
        Check::new(
            "thermal noise of 1 kΩ at 300 K, and of 50 Ω to 100 kΩ",
            (&JOHNSON, "√(4kTR)"),
            "V/√Hz",
            thermal,
        ),
        Check::new("shot noise of a diode at 1 µA to 1 A", (&SCHOTTKY, "√(2qI)"), "A/√Hz", shot),
        Check::new(
            "noise of 1 nF, and of 1 pF to 10 µF, behind any resistance",
            (&JOHNSON, "√(kT/C)"),
            "V",
            of_a_capacitance,
        ),
    ],
};

fn told(parts: &str, keys: &str, name: &str) -> f64 {
    let text = format!(
        "title = \"noise\"\n[rail]\noutput = \"v\"\nnominal = \"1 V\"\n[parts]\n{parts}\n\
         [[tests]]\nname = \"quiet\"\nkind = \"noise\"\nwindow = \"none\"\n{keys}\n"
    );
    measured(&Bench::of(&text).outcome("quiet", Method::default()), name)
}

const AT_1_KHZ: &str = "require.noise_density = { limit = \"<= 1 V/√Hz\", at = \"1 kHz\" }\nband = [\"10 Hz\", \"100 kHz\"]";

/// √(4kTR) with the constants of the SI of 2019, digits from direct evaluation; the 4 nV/√Hz of 1 kΩ
/// stand in every handbook.
fn thermal() -> Figures {
    let mut f = Figures::default();
    for (ohm, kelvin, expected) in [
        ("1 kΩ", "300 K", 4.070_354_775_692_2e-9),
        ("50 Ω", "300 K", 0.910_158_997_098_86e-9),
        ("100 Ω", "300 K", 1.287_159_197_613_1e-9),
        ("10 kΩ", "300 K", 12.871_591_976_131e-9),
        ("100 kΩ", "300 K", 40.703_547_756_922e-9),
        ("1 kΩ", "290 K", 4.001_940_579_269e-9),
        ("1 kΩ", "300.15 K", 4.071_372_237_219_3e-9),
    ] {
        let parts = format!(
            r#"R1 = {{ kind = "resistor", nodes = ["v", "gnd"], resistance = "{ohm}", temperature = "{kelvin}" }}
I0 = {{ kind = "current-source", nodes = ["v", "gnd"], current = "0 A" }}"#
        );
        // The figures have 14 digits.
        f.near(told(&parts, AT_1_KHZ, "noise_density"), expected, 2e-13);
    }
    f
}

/// √(2qI), digits from direct evaluation: what stands at the diode over its slope resistance, V_T/I.
fn shot() -> Figures {
    let mut f = Figures::default();
    for (ampere, expected) in [
        (1e-3, 1.790_070_743_853_4e-11),
        (1e-6, 5.660_700_723_408_7e-13),
        (1.0, 5.660_700_723_408_7e-10),
    ] {
        let parts = format!(
            r#"I1 = {{ kind = "current-source", nodes = ["gnd", "v"], current = "{ampere:e} A" }}
D1 = {{ kind = "diode", anode = "v", cathode = "gnd", saturation_current = "1e-18 A", temperature = "300 K", characterised_at = "300 K" }}"#
        );
        let slope_ohm = thermal_voltage_v(300.0) / ampere;
        // Of 1 µA, 2·I_S are 2e-12; rest is solved to 1 nV, 4e-8 of the current.
        f.near(told(&parts, AT_1_KHZ, "noise_density") / slope_ohm, expected, 4e-8);
    }
    f
}

/// √(kT/C) whatever the resistance, which only moves the band (π/2 of its corner): in every textbook
/// on sampled circuits; digits from direct evaluation at 300 K with the constants of the SI of 2019.
fn of_a_capacitance() -> Figures {
    let mut f = Figures::default();
    for (farad, expected) in [
        (1e-9, 2.035_177_387_846_1e-6),
        (1e-12, 64.357_959_880_655e-6),
        (10e-12, 20.351_773_878_461e-6),
        (10e-6, 20.351_773_878_461e-9),
    ] {
        for ohm in [33.0, 1e3, 2.2e6] {
            let parts = format!(
                r#"R1 = {{ kind = "resistor", nodes = ["v", "gnd"], resistance = "{ohm} Ω", temperature = "300 K" }}
C1 = {{ kind = "capacitor", nodes = ["v", "gnd"], capacitance = "{farad:e} F" }}"#
            );
            let corner_hz = 1.0 / (TAU * ohm * farad);
            let band = format!("band = [\"{} Hz\", \"{} Hz\"]", 1e-7 * corner_hz, 1e7 * corner_hz);
            // Below and above lie 2/π·1e-7 of the square each; the integral is good to 1e-6 of it.
            f.near(told(&parts, &band, "noise"), expected, 1e-6);
        }
    }
    f
}

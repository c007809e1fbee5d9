//! Impedance and ripple rejection of the demos: what small signals say must be what two rests say,
//! and what an analysis of the same equations says that shares no code with this one.

use crate::{BUOY, SENSOR, named, plan, value};
use railstep::trial::{Outcome, RunOptions};

/// Outcomes of tests added to a demo.
fn added(demo: &str, tests: &str) -> Vec<Outcome> {
    let plan = plan(&format!("{demo}\n{tests}"));
    let chosen = plan.tests.iter().filter(|t| t.name.starts_with("added"));
    chosen.map(|t| plan.run(t, &RunOptions::default()).unwrap()).collect()
}

#[test]
fn exact_impedance_at_rest_is_what_two_rests_say() {
    for (demo, ma) in [(BUOY, [2.0, 180.0]), (SENSOR, [20.0, 120.0])] {
        for ma in ma {
            let [low, high] = [0.998 * ma, 1.002 * ma];
            let rest = |name: &str, ma: f64| {
                format!(
                    "[[tests]]\nname = \"added {name}\"\nkind = \"operating-point\"\n\
                     load_level = \"{ma} mA\"\n"
                )
            };
            let tests = format!(
                "{}{}[[tests]]\nname = \"added z\"\nkind = \"output-impedance\"\n\
                 lowest = \"1 mHz\"\nhighest = \"1 kHz\"\nload_level = \"{ma} mA\"\n",
                rest("less", low),
                rest("more", high),
            );
            let all = added(demo, &tests);
            let level = |name| value(named(&all, name), "output_level");
            let ohm = (level("added less") - level("added more")) / (1e-3 * (high - low));
            let z = value(named(&all, "added z"), "output_impedance");
            // The difference spans 0.4 % of the load, and its bend counts as the square of that.
            assert!((z / ohm - 1.0).abs() < 1e-3, "{ma} mA: {z} Ω for {ohm} Ω");
        }
    }
}

/// What a test over frequency must find: (Hz, figure), to a share of the figure or to so many dB.
fn hold(outcome: &Outcome, column: &str, figures: &[(f64, f64)], allowed: f64, decibel: bool) {
    let points = outcome.curves[0].points("frequency", column);
    for &(hz, figure) in figures {
        let found = points.iter().find(|(at, _)| (at / hz - 1.0).abs() < 1e-9);
        let (_, found) = found.unwrap_or_else(|| panic!("{}: no point at {hz} Hz", outcome.name));
        let off = if decibel { found - figure } else { found / figure - 1.0 };
        assert!(off.abs() < allowed, "{}: {found} for {figure} at {hz} Hz", outcome.name);
    }
}

/// The independent figures have 9 digits, of rests that agree to 1e-10 V.
const SHARE: f64 = 1e-6;
const DECIBEL: f64 = 1e-5;

fn frequency_test(name: &str, kind: &str, load: &str, more: &str) -> String {
    format!(
        "[[tests]]\nname = \"added {name}\"\nkind = \"{kind}\"\nload_level = \"{load}\"\n{more}\n\
         window = \"none\"\n"
    )
}

#[test]
fn impedance_of_both_demos_agrees_with_the_independent_analysis() {
    let all = added(
        BUOY,
        &[
            frequency_test("2 mA", "output-impedance", "2 mA", ""),
            frequency_test("180 mA", "output-impedance", "180 mA", "highest = \"3.16 MHz\""),
            frequency_test("empty", "output-impedance", "180 mA", "source_level = \"2.95 V\""),
        ]
        .concat(),
    );
    let near = named(&all, "added 2 mA");
    let figures = [
        (10.0, 0.039_978_691),
        (1e3, 0.058_980_861_7),
        (1e4, 0.430_160_927),
        (1e5, 0.544_978_16),
        (1e6, 0.052_189_427_5),
        (1e7, 0.032_740_217),
        (1e8, 0.379_008_922),
    ];
    hold(near, "impedance", &figures, SHARE, false);
    assert!((value(near, "output_impedance_peak") / 1.037_793_808 - 1.0).abs() < SHARE);
    let loaded = named(&all, "added 180 mA");
    hold(loaded, "impedance", &[(10.0, 0.002_498_477_76), (1e4, 0.025_232_797_3)], SHARE, false);
    assert!((value(loaded, "output_impedance_peak") / 0.062_663_411 - 1.0).abs() < SHARE);
    let peak = value(named(&all, "added empty"), "output_impedance_peak");
    assert!((peak / 0.299_894_81 - 1.0).abs() < SHARE, "{peak}");

    let cold = "values = { esr_rise = \"8\" }\nambient = \"-40 °C\"";
    let ceramic = "values = { esr_out = \"10 mΩ\" }";
    let all = added(
        SENSOR,
        &[
            frequency_test("warm", "output-impedance", "60 mA", ""),
            frequency_test("cold", "output-impedance", "120 mA", cold),
            frequency_test("ceramic", "output-impedance", "20 mA", ceramic),
        ]
        .concat(),
    );
    let warm = named(&all, "added warm");
    let figures =
        [(10.0, 0.044_549_876), (1e3, 0.058_476_278_1), (1e5, 1.134_819_2), (1e8, 0.018_846_517)];
    hold(warm, "impedance", &figures, SHARE, false);
    for (name, peak) in [("warm", 1.135_690_3), ("cold", 13.315_216), ("ceramic", 3.996_257_4)] {
        let found = value(named(&all, &format!("added {name}")), "output_impedance_peak");
        assert!((found / peak - 1.0).abs() < SHARE, "{name}: {found} for {peak}");
    }
}

#[test]
fn rejection_of_both_demos_agrees_with_the_independent_analysis() {
    let source = "input_network = \"in\"";
    let empty = "source_level = \"2.95 V\"";
    let all = added(
        BUOY,
        &[
            frequency_test("full", "ripple-rejection", "12 mA", ""),
            frequency_test("empty", "ripple-rejection", "180 mA", empty),
            frequency_test("charger", "ripple-rejection", "180 mA", &format!("{source}\n{empty}")),
        ]
        .concat(),
    );
    let full = named(&all, "added full");
    let figures = [
        (10.0, 56.095_852_7),
        (1e3, 52.723_127_7),
        (1e4, 35.894_224_8),
        (1e5, 27.862_078_4),
        (1e6, 41.894_631),
        (1e7, 55.489_905_8),
    ];
    hold(full, "rejection_from_pin", &figures, DECIBEL, true);
    let figures = [(10.0, 56.095_852_7), (1e4, 35.912_105_4), (1e5, 29.665_404_1)];
    hold(full, "rejection_from_source", &figures, DECIBEL, true);
    for (name, least) in [("full", 27.683_68), ("empty", 6.358_775_4), ("charger", 8.757_430_3)] {
        let found = value(named(&all, &format!("added {name}")), "ripple_rejection");
        assert!((found - least).abs() < DECIBEL, "{name}: {found} dB for {least} dB");
    }

    let cold = "values = { esr_rise = \"8\" }\nambient = \"-40 °C\"";
    let low = "source_level = \"5.6 V\"";
    let all = added(
        SENSOR,
        &[
            frequency_test("warm", "ripple-rejection", "120 mA", ""),
            frequency_test("battery", "ripple-rejection", "120 mA", source),
            frequency_test("cold", "ripple-rejection", "120 mA", &format!("{source}\n{cold}")),
            frequency_test("low", "ripple-rejection", "120 mA", low),
        ]
        .concat(),
    );
    let warm = named(&all, "added warm");
    let figures = [(10.0, 81.985_034_5), (1e4, 63.166_102_1), (1e6, 71.328_679_9)];
    hold(warm, "rejection_from_pin", &figures, DECIBEL, true);
    let least =
        [("warm", 54.607_132), ("battery", 66.565_334), ("cold", 36.001_981), ("low", 6.011_227_3)];
    for (name, least) in least {
        let found = value(named(&all, &format!("added {name}")), "ripple_rejection");
        assert!((found - least).abs() < DECIBEL, "{name}: {found} dB for {least} dB");
    }
}

#[test]
fn less_headroom_is_told_on_both_demos() {
    let buoy = "source_levels = [\"4.2 V\", \"3.7 V\", \"3.1 V\", \"2.95 V\"]";
    let all = added(BUOY, &frequency_test("cells", "ripple-rejection", "180 mA", buoy));
    let [note] = all[0].notes.as_slice() else { panic!("{:?}", all[0].notes) };
    assert!(note.contains("more than 3 dB are lost between 868 mV and 269 mV"), "{note}");
    // In dropout the loop is open: told beside every figure.
    let sensor = "source_level = \"5.0 V\"";
    let all = added(SENSOR, &frequency_test("crank", "ripple-rejection", "120 mA", sensor));
    let row = all[0].measurements.iter().find(|m| m.name == "ripple_rejection").unwrap();
    assert!(row.reason.as_ref().unwrap().contains("not in regulation"), "{row:?}");
}

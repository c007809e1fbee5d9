//! Whole spreads of circuits with closed forms.

use railstep::circuit::Changes;
use railstep::document::Files;
use railstep::plan::{self, Plan};
use railstep::study::spread::{Asked, Draw, Law, On, Sort, Spread, TestSpread, spread};
use railstep::study::{Forgetful, Ground, Runner, Watch};
use railstep::trial::RunOptions;

struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _path: &str) -> Result<String, String> {
        Err("there is no such file".to_owned())
    }
}

fn plan_of(text: &str) -> Plan {
    let reading = plan::read("circuit.toml", text, &NoFiles, &Changes::default());
    reading.plan.unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

/// Runs the spread of all tests and looks at it.
fn with_spread<T>(plan: &Plan, runs: usize, quick: bool, look: impl FnOnce(&Spread) -> T) -> T {
    let options = RunOptions::default();
    let ground = Ground { circuit: &plan.circuit, tests: &plan.tests, options, threads: 2 };
    let tests: Vec<usize> = (0..plan.tests.len()).collect();
    let runner = Runner::new(ground, &tests, &Watch::Judged, &Forgetful).unwrap();
    look(&spread(&runner, &Asked { tests, runs, seed: 1, quick }).unwrap())
}

/// 10 V over two resistors.
fn divider(source: &str, upper: &str, lower: &str, limit: &str) -> Plan {
    plan_of(&format!(
        r#"title = "divider"
[values]
v = {source}
[rail]
output = "vout"
nominal = "5 V"
window = "20 %"
[parts]
V1 = {{ kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "v" }}
R1 = {{ kind = "resistor", nodes = ["vin", "vout"], resistance = "1 kΩ", tolerance = "{upper}" }}
R2 = {{ kind = "resistor", nodes = ["vout", "gnd"], resistance = "1 kΩ", tolerance = "{lower}" }}
R3 = {{ kind = "resistor", nodes = ["vin", "gnd"], resistance = "1 kΩ" }}
[[tests]]
name = "rest"
kind = "operating-point"
require = {{ output_level = "{limit}" }}
"#
    ))
}

/// With R1 = 1 + x/10 and R2 = 1 + y/10 kΩ, x and y uniform between -1 and 1, the output stays below
/// 10 V·m/(1 + m) where y ≤ 10·(m - 1) + m·x. For m = 1.05 the line leaves the square at the top, at
/// x = 0.5/1.05, and the area above it is the integral of 0.5 - 1.05·x from -1 to there.
#[test]
fn exact_yield_of_a_divider_with_uniform_tolerances() {
    let plan = divider("\"10 V\"", "10 %", "10 %", "<= 10 V * 1.05 / 2.05");
    let end = 0.5 / 1.05;
    let above = 0.5 * (end + 1.0) - 0.525 * (end * end - 1.0);
    let expected = 1.0 - above / 4.0;
    with_spread(&plan, 4000, false, |found| {
        let test = &found.tests[0];
        let row = &test.rows[0];
        let [low, high] = row.share.interval();
        assert!(low <= expected && expected <= high, "{low} {expected} {high}");
        assert!(high - low < 0.03);
        assert_eq!((row.share, found.share), (test.share, test.share));
        // The worst vertex: R1 lowest, R2 highest; 10·1.1/2.
        let extreme = &test.extremes[0];
        assert!((extreme.line.value.unwrap() - 5.5).abs() < 1e-9);
        // No draw is worse than the worst vertex.
        assert_eq!(test.worst_of_row(0).unwrap().0, None);
        assert!(row.figures.as_ref().unwrap().maximum < 5.5);
        assert_eq!(found.without.parts, ["V1", "R3"]);
        assert_eq!(found.without.values, ["v"]);
    });
}

/// Relative changes add up: dV/V = δv + (δ2 - δ1)/2. Uniform tolerances of 1 %, 2 % (R1) and 1 % (R2)
/// have variances as 4, 4 and 1.
#[test]
fn exact_contributors_of_a_divider() {
    let source = "{ value = \"10 V\", tolerance = \"1 %\" }";
    let plan = divider(source, "2 %", "1 %", "4 V .. 6 V");
    with_spread(&plan, 5000, true, |found| {
        let told = found.tests[0].contributors[0].as_ref().unwrap();
        assert_eq!(told.on, On::Values);
        assert!(told.explained > 0.999, "{told:?}");
        for (path, share, sign) in [
            ("v", 4.0 / 9.0, 1.0),
            ("R1.resistance", 4.0 / 9.0, -1.0),
            ("R2.resistance", 1.0 / 9.0, 1.0),
        ] {
            let of = |k: usize| found.drawn[found.tests[0].columns[k]].path.as_str();
            let one = told.list.iter().find(|c| of(c.quantity) == path).unwrap();
            // Each variance of 5000 draws is known to about 1.3 %; three times that of the share.
            assert!((one.share - share).abs() < 0.02, "{path} {}", one.share);
            assert!(one.coefficient * sign > 0.0, "{path}");
        }
        // Quick: nothing but draws.
        assert!(found.tests[0].extremes.is_empty() && found.tests[0].budget.is_none());
    });
}

/// One cause at a time: v·R2/(R1 + R2) with v, R1 or R2 at a limit; then summed, and as root of the
/// sum of squares, each side by itself.
#[test]
fn exact_static_budget_of_a_divider() {
    let source = "{ value = \"10.1 V\", tolerance = \"1 %\" }";
    let plan = divider(source, "2 %", "1 %", "4 V .. 6 V");
    with_spread(&plan, 20, false, |found| {
        let budget = found.tests[0].budget.as_ref().unwrap();
        assert_eq!((budget.level, budget.nominal_v), ("output_level", Some(5.0)));
        let level = |v: f64, r1: f64, r2: f64| v * r2 / (r1 + r2) - 5.05;
        let expected = [
            ("set voltage off nominal", Sort::Systematic, 0.05, 0.05),
            ("v", Sort::Tolerance, level(9.999, 1.0, 1.0), level(10.201, 1.0, 1.0)),
            ("R1.resistance", Sort::Tolerance, level(10.1, 0.98, 1.0), level(10.1, 1.02, 1.0)),
            ("R2.resistance", Sort::Tolerance, level(10.1, 1.0, 0.99), level(10.1, 1.0, 1.01)),
        ];
        assert_eq!(budget.lines.len(), expected.len());
        for (line, (name, sort, low, high)) in budget.lines.iter().zip(expected) {
            assert_eq!((line.name.as_str(), line.sort), (name, sort));
            // An operating point is solved to rounding; values are set to six digits.
            assert!((line.at_low_v - low).abs() < 1e-9, "{name} {} {low}", line.at_low_v);
            assert!((line.at_high_v - high).abs() < 1e-9, "{name} {} {high}", line.at_high_v);
        }
        let below = expected[1..].iter().map(|(.., a, b)| a.min(*b));
        let above = expected[1..].iter().map(|(.., a, b)| a.max(*b));
        let near = |found: f64, expected: f64| {
            assert!((found - expected).abs() < 1e-9, "{found} {expected}");
        };
        near(budget.extreme.settled_v[0], 5.05 + below.clone().sum::<f64>());
        near(budget.extreme.settled_v[1], 5.05 + above.clone().sum::<f64>());
        let root = |sides: &mut dyn Iterator<Item = f64>| sides.map(|v| v * v).sum::<f64>().sqrt();
        near(budget.root_sum_square.settled_v[0], 5.05 - root(&mut below.clone()));
        near(budget.root_sum_square.settled_v[1], 5.05 + root(&mut above.clone()));
        near(budget.extreme.left_below_v.unwrap(), budget.extreme.before_v[0] - 4.0);
        near(budget.extreme.left_above_v.unwrap(), 6.0 - budget.extreme.before_v[1]);
    });
}

/// A source behind a resistor with a temperature coefficient of 1 %/K around 25 °C: the level at rest
/// is 3 V - 0.1 A·R, and R goes with what was drawn of both.
const WARM: &str = r#"title = "warm"
[values]
r = { value = "1 Ω", tolerance = ["-10 %", "20 %"], distribution = "normal" }
[rail]
output = "vout"
nominal = "3 V"
[corners]
ambient = ["15 °C", "35 °C"]
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }
R1 = { kind = "resistor", nodes = ["vin", "vout"], resistance = "r", temperature_coefficient = "1 %/K" }
I1 = { kind = "current-source", nodes = ["vout", "gnd"], current = "0.1 A" }
[[tests]]
name = "rest"
kind = "operating-point"
require = { output_level = ">= 2.5 V" }
[[tests]]
name = "at 25"
kind = "operating-point"
ambient = "25 °C"
require = { output_level = ">= 2.5 V" }
"#;

#[test]
fn exact_levels_of_drawn_temperatures_and_tolerances() {
    let plan = plan_of(WARM);
    with_spread(&plan, 300, true, |found| {
        let laws: Vec<(&str, Law)> = found.drawn.iter().map(|d| (d.path.as_str(), d.law)).collect();
        assert_eq!(laws, [("rail.ambient", Law::Between), ("r", Law::Normal)]);
        let (free, still) = (&found.tests[0], &found.tests[1]);
        assert_eq!((free.columns.as_slice(), still.columns.as_slice()), (&[0, 1][..], &[1][..]));
        for k in 0..300 {
            let level = |test: &TestSpread| test.readings[k].lines[0].value.unwrap();
            let (ambient, r) = (free.draws[k].values[0].unwrap(), free.draws[k].values[1].unwrap());
            // Six digits of °C and Ω.
            let expected = 3.0 - 0.1 * r * (1.0 + 0.01 * (ambient - 298.15));
            assert!((level(free) - expected).abs() < 1e-9, "{k}: {} {expected}", level(free));
            // The same draw in the other test, at its own temperature.
            assert_eq!(still.draws[k].values[0], Some(r));
            assert!((level(still) - (3.0 - 0.1 * r)).abs() < 1e-9);
            assert!((288.15..=308.15).contains(&ambient));
        }
        // Half of a normal distribution about nominal lies below it, and its sides are as 1 to 2.
        let below = still.draws.iter().filter(|d| d.values[0].unwrap() < 1.0).count();
        assert!((115..=185).contains(&below), "{below}");
    });
}

#[test]
fn draws_do_not_depend_on_how_many_there_are_or_on_other_tests() {
    let plan = plan_of(WARM);
    let all = with_spread(&plan, 40, true, |found| found.tests[0].draws.clone());
    let few = with_spread(&plan, 7, true, |found| found.tests[0].draws.clone());
    assert_eq!(all[..7], few[..]);
}

/// A list and a tolerance of one value: the list gives what the tolerance is about.
#[test]
fn a_value_with_levels_and_a_tolerance_is_drawn_for_each() {
    let own =
        "r = { value = \"1 Ω\", tolerance = [\"-10 %\", \"20 %\"], distribution = \"normal\" }";
    let plan = plan_of(
        &WARM
            .replace(own, "r = { value = \"1 Ω\", tolerance = \"1 %\" }")
            .replace("ambient = [\"15 °C\", \"35 °C\"]", "r = [\"1 Ω\", \"2 Ω\"]"),
    );
    with_spread(&plan, 400, true, |found| {
        let test = &found.tests[0];
        assert_eq!(test.columns.len(), 2);
        for (draw, reading) in test.draws.iter().zip(&test.readings) {
            let (level, r) = (draw.values[0].unwrap(), draw.values[1].unwrap());
            assert!((1.0..=2.0).contains(&level) && (r / level - 1.0).abs() <= 0.01 + 1e-5);
            assert!((reading.lines[0].value.unwrap() - (3.0 - 0.1 * r)).abs() < 1e-9);
        }
        // Both are drawn independently: the correlation of 400 pairs has a standard error of 5 %.
        let mean = |get: &dyn Fn(&Draw) -> f64| test.draws.iter().map(get).sum::<f64>() / 400.0;
        let product = mean(&|d| (d.factors[0] - 1.5) * (d.factors[1] - 1.0));
        let size = (1.0 / 12.0_f64).sqrt() * (0.01_f64.powi(2) / 3.0).sqrt();
        assert!((product / size).abs() < 0.2, "{}", product / size);
    });
}

/// Of a capacitor whose dielectric says no more than a band, the impedance goes with the place in that
/// band and with nothing else, over ±15 % as 1/C: next to straight.
#[test]
fn exact_a_band_of_a_dielectric_is_told_where_it_is_all_that_scatters() {
    let plan = plan_of(
        "title = \"band\"\n[rail]\noutput = \"vout\"\nnominal = \"1 V\"\nsource = \"V1\"\n\
         ambient = \"85 °C\"\n[parts]\n\
         V1 = { kind = \"voltage-source\", plus = \"vin\", minus = \"gnd\", voltage = \"1 V\" }\n\
         R1 = { kind = \"resistor\", nodes = [\"vin\", \"vout\"], resistance = \"1 kΩ\" }\n\
         C1 = { kind = \"capacitor\", nodes = [\"vout\", \"gnd\"], capacitance = \"1 µF\", \
         esr = \"1 mΩ\", dielectric = \"X7R\", remaining = \"80 %\" }\n\
         [[tests]]\nname = \"z\"\nkind = \"output-impedance\"\n\
         require = { output_impedance = { limit = \"<= 100 Ω\", at = \"10 kHz\" } }\n",
    );
    with_spread(&plan, 60, true, |found| {
        assert_eq!(found.drawn.iter().map(|d| d.is_band).collect::<Vec<_>>(), [true]);
        let told = found.tests[0].contributors[0].as_ref().unwrap();
        assert!(told.explained > 0.98 && told.list.len() == 1, "{told:?}");
        assert!(told.list[0].share > 0.98 && told.list[0].coefficient < 0.0, "{told:?}");
    });
}

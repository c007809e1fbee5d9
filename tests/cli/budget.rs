//! Is a linear regulator right at all: figures from outside, the text, the JSON, refusals.

use crate::bench::{Bench, Told};
use insta::assert_snapshot;
use serde_json::Value;

/// `railstep budget` with arguments divided by blanks.
fn budget(arguments: &str) -> Told {
    let arguments: Vec<&str> =
        std::iter::once("budget").chain(arguments.split_whitespace()).collect();
    Bench::with("").tell(&arguments)
}

/// The JSON of a calculation that ends with `code`.
fn calculated(arguments: &str, code: i32) -> Value {
    let told = budget(&format!("{arguments} --format json")).expect(code);
    assert_eq!(told.err, "");
    serde_json::from_str(&told.out).unwrap()
}

fn figure(report: &Value, name: &str) -> f64 {
    let found = report["figures"].as_array().unwrap().iter().find(|f| f["name"] == name);
    found.unwrap_or_else(|| panic!("no {name}"))["value"].as_f64().unwrap()
}

/// Within half of the last digit that the source prints.
#[track_caller]
fn prints_as(value: f64, printed: f64, last_digit: f64) {
    assert!((value - printed).abs() <= 0.500_001 * last_digit, "{value} {printed}");
}

#[test]
fn published_a_small_regulator_of_600_mw() {
    // Toshiba e-learning, "Basics of LDO regulators", chapter 4-2 (looked up): 600 mW at 25 °C and
    // 150 °C at most, so 208.3333 °C/W; 3.6 V to 1.8 V, 100 mA at 40 °C: 0.18 W, 77.5 °C
    let theta = "--theta 208.3333K/W --junction-limit 150°C";
    let told =
        calculated(&format!("--input 3.6V --output 1.8V --load 100mA --ambient 40°C {theta}"), 0);
    prints_as(figure(&told, "dissipation_worst"), 0.18, 0.01);
    prints_as(figure(&told, "junction_worst"), 77.5, 0.1);
    assert_eq!(told["verdict"], "pass");
    let rated = calculated(&format!("--input 3.6V --output 1.8V --load 100mA {theta}"), 0);
    prints_as(figure(&rated, "dissipation_allowed"), 0.6, 0.001);
}

#[test]
fn published_the_largest_current_at_a_given_dissipation() {
    // ROHM, technical note of BAxxJC5 (2009, looked up): 6 V to 5 V at 85 °C, 62.5 °C/W to 150 °C,
    // 30 mA for itself: Io <= (1.040 − 6·0.030)/(6 − 5) = 860 mA
    let told = calculated(
        "--input 6V --output 5V --load 500mA --ambient 85°C --theta 62.5K/W --junction-limit 150°C \
         --ground-current 30mA",
        0,
    );
    prints_as(figure(&told, "dissipation_allowed"), 1.04, 0.001);
    prints_as(figure(&told, "load_allowed"), 0.86, 0.001);
}

#[test]
fn published_ceilings_of_the_efficiency() {
    // ROHM, basics of linear regulators (looked up): 5 V to 3.3 V ideally 66.0 %, 64 % with the
    // regulator's own current; 3.6 V to 3.3 V 89 % with it, ideally 91.67 % (3.3/3.6, worked out)
    for (input, ideal, digit, real) in [("5V", 0.66, 1e-3, 0.64), ("3.6V", 0.9167, 1e-4, 0.89)] {
        let told = calculated(&format!("--input {input} --output 3.3V --load 100mA"), 0);
        let ceiling = figure(&told, "efficiency_ceiling_at_typical_input");
        prints_as(ceiling, ideal, digit);
        assert!(ceiling > real);
    }
}

#[test]
fn published_the_largest_dissipation_and_current_of_a_bipolar_regulator() {
    // Franco, Design with Operational Amplifiers, example 11.14 (as transcribed in a textbook
    // companion, book not seen): 150 °C at most, 50 °C around, 60 °C/W, 8 V to 5 V: 1.6667 W, 0.5556 A
    let given = "--input 8V --output 5V --ambient 50°C --theta 60°C/W --junction-limit 150°C";
    let told = calculated(&format!("{given} --load 0.5A"), 0);
    prints_as(figure(&told, "dissipation_allowed"), 1.6667, 1e-4);
    prints_as(figure(&told, "load_allowed"), 0.5556, 1e-4);
    // A little more is too much.
    let told = calculated(&format!("{given} --load 0.56A"), 1);
    assert!(told["reason"].as_str().unwrap().contains("60 K/W is given"));
}

#[test]
fn published_efficiency_of_a_supply_with_7_v_across_its_transistor() {
    // Bell, Electronic Devices and Circuits, 4th edition, example 18.11 (as transcribed, book not
    // seen): 10 V, 1 A, 7 V across the transistor: 10/17 = 58.82 %
    let told = calculated("--input 17V --output 10V --load 1A --theta 10K/W", 0);
    prints_as(figure(&told, "efficiency_at_typical_input"), 0.5882, 1e-4);
    prints_as(figure(&told, "dissipation_worst"), 7.0, 1e-9);
}

#[test]
fn published_efficiency_with_the_regulators_own_current() {
    // In the form of Texas Instruments, SLVA079 (from memory): 4.3 V to 3.3 V, 150 mA, 17 µA for
    // itself: 76.7355 %
    let told = calculated("--input 4.3V --output 3.3V --load 150mA --ground-current 17uA", 0);
    prints_as(figure(&told, "efficiency_at_typical_input"), 0.767_355, 1e-6);
}

#[test]
fn published_dissipation_of_an_adjustable_regulator() {
    // Bell, 4th edition, example 18.10 (as transcribed, book not seen): 15 V to 6 V, 200 mA: 1.8 W
    let told = calculated("--input 15V --output 6V --load 200mA --theta 47K/W", 0);
    prints_as(figure(&told, "dissipation_worst"), 1.8, 0.1);
}

#[test]
fn regress_the_text_reads_as_a_whole() {
    // 2026-11-26
    let told = budget(
        "--input 3.0V..4.2V --output 2.8V --load 2mA:95%,150mA --theta 60K/W --ambient 60°C \
         --dropout 190mV --ground-current 17uA --current-limit 300mA --battery 1000mAh",
    );
    let told = told.expect(0);
    assert_eq!(told.err, "");
    assert_snapshot!(told.out, @"");
}

#[test]
fn regress_a_verdict_against_it_says_which_number_decides() {
    // 2026-11-26
    let told = budget("--input 12V --output 3.3V --load 1A --theta 40K/W").expect(1);
    assert_snapshot!(told.out, @"");
}

#[test]
fn the_json_has_every_figure_with_unit_and_condition() {
    let told = calculated(
        "--input 3V..5V --output 2V --load 10mA:60%,20mA --theta 60K/W --dropout 0.1V \
         --current-limit 30mA --battery 1Ah",
        0,
    );
    let keys: Vec<&String> = told.as_object().unwrap().keys().collect();
    assert_eq!(
        keys,
        [
            "format",
            "command",
            "verdict",
            "reason",
            "given",
            "judgements",
            "figures",
            "not_evaluated",
            "cautions"
        ]
    );
    assert_eq!((&told["format"], &told["command"]), (&1.into(), &"budget".into()));
    let text = |v: &Value| v.as_str().unwrap().to_owned();
    let figures: Vec<String> = told["figures"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| format!("{} [{}] {}", text(&f["name"]), text(&f["unit"]), text(&f["condition"])))
        .collect();
    assert_snapshot!(figures.join("\n"), @"");
    let judged: Vec<String> =
        told["judgements"].as_array().unwrap().iter().map(|j| text(&j["name"])).collect();
    assert_eq!(judged, ["heat", "headroom", "battery_life"]);
}

#[test]
fn a_range_without_a_typical_value_has_its_middle_and_says_so() {
    let given = "--output 2.8V --load 1mA --input";
    let told = calculated(&format!("{given} 3.0V..4.2V"), 0);
    prints_as(told["given"]["input_v"][1].as_f64().unwrap(), 3.6, 1e-9);
    assert_eq!(told["given"]["assumed"][0], "typical_input");
    let told = calculated(&format!("{given} 3.0V..3.7V..4.2V --switching-efficiency 90%"), 0);
    assert_eq!(told["given"]["input_v"][1], 3.7);
    assert_eq!(told["given"]["assumed"].as_array().unwrap().len(), 0);
}

#[test]
fn units_of_labels_and_data_sheets_are_read() {
    let given = "--input 5V --output 3V --load 10mA";
    for (option, key, si) in [
        ("--battery 1000mAh", "battery_charge_c", 3600.0),
        ("--battery 2.5Ah", "battery_charge_c", 9000.0),
        ("--battery 2.5A*h", "battery_charge_c", 9000.0),
        ("--theta 60°C/W", "theta_k_per_w", 60.0),
        ("--theta 60K/W", "theta_k_per_w", 60.0),
        ("--ambient -40°C", "ambient_c", -40.0),
        ("--ambient 300K", "ambient_c", 26.85),
        ("--junction-limit 110°C", "junction_limit_c", 110.0),
    ] {
        let told = calculated(&format!("{given} {option}"), 0);
        prints_as(told["given"][key].as_f64().unwrap(), si, 1e-9);
    }
}

#[test]
fn an_output_above_the_input_is_refused() {
    for (input, way) in [("2.5V..4.2V", "steps up as well as down"), ("2.5V", "steps up,")] {
        let told = budget(&format!("--input {input} --output 2.8V --load 1mA")).expect(2);
        assert_eq!(told.out, "");
        assert!(told.err.contains("a linear regulator only steps down"), "{}", told.err);
        assert!(told.err.contains(way) && told.err.contains("2.8 V"), "{}", told.err);
    }
    // Neither is an output of just the input anything to regulate.
    budget("--input 2.8V --output 2.8V --load 1mA").expect(2);
}

#[test]
fn all_mistakes_are_told_at_once_each_with_what_to_type() {
    let told = budget(
        "--input 4.2V..3V --load 150ma:5%,3V --theta 60C --ambient 60C --battery 10Wh \
         --switching-efficiency 85 --dropout -1V --current-limit 0",
    );
    let told = told.expect(2);
    assert_eq!(told.out, "");
    assert_snapshot!(told.err, @"");
}

#[test]
fn what_is_missing_is_named_with_an_example() {
    let told = budget("").expect(2);
    for example in ["`--input 3.0V..4.2V`", "`--output 2.8V`", "`--load 150mA`"] {
        assert!(told.err.contains(&format!("write for example {example}")), "{}", told.err);
    }
    assert_eq!(told.err.lines().count(), 3);
}

#[test]
fn values_that_make_no_sense_are_refused() {
    let given = "--input 5V --output 3V";
    for (more, part) in [
        ("--load 10mA:50%,2mA:30%", "add up to 80 %"),
        ("--load 10mA:50%,2mA,1mA:50%", "`2mA` lacks its share"),
        ("--load 1mA:100%,2mA", "leave nothing for the last"),
        ("--load 1mA:-5%,2mA", "each share is above 0 %"),
        ("--load 0A", "a load above zero"),
        ("--load -1mA", "gives current only"),
        ("--load ,", "nothing is written"),
        ("--load 1mA --ambient 130°C", "not below the junction limit 125 °C"),
        ("--load 1mA --current-limit 0.5mA", "beyond `--current-limit`"),
        ("--load 1mA --theta 0K/W", "above zero"),
        ("--load 1mA --battery 0mAh", "`--battery 0mAh`"),
        ("--load 1mA --switching-efficiency 0%", "at most 100 %"),
        ("--load 1e999A", "too large"),
        ("--load 1mA/0", "no finite value"),
        ("--load 1mA --input 6V", "cannot be used multiple times"),
    ] {
        let told = budget(&format!("{given} {more}")).expect(2);
        assert!(told.err.contains(part), "{more}: {}", told.err);
        assert_eq!(told.out, "");
    }
}

#[test]
fn cautions_come_only_when_something_calls_for_them() {
    let told = |more: &str| {
        let told = calculated(&format!("--input 5V --output 3V {more}"), 0);
        let cautions = told["cautions"].as_array().unwrap();
        cautions.iter().map(|c| c.as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    let quiet = told("--load 10mA");
    assert_eq!(quiet.len(), 1);
    assert!(quiet[0].starts_with("calculated from the numbers given, not measured"));
    for (more, part) in [
        ("--load 300mA --theta 60K/W", "hot surface: the regulator takes 600 mW"),
        ("--load 10mA --current-limit 300mA", "shorted the regulator takes 1.50 W"),
        ("--load 10mA --battery 9Ah", "battery source"),
        ("--load 100uA", "few switching regulators keep 85 %"),
    ] {
        let told = told(more);
        assert_eq!(told.len(), 2, "{more}");
        assert!(told[0].contains(part), "{more}: {}", told[0]);
    }
    let high = budget("--input 100V --output 90V --load 10mA").expect(0);
    assert!(high.out.contains("100 V is dangerous to touch"));
}

#[test]
fn the_text_and_its_help_fit_the_terminal() {
    let bench = Bench::with("");
    let arguments = "budget --input 3.0V..4.2V --output 2.8V --load 2mA:95%,150mA --theta 60K/W";
    let arguments: Vec<&str> = arguments.split_whitespace().collect();
    for width in [60, 80, 100] {
        let mut command = bench.command(&arguments);
        let output = command.env("COLUMNS", width.to_string()).output().unwrap();
        for line in String::from_utf8(output.stdout).unwrap().lines() {
            // A row of the table by input is not broken.
            assert!(line.chars().count() <= width.max(75), "{width}: {line}");
        }
    }
    for help in ["--help", "-h"] {
        for line in bench.tell(&["budget", help]).expect(0).out.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }
}

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
    assert_snapshot!(told.out, @r"
    linear regulator from 3 V .. 3.6 V .. 4.2 V to 2.8 V
      load: 2 mA for 95 % of the time, 150 mA for 5 % of the time, mean 9.4 mA
      heat: ambient 60 °C, junction at most 125 °C, thermal resistance 60 K/W
      ground current 17 µA, dropout 190 mV, current limit 300 mA, battery 1 Ah, switching efficiency
        85 %
      assumed, not given: typical input, switching efficiency

      input                          lowest 3 V  typical 3.6 V  highest 4.2 V
      headroom                           200 mV         800 mV         1.40 V
      efficiency                         93.2 %         77.6 %         66.5 %
      its ceiling, output/input          93.3 %         77.8 %         66.7 %
      dissipation, mean load 9.4 mA     1.93 mW        7.58 mW        13.2 mW
      dissipation, load 150 mA          30.1 mW         120 mW         210 mW
      junction, mean load 9.4 mA        60.1 °C        60.5 °C        60.8 °C
      junction, load 150 mA             61.8 °C        67.2 °C        72.6 °C

      dissipation longest share         2.87 mW  highest input 4.2 V, longest load 2 mA for 95 % of the
                                                 time
      thermal resistance needed         309 K/W  highest input 4.2 V, highest load 150 mA
      thermal resistance needed mean   4910 K/W  highest input 4.2 V, mean load 9.4 mA
      dissipation allowed                1.08 W  ambient 60 °C, junction 125 °C
      load allowed                       774 mA  highest input 4.2 V, ambient 60 °C, junction 125 °C,
                                                 lasting
      ambient allowed                  112.4 °C  highest input 4.2 V, highest load 150 mA, junction
                                                 125 °C
      dissipation shorted                1.26 W  highest input 4.2 V, output shorted, 300 mA
      headroom margin                   10.0 mV  lowest input 3 V, dropout 190 mV
      switching loss                    4.64 mW  typical input 3.6 V, mean load 9.4 mA, switching
                                                 regulator at 85 %
      life ratio                         91.3 %  typical input 3.6 V, mean load 9.4 mA, switching
                                                 regulator at 85 %
      life linear                     4.42 days  mean load 9.4 mA, whole capacity
      life switching                  4.84 days  typical input 3.6 V, mean load 9.4 mA, switching
                                                 regulator at 85 %

      heat: pass (margin 80.6 %): dissipation 210 mW needs at most 309 K/W, 60 K/W is given: the
        junction reaches 72.6 °C of 125 °C allowed
      headroom: marginal (margin 5.3 %): headroom at the lowest input 3 V is 200 mV, dropout 190 mV is
        given
      battery life: pass: the battery lasts 4.42 days, 91.3 % of the 4.84 days that a switching
        regulator at 85 % would give

    caution: with its output shorted the regulator takes 1.26 W until thermal shutdown acts, which is
      a last resort and no way of working
    caution: battery source: over-discharge, charging and short-circuit protection follow the rules of
      the cell's maker; none of it is checked here
    caution: calculated from the numbers given, not measured: a thermal resistance holds for its own
      board and air and can be off by half on yours; droop, stability and start-up are not part of it, a
      run of the circuit tells them

    verdict: marginal, a linear regulator may do, with care: headroom at the lowest input 3 V is
      200 mV, dropout 190 mV is given
    calculated, not measured
    ");
}

#[test]
fn regress_a_verdict_against_it_says_which_number_decides() {
    // 2026-11-26
    let told = budget("--input 12V --output 3.3V --load 1A --theta 40K/W").expect(1);
    assert_snapshot!(told.out, @r"
    linear regulator from 12 V to 3.3 V
      load: 1 A
      heat: ambient 25 °C, junction at most 125 °C, thermal resistance 40 K/W
      ground current 0 A, switching efficiency 85 %
      assumed, not given: switching efficiency

      input                      typical 12 V
      headroom                         8.70 V
      efficiency                       27.5 %
      its ceiling, output/input        27.5 %
      dissipation, load 1 A            8.70 W
      junction, load 1 A               373 °C

      thermal resistance needed  11.5 K/W  highest input 12 V, highest load 1 A
      dissipation allowed          2.50 W  ambient 25 °C, junction 125 °C
      load allowed                 287 mA  highest input 12 V, ambient 25 °C, junction 125 °C, lasting
      ambient allowed             -223 °C  highest input 12 V, highest load 1 A, junction 125 °C
      switching loss               582 mW  typical input 12 V, mean load 1 A, switching regulator at
                                           85 %
      life ratio                   32.4 %  typical input 12 V, mean load 1 A, switching regulator at
                                           85 %

      heat: fail (margin -248 %): dissipation 8.7 W needs at most 11.5 K/W, 40 K/W is given: the
        junction would reach 373 °C of 125 °C allowed
      lost power: marginal: the regulator loses 8.7 W where a switching regulator at 85 % loses
        582 mW: there must be a reason, such as noise, for turning so much into heat
      not evaluated: headroom against dropout (give `--dropout`); battery life (give `--battery`);
        shorted output (give `--current-limit`)

    caution: hot surface: the regulator takes 8.70 W at the highest input and load; it can burn skin
      and its board, so check its temperature on your copper, in its box
    caution: calculated from the numbers given, not measured: a thermal resistance holds for its own
      board and air and can be off by half on yours; droop, stability and start-up are not part of it, a
      run of the circuit tells them

    verdict: fail, a linear regulator is not right here: dissipation 8.7 W needs at most 11.5 K/W,
      40 K/W is given: the junction would reach 373 °C of 125 °C allowed
    calculated, not measured
    ");
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
    assert_snapshot!(figures.join("\n"), @r"
    load_mean [A] over the whole profile
    load_highest [A] of the profile
    efficiency_at_lowest_input [1] lowest input 3 V, mean load 14 mA
    efficiency_ceiling_at_lowest_input [1] lowest input 3 V, without ground current
    efficiency_at_typical_input [1] typical input 4 V, mean load 14 mA
    efficiency_ceiling_at_typical_input [1] typical input 4 V, without ground current
    efficiency_at_highest_input [1] highest input 5 V, mean load 14 mA
    efficiency_ceiling_at_highest_input [1] highest input 5 V, without ground current
    dissipation_typical [W] typical input 4 V, mean load 14 mA
    dissipation_worst [W] highest input 5 V, highest load 20 mA
    dissipation_mean_at_highest_input [W] highest input 5 V, mean load 14 mA
    dissipation_longest_share [W] highest input 5 V, longest load 10 mA for 60 % of the time
    junction_typical [°C] typical input 4 V, mean load 14 mA
    junction_worst [°C] highest input 5 V, highest load 20 mA
    junction_mean_at_highest_input [°C] highest input 5 V, mean load 14 mA
    junction_longest_share [°C] highest input 5 V, longest load 10 mA for 60 % of the time
    thermal_resistance_needed [K/W] highest input 5 V, highest load 20 mA
    thermal_resistance_needed_mean [K/W] highest input 5 V, mean load 14 mA
    dissipation_allowed [W] ambient 25 °C, junction 125 °C
    load_allowed [A] highest input 5 V, ambient 25 °C, junction 125 °C, lasting
    ambient_allowed [°C] highest input 5 V, highest load 20 mA, junction 125 °C
    dissipation_shorted [W] highest input 5 V, output shorted, 30 mA
    headroom [V] lowest input 3 V
    headroom_margin [V] lowest input 3 V, dropout 100 mV
    switching_loss [W] typical input 4 V, mean load 14 mA, switching regulator at 85 %
    life_ratio [1] typical input 4 V, mean load 14 mA, switching regulator at 85 %
    life_linear [s] mean load 14 mA, whole capacity
    life_switching [s] typical input 4 V, mean load 14 mA, switching regulator at 85 %
    ");
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
    assert_snapshot!(told.err, @r"
    error: `--input 4.2V..3V`: the lowest comes first; write `--input 3V..4.2V`
    error: `--output` is missing: a voltage above zero (of a negative rail the magnitude) is wanted; write for example `--output 2.8V`
    error: `--load 150ma:5%,3V`: `ma` is not a unit; write for example `--load 2mA:95%,150mA:5%`
    error: `--load 150ma:5%,3V`: `3V` is a voltage, a current is wanted; write for example `--load 2mA:95%,150mA:5%`
    error: `--theta 60C`: `60C` is a charge, a thermal resistance is wanted; write for example `--theta 60K/W`
    error: `--ambient 60C`: `60C` is a charge, a temperature is wanted; write for example `--ambient 60°C`
    error: `--dropout -1V`: a voltage, or zero is wanted; write for example `--dropout 200mV`
    error: `--current-limit 0`: a current above zero is wanted; write for example `--current-limit 300mA`
    error: `--battery 10Wh`: `Wh` is not a unit; write for example `--battery 1000mAh`
    error: `--switching-efficiency 85`: a share of at most 100 % is wanted; write for example `--switching-efficiency 85%`
    ");
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

//! Mistakes inside one part, value or section: each told at its place (marked `▶`) in the words
//! its rule asks for.

use super::*;

fn bench_expect(lines: &str, messages: &[&str]) {
    expect(&bench(lines), messages);
}

#[test]
fn keys_and_kinds_that_do_not_exist_name_the_nearest() {
    bench_expect(
        r#"C1 = { kind = "capacitor", nodes = ["a", "gnd"], ▶capacitnace = "1 µF" }
R2 = { kind = "▶resistr", nodes = ["a", "gnd"], resistance = "1 Ω" }
▶R3 = { nodes = ["a", "gnd"], resistance = "1 Ω" }
D1 = { kind = "diode", ▶anod = "a", cathode = "gnd", saturation_current = "1 fA" }
▶R4 = { kind = "resistor", nodes = ["a", "gnd"] }
R5 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "1 Ω", ▶colour = "red" }"#,
        &[
            "part `C1` has no key `capacitnace`",
            "there is no kind of part `resistr`",
            "part `R3` has no `kind`",
            "part `D1` has no key `anod`",
            "part `R4` has no `resistance`",
            "part `R5` has no key `colour`",
        ],
    );
    let nearest = hint(&bench(
        "C1 = { kind = \"capacitor\", nodes = [\"a\", \"gnd\"], capacitnace = \"1 µF\" }",
    ));
    assert_eq!(nearest, "write `capacitance`");
    let kind = hint(&bench("R2 = { kind = \"resistr\", nodes = [\"a\", \"gnd\"] }"));
    assert_eq!(kind, "write `\"resistor\"`");
}

#[test]
fn dimensions_and_ranges_are_checked() {
    bench_expect(
        r#"C1 = { kind = "capacitor", nodes = ["a", "gnd"], capacitance = "▶4.7 V" }
R2 = { kind = "resistor", nodes = ["a", "gnd"], resistance = ▶"0 Ω" }
R3 = { kind = "resistor", nodes = ["a", "gnd"], resistance = ▶"2 Ω - 3 Ω" }
R4 = { kind = "resistor", nodes = ["a", "gnd"], resistance = ▶5 }
C2 = { kind = "capacitor", nodes = ["a", "gnd"], capacitance = "1 µF", esr = ▶"-1 mΩ", remaining = ▶0 }
R5 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "1 Ω", tolerance = ▶"120 %" }
R6 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "1 Ω", temperature = ▶"-300 K" }
R7 = { kind = "resistor", nodes = ["a", "gnd"], resistance = ▶"1 Ω / 0" }
R8 = { kind = "resistor", nodes = ["a", "gnd"], resistance = ▶true }"#,
        &[
            "`4.7 V` is a voltage, a capacitance is wanted",
            "`resistance` of part `R2` must be above zero, but is 0 Ω",
            "`resistance` of part `R3` must be above zero, but is -1.00 Ω",
            "`5` is a plain number, a resistance is wanted",
            "`esr` of part `C2` must be zero or above, but is -1.00 mΩ",
            "`remaining` of part `C2` must be above 0 %, up to 100 %, but is 0",
            "`tolerance` of part `R5` must be from 0 to 100 %, but is 1.20",
            "`temperature` of part `R6` must be above absolute zero",
            "`resistance` of part `R7` must be a finite number, but is inf Ω",
            "`resistance` should be a quantity in quotes, but this is true or false",
        ],
    );
}

#[test]
fn rules_between_keys_hold() {
    bench_expect(
        r#"▶I1 = { kind = "load", nodes = ["a", "gnd"] }
I2 = { kind = "load", nodes = ["a", "gnd"], current = "1 A", power = ▶"1 W" }
E1 = { kind = "controlled-voltage-source", plus = "x", minus = "gnd", input = ▶["a", "gnd"] }
R2 = { kind = "resistor", nodes = ["x", "gnd"], resistance = "1 Ω" }
F1 = { kind = "controlled-current-source", nodes = ["x", "gnd"], sensed = ▶"V2", gain = 1 }
F2 = { kind = "controlled-current-source", nodes = ["x", "gnd"], sensed = ▶"R1", gain = 1 }"#,
        &[
            "part `I1` has none of `current`, `resistance` or `power`",
            "part `I2` has more than one of `current`, `resistance` or `power`",
            "part `E1` has `input` but no `gain`",
            "there is no part `V2`",
            "the current of `R1` cannot be sensed: it is of kind `resistor`",
        ],
    );
}

#[test]
fn values_are_checked_for_names_circles_and_spoil_nothing_else() {
    bench_expect(
        r#"R2 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "r_bad" }
R3 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "▶r_godo" }
R4 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "▶rail.nominal" }
R5 = { kind = "resistor", nodes = ["a", "gnd"], resistance = "p" }
[values]
r_good = "1 Ω"
▶mV = "1 V"
▶exp = "1 V"
▶t = "1 s"
r_bad = "1 ▶xyz"
▶p = "2 * q"
q = "p + r_good"
▶self = "self"
z = "▶1 Ω / (r_good - r_good)"
y = "z"
▶"a b" = "1 V""#,
        &[
            "there is no value `r_godo` here",
            "there is no value `rail.nominal` here",
            "`mV` cannot name a value: it is a unit with a prefix",
            "`exp` cannot name a value: it is a function",
            "`t` cannot name a value: it is the time",
            "`xyz` is not a unit",
            "values go round in a circle: `p` → `q` → `p`",
            "values go round in a circle: `self` → `self`",
            "`z` does not come to a finite number",
            "`a b` cannot name a value",
        ],
    );
}

#[test]
fn tables_of_values_are_checked() {
    bench_expect(
        r#"[values]
a1 = { value = "1 Ω", tolerance = ▶"-5 %" }
b1 = { value = "1 Ω", range = ▶["3 Ω", "2 Ω"] }
c1 = { value = "1 Ω", range = ["1 Ω", "▶2 V"] }
d1 = { value = "1 Ω", series = "▶E7", ▶tolerence = "1 %" }
e1 = ▶{ tolerance = "1 %" }
f1 = { value = "1 Ω", range = ["-1 Ω", "2 Ω"], step = ▶"log" }
g1 = { value = "1 Ω", stock = ▶"1 Ω", distribution = "▶normale" }"#,
        &[
            "`tolerance` must lie between 0 and 100 %",
            "`range` must go from the lower to the higher value",
            "`2 V` is a voltage, a resistance is wanted",
            "`series` cannot be `E7`",
            "value `d1` has no key `tolerence`",
            "value `e1` has no `value`",
            "steps of equal ratio need both ends of `range` above zero",
            "`stock` should be a list of quantities, but this is a text",
            "`distribution` cannot be `normale`",
        ],
    );
}

#[test]
fn models_must_be_there_and_of_the_same_kind() {
    bench_expect(
        r#"R2 = { kind = "resistor", nodes = ["a", "gnd"], model = "▶diod" }
R3 = { kind = "resistor", nodes = ["a", "gnd"], model = "▶d" }
R4 = { kind = "resistor", nodes = ["a", "gnd"], model = "broken" }
▶D1 = { kind = "diode", anode = "a", cathode = "gnd", model = "empty" }
[models.d]
kind = "diode"
saturation_current = "1 fA"
[models.empty]
kind = "diode"
ideality = "▶1 V"
[models.broken]
kind = "▶resisto"
[models.e]
kind = "controlled-voltage-source"
input = ▶["a", "gnd"]
▶gian = 2"#,
        &[
            "there is no model `diod`",
            "model `d` is for kind `diode`, not `resistor`",
            "part `D1` has no `saturation_current`",
            "`1 V` is a voltage, a plain number is wanted",
            "there is no kind of part `resisto`",
            "`input` cannot be given in a model",
            "model `e` has no key `gian`",
        ],
    );
}

#[test]
fn time_functions_are_checked() {
    bench_expect(
        r#"I1 = { kind = "current-source", nodes = ["a", "gnd"], varies = { shape = "▶sinus" } }
I2 = { kind = "current-source", nodes = ["a", "gnd"], varies = ▶{ shape = "sine", amplitude = "▶1 V" } }
I3 = { kind = "current-source", nodes = ["a", "gnd"], varies = ▶{ shape = "points", points = [["1 s", "1 A"], ["0 s", "0"]] } }
I4 = { kind = "current-source", nodes = ["a", "gnd"], varies = ▶{ shape = "pulse", change = "1 A", edge = "1 s", width = "1 s", period = "2 s" } }
I5 = { kind = "current-source", nodes = ["a", "gnd"], varies = { shape = "file", file = "▶no.csv", time = "t [s]", value = "i [A]" } }
I6 = { kind = "current-source", nodes = ["a", "gnd"], varies = { shape = "file", file = "▶../x.csv", time = "t [s]", value = "i [A]" } }
I7 = { kind = "current-source", nodes = ["a", "gnd"], varies = { shape = "points", points = [▶["1 s"]] } }
I8 = { kind = "current-source", nodes = ["a", "gnd"], varies = ▶{ shape = "points", points = [[0, 0], [0, 1e0], [0, 0]] } }"#
            .replace("1e0", "\"1 A\"")
            .as_str(),
        &[
            "`shape` cannot be `sinus`",
            "`varies` has no `frequency`",
            "`1 V` is a voltage, a current is wanted",
            "times must not fall from one point to the next",
            "what repeats must be over before it starts again",
            "`no.csv` cannot be read: there is no such file",
            "`../x.csv` leads out of this file's folder",
            "a point is a time and a level",
            "no more than two points may have the same time",
        ],
    );
}

#[test]
fn a_law_knows_only_its_inputs_time_and_values() {
    bench_expect(
        r#"B1 = { kind = "law", nodes = ["a", "gnd"], inputs = { v = ["a", "gnd"] }, current = "▶w / 1 Ω" }
B2 = { kind = "law", nodes = ["a", "gnd"], inputs = { ▶mA = ["a", "gnd"] }, current = "1 A" }
B3 = { kind = "law", nodes = ["a", "gnd"], inputs = { v = ▶["a"] }, current = "v / 1 Ω" }
B4 = { kind = "law", nodes = ["a", "gnd"], inputs = { v = ["a", "gnd"] }, current = "▶v" }
B5 = { kind = "law", nodes = ["a", "gnd"], inputs = ▶{ p = ["a", "gnd"], q = ["a", "gnd"], r = ["a", "gnd"], x = ["a", "gnd"], y = ["a", "gnd"] }, current = "1 A" }"#,
        &[
            "there is no value `w` here",
            "`mA` cannot name an input: it is a unit with a prefix",
            "`v` should name two nodes, this names 1",
            "`v` is a voltage, a current is wanted",
            "a law takes at most 4 inputs, these are 5",
        ],
    );
}

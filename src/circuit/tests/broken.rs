//! Mistakes between parts, sections and files.

use super::*;
use proptest::prelude::*;

#[test]
fn a_node_used_once_names_the_nearest_other() {
    let text = bench(
        "R2 = { kind = \"resistor\", nodes = [\"vout\", \"gnd\"], resistance = \"1 Ω\" }\nR3 = { kind = \"resistor\", nodes = [\"vout\", \"gnd\"], resistance = \"1 Ω\" }\nR4 = { kind = \"resistor\", nodes = [\"▶vuot\", \"gnd\"], resistance = \"1 Ω\" }",
    );
    expect(&text, &["node `vuot` is used only once"]);
    assert_eq!(hint(&text.replace('▶', "")), "is `vout` meant?");
    let lonely = bench(
        "R2 = { kind = \"resistor\", nodes = [\"elsewhere\", \"gnd\"], resistance = \"1 Ω\" }",
    );
    assert_eq!(hint(&lonely), "connect something else to `elsewhere`, or take it out");
}

#[test]
fn a_part_not_understood_makes_no_other_node_dangle() {
    let text = bench(
        "R2 = { kind = \"▶rezistor\", nodes = [\"b\", \"gnd\"] }\nR3 = { kind = \"resistor\", nodes = [\"b\", \"gnd\"], resistance = \"1 Ω\" }",
    );
    expect(&text, &["there is no kind of part `rezistor`"]);
}

#[test]
fn the_reference_node_must_be_used() {
    let text = "title = \"t\"\n[▶parts]\nV1 = { kind = \"voltage-source\", plus = \"a\", minus = \"GND\", voltage = \"5 V\" }\nR1 = { kind = \"resistor\", nodes = [\"a\", \"GND\"], resistance = \"1 kΩ\" }\n";
    expect(text, &["no part is connected to the reference node `gnd`"]);
    assert_eq!(hint(&text.replace('▶', "")), "write `gnd` for `GND`");
}

#[test]
fn a_part_across_one_node_is_a_warning() {
    let text = bench("R2 = { kind = \"resistor\", nodes = [\"a\", \"a\"], resistance = \"1 Ω\" }");
    let reading = reading(&text);
    let told = reading.diagnostics.sorted();
    assert_eq!(
        shown(&told, &reading.sources),
        ["bench.toml:6:1 part `R2` has all its ends at one node"]
    );
    assert!(reading.circuit.is_some());
}

#[test]
fn sections_and_names_are_checked() {
    let text = "▶tittle = \"t\"\n▶value = 1\ntests = ▶3\n[parts]\n▶1R = { kind = \"resistor\", nodes = [\"gnd\", \"a-b\"], resistance = \"1 Ω\" }\n▶rail = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 Ω\" }\nR2 = ▶\"x\"\nR3 = { kind = \"resistor\", nodes = ▶[\"a\", \"b\", \"gnd\"], resistance = \"1 Ω\" }\n▶R4 = { kind = \"resistor\", resistance = \"1 Ω\" }\n"
        .replace("\"a-b\"", "\"▶a-b\"");
    expect(
        &text,
        &[
            "the circuit file has no key `tittle`",
            "the circuit file has no key `value`",
            "`tests` should be a list of tables, but this is a number",
            "`1R` cannot name a part",
            "`a-b` cannot name a node",
            "`rail` cannot name a part: it names a section",
            "`R2` should be a table, but this is a text",
            "`nodes` should name two nodes, this names 3",
            "part `R4` has no `nodes`",
        ],
    );
}

#[test]
fn a_file_without_parts_says_so() {
    let reading = reading("title = \"t\"\n");
    let told = shown(&reading.diagnostics.sorted(), &reading.sources);
    assert_eq!(told, ["bench.toml:1:1 the circuit file has no `parts`"]);
    assert!(reading.circuit.is_none());
}

#[test]
fn the_rail_names_nodes_and_parts_that_fit() {
    let text = r#"title = "t"
[▶rail]
input = "▶vni"
output = "a"
window = ["3 V", "▶4"]
source = "▶R1"
load = "▶I9"
pass = ["R1", "▶R7"]
output_capacitors = "▶R1"
feedback = "▶EA.sens"
supplies = "V1"
▶nominel = "5 V"
ambient = ▶"-300 K"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "5 V" }
R1 = { kind = "resistor", nodes = ["a", "vin"], resistance = "1 kΩ" }
EA = { kind = "error-amplifier", reference = "vin", sense = "a", output = "a", supply = "vin", ground = "gnd", transconductance = "1 mS", stage_current = "1 µA", stage_resistance = "1 MΩ", output_resistance = "1 kΩ", drive_current = "1 mA" }
"#
    .replace("[▶rail]", "[rail]");
    expect(
        &text,
        &[
            "no part is connected to node `vni`",
            "`4` is a plain number, a voltage is wanted",
            "`source` should name a part of kind `voltage-source`, but `R1` is of kind `resistor`",
            "there is no part `I9`",
            "there is no part `R7`",
            "`output_capacitors` should name a part of kind `capacitor`, but `R1` is of kind `resistor`",
            "part `EA` has no terminal `sens`",
            "`[rail]` has no key `nominel`",
            "`rail.ambient` must be above absolute zero",
        ],
    );
}

#[test]
fn windows_lie_the_right_way_round() {
    let rail = |window: &str| {
        format!(
            "title = \"t\"\n[rail]\noutput = \"a\"\nnominal = \"5 V\"\nwindow = {window}\n[parts]\nV1 = {{ kind = \"voltage-source\", plus = \"a\", minus = \"gnd\" }}\nR1 = {{ kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 Ω\" }}\n"
        )
    };
    expect(
        &rail("▶[\"6 V\", \"4 V\"]"),
        &["a window must go from the lower to the higher voltage"],
    );
    expect(&rail("▶\"200 %\""), &["a window must lie between 0 and 100 % of the nominal voltage"]);
    expect(
        &rail("\"▶2 V\""),
        &["`window` is a fraction of the nominal voltage or two voltages, but this is a voltage"],
    );
    let zero =
        rail("\"2 %\"").replace("nominal = \"5 V\"", "ground = \"▶gdn\"\nnominal = ▶\"0 V\"");
    expect(&zero, &["no part is connected to node `gdn`", "`rail.nominal` must not be zero"]);
    expect(
        &rail("▶[\"1 V\"]"),
        &["`window` should be a fraction, or the lowest and the highest voltage"],
    );
}

#[test]
fn corners_are_checked() {
    let text = bench(
        "[corners]\nambient = [\"▶1 V\"]\n▶vv = [\"1 V\"]\nR1.▶resistnace = [\"1 Ω\"]\nR1.tolerance = ▶3\n[values]\nv = \"1 V\"",
    );
    expect(
        &text,
        &[
            "`1 V` is a voltage, a temperature is wanted",
            "there is no value or part key `vv` to change",
            "kind `resistor` has no key `resistnace`",
            "`tolerance` should be a list of quantities, but this is a number",
        ],
    );
}

#[test]
fn blocks_are_checked() {
    let text = bench(
        r#"▶U1 = { kind = "block", block = "cell", ports = { plus = "a", ▶minsu = "gnd" }, values = { ▶rr = "1 Ω" } }
U2 = { kind = "block", block = "▶cel", ports = { plus = "a", minus = "gnd" } }
[blocks.cell]
ports = ["plus", "minus", "▶spare", "▶gnd"]
values = { r = "▶outer" }
parts = { R1 = { kind = "resistor", nodes = ["plus", "minus"], resistance = "r" }, R2 = { kind = "resistor", nodes = ["▶lonely", "plus"], resistance = "1 Ω" } }
[blocks.unused]
ports = ["p"]
parts = { R1 = { kind = "resistor", nodes = ["p", "gnd"], resistance = "▶1 V" } }
[blocks.round]
ports = ["p"]
parts = { ▶U = { kind = "block", block = "round", ports = { p = "p" } } }
[values]
outer = "1 Ω""#,
    );
    let text = text.replace("▶U1 =", "U1 =").replace("{ kind = \"block\", block = \"cell\", ports = { plus = \"a\", ▶minsu", "{ kind = \"block\", block = \"cell\", ports = { plus = \"a\", minus = \"gnd\", spare = \"a\", ▶minsu");
    expect(
        &text,
        &[
            "the block has no port `minsu`",
            "the block has no value `rr`",
            "there is no block `cel`",
            "no part of the block is connected to port `spare`",
            "`gnd` is the reference node everywhere and cannot be a port",
            "there is no value `outer` here",
            "node `lonely` is used only once",
            "`1 V` is a voltage, a resistance is wanted",
            "blocks contain one another in a circle: `round` → `round`",
        ],
    );
    let open = bench(
        "▶U1 = { kind = \"block\", block = \"b\", ports = { x = \"a\" } }\n[blocks.b]\nports = [\"x\", \"y\"]\nparts = { R = { kind = \"resistor\", nodes = [\"x\", \"y\"], resistance = \"1 Ω\" } }",
    );
    expect(&open, &["block part `U1` leaves port `y` open"]);
}

#[test]
fn includes_stay_in_their_folders_and_go_in_no_circle() {
    let text = "title = \"t\"\ninclude = [\"../x.toml\", \"/etc/x.toml\", \"sub/a.toml\", \"none.toml\"]\n[values]\nv = \"1 V\"\n[parts]\nR1 = { kind = \"resistor\", nodes = [\"gnd\", \"gnd\"], resistance = \"1 Ω\" }\n";
    let files = InMemory::of(&[
        (
            "sub/a.toml",
            "include = [\"b.toml\", \"../bench.toml\"]\n[values]\nv = \"2 V\"\n[parts]\n",
        ),
        ("sub/b.toml", "include = \"a.toml\"\n"),
    ]);
    let reading = read("netlists/bench.toml", text, &files);
    let told = shown(&reading.diagnostics.sorted(), &reading.sources);
    assert_eq!(
        told,
        [
            "bench.toml:2:13 `../x.toml` leads out of this file's folder",
            "bench.toml:2:26 `/etc/x.toml` is not a path relative to this file, with `/` between folders",
            "bench.toml:2:55 `none.toml` cannot be read: there is no such file",
            "bench.toml:6:1 part `R1` has all its ends at one node",
            "a.toml:1:23 `../bench.toml` leads out of this file's folder",
            "a.toml:3:1 `v` is in `values` twice",
            "a.toml:4:2 an included file has no key `parts`",
            "b.toml:1:12 files include one another in a circle: `sub/a.toml` → `sub/b.toml` → `sub/a.toml`",
        ]
    );
}

#[test]
fn names_given_twice_do_not_hide_other_mistakes() {
    let text = bench(
        "▶R1 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"2 Ω\" }\nR2 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"▶2 V\" }",
    );
    expect(&text, &["`R1` is given twice", "`2 V` is a voltage, a resistance is wanted"]);
}

#[test]
fn changes_that_cannot_be_made_are_told_without_a_place() {
    let circuit = circuit(&bench(
        "[values]\nv_cell = \"1 V\"\n[models.m]\nkind = \"resistor\"\nresistance = \"1 Ω\"",
    ));
    let told = |path: &str, text: &str| {
        let mistakes = circuit.variant(&changes(&[(path, text)])).expect_err("a mistake");
        assert_eq!(mistakes.len(), 1, "{mistakes:?}");
        (
            mistakes[0].message.clone(),
            mistakes[0].hint.clone().unwrap_or_default(),
            mistakes[0].span,
        )
    };
    let (message, hint, span) = told("v_cel", "1 V");
    assert_eq!(message, "there is no value or part key `v_cel` to change");
    assert_eq!((hint.as_str(), span), ("write `v_cell`", None));
    let (message, _, span) = told("v_cell", "1 Ω");
    assert_eq!(message, "in `1 Ω`: `1 Ω` is a resistance, a voltage is wanted");
    assert_eq!(span, None);
    assert_eq!(told("R1.resistanse", "1 Ω").1, "write `resistance`");
    assert_eq!(told("models.n.resistance", "1 Ω").1, "write `models.m.resistance`");
    assert_eq!(
        told("R1.resistance", "-1 Ω").0,
        "`resistance` of part `R1` must be above zero, but is -1.00 Ω"
    );
    assert_eq!(
        told("v_cell", "v_cell + 1 V").0,
        "values go round in a circle: `v_cell` → `v_cell`"
    );
    assert!(told("rail.nominal", "1 V").0.starts_with("there is no value"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_text_makes_reading_panic(text in "\\PC{0,200}") {
        let _ = reading(&text);
    }

    /// A good file with pieces cut out, doubled or replaced.
    #[test]
    fn no_damage_to_a_good_file_makes_reading_panic(cuts in proptest::collection::vec((0.0..1.0, 0_usize..30, prop::sample::select(vec![
        "", "\"", "{", "}", "[", "]", "=", "gnd", "1 Ω", "block", "kind", "U1", "-", "1e999", "\n", "[blocks.x]\n", "µ", ".", "rail", "law",
    ])), 1..6)) {
        let mut text = super::good::BLOCK.to_owned();
        for (at, length, put) in cuts {
            let mut start = (at * text.len() as f64) as usize;
            while !text.is_char_boundary(start) {
                start -= 1;
            }
            let mut end = (start + length).min(text.len());
            while !text.is_char_boundary(end) {
                end -= 1;
            }
            text.replace_range(start..end.max(start), put);
        }
        let reading = reading(&text);
        if let Some(circuit) = reading.circuit {
            let variant = circuit.variant(&Changes::default());
            prop_assert!(variant.is_ok());
            let _ = circuit.check_topology(&variant.unwrap_or_default());
        } else {
            prop_assert!(reading.diagnostics.has_errors());
        }
        for mistake in reading.diagnostics.sorted() {
            if let Some(span) = mistake.span {
                let text = &reading.sources.files[span.file.0].text;
                prop_assert!(span.start <= span.end && span.end <= text.len(), "{mistake:?}");
                prop_assert!(text.is_char_boundary(span.start) && text.is_char_boundary(span.end), "{mistake:?}");
            }
        }
    }
}

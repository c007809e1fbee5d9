//! Every name has an entry, every entry fits, and every example reads.

#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

use super::commands::COMMANDS;
use super::concept::CONCEPTS;
use super::equation::{EQUATIONS, METHODS};
use super::section::SECTIONS;
use super::studies::STUDIES;
use super::topic::{CALCULATIONS, TOPICS};
use super::{WIDTH, contents, entry, example, index, measurement};
use crate::circuit::Changes;
use crate::device::kinds;
use crate::diagnostic::Severity;
use crate::document::NoFiles;
use crate::measure::{DEFINITIONS, TestKind};
use crate::plan;
use crate::trial::TEST_KINDS;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Messages and hints of what is wrong with a file.
fn mistakes(text: &str) -> Vec<String> {
    plan::read("example.toml", text, &NoFiles, &Changes::default())
        .diagnostics
        .into_iter()
        .filter(|d| d.severity == Severity::Error)
        .map(|d| format!("{} ({})", d.message, d.hint.unwrap_or_default()))
        .collect()
}

/// A rail that is only a source, a resistor and a load, to which tests are added.
const SMALL_RAIL: &str = r#"title = "small"
[rail]
input = "cell"
output = "vout"
nominal = "2.8 V"
source = "BT1"
load = "I_RADIO"
pass = "R1"
[parts]
BT1 = { kind = "voltage-source", plus = "cell", minus = "gnd", voltage = "3.7 V" }
R1 = { kind = "resistor", nodes = ["cell", "vout"], resistance = "1 Ω" }
H1 = { kind = "heat-path", part = "R1", foster = [["60 K/W", "30 s"]] }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "1 µF" }
I_RADIO = { kind = "load", nodes = ["vout", "gnd"], current = "2 mA" }
"#;

/// The lines below `example` as they are shown.
fn shown_example(name: &str) -> String {
    let text = entry(name).unwrap();
    let example = text.split_once("\nexample\n").unwrap().1;
    // A test and its measurement of one name stand below each other.
    example.split("\n\n").next().unwrap().to_owned()
}

#[test]
fn every_name_in_the_contents_has_an_entry_that_fits() {
    let contents = contents();
    for (heading, entries) in index() {
        assert!(contents.contains(heading) && !entries.is_empty());
        for (name, summary) in entries {
            assert!(contents.contains(&format!("\n  {name} ")), "{name}");
            assert!(!summary.is_empty(), "{name}");
            let text = entry(name).unwrap();
            assert!(text.starts_with(&format!("{name}: ")) && text.contains("\nexample\n"));
            for line in text.lines() {
                assert!(line.chars().count() <= WIDTH, "{name}: {line}");
                assert_eq!(line.trim_end(), line, "{name}");
            }
        }
    }
    for line in contents.lines() {
        assert!(line.chars().count() <= WIDTH, "{line}");
    }
}

#[test]
fn no_two_things_share_a_name() {
    let names: Vec<&str> =
        index().into_iter().flat_map(|(_, entries)| entries).map(|(name, _)| name).collect();
    let mut twice: Vec<&str> =
        names.iter().copied().filter(|n| names.iter().filter(|m| *m == n).count() > 1).collect();
    twice.dedup();
    // Tests and what they measure, both told under their name.
    assert_eq!(twice, ["dropout", "noise", "dropout", "noise"]);
    for name in ["dropout", "noise"] {
        let told = entry(name).unwrap();
        assert!(told.contains("a kind of test") && told.contains("a measurement"), "{told}");
    }
}

#[test]
fn an_unknown_name_leads_to_the_nearest() {
    assert!(entry("capasitor").unwrap_err().contains("`capacitor`"));
    assert!(entry("drop").unwrap_err().contains("`droop`"));
    assert!(entry("").unwrap_err().contains("`railstep explain`"));
    let several = entry("regulation").unwrap_err();
    for name in ["`load-regulation`", "`line-regulation`", "`load_regulation`"] {
        assert!(several.contains(name), "{several}");
    }
    assert!(entry("phase").unwrap_err().contains("`phase_margin`"));
}

#[test]
fn capitals_blanks_and_hyphens_do_not_matter() {
    for spelling in ["phase margin", "Phase-Margin", "phase_margin", " PHASE MARGIN "] {
        assert_eq!(entry(spelling).unwrap(), entry("phase_margin").unwrap());
    }
    // A test and its measurement that differ by the hyphen alone are both told.
    let both = entry("ripple rejection").unwrap();
    assert!(both.contains("a kind of test") && both.contains("a measurement"), "{both}");
    assert!(!entry("ripple_rejection").unwrap().contains("a kind of test"));
}

#[test]
fn every_measurement_and_every_test_has_an_equation_and_a_source() {
    let names: BTreeSet<&str> = DEFINITIONS.iter().map(|d| d.name).collect();
    let rows: BTreeSet<&str> = EQUATIONS.iter().map(|row| row.name).collect();
    let without: Vec<_> = names.symmetric_difference(&rows).collect();
    assert!(without.is_empty(), "in one of `DEFINITIONS` and `EQUATIONS` alone: {without:?}");
    assert_eq!(rows.len(), EQUATIONS.len(), "one stands twice");
    for row in EQUATIONS {
        let text = entry(row.name).unwrap();
        for heading in ["equation", "unit and values", "margin", "source", "example"] {
            assert!(text.contains(&format!("\n\n{heading}\n  ")), "{}: {heading}", row.name);
        }
    }
    let kinds: BTreeSet<&str> = TEST_KINDS.iter().map(|row| row.kind.word()).collect();
    let methods: BTreeSet<&str> = METHODS.iter().map(|method| method.kind).collect();
    assert_eq!((methods.len(), &methods), (METHODS.len(), &kinds));
    for kind in kinds {
        let text = entry(kind).unwrap();
        assert!(text.contains("\n\nequation\n  ") && text.contains("\n\nsource\n  "), "{kind}");
    }
}

/// A test to which a `require` is added.
const STEP: &str = "[[tests]]\nname = \"t\"\nkind = \"load-step\"\nfrom = \"2 mA\"\nto = \"9 mA\"\n\
                    edge = \"0\"\nhold = \"1 ms\"\n";

#[test]
fn every_word_is_told_whole_and_its_example_reads() {
    for concept in CONCEPTS {
        let text = entry(concept.name).unwrap();
        for heading in ["equation", "unit and values", "default", "source", "example"] {
            assert!(text.contains(&format!("\n\n{heading}\n  ")), "{}: {heading}", concept.name);
        }
        let example = shown_example(concept.name);
        // Commands are tried on the program itself, in `tests/cli/help.rs`.
        if example.trim_start().starts_with("railstep ") {
            continue;
        }
        let head = if example.trim_start().starts_with("require") { STEP } else { "" };
        let text = format!("{SMALL_RAIL}{head}{example}");
        assert_eq!(mistakes(&text), Vec::<String>::new(), "{}\n{text}", concept.name);
    }
}

#[test]
fn every_other_example_is_json_a_command_or_reads() {
    let topics = TOPICS.iter().chain(STUDIES).chain(&CALCULATIONS).chain(COMMANDS);
    for topic in topics {
        let example = topic.example;
        if example.starts_with("railstep ") {
            continue;
        }
        if example.starts_with('"') {
            let json = serde_json::from_str::<serde_json::Value>(&format!("{{{example}}}"));
            assert!(json.is_ok(), "{}: {json:?}", topic.name);
            continue;
        }
        let head = if example.starts_with('[') { "" } else { "[values]\n" };
        let values = "v_cell = \"3.7 V\"\n";
        let known = if example.contains("v_cell = [") {
            format!("[values]\n{values}")
        } else {
            String::new()
        };
        let text = format!("{SMALL_RAIL}{known}{head}{example}\n");
        assert_eq!(mistakes(&text), Vec::<String>::new(), "{}\n{text}", topic.name);
    }
}

#[test]
fn every_key_of_a_kind_is_told_with_its_text() {
    for kind in kinds() {
        let text = entry(kind.name).unwrap();
        for key in kind.keys {
            assert!(text.contains(&format!("\n  {}: ", key.name)), "{} {}", kind.name, key.name);
        }
    }
    for row in TEST_KINDS {
        let text = entry(row.kind.word()).unwrap();
        for key in row.keys.iter().chain(&crate::trial::COMMON_TEST_KEYS) {
            let told = text.contains(&format!("\n  {}: ", key.name));
            let refused = row.kind.is_steady() && crate::trial::IN_TIME_ONLY.contains(&key.name);
            assert_eq!(told, !refused, "{}", key.name);
        }
    }
}

#[test]
fn every_part_example_reads() {
    const NODES: [&str; 11] =
        ["a", "b", "x", "vin", "vout", "cell", "vcc", "bias", "out", "ref", "fb"];
    const BLOCK: &str = r#"
[blocks.cell]
ports = ["plus", "minus"]
parts = { R = { kind = "resistor", nodes = ["plus", "minus"], resistance = "1 Ω" } }
"#;
    for kind in kinds() {
        let example = shown_example(kind.name);
        let mut text = format!("title = \"one part\"\n[parts]\n{example}");
        let is_block = kind.name == "block";
        let nodes = if is_block { &["vin"][..] } else { &NODES[..] };
        for node in nodes.iter().chain(&["gate"]) {
            if example.contains(&format!("\"{node}\"")) {
                let _ = writeln!(
                    text,
                    "Z_{node} = {{ kind = \"resistor\", nodes = [\"{node}\", \"gnd\"], \
                     resistance = \"1 kΩ\" }}"
                );
            }
        }
        if is_block {
            text += BLOCK;
        }
        if kind.name == "heat-path" {
            text +=
                "Q1 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 Ω\" }\n";
            text +=
                "R2 = { kind = \"resistor\", nodes = [\"a\", \"gnd\"], resistance = \"1 Ω\" }\n";
        }
        assert_eq!(mistakes(&text), Vec::<String>::new(), "{}\n{text}", kind.name);
    }
}

#[test]
fn every_test_example_reads() {
    for row in TEST_KINDS {
        let example = shown_example(row.kind.word());
        let text = format!("{SMALL_RAIL}{example}");
        assert_eq!(mistakes(&text), Vec::<String>::new(), "{}", row.kind.word());
        let read = plan::read("x.toml", &text, &NoFiles, &Changes::default());
        assert_eq!(read.plan.unwrap().tests[0].kind, row.kind);
    }
}

#[test]
fn every_line_shape_is_told_with_where_its_figures_come_from_and_its_example_reads() {
    for shape in crate::trial::LINE_SHAPES {
        let text = format!("{SMALL_RAIL}{}", shown_example(shape.name));
        assert_eq!(mistakes(&text), Vec::<String>::new(), "{}", shape.name);
        let told = entry(shape.name).unwrap();
        assert!(told.contains("our own choice"), "{told}");
        assert_eq!(told.contains("an example: the relevant standard"), shape.automotive, "{told}");
    }
    let crank = entry("crank").unwrap();
    assert!(crank.contains("level = \"II\""), "{crank}");
    assert!(crank.contains("from memory, not checked"), "{crank}");
}

fn test_of(kind: TestKind) -> &'static str {
    match kind {
        TestKind::OperatingPoint => "kind = \"operating-point\"\n",
        TestKind::LoadStep => {
            "kind = \"load-step\"\nfrom = \"2 mA\"\nto = \"9 mA\"\nedge = \"0\"\nhold = \"1 ms\"\n"
        }
        TestKind::LineStep => {
            "kind = \"line-step\"\nfrom = \"3 V\"\nto = \"4 V\"\nedge = \"0\"\nhold = \"1 ms\"\n"
        }
        TestKind::Profile => "kind = \"profile\"\nduration = \"1 ms\"\n",
        TestKind::StartUp => "kind = \"start-up\"\nramp = \"1 ms\"\nhold = \"9 ms\"\n",
        TestKind::PowerDown => "kind = \"power-down\"\nramp = \"1 ms\"\nhold = \"9 ms\"\n",
        TestKind::LoadRegulation => "kind = \"load-regulation\"\nfrom = \"2 mA\"\nto = \"9 mA\"\n",
        TestKind::LineRegulation => "kind = \"line-regulation\"\nfrom = \"3 V\"\nto = \"4 V\"\n",
        TestKind::Dropout => "kind = \"dropout\"\n",
        TestKind::LoopGain => "kind = \"loop-gain\"\n",
        TestKind::OutputImpedance => "kind = \"output-impedance\"\n",
        TestKind::RippleRejection => "kind = \"ripple-rejection\"\n",
        TestKind::Noise => "kind = \"noise\"\n",
        TestKind::Overload => "kind = \"overload\"\n",
        TestKind::ShortCircuit => "kind = \"short-circuit\"\nshort = \"1 ms\"\n",
        TestKind::PulseTrain => {
            "kind = \"pulse-train\"\nfrom = \"2 mA\"\nto = \"9 mA\"\nedge = \"0\"\nperiod = \"1 ms\"\n"
        }
    }
}

#[test]
fn every_example_of_a_requirement_reads_in_every_test_that_reports_it() {
    for definition in DEFINITIONS {
        let example = measurement::example(definition);
        for kind in definition.kinds {
            let text =
                format!("{SMALL_RAIL}[[tests]]\nname = \"t\"\n{}{example}\n", test_of(*kind));
            assert_eq!(mistakes(&text), Vec::<String>::new(), "{}\n{text}", definition.name);
        }
    }
}

#[test]
fn broken_examples_still_read_as_the_same() {
    let line = kinds().iter().map(|k| k.example).max_by_key(|e| e.len()).unwrap();
    let broken = example::broken(line, WIDTH - 2);
    assert!(broken.len() > 1);
    let joined: Vec<&str> = broken.iter().map(|l| l.trim_start()).collect();
    assert_eq!(joined.join(" "), line);
}

/// The keys that reading knows, from the hint at a key it does not know.
fn known_keys(text: &str) -> BTreeSet<String> {
    let told = mistakes(text);
    let hint = told.iter().find_map(|m| m.split_once("known keys: ")).unwrap().1;
    hint.trim_end_matches(')').split(", ").map(|k| k.trim_matches('`').to_owned()).collect()
}

fn told_keys(section: &str) -> BTreeSet<String> {
    let section = SECTIONS.iter().find(|s| s.name == section).unwrap();
    section.keys.iter().map(|k| k.name.to_owned()).collect()
}

#[test]
fn the_keys_told_of_file_tables_are_those_that_reading_knows() {
    let rail = SMALL_RAIL.replace("[rail]", "[rail]\nxyzzy_xyzzy = 1");
    assert_eq!(known_keys(&rail), told_keys("rail"));
    let values = format!("{SMALL_RAIL}[values]\na_1 = {{ value = 1, xyzzy_xyzzy = 1 }}\n");
    assert_eq!(known_keys(&values), told_keys("values"));
    let mut varies = BTreeSet::new();
    for shape in [
        "shape = \"sine\", amplitude = \"1 V\", frequency = \"1 Hz\"",
        "shape = \"pulse\", change = \"1 V\", edge = \"0\", width = \"1 s\"",
        "shape = \"ramp\", change = \"1 V\", edge = \"0\"",
        "shape = \"points\", points = [[\"0\", \"0\"]]",
        "shape = \"file\", file = \"x\", time = \"t [s]\", value = \"v [V]\"",
    ] {
        let part = format!("voltage = \"3.7 V\", varies = {{ {shape}, xyzzy_xyzzy = 1 }}");
        varies.extend(known_keys(&SMALL_RAIL.replace("voltage = \"3.7 V\"", &part)));
    }
    assert_eq!(varies, told_keys("varies"));
    assert_eq!(known_keys(&format!("xyzzy_xyzzy = 1\n{SMALL_RAIL}")), told_keys("file"));
    let require = format!("{SMALL_RAIL}{STEP}require = {{ droop = {{ xyzzy_xyzzy = 1 }} }}\n");
    assert_eq!(known_keys(&require), told_keys("require"));
    let block = "[blocks.b]\nports = [\"a\"]\nxyzzy_xyzzy = 1\n[blocks.b.parts]\n";
    assert_eq!(known_keys(&format!("{SMALL_RAIL}{block}")), told_keys("blocks"));
}

#[test]
fn examples_of_file_tables_read() {
    let rail = entry("rail").unwrap();
    let example = rail.split_once("\nexample\n").unwrap().1;
    let parts = SMALL_RAIL.split_once("[parts]").unwrap().1;
    let text = format!("title = \"t\"\n{example}[parts]{parts}").replace("R1", "Q1");
    assert_eq!(mistakes(&text.replace("cell", "vin")), Vec::<String>::new());
    let values = format!("title = \"t\"\n{}[parts]{parts}", shown_example("values"));
    assert_eq!(mistakes(&values), Vec::<String>::new());
    let resistor = "R1 = { kind = \"resistor\", nodes = [\"vin\", \"gnd\"], resistance = \"1 Ω\" }";
    let varies = format!("title = \"t\"\n{}{resistor}\n", shown_example("varies"));
    assert_eq!(mistakes(&varies), Vec::<String>::new());
    assert_eq!(mistakes(&shown_example("file")), Vec::<String>::new());
    let require = format!("{SMALL_RAIL}{STEP}{}", shown_example("require"));
    assert_eq!(mistakes(&require), Vec::<String>::new());
    let block = format!("{SMALL_RAIL}{}", shown_example("blocks"));
    assert_eq!(mistakes(&block), Vec::<String>::new());
}

//! The table itself.

use super::*;
use crate::quantity::Dimension;

#[test]
fn every_definition_is_complete_and_named_once() {
    for (k, definition) in DEFINITIONS.iter().enumerate() {
        let name = definition.name;
        assert!(!DEFINITIONS[..k].iter().any(|d| d.name == name), "`{name}` stands twice");
        assert!(name.chars().all(|c| matches!(c, 'a'..='z' | '0'..='9' | '_')), "`{name}`");
        assert!(!definition.kinds.is_empty(), "`{name}` belongs to no test");
        assert!(definition.text.len() > 15 && !definition.text.ends_with('.'), "`{name}`");
        let symbol = definition.dimension.symbol();
        let unit = match definition.unit {
            "1" | "count" => "",
            unit => unit.trim_end_matches(" above ambient"),
        };
        assert_eq!(symbol, unit, "`{name}`");
        if definition.scale == Scale::FromNominal {
            assert_eq!(definition.dimension, Dimension::VOLT, "`{name}`");
        }
        if definition.scale == Scale::FromAmbient {
            assert_eq!(definition.dimension, Dimension::KELVIN, "`{name}`");
        }
        assert!(super::super::definition(name).is_some());
    }
}

#[test]
fn every_kind_of_test_reports_its_rows_in_table_order() {
    let waveform = Waveform::default();
    for kind in [
        TestKind::OperatingPoint,
        TestKind::LoadStep,
        TestKind::LineStep,
        TestKind::Profile,
        TestKind::StartUp,
        TestKind::PowerDown,
        TestKind::ShortCircuit,
        TestKind::PulseTrain,
    ] {
        let mut scene = steps(&waveform, kind, &[], 0.0);
        scene.dwells.clear();
        scene.rail.has_heat = true;
        let rows = measure(&scene, &[]);
        // The waveform has no states.
        let told = |d: &&Definition| d.belongs_to(kind) && d.appears != Appears::WithStates;
        let wanted: Vec<&str> = DEFINITIONS.iter().filter(told).map(|d| d.name).collect();
        let found: Vec<&str> = rows.iter().map(|m| m.name.as_str()).collect();
        assert!(found == wanted && !found.is_empty(), "{}: {found:?} {wanted:?}", kind.word());
        // Nothing was solved: no row has a value, each says why, and none counts.
        for row in rows {
            assert_eq!((row.value, row.verdict), (None, Verdict::NotEvaluated), "{}", row.name);
            assert!(row.advisory && row.reason.is_some(), "{}", row.name);
        }
    }
}

#[test]
fn without_a_heat_path_heat_is_told_only_where_it_is_asked_for() {
    let waveform = Waveform::default();
    let mut scene = steps(&waveform, TestKind::LoadStep, &[], 0.0);
    let told = |scene: &Scene, asked: &[Requirement]| {
        let rows = measure(scene, asked);
        rows.iter().filter(|m| m.name.starts_with("junction_")).count()
    };
    let asked = [Requirement::new("junction_rise", Limit::AtMost(60.0))];
    assert_eq!((told(&scene, &[]), told(&scene, &asked)), (0, 1));
    scene.rail.has_heat = true;
    assert_eq!((told(&scene, &[]), told(&scene, &asked)), (2, 2));
}

/// The margin of a temperature is over the distance of its limit from ambient: 85 °C against
/// 110 °C with 60 °C around it is half of 50 K.
#[test]
fn exact_margin_of_a_temperature_counts_from_ambient() {
    let junction = Signal::straight("junction.H1", "K", vec![358.15, 340.0]);
    let waveform = Waveform { time_s: vec![0.0, 1.0], signals: vec![junction] };
    let mut scene = steps(&waveform, TestKind::Profile, &[], 1.0);
    (scene.rail.ambient_k, scene.rail.has_heat) = (Some(333.15), true);
    let asked = [Requirement::new("junction_temperature", Limit::AtMost(383.15))];
    let rows = measure(&scene, &asked);
    let row = rows.iter().find(|m| m.name == "junction_temperature").unwrap();
    assert!((row.margin.unwrap() - 0.5).abs() < 1e-12, "{row:?}");
    assert_eq!(row.verdict, Verdict::Pass);
}

#[test]
fn options_are_told_by_their_keys() {
    let keys = |name: &str| -> Vec<&str> {
        super::super::definition(name).unwrap().options.iter().map(|o| o.key()).collect()
    };
    assert_eq!(keys("recovery"), ["band", "about"]);
    assert_eq!(keys("overshoot"), ["about"]);
    assert_eq!(keys("longest_below"), ["level"]);
    assert_eq!(keys("capacitor_stress"), ["of"]);
    assert!(keys("droop").is_empty());
    for about in [About::Before, About::Settled, About::Nominal] {
        assert_eq!(About::from_word(about.word()), Some(about));
    }
}

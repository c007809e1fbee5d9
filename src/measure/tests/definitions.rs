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
        let unit = if matches!(definition.unit, "1" | "count") { "" } else { definition.unit };
        assert_eq!(symbol, unit, "`{name}`");
        if definition.scale == Scale::FromNominal {
            assert_eq!(definition.dimension, Dimension::VOLT, "`{name}`");
        }
        assert!(super::super::definition(name).is_some());
    }
}

#[test]
fn every_kind_of_test_reports_its_rows_in_table_order() {
    let waveform = Waveform::default();
    for (kind, count) in [
        (TestKind::OperatingPoint, 11),
        (TestKind::LoadStep, 26),
        (TestKind::LineStep, 24),
        (TestKind::Profile, 17),
        (TestKind::StartUp, 20),
        (TestKind::PowerDown, 14),
        (TestKind::ShortCircuit, 17),
        (TestKind::PulseTrain, 22),
    ] {
        let mut scene = steps(&waveform, kind, &[], 0.0);
        scene.dwells.clear();
        let rows = measure(&scene, &[]);
        // The waveform has no states.
        let told = |d: &&Definition| d.belongs_to(kind) && d.appears == Appears::Always;
        let wanted: Vec<&str> = DEFINITIONS.iter().filter(told).map(|d| d.name).collect();
        let found: Vec<&str> = rows.iter().map(|m| m.name.as_str()).collect();
        assert_eq!(found, wanted);
        assert_eq!(found.len(), count, "{}", kind.word());
        // Nothing was solved: no row has a value, each says why, and none counts.
        for row in rows {
            assert_eq!((row.value, row.verdict), (None, Verdict::NotEvaluated), "{}", row.name);
            assert!(row.advisory && row.reason.is_some(), "{}", row.name);
        }
    }
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

//! What parts with states did.

use super::*;
use crate::measure::scene::signal;

/// A contact that closes at 1 s over 0.1 s, turns back half-way into opening at 3 s, opens at 5 s.
fn contact(resets: bool) -> Waveform {
    let time_s = vec![0.0, 1.0, 1.05, 1.1, 3.0, 3.05, 3.1, 5.0, 5.1, 7.0];
    let values = vec![0.0, 0.0, 0.5, 1.0, 1.0, 0.5, 1.0, 1.0, 0.0, 1e-17];
    let name = signal::state("U1", resets);
    let bends = vec![[0.0; 2]; time_s.len() - 1];
    Waveform { time_s, signals: vec![Signal { name, unit: "1", values, bends }] }
}

fn value(waveform: &Waveform, name: &str) -> Option<f64> {
    let scene = steps(waveform, TestKind::Profile, &[], 0.0);
    measure(&scene, &[]).into_iter().find(|m| m.name == name).and_then(|m| m.value)
}

#[test]
fn exact_flips_are_counted_where_a_contact_begins_to_move() {
    assert_eq!(value(&contact(false), "trips"), Some(4.0));
    assert_eq!(value(&contact(false), "reset_time"), None);
}

#[test]
fn exact_a_reset_lasts_from_closing_to_opening() {
    // From 1 s to 3 s, from 3.05 s to 5 s.
    let given = value(&contact(true), "reset_time").unwrap();
    assert!((given - 3.95).abs() < 1e-12, "{given}");
}

//! The capacitors of a test: what is left of each at its rest, and what it bears.

use super::observe::Watched;
use super::run::{Outcome, Prepared};
use crate::circuit::VariantPart;
use crate::curve::{Cell, Listing};
use crate::device::{allowed_voltage, effective, outside_temperature};
use crate::measure::scene::signal;
use crate::system::System;
use crate::waveform::{Extreme, Signal, Waveform};

/// Nodes and weights of Gauss's four-point rule on (0, 1): exact for the square of a cubic.
const GAUSS: [(f64, f64); 4] = [
    (0.069_431_844_202_973_71, 0.173_927_422_568_726_93),
    (0.330_009_478_207_571_87, 0.326_072_577_431_273_07),
    (0.669_990_521_792_428_1, 0.326_072_577_431_273_07),
    (0.930_568_155_797_026_3, 0.173_927_422_568_726_93),
];

const COLUMNS: &[(&str, &str)] = &[
    ("part", ""),
    ("label", "F"),
    ("effective", "F"),
    ("why", ""),
    ("esr", "Ω"),
    ("peak", "V"),
    ("of_rating", "%"),
    ("ripple", "A"),
    ("of_rated_ripple", "%"),
];

/// Capacitors that are looked at: those at output and input, those that a requirement names, and
/// all of which more is known than a capacitance.
pub(super) fn watched(prepared: &Prepared, system: &System) -> Vec<Watched> {
    let banks = prepared.figures().map(|r| [&r.output_capacitors, &r.input_capacitors]);
    let in_bank = |name: &String| banks.iter().flatten().any(|bank| bank.contains(name));
    let asked = |name: &String| prepared.requirements.iter().any(|r| r.of.as_ref() == Some(name));
    let known = |part: &VariantPart| {
        let p = &part.parameters;
        let rated = ["rated_voltage", "rated_ripple"].iter().any(|k| p.optional(k).is_some());
        rated || p.words.contains_key("dielectric")
    };
    let capacitors = prepared.variant.parts.iter().filter(|p| p.kind.name == "capacitor");
    let watched = capacitors.filter_map(|part| {
        let (in_bank, asked) = (in_bank(&part.name), asked(&part.name));
        if !(in_bank || asked || known(part)) {
            return None;
        }
        let index = system.parts.iter().position(|p| p.name == part.name)?;
        let &[plus, minus] = system.parts[index].pins.as_slice() else { return None };
        let judged = in_bank || asked;
        let allowed_v = allowed_voltage(&part.parameters).filter(|_| judged);
        Some(Watched { name: part.name.clone(), part: index, ends: [plus, minus], allowed_v })
    });
    watched.collect()
}

/// Adds the listing `capacitors` from the rail's signals; `rest` is where the test starts.
pub(super) fn tell(prepared: &Prepared, system: &System, rest: &[f64], outcome: &mut Outcome) {
    let title = "capacitors: effective at rest before anything moves, and what they bear";
    let mut listing = Listing::new("capacitors", title, COLUMNS);
    let mut notes = Vec::new();
    for watched in self::watched(prepared, system) {
        let Some(part) = prepared.variant.part(&watched.name) else { continue };
        let p = &part.parameters;
        let [plus, minus] = watched.ends;
        let found = effective(p, rest[plus] - rest[minus]);
        let peak_v = peak(&outcome.waveform, &signal::capacitor_voltage(&part.name));
        let ripple_a = ripple(&outcome.waveform, &signal::capacitor_current(&part.name));
        let percent = |value: Option<f64>, of: Option<f64>| Some(100.0 * value? / of?);
        listing.push([
            Cell::from(part.name.clone()),
            Cell::from(found.label_f),
            Cell::from(found.farad),
            Cell::from(found.why()),
            Cell::from(found.esr_ohm),
            Cell::from(peak_v),
            Cell::from(percent(peak_v, allowed_voltage(p))),
            Cell::from(ripple_a),
            Cell::from(percent(ripple_a, p.optional("rated_ripple"))),
        ]);
        notes.extend(outside_temperature(p).map(|why| format!("`{}`: {why}", part.name)));
    }
    if !listing.rows.is_empty() {
        outcome.listings.push(listing);
    }
    outcome.notes.extend(notes);
}

/// Largest size of a signal over the record.
fn peak(waveform: &Waveform, name: &str) -> Option<f64> {
    let (signal, record) = (waveform.signal(name)?, waveform.record()?);
    let extreme = |which| waveform.extreme(signal, record, which).map(|found| found.value.abs());
    Some(extreme(Extreme::Highest)?.max(extreme(Extreme::Lowest)?))
}

/// Root of the mean square about the mean, over the record; `None` of a single point. Taken from the
/// cubics that the integrator's own curve is read off as, so it is as good as they are.
fn ripple(waveform: &Waveform, name: &str) -> Option<f64> {
    let signal = waveform.signal(name)?;
    let times = &waveform.time_s;
    let whole_s = times.last()? - times.first()?;
    if !(whole_s > 0.0) {
        return None;
    }
    let moment = |f: &dyn Fn(f64) -> f64| -> f64 {
        let stretches = times.windows(2).enumerate();
        stretches.map(|(k, pair)| (pair[1] - pair[0]) * mean_of(signal, k, f)).sum::<f64>()
    };
    let mean = moment(&|a| a) / whole_s;
    let square = moment(&|a| (a - mean) * (a - mean)) / whole_s;
    Some(square.sqrt()).filter(|a| a.is_finite())
}

/// Mean of `f` of a signal over the stretch after sample `k`.
fn mean_of(signal: &Signal, k: usize, f: &dyn Fn(f64) -> f64) -> f64 {
    let value = |k: usize| signal.values.get(k).copied().unwrap_or(f64::NAN);
    let (from, to) = (value(k), value(k + 1));
    let [b0, b1] = signal.bends.get(k).copied().unwrap_or_default();
    let at = |theta: f64| (1.0 - theta) * from + theta * (to + (1.0 - theta) * (b0 + theta * b1));
    GAUSS.iter().map(|(theta, weight)| weight * f(at(*theta))).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 1 A for a quarter of the time, else none: mean 0.25 A, rms about it √(0.25·0.75) A.
    #[test]
    fn exact_ripple_of_a_pulse_is_taken_about_its_mean() {
        let waveform = Waveform {
            time_s: vec![0.0, 1.0, 1.0, 4.0],
            signals: vec![Signal::straight("i", "A", vec![1.0, 1.0, 0.0, 0.0])],
        };
        let found = ripple(&waveform, "i").unwrap_or(f64::NAN);
        assert!((found - (0.25_f64 * 0.75).sqrt()).abs() < 1e-14, "{found}");
        assert_eq!(ripple(&waveform, "u"), None);
        let still = Waveform { time_s: vec![0.0], ..waveform };
        assert_eq!(ripple(&still, "i"), None);
    }

    /// i = t² from 0 to 1: ∫(t² - 1/3)² = 4/45. Bends of a parabola: b0 = -1, b1 = 0.
    #[test]
    fn exact_ripple_of_a_parabola() {
        let mut signal = Signal::straight("i", "A", vec![0.0, 1.0]);
        signal.bends = vec![[-1.0, 0.0]];
        let waveform = Waveform { time_s: vec![0.0, 1.0], signals: vec![signal] };
        let found = ripple(&waveform, "i").unwrap_or(f64::NAN);
        assert!((found - (4.0_f64 / 45.0).sqrt()).abs() < 1e-14, "{found}");
    }
}

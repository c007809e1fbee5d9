//! Values over the whole range of each key: as many decades as anybody has built, cut only where physics
//! leaves no rest.

use super::is_beside_the_rest;
use crate::networks::Random;
use railstep::device::{Form, Key, Kind, Need, Range, Rule};
use railstep::quantity::Dimension;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// Share of keys with a default, or that may be left out, that are stated.
const STATED_SHARE: f64 = 0.35;

/// What a part says already, before its values are drawn.
pub(crate) struct Stated<'a> {
    pub(crate) chosen: &'a [&'a str],
    /// Whether there is anything before it that it could follow.
    pub(crate) follows: bool,
}

/// Drawn values of a part.
pub(crate) struct Values {
    numbers: BTreeMap<&'static str, f64>,
    pub(crate) text: String,
}

/// Whether a kind has a key for what lies in series with all of its junctions.
pub(crate) fn can_have_resistance(kind: &Kind) -> bool {
    !series_keys(kind.name).is_empty()
}

fn series_keys(kind: &str) -> &'static [&'static str] {
    match kind {
        "voltage-source" | "reference" => &["resistance"],
        "inductor" | "diode" | "mosfet" => &["series_resistance"],
        "coupled-inductors" => &["first_resistance", "second_resistance"],
        // What flows through the other junctions has one of these two in its way.
        "bipolar" => &["base_resistance", "emitter_resistance", "collector_resistance"],
        _ => &[],
    }
}

impl Values {
    pub(crate) fn draw(kind: &'static Kind, random: &mut Random, most_a: f64, stiff: bool) -> Self {
        Self::draw_with(kind, random, most_a, stiff, &Stated { chosen: &[], follows: false })
    }

    pub(crate) fn draw_with(
        kind: &'static Kind,
        random: &mut Random,
        most_a: f64,
        needs_resistance: bool,
        stated: &Stated<'_>,
    ) -> Self {
        let keys = chosen_keys(kind, random, needs_resistance, stated);
        let mut drawn = Self { numbers: BTreeMap::new(), text: String::new() };
        for key in kind.keys.iter().filter(|k| keys.contains(k.name)) {
            match &key.form {
                Form::Quantity(unit, range) => {
                    let value = number(kind, key, (*unit, *range), random, most_a);
                    drawn.numbers.insert(key.name, value);
                }
                Form::Word(words) => {
                    let word = words[random.below(words.len())];
                    let _ = write!(drawn.text, ", {} = \"{word}\"", key.name);
                }
                Form::KeysOf(inner) => {
                    let inside = Self::draw(inner, random, most_a, needs_resistance);
                    let keys = inside.text.trim_start_matches(", ");
                    let _ = write!(drawn.text, ", {} = {{ {keys} }}", key.name);
                }
                _ => {}
            }
        }
        // Chains of two rules settle in three rounds.
        (0..3).for_each(|_| drawn.put_in_order(kind));
        for (name, value) in &drawn.numbers {
            let Some(Form::Quantity(unit, _)) = kind.key(name).map(|k| &k.form) else { continue };
            let unit = if *unit == Dimension::KELVIN && is_reading(name) {
                "°C".to_owned()
            } else {
                unit.symbol()
            };
            let _ = match unit.as_str() {
                "" => write!(drawn.text, ", {name} = \"{value:e}\""),
                unit => write!(drawn.text, ", {name} = \"{value:e} {unit}\""),
            };
        }
        drawn
    }

    /// Ω in series, as far as it is stated.
    pub(crate) fn series_ohm(&self, kind: &str) -> f64 {
        let keys = if kind == "resistor" { &["resistance"] } else { series_keys(kind) };
        keys.iter().filter_map(|key| self.numbers.get(key)).sum()
    }

    /// What the rules of a kind demand of two values.
    fn put_in_order(&mut self, kind: &Kind) {
        for rule in kind.rules {
            let (low, high) = match rule {
                Rule::Below(low, high) | Rule::NotAbove(low, high) => (*low, *high),
                Rule::WithinPeriod(duration, rate) => {
                    if let (Some(s), Some(hz)) =
                        (self.numbers.get(duration), self.numbers.get(rate))
                    {
                        let fits = s.min(0.5 / hz);
                        self.numbers.insert(duration, fits);
                    }
                    continue;
                }
                _ => continue,
            };
            let default = |key: &str| match kind.key(key).map(|k| k.need) {
                Some(Need::Default(number)) => Some(number),
                _ => None,
            };
            let of = |name: &str| self.numbers.get(name).copied().or_else(|| default(name));
            let (Some(a), Some(b)) = (of(low), of(high)) else { continue };
            if a >= b {
                // Apart by a tenth at least: a band of no width is a comparator without hysteresis.
                let (a, b) = (a.min(b), a.max(b));
                self.numbers.insert(low, a - 0.05 * a.abs());
                self.numbers.insert(high, if b == 0.0 { 1e-6 } else { b + 0.05 * b.abs() });
            }
        }
    }
}

fn chosen_keys(
    kind: &'static Kind,
    random: &mut Random,
    needs_resistance: bool,
    stated: &Stated<'_>,
) -> BTreeSet<&'static str> {
    let mut keys = BTreeSet::new();
    for key in kind.keys {
        let needed = key.need == Need::Required
            || (needs_resistance && series_keys(kind.name).contains(&key.name));
        let drawable = matches!(key.form, Form::Quantity(..) | Form::Word(_) | Form::KeysOf(_))
            && !is_beside_the_rest(key);
        if needed || (drawable && random.unit() < STATED_SHARE) {
            keys.insert(key.name);
        }
    }
    // A dielectric brings curves that a rest does not know, and limits of its own.
    if kind.name == "capacitor" {
        keys.retain(|k| {
            !["dielectric", "ageing", "age", "esr_corner", "temperature_drift"].contains(k)
        });
    }
    // Decibels are another way of writing a gain.
    keys.remove("gain_decibels");
    let chosen = |name: &str| stated.chosen.contains(&name);
    if chosen("input") || chosen("sensed") {
        keys.retain(|k| !["gain", "transresistance", "transconductance", "closed"].contains(k));
    }
    if kind.name == "reference" && !stated.follows {
        keys.retain(|k| !["starts_at", "stops_at"].contains(k));
    }
    for rule in kind.rules {
        settle(rule, kind, &mut keys, stated, random);
    }
    keys
}

fn settle(
    rule: &'static Rule,
    kind: &Kind,
    keys: &mut BTreeSet<&'static str>,
    stated: &Stated<'_>,
    random: &mut Random,
) {
    let drawable = |name: &str| {
        kind.key(name).is_some_and(|k| matches!(k.form, Form::Quantity(..)))
            && name != "gain_decibels"
    };
    match rule {
        Rule::ExactlyOne(all) if !all.iter().any(|k| stated.chosen.contains(k)) => {
            let those: Vec<&'static str> = all.iter().copied().filter(|k| drawable(k)).collect();
            keys.retain(|k| !all.contains(k));
            if !those.is_empty() {
                keys.insert(those[random.below(those.len())]);
            }
        }
        Rule::AtMostOne(all) => {
            let has = all.iter().copied().filter(|k| keys.contains(k)).collect::<Vec<_>>();
            for extra in has.iter().skip(1) {
                keys.remove(extra);
            }
        }
        Rule::Together(all) => {
            let said = all.iter().any(|k| stated.chosen.contains(k));
            let needs_more = all.iter().any(|k| !drawable(k));
            if said || (!needs_more && all.iter().any(|k| keys.contains(k)) && !needs(rule, stated))
            {
                keys.extend(all.iter().copied().filter(|k| drawable(k)));
            } else {
                keys.retain(|k| !all.contains(k));
            }
        }
        Rule::Needs(_, _, needed) => keys.extend(needed.iter().copied()),
        _ => {}
    }
}

fn needs(rule: &Rule, stated: &Stated<'_>) -> bool {
    matches!(rule, Rule::Together(all) if all.contains(&"starts_at")) && !stated.follows
}

/// Temperatures that are read on a thermometer.
fn is_reading(name: &str) -> bool {
    ["characterised_at", "trips_at", "releases_at"].contains(&name)
}

fn number(
    kind: &Kind,
    key: &Key,
    (unit, range): (Dimension, Range),
    random: &mut Random,
    most_a: f64,
) -> f64 {
    let mut log = |low: f64, high: f64| low * (high / low).powf(random.unit());
    let of_name = match key.name {
        // Silicon power diode at one end, a leakage of a large old rectifier at the other.
        "saturation_current" => Some(log(1e-18, 1e-6)),
        // Test and knee currents only state where a curve is known.
        "test_current" => Some(log(1e-5, 1.0)),
        "knee_current" | "reverse_knee_current" => Some(log(1e-6, 10.0)),
        "ideality" | "forward_ideality" | "reverse_ideality" => Some(log(1.0, 2.0)),
        "base_leakage_ideality" => Some(log(1.2, 4.0)),
        "forward_gain" | "reverse_gain" => Some(log(0.1, 2e3)),
        // kT/q from −180 °C to 420 °C.
        "thermal_voltage" => Some(log(8e-3, 60e-3)),
        "bandgap" => Some(log(0.6, 3.4)),
        // Below this the sum of both junctions, at kiloamperes 6 V, reaches it: the law is over there.
        "early_voltage" | "reverse_early_voltage" => Some(log(10.0, 1e3)),
        "base_leakage_current" => Some(log(1e-18, 1e-8)),
        "slope_factor" => Some(log(1.0, 3.0)),
        "breakdown_voltage" => Some(log(1.0, 500.0)),
        "steepness" => Some(log(1e-2, 1e3)),
        "coupling" => Some(1.0 - log(1e-4, 1.0)),
        "bandwidth" | "first_pole" | "second_pole" => Some(log(1.0, 1e9)),
        "slew_rate" => Some(log(1e3, 1e10)),
        "saturation_voltage" => Some(log(0.05, 10.0)),
        "output_slope" => Some(log(1e-4, 1.0)),
        _ => None,
    };
    if let Some(value) = of_name {
        return value;
    }
    let sign = if range == Range::Any && random.unit() < 0.5 { -1.0 } else { 1.0 };
    let mut log = |low: f64, high: f64| low * (high / low).powf(random.unit());
    // A relative change over 200 K leaves something of the value.
    let per_kelvin = 4e-3;
    let value = match unit {
        Dimension::OHM if key.name == "transresistance" => log(1e-6, 1e-1),
        Dimension::OHM => log(1e-3, 1e8),
        Dimension::SIEMENS if kind.name.starts_with("controlled") => {
            log(1e-9, 10.0).min(1e-3 * most_a)
        }
        Dimension::SIEMENS => log(1e-9, 100.0),
        Dimension::FARAD => log(1e-14, 1.0),
        Dimension::HENRY => log(1e-10, 100.0),
        Dimension::SECOND => log(1e-12, 1e2),
        Dimension::HERTZ => log(1e-1, 1e9),
        Dimension::AMPERE => log(1e-12, 1e2).min(most_a),
        Dimension::VOLT => log(1e-3, 100.0),
        Dimension::COULOMB => log(1e-13, 1e-3),
        Dimension::WATT => log(1e-6, 100.0).min(most_a),
        Dimension::PER_KELVIN => log(1e-7, per_kelvin),
        Dimension::VOLT_PER_KELVIN => log(1e-6, 5e-3),
        Dimension::KELVIN => 60.0 * random.unit(),
        Dimension::AMPERE_PER_VOLT_SQUARED => log(1e-6, 100.0),
        Dimension::NONE => match range {
            Range::Count => 1.0 + random.below(20) as f64,
            Range::Fraction | Range::FractionBelowOne => random.unit(),
            Range::PositiveFraction => 0.01 + 0.99 * random.unit(),
            // No source is followed to more than ten times the kilovolt that it may have.
            Range::Any if kind.name == "controlled-voltage-source" => log(1e-6, 10.0),
            Range::Any if kind.name == "controlled-current-source" => log(1e-6, 1e-3 * most_a),
            Range::Any => log(0.1, 5.0),
            _ => log(1e-3, 1e6),
        },
        _ => log(1e-3, 1e3),
    };
    sign * value
}

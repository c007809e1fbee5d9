//! Ticks of the axes of a chart: decades, parts of a turn, levels by twenties.

use super::ruler::Ruler;
use super::{Axis, Scale};
use crate::output::number::{prefix_of, unit_suffix};
use crate::output::plot::canvas::letters_width;
use crate::output::plot::panel::TICK_SIZE;
use crate::output::plot::ticks::{label, readable};

/// A place on an axis.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::output::plot) struct Tick {
    /// In the unit of the axis.
    pub(in crate::output::plot) at: f64,
    /// `None`: a faint line of the grid only.
    pub(in crate::output::plot) text: Option<String>,
}

/// With fewer an axis cannot be read.
const LEAST: usize = 3;
/// From so many decades on only powers of ten have a text.
const DECADES_ALONE: f64 = 2.0;

/// Ticks of an axis between two values, about `wanted` of them with a text.
///
/// A logarithmic axis has fewer where not every decade finds room; only where it does are there
/// finer lines between them.
pub(in crate::output::plot) fn ticks(axis: &Axis, range: (f64, f64), wanted: usize) -> Vec<Tick> {
    let wanted = wanted.max(LEAST);
    let told = match axis.scale {
        Scale::Logarithmic => return logarithmic(range, wanted, axis.unit),
        Scale::Linear => match axis.unit {
            "deg" => {
                multiples(&[15.0, 30.0, 45.0, 90.0, 180.0, 360.0, 720.0], range, wanted, "deg")
            }
            "dB" => multiples(&[10.0, 20.0, 40.0, 80.0, 160.0], range, wanted, "dB"),
            _ => None,
        },
    };
    with_texts(told.unwrap_or_else(|| readable(range, wanted, axis.unit)), axis.unit)
}

/// The most ticks that leave their texts apart on an axis so long, px.
pub(in crate::output::plot) fn ticks_apart(
    axis: &Axis,
    range: (f64, f64),
    length: f64,
    wanted: usize,
) -> Vec<Tick> {
    let ruler = Ruler::new(axis.scale, range, (0.0, length));
    let apart = |ticks: &[Tick]| {
        let mut free_from = f64::NEG_INFINITY;
        ticks.iter().filter_map(|tick| ruler.at(tick.at).zip(tick.text.as_ref())).all(
            |(at, text)| {
                let half = letters_width(text, TICK_SIZE) / 2.0 + 4.0;
                let free = at - half >= free_from;
                free_from = at + half;
                free
            },
        )
    };
    let mut found = ticks(axis, range, wanted);
    for fewer in (LEAST..wanted).rev() {
        if apart(&found) {
            break;
        }
        found = ticks(axis, range, fewer);
    }
    found
}

fn with_texts(told: Vec<(f64, String)>, unit: &str) -> Vec<Tick> {
    /// Beyond it a number cannot be read any more.
    const LONGEST: usize = 18;
    let text = |(at, text): (f64, String)| {
        let readable = text.chars().count() <= LONGEST;
        Tick { at, text: Some(if readable { text } else { power_text(at, unit) }) }
    };
    told.into_iter().map(text).collect()
}

/// `1.000e21 GV`: for values beyond all prefixes.
fn power_text(value: f64, unit: &str) -> String {
    let (factor, prefix) = prefix_of(value.abs(), unit);
    format!("{:.3e}{}", value / factor, unit_suffix(prefix, unit)).replace('-', "−")
}

/// Multiples of the first of the steps that leaves room, as it is usual for angles and levels;
/// `None` where finer or coarser steps are wanted.
fn multiples(
    steps: &[f64],
    (low, high): (f64, f64),
    wanted: usize,
    unit: &str,
) -> Option<Vec<(f64, String)>> {
    let step = steps.iter().find(|step| (high - low) / **step <= wanted as f64)?;
    let (first, last) = ((low / step - 1e-9).ceil() as i64, (high / step + 1e-9).floor() as i64);
    let found: Vec<_> =
        (first..=last).map(|n| n as f64 * step).map(|at| (at, label(at, 0, "", unit))).collect();
    (found.len() >= LEAST).then_some(found)
}

fn logarithmic((low, high): (f64, f64), wanted: usize, unit: &str) -> Vec<Tick> {
    let decades = high.log10() - low.log10();
    let (first, last) = (low.log10().floor() as i32, high.log10().ceil() as i32);
    if !(decades.is_finite() && decades > 0.0) {
        return Vec::new();
    }
    // Counted from 1, so that thousands keep their texts.
    let stride = [1, 2, 3, 6, 12, 24, 48]
        .into_iter()
        .find(|stride| decades / f64::from(*stride) <= wanted as f64)
        .unwrap_or(96);
    let digits: &[u8] = if decades < DECADES_ALONE { &[1, 2, 5] } else { &[1] };
    let fine = decades <= wanted as f64;
    let faint = decades <= 3.0 * wanted as f64;
    let mut found = Vec::new();
    for exponent in first..=last {
        for digit in 1..=9u8 {
            let at = f64::from(digit) * 10f64.powi(exponent);
            let told = digits.contains(&digit) && exponent % stride == 0;
            let inside = at >= low * (1.0 - 1e-9) && at <= high * (1.0 + 1e-9);
            if inside && (told || fine || digit == 1 && faint) {
                found.push(Tick { at, text: told.then(|| decade_text(at, unit)) });
            }
        }
    }
    let told = found.iter().filter(|tick| tick.text.is_some()).count();
    if told < LEAST && decades < DECADES_ALONE {
        // Hardly one of these numbers lies on the axis: divided evenly.
        return with_texts(readable((low, high), wanted, unit), unit);
    }
    found
}

/// `100 mΩ`, `2 kHz`: a single digit times a power of ten, with the prefix of its own size.
pub(in crate::output::plot) fn decade_text(value: f64, unit: &str) -> String {
    let (factor, prefix) = prefix_of(value, unit);
    let scaled = value / factor;
    if (1e-4..1e6).contains(&scaled) {
        let decimals = -(scaled.log10() + 1e-9).floor();
        label(scaled, decimals.max(0.0) as usize, prefix, unit)
    } else {
        format!("{scaled:.0e}{}", unit_suffix(prefix, unit))
    }
}

#[cfg(test)]
mod tests {
    use super::{Axis, Scale, ticks, ticks_apart};

    fn axis(unit: &'static str, scale: Scale) -> Axis {
        Axis { unit, scale, ..Axis::default() }
    }

    fn told(unit: &'static str, scale: Scale, range: (f64, f64), wanted: usize) -> Vec<String> {
        ticks(&axis(unit, scale), range, wanted).into_iter().filter_map(|tick| tick.text).collect()
    }

    #[test]
    fn decades_carry_the_prefix_of_their_own_size() {
        assert_eq!(
            told("Hz", Scale::Logarithmic, (10.0, 1e8), 10),
            ["10 Hz", "100 Hz", "1 kHz", "10 kHz", "100 kHz", "1 MHz", "10 MHz", "100 MHz"]
        );
        assert_eq!(told("Ω", Scale::Logarithmic, (5e-3, 3.0), 9), ["10 mΩ", "100 mΩ", "1 Ω"]);
        assert_eq!(
            told("V/√Hz", Scale::Logarithmic, (8e-10, 2e-6), 9),
            ["1 nV/√Hz", "10 nV/√Hz", "100 nV/√Hz", "1 µV/√Hz"]
        );
        assert_eq!(
            told("1", Scale::Logarithmic, (1e-3, 1.0), 9),
            ["0.1 %", "1 %", "10 %", "100 %"]
        );
        assert_eq!(told("", Scale::Logarithmic, (0.1, 10.0), 9), ["0.1", "1", "10"]);
    }

    #[test]
    fn decades_without_room_are_told_in_threes_from_one() {
        assert_eq!(
            told("Hz", Scale::Logarithmic, (1.0, 1e9), 4),
            ["1 Hz", "1 kHz", "1 MHz", "1 GHz"]
        );
    }

    #[test]
    fn under_two_decades_twos_and_fives_are_told_too() {
        assert_eq!(
            told("Hz", Scale::Logarithmic, (1e3, 9e4), 10),
            ["1 kHz", "2 kHz", "5 kHz", "10 kHz", "20 kHz", "50 kHz"]
        );
        assert_eq!(
            told("Ω", Scale::Logarithmic, (0.055, 0.09), 5),
            ["60 mΩ", "70 mΩ", "80 mΩ", "90 mΩ"]
        );
    }

    #[test]
    fn between_decades_there_are_finer_lines_while_there_is_room() {
        let lines = |range, wanted| {
            let all = ticks(&axis("Hz", Scale::Logarithmic), range, wanted);
            all.iter().filter(|tick| tick.text.is_none()).count()
        };
        assert_eq!(lines((10.0, 1e4), 10), 3 * 8);
        assert_eq!(lines((1.0, 1e9), 4), 6);
        assert_eq!(lines((1.0, 1e28), 4), 0);
    }

    #[test]
    fn degrees_go_by_parts_of_a_turn_and_finer_ones_by_ones_twos_and_fives() {
        let linear = |range, wanted| told("deg", Scale::Linear, range, wanted);
        assert_eq!(linear((-195.0, 10.0), 6), ["−180°", "−135°", "−90°", "−45°", "0°"]);
        assert_eq!(linear((-400.0, 10.0), 5), ["−360°", "−270°", "−180°", "−90°", "0°"]);
        assert_eq!(linear((40.0, 50.0), 5), ["40°", "42°", "44°", "46°", "48°", "50°"]);
    }

    #[test]
    fn levels_go_by_tens_and_their_doubles() {
        let linear = |range, wanted| told("dB", Scale::Linear, range, wanted);
        assert_eq!(
            linear((-121.0, 81.0), 7),
            ["−120 dB", "−80 dB", "−40 dB", "0 dB", "40 dB", "80 dB"]
        );
        assert_eq!(linear((0.0, 3.0), 4), ["0 dB", "1 dB", "2 dB", "3 dB"]);
    }

    #[test]
    fn long_texts_are_fewer_and_huge_ones_are_powers() {
        let told = |range| -> Vec<String> {
            let axis = axis("V", Scale::Linear);
            ticks_apart(&axis, range, 800.0, 10).into_iter().filter_map(|tick| tick.text).collect()
        };
        assert_eq!(told((0.0, 1.0)).len(), 11);
        assert_eq!(told((2.800_000_01, 2.800_000_09)).len(), 9);
        assert_eq!(told((2.800_000_000_01, 2.800_000_000_09)).len(), 4);
        assert_eq!(told((0.0, 1e27))[1], "2.000e17 GV");
    }

    #[test]
    fn no_range_makes_too_many_ticks_or_none_to_read() {
        for scale in [Scale::Linear, Scale::Logarithmic] {
            for unit in ["deg", "V", "1", ""] {
                for range in [(1.0, 1.000_001), (1e-30, 1e30), (1e-9, 1.0), (3.1, 3.9)] {
                    for wanted in 0..12 {
                        let count = told(unit, scale, range, wanted).len();
                        let most = wanted.max(3) + 6;
                        assert!(
                            count >= 2 && count <= most,
                            "{scale:?} {unit} {range:?} {wanted}: {count}"
                        );
                    }
                }
            }
        }
    }
}

//! From the texts of the command line to the question; all mistakes are gathered.

use crate::cli::arguments::BudgetArguments;
use railstep::diagnostic::{FileId, Span};
use railstep::quantity::{Dimension, NoNames, celsius, parse};
use railstep::suitability::{InputRange, Level, Question, refusal};

/// How far shares may miss 100 % by rounding alone.
const SHARES_APART: f64 = 1e-9;

/// One option: how it is called, what it is, and an example of it.
#[derive(Clone, Copy)]
struct Wanted {
    option: &'static str,
    what: &'static str,
    dimension: Dimension,
    example: &'static str,
}

impl Wanted {
    /// A mistake in `text`, with what to type instead.
    fn mistake(self, text: &str, why: &str) -> String {
        let Wanted { option, example, .. } = self;
        format!("`{option} {text}`: {why}; write for example `{option} {example}`")
    }
}

const fn wanted(
    option: &'static str,
    what: &'static str,
    dimension: Dimension,
    example: &'static str,
) -> Wanted {
    Wanted { option, what, dimension, example }
}

/// Of negative rails too, all formulas being symmetrical.
const VOLTAGE: &str = "a voltage above zero (of a negative rail the magnitude)";
const INPUT: Wanted = wanted("--input", VOLTAGE, Dimension::VOLT, "3.0V..4.2V");
const OUTPUT: Wanted = wanted("--output", VOLTAGE, Dimension::VOLT, "2.8V");
const LOAD: Wanted = wanted("--load", "a current", Dimension::AMPERE, "150mA");
const THETA: Wanted =
    wanted("--theta", "a thermal resistance above zero", Dimension::KELVIN_PER_WATT, "60K/W");
const AMBIENT: Wanted = wanted("--ambient", "a temperature", Dimension::KELVIN, "60°C");
const JUNCTION: Wanted = wanted("--junction-limit", "a temperature", Dimension::KELVIN, "125°C");
const DROPOUT: Wanted = wanted("--dropout", "a voltage, or zero", Dimension::VOLT, "200mV");
const GROUND: Wanted = wanted("--ground-current", "a current, or zero", Dimension::AMPERE, "17uA");
const LIMIT: Wanted = wanted("--current-limit", "a current above zero", Dimension::AMPERE, "300mA");
const BATTERY: Wanted = wanted("--battery", "a charge above zero", Dimension::COULOMB, "1000mAh");
const SWITCHING: Wanted =
    wanted("--switching-efficiency", "a share of at most 100 %", Dimension::NONE, "85%");

#[derive(Default)]
struct Reader {
    mistakes: Vec<String>,
}

/// The question that the arguments ask.
///
/// # Errors
/// Every mistake in them, each with what to type.
pub(super) fn read(arguments: &BudgetArguments) -> Result<Question, Vec<String>> {
    let mut reader = Reader::default();
    let input = reader.required(INPUT, arguments.input.as_ref(), Reader::input);
    let output = reader.required(OUTPUT, arguments.output.as_ref(), Reader::positive);
    let load = reader.required(LOAD, arguments.load.as_ref(), Reader::load);
    let theta_k_per_w = reader.optional(THETA, arguments.theta.as_ref(), Reader::thermal);
    let ambient = reader.required(AMBIENT, arguments.ambient.as_ref(), Reader::celsius);
    let junction = reader.required(JUNCTION, arguments.junction_limit.as_ref(), Reader::celsius);
    let dropout_v = reader.optional(DROPOUT, arguments.dropout.as_ref(), Reader::not_negative);
    let ground = reader.required(GROUND, arguments.ground_current.as_ref(), Reader::not_negative);
    let limit = reader.optional(LIMIT, arguments.current_limit.as_ref(), Reader::positive);
    let battery_c = reader.optional(BATTERY, arguments.battery.as_ref(), Reader::charge);
    let stated = arguments.switching_efficiency.as_ref();
    let switching_efficiency = reader.optional(SWITCHING, stated, Reader::share);
    // What belongs together is compared once each of it is known.
    reader.refuse_stepping_up(input, output);
    reader.compare_limit(limit, load.as_deref());
    reader.compare_temperatures(ambient, junction);
    let needed = (input, output, load, ambient, junction, ground);
    let (Some(input), Some(output_v), Some(load), Some(ambient_c), Some(junction), Some(ground)) =
        needed
    else {
        return Err(reader.mistakes);
    };
    if !reader.mistakes.is_empty() {
        return Err(reader.mistakes);
    }
    Ok(Question {
        input,
        output_v,
        load,
        theta_k_per_w,
        ambient_c,
        junction_limit_c: junction,
        dropout_v,
        ground_current_a: ground,
        current_limit_a: limit,
        battery_c,
        switching_efficiency,
    })
}

impl Reader {
    fn required<T>(
        &mut self,
        wanted: Wanted,
        text: Option<&String>,
        read: fn(&mut Self, Wanted, &str) -> Option<T>,
    ) -> Option<T> {
        if let Some(text) = text {
            return read(self, wanted, text);
        }
        let Wanted { option, what, example, .. } = wanted;
        self.mistakes.push(format!(
            "`{option}` is missing: {what} is wanted; write for example `{option} {example}`"
        ));
        None
    }

    fn optional(
        &mut self,
        wanted: Wanted,
        text: Option<&String>,
        read: fn(&mut Self, Wanted, &str) -> Option<f64>,
    ) -> Option<f64> {
        read(self, wanted, text?)
    }

    /// The value of one quantity in SI units.
    fn quantity(&mut self, wanted: Wanted, whole: &str, text: &str) -> Option<f64> {
        let span = Span { file: FileId(0), start: 0, end: text.len() };
        let tree = parse(text, span).map_err(|mistake| vec![mistake]);
        let program = tree.and_then(|tree| tree.compile_as(&NoNames, wanted.dimension));
        let why = match program.map(|p| p.evaluate::<f64>(&[])) {
            Ok(value) if value.is_finite() => return Some(value),
            Ok(_) => format!("{} is wanted, and this has no finite value", wanted.what),
            Err(mistakes) => mistakes
                .first()
                .map_or_else(|| format!("{} is wanted", wanted.what), |m| m.message.clone()),
        };
        self.mistakes.push(wanted.mistake(whole, &why));
        None
    }

    /// A quantity that `holds`; `text` is read as `form`.
    fn such_that(
        &mut self,
        wanted: Wanted,
        text: &str,
        form: &str,
        holds: fn(f64) -> bool,
    ) -> Option<f64> {
        let value = self.quantity(wanted, text, form)?;
        if !holds(value) {
            self.mistakes.push(wanted.mistake(text, &format!("{} is wanted", wanted.what)));
            return None;
        }
        Some(value)
    }

    /// Data sheets write °C/W; a difference of temperatures is the same in both.
    fn thermal(&mut self, wanted: Wanted, text: &str) -> Option<f64> {
        let form = text.replace(['\u{2103}'], "°C").replace("°C", "K");
        self.such_that(wanted, text, &form, |value| value > 0.0)
    }

    /// `1000mAh` and `2.4 Ah`, as on labels, and every other charge.
    fn charge(&mut self, wanted: Wanted, text: &str) -> Option<f64> {
        let number = text.trim().strip_suffix("Ah");
        let form = number.map_or_else(|| text.to_owned(), |number| format!("{number}A*h"));
        self.such_that(wanted, text, &form, |value| value > 0.0)
    }

    fn positive(&mut self, wanted: Wanted, text: &str) -> Option<f64> {
        self.such_that(wanted, text, text, |value| value > 0.0)
    }

    fn not_negative(&mut self, wanted: Wanted, text: &str) -> Option<f64> {
        self.such_that(wanted, text, text, |value| value >= 0.0)
    }

    fn share(&mut self, wanted: Wanted, text: &str) -> Option<f64> {
        self.such_that(wanted, text, text, |value| value > 0.0 && value <= 1.0)
    }

    fn celsius(&mut self, wanted: Wanted, text: &str) -> Option<f64> {
        self.such_that(wanted, text, text, |kelvin| kelvin >= 0.0).map(celsius)
    }

    /// One voltage, LOW..HIGH or LOW..TYPICAL..HIGH.
    fn input(&mut self, wanted: Wanted, text: &str) -> Option<InputRange> {
        let pieces: Vec<&str> = text.split("..").map(str::trim).collect();
        if pieces.len() > 3 {
            let why = "at most lowest, typical and highest are wanted";
            self.mistakes.push(wanted.mistake(text, why));
            return None;
        }
        let mut volts = Vec::with_capacity(3);
        for piece in &pieces {
            volts.push(self.quantity(wanted, text, piece));
        }
        let volts: Vec<f64> = volts.into_iter().collect::<Option<_>>()?;
        if !volts.iter().all(|v| *v > 0.0) {
            self.mistakes.push(wanted.mistake(text, &format!("{} is wanted", wanted.what)));
            return None;
        }
        if !volts.is_sorted() {
            let mut order: Vec<(f64, &str)> = volts.iter().copied().zip(pieces).collect();
            order.sort_by(|a, b| a.0.total_cmp(&b.0));
            let order: Vec<&str> = order.iter().map(|(_, piece)| *piece).collect();
            self.mistakes.push(format!(
                "`--input {text}`: the lowest comes first; write `--input {}`",
                order.join("..")
            ));
            return None;
        }
        let (low_v, high_v) = (*volts.first()?, *volts.last()?);
        let given = (volts.len() == 3).then(|| volts.get(1).copied()).flatten();
        let typical_v = given.unwrap_or(low_v + 0.5 * (high_v - low_v));
        Some(InputRange { low_v, typical_v, high_v, typical_given: given.is_some() })
    }

    /// One current, or `CURRENT:SHARE,…`, of which the last share may be left out.
    fn load(&mut self, wanted: Wanted, text: &str) -> Option<Vec<Level>> {
        let wanted = if text.contains([',', ':']) {
            Wanted { example: "2mA:95%,150mA:5%", ..wanted }
        } else {
            wanted
        };
        let before = self.mistakes.len();
        let pieces: Vec<&str> = text.split(',').map(str::trim).collect();
        let mut levels = Vec::with_capacity(pieces.len());
        for (k, piece) in pieces.iter().enumerate() {
            let (current, share) = match piece.split_once(':') {
                Some((current, share)) => (current, Some(share)),
                None => (*piece, None),
            };
            if share.is_none() && k + 1 < pieces.len() {
                let why = format!("`{piece}` lacks its share, which only the last may");
                self.mistakes.push(wanted.mistake(text, &why));
            }
            let current = self.quantity(wanted, text, current);
            let as_share = Wanted { what: "a share", dimension: Dimension::NONE, ..wanted };
            let share = share.map(|share| self.quantity(as_share, text, share));
            levels.push((current, share));
        }
        if self.mistakes.len() > before {
            return None;
        }
        let given: f64 = levels.iter().filter_map(|(_, share)| share.flatten()).sum();
        let levels: Vec<Level> = levels
            .into_iter()
            .filter_map(|(current, share)| {
                let share = share.flatten().unwrap_or(1.0 - given);
                Some(Level { current_a: current?, share })
            })
            .collect();
        let why = wrong_with(&levels)?;
        if why.is_empty() {
            return Some(levels);
        }
        self.mistakes.push(wanted.mistake(text, &why));
        None
    }

    fn compare_temperatures(&mut self, ambient: Option<f64>, limit: Option<f64>) {
        if let (Some(ambient), Some(limit)) = (ambient, limit)
            && ambient >= limit
        {
            self.mistakes.push(format!(
                "the ambient {ambient} °C is not below the junction limit {limit} °C; give a \
                 lower `--ambient`, or a part that stands more by `--junction-limit`"
            ));
        }
    }

    fn refuse_stepping_up(&mut self, input: Option<InputRange>, output_v: Option<f64>) {
        if let (Some(input), Some(output_v)) = (input, output_v) {
            self.mistakes.extend(refusal(input, output_v));
        }
    }

    fn compare_limit(&mut self, limit_a: Option<f64>, load: Option<&[Level]>) {
        if let (Some(limit_a), Some(load)) = (limit_a, load)
            && load.iter().any(|l| l.current_a > limit_a)
        {
            self.mistakes.push(
                "the load goes beyond `--current-limit`; give the limit of a regulator that can \
                 carry it"
                    .to_owned(),
            );
        }
    }
}

/// What is wrong with the levels of a load; empty if nothing.
fn wrong_with(levels: &[Level]) -> Option<String> {
    let sum: f64 = levels.iter().map(|l| l.share).sum();
    let last = levels.last()?;
    Some(if levels.iter().any(|l| l.current_a < 0.0) {
        "currents are not negative: a linear regulator gives current only".to_owned()
    } else if levels.iter().all(|l| l.current_a == 0.0) {
        "a load above zero is wanted".to_owned()
    } else if !(last.share > 0.0) && levels.len() > 1 && (sum - 1.0).abs() <= SHARES_APART {
        "the shares leave nothing for the last level".to_owned()
    } else if levels.iter().any(|l| !(l.share > 0.0 && l.share <= 1.0)) {
        "each share is above 0 % and at most 100 %".to_owned()
    } else if (sum - 1.0).abs() > SHARES_APART {
        let percent = railstep::quantity::trimmed(sum * 100.0, "%", 6);
        format!("the shares add up to {percent} and not to 100 %; the last may be left out")
    } else {
        String::new()
    })
}

//! Names, figures and commands in words.

use super::Told;
use crate::circuit::Change;
use crate::measure::Measurement;
use crate::output::number::{difference, engineering};
use crate::quantity::Dimension;
use crate::study::spell::{quantity_text, run_command, set_arguments};
use crate::study::spread::{Contributors, Drawn, EXPLAINS, Law, On, Share, Spread, TestSpread};

/// Settings that tell measurements of one name apart.
const TELLING: [&str; 5] = ["band", "level", "at", "definition", "about"];
/// A contributor below this share is chance.
const LEAST_SHARE: f64 = 0.005;

/// `recovery (band 0.5 %)`; `about` only where it is not the usual one.
pub(super) fn label(row: &Measurement) -> String {
    let settings = TELLING.iter().filter_map(|key| Some((*key, row.settings.get(*key)?)));
    let usual =
        |key: &str, value: &str| key == "about" && (value == "settled" || value == "before");
    let told: Vec<String> = settings
        .filter(|(key, value)| !usual(key, value))
        .map(|(key, value)| format!("{key} {value}"))
        .collect();
    if told.is_empty() { row.name.clone() } else { format!("{} ({})", row.name, told.join(", ")) }
}

/// What to type to see a run or vertex again.
pub(super) fn command(told: &Told<'_>, test: usize, changes: &[Change]) -> String {
    let ground = &told.runner.ground;
    let name = ground.tests.get(test).map_or("", |t| t.name.as_str());
    let mut command = run_command(told.file, name);
    if let Some(accuracy_v) = ground.options.accuracy_v {
        let text = quantity_text(accuracy_v, Dimension::VOLT).replace(' ', "");
        command.extend([" --accuracy ", &text]);
    }
    let all: Vec<Change> = ground.options.changes.list.iter().chain(changes).cloned().collect();
    // Of two to the same thing the later one holds.
    let last = |k: usize| !all.iter().skip(k + 1).any(|later| later.path == all[k].path);
    let kept: Vec<Change> = (0..all.len()).filter(|k| last(*k)).map(|k| all[k].clone()).collect();
    if !kept.is_empty() {
        command.extend([" ", &set_arguments(&kept)]);
    }
    command
}

/// `99.2 %`, with as many digits as tell it from all.
pub(super) fn percent(share: f64) -> String {
    if share == 1.0 || share == 0.0 {
        return format!("{:.0} %", 100.0 * share);
    }
    let away = share.min(1.0 - share);
    let digits = (-(100.0 * away).log10().floor()).clamp(0.0, 6.0) as usize + 1;
    format!("{:.digits$} %", 100.0 * share)
}

/// `yield 99.2 % (95 % confidence: 98.4 to 99.7 %), 8 of 1000 fail`
pub(super) fn yield_words(share: Share) -> String {
    let [low, high] = share.interval();
    let bounds = format!("{} to {}", percent(low), percent(high));
    let count = match share.rule_of_three() {
        Some(most) => format!(
            "none of {} fails: at most {} do, with 95 % confidence on that side alone (3/N)",
            share.of,
            engineering(most, "1", 2)
        ),
        None => format!("{} of {} fail", share.failing, share.of),
    };
    format!("yield {} (95 % confidence: {bounds}); {count}", percent(share.holding()))
}

/// `c_out 3.76 µF to 5.64 µF, uniform`
pub(super) fn drawn_words(drawn: &Drawn) -> String {
    let ends = || {
        let [low, high] = [drawn.low, drawn.high].map(|v| quantity_text(v, drawn.dimension));
        format!("{} {low} to {high}", drawn.path)
    };
    // Its limits are those in the environment as the file has it; runs draw at their own temperature.
    let band = if drawn.is_band {
        " at the file's ambient, a band that widens and narrows with temperature"
    } else {
        ""
    };
    match drawn.law {
        Law::OneOf(levels) => format!("{} one of {levels} levels", drawn.path),
        Law::Between | Law::Uniform => format!("{}{band}", ends()),
        Law::Normal => format!("{} (normal, limits at 3σ){band}", ends()),
    }
}

/// `v_ref 62 % (+), c_out 30 % (−); R² 0.98`
pub(super) fn contributors_words(
    spread: &Spread,
    test: &TestSpread,
    found: &Contributors,
) -> String {
    let path = |k: usize| {
        let drawn = test.columns.get(k).and_then(|at| spread.drawn.get(*at));
        drawn.map_or("", |d| d.path.as_str())
    };
    let list = found.list.iter().filter(|c| c.share >= LEAST_SHARE).map(|c| {
        let sign = if c.coefficient < 0.0 { "−" } else { "+" };
        format!("{} {:.0} % ({sign})", path(c.quantity), 100.0 * c.share)
    });
    let list = list.collect::<Vec<_>>().join(", ");
    let list = if list.is_empty() { "nothing stands out".to_owned() } else { list };
    let how = match (found.on, found.explained >= EXPLAINS) {
        (On::Values, true) => format!("R² {:.2}", found.explained),
        (On::Ranks, true) => format!(
            "not explained linearly (R² {:.2}); by ranks R² {:.2}",
            found.linear, found.explained
        ),
        (_, false) => {
            format!("not explained linearly, R² {:.2}: a hint only", found.explained)
        }
    };
    format!("{list}; {how}")
}

/// A signed difference: `+12.3 mV`.
pub(super) fn signed(value: f64, unit: &str) -> String {
    let sign = if value > 0.0 { "+" } else { "" };
    format!("{sign}{}", difference(value, unit, 3))
}

/// A value to four digits, a dash for none.
pub(super) fn value(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(|| "–".to_owned(), |v| engineering(v, unit, 4))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_has_the_digits_that_tell_it_from_all() {
        let told = [1.0, 0.0, 0.5, 0.992, 0.9963, 0.999_963, 0.003].map(percent);
        assert_eq!(told, ["100 %", "0 %", "50.0 %", "99.20 %", "99.63 %", "99.9963 %", "0.30 %"]);
    }
}

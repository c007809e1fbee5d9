//! The entry of a measurement.

use super::Page;
use super::equation::equation_of;
use crate::measure::{Definition, RequirementOption, Scale};

pub(super) fn write(page: &mut Page, definition: &Definition) {
    page.title(definition.name, "a measurement");
    page.text(definition.text);
    let equation = equation_of(definition.name);
    if let Some(row) = equation {
        page.heading("equation");
        page.text(row.formula);
    }
    page.heading("unit and values");
    let unit = match definition.unit {
        "1" => "none (a fraction, told in %)",
        "count" => "none (a count)",
        unit => unit,
    };
    page.text(&format!("{unit}; {}", equation.map_or("any", |row| row.values)));
    page.heading("reported by tests of kind");
    let kinds: Vec<&str> = definition.kinds.iter().map(|k| k.word()).collect();
    page.text(&kinds.join(", "));
    if !definition.options.is_empty() {
        page.heading("options of a requirement");
        for option in definition.options {
            let (form, text) = option_text(*option);
            page.key(option.key(), &form, text);
        }
    }
    page.heading("margin");
    page.text(margin_text(definition));
    if let Some(row) = equation {
        page.heading("source");
        page.text(row.source);
    }
    page.example(&example(definition));
}

/// What fits beside the name in a list: the definition up to its first pause, without what stands in
/// brackets on the way. What is taken away again belongs to it.
pub(super) fn summary(definition: &Definition) -> String {
    let mut text = definition.text.to_owned();
    while let Some(open) = text.find(" (") {
        let Some(length) = text[open..].find(')') else { break };
        text.replace_range(open..=open + length, "");
    }
    let is_end = |&(at, _): &(usize, &str)| !text[at..].starts_with(", minus ");
    let end = text.match_indices([';', ',', ':']).find(is_end).map(|(at, _)| at);
    text.truncate(end.unwrap_or(text.len()));
    text
}

/// What may stand behind an option, and what it means.
pub(in crate::output) fn option_text(option: RequirementOption) -> (String, &'static str) {
    match option {
        RequirementOption::Band => (
            "V or fraction of nominal; required".to_owned(),
            "half-width of the band around the level",
        ),
        RequirementOption::Level => ("V; required".to_owned(), "voltage that is compared with"),
        RequirementOption::At => ("Hz".to_owned(), "the frequency at which it is read"),
        RequirementOption::FrequencyBand => (
            "[Hz, Hz]; default the test's own".to_owned(),
            "the frequencies between which it is summed",
        ),
        RequirementOption::Definition => {
            let form = "\"100 mV below\", \"2 % below\" (any amount) or \"fully on\"; required";
            (form.to_owned(), "which of the trade's definitions")
        }
        RequirementOption::Capacitor => {
            ("name of a capacitor; default the worst".to_owned(), "the capacitor it is taken of")
        }
        RequirementOption::Share => (
            "fraction of nominal; default 5 %".to_owned(),
            "how far the output has fallen where it is read",
        ),
        RequirementOption::Junction => (
            "name of a heat path, or of a part on one; default the hottest".to_owned(),
            "the junction it is taken of",
        ),
        RequirementOption::About { allowed, default } => {
            let words: Vec<String> = allowed.iter().map(|a| format!("\"{}\"", a.word())).collect();
            let form = format!("{}; default \"{}\"", words.join(" or "), default.word());
            (form, "the level counted from")
        }
    }
}

fn margin_text(definition: &Definition) -> &'static str {
    match definition.scale {
        Scale::OfLimit => {
            "distance inside the limit over the size of the limit; none for a limit of 0"
        }
        Scale::FromNominal => {
            "distance inside the limit over the distance of the limit from nominal"
        }
        Scale::FromAmbient => {
            "distance inside the limit over the distance of the limit from `rail.ambient`"
        }
    }
}

/// A requirement on it that reads.
pub(super) fn example(definition: &Definition) -> String {
    let name = definition.name;
    let at_least = [
        "minimum",
        "hold_up",
        "efficiency",
        "headroom",
        "window",
        "level",
        "margin",
        "crossover",
        "distance",
        "gain",
        "damping",
        "mask",
        "rejection",
        "limit_current",
        "stuck_voltage",
    ];
    let sign = if at_least.iter().any(|end| name.ends_with(end)) { ">=" } else { "<=" };
    let is_level = definition.scale == Scale::FromNominal
        || name.starts_with("input_")
        || name.ends_with("_input");
    let amount = match definition.unit {
        "V" if is_level && sign == ">=" => "2.7 V",
        "V" if is_level => "2.9 V",
        "V" if name == "noise" => "60 µV",
        "V" => "30 mV",
        "s" => "20 µs",
        "A" => "200 mA",
        "W" => "300 mW",
        "Hz" => "20 kHz",
        "dB" => "40 dB",
        "deg" => "45 deg",
        "A^2*s" => "1 mA^2*s",
        "" => "0",
        "Ω" => "50 mΩ",
        "1/V" => "0.001 1/V",
        "V/√Hz" => "200 nV/√Hz",
        "J" => "2 J",
        "count" => "2",
        "K" => "110 °C",
        unit if unit.starts_with('K') => "60 K",
        _ if sign == ">=" => "70 %",
        _ if name.ends_with("stress") => "80 %",
        _ => "1 %",
    };
    let options: Vec<String> = definition
        .options
        .iter()
        .map(|option| match option {
            RequirementOption::Band => "band = \"0.5 %\"".to_owned(),
            RequirementOption::Level => "level = \"2.75 V\"".to_owned(),
            RequirementOption::About { default, .. } => format!("about = \"{}\"", default.word()),
            RequirementOption::At => "at = \"10 kHz\"".to_owned(),
            RequirementOption::FrequencyBand => "band = [\"10 Hz\", \"100 kHz\"]".to_owned(),
            RequirementOption::Definition => "definition = \"2 % below\"".to_owned(),
            RequirementOption::Capacitor => "of = \"C_OUT\"".to_owned(),
            RequirementOption::Share => "share = \"5 %\"".to_owned(),
            RequirementOption::Junction => "of = \"H1\"".to_owned(),
        })
        .collect();
    if options.is_empty() {
        format!("require = {{ {name} = \"{sign} {amount}\" }}")
    } else {
        format!(
            "require = {{ {name} = {{ limit = \"{sign} {amount}\", {} }} }}",
            options.join(", ")
        )
    }
}

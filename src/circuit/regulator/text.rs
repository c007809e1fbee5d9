//! A datasheet as the text of a model, to be read back as the same datasheet.

use super::inside::InnerValue;
use super::sheet::{
    At, Datasheet, Dropout, Impedance, Level, LineRegulation, LoadRegulation, Noise, NoiseDensity,
    Rejection, Transient,
};
use super::spelling::spelled;
use crate::quantity::Dimension;
use std::fmt::Write as _;

/// The section `[models.NAME]` with all that a sheet says, and the inner values held at what they
/// come to here. It reads back to the same sheet, figure by figure.
pub fn model_text(name: &str, sheet: &Datasheet, held: &[InnerValue]) -> String {
    let mut text = format!("[models.{name}]\nkind = \"regulator\"\n");
    for line in single_figures(sheet).into_iter().chain(lists(sheet)) {
        text += &line;
        text.push('\n');
    }
    if !held.is_empty() {
        text += "\n# What no datasheet says: held here, not to be fitted again.\n";
        let _ = writeln!(text, "[models.{name}.inside]");
        for value in held {
            let line = format!("{} = \"{}\"", value.name, spelled(value.value, value.unit));
            let _ = writeln!(text, "{line:<40}# {}", value.text);
        }
    }
    text
}

fn single_figures(sheet: &Datasheet) -> Vec<String> {
    let level = match sheet.level {
        Level::Output(volt) => ("output_voltage", volt),
        Level::Reference(volt) => ("reference_voltage", volt),
    };
    let nonzero = |value: f64| (value != 0.0).then_some(value);
    let limit = sheet.limit;
    let shutdown = sheet.shutdown;
    let figures = [
        (level.0, Some(level.1), Dimension::VOLT),
        ("accuracy", nonzero(sheet.accuracy), Dimension::NONE),
        ("temperature_coefficient", nonzero(sheet.temperature_coefficient), Dimension::PER_KELVIN),
        ("rated_current", Some(sheet.rated_current_a), Dimension::AMPERE),
        ("quiescent_current", sheet.ground.no_load_a, Dimension::AMPERE),
        ("ground_current", sheet.ground.full_load_a, Dimension::AMPERE),
        ("ground_current_in_dropout", sheet.ground.in_dropout_a, Dimension::AMPERE),
        ("current_limit", limit.map(|l| l.limit_a), Dimension::AMPERE),
        ("short_current", limit.and_then(|l| l.short_a), Dimension::AMPERE),
        ("fold_voltage", limit.and_then(|l| l.fold_v), Dimension::VOLT),
        ("rise_time", sheet.rise_s, Dimension::SECOND),
        ("thermal_resistance", sheet.thermal_resistance, Dimension::KELVIN_PER_WATT),
        ("shutdown_temperature", shutdown.map(|s| s.trips_k), Dimension::KELVIN),
        ("restart_temperature", shutdown.map(|s| s.restarts_k), Dimension::KELVIN),
        ("enable_on", sheet.enable_v.map(|[on, _]| on), Dimension::VOLT),
        ("enable_off", sheet.enable_v.map(|[_, off]| off), Dimension::VOLT),
        ("test_input", sheet.test.input_v, Dimension::VOLT),
        ("test_capacitor", sheet.test.capacitor_f, Dimension::FARAD),
        ("test_esr", sheet.test.esr_ohm, Dimension::OHM),
        ("test_esl", sheet.test.esl_h, Dimension::HENRY),
        ("test_output", sheet.test_output_v, Dimension::VOLT),
        ("test_bias", sheet.test_bias_v, Dimension::VOLT),
    ];
    let mut lines = vec![
        format!("topology = \"{}\"", sheet.topology.word()),
        format!("compensation = \"{}\"", sheet.compensation.word()),
    ];
    for (key, figure, unit) in figures {
        lines.extend(figure.map(|figure| format!("{key} = \"{}\"", spelled(figure, unit))));
    }
    let ranges = [
        ("capacitor_range", sheet.capacitor_f, Dimension::FARAD),
        ("esr_range", sheet.esr_ohm, Dimension::OHM),
    ];
    for (key, range, unit) in ranges {
        let told = range.map(|ends| ends.map(|end| spelled(end, unit)));
        lines.extend(told.map(|[low, high]| format!("{key} = [\"{low}\", \"{high}\"]")));
    }
    lines
}

/// A row under way.
#[derive(Default)]
struct Line {
    keys: Vec<String>,
}

impl Line {
    fn figure(mut self, key: &str, figure: impl Into<Option<f64>>, unit: Dimension) -> Self {
        self.keys.extend(figure.into().map(|f| format!("{key} = \"{}\"", spelled(f, unit))));
        self
    }

    fn at(self, at: At) -> Self {
        self.figure("input", at.input_v, Dimension::VOLT)
            .figure("capacitor", at.capacitor_f, Dimension::FARAD)
            .figure("esr", at.esr_ohm, Dimension::OHM)
            .figure("esl", at.esl_h, Dimension::HENRY)
    }

    fn within(self, within: Option<f64>) -> String {
        self.figure("within", within, Dimension::NONE).end()
    }

    fn end(self) -> String {
        format!("    {{ {} }},\n", self.keys.join(", "))
    }
}

fn lists(sheet: &Datasheet) -> Vec<String> {
    let all = [
        ("dropouts", dropouts(sheet)),
        ("load_regulations", load_regulations(sheet)),
        ("line_regulations", line_regulations(sheet)),
        ("transients", transients(sheet)),
        ("rejections", rejections(sheet)),
        ("impedances", impedances(sheet)),
        ("noise_densities", densities(sheet)),
        ("noises", noises(sheet)),
    ];
    let there = all.into_iter().filter(|(_, rows)| !rows.is_empty());
    there.map(|(key, rows)| format!("{key} = [\n{rows}]")).collect()
}

fn dropouts(sheet: &Datasheet) -> String {
    let row =
        |row: &Dropout| {
            let mut line = Line::default()
                .figure("current", row.current_a, Dimension::AMPERE)
                .figure("dropout", row.dropout_v, Dimension::VOLT);
            line.keys.push(format!("definition = \"{}\"", row.definition));
            line.within(row.within)
        };
    sheet.dropouts.iter().map(row).collect()
}

fn load_regulations(sheet: &Datasheet) -> String {
    let row = |row: &LoadRegulation| {
        Line::default()
            .figure("from", row.from_a, Dimension::AMPERE)
            .figure("to", row.to_a, Dimension::AMPERE)
            .figure("change", row.change_v, Dimension::VOLT)
            .at(row.at)
            .within(row.within)
    };
    sheet.load_regulations.iter().map(row).collect()
}

fn line_regulations(sheet: &Datasheet) -> String {
    let row = |row: &LineRegulation| {
        Line::default()
            .figure("from", row.from_v, Dimension::VOLT)
            .figure("to", row.to_v, Dimension::VOLT)
            .figure("load", row.load_a, Dimension::AMPERE)
            .figure("change", row.change_v, Dimension::VOLT)
            .within(row.within)
    };
    sheet.line_regulations.iter().map(row).collect()
}

fn transients(sheet: &Datasheet) -> String {
    let row = |row: &Transient| {
        Line::default()
            .figure("from", row.from_a, Dimension::AMPERE)
            .figure("to", row.to_a, Dimension::AMPERE)
            .figure("edge", row.edge_s, Dimension::SECOND)
            .figure("droop", row.droop_v, Dimension::VOLT)
            .figure("overshoot", row.overshoot_v, Dimension::VOLT)
            .figure("recovery", row.recovery.map(|r| r.time_s), Dimension::SECOND)
            .figure("band", row.recovery.map(|r| r.band), Dimension::NONE)
            .at(row.at)
            .within(row.within)
    };
    sheet.transients.iter().map(row).collect()
}

fn rejections(sheet: &Datasheet) -> String {
    let row = |row: &Rejection| {
        Line::default()
            .figure("frequency", row.frequency_hz, Dimension::HERTZ)
            .figure("load", row.load_a, Dimension::AMPERE)
            .figure("rejection", row.rejection_db, Dimension::DECIBEL)
            .at(row.at)
            .figure("within", row.within_db, Dimension::DECIBEL)
            .end()
    };
    sheet.rejections.iter().map(row).collect()
}

fn impedances(sheet: &Datasheet) -> String {
    let row = |row: &Impedance| {
        Line::default()
            .figure("frequency", row.frequency_hz, Dimension::HERTZ)
            .figure("load", row.load_a, Dimension::AMPERE)
            .figure("impedance", row.impedance_ohm, Dimension::OHM)
            .at(row.at)
            .within(row.within)
    };
    sheet.impedances.iter().map(row).collect()
}

fn densities(sheet: &Datasheet) -> String {
    let row = |row: &NoiseDensity| {
        Line::default()
            .figure("frequency", row.frequency_hz, Dimension::HERTZ)
            .figure("load", row.load_a, Dimension::AMPERE)
            .figure("density", row.density, Dimension::VOLT_PER_ROOT_HERTZ)
            .at(row.at)
            .within(row.within)
    };
    sheet.noise_densities.iter().map(row).collect()
}

fn noises(sheet: &Datasheet) -> String {
    let row = |row: &Noise| {
        Line::default()
            .figure("from", row.from_hz, Dimension::HERTZ)
            .figure("to", row.to_hz, Dimension::HERTZ)
            .figure("load", row.load_a, Dimension::AMPERE)
            .figure("noise", row.noise_v, Dimension::VOLT)
            .at(row.at)
            .within(row.within)
    };
    sheet.noises.iter().map(row).collect()
}

//! The block that stands for a regulator, as text that could stand in a circuit file.

use super::inside::{
    Conditions, FOLLOWER_HEADROOM_V, GATE_HEADROOM_V, GATE_LOW_V, InnerValue, REVERSE_GAIN,
    SENSE_DROP_V, SLOPE_FACTOR, STAGE_SLOPE_S, trimmed_at_v,
};
use super::sheet::{Compensation, Datasheet, Level, Topology};
use super::spelling::{spelled, to_six_digits, to_three_digits};
use crate::quantity::Dimension;
use std::f64::consts::TAU;
use std::fmt::Write as _;

/// Behind this the reference follows its soft start, Ω: little, for it makes noise.
const REFERENCE_OHM: f64 = 100.0;
/// Soft start where the sheet says none but something pulls the reference down, s.
const LEAST_RISE_S: f64 = 1e-6;
/// What a contact that pulls the reference leaves of it: this over `REFERENCE_OHM`.
const PULLED_OHM: f64 = 10e-3;
/// The input stage can take the internal node this far beyond the highest level it is asked for.
const REACH: f64 = 2.0;
/// Internal node of a pnp's amplifier from no base current to all, with the tenth that it winds up, V.
const PNP_SPAN_V: f64 = 1.1;
/// Beyond its limit, relative, a current may be before all drive is taken away.
const LIMIT_EXCESS: f64 = 0.05;
/// Heat from junction to package and on to ambient: share and time constant, s (common practice, no
/// source).
const HEAT_STAGES: [(f64, f64); 2] = [(0.15, 5e-3), (0.85, 10.0)];

/// Relative rise of a transistor's gain, 1/K: two thirds are left at -55 °C (common practice, no
/// source). Any steeper and it would turn negative above the coldest temperature that laws are
/// evaluated at, where a heat path could find a rest that no transistor has.
const GAIN_PER_K: f64 = 4e-3;

/// Which terminals besides input, output and ground are connected.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Connected {
    pub(super) enable: bool,
    pub(super) adjust: bool,
    pub(super) bias: bool,
}

/// The text of the block.
pub(super) fn block_text(
    name: &str,
    (part, connected): (&str, Connected),
    sheet: &Datasheet,
    values: &[InnerValue],
) -> String {
    let block = Block { sheet, at: Conditions::of(sheet), connected };
    let mut text =
        format!("# `{part}` as taken apart: values estimated from its datasheet by rule,\n");
    text += "# free for `railstep model` to choose where nothing else is said.\n";
    let _ = writeln!(text, "[blocks.{name}]\nports = [{}]\n", block.ports());
    let _ = writeln!(text, "[blocks.{name}.values]");
    for value in values {
        let held = match (value.held, value.free) {
            (true, _) => "; held, not to be fitted",
            (false, false) => "; told by no point of the sheet",
            (false, true) => "",
        };
        let figure = spelled(value.value, value.unit);
        let line = format!("{} = \"{figure}\"", value.name);
        let _ = writeln!(text, "{line:<40}# {}{held}", value.text);
    }
    let _ = writeln!(text, "\n[blocks.{name}.parts]");
    for line in block.parts() {
        let _ = writeln!(text, "{line}");
    }
    text
}

struct Block<'a> {
    sheet: &'a Datasheet,
    at: Conditions,
    connected: Connected,
}

fn volt(value: f64) -> String {
    spelled(value, Dimension::VOLT)
}

fn ampere(value: f64) -> String {
    spelled(value, Dimension::AMPERE)
}

fn ohm(value: f64) -> String {
    spelled(to_three_digits(value), Dimension::OHM)
}

fn plain(value: f64) -> String {
    spelled(value, Dimension::NONE)
}

impl Block<'_> {
    fn ports(&self) -> String {
        let optional = [
            ("enable", self.connected.enable),
            ("adjust", self.connected.adjust),
            ("bias", self.connected.bias),
        ];
        let optional = optional.iter().filter(|(_, there)| *there).map(|(name, _)| *name);
        let all = ["input", "output", "ground"].into_iter().chain(optional);
        all.map(|port| format!("\"{port}\"")).collect::<Vec<_>>().join(", ")
    }

    fn parts(&self) -> Vec<String> {
        let mut lines = vec!["# What the output is compared with.".to_owned()];
        lines.extend(self.reference());
        lines.extend(self.divider());
        lines.push("# What drives the pass device, and the device.".to_owned());
        lines.push(self.amplifier());
        lines.extend(self.pass());
        lines.extend(self.limit());
        lines.push(format!(
            "R_LEAD = {{ kind = \"resistor\", nodes = [\"{}\", \"output\"], resistance = \"lead_resistance\" }}",
            Self::REGULATED
        ));
        lines.extend(self.ground_current());
        lines.extend(self.heat());
        lines
    }

    /// The node that the divider inside senses.
    const REGULATED: &'static str = "regulated";

    /// Where the pass device ends: before the resistance of a current limit.
    fn passed(&self) -> &'static str {
        if self.sheet.limit.is_some() { "passed" } else { Self::REGULATED }
    }

    fn supply(&self) -> &'static str {
        if self.sheet.topology == Topology::NmosBias { "bias" } else { "input" }
    }

    fn shuts_down(&self) -> bool {
        self.sheet.shutdown.is_some() && self.sheet.thermal_resistance.is_some()
    }

    /// Soft start, enable and shutdown all act on the reference, so that the amplifier never winds
    /// up while the output is held down.
    fn reference(&self) -> Vec<String> {
        let sheet = self.sheet;
        let pulled = (self.connected.enable && sheet.enable_v.is_some()) || self.shuts_down();
        // A PMOS is driven down, all others up, so the trim has its sign.
        let sign = if sheet.topology == Topology::Pmos { "-" } else { "+" };
        let trim = volt(to_three_digits(trimmed_at_v(sheet)));
        let reference = volt(self.at.reference_v);
        let mut keys = format!("voltage = \"{reference} {sign} {trim} / dc_gain\"");
        if sheet.accuracy > 0.0 {
            let _ = write!(keys, ", tolerance = \"{}\"", plain(sheet.accuracy));
        }
        if sheet.temperature_coefficient != 0.0 {
            let text = spelled(sheet.temperature_coefficient, Dimension::PER_KELVIN);
            let _ = write!(keys, ", temperature_coefficient = \"{text}\"");
        }
        let rise_s = sheet.rise_s.or(pulled.then_some(LEAST_RISE_S));
        if rise_s.is_some() {
            let _ = write!(keys, ", resistance = \"{}\"", ohm(REFERENCE_OHM));
        }
        // It comes up with the input even where the driver is fed from another rail, or soft start
        // would be over before there is anything to start.
        let mut lines = vec![format!(
            "REF = {{ kind = \"reference\", output = \"ref\", ground = \"ground\", supply = \"input\", {keys} }}"
        )];
        if let Some(rise_s) = rise_s {
            // From 10 to 90 % of a single lag is ln 9 of its time constant.
            let farad = to_three_digits(rise_s / (9f64.ln() * REFERENCE_OHM));
            let farad = spelled(farad, Dimension::FARAD);
            lines.push(format!(
                "C_REF = {{ kind = \"capacitor\", nodes = [\"ref\", \"ground\"], capacitance = \"{farad}\", dielectric = \"C0G\" }}  # soft start"
            ));
        }
        if let (true, Some([on, off])) = (self.connected.enable, sheet.enable_v) {
            let (on, off, pulled) = (volt(on), volt(off), ohm(PULLED_OHM));
            lines.push(format!(
                "ENABLE = {{ kind = \"lock-out\", input = \"enable\", ground = \"ground\", pulls = \"ref\", to = \"ground\", starts_at = \"{on}\", stops_at = \"{off}\", on_resistance = \"{pulled}\" }}"
            ));
        }
        lines
    }

    fn divider(&self) -> Vec<String> {
        if matches!(self.sheet.level, Level::Reference(_)) {
            return Vec::new();
        }
        let bottom = self.at.reference_v / self.at.divider_a;
        let top = (self.at.output_v - self.at.reference_v) / self.at.divider_a;
        let line = |name: &str, nodes: [&str; 2], value: f64| {
            let value = spelled(to_six_digits(value), Dimension::OHM);
            format!(
                "{name} = {{ kind = \"resistor\", nodes = [\"{}\", \"{}\"], resistance = \"{value}\" }}",
                nodes[0], nodes[1]
            )
        };
        vec![
            line("R_TOP", [Self::REGULATED, "feedback"], top),
            line("R_BOT", ["feedback", "ground"], bottom),
        ]
    }

    /// The highest level that the amplifier's internal node is asked for.
    fn highest_v(&self) -> f64 {
        match self.sheet.topology {
            Topology::Pnp => PNP_SPAN_V,
            Topology::NmosBias => self.at.bias_v,
            _ => self.at.input_v,
        }
    }

    fn amplifier(&self) -> String {
        let sheet = self.sheet;
        let adjustable = matches!(sheet.level, Level::Reference(_));
        let sense = if adjustable { "adjust" } else { "feedback" };
        let inverting = if sheet.topology == Topology::Pmos { "reference" } else { "sense" };
        let slope = spelled(STAGE_SLOPE_S, Dimension::SIEMENS);
        // However little gain there is, the node must reach all levels that it may have to stand at.
        let reach = volt(to_three_digits(REACH * self.highest_v()));
        // g_m/(2π·bandwidth)
        let per_hertz = spelled(to_three_digits(STAGE_SLOPE_S / TAU), Dimension::SIEMENS);
        let mut keys = format!(
            "transconductance = \"{slope}\", stage_current = \"{slope} * max(stage_range, {reach} / dc_gain)\", stage_resistance = \"dc_gain / {slope}\", stage_capacitance = \"{per_hertz} / bandwidth\""
        );
        if sheet.compensation == Compensation::Lag {
            let _ = write!(
                keys,
                ", lag_resistance = \"mid_gain / {slope}\", lag_capacitance = \"lag_time * {slope} / mid_gain\""
            );
        }
        let (end, volts) = match sheet.topology {
            Topology::Pmos => ("swing_low", GATE_LOW_V),
            Topology::NmosBias => ("swing_high", GATE_HEADROOM_V),
            Topology::Npn | Topology::Darlington => ("swing_high", FOLLOWER_HEADROOM_V),
            // A tenth beyond all and below nothing it winds up.
            Topology::Pnp => ("ceiling", 1.1),
        };
        let _ = write!(keys, ", {end} = \"{}\"", volt(volts));
        keys += match sheet.topology {
            Topology::Pnp => {
                ", swing_low = \"-0.1 V\", stage = \"current\", direction = \"sink\", output_transconductance = \"drive_current / 1 V\", highest_current = \"drive_current\""
            }
            _ => ", output_resistance = \"driver_resistance\", drive_current = \"drive_current\"",
        };
        let divider_a = if adjustable { 0.0 } else { self.at.divider_a };
        let own_a = sheet.ground.no_load_a.map_or(0.0, |a| a - divider_a);
        if own_a > 0.0 {
            let _ = write!(keys, ", supply_current = \"{}\"", ampere(to_three_digits(own_a)));
        }
        format!(
            "EA = {{ kind = \"error-amplifier\", reference = \"ref\", sense = \"{sense}\", output = \"drive\", supply = \"{}\", ground = \"ground\", inverting = \"{inverting}\", {keys}, noise_density = \"reference_noise\", noise_corner = \"noise_corner\" }}",
            self.supply()
        )
    }

    fn pass(&self) -> Vec<String> {
        let to = self.passed();
        let bipolar = |name: &str, ends: [&str; 3], polarity: &str, last: bool| {
            let metal = if last { ", collector_resistance = \"collector_resistance\"" } else { "" };
            let [collector, base, emitter] = ends;
            format!(
                "{name} = {{ kind = \"bipolar\", collector = \"{collector}\", base = \"{base}\", emitter = \"{emitter}\", polarity = \"{polarity}\", saturation_current = \"saturation_current\", forward_gain = \"gain\", reverse_gain = \"{}\", early_voltage = \"early_voltage\"{metal}, transit_time = \"transit_time\", forward_gain_temperature_coefficient = \"{}\" }}",
                plain(REVERSE_GAIN),
                spelled(GAIN_PER_K, Dimension::PER_KELVIN)
            )
        };
        match self.sheet.topology {
            Topology::Pmos => vec![mosfet(["input", "drive", to], "p")],
            Topology::NmosBias => vec![mosfet([to, "drive", "input"], "n")],
            Topology::Pnp => vec![bipolar("Q", [to, "drive", "input"], "pnp", true)],
            Topology::Npn => vec![bipolar("Q", ["input", "drive", to], "npn", true)],
            Topology::Darlington => vec![
                bipolar("Q1", ["input", "drive", "middle"], "npn", false),
                bipolar("Q2", ["input", "middle", to], "npn", true),
                // A twentieth of the base current at the rated load, at 0.7 V: it turns Q2 off.
                format!(
                    "R_BE = {{ kind = \"resistor\", nodes = [\"middle\", \"{to}\"], resistance = \"14 V * gain / {}\" }}",
                    ampere(self.sheet.rated_current_a)
                ),
            ],
        }
    }

    /// At the limit the driver gives all it can, and steering must take away that much: it begins
    /// `LIMIT_EXCESS` below the sheet's figure.
    fn limit(&self) -> Option<String> {
        let limit = self.sheet.limit?;
        let begins = |a: f64| ampere(to_three_digits(a / (1.0 + LIMIT_EXCESS)));
        let (from, to) = match self.sheet.topology {
            Topology::Pmos | Topology::Pnp => ("input", "drive"),
            _ => ("drive", Self::REGULATED),
        };
        let fold = limit.short_a.zip(limit.fold_v).map_or_else(String::new, |(short, fold)| {
            format!(", short_current = \"{}\", fold_voltage = \"{}\"", begins(short), volt(fold))
        });
        let sense = spelled(to_three_digits(SENSE_DROP_V / limit.limit_a), Dimension::OHM);
        let excess = ampere(to_three_digits(limit.limit_a * LIMIT_EXCESS / (1.0 + LIMIT_EXCESS)));
        Some(format!(
            "LIMIT = {{ kind = \"current-limit\", input = \"passed\", output = \"{}\", ground = \"ground\", from = \"{from}\", to = \"{to}\", resistance = \"{sense}\", limit = \"{}\"{fold}, steepness = \"drive_current / {excess}\", highest_current = \"2 * drive_current\", response_time = \"10 ns\" }}",
            Self::REGULATED,
            begins(limit.limit_a)
        ))
    }

    /// Ground current that grows with load; that of a pnp is its base current.
    fn ground_current(&self) -> Option<String> {
        if self.sheet.topology == Topology::Pnp {
            return None;
        }
        let ground = self.sheet.ground;
        let grown_a = ground.full_load_a? - ground.no_load_a.unwrap_or(0.0);
        let share = plain(to_three_digits(grown_a / self.sheet.rated_current_a));
        (grown_a > 0.0).then(|| {
            format!(
                "G_LOAD = {{ kind = \"controlled-current-source\", nodes = [\"{}\", \"ground\"], input = [\"{}\", \"output\"], transconductance = \"{share} / lead_resistance\" }}",
                self.supply(),
                Self::REGULATED
            )
        })
    }

    fn heat(&self) -> Vec<String> {
        let Some(all) = self.sheet.thermal_resistance else { return Vec::new() };
        let heated = match self.sheet.topology {
            Topology::Darlington => "parts = [\"Q1\", \"Q2\"]",
            _ => "part = \"Q\"",
        };
        let stage = |(share, tau_s): (f64, f64)| {
            let resistance = spelled(to_three_digits(share * all), Dimension::KELVIN_PER_WATT);
            format!("[\"{resistance}\", \"{}\"]", spelled(tau_s, Dimension::SECOND))
        };
        let stages = HEAT_STAGES.map(stage).join(", ");
        let mut lines =
            vec![format!("HEAT = {{ kind = \"heat-path\", {heated}, foster = [{stages}] }}")];
        if let Some(shutdown) = self.sheet.shutdown {
            let [trips, restarts] =
                [shutdown.trips_k, shutdown.restarts_k].map(|k| spelled(k, Dimension::KELVIN));
            lines.push(format!(
                "SHUTDOWN = {{ kind = \"thermal-shutdown\", path = \"HEAT\", pulls = \"ref\", to = \"ground\", trips_at = \"{trips}\", releases_at = \"{restarts}\", on_resistance = \"{}\" }}",
                ohm(PULLED_OHM)
            ));
        }
        lines
    }
}

/// Coefficients of temperature, body diode and share of the gate's capacitance that goes to the drain:
/// common practice, no source.
fn mosfet([source, gate, drain]: [&str; 3], channel: &str) -> String {
    format!(
        "Q = {{ kind = \"mosfet\", source = \"{source}\", gate = \"{gate}\", drain = \"{drain}\", channel = \"{channel}\", threshold = \"threshold\", threshold_temperature_coefficient = \"-1 mV/K\", transconductance = \"strength\", slope_factor = \"{}\", output_slope = \"output_slope\", gate_source_capacitance = \"gate_capacitance\", gate_drain_capacitance = \"0.15 * gate_capacitance\", series_resistance = \"metal_resistance\", series_resistance_temperature_coefficient = \"0.4 %/K\", body_diode = {{ saturation_current = \"10 pA\" }} }}",
        plain(SLOPE_FACTOR)
    )
}

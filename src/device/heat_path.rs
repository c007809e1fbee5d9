//! Heat path: from the junction of heated parts over a ladder to ambient or a common heat sink.
//!
//! Temperature stands for voltage and heat flow for current, so the ladder is laid with the same
//! elements; its unknowns are kelvins above ambient.

use super::row::{absent, quantity};
use super::{
    Form, GROUND, HeatPath, Key, Kind, Need, Net, Parameters, Pin, Range, Rule, Terminals,
};
use crate::device::Drive;
use crate::quantity::Dimension;

/// Kinds whose parts a heat path may name.
pub const HEATED_KINDS: [&str; 6] =
    ["bipolar", "mosfet", "diode", "zener", "resistor", "adjustable-shunt"];

const fn kelvin(name: &'static str, text: &'static str) -> Key {
    quantity(name, Dimension::KELVIN, Range::AboveAbsoluteZero, Need::Absent, text)
}

/// `heat-path`
pub(super) static HEAT_PATH: Kind = Kind {
    name: "heat-path",
    summary: "the way of heat from a junction to ambient",
    terminals: Terminals::Named(&[]),
    keys: &[
        absent(
            "part",
            Form::Part,
            "the part whose power flows in and whose temperature it sets: a bipolar, mosfet, diode, zener, \
             resistor or adjustable-shunt",
        ),
        absent("parts", Form::Parts, "several such parts, all at one junction temperature"),
        absent(
            "foster",
            Form::Pairs(
                (Dimension::KELVIN_PER_WATT, Range::Positive),
                (Dimension::SECOND, Range::Positive),
            ),
            "stages of thermal resistance and time constant, as a thermal impedance curve is fitted",
        ),
        absent(
            "cauer",
            Form::Pairs(
                (Dimension::KELVIN_PER_WATT, Range::Positive),
                (Dimension::JOULE_PER_KELVIN, Range::Positive),
            ),
            "stages of thermal resistance and heat capacity, junction first: the capacity from each \
             node to ambient, the resistance on to the next",
        ),
        absent(
            "sink",
            Form::Part,
            "a heat path into whose junction this one ends, such as a common heat sink; ambient \
             when absent",
        ),
        kelvin(
            "ambient",
            "temperature around it; `rail.ambient` when absent, the sink's with `sink`",
        ),
        kelvin("held_at", "holds the junction at this temperature, as a short pulse would"),
        kelvin(
            "initial",
            "junction temperature at t = 0, spread over the stages as after a long time at constant \
             power, read only with start = \"initial-values\"; when absent, taken from the operating \
             point",
        ),
        kelvin("rated_temperature", "highest junction temperature allowed"),
    ],
    rules: &[
        Rule::AtMostOne(&["part", "parts"]),
        Rule::ExactlyOne(&["foster", "cauer"]),
        Rule::AtMostOne(&["sink", "ambient"]),
    ],
    law: "ΣP = Σ(heat through the first stage); foster: each stage R·i_R = T(a) - T(b), i_C = \
          (time constant/R)·d(T(a) - T(b))/dt, i_R + i_C the same in all; cauer: C·dT/dt at each \
          node, (T(a) - T(b))/R between neighbours; P of a part is the sum of voltage times current \
          over its currents (series resistances too, charges not); its parameters follow T at \
          every instant, by the laws of its kind. Small signals take part: below the corner of \
          the ladder a loop gain holds the feedback by heat as well",
    noise: "none",
    source: "Foster and Cauer ladders: common practice, no source; step response \
             P·R·(1 - e^(-t/τ)): JEDEC JESD51 (terms; the formula from memory)",
    example: r#"H1 = { kind = "heat-path", part = "Q1", foster = [["2 K/W", "1 ms"], ["30 K/W", "20 s"]], rated_temperature = "150 °C" }"#,
    lay: lay_heat_path,
};

fn lay_heat_path(p: &Parameters, _: &[Pin], net: &mut Net) {
    let named = |key: &str| p.names.get(key).into_iter().flatten().cloned();
    let sink = named("sink").next().and_then(|name| net.heat_path(&name));
    let beyond = sink.and_then(|at| net.heat_paths.get(at)).cloned();
    let ambient_k = p.optional("ambient").unwrap_or(p.temperature_k);
    // Heat that goes where a temperature is held goes to an ambient of that temperature.
    let held_beyond_k = beyond.as_ref().and_then(|path| path.held_k);
    let ambient_k =
        beyond.as_ref().map_or(ambient_k, |path| held_beyond_k.unwrap_or(path.ambient_k));
    let stages: Vec<[f64; 2]> =
        ["foster", "cauer"].iter().filter_map(|key| p.curves.get(key)).flatten().copied().collect();
    let own: f64 = stages.iter().map(|[ohm, _]| ohm).sum();
    let held_k = p.optional("held_at");
    let free = beyond.as_ref().filter(|_| held_beyond_k.is_none());
    let base_rise_k = free.and_then(|path| path.initial_rise_k).unwrap_or(0.0);
    let initial_rise_k = p.optional("initial").map(|kelvin| kelvin - ambient_k);
    let junction = net.temperature("junction");
    let end = free.map_or(GROUND, |path| path.junction);
    let ladder = Ladder {
        stages: &stages,
        junction,
        end: at(end),
        rises: initial_rise_k.map(|rise| (base_rise_k, rise - base_rise_k)),
        own,
    };
    match held_k {
        Some(kelvin) => hold(net, junction, kelvin - ambient_k),
        None if p.curves.contains_key("foster") => ladder.foster(net),
        None => ladder.cauer(net),
    }
    let part = net.parts.len().saturating_sub(1);
    net.heat_paths.push(HeatPath {
        part,
        junction,
        ambient_k,
        rated_k: p.optional("rated_temperature"),
        resistance_k_per_w: own + free.map_or(0.0, |path| path.resistance_k_per_w),
        heated: named("part").chain(named("parts")).collect(),
        sink,
        held_k,
        initial_rise_k,
    });
}

fn at(unknown: usize) -> Pin {
    Pin { unknown, terminal: None }
}

/// A junction at a constant rise: a heat flow of so many W over 1 K/W.
fn hold(net: &mut Net, junction: usize, rise_k: f64) {
    let pins = [at(GROUND), at(junction)];
    net.conductance(pins, 1.0);
    let drive = net.drive(Drive::constant(rise_k));
    net.source(pins, drive);
}

struct Ladder<'a> {
    /// K/W, and s or J/K.
    stages: &'a [[f64; 2]],
    junction: usize,
    end: Pin,
    /// K at t = 0 where it ends, and from there to the junction.
    rises: Option<(f64, f64)>,
    /// K/W of all stages.
    own: f64,
}

impl Ladder<'_> {
    /// Lays each stage between its two nodes, the junction's first.
    fn each(&self, net: &mut Net, mut lay: impl FnMut(&mut Net, [Pin; 2], usize)) {
        let mut from = at(self.junction);
        for k in 0..self.stages.len() {
            let last = k + 1 == self.stages.len();
            let to = if last { self.end } else { at(net.temperature(&format!("stage_{}", k + 2))) };
            lay(net, [from, to], k);
            from = to;
        }
    }

    fn foster(&self, net: &mut Net) {
        self.each(net, |net, pins, k| {
            let [resistance, tau_s] = self.stages[k];
            let initial = self.rises.map(|(_, rise)| rise * resistance / self.own);
            net.conductance(pins, 1.0 / resistance);
            net.capacitance(pins, tau_s / resistance, initial);
        });
    }

    fn cauer(&self, net: &mut Net) {
        self.each(net, |net, pins, k| {
            let [resistance, joule_per_k] = self.stages[k];
            let onward: f64 = self.stages[k..].iter().map(|[ohm, _]| ohm).sum();
            let initial = self.rises.map(|(base, rise)| base + rise * onward / self.own);
            net.conductance(pins, 1.0 / resistance);
            net.capacitance([pins[0], at(GROUND)], joule_per_k, initial);
        });
    }
}

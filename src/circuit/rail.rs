//! The `[rail]` section: what the regulator is for, and which parts play which role.

use super::formula::Formula;
use super::nodes::{GND, NodeUses};
use super::part::Part;
use super::regulator::Regulator;
use super::roles::{Roles, check_node};
use super::values::{AMBIENT, Figures, NOMINAL, ROOT, Values};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::document::{Node, Reader, Table, Word};
use crate::quantity::{Dimension, Program};

/// The rail as written.
#[derive(Clone, Debug, PartialEq)]
pub struct Rail {
    /// Where it is described.
    pub span: Span,
    /// Node at the regulator's input pin.
    pub input: Option<Word>,
    /// Node the load sees.
    pub output: Option<Word>,
    /// Reference of both; `gnd` if not given.
    pub ground: String,
    /// Whether a nominal output voltage is given.
    pub has_nominal: bool,
    /// Window for settled levels.
    pub window: Option<Window>,
    /// Window for every instant; that for settled levels if not given.
    pub transient_window: Option<Window>,
    /// The voltage source that line steps drive.
    pub source: Option<Word>,
    /// Further inputs counted in efficiency and ground current.
    pub supplies: Vec<Word>,
    /// The part that load steps drive.
    pub load: Option<Word>,
    /// The regulating devices.
    pub pass: Vec<Word>,
    /// The error amplifiers, if named.
    pub amplifier: Vec<Word>,
    /// Capacitors at the output, if named.
    pub output_capacitors: Option<Vec<Word>>,
    /// Capacitors at the input, if named.
    pub input_capacitors: Option<Vec<Word>>,
    /// `PART.terminal` where the loop is opened.
    pub feedback: Option<Word>,
}

/// A window around or of the output voltage.
#[derive(Clone, Debug, PartialEq)]
pub enum Window {
    /// A fraction of the nominal voltage, both ways.
    Fraction(Program, Span),
    /// Lowest and highest voltage.
    Limits(Program, Program, Span),
}

/// The rail worked out for one variant.
#[derive(Clone, Debug, PartialEq)]
pub struct RailFigures {
    /// Node at the regulator's input pin.
    pub input: Option<String>,
    /// Node the load sees.
    pub output: Option<String>,
    /// Reference of both.
    pub ground: String,
    /// Nominal output voltage in V.
    pub nominal_v: Option<f64>,
    /// Lowest and highest settled level in V.
    pub window: Option<[f64; 2]>,
    /// Lowest and highest voltage at any instant in V.
    pub transient_window: Option<[f64; 2]>,
    /// The voltage source that line steps drive.
    pub source: Option<String>,
    /// Further inputs.
    pub supplies: Vec<String>,
    /// The part that load steps drive.
    pub load: Option<String>,
    /// The regulating devices.
    pub pass: Vec<String>,
    /// The error amplifiers; the only one of the circuit if none is named.
    pub amplifier: Vec<String>,
    /// Capacitors at the output; all from there to ground if none is named.
    pub output_capacitors: Vec<String>,
    /// Capacitors at the input; all from there to ground if none is named.
    pub input_capacitors: Vec<String>,
    /// `PART.terminal` where the loop is opened.
    pub feedback: Option<String>,
    /// Ambient temperature in K.
    pub ambient_k: f64,
}

/// Nodes of the rail that name quantities, to be compiled when the values are settled.
pub(super) struct RailDraft {
    pub(super) rail: Rail,
    ground: Option<Word>,
    window: Option<Node>,
    transient_window: Option<Node>,
}

pub(super) const CAPACITOR: &str = "capacitor";
pub(super) const AMPLIFIERS: [&str; 3] =
    ["error-amplifier", "operational-amplifier", "transconductor"];

/// Reads the section; the nominal voltage and the ambient temperature become values.
pub(super) fn read_rail(
    table: &Table,
    span: Span,
    values: &mut Values,
    told: &mut Diagnostics,
) -> RailDraft {
    let mut reader = Reader::new(table, "`[rail]`", span, told);
    let input = reader.text("input");
    let output = reader.text("output");
    let ground = reader.text("ground");
    let nominal = match output {
        Some(_) => reader.required("nominal", "\"3.3 V\""),
        None => reader.node("nominal"),
    };
    let ambient = reader.node("ambient");
    let rail = Rail {
        span,
        input,
        output,
        ground: ground.as_ref().map_or(GND.to_owned(), |word| word.text.clone()),
        has_nominal: nominal.is_some(),
        window: None,
        transient_window: None,
        source: reader.text("source"),
        supplies: reader.names("supplies").unwrap_or_default(),
        load: reader.text("load"),
        pass: reader.names("pass").unwrap_or_default(),
        amplifier: reader.names("amplifier").unwrap_or_default(),
        output_capacitors: reader.names("output_capacitors"),
        input_capacitors: reader.names("input_capacitors"),
        feedback: reader.text("feedback"),
    };
    let window = reader.node("window").cloned();
    let transient_window = reader.node("transient_window").cloned();
    for (slot, key, node) in [(NOMINAL, "nominal", nominal), (AMBIENT, "ambient", ambient)] {
        if let Some(node) = node {
            let formula = match Formula::read(key, node) {
                Ok(formula) => Some(formula),
                Err(mistake) => {
                    reader.diagnostics().push(mistake);
                    None
                }
            };
            values.give_rail(slot, node.span, formula);
        }
    }
    reader.finish();
    RailDraft { rail, ground, window, transient_window }
}

impl RailDraft {
    /// Puts the parts that play a role inside a regulator in the place of its name.
    pub(super) fn look_inside(mut self, regulators: &[Regulator]) -> Self {
        let look = |words: &mut Vec<Word>, parts: fn(&Regulator) -> Vec<String>| {
            let inside = |word: &Word| match regulators.iter().find(|r| r.name == word.text) {
                None => vec![word.clone()],
                Some(found) => {
                    let named = |text| Word { text, span: word.span };
                    parts(found).into_iter().map(named).collect()
                }
            };
            *words = words.iter().flat_map(inside).collect();
        };
        look(&mut self.rail.pass, Regulator::pass_devices);
        look(&mut self.rail.amplifier, |regulator| vec![regulator.amplifier()]);
        self
    }

    /// Compiles the windows and checks that nodes and parts are there and of the right kind.
    pub(super) fn finish(
        mut self,
        values: &Values,
        nodes: &NodeUses,
        parts: &[Part],
        unread: &[String],
        told: &mut Diagnostics,
    ) -> Rail {
        self.rail.window = self.window.and_then(|node| read_window("window", &node, values, told));
        self.rail.transient_window = self
            .transient_window
            .and_then(|node| read_window("transient_window", &node, values, told));
        let fraction = [&self.rail.window, &self.rail.transient_window]
            .into_iter()
            .find_map(|w| if let Some(Window::Fraction(_, span)) = w { Some(*span) } else { None });
        if let (Some(span), false, None) = (fraction, self.rail.has_nominal, &self.rail.output) {
            let message = "a window in per cent needs `nominal`";
            told.push(
                Diagnostic::error(span, message)
                    .hint("add `nominal = \"…\"`, or write `[low, high]`"),
            );
        }
        for word in self.rail.input.iter().chain(&self.rail.output).chain(&self.ground) {
            check_node(word, nodes, told);
        }
        let roles = Roles { parts, unread };
        roles.check(&self.rail, told);
        self.rail
    }
}

/// A fraction, or `[low, high]` in V.
pub(super) fn read_window(
    key: &str,
    node: &Node,
    values: &Values,
    told: &mut Diagnostics,
) -> Option<Window> {
    let hint = format!("write `{key} = \"2 %\"` or `{key} = [\"2.7 V\", \"2.9 V\"]`");
    let mut program = |node: &Node, unit| match Formula::read(key, node) {
        Ok(formula) => values.compile(&formula, ROOT, unit, told),
        Err(mistake) => {
            told.push(mistake);
            None
        }
    };
    match node.as_array() {
        None => {
            let fraction = program(node, None)?;
            if fraction.dimension().is_none() {
                return Some(Window::Fraction(fraction, node.span));
            }
            let message = format!(
                "`{key}` is a fraction of the nominal voltage or two voltages, but this is {}",
                fraction.dimension().words()
            );
            told.push(Diagnostic::error(node.content_span(), message).hint(hint));
            None
        }
        Some([low, high]) => {
            let volt = Some(Dimension::VOLT);
            let (low, high) = (program(low, volt), program(high, volt));
            Some(Window::Limits(low?, high?, node.span))
        }
        Some(_) => {
            let message =
                format!("`{key}` should be a fraction, or the lowest and the highest voltage");
            told.push(Diagnostic::error(node.span, message).hint(hint));
            None
        }
    }
}

impl Window {
    /// Its limits in V; what is impossible is recorded.
    pub(super) fn limits(&self, figures: &Figures, told: &mut Diagnostics) -> Option<[f64; 2]> {
        match self {
            Window::Fraction(program, span) => {
                let fraction = figures.get(program)?;
                let nominal = figures.is_known(NOMINAL).then(|| figures.numbers[NOMINAL])?;
                if !(fraction > 0.0 && fraction < 1.0) {
                    let message = "a window must lie between 0 and 100 % of the nominal voltage";
                    told.push(Diagnostic::error(*span, message).hint("write it as `\"2 %\"`"));
                    return None;
                }
                let ends = [nominal * (1.0 - fraction), nominal * (1.0 + fraction)];
                Some([ends[0].min(ends[1]), ends[0].max(ends[1])])
            }
            Window::Limits(low, high, span) => {
                let limits = [figures.get(low)?, figures.get(high)?];
                if limits[0] >= limits[1] || limits.iter().any(|v| v.is_nan()) {
                    let message = "a window must go from the lower to the higher voltage";
                    told.push(
                        Diagnostic::error(*span, message)
                            .hint("swap the two ends, if they are meant so"),
                    );
                    return None;
                }
                Some(limits)
            }
        }
    }
}

impl Rail {
    /// The rail for one variant.
    pub(super) fn figures(
        &self,
        figures: &Figures,
        parts: &[Part],
        told: &mut Diagnostics,
    ) -> RailFigures {
        let texts = |words: &[Word]| words.iter().map(|w| w.text.clone()).collect::<Vec<_>>();
        let text = |word: &Option<Word>| word.as_ref().map(|w| w.text.clone());
        let window = self.window.as_ref().and_then(|w| w.limits(figures, told));
        let transient = self.transient_window.as_ref().and_then(|w| w.limits(figures, told));
        let own = |kinds: &'static [&'static str]| {
            parts.iter().filter(move |p| kinds.contains(&p.kind.name) && !p.unused)
        };
        let amplifier = if self.amplifier.is_empty() {
            let all: Vec<String> = own(&AMPLIFIERS).map(|p| p.name.clone()).collect();
            if all.len() == 1 { all } else { Vec::new() }
        } else {
            texts(&self.amplifier)
        };
        let bank = |named: &Option<Vec<Word>>, node: &Option<Word>| match (named, node) {
            (Some(words), _) => texts(words),
            (None, None) => Vec::new(),
            (None, Some(node)) => {
                let ends = [&node.text, &self.ground];
                let across = |p: &&Part| ends.iter().all(|end| p.nodes.contains(end));
                own(&[CAPACITOR]).filter(across).map(|p| p.name.clone()).collect()
            }
        };
        RailFigures {
            input: text(&self.input),
            output: text(&self.output),
            ground: self.ground.clone(),
            nominal_v: (self.has_nominal && figures.is_known(NOMINAL))
                .then(|| figures.numbers[NOMINAL]),
            window,
            transient_window: transient.or(window),
            source: text(&self.source),
            supplies: texts(&self.supplies),
            load: text(&self.load),
            pass: texts(&self.pass),
            amplifier,
            output_capacitors: bank(&self.output_capacitors, &self.output),
            input_capacitors: bank(&self.input_capacitors, &self.input),
            feedback: text(&self.feedback),
            ambient_k: figures.numbers[AMBIENT],
        }
    }
}

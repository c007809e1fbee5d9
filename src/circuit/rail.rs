//! The rail: what the regulator is for, and which parts play which role.

use super::part::Part;
use super::values::{AMBIENT, Figures, NOMINAL};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::document::Word;
use crate::quantity::Program;

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

impl RailFigures {
    /// 1, or −1 for a negative rail: down is towards 0 V.
    pub fn sense(&self) -> f64 {
        self.nominal_v.map_or(1.0, f64::signum)
    }
}

pub(super) const CAPACITOR: &str = "capacitor";
pub(super) const AMPLIFIERS: [&str; 3] =
    ["error-amplifier", "operational-amplifier", "transconductor"];

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

//! The points of a datasheet: what each asks, on which test of the bench it is read, and how far a
//! figure found there lies from it.

use crate::circuit::regulator::{At, Datasheet, Topology};
use crate::diagnostic::Span;
use crate::quantity::Dimension;
use crate::study::spell::quantity_text;

/// By how much a model may differ where the sheet does not say, as a share: what curves and typical
/// figures of a datasheet are usually good to (common practice, no source).
pub const WITHIN: f64 = 0.10;
/// The same for rejections, dB.
pub const WITHIN_DB: f64 = 3.0;
/// The same for dropouts and currents into ground, which a model has parameters of its own for.
pub const WITHIN_STATIC: f64 = 0.05;
/// A figure farther from what is asked than this factor counts as so far.
const FARTHEST: f64 = 1000.0;
/// The same in dB.
const FARTHEST_DB: f64 = 200.0;

/// How a figure is held against what is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Within {
    /// A share: the logarithm of the ratio counts.
    Share(f64),
    /// dB: the difference counts.
    Decibel(f64),
}

/// One figure of a datasheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Which row of which list: `transients` and 1.
    pub row: (&'static str, usize),
    /// The measurement that it is: `droop`.
    pub measurement: &'static str,
    /// Under what conditions, in words.
    pub condition: String,
    /// Its unit.
    pub unit: Dimension,
    /// What the sheet says, SI.
    pub asked: f64,
    /// By how much a model may differ.
    pub within: Within,
    /// The test of the bench that it is read on.
    pub test: usize,
    /// Where the sheet says so; `None` for figures that stand alone.
    pub span: Option<Span>,
}

impl Point {
    /// `droop of row 2 of transients`, or `ground_current at full load`.
    pub fn words(&self) -> String {
        let (list, row) = self.row;
        match row {
            0 => format!("`{list}`"),
            _ => format!("{} of row {row} of `{list}`", self.measurement),
        }
    }

    /// How far a figure lies off, over what it may: 1 at the edge of what is accepted.
    pub fn residual(&self, got: f64) -> f64 {
        match self.within {
            Within::Share(share) => {
                let ratio = (got / self.asked).clamp(1.0 / FARTHEST, FARTHEST);
                ratio.ln() / share.ln_1p()
            }
            Within::Decibel(db) => (got - self.asked).clamp(-FARTHEST_DB, FARTHEST_DB) / db,
        }
    }

    /// The lowest and the highest figure that is accepted.
    pub fn accepted(&self) -> [f64; 2] {
        match self.within {
            Within::Share(share) => [self.asked / (1.0 + share), self.asked * (1.0 + share)],
            Within::Decibel(db) => [self.asked - db, self.asked + db],
        }
    }

    /// A figure in its unit.
    pub fn text(&self, value: f64) -> String {
        quantity_text(value, self.unit)
    }
}

/// A test of the bench: its table as text, and what is read on it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    /// Without `name` and `kind`'s values: the keys of the test, a line each.
    pub(super) keys: Vec<String>,
    pub(super) name: String,
    pub(super) kind: &'static str,
    pub(super) at: At,
    /// Whether a capacitor that nothing is known of matters to it.
    pub(super) moves: bool,
    pub(super) reads: Vec<Read>,
    /// Further requirements, a line each, which no model is fitted to.
    pub(super) further: Vec<String>,
}

/// A figure that is read on a test, with the options of its requirement.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Read {
    pub(super) measurement: &'static str,
    pub(super) option: Option<String>,
    pub(super) unit: Dimension,
    pub(super) asked: f64,
    pub(super) within: Within,
    pub(super) row: (&'static str, usize),
    pub(super) condition: String,
    pub(super) span: Option<Span>,
}

/// Text of a quantity in quotes.
pub(super) fn quoted(value: f64, unit: Dimension) -> String {
    format!("\"{}\"", quantity_text(value, unit))
}

fn volt(value: f64) -> String {
    quantity_text(value, Dimension::VOLT)
}

fn ampere(value: f64) -> String {
    quantity_text(value, Dimension::AMPERE)
}

fn second(value: f64) -> String {
    quantity_text(value, Dimension::SECOND)
}

fn hertz(value: f64) -> String {
    quantity_text(value, Dimension::HERTZ)
}

/// Everything that a datasheet asks, as tests of the bench. `nominal_v` is the output there.
pub(super) fn rows(sheet: &Datasheet, nominal_v: f64) -> Vec<Row> {
    let mut rows = transients(sheet);
    rows.extend(dropouts(sheet));
    rows.extend(ground_currents(sheet, nominal_v));
    rows.extend(regulations(sheet));
    rows.extend(frequencies(sheet));
    rows.extend(noises(sheet));
    rows.extend(recommended(sheet));
    rows
}

/// The least load at which stability is looked at, over the rated current.
const LEAST_LOAD: f64 = 1e-3;

/// Loop gain at the ends of what the sheet recommends as output capacitor.
fn recommended(sheet: &Datasheet) -> Vec<Row> {
    if sheet.capacitor_f.is_none() && sheet.esr_ohm.is_none() {
        return Vec::new();
    }
    let ends = |range: Option<[f64; 2]>| -> Vec<Option<f64>> {
        let mut ends = range.map_or_else(|| vec![None], |ends| ends.map(Some).to_vec());
        ends.dedup();
        ends
    };
    let pairs = ends(sheet.capacitor_f)
        .into_iter()
        .flat_map(|farad| ends(sheet.esr_ohm).into_iter().map(move |ohm| (farad, ohm)));
    let row = |(farad, ohm): (Option<f64>, Option<f64>)| {
        let farads = farad.map(|c| quantity_text(c, Dimension::FARAD));
        let ohms = ohm.map(|r| quantity_text(r, Dimension::OHM));
        let with: Vec<String> = farads.into_iter().chain(ohms).collect();
        let loads =
            [LEAST_LOAD, 1.0].map(|share| quoted(share * sheet.rated_current_a, Dimension::AMPERE));
        Row {
            keys: vec![format!("load_levels = [{}]", loads.join(", "))],
            name: format!("stable with {}", with.join(" and ")),
            kind: "loop-gain",
            at: At { capacitor_f: farad, esr_ohm: ohm, ..At::default() },
            moves: false,
            reads: Vec::new(),
            further: vec!["phase_margin = \">= 0 deg\"".to_owned()],
        }
    };
    pairs.map(row).collect()
}

/// A record is at least this long, s: what slow compensations take to settle.
const HOLD_S: f64 = 5e-3;
/// In recovery times, and in edges.
const HOLD_RECOVERIES: f64 = 20.0;
const HOLD_EDGES: f64 = 50.0;
/// After the way back, as a share of that: an overshoot comes at once.
const SETTLE: f64 = 0.25;
/// The error that a droop or overshoot is solved to, as a share of it: slopes take differences of
/// two in a hundred.
const FINENESS: f64 = 5e-4;
/// The same in V at the least and at the most.
const FINEST_V: f64 = 2e-6;
const COARSEST_V: f64 = 50e-6;

fn transients(sheet: &Datasheet) -> Vec<Row> {
    let row = |(k, t): (usize, &crate::circuit::regulator::Transient)| {
        let within = Within::Share(t.within.unwrap_or(WITHIN));
        let condition =
            format!("{} to {} in {}", ampere(t.from_a), ampere(t.to_a), second(t.edge_s));
        let read = |measurement, unit, asked, option| Read {
            measurement,
            option,
            unit,
            asked,
            within,
            row: ("transients", k + 1),
            condition: condition.clone(),
            span: Some(t.span),
        };
        let mut reads = Vec::new();
        reads.extend(t.droop_v.map(|v| read("droop", Dimension::VOLT, v, None)));
        reads.extend(t.overshoot_v.map(|v| read("overshoot", Dimension::VOLT, v, None)));
        reads.extend(t.recovery.map(|r| {
            let band = format!("band = \"{:.6} %\"", 100.0 * r.band);
            read("recovery", Dimension::SECOND, r.time_s, Some(band))
        }));
        let recovery_s = t.recovery.map_or(0.0, |r| r.time_s);
        let hold_s = HOLD_S.max(HOLD_RECOVERIES * recovery_s).max(HOLD_EDGES * t.edge_s);
        let size = [t.droop_v, t.overshoot_v].into_iter().flatten().fold(f64::INFINITY, f64::min);
        let accuracy_v = (FINENESS * size).clamp(FINEST_V, COARSEST_V);
        let keys = vec![
            format!("from = {}", quoted(t.from_a, Dimension::AMPERE)),
            format!("to = {}", quoted(t.to_a, Dimension::AMPERE)),
            format!("edge = {}", quoted(t.edge_s, Dimension::SECOND)),
            format!("hold = {}", quoted(hold_s, Dimension::SECOND)),
            format!("settle = {}", quoted(SETTLE * hold_s, Dimension::SECOND)),
            format!("accuracy = {}", quoted(accuracy_v, Dimension::VOLT)),
        ];
        let name = format!("transients {}", k + 1);
        Row { keys, name, kind: "load-step", at: t.at, moves: true, reads, further: Vec::new() }
    };
    sheet.transients.iter().enumerate().map(row).filter(|row| !row.reads.is_empty()).collect()
}

/// Levels of a dropout test: what a definition asks for is solved for between two of them.
const DROPOUT_POINTS: usize = 16;
/// Its reference is taken so far above the dropout that is asked, V.
const REFERENCE_HEADROOM_V: f64 = 1.0;

fn dropouts(sheet: &Datasheet) -> Vec<Row> {
    let row = |(k, d): (usize, &crate::circuit::regulator::Dropout)| {
        let headroom_v = REFERENCE_HEADROOM_V + d.dropout_v;
        let read = Read {
            measurement: "dropout",
            option: Some(format!("definition = \"{}\"", d.definition)),
            unit: Dimension::VOLT,
            asked: d.dropout_v,
            within: Within::Share(d.within.unwrap_or(WITHIN_STATIC)),
            row: ("dropouts", k + 1),
            condition: format!("{}, {}", ampere(d.current_a), d.definition),
            span: Some(d.span),
        };
        Row {
            keys: vec![
                format!("load_level = {}", quoted(d.current_a, Dimension::AMPERE)),
                format!("points = {DROPOUT_POINTS}"),
                format!("reference_headroom = {}", quoted(headroom_v, Dimension::VOLT)),
            ],
            name: format!("dropouts {}", k + 1),
            kind: "dropout",
            at: At::default(),
            moves: false,
            reads: vec![read],
            further: Vec::new(),
        }
    };
    sheet.dropouts.iter().enumerate().map(row).collect()
}

fn ground_currents(sheet: &Datasheet, nominal_v: f64) -> Vec<Row> {
    let full = sheet.rated_current_a;
    let dropping = At { input_v: Some(nominal_v), ..At::default() };
    // Only a pnp's driver gives more in dropout than in regulation; of others it is left out, and told.
    let in_dropout_a = sheet.ground.in_dropout_a.filter(|_| sheet.topology == Topology::Pnp);
    let three = [
        ("quiescent_current", sheet.ground.no_load_a, 0.0, At::default(), "without load"),
        ("ground_current", sheet.ground.full_load_a, full, At::default(), "at the rated current"),
        ("ground_current_in_dropout", in_dropout_a, full, dropping, "in dropout"),
    ];
    let row = |(key, asked, load_a, at, words): (&'static str, Option<f64>, f64, At, &str)| {
        let read = Read {
            measurement: "ground_current",
            option: None,
            unit: Dimension::AMPERE,
            asked: asked.filter(|a| *a > 0.0)?,
            within: Within::Share(WITHIN_STATIC),
            row: (key, 0),
            condition: words.to_owned(),
            span: None,
        };
        Some(Row {
            keys: vec![format!("load_level = {}", quoted(load_a, Dimension::AMPERE))],
            name: key.replace('_', " "),
            kind: "operating-point",
            at,
            moves: false,
            reads: vec![read],
            further: Vec::new(),
        })
    };
    three.into_iter().filter_map(row).collect()
}

/// Levels of a regulation test; both ends are what is asked for.
const REGULATION_POINTS: usize = 3;

fn regulations(sheet: &Datasheet) -> Vec<Row> {
    let ends = |from, to, unit| {
        vec![
            format!("from = {}", quoted(from, unit)),
            format!("to = {}", quoted(to, unit)),
            format!("points = {REGULATION_POINTS}"),
        ]
    };
    let row = |name: String, kind, at, keys, read| Row {
        keys,
        name,
        kind,
        at,
        moves: false,
        reads: vec![read],
        further: Vec::new(),
    };
    let by_load = sheet.load_regulations.iter().enumerate().map(|(k, r)| {
        let read = Read {
            measurement: "load_regulation",
            option: None,
            unit: Dimension::VOLT,
            asked: r.change_v,
            within: Within::Share(r.within.unwrap_or(WITHIN)),
            row: ("load_regulations", k + 1),
            condition: format!("{} to {}", ampere(r.from_a), ampere(r.to_a)),
            span: Some(r.span),
        };
        let mut keys = ends(r.from_a, r.to_a, Dimension::AMPERE);
        keys.push(format!("load_level = {}", quoted(r.from_a, Dimension::AMPERE)));
        row(format!("load regulations {}", k + 1), "load-regulation", r.at, keys, read)
    });
    let by_line = sheet.line_regulations.iter().enumerate().map(|(k, r)| {
        let read = Read {
            measurement: "line_regulation",
            option: None,
            unit: Dimension::VOLT,
            asked: r.change_v,
            within: Within::Share(r.within.unwrap_or(WITHIN)),
            row: ("line_regulations", k + 1),
            condition: format!("{} to {}, {}", volt(r.from_v), volt(r.to_v), ampere(r.load_a)),
            span: Some(r.span),
        };
        let mut keys = ends(r.from_v, r.to_v, Dimension::VOLT);
        keys.push(format!("load_level = {}", quoted(r.load_a, Dimension::AMPERE)));
        let at = At::default();
        row(format!("line regulations {}", k + 1), "line-regulation", at, keys, read)
    });
    by_load.chain(by_line).collect()
}

/// A test over frequency is solved from the frequency asked to this many times as much.
const BESIDE: f64 = 1.26;

fn around(from_hz: f64, to_hz: f64, load_a: f64) -> Vec<String> {
    vec![
        format!("lowest = {}", quoted(from_hz, Dimension::HERTZ)),
        format!("highest = {}", quoted(to_hz, Dimension::HERTZ)),
        "per_decade = 2".to_owned(),
        format!("load_level = {}", quoted(load_a, Dimension::AMPERE)),
    ]
}

fn frequencies(sheet: &Datasheet) -> Vec<Row> {
    let at_hz = |hz| Some(format!("at = {}", quoted(hz, Dimension::HERTZ)));
    let words = |hz, load| format!("{}, {}", hertz(hz), ampere(load));
    let rejections = sheet.rejections.iter().enumerate().map(|(k, r)| Row {
        keys: around(r.frequency_hz, BESIDE * r.frequency_hz, r.load_a),
        name: format!("rejections {}", k + 1),
        kind: "ripple-rejection",
        at: r.at,
        moves: true,
        reads: vec![Read {
            measurement: "ripple_rejection",
            option: at_hz(r.frequency_hz),
            unit: Dimension::DECIBEL,
            asked: r.rejection_db,
            within: Within::Decibel(r.within_db.unwrap_or(WITHIN_DB)),
            row: ("rejections", k + 1),
            condition: words(r.frequency_hz, r.load_a),
            span: Some(r.span),
        }],
        further: Vec::new(),
    });
    let impedances = sheet.impedances.iter().enumerate().map(|(k, z)| Row {
        keys: around(z.frequency_hz, BESIDE * z.frequency_hz, z.load_a),
        name: format!("impedances {}", k + 1),
        kind: "output-impedance",
        at: z.at,
        moves: true,
        reads: vec![Read {
            measurement: "output_impedance",
            option: at_hz(z.frequency_hz),
            unit: Dimension::OHM,
            asked: z.impedance_ohm,
            within: Within::Share(z.within.unwrap_or(WITHIN)),
            row: ("impedances", k + 1),
            condition: words(z.frequency_hz, z.load_a),
            span: Some(z.span),
        }],
        further: Vec::new(),
    });
    rejections.chain(impedances).collect()
}

fn noises(sheet: &Datasheet) -> Vec<Row> {
    let band = |from, to| {
        format!("band = [{}, {}]", quoted(from, Dimension::HERTZ), quoted(to, Dimension::HERTZ))
    };
    let densities = sheet.noise_densities.iter().enumerate().map(|(k, n)| Row {
        keys: around(n.frequency_hz, BESIDE * n.frequency_hz, n.load_a),
        name: format!("noise densities {}", k + 1),
        kind: "noise",
        at: n.at,
        moves: true,
        reads: vec![Read {
            measurement: "noise_density",
            option: Some(format!("at = {}", quoted(n.frequency_hz, Dimension::HERTZ))),
            unit: Dimension::VOLT_PER_ROOT_HERTZ,
            asked: n.density,
            within: Within::Share(n.within.unwrap_or(WITHIN)),
            row: ("noise_densities", k + 1),
            condition: format!("{}, {}", hertz(n.frequency_hz), ampere(n.load_a)),
            span: Some(n.span),
        }],
        further: Vec::new(),
    });
    let integrals = sheet.noises.iter().enumerate().map(|(k, n)| Row {
        keys: around(n.from_hz, n.to_hz, n.load_a),
        name: format!("noises {}", k + 1),
        kind: "noise",
        at: n.at,
        moves: true,
        reads: vec![Read {
            measurement: "noise",
            option: Some(band(n.from_hz, n.to_hz)),
            unit: Dimension::VOLT,
            asked: n.noise_v,
            within: Within::Share(n.within.unwrap_or(WITHIN)),
            row: ("noises", k + 1),
            condition: format!("{} to {}, {}", hertz(n.from_hz), hertz(n.to_hz), ampere(n.load_a)),
            span: Some(n.span),
        }],
        further: Vec::new(),
    });
    densities.chain(integrals).collect()
}

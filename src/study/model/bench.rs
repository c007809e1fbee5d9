//! The bench on which a datasheet's points are measured: an ordinary circuit file of an ideal source,
//! the regulator, an output capacitor and a load, with a test for each row of the sheet. What the
//! tests measure is what a model is fitted to, so no point is worked out by a formula of its own.

use super::points::{Point, Read, Row, quoted, rows};
use crate::circuit::regulator::{At, Datasheet, Level, Regulator, Topology};
use crate::circuit::{Change, Circuit};
use crate::diagnostic::Diagnostics;
use crate::document::NoFiles;
use crate::measure::{Measurement, TestKind, Verdict};
use crate::quantity::Dimension;
use crate::study::compare::Knob;
use crate::study::first_message;
use crate::trial::{Outcome, Reads, RunOptions, Test, Unchanged, read_tests};
use std::fmt::Write as _;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Bounds of an output capacitor that nothing is known of, F and Ω.
const ANY_CAPACITOR_F: [f64; 2] = [0.1e-6, 100e-6];
const ANY_ESR_OHM: [f64; 2] = [1e-3, 1.0];
/// Where a range that begins at nothing is begun, as a share of its end.
const LEAST_OF_RANGE: f64 = 1e-3;
/// Of an ESL that is not given, H: a ceramic capacitor with its vias (common practice, no source).
const USUAL_ESL_H: f64 = 1e-9;
/// The input stands so far above the output, V, or so many dropouts, where no row says otherwise.
const HEADROOM_V: f64 = 1.0;
const HEADROOM_DROPOUTS: f64 = 2.0;
/// Step attempts after which a test of the bench is given up: some six times what one takes. What
/// rings on for longer is no model of a part that is sold.
const WORK_LIMIT: usize = 2_500;

/// Names of the bench's own values.
pub const CAPACITOR: &str = "c_out";
/// Its ESR.
pub const ESR: &str = "esr_out";

/// What of the bench no row tells, so that it is found with the fit.
#[derive(Clone, Debug, PartialEq)]
pub struct Unknown {
    /// `c_out` or `esr_out`.
    pub name: &'static str,
    /// Its bounds and its middle.
    pub knob: Knob,
    /// Whether the bounds are those that the sheet recommends.
    pub recommended: bool,
}

/// The bench, read.
#[derive(Debug)]
pub(super) struct Bench {
    /// Its circuit.
    pub(super) circuit: Circuit,
    /// A test for each row.
    pub(super) tests: Vec<Test>,
    /// What is read on them.
    pub(super) points: Vec<Point>,
    /// What no row tells.
    pub(super) unknowns: Vec<Unknown>,
    /// What was assumed about it, in sentences.
    pub(super) assumed: Vec<String>,
    unchanged: Vec<Option<Arc<Unchanged>>>,
    /// Tests run so far.
    runs: AtomicUsize,
}

/// How stable a loop is at the worst of its loads.
#[derive(Clone, Debug)]
pub(super) struct Margin {
    /// Phase margin in degrees, or why there is none.
    pub(super) degrees: Result<f64, String>,
    /// Whether it is known not to be stable: a margin below nothing, or natural frequencies that grow.
    pub(super) unstable: bool,
}

/// The name of a regulator on the bench: without the blocks around it.
pub fn own_name(regulator: &Regulator) -> &str {
    regulator.name.rsplit('.').next().unwrap_or(&regulator.name)
}

impl Bench {
    /// For a regulator whose model is of that name, with its table.
    ///
    /// # Errors
    /// Why the bench makes no sense.
    pub(super) fn new(regulator: &Regulator, model: (&str, &str)) -> Result<Self, String> {
        let sheet = &regulator.sheet;
        let plan = Plan::of(sheet);
        let text = plan.text(own_name(regulator), model);
        let (circuit, tests) = read(&text)?;
        let reads = plan.rows.iter().enumerate();
        let points = reads.flat_map(|(test, row)| row.reads.iter().map(move |r| point(test, r)));
        Ok(Self {
            points: points.collect(),
            unchanged: tests
                .iter()
                .map(|test| Unchanged::at_rest(&circuit, test).map(Arc::new))
                .collect(),
            circuit,
            tests,
            unknowns: plan.unknowns,
            assumed: plan.assumed,
            runs: AtomicUsize::new(0),
        })
    }

    /// The same bench with a load step and a loop gain that no row of the sheet asks for: where droop
    /// and phase margin are told by if a file has no test that shows them.
    ///
    /// # Errors
    /// As [`Bench::new`].
    pub(super) fn usual(
        regulator: &Regulator,
        model: (&str, &str),
    ) -> Result<(Circuit, Vec<Test>), String> {
        let mut plan = Plan::of(&regulator.sheet);
        plan.rows.clear();
        let text = plan.text(own_name(regulator), model) + &usual_tests(&regulator.sheet);
        read(&text)
    }

    /// The text of the same bench with what was found about it put in.
    pub(super) fn with_values(
        regulator: &Regulator,
        model: (&str, &str),
        values: &[super::Value],
    ) -> String {
        let mut plan = Plan::of(&regulator.sheet);
        for unknown in &mut plan.unknowns {
            let found = values.iter().find(|v| v.of_bench && v.name == unknown.name);
            unknown.knob.present = found.map(|v| v.value).or(unknown.knob.present);
        }
        plan.text(own_name(regulator), model)
    }

    /// How many tests were run.
    pub(super) fn runs(&self) -> usize {
        self.runs.load(Ordering::Relaxed)
    }

    /// Indices of the points that are read on a test.
    pub(super) fn points_of(&self, test: usize) -> impl Iterator<Item = usize> + '_ {
        (0..self.points.len()).filter(move |k| self.points[*k].test == test)
    }

    /// Tests of stability at the ends of what is recommended.
    pub(super) fn stability_tests(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.tests.len()).filter(|k| self.tests[*k].kind == TestKind::LoopGain)
    }

    /// The margin of such a test.
    pub(super) fn margin(&self, test: usize, changes: &[Change]) -> Margin {
        const NAME: &str = "phase_margin";
        self.runs.fetch_add(1, Ordering::Relaxed);
        let outcome = match self.outcome(test, changes, vec![NAME.to_owned()]) {
            Ok(outcome) => outcome,
            Err(why) => return Margin { degrees: Err(why), unstable: false },
        };
        let fails = |m: &Measurement| m.name == NAME && m.verdict == Verdict::Fail;
        let unstable = outcome.measurements.iter().any(fails);
        Margin { degrees: figure(&outcome, NAME), unstable }
    }

    /// The figures of a test's points, in their order, or why there is none.
    pub(super) fn run(&self, test: usize, changes: &[Change]) -> Vec<Result<f64, String>> {
        self.runs.fetch_add(1, Ordering::Relaxed);
        let points: Vec<&Point> = self.points_of(test).map(|k| &self.points[k]).collect();
        let watched = points.iter().map(|p| p.measurement.to_owned()).collect();
        let outcome = self.outcome(test, changes, watched);
        let figure = |point: &&Point| match &outcome {
            Ok(outcome) => figure(outcome, point.measurement),
            Err(why) => Err(why.clone()),
        };
        points.iter().map(figure).collect()
    }

    fn outcome(
        &self,
        test: usize,
        changes: &[Change],
        watched: Vec<String>,
    ) -> Result<Outcome, String> {
        let it = self.tests.get(test).ok_or("there is no such test")?;
        let in_time = matches!(it.motion, crate::trial::Motion::Step(_));
        let options = RunOptions {
            changes: crate::circuit::Changes { list: changes.to_vec() },
            quick: true,
            reads: if in_time { Reads::Voltages } else { Reads::Measurements },
            work_limit: WORK_LIMIT,
            watched: Some(watched),
            unchanged: self.unchanged.get(test).cloned().flatten(),
            ..RunOptions::default()
        };
        let outcome = crate::trial::run(&self.circuit, it, &options).map_err(first_message)?;
        match &outcome.failure {
            Some(failure) => Err(failure.message.clone()),
            None => Ok(outcome),
        }
    }
}

fn figure(outcome: &Outcome, measurement: &str) -> Result<f64, String> {
    let row = outcome.measurements.iter().find(|m| m.name == measurement && m.limit.is_some());
    let row = row.ok_or_else(|| format!("`{measurement}` was not measured"))?;
    let why = || row.reason.clone().unwrap_or_else(|| "it is not evaluated".to_owned());
    // A state that fails the test whatever its figure, such as an oscillation, leaves no figure to hold
    // against a sheet.
    let condemned = row.verdict == Verdict::Fail && row.reason.is_some();
    row.value.filter(|value| value.is_finite() && !condemned).ok_or_else(why)
}

/// Reads the text of a circuit file that includes nothing.
pub(super) fn read(text: &str) -> Result<(Circuit, Vec<Test>), String> {
    let reading = crate::circuit::read("bench.toml", text, &NoFiles);
    let mut told: Diagnostics = reading.diagnostics;
    let tests = reading.circuit.as_ref().map(|c| read_tests(c, &NoFiles, &mut told));
    if told.has_errors() {
        let first =
            told.sorted().into_iter().find(|d| d.severity == crate::diagnostic::Severity::Error);
        let why = first.map_or_else(String::new, |d| d.message);
        return Err(format!("the bench of its datasheet cannot be read: {why}"));
    }
    reading.circuit.zip(tests).ok_or_else(|| "the bench of its datasheet cannot be read".to_owned())
}

/// From a tenth of the rated current to all of it.
fn usual_tests(sheet: &Datasheet) -> String {
    let load = |share: f64| {
        crate::study::spell::quantity_text(share * sheet.rated_current_a, Dimension::AMPERE)
    };
    let (low, high) = (load(0.1), load(1.0));
    format!(
        "\n[[tests]]\nname = \"on the bench, {low} to {high} in 1 µs\"\nkind = \"load-step\"\n\
         from = \"{low}\"\nto = \"{high}\"\nedge = \"1 µs\"\nhold = \"500 µs\"\n\
         \n[[tests]]\nname = \"on the bench, {low} and {high}\"\nkind = \"loop-gain\"\n\
         load_levels = [\"{low}\", \"{high}\"]\n"
    )
}

fn point(test: usize, read: &Read) -> Point {
    Point {
        row: read.row,
        measurement: read.measurement,
        condition: read.condition.clone(),
        unit: read.unit,
        asked: read.asked,
        within: read.within,
        test,
        span: read.span,
    }
}

/// The bench before it is text.
struct Plan<'a> {
    sheet: &'a Datasheet,
    rows: Vec<Row>,
    nominal_v: f64,
    input_v: f64,
    unknowns: Vec<Unknown>,
    assumed: Vec<String>,
}

/// The output voltage on the bench, V.
pub(super) fn nominal_v(sheet: &Datasheet) -> f64 {
    match sheet.level {
        Level::Output(volt) => volt,
        Level::Reference(volt) => sheet.test_output_v.unwrap_or(volt),
    }
}

impl<'a> Plan<'a> {
    fn of(sheet: &'a Datasheet) -> Self {
        let nominal_v = nominal_v(sheet);
        let rows = rows(sheet, nominal_v);
        let dropout_v = sheet.dropouts.iter().map(|d| d.dropout_v).fold(0.0, f64::max);
        let input_v =
            sheet.test.input_v.unwrap_or(nominal_v + HEADROOM_V.max(HEADROOM_DROPOUTS * dropout_v));
        let mut assumed = Vec::new();
        let told = |v: f64, d| crate::study::spell::quantity_text(v, d);
        let open = |get: fn(&At) -> Option<f64>| {
            get(&sheet.test).is_none() && rows.iter().any(|r| r.moves && get(&r.at).is_none())
        };
        if sheet.test.input_v.is_none() && rows.iter().any(|r| r.at.input_v.is_none()) {
            let volt = told(input_v, Dimension::VOLT);
            assumed.push(format!("an input of {volt} where neither row nor sheet gives one"));
        }
        if open(|at| at.esl_h) {
            let henry = told(USUAL_ESL_H, Dimension::HENRY);
            assumed.push(format!("an ESL of {henry} where neither row nor sheet gives one"));
        }
        let mut unknowns = Vec::new();
        if open(|at| at.capacitor_f) {
            let bounds = (sheet.capacitor_f, ANY_CAPACITOR_F);
            unknowns.push(unknown(CAPACITOR, Dimension::FARAD, bounds));
        }
        if open(|at| at.esr_ohm) {
            unknowns.push(unknown(ESR, Dimension::OHM, (sheet.esr_ohm, ANY_ESR_OHM)));
        }
        Self { sheet, rows, nominal_v, input_v, unknowns, assumed }
    }

    fn text(&self, part: &str, (model, table): (&str, &str)) -> String {
        let mut text = String::new();
        let _ = writeln!(
            text,
            "# The bench on which the points of the datasheet of {part} are measured: an ideal source, \
             the\n# regulator, an output capacitor, a load. Each test is a row of the sheet, and its \
             limits are what the\n# row accepts. Run it by `railstep run bench.toml`.\n"
        );
        let _ = writeln!(text, "title = \"Points of the datasheet of {part}\"\n");
        self.values(&mut text);
        self.rail(&mut text, part);
        self.parts(&mut text, part, model);
        let _ = writeln!(text, "{}", table.trim_end());
        self.rows.iter().for_each(|row| Self::test(&mut text, row));
        text
    }

    fn values(&self, text: &mut String) {
        let fallback = |name: &str, given: Option<f64>| {
            let unknown = self.unknowns.iter().find(|u| u.name == name);
            given.or(unknown.and_then(|u| u.knob.present))
        };
        let test = &self.sheet.test;
        let value = |v: f64, d| quoted(v, d);
        let farad = fallback(CAPACITOR, test.capacitor_f).unwrap_or(ANY_CAPACITOR_F[1] / 10.0);
        let ohm = fallback(ESR, test.esr_ohm).unwrap_or(ANY_ESR_OHM[0] * 10.0);
        let henry = test.esl_h.unwrap_or(USUAL_ESL_H);
        let _ = writeln!(text, "[values]");
        let _ = writeln!(text, "v_in = {}", value(self.input_v, Dimension::VOLT));
        let _ = writeln!(text, "{CAPACITOR} = {}", value(farad, Dimension::FARAD));
        let _ = writeln!(text, "{ESR} = {}", value(ohm, Dimension::OHM));
        let _ = writeln!(text, "esl_out = {}\n", value(henry, Dimension::HENRY));
    }

    fn rail(&self, text: &mut String, part: &str) {
        let _ = writeln!(text, "[rail]\ninput = \"vin\"\noutput = \"vout\"");
        let _ = writeln!(text, "nominal = {}", quoted(self.nominal_v, Dimension::VOLT));
        let _ = writeln!(text, "source = \"BENCH_IN\"\nload = \"BENCH_LOAD\"");
        let _ = writeln!(text, "pass = \"{part}\"\namplifier = \"{part}\"");
        let _ = writeln!(text, "feedback = \"{part}.EA.sense\"");
        if self.sheet.topology == Topology::NmosBias {
            let _ = writeln!(text, "supplies = [\"BENCH_BIAS\"]");
        }
        text.push('\n');
    }

    fn parts(&self, text: &mut String, part: &str, model: &str) {
        let _ = writeln!(text, "[parts]");
        let source = "kind = \"voltage-source\", minus = \"gnd\"";
        let _ = writeln!(text, "BENCH_IN = {{ {source}, plus = \"vin\", voltage = \"v_in\" }}");
        let mut terminals = "input = \"vin\", output = \"vout\", ground = \"gnd\"".to_owned();
        // Reading refuses this topology without the voltage of its bias rail.
        let bias_v = self.sheet.test_bias_v.filter(|_| self.sheet.topology == Topology::NmosBias);
        if let Some(bias_v) = bias_v {
            let volt = quoted(bias_v, Dimension::VOLT);
            let _ =
                writeln!(text, "BENCH_BIAS = {{ {source}, plus = \"vbias\", voltage = {volt} }}");
            terminals += ", bias = \"vbias\"";
        }
        if let Level::Reference(reference_v) = self.sheet.level {
            let is_divided = self.nominal_v > reference_v * (1.0 + 1e-6);
            terminals += if is_divided { ", adjust = \"adj\"" } else { ", adjust = \"vout\"" };
            if is_divided {
                // It draws nothing and makes no noise: a sheet's figures are those of the part alone.
                let share = quoted(reference_v / self.nominal_v, Dimension::NONE);
                let ends = "plus = \"adj\", minus = \"gnd\", input = [\"vout\", \"gnd\"]";
                let keys = format!("kind = \"controlled-voltage-source\", {ends}, gain = {share}");
                let _ = writeln!(text, "BENCH_DIVIDER = {{ {keys} }}");
            }
        }
        let _ =
            writeln!(text, "{part} = {{ kind = \"regulator\", {terminals}, model = \"{model}\" }}");
        let _ = writeln!(
            text,
            "BENCH_OUT = {{ kind = \"capacitor\", nodes = [\"vout\", \"gnd\"], capacitance = \
             \"{CAPACITOR}\", dielectric = \"C0G\", esr = \"{ESR}\", esl = \"esl_out\" }}"
        );
        let _ = writeln!(
            text,
            "BENCH_LOAD = {{ kind = \"load\", nodes = [\"vout\", \"gnd\"], current = \"0 A\" }}\n"
        );
    }

    fn test(text: &mut String, row: &Row) {
        let _ = writeln!(text, "\n[[tests]]\nname = \"{}\"\nkind = \"{}\"", row.name, row.kind);
        let own = [
            ("v_in", row.at.input_v, Dimension::VOLT),
            (CAPACITOR, row.at.capacitor_f, Dimension::FARAD),
            (ESR, row.at.esr_ohm, Dimension::OHM),
            ("esl_out", row.at.esl_h, Dimension::HENRY),
        ];
        let pair = |(name, value, unit): (&str, Option<f64>, Dimension)| {
            Some(format!("{name} = {}", quoted(value?, unit)))
        };
        let own: Vec<String> = own.into_iter().filter_map(pair).collect();
        if !own.is_empty() {
            let _ = writeln!(text, "values = {{ {} }}", own.join(", "));
        }
        row.keys.iter().for_each(|key| {
            let _ = writeln!(text, "{key}");
        });
        let _ = writeln!(text, "\n[tests.require]");
        for (k, read) in row.reads.iter().enumerate() {
            let point = point(k, read);
            let [low, high] = point.accepted().map(|v| point.text(v));
            let limit = format!("{low} .. {high}");
            let _ = match &read.option {
                Some(option) => {
                    writeln!(text, "{} = {{ limit = \"{limit}\", {option} }}", read.measurement)
                }
                None => writeln!(text, "{} = \"{limit}\"", read.measurement),
            };
        }
        row.further.iter().for_each(|line| {
            let _ = writeln!(text, "{line}");
        });
    }
}

fn unknown(
    name: &'static str,
    unit: Dimension,
    (own, any): (Option<[f64; 2]>, [f64; 2]),
) -> Unknown {
    // A range that begins at nothing is looked through from a thousandth of its end.
    let recommended = own.filter(|[_, high]| *high > 0.0);
    let [low, high] = recommended.map_or(any, |[low, high]| [low.max(LEAST_OF_RANGE * high), high]);
    let knob = Knob {
        path: name.to_owned(),
        dimension: unit,
        low,
        high,
        present: Some((low * high).sqrt()),
    };
    Unknown { name, knob, recommended: recommended.is_some() }
}

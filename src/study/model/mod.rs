//! From a datasheet to a model: the inner values at which the tool's own tests give what the sheet
//! says, how well each is known, what the sheet leaves open, and what that means for the tests of a
//! file.

mod bench;
mod consequences;
mod contradictions;
mod freedom;
mod linear;
mod points;
mod question;
mod search;
mod stability;
mod walk;
mod worth;

pub use bench::{CAPACITOR, ESR, Unknown, own_name};
pub use consequences::{Line, Rests};
pub use contradictions::Contradiction;
pub use freedom::{Interval, UNDETERMINED};
pub use points::{Point, WITHIN, WITHIN_DB, WITHIN_STATIC, Within};
pub use stability::RangeEnd;
pub use worth::Tie;

use super::Ground;
use super::compare::Knob;
use super::ensemble::{Ensemble, Model};
use super::least_squares::{Bound, Ended, LeastSquares, bound_at};
use super::spell::quantity_value;
use crate::circuit::Change;
use crate::circuit::regulator::{InnerValue, Regulator, model_text};
use bench::Bench;
use freedom::Freedom;
use question::{Question, Seen, Sought};
use search::Search;

/// The name of the model on the bench.
const ON_BENCH: &str = "sheet";
/// Steps of a descent: what a valley gives after so many is beyond what any point tells.
const PATIENCE: usize = 20;
const QUICK_PATIENCE: usize = 10;
/// Spread of a bench value beforehand, as a share of the way between its bounds.
const BENCH_SPREAD: f64 = 0.25;

/// How it is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ask {
    /// Where starts and mixtures are drawn from.
    pub seed: u64,
    /// Fewer starts, shorter walks, no mixtures.
    pub quick: bool,
}

/// Why there is no model.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// It cannot be asked so.
    Wrong(String),
    /// Nothing could be solved.
    Unsolved(String),
}

/// Where a value comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Found so that the points come out.
    Fitted,
    /// Fitted too, but no point tells it: it stands where it was expected.
    Alone,
    /// Found on a bound, which is the bound's and not the points'.
    OnBound(Bound),
    /// Not fitted: it is held.
    Given,
}

/// One value.
#[derive(Clone, Debug, PartialEq)]
pub struct Value {
    /// As `--set` takes it, in the file: `U1.mid_gain`; of the bench `c_out`.
    pub name: String,
    /// Its unit, bounds and estimate, by its name on the bench.
    pub knob: Knob,
    /// What it came to, SI.
    pub value: f64,
    /// What it was expected to be.
    pub expected: f64,
    /// Where it comes from.
    pub origin: Origin,
    /// Over all models that agree with the sheet; `None` where it was not fitted.
    pub interval: Option<Interval>,
    /// What it is.
    pub text: &'static str,
    /// Whether it is the bench's and not the regulator's.
    pub of_bench: bool,
}

/// A point and what the best model has for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// What is asked.
    pub point: Point,
    /// What the best model gives, or why nothing.
    pub got: Result<f64, String>,
    /// Found over asked in what is accepted: 1 at its edge; positive above.
    pub residual: f64,
    /// Lowest and highest over all models.
    pub range: Option<[f64; 2]>,
}

impl Told {
    /// Whether the best model gives it within what is accepted.
    pub fn is_met(&self) -> bool {
        self.got.is_ok() && self.residual.abs() <= 1.0
    }
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Modelled {
    /// The part in the file.
    pub regulator: String,
    /// Every point.
    pub points: Vec<Told>,
    /// Every inner value, and what of the bench was not known.
    pub values: Vec<Value>,
    /// Values that cannot be told apart.
    pub ties: Vec<Tie>,
    /// Models that agree with the sheet equally well, the best one first.
    pub ensemble: Ensemble,
    /// The file's own tests over all models, and on the bench what it has no test for.
    pub lines: Vec<Line>,
    /// Points that cannot be met together.
    pub contradiction: Option<Contradiction>,
    /// Ends of what the sheet recommends as output capacitor.
    pub range_ends: Vec<RangeEnd>,
    /// Root mean square of the residuals.
    pub misfit: f64,
    /// How the best descent ended.
    pub ended: Ended,
    /// Descents, and how many of them came to a model as good.
    pub starts: usize,
    /// As above.
    pub agreed: usize,
    /// Tests of the bench that were run.
    pub runs: usize,
    /// What was assumed about the bench.
    pub assumed: Vec<String>,
    /// The bench with the best model in it: a circuit file.
    pub bench: String,
    /// The best model: a `[models.NAME]` table for the part's own name.
    pub model: String,
}

impl Modelled {
    /// Whether every point is met, and every recommended capacitor can be stable with them.
    pub fn is_consistent(&self) -> bool {
        self.meets_all() && !self.range_ends.iter().any(RangeEnd::contradicts)
    }

    /// Whether every point is met.
    pub fn meets_all(&self) -> bool {
        self.points.iter().all(Told::is_met)
    }
}

/// Finds the models of a regulator of the circuit; those of its tests that show droop and phase
/// margin are run for each. `begins` hears what is done next.
///
/// # Errors
/// Why there is none.
pub fn model(
    ground: &Ground<'_>,
    regulator: &Regulator,
    ask: Ask,
    begins: &dyn Fn(&'static str),
) -> Result<Modelled, Refusal> {
    begins("fitting the inner values to the datasheet's points");
    let regulator = &held(ground, regulator).map_err(Refusal::Wrong)?;
    let expected = table(regulator, ON_BENCH, &regulator.inside);
    let bench = Bench::new(regulator, (ON_BENCH, &expected)).map_err(Refusal::Wrong)?;
    let sought = sought(regulator, &bench);
    let threads = ground.threads;
    let patience = if ask.quick { QUICK_PATIENCE } else { PATIENCE };
    let question =
        Question { bench: &bench, sought: &sought, left_out: Vec::new(), threads, patience };
    let search = search::search(&question, ask.seed, ask.quick).map_err(Refusal::Unsolved)?;
    let none = || Refusal::Unsolved("no neighbour of the model can be solved".to_owned());
    let slopes = question.slopes(&search.best).ok_or_else(none)?;
    begins("trying what each point of the datasheet is worth");
    let worth = worth::worth(&question, &search.best, &slopes);
    let contradiction = contradictions::contradiction(&question, &search.best, &slopes);
    begins("walking each inner value out to where a point is missed");
    let freedom = freedom::freedom(&question, (&search.best, &slopes), (ask.seed, ask.quick));
    begins("running the file's tests with the models that fit");
    let range_ends = stability::range_ends(&bench, &freedom.models, threads);
    let changes: Vec<Vec<Change>> =
        freedom.models.iter().map(|model| in_file(regulator, &sought, &model.seen)).collect();
    let names: Vec<String> = sought.iter().map(|s| file_name(regulator, &s.knob.path)).collect();
    let mut lines = consequences::consequences(ground, &freedom.models, &changes, &names);
    let usual = Bench::usual(regulator, (ON_BENCH, &expected)).map_err(Refusal::Wrong)?;
    lines.extend(consequences::on_bench(ground, usual, &freedom.models, &names));
    if question.missed(&search.best) > 0 {
        let firm = lines.iter_mut().filter(|line| line.rests == Rests::OnSheet);
        firm.for_each(|line| line.rests = Rests::OnModels);
    }
    let found =
        Found { question: &question, search: &search, freedom: &freedom, alone: &worth.alone };
    let values = found.values(regulator);
    let inside = fitted(&regulator.inside, &search.best, &sought);
    Ok(Modelled {
        regulator: regulator.name.clone(),
        points: found.points(),
        ties: worth.ties,
        ensemble: ensemble(regulator, &question, &freedom, &changes),
        lines,
        contradiction,
        range_ends,
        misfit: question.misfit(&search.best),
        ended: search.ended,
        starts: search.starts,
        agreed: search.agreed,
        runs: bench.runs(),
        assumed: bench.assumed.clone(),
        bench: Bench::with_values(
            regulator,
            (ON_BENCH, &table(regulator, ON_BENCH, &inside)),
            &values,
        ),
        model: model_text(own_name(regulator), &regulator.sheet, &inside),
        values,
    })
}

/// The model's table on the bench: what only heat, start-up and shutdown know is left out, for a
/// datasheet's points are taken with short pulses.
fn table(regulator: &Regulator, name: &str, inside: &[InnerValue]) -> String {
    let mut sheet = regulator.sheet.clone();
    (sheet.thermal_resistance, sheet.shutdown, sheet.rise_s) = (None, None, None);
    (sheet.temperature_coefficient, sheet.enable_v) = (0.0, None);
    model_text(name, &sheet, inside)
}

/// The inner values of the best model.
fn fitted(inside: &[InnerValue], best: &Seen, sought: &[Sought]) -> Vec<InnerValue> {
    let one = |value: &InnerValue| {
        let found = sought.iter().zip(&best.u).find(|(s, _)| is_named(s, value.name));
        let value = value.clone();
        match found {
            Some((s, u)) => InnerValue { value: s.knob.at(*u), ..value },
            None => value,
        }
    };
    inside.iter().map(one).collect()
}

fn is_named(sought: &Sought, name: &str) -> bool {
    sought.knob.path.rsplit_once('.').is_some_and(|(_, own)| own == name)
}

/// A value of the bench by its name in the file.
fn file_name(regulator: &Regulator, path: &str) -> String {
    match path.rsplit_once('.') {
        Some((_, own)) => format!("{}.{own}", regulator.name),
        None => path.to_owned(),
    }
}

/// The regulator with the inner values held that are set from outside.
fn held(ground: &Ground<'_>, regulator: &Regulator) -> Result<Regulator, String> {
    let mut regulator = regulator.clone();
    for value in &mut regulator.inside {
        let path = format!("{}.{}", regulator.name, value.name);
        let set = ground.options.changes.list.iter().rev().find(|c| c.path == path);
        let Some(set) = set else { continue };
        let figure = quantity_value(&set.text, value.unit).ok_or_else(|| {
            let text = &set.text;
            format!("`--set {path}={text}` must be a plain quantity, at which the value is held")
        })?;
        (value.value, value.held) = (figure, true);
        (value.low, value.high) = (value.low.min(figure), value.high.max(figure));
    }
    Ok(regulator)
}

/// What is to be found: every inner value that is not held, those included that no point tells, for
/// they are what the sheet leaves open, and unknowns of the bench.
fn sought(regulator: &Regulator, bench: &Bench) -> Vec<Sought> {
    let free = regulator.inside.iter().filter(|v| !v.held && v.high > v.low);
    let inner = free.map(|v| {
        let knob = Knob {
            path: format!("{}.{}", own_name(regulator), v.name),
            dimension: v.unit,
            low: v.low,
            high: v.high,
            present: Some(v.value),
        };
        let spread =
            if knob.is_ratio() { v.spread } else { v.spread * v.value.abs() / (v.high - v.low) };
        let expected = knob.coordinate(v.value.clamp(v.low, v.high));
        Sought { knob, expected, spread: spread.max(1e-3) }
    });
    let of_bench = bench.unknowns.iter().map(|unknown| Sought {
        expected: unknown.knob.start(),
        spread: BENCH_SPREAD * unknown.knob.extent(),
        knob: unknown.knob.clone(),
    });
    inner.chain(of_bench).collect()
}

/// A model's inner values as changes to the file.
fn in_file(regulator: &Regulator, sought: &[Sought], seen: &Seen) -> Vec<Change> {
    let inner = sought.iter().zip(&seen.changes).filter(|(s, _)| s.knob.path.contains('.'));
    let change =
        |(s, c): (&Sought, &Change)| Change::new(file_name(regulator, &s.knob.path), &*c.text);
    inner.map(change).collect()
}

fn ensemble(
    regulator: &Regulator,
    question: &Question<'_>,
    freedom: &Freedom,
    changes: &[Vec<Change>],
) -> Ensemble {
    let model = |(model, changes): (&freedom::Equal, &Vec<Change>)| Model {
        name: model.name.clone(),
        set: changes.iter().map(|c| format!("{}={}", c.path, c.text)).collect(),
        misfit: question.misfit(&model.seen),
        missed: question.missed(&model.seen),
    };
    let models = freedom.models.iter().zip(changes).map(model).collect();
    Ensemble::new(&*regulator.name, models).of_sheet(&regulator.sheet)
}

/// All that was found.
struct Found<'a> {
    question: &'a Question<'a>,
    search: &'a Search,
    freedom: &'a Freedom,
    alone: &'a [bool],
}

impl Found<'_> {
    fn points(&self) -> Vec<Told> {
        let best = &self.search.best;
        let told = |(k, point): (usize, &Point)| {
            let all = self.freedom.models.iter().filter_map(|m| m.seen.got[k].as_ref().ok());
            let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), got| {
                (low.min(*got), high.max(*got))
            });
            Told {
                point: point.clone(),
                got: best.got[k].clone(),
                residual: -best.residual[k],
                range: (low <= high).then_some([low, high]),
            }
        };
        self.question.points().iter().enumerate().map(told).collect()
    }

    fn values(&self, regulator: &Regulator) -> Vec<Value> {
        let sought = self.question.sought;
        let found = |k: usize| {
            let (s, u) = (&sought[k], self.search.best.u[k]);
            let origin = match bound_at(u, s.knob.ends()) {
                Some(bound) => Origin::OnBound(bound),
                None if self.alone.get(k) == Some(&true) => Origin::Alone,
                None => Origin::Fitted,
            };
            (s.knob.at(u), origin, self.freedom.intervals.get(k).copied(), s)
        };
        let inner = regulator.inside.iter().map(|v| {
            let name = format!("{}.{}", regulator.name, v.name);
            match (0..sought.len()).find(|k| is_named(&sought[*k], v.name)) {
                Some(k) => {
                    let (value, origin, interval, s) = found(k);
                    let knob = s.knob.clone();
                    let (expected, text) = (v.value, v.text);
                    Value { name, knob, value, expected, origin, interval, text, of_bench: false }
                }
                None => given(name, v),
            }
        });
        let of_bench = (0..sought.len()).filter(|k| !sought[*k].knob.path.contains('.')).map(|k| {
            let (value, origin, interval, s) = found(k);
            Value {
                name: s.knob.path.clone(),
                knob: s.knob.clone(),
                value,
                expected: s.knob.at(s.expected),
                origin,
                interval,
                text: "of the bench: neither row nor sheet gives it",
                of_bench: true,
            }
        });
        inner.chain(of_bench).collect()
    }
}

fn given(name: String, v: &InnerValue) -> Value {
    let knob = Knob {
        path: name.clone(),
        dimension: v.unit,
        low: v.low,
        high: v.high,
        present: Some(v.value),
    };
    Value {
        name,
        knob,
        value: v.value,
        expected: v.value,
        origin: Origin::Given,
        interval: None,
        text: v.text,
        of_bench: false,
    }
}

//! The keys of a part worked out for one variant: numbers in SI base units, ranges and rules
//! checked, defaults filled in.

use super::naming::one_of;
use super::setting::{Point, Setting, Settings};
use super::values::Figures;
use crate::device::{Drive, Form, Kind, LawOutput, Need, Parameters, Range, Rule, own_level};
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::quantity::{Dimension, Program, engineering};
use std::collections::BTreeMap;
use std::fmt;

/// What stands behind each key, from wherever it came; `None` for a place outside any file.
pub(super) type Merged<'a> = BTreeMap<&'static str, (Option<Span>, &'a Setting)>;

/// A part's keys worked out; nodes and parts still by name.
#[derive(Clone, Debug, Default)]
pub(super) struct Settled {
    pub(super) parameters: Parameters,
    pub(super) inputs: Vec<[String; 2]>,
    pub(super) sensed: Option<String>,
}

/// What is worked out, in words once they are needed.
pub(super) enum What<'a> {
    /// A part of this name.
    Part(&'a str),
    /// A table behind this key of something.
    Inside(&'static str, &'a What<'a>),
}

impl fmt::Display for What<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Part(name) => write!(f, "part `{name}`"),
            Self::Inside(key, outer) => write!(f, "`{key}` of {outer}"),
        }
    }
}

/// Works out the keys of one part.
pub(super) struct Settling<'a> {
    pub(super) kind: &'static Kind,
    /// For messages.
    pub(super) what: What<'a>,
    pub(super) span: Span,
    /// Names of its ends and the node at each; none of a table inside a part.
    pub(super) ends: (&'a [&'static str], &'a [String]),
    pub(super) temperature_k: f64,
    pub(super) figures: &'a Figures,
    pub(super) told: &'a mut Diagnostics,
}

/// The key whose level a test or `varies` moves, if the kind has one: the one that `varies`
/// belongs to, or the one given of those that exclude one another.
pub(super) fn driven_key<'k>(
    kind: &'static Kind,
    given: impl Fn(&str) -> bool + 'k,
) -> Option<(&'static str, Dimension)> {
    let varied = kind.keys.iter().find_map(|key| match key.form {
        Form::Varies(of) => Some(of),
        _ => None,
    });
    let chosen = || {
        kind.rules.iter().find_map(|rule| match rule {
            Rule::ExactlyOne(keys) => keys.iter().copied().find(|key| given(key)),
            _ => None,
        })
    };
    let name = varied.or_else(chosen)?;
    match kind.key(name)?.form {
        Form::Quantity(unit, _) => Some((name, unit)),
        _ => None,
    }
}

impl Settling<'_> {
    /// The parameters; `None` if something was wrong with them, now or before.
    pub(super) fn run(&mut self, merged: &Merged<'_>, mut spoilt: bool) -> Option<Settled> {
        let parameters = self.kind.defaults(self.temperature_k);
        let mut settled = Settled { parameters, ..Settled::default() };
        let may_miss = spoilt;
        for key in self.kind.keys {
            match merged.get(key.name) {
                Some((_, Setting::Spoilt)) => spoilt = true,
                Some(&(span, setting)) => {
                    let told = self.key(key.name, &key.form, span, setting, &mut settled);
                    spoilt |= told.is_none();
                }
                None if key.need == Need::Required && !may_miss => {
                    self.missing(key.name, &key.form);
                    spoilt = true;
                }
                None => {}
            }
        }
        if !spoilt {
            spoilt = !self.rules(merged, &settled.parameters);
        }
        if spoilt {
            return None;
        }
        if let Some((key, _)) = driven_key(self.kind, |key| merged.contains_key(key)) {
            let constant = own_level(&settled.parameters, key);
            let drive = settled.parameters.drive.get_or_insert(Drive::constant(0.0));
            drive.constant = constant;
        }
        Some(settled)
    }

    fn key(
        &mut self,
        name: &'static str,
        form: &Form,
        span: Option<Span>,
        setting: &Setting,
        settled: &mut Settled,
    ) -> Option<()> {
        let parameters = &mut settled.parameters;
        match setting {
            Setting::Quantity(program) => {
                let number = self.figures.get(program)?;
                if let Form::Quantity(unit, range) = form {
                    self.range(name, number, *unit, *range, span)?;
                }
                parameters.numbers.insert(name, number);
            }
            Setting::Word(word) => {
                parameters.words.insert(name, word);
            }
            Setting::Points(points) => {
                let curve = self.points(name, form, span, points)?;
                parameters.curves.insert(name, curve);
            }
            Setting::NodePair(pair) => settled.inputs = vec![pair.clone()],
            Setting::Inputs(pairs) => settled.inputs.clone_from(pairs),
            Setting::Parts(names) => {
                let names = names.iter().map(|(name, _)| name.clone()).collect();
                parameters.names.insert(name, names);
            }
            Setting::Sensed(part) => settled.sensed = Some(part.clone()),
            Setting::Law(program) => {
                let output = match program.dimension() {
                    Dimension::VOLT => LawOutput::Voltage,
                    Dimension::COULOMB => LawOutput::Charge,
                    _ => LawOutput::Current,
                };
                parameters.law = Some((output, self.law(program, settled.inputs.len())?));
            }
            Setting::Varies(varies) => {
                let shape = varies.shape(self.figures, self.told)?;
                parameters.drive = Some(Drive { constant: 0.0, shape: Some(shape) });
            }
            Setting::Table(kind, settings) => {
                let mut inner = Settling {
                    kind,
                    what: What::Inside(name, &self.what),
                    span: span.unwrap_or(self.span),
                    ends: (&[], &[]),
                    temperature_k: self.temperature_k,
                    figures: self.figures,
                    told: self.told,
                };
                let merged = merged_of(settings);
                parameters.tables.insert(name, inner.run(&merged, false)?.parameters);
            }
            Setting::Spoilt => return None,
        }
        Some(())
    }

    /// A law's program with the circuit's values folded in, so that only inputs and `t` are left.
    fn law(&self, program: &Program, inputs: usize) -> Option<Program> {
        let folded = program.with_known(inputs + 1, &self.figures.numbers);
        let known =
            |slot: usize| slot.checked_sub(inputs + 1).is_none_or(|s| self.figures.is_known(s));
        program.slots_used().into_iter().all(known).then_some(folded)
    }

    fn tell(&mut self, span: Option<Span>, message: String, label: &str, hint: Option<String>) {
        let mut mistake = match span {
            Some(span) => Diagnostic::error(span, message).label(label),
            None => Diagnostic::without_place(message),
        };
        mistake.hint = hint;
        self.told.push(mistake);
    }

    fn range(
        &mut self,
        name: &str,
        number: f64,
        unit: Dimension,
        range: Range,
        span: Option<Span>,
    ) -> Option<()> {
        if range.holds(number) {
            return Some(());
        }
        let wanted = if number.is_finite() { range.words() } else { Range::Any.words() };
        let shown = engineering(number, &unit.symbol(), 3);
        let message = format!("`{name}` of {} must be {wanted}, but is {shown}", self.what);
        let hint = match range {
            Range::Positive if number == 0.0 && self.may_be_left_out(name) => {
                Some(format!("leave `{name}` out if there is no such effect"))
            }
            _ => Some(format!("give `{name}` a value {wanted}")),
        };
        self.tell(span.or(Some(self.span)), message, &format!("expected {wanted}"), hint);
        None
    }

    /// The points of a curve; all that is wrong with them is told.
    fn points(
        &mut self,
        name: &str,
        form: &Form,
        span: Option<Span>,
        points: &[Point],
    ) -> Option<Vec<[f64; 2]>> {
        let (units, ranges, rising) = match *form {
            Form::Points(unit, x, y) => ([unit, Dimension::NONE], [x, y], true),
            Form::Pairs(x, y) => ([x.0, y.0], [x.1, y.1], false),
            _ => return None,
        };
        let unit = units[0];
        let mut curve: Vec<[f64; 2]> = Vec::with_capacity(points.len());
        let mut sound = true;
        for point in points {
            let [x, y] = [self.figures.get(&point.x.0)?, self.figures.get(&point.y.0)?];
            let place = |own: Span| span.map(|_| own);
            sound &= self.range(name, x, unit, ranges[0], place(point.x.1)).is_some();
            sound &= self.range(name, y, units[1], ranges[1], place(point.y.1)).is_some();
            if let Some([before, _]) = curve.last().filter(|[before, _]| rising && *before >= x) {
                let shown = |x: f64| engineering(x, &unit.symbol(), 3);
                let message = format!(
                    "`{name}` of {} must rise from point to point, but {} follows {}",
                    self.what,
                    shown(x),
                    shown(*before)
                );
                let hint = "put the points in rising order, each once".to_owned();
                self.tell(place(point.x.1), message, "does not rise", Some(hint));
                sound = false;
            }
            curve.push([x, y]);
        }
        sound.then_some(curve)
    }

    fn may_be_left_out(&self, name: &str) -> bool {
        self.kind.key(name).is_some_and(|key| key.need != Need::Required)
    }

    fn missing(&mut self, name: &str, form: &Form) {
        let example = match form {
            Form::Quantity(unit, _) if unit.is_none() => "\"1\"".to_owned(),
            Form::Quantity(unit, _) => format!("\"1 {unit}\""),
            Form::Word(words) => format!("\"{}\"", words.first().unwrap_or(&"")),
            Form::NodePair => "[\"a\", \"b\"]".to_owned(),
            _ => "…".to_owned(),
        };
        let message = format!("{} has no `{name}`", self.what);
        let hint = format!("add `{name} = {example}` with the right value, here or in its model");
        self.tell(Some(self.span), message, &format!("`{name}` is missing"), Some(hint));
    }

    /// Whether all rules between keys hold.
    fn rules(&mut self, merged: &Merged<'_>, parameters: &Parameters) -> bool {
        let before = self.told.len();
        for rule in self.kind.rules {
            match rule {
                Rule::ExactlyOne(keys) => self.one(keys, merged, true),
                Rule::AtMostOne(keys) => self.one(keys, merged, false),
                Rule::Together(keys) => self.together(keys, merged),
                Rule::Needs(key, word, needed) if parameters.word(key) == *word => {
                    for &name in needed.iter().filter(|name| !merged.contains_key(*name)) {
                        let message = format!(
                            "{} has no `{name}`, which `{key} = \"{word}\"` needs",
                            self.what
                        );
                        let hint = format!("add `{name} = …`");
                        self.tell(
                            Some(self.span),
                            message,
                            &format!("`{name}` is missing"),
                            Some(hint),
                        );
                    }
                }
                Rule::Needs(..) => {}
                Rule::Below(low, high) => {
                    let pair = parameters.optional(low).zip(parameters.optional(high));
                    let wrong = pair.is_some_and(|(low, high)| low >= high);
                    self.order(wrong, [low, high], "be below", merged);
                }
                Rule::NotAbove(low, high) => {
                    let pair = parameters.optional(low).zip(parameters.optional(high));
                    let wrong = pair.is_some_and(|(low, high)| low > high);
                    self.order(wrong, [low, high], "not be above", merged);
                }
                Rule::Different(one, other) => {
                    let pair = parameters.optional(one).zip(parameters.optional(other));
                    self.different(pair.is_some_and(|(a, b)| a == b), [one, other], merged);
                }
                Rule::NeedsApart(keys, terminal, other) => {
                    self.apart(keys, [terminal, other], merged);
                }
                Rule::WithinPeriod(width, rate) => {
                    let pair = parameters.optional(width).zip(parameters.optional(rate));
                    self.within(
                        pair.filter(|(width, rate)| width * rate > 1.0),
                        width,
                        rate,
                        merged,
                    );
                }
            }
        }
        self.told.len() == before
    }

    fn order(
        &mut self,
        wrong: bool,
        [low, high]: [&'static str; 2],
        relation: &str,
        merged: &Merged<'_>,
    ) {
        if wrong {
            let message = format!("`{low}` of {} must {relation} `{high}`", self.what);
            let span = merged.get(low).or(merged.get(high)).and_then(|m| m.0);
            let hint = format!("raise `{high}`, or lower `{low}`");
            self.tell(span.or(Some(self.span)), message, "too high", Some(hint));
        }
    }

    fn different(&mut self, wrong: bool, [one, other]: [&'static str; 2], merged: &Merged<'_>) {
        if wrong {
            let message = format!("`{one}` and `{other}` of {} must differ", self.what);
            let span = merged.get(one).or(merged.get(other)).and_then(|m| m.0);
            let hint = "what lies between them is the hysteresis; move one of them".to_owned();
            self.tell(span.or(Some(self.span)), message, "no hysteresis", Some(hint));
        }
    }

    fn within(
        &mut self,
        wrong: Option<(f64, f64)>,
        width: &'static str,
        rate: &'static str,
        merged: &Merged<'_>,
    ) {
        if let Some((_, hertz)) = wrong {
            let period = engineering(1.0 / hertz, "s", 3);
            let message = format!("`{width}` of {} must fit into 1/`{rate}`, {period}", self.what);
            let span = merged.get(width).or(merged.get(rate)).and_then(|m| m.0);
            let hint = format!("shorten `{width}`, or lower `{rate}`");
            self.tell(span.or(Some(self.span)), message, "too long", Some(hint));
        }
    }

    fn one(&mut self, keys: &[&'static str], merged: &Merged<'_>, needed: bool) {
        let given: Vec<&str> = keys.iter().copied().filter(|k| merged.contains_key(k)).collect();
        // Nearly always all is well, and nothing is to be put into words.
        let all = || one_of(keys);
        match given.as_slice() {
            [_] => {}
            [] if !needed => {}
            [] => {
                let all = all();
                let message = format!("{} has none of {all}", self.what);
                let hint = format!("add one of {all}");
                self.tell(Some(self.span), message, "one of them is missing", Some(hint));
            }
            [.., last] => {
                let message = format!("{} has more than one of {}", self.what, all());
                let span = merged.get(last).and_then(|m| m.0);
                let hint = format!("keep one of {}", one_of(&given));
                self.tell(span.or(Some(self.span)), message, "expected only one", Some(hint));
            }
        }
    }

    /// Tells the first of some keys that are there although two ends are at one node.
    fn apart(
        &mut self,
        keys: &[&'static str],
        [terminal, other]: [&'static str; 2],
        merged: &Merged<'_>,
    ) {
        let (names, nodes) = self.ends;
        let node = |name: &str| names.iter().zip(nodes).find(|(n, _)| **n == name).map(|(_, n)| n);
        if node(terminal) != node(other) {
            return;
        }
        if let Some((key, (span, _))) = keys.iter().find_map(|key| merged.get_key_value(key)) {
            let message = format!(
                "`{key}` of {} needs `{terminal}` at another node than `{other}`",
                self.what
            );
            let hint = format!("add `{terminal} = \"node\"`, or take `{key}` out");
            self.tell(span.or(Some(self.span)), message, "nothing to watch", Some(hint));
        }
    }

    fn together(&mut self, keys: &[&'static str], merged: &Merged<'_>) {
        let (given, absent): (Vec<&str>, Vec<&str>) =
            keys.iter().partition(|key| merged.contains_key(*key));
        if let ([given, ..], [absent, ..]) = (given.as_slice(), absent.as_slice()) {
            let message = format!("{} has `{given}` but no `{absent}`", self.what);
            let span = merged.get(given).and_then(|m| m.0);
            let hint = format!("add `{absent} = …`, or take `{given}` out");
            self.tell(span.or(Some(self.span)), message, "half of a pair", Some(hint));
        }
    }
}

/// Settings as they stand, with nothing from a model.
pub(super) fn merged_of(settings: &Settings) -> Merged<'_> {
    settings.iter().map(|(key, (span, setting))| (*key, (Some(*span), setting))).collect()
}

//! Time functions of sources: read from the file, worked out for a variant.

use super::lookup::Lookup;
use super::naming::word;
use super::table::{MOST_POINTS, read_columns};
use super::values::Figures;
use crate::device::Shape;
use crate::diagnostic::{Diagnostic, Diagnostics, Span};
use crate::document::{Node, Reader, wrong_form};
use crate::quantity::{Dimension, Program};

/// A time function not yet worked out.
#[derive(Clone, Debug)]
pub(super) struct Varies {
    span: Span,
    form: Form,
    repeat_every: Option<Program>,
}

#[derive(Clone, Debug)]
enum Form {
    Sine { amplitude: Program, frequency: Program, delay: Option<Program>, phase: Option<Program> },
    Pulse { change: Program, delay: Option<Program>, edge: Program, width: Option<Program> },
    Points(Vec<(Program, Program)>),
    Samples(Vec<(f64, f64)>),
}

const SHAPES: &[&str] = &["sine", "pulse", "ramp", "points", "file"];

impl Varies {
    /// Reads `{ shape = … }`; `unit` is that of the key it varies.
    pub(super) fn read(
        node: &Node,
        unit: Dimension,
        lookup: &Lookup<'_>,
        told: &mut Diagnostics,
    ) -> Option<Self> {
        let Some(table) = node.as_table() else {
            let hint = "write `varies = { shape = \"pulse\", … }`";
            told.push(wrong_form("varies", node, "a table").hint(hint));
            return None;
        };
        let mut reader = Reader::new(table, "`varies`", node.span, told);
        let shape = reader.required("shape", "\"pulse\"")?;
        let shape = word("shape", SHAPES, shape, reader.diagnostics())?;
        let mut keys = Keys { reader, lookup, complete: true };
        let form = keys.form(shape, unit);
        let repeat_key = match shape {
            "pulse" => Some("period"),
            "points" | "file" => Some("repeat_every"),
            _ => None,
        };
        let repeat_every = repeat_key.and_then(|key| keys.optional(key, Dimension::SECOND));
        let complete = keys.complete;
        keys.reader.finish();
        form.filter(|_| complete).map(|form| Self { span: node.span, form, repeat_every })
    }

    /// The shape for one variant; what is impossible is recorded.
    pub(super) fn shape(&self, figures: &Figures, told: &mut Diagnostics) -> Option<Shape> {
        let number = |program: &Program| figures.get(program);
        let or_zero = |p: &Option<Program>| p.as_ref().map_or(Some(0.0), number);
        let mut check = Check { span: self.span, told, good: true };
        let points = match &self.form {
            Form::Sine { amplitude, frequency, delay, phase } => {
                let shape = Shape::Sine {
                    amplitude: number(amplitude)?,
                    frequency_hz: number(frequency)?,
                    delay_s: or_zero(delay)?,
                    phase_rad: or_zero(phase)?.to_radians(),
                };
                if let Shape::Sine { amplitude, frequency_hz, delay_s, phase_rad } = shape {
                    check.that(
                        frequency_hz > 0.0,
                        "`frequency` must be above zero",
                        "write `frequency = \"1 kHz\"`",
                    );
                    let all = amplitude + frequency_hz + delay_s + phase_rad;
                    check.that(all.is_finite(), "all numbers must be finite", FINITE);
                }
                return check.good.then_some(shape);
            }
            Form::Pulse { change, delay, edge, width } => {
                let (change, delay, edge) = (number(change)?, or_zero(delay)?, number(edge)?);
                check.that(edge >= 0.0, "`edge` must not be negative", "an edge of 0 is a jump");
                let mut points = vec![(delay, 0.0), (delay + edge, change)];
                if let Some(width) = width {
                    let width = number(width)?;
                    check.that(
                        width > 0.0,
                        "`width` must be above zero",
                        "`width` is the time between the two edges",
                    );
                    let back = delay + edge + width;
                    points.extend([(back, change), (back + edge, 0.0)]);
                }
                points
            }
            Form::Points(points) => points
                .iter()
                .map(|(time, level)| Some((number(time)?, number(level)?)))
                .collect::<Option<Vec<_>>>()?,
            Form::Samples(points) => points.clone(),
        };
        let repeat_every_s = match &self.repeat_every {
            Some(program) => Some(number(program)?),
            None => None,
        };
        check.points(&points, repeat_every_s);
        check.good.then_some(Shape::Points { points, repeat_every_s })
    }
}

const FINITE: &str = "look for a division by zero";

struct Check<'a> {
    span: Span,
    told: &'a mut Diagnostics,
    good: bool,
}

impl Check<'_> {
    fn that(&mut self, holds: bool, message: &str, hint: &str) {
        if !holds && self.good {
            self.told.push(Diagnostic::error(self.span, message).hint(hint));
            self.good = false;
        }
    }

    fn points(&mut self, points: &[(f64, f64)], repeat_every_s: Option<f64>) {
        self.that(!points.is_empty(), "there must be at least one point", "add `[\"0 s\", \"0\"]`");
        self.that(
            points.iter().all(|p| p.0.is_finite() && p.1.is_finite()),
            "all points must be finite",
            FINITE,
        );
        for pair in points.windows(2) {
            self.that(
                pair[0].0 <= pair[1].0,
                "times must not fall from one point to the next",
                "put the points in order of time",
            );
        }
        for three in points.windows(3) {
            let same = three[0].0 == three[2].0;
            self.that(
                !same,
                "no more than two points may have the same time",
                "a jump is two points: the level before and the level after",
            );
        }
        if let (Some(every), Some(first), Some(last)) =
            (repeat_every_s, points.first(), points.last())
        {
            let enough = every.is_finite() && every > 0.0 && every >= last.0 - first.0;
            self.that(
                enough,
                "what repeats must be over before it starts again",
                "make the period longer, or the points shorter",
            );
        }
    }
}

struct Keys<'a, 'd> {
    reader: Reader<'a, 'a>,
    lookup: &'d Lookup<'d>,
    complete: bool,
}

impl Keys<'_, '_> {
    fn form(&mut self, shape: &str, unit: Dimension) -> Option<Form> {
        let time = Dimension::SECOND;
        match shape {
            "sine" => {
                let amplitude = self.required("amplitude", unit);
                let frequency = self.required("frequency", Dimension::HERTZ);
                let delay = self.optional("delay", time);
                let phase = self.optional("phase", Dimension::DEGREE);
                Some(Form::Sine { amplitude: amplitude?, frequency: frequency?, delay, phase })
            }
            "pulse" | "ramp" => {
                let change = self.required("change", unit);
                let delay = self.optional("delay", time);
                let edge = self.required("edge", time);
                let width =
                    if shape == "pulse" { Some(self.required("width", time)?) } else { None };
                Some(Form::Pulse { change: change?, delay, edge: edge?, width })
            }
            "points" => {
                let node = self.reader.required("points", "[[\"0 s\", \"0\"], …]")?;
                let lookup = self.lookup;
                read_points(
                    "points",
                    node,
                    self.reader.diagnostics(),
                    |key, node, is_time, told| {
                        lookup.quantity(key, node, if is_time { time } else { unit }, told)
                    },
                )
                .map(Form::Points)
            }
            _ => {
                let file = self.reader.required_text("file", "\"points.csv\"");
                let time = self.reader.required_text("time", "\"column [unit]\"");
                let value = self.reader.required_text("value", "\"column [unit]\"");
                let (file, time, value) = (file?, time?, value?);
                let text = match self.lookup.gatherer.data(&file.text, file.span.file) {
                    Ok(text) => text,
                    Err(reason) => {
                        let hint = "name a file in the folder of this one or below it";
                        let mistake = Diagnostic::error(file.span, reason).hint(hint);
                        self.reader.diagnostics().push(mistake);
                        return None;
                    }
                };
                let columns = [(&time, Dimension::SECOND), (&value, unit)];
                match read_columns(&text, &file.text, columns) {
                    Ok(points) => Some(Form::Samples(points)),
                    Err(mistake) => {
                        self.reader.diagnostics().push(mistake);
                        None
                    }
                }
            }
        }
    }

    fn required(&mut self, key: &'static str, unit: Dimension) -> Option<Program> {
        let node = self.reader.required(key, "\"…\"")?;
        self.lookup.quantity(key, node, unit, self.reader.diagnostics())
    }

    fn optional(&mut self, key: &'static str, unit: Dimension) -> Option<Program> {
        let node = self.reader.node(key)?;
        let program = self.lookup.quantity(key, node, unit, self.reader.diagnostics());
        self.complete &= program.is_some();
        program
    }
}

/// `[[time, level], …]`, each entry compiled by `compile(key, node, is_time, told)`.
pub(super) fn read_points(
    key: &str,
    node: &Node,
    told: &mut Diagnostics,
    mut compile: impl FnMut(&str, &Node, bool, &mut Diagnostics) -> Option<Program>,
) -> Option<Vec<(Program, Program)>> {
    let hint = format!("write `{key} = [[\"0 s\", \"0 A\"], [\"1 ms\", \"5 A\"]]`");
    let Some(items) = node.as_array() else {
        told.push(wrong_form(key, node, "a list of points").hint(hint));
        return None;
    };
    if items.len() > MOST_POINTS {
        let message = format!("`{key}` has more than {MOST_POINTS} points");
        told.push(Diagnostic::error(node.span, message));
        return None;
    }
    let mut points = Vec::with_capacity(items.len());
    for item in items {
        if let Some([time, level]) = item.as_array() {
            let time = compile(key, time, true, told);
            let level = compile(key, level, false, told);
            points.push(time.zip(level));
        } else {
            let mistake = Diagnostic::error(item.span, "a point is a time and a level");
            told.push(mistake.label("expected `[time, level]`").hint(hint.as_str()));
            points.push(None);
        }
    }
    points.into_iter().collect()
}

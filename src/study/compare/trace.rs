//! A measured trace from the text of a CSV file: which columns, in which units, and every mistake
//! with its place. Nothing is guessed: a column whose head names no unit is refused.

use super::layout::{Cell, Head, Layout, Unreadable, cells, layout, number, split};
use crate::diagnostic::{Diagnostic, FileId, Span, nearest};
use crate::quantity::{Dimension, NoNames, parse};

/// Samples beyond which a trace is refused: far more than the memory of most oscilloscopes, and
/// what a fit still goes through in seconds.
pub const MOST_SAMPLES: usize = 500_000;
/// Samples below which nothing can be compared.
pub const FEWEST_SAMPLES: usize = 10;
/// Mistakes told at once.
const MOST_TOLD: usize = 20;

/// Samples of one voltage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// s, rising, on the instrument's own axis.
    pub time_s: Vec<f64>,
    /// V, one a time.
    pub volt: Vec<f64>,
    /// The head of the column of times, as the file has it.
    pub time_head: String,
    /// The same of the voltages.
    pub volt_head: String,
}

/// Which columns are asked for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Columns<'a> {
    /// `--time`: `name` or `name [unit]`; the first column when left out.
    pub time: Option<&'a str>,
    /// `--value`: the one called like the node, or the second, when left out.
    pub value: Option<&'a str>,
    /// The node that is compared.
    pub node: &'a str,
}

impl Trace {
    /// The usual distance of neighbouring samples in s.
    pub fn interval_s(&self) -> f64 {
        let mut steps: Vec<f64> = self.time_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
        steps.sort_by(f64::total_cmp);
        steps.get(steps.len() / 2).copied().unwrap_or(0.0)
    }
}

/// Reads a trace. `file` is what the places of its mistakes are told in.
///
/// # Errors
/// Everything wrong with it, the first twenty told one by one.
pub fn read_trace(text: &str, file: FileId, asked: Columns<'_>) -> Result<Trace, Vec<Diagnostic>> {
    let whole = Span { file, start: 0, end: 0 };
    let layout = layout(text).map_err(|why| vec![unreadable(why, whole)])?;
    let time = pick(&layout, asked.time, file, &Role::TIME, 0);
    let second = usize::from(layout.heads.len() > 1);
    let called = |head: &Head<'_>| head.name.eq_ignore_ascii_case(asked.node);
    let usual = layout.heads.iter().position(called).unwrap_or(second);
    let value = pick(&layout, asked.value, file, &Role::VALUE, usual);
    let (time, value) = match (time, value) {
        (Ok(time), Ok(value)) => (time, value),
        (time, value) => return Err([time.err(), value.err()].into_iter().flatten().collect()),
    };
    if time.at == value.at {
        let head = layout.heads[time.at];
        let message = format!("`{}` is asked for as time and as voltage", head.name);
        let mistake = Diagnostic::error(head.cell.span(file), message);
        return Err(vec![mistake.hint(format!("name the other column: {}", known(&layout)))]);
    }
    samples(&layout, file, whole, [time, value])
}

fn unreadable(why: Unreadable, whole: Span) -> Diagnostic {
    let hint = "write two columns with their heads above them, such as `time [µs],vout [V]`";
    match why {
        Unreadable::NoRows => {
            Diagnostic::error(whole, "the trace has no line with two numbers").hint(hint)
        }
        Unreadable::NoHeads(start) => {
            let span = Span { start, end: start, ..whole };
            Diagnostic::error(span, "the columns of the trace have no heads").hint(hint)
        }
    }
}

/// What a column stands for.
struct Role {
    option: &'static str,
    dimension: Dimension,
    example: &'static str,
}

impl Role {
    const TIME: Self = Self { option: "--time", dimension: Dimension::SECOND, example: "s" };
    const VALUE: Self = Self { option: "--value", dimension: Dimension::VOLT, example: "V" };
}

/// A column that was found.
#[derive(Clone, Copy)]
struct Column {
    at: usize,
    scale: f64,
}

fn known(layout: &Layout<'_>) -> String {
    let all: Vec<String> = layout.heads.iter().map(|h| format!("`{}`", h.cell.text)).collect();
    all.join(", ")
}

fn pick(
    layout: &Layout<'_>,
    asked: Option<&str>,
    file: FileId,
    role: &Role,
    usual: usize,
) -> Result<Column, Diagnostic> {
    let (name, asked_unit) = asked.map_or(("", ""), split);
    let at = match asked {
        None => usual,
        Some(text) => {
            let mut heads = layout.heads.iter();
            let exact = heads.clone().position(|h| h.cell.text == text.trim());
            let found = exact.or_else(|| heads.position(|h| h.name == name));
            found.ok_or_else(|| missing(layout, text, file, role))?
        }
    };
    let head = layout.heads.get(at).ok_or_else(|| missing(layout, "", file, role))?;
    let own = if head.unit.is_empty() { asked_unit } else { head.unit };
    let span = head.cell.span(file);
    if own.is_empty() {
        let message = format!("column `{}` names no unit", head.name);
        let hint = format!("say it: `{} \"{} [{}]\"`", role.option, head.name, role.example);
        return Err(Diagnostic::error(span, message).label("no unit").hint(hint));
    }
    let scale = |unit: &str| {
        scale_of(unit, role.dimension).ok_or_else(|| {
            let message = format!("`{unit}` is not a unit of {}", role.dimension.words());
            let hint = format!("name another column by `{} \"NAME [UNIT]\"`: ", role.option);
            Diagnostic::error(span, message).hint(hint + &known(layout))
        })
    };
    let own_scale = scale(own)?;
    if !asked_unit.is_empty() && scale(asked_unit)? != own_scale {
        let message = format!("the head says `{own}`, `{}` says `{asked_unit}`", role.option);
        let hint = format!("write `{} \"{name}\"`", role.option);
        return Err(Diagnostic::error(span, message).hint(hint));
    }
    Ok(Column { at, scale: own_scale })
}

fn missing(layout: &Layout<'_>, asked: &str, file: FileId, role: &Role) -> Diagnostic {
    let span = layout.heads.first().map_or(Span { file, start: 0, end: 0 }, |h| h.cell.span(file));
    let message = format!("the trace has no column `{asked}`");
    let hint = match nearest(asked, layout.heads.iter().map(|h| h.name)) {
        Some(near) => format!("write `{} \"{near}\"`", role.option),
        None => format!("its columns are {}", known(layout)),
    };
    Diagnostic::error(span, message).label("the heads stand here").hint(hint)
}

fn scale_of(unit: &str, dimension: Dimension) -> Option<f64> {
    let span = Span { file: FileId(0), start: 0, end: 0 };
    let program = parse(&format!("1 {unit}"), span).ok()?.compile_as(&NoNames, dimension).ok()?;
    Some(program.evaluate::<f64>(&[]))
}

fn samples(
    layout: &Layout<'_>,
    file: FileId,
    whole: Span,
    [time, value]: [Column; 2],
) -> Result<Trace, Vec<Diagnostic>> {
    if layout.rows.len() > MOST_SAMPLES {
        let message = format!("the trace has more than {MOST_SAMPLES} lines of samples");
        let hint = "save a shorter stretch around the edges, or every tenth sample";
        return Err(vec![Diagnostic::error(whole, message).hint(hint)]);
    }
    let mut told: Vec<Diagnostic> = Vec::new();
    let mut wrong = 0;
    let mut tell = |mistake: Diagnostic| {
        wrong += 1;
        if told.len() < MOST_TOLD {
            told.push(mistake);
        }
    };
    let mut trace = Trace::default();
    for row in &layout.rows {
        let cells = cells(row, layout.delimiter);
        let end = row.start + row.text.len();
        let mut read = |column: Column| {
            let none = Cell { text: "", start: end, end };
            let cell = cells.get(column.at).copied().unwrap_or(none);
            let found = number(cell.text, layout.decimal_comma).map(|n| n * column.scale);
            if found.is_none() {
                tell(no_number(&cell, file, layout.decimal_comma));
            }
            found.map(|number| (number, cell))
        };
        let (Some((t, cell)), Some((volt, _))) = (read(time), read(value)) else { continue };
        if trace.time_s.last().is_some_and(|last| t <= *last) {
            let message = "times must rise from one sample to the next".to_owned();
            tell(Diagnostic::error(cell.span(file), message).label("not above the one before"));
            continue;
        }
        trace.time_s.push(t);
        trace.volt.push(volt);
    }
    if wrong > told.len() {
        let message = format!("and {} more mistakes in the trace", wrong - told.len());
        told.push(Diagnostic::error(whole, message));
    }
    if told.is_empty() && trace.time_s.len() < FEWEST_SAMPLES {
        let message = format!("the trace has fewer than {FEWEST_SAMPLES} samples");
        told.push(Diagnostic::error(whole, message).hint("save a longer stretch"));
    }
    let head = |column: Column| layout.heads[column.at].cell.text.to_owned();
    (trace.time_head, trace.volt_head) = (head(time), head(value));
    if told.is_empty() { Ok(trace) } else { Err(told) }
}

fn no_number(cell: &Cell<'_>, file: FileId, decimal_comma: bool) -> Diagnostic {
    let message = match cell.text {
        "" => "a number is missing here".to_owned(),
        text => format!("`{text}` is no number"),
    };
    let sign = if decimal_comma { "comma or point" } else { "point" };
    let hint = format!("write plain numbers with a decimal {sign}, such as 1.5e-6");
    Diagnostic::error(cell.span(file), message).label("expected a number").hint(hint)
}

//! Columns of a CSV file whose headers carry their unit: `time [ms]`.

use super::formula::Formula;
use crate::diagnostic::{Diagnostic, nearest};
use crate::document::Word;
use crate::quantity::{Dimension, NoNames};

/// The most points of one time function, and rows of one table.
pub const MOST_POINTS: usize = 1_000_000;

/// Two columns of a CSV text in SI base units. Each is asked for as `column [unit]`; the header
/// may leave the unit out. `name` is the file's, for messages.
///
/// # Errors
/// The first thing wrong, at the place where the column was asked for.
pub fn read_columns(
    text: &str,
    name: &str,
    columns: [(&Word, Dimension); 2],
) -> Result<Vec<(f64, f64)>, Diagnostic> {
    let [time, value] = columns;
    let (time_scale, value_scale) = (scale_of(time.0, time.1)?, scale_of(value.0, value.1)?);
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let broken =
        |e: csv::Error| Diagnostic::error(time.0.span, format!("`{name}` is not valid CSV: {e}"));
    let headers = reader.headers().map_err(broken)?.clone();
    let (time_at, value_at) = (column(time.0, &headers, name)?, column(value.0, &headers, name)?);
    let mut points = Vec::new();
    for (row, record) in reader.records().enumerate() {
        let record = record.map_err(broken)?;
        let line = record.position().map_or(row as u64 + 2, csv::Position::line);
        let cell = |at: usize, asked: &Word| {
            let written = record.get(at).unwrap_or("");
            let number = written.parse::<f64>().ok().filter(|n| n.is_finite());
            number.ok_or_else(|| {
                let message =
                    format!("line {line} of `{name}` has `{written}` where a number is expected");
                Diagnostic::error(asked.span, message)
            })
        };
        if points.len() >= MOST_POINTS {
            let message = format!("`{name}` has more than {MOST_POINTS} rows");
            return Err(Diagnostic::error(time.0.span, message));
        }
        points.push((cell(time_at, time.0)? * time_scale, cell(value_at, value.0)? * value_scale));
    }
    if points.is_empty() {
        return Err(Diagnostic::error(
            time.0.span,
            format!("`{name}` has no rows below its header"),
        ));
    }
    Ok(points)
}

/// `time [ms]` as `time` and `ms`.
fn split(asked: &str) -> Option<(&str, &str)> {
    let (column, unit) = asked.trim().strip_suffix(']')?.rsplit_once('[')?;
    Some((column.trim(), unit.trim()))
}

fn scale_of(asked: &Word, wanted: Dimension) -> Result<f64, Diagnostic> {
    let Some((_, unit)) = split(&asked.text) else {
        let message = format!("`{}` names no unit", asked.text);
        let hint = format!("write `\"{} [{wanted}]\"`", asked.text.trim());
        return Err(Diagnostic::error(asked.span, message)
            .label("expected `column [unit]`")
            .hint(hint));
    };
    let formula = Formula::of_text(&format!("1 {unit}"), Some(asked.span))?;
    let compiled = formula.compile(&NoNames, Some(wanted));
    let program = compiled.map_err(|mistakes| {
        let message = format!("`{unit}` is not a unit of {}", wanted.words());
        mistakes.into_iter().next().unwrap_or_else(|| Diagnostic::error(asked.span, message))
    })?;
    Ok(program.evaluate::<f64>(&[]))
}

fn column(asked: &Word, headers: &csv::StringRecord, name: &str) -> Result<usize, Diagnostic> {
    let (alone, _) = split(&asked.text).unwrap_or((asked.text.trim(), ""));
    let exact = headers.iter().position(|h| h == asked.text.trim());
    exact.or_else(|| headers.iter().position(|h| h == alone)).ok_or_else(|| {
        let message = format!("`{name}` has no column `{}`", asked.text);
        let all: Vec<String> = headers.iter().map(|h| format!("`{h}`")).collect();
        let hint = match nearest(&asked.text, headers.iter()) {
            Some(near) => format!("write `\"{near}\"`"),
            None => format!("its columns are {}", all.join(", ")),
        };
        Diagnostic::error(asked.span, message).hint(hint)
    })
}

//! Reads what a profile test drives: points in the file, or columns of a CSV file.

use super::reading::Read;
use super::shapes::read_shape;
use super::{Driven, Motion, ProfileMotion};
use crate::circuit::read_columns;
use crate::diagnostic::{Diagnostic, Span};
use crate::document::{Files, Node, Reader, wrong_form};
use crate::quantity::{Dimension, Program};

type Points = Vec<(Program, Program)>;

pub(super) fn read_profile(
    read: &mut Read<'_, '_>,
    reader: &mut Reader<'_, '_>,
    files: &dyn Files,
    (load, source): (Option<&Driven>, Option<&Driven>),
    place: Span,
) -> Option<Motion> {
    let duration = reader.expression("duration");
    let (load_points, load_file) = (reader.node("load_points"), reader.node("load_file"));
    let (source_points, source_file) = (reader.node("source_points"), reader.node("source_file"));
    let source_shape = reader.node("source_shape");
    let points_of_source = source_points.or(source_file);
    let nothing_lasts =
        duration.or(load_points).or(load_file).or(points_of_source).or(source_shape);
    if nothing_lasts.is_none() {
        let message = format!("{} has nothing that says how long it lasts", reader.what());
        let hint = "add `duration = \"1 ms\"`, or points";
        read.told.push(Diagnostic::error(place, message).label("`duration` is missing").hint(hint));
        return None;
    }
    let duration_s = duration.and_then(|n| read.compile(n, Dimension::SECOND));
    let [own_load, own_source] = ["load", "source"].map(|key| reader.has(key));
    let load = points(read, files, ("load", own_load), load, load_points, load_file);
    let source_driven = source;
    let source = points(read, files, ("source", own_source), source, source_points, source_file);
    let shape = match (source_shape, points_of_source) {
        (Some(shape), Some(_)) => {
            let message = "the source follows points or a shape, not both";
            let hint = "leave one of them out";
            read.told.push(Diagnostic::error(shape.span, message).hint(hint));
            None
        }
        (Some(shape), None) => {
            if !has_source(read, own_source, source_driven, shape) {
                return None;
            }
            read_shape(read, shape)
        }
        (None, _) => None,
    };
    Some(Motion::Profile(Box::new(ProfileMotion { duration_s, load, source, shape })))
}

/// Whether there is a source to drive; tells it where none is named at all.
fn has_source(read: &mut Read<'_, '_>, own: bool, driven: Option<&Driven>, shape: &Node) -> bool {
    let named = read.circuit.rail.as_ref().is_some_and(|rail| rail.source.is_some());
    if driven.is_none() && !own && !named {
        let message = "this shape drives a source that is not named";
        let hint = "add `source = \"PART\"` to `[rail]` or to this test";
        read.told.push(Diagnostic::error(shape.span, message).hint(hint));
    }
    driven.is_some()
}

fn points(
    read: &mut Read<'_, '_>,
    files: &dyn Files,
    (what, own): (&str, bool),
    driven: Option<&Driven>,
    points: Option<&Node>,
    file: Option<&Node>,
) -> Option<Points> {
    let given = points.or(file)?;
    let Some(driven) = driven else {
        let rail = read.circuit.rail.as_ref();
        let named = |r: &crate::circuit::Rail| {
            if what == "load" { r.load.is_some() } else { r.source.is_some() }
        };
        if own || rail.is_some_and(named) {
            // That the part named cannot be driven has been told.
            return None;
        }
        let message = format!("these points drive a {what} that is not named");
        let hint = format!("add `{what} = \"PART\"` to `[rail]` or to this test");
        read.told.push(Diagnostic::error(given.span, message).hint(hint));
        return None;
    };
    if let (Some(_), Some(file)) = (points, file) {
        let message = format!("both `{what}_points` and `{what}_file` are given");
        read.told.push(Diagnostic::error(file.span, message).hint("leave one of them out"));
        return None;
    }
    let found = match (points, file) {
        (Some(node), _) => {
            read.circuit.compile_points(&format!("{what}_points"), node, driven.dimension)
        }
        (None, Some(node)) => return columns(read, files, what, node, driven.dimension),
        (None, None) => return None,
    };
    found.map_err(|mistakes| read.record(mistakes)).ok()
}

/// `{ file = "x.csv", time = "t [ms]", value = "i [A]" }`
fn columns(
    read: &mut Read<'_, '_>,
    files: &dyn Files,
    what: &str,
    node: &Node,
    dimension: Dimension,
) -> Option<Points> {
    let key = format!("{what}_file");
    let Some(table) = node.as_table() else {
        let wanted = "a table such as `{ file = \"x.csv\", time = \"t [ms]\", value = \"i [A]\" }`";
        read.told.push(wrong_form(&key, node, wanted));
        return None;
    };
    let mut reader = Reader::new(table, format!("`{key}`"), node.span, read.told);
    let file = reader.required_text("file", "\"x.csv\"");
    let time = reader.required_text("time", "\"time [s]\"");
    let value = reader.required_text("value", "\"current [A]\"");
    reader.finish();
    let (file, time, value) = (file?, time?, value?);
    let text =
        read.circuit.data_path(&file.text, file.span.file).and_then(|path| files.read(&path));
    let found = text
        .map_err(|why| {
            Diagnostic::error(file.span, format!("`{}` cannot be read: {why}", file.text))
        })
        .and_then(|text| {
            read_columns(&text, &file.text, [(&time, Dimension::SECOND), (&value, dimension)])
        });
    match found {
        Ok(rows) => {
            let program = Program::constant;
            Some(
                rows.iter()
                    .map(|r| (program(r.0, Dimension::SECOND), program(r.1, dimension)))
                    .collect(),
            )
        }
        Err(mistake) => {
            read.told.push(mistake);
            None
        }
    }
}

//! Reads `source_shape` of a profile test.

use super::{LINE_SHAPES, LineShape, ShapeMotion, Variety, line_shape};
use crate::diagnostic::{Diagnostic, nearest};
use crate::document::{Node, Reader, Word, wrong_form};
use crate::trial::reading::Read;

pub(in crate::trial) fn read_shape(read: &mut Read<'_, '_>, node: &Node) -> Option<ShapeMotion> {
    let Some(table) = node.as_table() else {
        let wanted = "a table such as `{ shape = \"crank\", level = \"I\" }`";
        read.told.push(wrong_form("source_shape", node, wanted));
        return None;
    };
    let mut reader = Reader::new(table, "`source_shape`", node.span, read.told);
    let word = reader.required_text("shape", "\"crank\"");
    let shape = word.as_ref().and_then(|word| shape_of(word, &mut reader));
    let Some(shape) = shape else {
        // Which figures belong here is not known, so none is called unknown.
        if word.is_none() {
            let figures = LINE_SHAPES.iter().flat_map(|shape| shape.figures).map(|f| f.name);
            for key in ["level", "edition"].into_iter().chain(figures) {
                reader.node(key);
            }
            reader.finish();
        }
        return None;
    };
    let level = reader.text("level");
    let edition = reader.text("edition");
    let figures: Vec<_> =
        shape.figures.iter().map(|figure| (figure, reader.expression(figure.name))).collect();
    let variety = variety_of(shape, level.as_ref(), edition.as_ref(), &mut reader);
    reader.finish();
    // A figure that could not be read has been told, so that the test is not run.
    let given = figures
        .into_iter()
        .filter_map(|(figure, node)| Some((figure.name, read.compile(node?, figure.dimension())?)))
        .collect();
    Some(ShapeMotion { shape, variety: variety?, given })
}

fn shape_of(word: &Word, reader: &mut Reader<'_, '_>) -> Option<&'static LineShape> {
    let found = line_shape(&word.text);
    if found.is_none() {
        let known: Vec<&str> = LINE_SHAPES.iter().map(|s| s.name).collect();
        let hint = match nearest(&word.text, known.iter().copied()) {
            Some(near) => format!("write `{near}`"),
            None => format!("known shapes: {}", known.join(", ")),
        };
        let message = format!("there is no line shape `{}`", word.text);
        reader.diagnostics().push(Diagnostic::error(word.span, message).hint(hint));
    }
    found
}

/// The first variety that is of this level and edition.
fn variety_of(
    shape: &'static LineShape,
    level: Option<&Word>,
    edition: Option<&Word>,
    reader: &mut Reader<'_, '_>,
) -> Option<&'static Variety> {
    let is = |word: Option<&Word>, own: &str| word.is_none_or(|w| w.text == own);
    let found = shape.varieties.iter().find(|v| is(level, v.level) && is(edition, v.edition));
    if found.is_some() {
        return found;
    }
    let of_level = |v: &&Variety| is(level, v.level);
    let (word, key) = match (level, edition) {
        (Some(level), _) if !shape.varieties.iter().any(|v| v.level == level.text) => {
            (level, "level")
        }
        (_, Some(edition)) => (edition, "edition"),
        (Some(level), None) => (level, "level"),
        (None, None) => return None,
    };
    let own = |v: &Variety| if key == "level" { v.level } else { v.edition };
    let varieties = shape.varieties.iter().filter(|v| key == "level" || of_level(v));
    let mut known: Vec<&str> = varieties.map(own).filter(|w| !w.is_empty()).collect();
    known.dedup();
    let hint = if known.is_empty() {
        format!("leave `{key}` out")
    } else {
        let quoted: Vec<String> = known.iter().map(|w| format!("`{w}`")).collect();
        format!("known: {}", quoted.join(", "))
    };
    let message = format!("line shape `{}` has no {key} `{}`", shape.name, word.text);
    reader.diagnostics().push(Diagnostic::error(word.span, message).hint(hint));
    None
}

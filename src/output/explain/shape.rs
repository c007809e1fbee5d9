//! The entry of a line shape.

use super::Page;
use crate::trial::{LineShape, Mark, Variety};

pub(super) fn write(page: &mut Page, shape: &LineShape) {
    page.title(shape.name, "a line shape of profile tests, behind `source_shape`");
    page.text(shape.summary);
    page.heading("course");
    page.text(shape.text);
    if shape.automotive {
        page.text(
            "an example: the relevant standard (own copy of the edition that counts), the vehicle \
             maker's specification and a qualified engineer decide",
        );
    }
    page.heading("keys");
    for figure in shape.figures {
        let unit = if figure.unit == "1" { "share" } else { figure.unit };
        let default = match figure.mark {
            Mark::PartsOwn => figure.mark.words(),
            mark => format!("{} ({})", figure.told(figure.default), mark.words()),
        };
        page.key(figure.name, &format!("{unit}; default {default}"), figure.text);
    }
    if shape.varieties.len() > 1 || !words(&shape.varieties[0]).is_empty() {
        page.heading("levels and editions, the first the default");
    }
    for variety in shape.varieties {
        let words = words(variety);
        if !words.is_empty() {
            page.hanging(2, &format!("{words}: "), &changes(shape, variety));
        }
    }
    page.example(&example(shape));
}

fn words(variety: &Variety) -> String {
    let level = (!variety.level.is_empty()).then(|| format!("level = \"{}\"", variety.level));
    let edition =
        (!variety.edition.is_empty()).then(|| format!("edition = \"{}\"", variety.edition));
    level.into_iter().chain(edition).collect::<Vec<_>>().join(", ")
}

fn changes(shape: &LineShape, variety: &Variety) -> String {
    if variety.changes.is_empty() {
        return "as above".to_owned();
    }
    let told = variety.changes.iter().map(|(name, value, mark)| {
        let figure = shape.figures.iter().find(|f| f.name == *name);
        let value = figure.map_or_else(|| format!("{value}"), |f| f.told(*value));
        format!("{name} {value} ({})", mark.words())
    });
    told.collect::<Vec<_>>().join(", ")
}

/// A test that reads.
pub(super) fn example(shape: &LineShape) -> String {
    let level = shape.varieties.first().map_or("", |v| v.level);
    let level = if level.is_empty() { String::new() } else { format!(", level = \"{level}\"") };
    format!(
        "[[tests]]\nname = \"{0}\"\nkind = \"profile\"\nsource_shape = {{ shape = \"{0}\"{level} }}",
        shape.name
    )
}

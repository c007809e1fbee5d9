//! `model.csv`: one row a point.

use super::words;
use crate::study::model::{Modelled, Told};

/// Header and rows; nothing is rounded.
pub(super) fn csv(modelled: &Modelled) -> Vec<u8> {
    let mut bytes = Vec::new();
    // Memory takes every write and all rows have as many cells, the only two ways for this to fail.
    let written = write(modelled, &mut bytes);
    debug_assert!(written.is_ok(), "{written:?}");
    bytes
}

const HEAD: [&str; 13] = [
    "list",
    "row",
    "measurement",
    "condition",
    "unit",
    "asked",
    "got",
    "residual",
    "lowest",
    "highest",
    "within",
    "within_unit",
    "reason",
];

fn write(modelled: &Modelled, bytes: &mut Vec<u8>) -> Result<(), csv::Error> {
    let mut writer = csv::Writer::from_writer(bytes);
    writer.write_record(HEAD)?;
    for told in &modelled.points {
        writer.write_record(cells(told))?;
    }
    writer.flush()?;
    Ok(())
}

fn cells(told: &Told) -> [String; 13] {
    let point = &told.point;
    let number = |value: Option<f64>| value.map_or_else(String::new, |v| format!("{v:e}"));
    let (list, row) = point.row;
    let (within, within_unit) = words::within_in_units(point.within);
    [
        list.to_owned(),
        if row == 0 { String::new() } else { row.to_string() },
        point.measurement.to_owned(),
        point.condition.clone(),
        point.unit.symbol(),
        number(Some(point.asked)),
        number(told.got.as_ref().ok().copied()),
        number(told.got.is_ok().then_some(told.residual)),
        number(told.range.map(|r| r[0])),
        number(told.range.map(|r| r[1])),
        number(Some(within)),
        within_unit.to_owned(),
        told.got.as_ref().err().cloned().unwrap_or_default(),
    ]
}

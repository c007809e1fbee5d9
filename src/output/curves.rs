//! Curves as one table: what was held, then the axis and what was found along it, a row a point.

use super::csv;
use crate::curve::Curve;

/// One column of the table as it grows.
struct Growing {
    name: String,
    unit: &'static str,
    values: Vec<f64>,
}

/// All curves under each other as comma-separated values. A quantity that a curve lacks leaves its
/// cells empty.
pub fn csv(curves: &[Curve]) -> Vec<u8> {
    let mut columns: Vec<Growing> = Vec::new();
    for held in curves.iter().flat_map(|c| &c.held) {
        column(&mut columns, held.name, held.unit);
    }
    for found in curves.iter().flat_map(|c| &c.columns) {
        column(&mut columns, &found.name, found.unit);
    }
    for curve in curves {
        let rows = curve.columns.iter().map(|c| c.values.len()).max().unwrap_or(0);
        for growing in &mut columns {
            let same = |name: &str, unit: &str| name == growing.name && unit == growing.unit;
            let held = curve.held.iter().find(|h| same(h.name, h.unit));
            let found = curve.columns.iter().find(|c| same(&c.name, c.unit));
            for row in 0..rows {
                let value = found.map(|c| c.values.get(row).copied().unwrap_or(f64::NAN));
                growing.values.push(value.or(held.map(|h| h.value)).unwrap_or(f64::NAN));
            }
        }
    }
    let columns: Vec<csv::Column<'_>> = columns
        .iter()
        .map(|c| csv::Column { name: &c.name, unit: c.unit, values: &c.values })
        .collect();
    csv::csv(&columns)
}

fn column(columns: &mut Vec<Growing>, name: &str, unit: &'static str) {
    if !columns.iter().any(|c| c.name == name && c.unit == unit) {
        columns.push(Growing { name: name.to_owned(), unit, values: Vec::new() });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve::{Column, Held};

    #[test]
    fn curves_stand_under_each_other_with_what_was_held() {
        let curve = |load: f64, name: &str, values: Vec<f64>| Curve {
            condition: String::new(),
            held: vec![Held { name: "load", unit: "A", value: load }],
            columns: vec![
                Column::new("frequency", "Hz", vec![1.0, 10.0]),
                Column::new(name, "dB", values),
            ],
        };
        let both = [curve(0.5, "gain", vec![40.0, f64::NAN]), curve(2.0, "other", vec![3.0, 4.0])];
        let text = String::from_utf8_lossy(&csv(&both)).into_owned();
        let expected = "load [A],frequency [Hz],gain [dB],other [dB]\n\
                        0.5,1,40,\n0.5,10,,\n2,1,,3\n2,10,,4\n";
        assert_eq!(text, expected);
    }
}

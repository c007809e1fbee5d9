//! Waveforms as comma-separated values (RFC 4180 quoting, line feeds, full digits).

/// One column of a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column<'a> {
    /// `time`, a node's name, or `PART.quantity`.
    pub name: &'a str,
    /// Unit of the values, written into the heading as `name [unit]`; empty: left out.
    pub unit: &'a str,
    /// One value a row.
    pub values: &'a [f64],
}

/// The table as bytes: a heading such as `time [s],vout [V],I_RADIO.current [A]`, then one row
/// an instant.
///
/// Every number has the fewest digits that read back as the same `f64`. A value that is not
/// finite, or a column shorter than the longest one, leaves its cell empty.
pub fn csv(columns: &[Column<'_>]) -> Vec<u8> {
    let mut bytes = Vec::new();
    if columns.is_empty() {
        return bytes;
    }
    // Memory takes every write and all rows have as many cells as there are columns, which are
    // the only two ways for this to fail.
    let written = write(columns, &mut bytes);
    debug_assert!(written.is_ok(), "{written:?}");
    bytes
}

fn write(columns: &[Column<'_>], bytes: &mut Vec<u8>) -> Result<(), csv::Error> {
    let mut writer = csv::Writer::from_writer(bytes);
    writer.write_record(columns.iter().map(|column| {
        if column.unit.is_empty() {
            column.name.to_owned()
        } else {
            format!("{} [{}]", column.name, column.unit)
        }
    }))?;
    let rows = columns.iter().map(|column| column.values.len()).max().unwrap_or(0);
    for row in 0..rows {
        for column in columns {
            writer
                .write_field(column.values.get(row).map_or_else(String::new, |v| shortest(*v)))?;
        }
        writer.write_record(None::<&[u8]>)?;
    }
    writer.flush()?;
    Ok(())
}

/// The shorter of the plain and the power-of-ten form; both read back exactly (Rust's formatting
/// of floats gives the shortest digits that do).
fn shortest(value: f64) -> String {
    if !value.is_finite() {
        return String::new();
    }
    let plain = format!("{value}");
    let power = format!("{value:e}");
    if power.len() < plain.len() { power } else { plain }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

    use super::{Column, csv, shortest};
    use proptest::prelude::{any, proptest};

    #[test]
    fn the_heading_names_units_and_quotes_what_must_be() {
        let values = [0.0];
        let column = |name, unit| Column { name, unit, values: &values };
        let bytes = csv(&[
            column("time", "s"),
            column("I_RADIO.current", "A"),
            column("odd, \"name\"", "V"),
            column("bare", ""),
        ]);
        assert_eq!(
            String::from_utf8(bytes).unwrap(),
            "time [s],I_RADIO.current [A],\"odd, \"\"name\"\" [V]\",bare\n0,0,0,0\n"
        );
    }

    #[test]
    fn a_table_reads_back_exactly() {
        let time = [0.0, 6.0e-5, 6.01e-5, 1.0 / 3.0];
        let vout = [2.8, 2.779_6, -1e-300, f64::MAX];
        let bytes = csv(&[
            Column { name: "time", unit: "s", values: &time },
            Column { name: "vout", unit: "V", values: &vout },
        ]);
        let mut reader = ::csv::Reader::from_reader(bytes.as_slice());
        assert_eq!(reader.headers().unwrap(), vec!["time [s]", "vout [V]"]);
        let rows: Vec<(f64, f64)> = reader.deserialize().map(Result::unwrap).collect();
        assert_eq!(rows, time.into_iter().zip(vout).collect::<Vec<_>>());
    }

    #[test]
    fn what_is_not_a_number_leaves_its_cell_empty() {
        let bytes = csv(&[
            Column { name: "a", unit: "V", values: &[f64::NAN, 1.0] },
            Column { name: "b", unit: "V", values: &[f64::INFINITY] },
        ]);
        assert_eq!(String::from_utf8(bytes).unwrap(), "a [V],b [V]\n,\n1,\n");
        assert!(csv(&[]).is_empty());
    }

    proptest! {
        #[test]
        fn every_number_reads_back_as_itself(bits in any::<u64>()) {
            let value = f64::from_bits(bits);
            if value.is_finite() {
                assert_eq!(shortest(value).parse::<f64>().unwrap().to_bits(), bits);
                assert!(shortest(value).len() <= 24);
            }
        }
    }
}

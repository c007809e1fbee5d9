//! `spread.csv`: one row a run and test.

use super::Told;
use super::words::label;
use crate::study::Models;
use crate::study::spread::TestSpread;

/// Header and rows; nothing is rounded.
pub(super) fn csv(told: &Told<'_>) -> Vec<u8> {
    let mut bytes = Vec::new();
    // Memory takes every write and all rows have as many cells, the only two ways for this to fail.
    let written = write(told, &mut bytes);
    debug_assert!(written.is_ok(), "{written:?}");
    bytes
}

/// Name and unit of every measurement of every test, each once.
fn measured(told: &Told<'_>) -> Vec<(String, &'static str)> {
    let mut found: Vec<(String, &'static str)> = Vec::new();
    for test in &told.spread.tests {
        for row in told.sheet(test.test).map(|s| s.rows.as_slice()).unwrap_or_default() {
            let head = (label(row), row.unit);
            if !found.contains(&head) {
                found.push(head);
            }
        }
    }
    found
}

fn write(told: &Told<'_>, bytes: &mut Vec<u8>) -> Result<(), csv::Error> {
    let mut writer = csv::Writer::from_writer(bytes);
    let drawn = &told.spread.drawn;
    let measured = measured(told);
    let head = |name: &str, unit: &str| {
        if unit.is_empty() { name.to_owned() } else { format!("{name} [{unit}]") }
    };
    let mut heading = vec!["run".to_owned(), "test".to_owned()];
    let models = told.runner.models.as_ref();
    heading.extend(models.map(|_| "model".to_owned()));
    heading.extend(drawn.iter().map(|d| head(&d.path, &d.dimension.symbol())));
    heading.extend(measured.iter().map(|(name, unit)| head(name, unit)));
    heading.extend(["verdict".to_owned(), "reason".to_owned()]);
    writer.write_record(&heading)?;
    for test in &told.spread.tests {
        let rows = told.sheet(test.test).map(|s| s.rows.as_slice()).unwrap_or_default();
        let name = told.plan.tests.get(test.test).map_or("", |t| t.name.as_str());
        // Of rows that differ in their limits alone the first one stands for all.
        let place = |(name, unit): &(String, &str)| {
            rows.iter().position(|row| label(row) == *name && row.unit == *unit)
        };
        let places: Vec<Option<usize>> = measured.iter().map(place).collect();
        for run in 0..test.draws.len() {
            let mut cells = vec![(run + 1).to_string(), name.to_owned()];
            let model =
                |models: &Models| models.name(test.draws[run].model.unwrap_or(0)).to_owned();
            cells.extend(models.map(model));
            cells.extend(values(test, run, drawn.len()));
            let lines = test.readings[run].lines.as_slice();
            let cell = |place: &Option<usize>| {
                number(place.and_then(|at| lines.get(at)).and_then(|line| line.value))
            };
            cells.extend(places.iter().map(cell));
            cells.push(test.readings[run].verdict.word().to_owned());
            cells.push(reason(test, run, rows));
            writer.write_record(&cells)?;
        }
    }
    writer.flush()?;
    Ok(())
}

/// What was drawn, in the order of the columns; empty where this test draws nothing.
fn values(test: &TestSpread, run: usize, columns: usize) -> Vec<String> {
    let mut cells = vec![String::new(); columns];
    for (at, value) in test.columns.iter().zip(&test.draws[run].values) {
        if let Some(cell) = cells.get_mut(*at) {
            *cell = number(*value);
        }
    }
    cells
}

/// The shortest digits that read back the same.
fn number(value: Option<f64>) -> String {
    let Some(value) = value.filter(|v| v.is_finite()) else { return String::new() };
    let (plain, power) = (format!("{value}"), format!("{value:e}"));
    if power.len() < plain.len() { power } else { plain }
}

/// Why it was not solved, or what of it did not pass.
fn reason(test: &TestSpread, run: usize, rows: &[crate::measure::Measurement]) -> String {
    let reading = &test.readings[run];
    if let Some(failure) = &reading.failure {
        return failure.clone();
    }
    let told = reading
        .lines
        .iter()
        .zip(rows)
        .filter(|(line, row)| crate::study::spread::fails(line.verdict) && !row.advisory);
    let told = told.map(|(line, row)| {
        // Beside a value a reason is a remark; the limit is what was missed.
        let reason = line.reason.clone().filter(|_| line.value.is_none());
        let why = reason.or(row.limit.clone()).unwrap_or_default();
        format!("{}: {why}", label(row))
    });
    told.collect::<Vec<_>>().join("; ")
}

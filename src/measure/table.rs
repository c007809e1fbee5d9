//! The table of all measurements.

use super::definition::Definition;
use super::heat_rows::HEAT_ROWS;
use super::limit_rows::LIMIT_ROWS;
use super::start_rows::START_ROWS;
use super::states::STATE_ROWS;
use super::steady_rows::STEADY_ROWS;
use super::time_rows::TIME_ROWS;

/// Rows by family, in the order of every report.
#[rustfmt::skip] // one family a line
const FAMILIES: &[&[Definition]] = &[
    TIME_ROWS,
    START_ROWS,
    STATE_ROWS,
    HEAT_ROWS,
    STEADY_ROWS,
    LIMIT_ROWS,
];

/// All measurements, in the order of every report.
pub static DEFINITIONS: &[Definition] = &joined::<{ how_many() }>();

const fn how_many() -> usize {
    let (mut count, mut family) = (0, 0);
    while family < FAMILIES.len() {
        count += FAMILIES[family].len();
        family += 1;
    }
    count
}

const fn joined<const N: usize>() -> [Definition; N] {
    let mut all = [TIME_ROWS[0]; N];
    let (mut filled, mut family) = (0, 0);
    while family < FAMILIES.len() {
        let mut k = 0;
        while k < FAMILIES[family].len() {
            all[filled] = FAMILIES[family][k];
            filled += 1;
            k += 1;
        }
        family += 1;
    }
    all
}

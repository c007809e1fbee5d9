//! `railstep schema`: the JSON Schema of the circuit file.

use super::{Stop, terminal};

pub(super) fn schema() -> Result<u8, Stop> {
    terminal::say(&railstep::output::schema::text());
    Ok(0)
}

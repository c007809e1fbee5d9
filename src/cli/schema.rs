//! `railstep schema`: the JSON Schema of the circuit file.

use super::terminal;

pub(super) fn schema() -> u8 {
    terminal::say(&railstep::output::schema::text());
    0
}

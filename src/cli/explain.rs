//! `railstep explain`: what the tables say of a part, a test or a measurement.

use super::arguments::ExplainArguments;
use super::{Stop, terminal};
use railstep::output::explain;

pub(super) fn explain(arguments: &ExplainArguments) -> Result<u8, Stop> {
    let text = if arguments.name.is_empty() {
        explain::contents()
    } else {
        explain::entry(&arguments.name.join(" ")).map_err(Stop::Because)?
    };
    terminal::say(&text);
    Ok(0)
}

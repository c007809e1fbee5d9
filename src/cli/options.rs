//! Options that several commands take alike, and how a halt ends those that leave no journal.

use super::Stop;
use clap::ValueEnum;
use railstep::diagnostic::{FileId, Span};
use railstep::quantity::{Dimension, NoNames, parse};
use railstep::study::Halt;
use std::num::NonZero;

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// Tables for people
    Text,
    /// JSON for programs (of a run the summary, as in summary.json), and nothing else
    Json,
}

/// What `--accuracy` says, in V.
pub(super) fn volts(text: &str) -> Result<f64, Stop> {
    let span = Span { file: FileId(0), start: 0, end: 0 };
    let program = parse(text, span).map_err(|m| vec![m]);
    let program = program.and_then(|tree| tree.compile_as(&NoNames, Dimension::VOLT));
    let value = program.map(|p| p.evaluate::<f64>(&[]));
    match value {
        Ok(volt) if volt > 0.0 && volt.is_finite() => Ok(volt),
        Ok(_) => Err(Stop::Because(format!("`--accuracy {text}` must be above zero"))),
        Err(mistakes) => {
            let why = mistakes.first().map_or_else(String::new, |m| m.message.clone());
            Err(Stop::Because(format!(
                "`--accuracy {text}`: {why}; write for example `--accuracy 10uV`"
            )))
        }
    }
}

/// So many as asked, or one a core.
pub(super) fn threads_of(asked: Option<u16>) -> usize {
    let cores = std::thread::available_parallelism().map_or(1, NonZero::get);
    asked.map_or(cores, usize::from)
}

/// Where nothing was kept for another machine.
pub(super) fn stop(halt: Halt) -> Stop {
    match halt {
        Halt::Refused(why) => Stop::Because(why),
        Halt::Elsewhere { .. } => Stop::Part,
    }
}

//! Arguments in, exit code out: one file a command, files and terminal touched only here.

mod arguments;
mod check;
mod disk;
mod explain;
mod read;
mod run;
mod target;
mod terminal;

use arguments::{Arguments, Command};
use clap::Parser as _;
use std::process::ExitCode;

/// The input is wrong, or a file cannot be written.
const INPUT_OR_WRITING: u8 = 2;
/// A test or an operating point could not be solved.
const NOT_SOLVED: u8 = 3;

/// Why a command ended early; what there is to say has been said already or is in here.
enum Stop {
    /// Mistakes in the input that were told.
    Told,
    /// One line still to be told.
    Because(String),
}

pub(crate) fn main() -> ExitCode {
    let outcome = match Arguments::parse().command {
        Command::Run(arguments) => run::run(&arguments),
        Command::Check(arguments) => check::check(&arguments),
        Command::Explain(arguments) => explain::explain(&arguments),
    };
    match outcome {
        Ok(code) => ExitCode::from(code),
        Err(Stop::Told) => ExitCode::from(INPUT_OR_WRITING),
        Err(Stop::Because(line)) => {
            terminal::complain(&line);
            ExitCode::from(INPUT_OR_WRITING)
        }
    }
}

//! Arguments in, exit code out: one file a command, files and terminal touched only here.

mod arguments;
mod budget;
mod check;
mod compare;
mod completions;
mod disk;
mod explain;
mod interrupt;
mod journal;
mod live;
mod map;
mod merge;
mod model;
mod new;
mod options;
mod read;
mod run;
mod schema;
mod spread;
mod study;
mod target;
mod terminal;
mod tune;
mod unfinished;

use arguments::{Arguments, Command, StudyCommand};
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
    /// A part of a study was made as asked; the whole is for later.
    Part,
}

pub(crate) fn main() -> ExitCode {
    interrupt::listen();
    match obey(Arguments::parse()) {
        Ok(_) if terminal::is_lost() => ExitCode::from(INPUT_OR_WRITING),
        Ok(code) => ExitCode::from(code),
        Err(Stop::Part) => ExitCode::SUCCESS,
        Err(Stop::Told) => ExitCode::from(INPUT_OR_WRITING),
        Err(Stop::Because(line)) => {
            terminal::complain(&line);
            ExitCode::from(INPUT_OR_WRITING)
        }
    }
}

fn obey(arguments: Arguments) -> Result<u8, Stop> {
    match arguments.command {
        Command::Run(arguments) => run::run(&arguments),
        Command::Check(arguments) => check::check(&arguments),
        Command::Live(arguments) => live::live(&arguments),
        Command::Map(arguments) => map::run(&arguments),
        Command::Spread(arguments) => spread::run(&arguments),
        Command::Compare(arguments) => compare::compare(&arguments),
        Command::Model(arguments) => model::run(&arguments),
        Command::Study(StudyCommand::Merge(arguments)) => obey(merge::command(&arguments)?),
        Command::Tune(arguments) => tune::command(&arguments),
        Command::New(arguments) => new::new(&arguments),
        Command::Explain(arguments) => explain::explain(&arguments),
        Command::Budget(arguments) => budget::budget(&arguments),
        Command::Schema => Ok(schema::schema()),
        Command::Completions(arguments) => Ok(completions::completions(&arguments)),
    }
}

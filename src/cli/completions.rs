//! `railstep completions`: a script for a shell, made from the command line as it is declared.

use super::arguments::{Arguments, CompletionsArguments};
use super::terminal;
use clap::CommandFactory as _;

const PROGRAM: &str = "railstep";

pub(super) fn completions(arguments: &CompletionsArguments) -> u8 {
    let mut script = Vec::new();
    let mut command = Arguments::command();
    clap_complete::generate(arguments.shell, &mut command, PROGRAM, &mut script);
    terminal::say(&String::from_utf8_lossy(&script));
    0
}

//! The command line as data.

mod budget;

use super::compare::CompareArguments;
use super::live::LiveArguments;
use super::map::MapArguments;
use super::model::ModelArguments;
use super::new::NewArguments;
use super::options::Format;
use super::spread::SpreadArguments;
use super::study::StudyArguments;
use super::tune::TuneArguments;
pub(super) use budget::BudgetArguments;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// Step a linear regulator through its transients and judge the rail
#[derive(Debug, Parser)]
#[command(name = "railstep", version, max_term_width = 80, disable_help_subcommand = true, after_help = BEGIN)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Command,
}

/// What a newcomer types first.
const BEGIN: &str = "\
To begin:
  railstep new my-rail        write a commented file that holds
  railstep run my-rail.toml   run its tests and judge them
  railstep explain            list what parts, tests and measurements mean";

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Run the tests of a circuit file, measure, judge, and write results
    ///
    /// Exit code: 0 all requirements pass (marginal included, and said); 1 one fails or could not
    /// be evaluated; 2 the input is wrong or a file cannot be written; 3 a test could not be
    /// solved.
    Run(RunArguments),
    /// Read and check circuit files and solve their operating points
    Check(CheckArguments),
    /// Turn values on a local page and see the waveform follow
    ///
    /// The page is on 127.0.0.1 only and opens with the address that is printed, which holds a
    /// token. Ctrl-C ends it. Exit code: 2 the input is wrong, or the port is taken.
    Live(LiveArguments),
    /// Map one measurement over one or two values, and where it stops to hold
    Map(MapArguments),
    /// Draw boards at random, search the extreme values, and tell the yield
    ///
    /// Tolerances and environment are drawn. Every requirement is judged in each drawn run and at
    /// the worst vertex of all limits. Exit code: 1 if one that counts fails or cannot be evaluated;
    /// 3 if a run could not be solved.
    Spread(SpreadArguments),
    /// Hold a measured trace against a test, fit values, check a substitute
    ///
    /// Exit code: 0 done; 1 the substitute does not pass; 2 the input is wrong, a test cannot be
    /// solved or a file cannot be written.
    Compare(Box<CompareArguments>),
    /// Find preferred values that meet every requirement, and what may be bought
    ///
    /// Exit code: 0 a choice meets everything that was asked; 1 none does.
    Tune(TuneArguments),
    /// Give a regulator known by its datasheet an inside that meets the sheet
    ///
    /// Exit code: 0 every point of the datasheet is met; 1 one is missed, or what the sheet
    /// recommends contradicts them; 2 the input is wrong or a file cannot be written; 3 nothing could be
    /// solved.
    Model(ModelArguments),
    /// Join the parts of a study that was spread over machines
    #[command(subcommand)]
    Study(StudyCommand),
    /// Write a commented circuit file to start from
    ///
    /// Exit code: 0 written; 2 a file of that name is there already, or it cannot be written.
    New(NewArguments),
    /// Explain a part, a test, a measurement, a command or a word of the trade
    Explain(ExplainArguments),
    /// Decide whether a linear regulator is right at all, from a few numbers
    ///
    /// Exit code: 0 it is (marginal included, and said); 1 it is not; 2 the input is wrong, or the
    /// output is not below the input.
    Budget(BudgetArguments),
    /// Print the JSON Schema of the circuit file, for editors
    ///
    /// An editor that holds the file against it completes keys and words, shows what they mean, and
    /// marks what is wrong in form: `railstep schema > circuit.schema.json`.
    Schema,
    /// Print a script that completes commands and options in a shell
    ///
    /// Load it where your shell looks for such scripts, for example
    /// `railstep completions bash > ~/.local/share/bash-completion/completions/railstep`.
    Completions(CompletionsArguments),
}

impl Command {
    /// The common arguments of a study.
    pub(super) fn study_mut(&mut self) -> Option<&mut StudyArguments> {
        match self {
            Self::Map(arguments) => Some(&mut arguments.study),
            Self::Spread(arguments) => Some(&mut arguments.study),
            Self::Tune(arguments) => Some(&mut arguments.study),
            Self::Run(_)
            | Self::Check(_)
            | Self::Live(_)
            | Self::Compare(_)
            | Self::Model(_)
            | Self::Study(_)
            | Self::New(_)
            | Self::Explain(_)
            | Self::Budget(_)
            | Self::Schema
            | Self::Completions(_) => None,
        }
    }
}

#[derive(Debug, Subcommand)]
pub(super) enum StudyCommand {
    /// Join the journals that `--shard I/N` left, and finish the study
    Merge(MergeArguments),
}

#[derive(Debug, Args)]
pub(super) struct MergeArguments {
    /// Folders with journals of parts, or the journals themselves
    #[arg(required = true, value_name = "DIR")]
    pub(super) parts: Vec<PathBuf>,
    /// Write results into this folder [default: where the first part lies]
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// What standard output gets [default: text]
    #[arg(long, value_enum)]
    pub(super) format: Option<Format>,
    /// Use so many threads [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub(super) threads: Option<u16>,
}

#[derive(Debug, Args)]
pub(super) struct RunArguments {
    /// The circuit file
    pub(super) file: PathBuf,
    /// Run only this test (repeatable)
    #[arg(long = "test", value_name = "NAME")]
    pub(super) tests: Vec<String>,
    /// Set a value, or a key by its path, over the file (repeatable)
    #[arg(long = "set", value_name = "NAME=VALUE")]
    pub(super) sets: Vec<String>,
    /// Write results into this folder [default: results/FILE-STEM]
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// What standard output gets
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
    /// Target error of the output node, such as 10uV, over the file
    #[arg(long, value_name = "V")]
    pub(super) accuracy: Option<String>,
    /// Add N evenly spaced rows to each CSV
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=10_000_000))]
    pub(super) sample: Option<u32>,
    /// Run so many tests side by side [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub(super) threads: Option<u16>,
    /// Solve each test once only; no numerical uncertainty is known then
    #[arg(long)]
    pub(super) quick: bool,
    /// Solve each test by a second integration formula too, and tell how far both differ
    #[arg(long)]
    pub(super) cross_check: bool,
    /// Judge each requirement at its worst corner of `[corners]` and tolerances
    #[arg(long)]
    pub(super) corners: bool,
    /// Judge each requirement with every model of a regulator in this file, which `railstep model`
    /// writes: which conclusions rest on the datasheet, which on what is assumed inside
    #[arg(long, value_name = "FILE")]
    pub(super) models: Option<PathBuf>,
    /// Integrate by this method
    #[arg(long, value_enum, default_value_t = Integrator::Rodas4p, hide = true)]
    pub(super) method: Integrator,
    #[command(flatten)]
    pub(super) screen: ScreenOptions,
    #[command(flatten)]
    pub(super) later: LaterOptions,
}

/// What a terminal shows besides the text.
#[derive(Debug, Args)]
pub(super) struct ScreenOptions {
    /// Draw no sketch of the output between the tables of a terminal
    #[arg(long)]
    pub(super) no_sketch: bool,
}

/// Options of later versions: known, so that each can be refused with what to do instead.
#[derive(Debug, Args)]
pub(super) struct LaterOptions {
    #[arg(long, hide = true, value_name = "I/N")]
    shard: Option<String>,
}

impl LaterOptions {
    /// Why the run cannot be made as asked, for the first option that is not there yet.
    pub(super) fn refusal(&self) -> Option<String> {
        let instead = "choose tests by `--test NAME` instead";
        self.shard.as_ref()?;
        Some(format!("`--shard` is not available in this version; {instead}"))
    }
}

#[derive(Debug, Args)]
pub(super) struct CheckArguments {
    /// The circuit files
    #[arg(required = true)]
    pub(super) files: Vec<PathBuf>,
    /// Print what regulators known by their datasheets are taken apart into, and nothing else
    #[arg(long)]
    pub(super) expand: bool,
    /// Set a value, or a key by its path, over the file (repeatable)
    #[arg(long = "set", value_name = "NAME=VALUE")]
    pub(super) sets: Vec<String>,
}

#[derive(Debug, Args)]
pub(super) struct ExplainArguments {
    /// A name, such as `capacitor`, `load-step`, `phase margin` or `tune`; a list of all when left
    /// out
    #[arg(value_name = "NAME")]
    pub(super) name: Vec<String>,
}

#[derive(Debug, Args)]
pub(super) struct CompletionsArguments {
    /// The shell
    #[arg(value_enum, ignore_case = true)]
    pub(super) shell: clap_complete::Shell,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Integrator {
    /// Rosenbrock, order 4
    Rodas4p,
    /// Trapezoidal and second-order backward difference
    TrBdf2,
}

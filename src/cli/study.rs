//! What all studies have in common at the command line: the plan, the folder, the journal, and the
//! way back to the world.

use super::journal::{Journal, Shard, Start};
use super::options::{Format, threads_of, volts};
use super::target::Target;
use super::{Stop, read, terminal};
use clap::Args;
use railstep::output::studies::Bundle;
use railstep::plan::Plan;
use railstep::study::{Ground, Halt, Models, Runner, Watch};
use railstep::trial::RunOptions;
use std::path::{Path, PathBuf};

/// Arguments that every study takes.
#[derive(Clone, Debug, Args)]
pub(super) struct StudyArguments {
    /// The circuit file
    pub(super) file: PathBuf,
    /// Look at this test (repeatable)
    #[arg(long = "test", value_name = "NAME")]
    pub(super) tests: Vec<String>,
    /// Set a value, or a key by its path, over the file (repeatable)
    #[arg(long = "set", value_name = "NAME=VALUE")]
    pub(super) sets: Vec<String>,
    /// Write results into this folder [default: results/FILE-STEM/STUDY]
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// What standard output gets
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub(super) format: Format,
    /// Target error of the output node, such as 10uV, over the file
    #[arg(long, value_name = "V")]
    pub(super) accuracy: Option<String>,
    /// Use so many threads [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub(super) threads: Option<u16>,
    /// Run part I of N only; `study merge` joins the parts
    #[arg(long, value_name = "I/N")]
    pub(super) shard: Option<Shard>,
    /// Begin anew, though an interrupted study left finished runs behind
    #[arg(long)]
    pub(super) fresh: bool,
    /// Several models of a regulator, from the studies that take them.
    #[arg(skip)]
    pub(super) models: Option<PathBuf>,
    /// Journals whose runs are known, for joining.
    #[arg(skip)]
    pub(super) known: Vec<PathBuf>,
}

/// A study that is about to be made.
pub(super) struct Desk {
    pub(super) plan: Plan,
    /// Indices of the tests asked for; of all where none is named.
    pub(super) tests: Vec<usize>,
    pub(super) options: RunOptions,
    pub(super) threads: usize,
    /// The models of a regulator that are tried; the best one's changes are among the options'.
    pub(super) models: Option<Models>,
    /// The study's word: `map`.
    name: &'static str,
    format: Format,
    target: Target,
    journal: Journal,
}

impl Desk {
    /// Reads the file and opens the folder, in which `files` will be written. `asked` is what
    /// besides the common arguments decides the results.
    pub(super) fn open(
        arguments: &StudyArguments,
        name: &'static str,
        asked: &[String],
        files: &[String],
    ) -> Result<Self, Stop> {
        let changes = read::changes(&arguments.sets)?;
        let (plan, sources, models) =
            read::plan_with_models(&arguments.file, &changes, arguments.models.as_deref())?;
        let changes = models.as_ref().map_or(changes.clone(), |models| models.under(&changes));
        let chosen = plan.chosen(&arguments.tests).map_err(Stop::Because)?;
        let is_chosen = |stem: &str| chosen.iter().any(|t| t.stem == stem);
        let tests = (0..plan.tests.len()).filter(|&k| is_chosen(&plan.tests[k].stem)).collect();
        let accuracy_v = arguments.accuracy.as_deref().map(volts).transpose()?;
        let options = RunOptions { changes, accuracy_v, ..RunOptions::default() };
        let folder = arguments.out.clone().unwrap_or_else(|| {
            let stem = arguments.file.file_stem().unwrap_or("circuit".as_ref());
            Path::new("results").join(stem).join(name)
        });
        let target = Target::prepare(&folder, files)?;
        let mut words: Vec<String> = asked.to_vec();
        words.extend(arguments.tests.iter().map(|t| format!("--test {t}")));
        words.extend(arguments.sets.iter().map(|s| format!("--set {s}")));
        words.extend(arguments.models.iter().map(|m| format!("--models {}", m.display())));
        words.extend(arguments.accuracy.iter().map(|a| format!("--accuracy {a}")));
        let StudyArguments { shard, fresh, known, .. } = arguments;
        let start = Start { shard: *shard, fresh: *fresh, known };
        let journal = Journal::open(&folder, name, &words, &sources, &start)?;
        let threads = threads_of(arguments.threads);
        let format = arguments.format;
        Ok(Self { plan, tests, options, threads, models, name, format, target, journal })
    }

    /// What runs the study's shots.
    pub(super) fn runner(&self, tests: &[usize], watch: &Watch) -> Result<Runner<'_>, Stop> {
        let runner = Runner::new(self.ground(), tests, watch, &self.journal);
        let runner = runner.map_err(|halt| self.stop(halt))?;
        Ok(runner.with_models(self.models.clone()))
    }

    /// The circuit and how to run it.
    pub(super) fn ground(&self) -> Ground<'_> {
        let (plan, threads) = (&self.plan, self.threads);
        let options = self.options.clone();
        Ground { circuit: &plan.circuit, tests: &plan.tests, options, threads }
    }

    /// How a halt ends the command. A part of a study that is finished is no mistake.
    pub(super) fn stop(&self, halt: Halt) -> Stop {
        match halt {
            Halt::Refused(why) => Stop::Because(why),
            Halt::Elsewhere { here, left } => {
                let journal = self.journal.path().display();
                if let Some(why) = self.journal.lost() {
                    return Stop::Because(format!(
                        "`{journal}` does not hold all {here} runs of this part: {why}; the same \
                         command goes on after those that it holds"
                    ));
                }
                terminal::note(&format!(
                    "{here} runs of this part stand in `{journal}`, {left} are left to the other \
                     parts; when all are done, `railstep study merge DIR…` joins them and finishes the {}",
                    self.name
                ));
                Stop::Part
            }
        }
    }

    /// Writes the files, prints, and removes the journal, whose work is done.
    pub(super) fn deliver(self, bundle: &Bundle) -> Result<(), Stop> {
        for (name, bytes) in &bundle.files {
            self.target.write(name, bytes)?;
        }
        self.target.deliver()?;
        match self.format {
            Format::Json => terminal::say(&String::from_utf8_lossy(&bundle.json)),
            Format::Text => terminal::say(&self.target.placed(&bundle.text)),
        }
        self.journal.close();
        Ok(())
    }
}

//! `railstep model`: a regulator known by its datasheet, given an inside that behaves as the sheet says.

use super::options::{Format, threads_of};
use super::target::Target;
use super::{NOT_SOLVED, Stop, disk, read, terminal};
use clap::Args;
use railstep::circuit::regulator::Regulator;
use railstep::diagnostic::nearest;
use railstep::output::studies::model::{FILES, Report, WRITTEN_BY, bundle, model_file};
use railstep::plan::Plan;
use railstep::study::Ground;
use railstep::study::model::{Ask, Refusal, model};
use railstep::trial::RunOptions;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use std::time::Duration;

#[derive(Debug, Args)]
pub(super) struct ModelArguments {
    /// The circuit file
    file: PathBuf,
    /// The part of kind `regulator` [default: the only one]
    #[arg(long, value_name = "NAME")]
    part: Option<String>,
    /// Write the model as a file to include, such as parts/U1.toml
    #[arg(long, value_name = "PATH")]
    write: Option<PathBuf>,
    /// Where starts and mixtures are drawn from
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Set a value, or a key by its path, over the file (repeatable)
    #[arg(long = "set", value_name = "NAME=VALUE")]
    sets: Vec<String>,
    /// Write results into this folder [default: results/FILE-STEM/model]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// What standard output gets
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Use so many threads [default: one a core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    threads: Option<u16>,
    /// Fewer starts and shorter walks: intervals may come out too narrow
    #[arg(long)]
    quick: bool,
}

/// How often the line moves that says what is being done.
const TICK: Duration = Duration::from_millis(120);
/// A point of the datasheet is missed.
const MISSED: u8 = 1;

pub(super) fn run(arguments: &ModelArguments) -> Result<u8, Stop> {
    let changes = read::changes(&arguments.sets)?;
    let plan = read::plan(&arguments.file, &changes)?;
    let regulator = chosen(&plan, arguments.part.as_deref())?;
    let folder = folder(arguments);
    let target = Target::prepare(&folder, &FILES.map(str::to_owned))?;
    let place = arguments.write.as_deref().map(place_of_model).transpose()?;
    let ground = Ground {
        circuit: &plan.circuit,
        tests: &plan.tests,
        options: RunOptions { changes, ..RunOptions::default() },
        threads: threads_of(arguments.threads),
    };
    let ask = Ask { seed: arguments.seed, quick: arguments.quick };
    let modelled = match followed(|begins| model(&ground, regulator, ask, begins)) {
        Ok(modelled) => modelled,
        Err(Refusal::Wrong(why)) => return Err(Stop::Because(why)),
        Err(Refusal::Unsolved(why)) => {
            terminal::complain(&why);
            return Ok(NOT_SOLVED);
        }
    };
    let names = (arguments.file.display().to_string(), folder.display().to_string());
    let written = arguments.write.as_ref().map(|path| path.display().to_string());
    let report = Report {
        file: &names.0,
        title: &plan.circuit.title,
        seed: arguments.seed,
        modelled: &modelled,
        folder: &names.1,
        written: written.as_deref(),
    };
    if let Some((target, name)) = &place {
        target.write(name, model_file(&report).as_bytes())?;
        target.deliver()?;
    }
    let bundle = bundle(&report, terminal::width());
    for (name, bytes) in &bundle.files {
        target.write(name, bytes)?;
    }
    target.deliver()?;
    match arguments.format {
        Format::Json => terminal::say(&String::from_utf8_lossy(&bundle.json)),
        Format::Text => terminal::say(&target.placed(&bundle.text)),
    }
    Ok(if modelled.is_consistent() { 0 } else { MISSED })
}

/// Does what may take a minute, and says on a terminal what is being done.
fn followed<T>(work: impl FnOnce(&dyn Fn(&'static str)) -> T) -> T {
    if !std::io::stderr().is_terminal() {
        return work(&|_| ());
    }
    let line = indicatif::ProgressBar::new_spinner();
    line.enable_steady_tick(TICK);
    let done = work(&|begins| line.set_message(begins));
    line.finish_and_clear();
    done
}

fn folder(arguments: &ModelArguments) -> PathBuf {
    arguments.out.clone().unwrap_or_else(|| {
        let stem = arguments.file.file_stem().unwrap_or("circuit".as_ref());
        Path::new("results").join(stem).join("model")
    })
}

/// The regulator of that name, or the only one.
fn chosen<'a>(plan: &'a Plan, name: Option<&str>) -> Result<&'a Regulator, Stop> {
    let all = &plan.circuit.regulators;
    let list = || all.iter().map(|r| r.name.as_str()).collect::<Vec<_>>().join(", ");
    let why = match (all.as_slice(), name) {
        ([], _) => "the file has no part of kind `regulator`, which a model is made of; \
                    `railstep explain regulator` tells how a datasheet is put down"
            .to_owned(),
        ([only], None) => return Ok(only),
        (_, None) => format!("the file has several regulators; name one by `--part`: {}", list()),
        (_, Some(name)) => match all.iter().find(|r| r.name == name) {
            Some(found) => return Ok(found),
            None => match nearest(name, all.iter().map(|r| r.name.as_str())) {
                Some(near) => format!("there is no regulator `{name}`; is `{near}` meant?"),
                None => format!("there is no regulator `{name}`; the file has {}", list()),
            },
        },
    };
    Err(Stop::Because(why))
}

/// Where the model goes. Nothing is written over but an earlier model of this command.
fn place_of_model(path: &Path) -> Result<(Target, String), Stop> {
    let shown = path.display();
    let wrong = |why: &str| Stop::Because(format!("`--write {shown}`: {why}"));
    let is_toml = path.extension().is_some_and(|extension| extension == "toml");
    let name = path.file_name().and_then(|name| name.to_str()).filter(|_| is_toml);
    let name =
        name.ok_or_else(|| wrong("a model is a TOML file; write for example parts/U1.toml"))?;
    if path.exists() {
        let known = disk::read_text(path).is_ok_and(|text| text.starts_with(WRITTEN_BY));
        if !known {
            let why = "that file is there already and holds no model of this command; name \
                       another one, or move it away";
            return Err(wrong(why));
        }
        terminal::note(&format!("`{shown}` holds an earlier model and will be replaced"));
    }
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    Ok((Target::prepare(folder, &[name.to_owned()])?, name.to_owned()))
}

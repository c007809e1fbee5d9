//! `railstep new`: a circuit file to start from, written where none lies yet.

mod demos;

use super::disk::{read_text, reason};
use super::{Stop, terminal};
use clap::Args;
use demos::{DEMOS, Demo};
use railstep::diagnostic::nearest;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::{Path, PathBuf};

const STARTER: &str = include_str!("starter.toml");
const REGULATOR: &str = include_str!("regulator.toml");

#[derive(Debug, Args)]
pub(super) struct NewArguments {
    /// The file to write; `.toml` may be left out
    name: PathBuf,
    /// Start from this demo, with all files that belong to it
    #[arg(long, value_name = "DEMO")]
    like: Option<String>,
    /// Start from the datasheet of a regulator
    #[arg(long, conflicts_with = "like")]
    regulator: bool,
}

pub(super) fn new(arguments: &NewArguments) -> Result<u8, Stop> {
    let file = with_ending(&arguments.name)?;
    let beside = file.parent().map(Path::to_path_buf).unwrap_or_default();
    let (text, others) = match arguments.like.as_deref() {
        Some(like) => {
            let demo = demo(like).map_err(Stop::Because)?;
            (demo.text, demo.others)
        }
        None if arguments.regulator => (REGULATOR, &[][..]),
        None => (STARTER, &[][..]),
    };
    let mut all = vec![(file.clone(), text)];
    all.extend(others.iter().map(|(name, text)| (beside.join(name), *text)));
    // Nothing is written unless all of it can be.
    for (path, text) in &all {
        let same = read_text(path).is_ok_and(|known| known == *text);
        if path.exists() && (path == &file || !same) {
            let why = "there is such a file already; choose another name";
            return Err(Stop::Because(format!("`{}` is not written: {why}", path.display())));
        }
    }
    for (path, text) in &all {
        if path == &file || !path.exists() {
            write(path, text)?;
        }
    }
    let written: Vec<String> = all.iter().map(|(path, _)| path.display().to_string()).collect();
    let next = next(arguments, &file);
    terminal::say(&format!("written: {}\nnext:\n{next}", written.join(", ")));
    Ok(0)
}

/// What to type next.
fn next(arguments: &NewArguments, file: &Path) -> String {
    let file = railstep::study::spell::quoted(&file.display().to_string());
    if arguments.regulator {
        return format!(
            "  put the figures of your datasheet into {file}, then\n  railstep check {file}\n  \
             railstep model {file} --part U1\n  railstep run {file}\n"
        );
    }
    format!("  railstep run {file}\n")
}

fn with_ending(name: &Path) -> Result<PathBuf, Stop> {
    let Some(stem) = name.file_name() else {
        let why = "is not the name of a file; write for example `railstep new my-rail`";
        return Err(Stop::Because(format!("`{}` {why}", name.display())));
    };
    if name.extension().is_some_and(|ending| ending == "toml") {
        return Ok(name.to_path_buf());
    }
    let mut stem = stem.to_owned();
    stem.push(".toml");
    Ok(name.with_file_name(stem))
}

fn demo(like: &str) -> Result<&'static Demo, String> {
    let asked = like.strip_suffix(".toml").unwrap_or(like);
    if let Some(demo) = DEMOS.iter().find(|demo| demo.name == asked) {
        return Ok(demo);
    }
    let hint = match nearest(asked, DEMOS.iter().map(|demo| demo.name)) {
        Some(near) => format!("is `{near}` meant? "),
        None => String::new(),
    };
    let width = DEMOS.iter().map(|demo| demo.name.len()).max().unwrap_or(0);
    let list = DEMOS.iter().map(|demo| format!("\n  {:width$}  {}", demo.name, demo.about()));
    Err(format!("there is no demo `{like}`; {hint}these are there:{}", list.collect::<String>()))
}

/// Makes the file; one that has come there meanwhile is left as it is.
fn write(path: &Path, text: &str) -> Result<(), Stop> {
    let made = OpenOptions::new().write(true).create_new(true).open(path);
    let written = made.and_then(|mut file| {
        // Half a file would be in the way of the next try.
        file.write_all(text.as_bytes()).inspect_err(|_| drop(std::fs::remove_file(path)))
    });
    written.map_err(|why| {
        let why = match why.kind() {
            std::io::ErrorKind::NotFound => "its folder does not exist".to_owned(),
            _ => reason(&why),
        };
        Stop::Because(format!("`{}` cannot be written: {why}", path.display()))
    })
}

//! The journal of a study: each run a line, written when it is done. An interrupted study goes on
//! from it, and parts made on several machines are joined through it.

use super::unfinished::file_in;
use super::{Stop, disk, interrupt, terminal};
use railstep::diagnostic::Sources;
use railstep::study::{Keeper, Reading};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Ending of journals.
pub(super) const ENDING: &str = "jsonl";
/// A bar is shown for what lasts longer than this.
const PATIENCE: Duration = Duration::from_secs(1);

/// Part `part` of `of`, counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Shard {
    part: u64,
    of: u64,
}

impl FromStr for Shard {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let pair = text.split_once('/');
        let numbers = pair.and_then(|(i, n)| Some((i.parse().ok()?, n.parse().ok()?)));
        match numbers {
            Some((part, of)) if (1..=of).contains(&part) => Ok(Self { part, of }),
            _ => Err("write part and number of parts, such as 1/4".to_owned()),
        }
    }
}

/// The first line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Head {
    /// Version of the program: another one may number its runs otherwise.
    railstep: String,
    pub(super) study: String,
    /// What was asked, from the circuit file on.
    asked: Vec<String>,
    /// Of everything that decides the results.
    fingerprint: String,
    /// The command line, to be made again when parts are joined.
    pub(super) command: Vec<String>,
}

#[derive(Serialize, Deserialize)]
struct Row {
    key: String,
    reading: Reading,
}

/// How a study is begun.
pub(super) struct Start<'a> {
    /// The part of it that is made here.
    pub(super) shard: Option<Shard>,
    /// What an earlier start has done counts for nothing.
    pub(super) fresh: bool,
    /// Journals whose runs are known.
    pub(super) known: &'a [PathBuf],
}

pub(super) struct Journal {
    path: PathBuf,
    lines: Mutex<Lines>,
    known: BTreeMap<String, Reading>,
    shard: Option<Shard>,
    keeps: bool,
    bar: Mutex<Bar>,
}

/// A file that is written line by line.
struct Lines {
    file: File,
    /// Why some line is not there whole.
    trouble: Option<String>,
    /// Whether the last line was cut off.
    is_cut: bool,
}

struct Bar {
    since: Instant,
    drawn: Option<indicatif::ProgressBar>,
}

impl Journal {
    /// Opens the journal of a study in a folder; one that an interrupted study of the same kind left
    /// there goes on.
    pub(super) fn open(
        folder: &Path,
        study: &str,
        asked: &[String],
        sources: &Sources,
        start: &Start<'_>,
    ) -> Result<Self, Stop> {
        let head = Head {
            railstep: env!("CARGO_PKG_VERSION").to_owned(),
            study: study.to_owned(),
            asked: asked.to_vec(),
            fingerprint: fingerprint(study, asked, sources),
            command: std::env::args_os()
                .skip(1)
                .map(|a| a.to_string_lossy().into_owned())
                .collect(),
        };
        let name = match start.shard {
            Some(Shard { part, of }) => format!("{study}.part-{part}-of-{of}.{ENDING}"),
            None => format!("{study}.{ENDING}"),
        };
        let path = folder.join(name);
        let mut known = BTreeMap::new();
        for other in start.known {
            let (theirs, rows) = read(other)?;
            if !theirs.is_same(&head) {
                let why = "is of another study, circuit file or version and cannot be joined";
                return Err(Stop::Because(format!("`{}` {why}", other.display())));
            }
            known.extend(rows);
        }
        let earlier = read(&path).ok().filter(|(theirs, _)| theirs.is_same(&head));
        let goes_on = earlier.filter(|_| !start.fresh);
        let wrong = |e: &std::io::Error| {
            let why = disk::reason(e);
            Stop::Because(format!("`{}` cannot be written: {why}", path.display()))
        };
        // Written beside and renamed: what an earlier start has done is never lost on the way.
        let finished = goes_on.map(|(_, rows)| rows).unwrap_or_default();
        let file = begin(folder, &path, &head, &finished).map_err(|e| wrong(&e))?;
        if !finished.is_empty() {
            terminal::note(&format!(
                "going on after {} finished runs in `{}`; `--fresh` begins anew",
                finished.len(),
                path.display()
            ));
        }
        known.extend(finished);
        let shown = path.display();
        interrupt::answer_with(format!(
            "finished runs stand in `{shown}`, and the same command goes on after them"
        ));
        let keeps = start.shard.is_some();
        let bar = Mutex::new(Bar { since: Instant::now(), drawn: None });
        let lines = Mutex::new(Lines { file, trouble: None, is_cut: false });
        Ok(Self { path, lines, known, shard: start.shard, keeps, bar })
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Why a later start would not find all runs that were finished, if so.
    pub(super) fn lost(&self) -> Option<String> {
        let lines = self.lines.lock().ok()?;
        let length = |about: std::io::Result<fs::Metadata>| about.map(|about| about.len()).ok();
        let is_there = length(fs::metadata(&self.path)) == length(lines.file.metadata());
        lines.trouble.clone().or((!is_there).then(|| "it was removed meanwhile".to_owned()))
    }

    /// Removes what is no longer needed; a part stays for joining.
    pub(super) fn close(self) {
        if !self.keeps {
            let _ = fs::remove_file(&self.path);
        }
    }
}

impl Head {
    fn is_same(&self, other: &Head) -> bool {
        (&self.railstep, &self.study, &self.fingerprint)
            == (&other.railstep, &other.study, &other.fingerprint)
    }
}

impl Keeper for Journal {
    fn recall(&self, key: &str) -> Option<Reading> {
        self.known.get(key).cloned()
    }

    fn keep(&self, key: &str, reading: &Reading) {
        // A line that cannot be written is only lost to a later start; the results are not.
        let Ok(mut lines) = self.lines.lock() else { return };
        let row = Row { key: key.to_owned(), reading: reading.clone() };
        let Err(error) = lines.put(&row) else { return };
        if lines.trouble.is_none() {
            let why = disk::reason(&error);
            terminal::note(&format!(
                "`{}` cannot be written: {why}; should the study be interrupted, runs from here on \
                 are lost",
                self.path.display()
            ));
            lines.trouble = Some(why);
        }
    }

    fn is_mine(&self, key: &str) -> bool {
        self.shard.is_none_or(|shard| hash([key].into_iter()) % shard.of == shard.part - 1)
    }

    fn progress(&self, done: usize, of: usize) {
        let Ok(mut bar) = self.bar.lock() else { return };
        if bar.since.elapsed() < PATIENCE || !std::io::stderr().is_terminal() {
            return;
        }
        let drawn = bar.drawn.get_or_insert_with(|| indicatif::ProgressBar::new(of as u64));
        drawn.set_length(of as u64);
        drawn.set_position(done as u64);
        if done == of {
            drawn.finish_and_clear();
            bar.drawn = None;
        }
    }
}

impl Lines {
    fn put(&mut self, row: &Row) -> std::io::Result<()> {
        // What comes after a line that was cut off must not be lost with it.
        if self.is_cut {
            self.file.write_all(b"\n")?;
        }
        let done = put(&mut self.file, row);
        self.is_cut = done.is_err();
        done
    }
}

/// A journal that lies on the disk; lines that were cut off are left out.
pub(super) fn read(path: &Path) -> Result<(Head, Vec<(String, Reading)>), Stop> {
    let text = disk::read_text(path)
        .map_err(|why| Stop::Because(format!("`{}` cannot be read: {why}", path.display())))?;
    let mut lines = text.lines();
    let head = lines.next().and_then(|line| serde_json::from_str(line).ok());
    let head = head
        .ok_or_else(|| Stop::Because(format!("`{}` is no journal of a study", path.display())))?;
    let rows = lines.filter_map(|line| serde_json::from_str::<Row>(line).ok());
    Ok((head, rows.map(|row| (row.key, row.reading)).collect()))
}

/// A journal with its head and the runs known so far, open for more.
fn begin(
    folder: &Path,
    path: &Path,
    head: &Head,
    finished: &[(String, Reading)],
) -> std::io::Result<File> {
    let mut beside = file_in(folder)?;
    put(beside.as_file_mut(), head)?;
    for (key, reading) in finished {
        put(beside.as_file_mut(), &Row { key: key.clone(), reading: reading.clone() })?;
    }
    beside.persist(path).map_err(|e| e.error)?;
    OpenOptions::new().append(true).open(path)
}

fn put(file: &mut File, line: &impl Serialize) -> std::io::Result<()> {
    let mut bytes = serde_json::to_vec(line)?;
    bytes.push(b'\n');
    file.write_all(&bytes)
}

fn fingerprint(study: &str, asked: &[String], sources: &Sources) -> String {
    let asked = asked.iter().map(String::as_str);
    let texts = sources.files.iter().map(|f| f.text.as_str());
    format!("{:016x}", hash([study].into_iter().chain(asked).chain(texts)))
}

/// FNV-1a over the words, each ended by a zero: the same on every machine.
fn hash<'a>(words: impl Iterator<Item = &'a str>) -> u64 {
    const OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0100_0000_01b3;
    let bytes = words.flat_map(|word| word.bytes().chain([0]));
    bytes.fold(OFFSET, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(PRIME))
}

//! What the page asks, answered: a turn of some values, and a copy of the file with them.

use super::copy;
use super::request::Status;
use railstep::circuit::Change;
use railstep::output::page::answer::{Asked, Mistake, answer, json};
use railstep::output::page::live;
use railstep::plan::Plan;
use railstep::study::live::{Knob, Live, blame, knobs};
use railstep::study::spell::spelled;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Condvar, Mutex};
use std::time::Duration;

/// Solutions at a time, whatever is asked; the others wait.
const MOST_SOLVING: usize = 4;
/// How long one waits before it is refused.
const WAITING: Duration = Duration::from_secs(10);

pub(super) struct Desk<'a> {
    file: &'a Path,
    /// The file as it was read.
    text: &'a str,
    plan: &'a Plan,
    tests: Vec<usize>,
    knobs: Vec<Knob>,
    live: Live<'a>,
    /// From the command line.
    base: &'a [Change],
    solving: Mutex<usize>,
    solved: Condvar,
}

/// What a page asks.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Ask {
    #[serde(default)]
    test: usize,
    /// Values that are not the file's own.
    set: BTreeMap<String, Wish>,
    /// Whether the file itself is asked for, without what the command line sets.
    #[serde(default)]
    own: bool,
    /// Whether the values are still being turned.
    #[serde(default)]
    draft: bool,
}

/// What a value is to be.
#[derive(Deserialize)]
#[serde(untagged)]
enum Wish {
    /// Where a slider stands, in SI base units.
    Slider(f64),
    /// As typed.
    Text(String),
}

impl<'a> Desk<'a> {
    pub(super) fn new(
        file: &'a Path,
        text: &'a str,
        plan: &'a Plan,
        tests: Vec<usize>,
        base: &'a [Change],
    ) -> Self {
        let live = Live::new(&plan.circuit, &plan.tests);
        let knobs = knobs(&plan.circuit);
        let (solving, solved) = (Mutex::new(0), Condvar::new());
        Self { file, text, plan, tests, knobs, live, base, solving, solved }
    }

    pub(super) fn page(&self) -> String {
        let set = |path: &str| {
            self.base.iter().rfind(|change| change.path == path).map(|change| change.text.clone())
        };
        live::page(&self.file.display().to_string(), self.plan, &self.knobs, &self.tests, &set)
    }

    /// Solves a test with what is asked, as JSON.
    pub(super) fn turn(&self, body: &[u8]) -> Result<Vec<u8>, Status> {
        let ask: Ask = serde_json::from_slice(body).map_err(|_| Status::BadRequest)?;
        if !self.tests.contains(&ask.test) {
            return Err(Status::BadRequest);
        }
        let changes = if ask.own { Vec::new() } else { self.changes(&ask)? };
        let _place = self.place()?;
        match self.live.turn(ask.test, &changes, ask.draft) {
            Ok(turned) => {
                let file = self.file.display().to_string();
                let asked = Asked {
                    file: &file,
                    plan: self.plan,
                    knobs: &self.knobs,
                    test: ask.test,
                    changes: &changes,
                    draft: ask.draft,
                };
                Ok(json(&answer(&asked, &turned)))
            }
            Err(told) => {
                let all = blame(&self.plan.circuit, &changes, &told).into_iter();
                let mistakes: Vec<Mistake> =
                    all.map(|(path, words)| Mistake { path, words }).collect();
                Ok(json(&serde_json::json!({ "mistakes": mistakes })))
            }
        }
    }

    /// Writes a copy of the file with what is asked; the answer tells where, or why not.
    pub(super) fn copy(&self, body: &[u8]) -> Result<Vec<u8>, Status> {
        let ask: Ask = serde_json::from_slice(body).map_err(|_| Status::BadRequest)?;
        let changes = self.changes(&ask)?;
        Ok(json(&match copy::write(self.file, self.text, &changes) {
            Ok(path) => serde_json::json!({ "written": path.display().to_string() }),
            Err(why) => serde_json::json!({ "refused": why }),
        }))
    }

    /// What the command line sets besides the values of the page, and then those.
    fn changes(&self, ask: &Ask) -> Result<Vec<Change>, Status> {
        let is_knob = |path: &str| self.knobs.iter().any(|knob| knob.path == path);
        if !ask.set.keys().all(|path| is_knob(path)) {
            return Err(Status::BadRequest);
        }
        let besides = self.base.iter().filter(|change| !is_knob(&change.path)).cloned();
        let set = self.knobs.iter().filter_map(|knob| {
            Some(match ask.set.get(&knob.path)? {
                Wish::Text(text) => Change::new(&knob.path, text.trim()),
                Wish::Slider(value) => spelled(&knob.path, knob.rounded(*value), knob.dimension).0,
            })
        });
        Ok(besides.chain(set).collect())
    }

    /// A place among those who solve, once one is free.
    fn place(&self) -> Result<Solving<'_, 'a>, Status> {
        let solving = self.solving.lock().map_err(|_| Status::Broken)?;
        let full = |solving: &mut usize| *solving >= MOST_SOLVING;
        let (mut solving, waited) =
            self.solved.wait_timeout_while(solving, WAITING, full).map_err(|_| Status::Broken)?;
        if waited.timed_out() {
            return Err(Status::Busy);
        }
        *solving += 1;
        Ok(Solving(self))
    }
}

struct Solving<'d, 'a>(&'d Desk<'a>);

impl Drop for Solving<'_, '_> {
    fn drop(&mut self) {
        if let Ok(mut solving) = self.0.solving.lock() {
            *solving -= 1;
        }
        self.0.solved.notify_one();
    }
}

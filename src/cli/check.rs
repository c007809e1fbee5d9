//! `railstep check`: read, tell what was understood, solve the operating point; no time passes.

use super::arguments::CheckArguments;
use super::{INPUT_OR_WRITING, NOT_SOLVED, Stop, read, terminal};
use railstep::analysis::operating_point;
use railstep::circuit::Changes;
use railstep::output::understood;
use railstep::plan::Plan;
use railstep::system::System;
use std::path::Path;

/// All files are looked at; the code is that of the worst.
pub(super) fn check(arguments: &CheckArguments) -> Result<u8, Stop> {
    let changes = read::changes(&arguments.sets)?;
    let look = if arguments.expand { expand } else { check_file };
    let codes = arguments.files.iter().map(|file| look(file, &changes));
    // Wrong input weighs more than what could not be solved.
    let weight = |code: &u8| match *code {
        0 => 0,
        NOT_SOLVED => 1,
        _ => 2,
    };
    Ok(codes.max_by_key(weight).unwrap_or(0))
}

fn check_file(file: &Path, changes: &Changes) -> u8 {
    let plan = match read::plan(file, changes) {
        Ok(plan) => plan,
        Err(stop) => {
            if let Stop::Because(line) = stop {
                terminal::complain(&line);
            }
            return INPUT_OR_WRITING;
        }
    };
    let name = file.display().to_string();
    let mut lines =
        vec![plan.circuit.title.clone(), name.clone(), String::new(), "understood".to_owned()];
    let mut indented = |more: Vec<String>| lines.extend(more.iter().map(|l| format!("  {l}")));
    indented(understood::lines(&plan, &[]));
    let code = match at_rest(&plan) {
        Ok(found) => {
            indented(vec![String::new()]);
            indented(found);
            0
        }
        Err(failure) => {
            terminal::complain(&format!("{name}: {failure}"));
            NOT_SOLVED
        }
    };
    let lines: Vec<&str> = lines.iter().map(|l| l.trim_end()).collect();
    terminal::say(&(lines.join("\n") + "\n"));
    code
}

/// The blocks that stand for the regulators of a file, as text that can be pasted into it.
fn expand(file: &Path, changes: &Changes) -> u8 {
    let plan = match read::plan(file, changes) {
        Ok(plan) => plan,
        Err(stop) => {
            if let Stop::Because(line) = stop {
                terminal::complain(&line);
            }
            return INPUT_OR_WRITING;
        }
    };
    let regulators = &plan.circuit.regulators;
    if regulators.is_empty() {
        let name = file.display();
        terminal::say(&format!("# {name}: no part of kind `regulator`, nothing to take apart\n"));
    }
    terminal::say(&understood::expanded(regulators));
    0
}

/// Where parts work at nominal values, or why no operating point was found.
fn at_rest(plan: &Plan) -> Result<Vec<String>, String> {
    let system = System::build(&plan.nominal.net(&[]));
    let rest = operating_point(&system, &system.pieces(-1.0), 0.0, None).map_err(|failure| {
        let tried = failure.tried.join(", ");
        if tried.is_empty() {
            failure.message
        } else {
            format!("{}; tried: {tried}", failure.message)
        }
    })?;
    let mut lines = understood::levels(&system, &rest.z);
    lines.extend(understood::regions(&system, &rest.z));
    let tests = match plan.tests.len() {
        1 => "1 test".to_owned(),
        n => format!("{n} tests"),
    };
    let unknowns = system.n();
    lines.push(format!(
        "no mistakes: {unknowns} unknowns, operating point found, {tests} ready to run"
    ));
    Ok(lines)
}

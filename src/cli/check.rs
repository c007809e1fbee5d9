//! `railstep check`: read, tell what was understood, solve the operating point; no time passes.

use super::arguments::CheckArguments;
use super::{Stop, read, terminal};
use railstep::analysis::operating_point;
use railstep::output::understood;
use railstep::system::System;

/// A file whose operating point could not be solved.
const NOT_SOLVED: u8 = 3;
/// A file with mistakes.
const WRONG_INPUT: u8 = 2;

pub(super) fn check(arguments: &CheckArguments) -> Result<u8, Stop> {
    let changes = read::changes(&arguments.sets)?;
    let mut worst = 0;
    for file in &arguments.files {
        let name = file.display().to_string();
        let plan = match read::plan(file, &changes) {
            Ok(plan) => plan,
            Err(stop) => {
                if let Stop::Because(line) = stop {
                    terminal::complain(&line);
                }
                worst = WRONG_INPUT;
                continue;
            }
        };
        let mut lines = vec![format!("{name}: {}", plan.circuit.title)];
        lines.extend(understood::lines(&plan, &[]).into_iter().map(|line| format!("  {line}")));
        let system = System::build(&plan.nominal.net(&[]));
        match operating_point(&system, &system.pieces(-1.0), 0.0, None) {
            Ok(rest) => lines.push(format!(
                "  operating point found in {} iterations; {} unknowns, {} tests read, no mistakes",
                rest.newton_iterations,
                system.n(),
                plan.tests.len(),
            )),
            Err(failure) => {
                terminal::complain(&format!("{name}: {}", failure.message));
                failure
                    .tried
                    .iter()
                    .for_each(|t| terminal::complain(&format!("{name}: tried {t}")));
                if worst == 0 {
                    worst = NOT_SOLVED;
                }
            }
        }
        terminal::say(&(lines.join("\n") + "\n"));
    }
    Ok(worst)
}

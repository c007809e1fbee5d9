//! `railstep budget`: is a linear regulator right here at all?

mod question;

use super::arguments::BudgetArguments;
use super::options::Format;
use super::{Stop, terminal};
use railstep::measure::Verdict;
use railstep::output::studies::budget;
use railstep::suitability::assess;

pub(super) fn budget(arguments: &BudgetArguments) -> Result<u8, Stop> {
    let question = question::read(arguments).map_err(|mistakes| {
        mistakes.iter().for_each(|mistake| terminal::complain(mistake));
        Stop::Told
    })?;
    let assessment = assess(&question).map_err(Stop::Because)?;
    match arguments.format {
        Format::Text => terminal::say(&budget::text(&question, &assessment, terminal::width())),
        Format::Json => {
            terminal::say(&String::from_utf8_lossy(&budget::json(&question, &assessment)));
        }
    }
    Ok(u8::from(assessment.verdict == Verdict::Fail))
}

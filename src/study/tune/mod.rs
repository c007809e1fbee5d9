//! Preferred values that meet all requirements of all tests at all corners, and the region around
//! them for purchasing.
//!
//! Not everything is run everywhere. All candidates are run at nominal values, the tests with the
//! least work first. The worst corners and tolerances of the best one are searched then; what was
//! found is tried on all others, and the next best is searched, until the best one is one that was
//! searched. A requirement that nobody meets is set apart and told, and the choice goes on without, as long
//! as anything is left to choose by.

mod around;
mod candidates;
mod cases;
mod fate;
mod held;
mod rank;
mod region;
mod scope;
mod search;

pub use candidates::{Asked, Candidate, Tuned, USUAL_LIMIT, tuned};
pub use cases::Stage;
pub use fate::{Fate, Searched};
pub use held::{Row, Spot};
pub use rank::{ENOUGH, Standing};
pub use region::{Bound, Region, SideEnd};
pub use scope::{Scope, scope};
pub use search::{NotCured, WhyNot};

use super::runner::{Halt, Runner};
use search::Search;

/// What came of it.
#[derive(Clone, Debug)]
pub struct Tuning {
    /// What was tuned.
    pub tuned: Vec<Tuned>,
    /// The requirements that choices were held against.
    pub rows: Vec<Row>,
    /// In the order of their values, the design as it stands last where it is none of the choices.
    pub standings: Vec<Standing>,
    /// Indices of those that meet everything but what was set apart, the best first.
    pub ranking: Vec<usize>,
    /// The best of them that can be chosen.
    pub choice: Option<usize>,
    /// The design as it stands.
    pub present: Option<usize>,
    /// Least margin from which the cheaper candidate is preferred.
    pub enough: f64,
    /// What all that are left meet alike and that therefore does not rank: the requirement (an index)
    /// with the least margin, and that margin.
    pub alike: Option<(usize, f64)>,
    /// What no choice cures.
    pub not_cured: Vec<NotCured>,
    /// Where the choice may wander, for each output capacitor that is tuned.
    pub regions: Vec<Region>,
    /// How many combinations there are.
    pub combinations: usize,
    /// Different runs that were made.
    pub runs: usize,
    /// Whether only nominal values were looked at.
    pub nominal: bool,
    /// Why the search ended before the best one was searched, if it did.
    pub cut_short: Option<String>,
}

impl Tuning {
    /// Whether a choice meets everything that was asked.
    pub fn is_met(&self) -> bool {
        self.choice.is_some() && self.not_cured.is_empty()
    }
}

/// Looks for the best choice. The runner must know the tests of `scope` that are run.
///
/// # Errors
/// As [`Runner::run`], and what is wrong with the candidates.
pub fn tune(
    runner: &Runner<'_>,
    tuned: Vec<Tuned>,
    scope: &Scope,
    asked: &Asked,
) -> Result<Tuning, Halt> {
    let ground = &runner.ground;
    let changes = &ground.options.changes;
    let (candidates, combinations) =
        candidates::candidates(ground.circuit, changes, &tuned, asked.limit)
            .map_err(Halt::Refused)?;
    let mut search = Search::new(runner, &tuned, candidates, scope, asked.nominal);
    search.nominal()?;
    search.once(&scope.at_rest)?;
    if !asked.nominal {
        search.worst_cases()?;
    }
    search.restore_if_empty();
    let ranking = search.ranking();
    let choice = ranking.iter().copied().find(|&k| search.is_choice(k));
    let regions = match choice {
        Some(choice) => region::regions(&search, choice)?,
        None => Vec::new(),
    };
    let (enough, alike) = (search.enough(), search.alike());
    let present = search.candidates.iter().position(|c| c.is_present);
    let cut_short = search.cut_short.take();
    let not_cured = std::mem::take(&mut search.not_cured);
    let rows = search.rows.clone();
    let standings = search.standings();
    let runs = runner.runs();
    let nominal = asked.nominal;
    Ok(Tuning {
        tuned,
        rows,
        standings,
        ranking,
        choice,
        present,
        enough,
        alike,
        not_cured,
        regions,
        combinations,
        runs,
        nominal,
        cut_short,
    })
}

//! Analyses of a [`System`](crate::system::System): operating point, transient, quasi-static sweep,
//! small signals.
//!
//! The step loop, the two integration formulas, Newton's method and the record of what happened
//! are kept apart; a failure says when, at which node, in which part and what was tried.

mod books;
mod control;
mod crossing;
mod curve_of_rests;
mod events;
mod lane_solver;
mod lockstep;
mod newton;
mod operating_point;
mod plans;
mod quasi_static;
mod record;
mod rodas4p;
mod rounding;
pub mod small_signal;
mod solver;
mod states;
mod step;
mod stepper;
mod thermal;
mod tr_bdf2;
mod transient;
mod trips;
mod trouble;

pub use books::{Account, Books};
pub use control::{Accuracy, Tolerances};
pub use events::{Event, Events};
pub use lockstep::{Job, run_abreast};
pub use operating_point::{as_held, operating_point, operating_point_near, to_start_from};
pub use plans::Plans;
pub use quasi_static::{QuasiStatic, Sought, SweepPoint, Watched};
pub use record::{Record, Recorded, Segment, Spare, Stretch};
pub use step::{Point, Step};
pub use stepper::{Method, Stepper};
pub use transient::{DEFAULT_WORK_LIMIT, Start, Transient, TransientOptions};

/// How much work an analysis took.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Work {
    /// Steps accepted, those at corners included.
    pub steps: usize,
    /// Attempts thrown away because the error was too large.
    pub rejected_error: usize,
    /// Attempts thrown away because an iteration did not converge or a value was not finite.
    pub rejected_newton: usize,
    /// Newton iterations.
    pub newton_iterations: usize,
    /// Matrices factored.
    pub factorisations: usize,
    /// Of these, how many from the start: the linear part of the others was at hand.
    pub eliminations: usize,
    /// Systems of linear equations solved with them.
    pub solves: usize,
}

impl Work {
    /// Step attempts: accepted and thrown away.
    pub fn attempts(&self) -> usize {
        self.steps + self.rejected_error + self.rejected_newton
    }

    /// Adds the work of another run.
    pub fn add(&mut self, other: Self) {
        self.steps += other.steps;
        self.rejected_error += other.rejected_error;
        self.rejected_newton += other.rejected_newton;
        self.newton_iterations += other.newton_iterations;
        self.factorisations += other.factorisations;
        self.eliminations += other.eliminations;
        self.solves += other.solves;
    }
}

/// A solved operating point.
#[derive(Clone, Debug)]
pub struct OperatingPoint {
    /// The extended vector z there.
    pub z: Vec<f64>,
    /// Whether each state is high, in the order of [`System::trips`](crate::system::System::trips).
    pub states: Vec<bool>,
    /// What was tried until one way succeeded.
    pub tried: Vec<String>,
    /// Newton iterations over all attempts.
    pub newton_iterations: usize,
    /// Matrices factored.
    pub factorisations: usize,
}

/// An analysis that could not be carried to its end.
#[derive(Clone, Debug, PartialEq)]
pub struct Failure {
    /// When, in s; `None` before time starts (operating point).
    pub time_s: Option<f64>,
    /// The unknown that gave most trouble.
    pub node: Option<String>,
    /// The part there.
    pub part: Option<String>,
    /// What was tried, in order.
    pub tried: Vec<String>,
    /// What happened, in a sentence without full stop.
    pub message: String,
}

impl Failure {
    /// One that belongs to no time, node or part.
    pub fn plain(message: String) -> Self {
        Self { time_s: None, node: None, part: None, tried: Vec::new(), message }
    }
}

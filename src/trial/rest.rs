//! Where a test in time starts: at rest. That of a changed circuit is looked for from the rest it has
//! with nothing changed, so that thousands of variants need a few Newton steps each, and so that of
//! several rests all variants take the one that the circuit has as its file stands.
//!
//! The start is always this one and never the rest of another variant, and the order in which matrices
//! are eliminated is that of this one: results depend neither on the order of runs nor on the number of
//! threads, and a single run with the same changes gives the same.

use super::run::{Prepared, RunOptions};
use super::{Motion, Test, steady};
use crate::analysis::{
    Failure, OperatingPoint, Plans, Spare, Start, operating_point, operating_point_near,
    to_start_from,
};
use crate::circuit::{Changes, Circuit};
use crate::system::System;
use std::sync::{Arc, Mutex};

/// The rest of a test with nothing changed from outside, and what else serves all its variants.
#[derive(Debug)]
pub struct Unchanged {
    names: Vec<String>,
    /// Unknowns, ground first; V and A.
    x: Vec<f64>,
    /// How its matrices are factored.
    plans: Option<Plans>,
    /// Room that runs left behind.
    spares: Mutex<Vec<Spare>>,
}

impl Unchanged {
    /// `None` for tests that are not in time, and where there is no such rest.
    pub fn of(circuit: &Circuit, test: &Test) -> Option<Self> {
        if matches!(test.motion, Motion::Steady(_)) {
            return None;
        }
        let options = RunOptions { changes: Changes::default(), ..RunOptions::default() };
        let prepared = Prepared::new(circuit, test, &options).ok()?;
        let system = System::build(&prepared.net());
        Self::found_in(&system)
    }

    /// The same, of tests at rest and over frequency too.
    pub fn at_rest(circuit: &Circuit, test: &Test) -> Option<Self> {
        if !matches!(test.motion, Motion::Steady(_)) {
            return Self::of(circuit, test);
        }
        let prepared = Prepared::new(circuit, test, &RunOptions::default()).ok()?;
        let system = System::build(&steady::net_of(&prepared));
        Self::found_in(&system)
    }

    fn found_in(system: &System) -> Option<Self> {
        let pieces = system.pieces(-1.0);
        let rest = operating_point(system, &pieces, 0.0, None).ok()?;
        let names = system.unknowns.iter().map(|unknown| unknown.name.clone()).collect();
        let plans = Plans::of(system, &pieces, &rest.z);
        let x = rest.z[..system.unknowns.len()].to_vec();
        Some(Self { names, x, plans, spares: Mutex::default() })
    }

    /// The one to start from beside the rest of a circuit that was changed from outside, `None` where
    /// nothing was: as the options bring it, or looked for.
    pub(super) fn beside(
        circuit: &Circuit,
        test: &Test,
        options: &RunOptions,
    ) -> Option<Arc<Self>> {
        if options.changes.list.is_empty() {
            return None;
        }
        options.unchanged.clone().or_else(|| Self::of(circuit, test).map(Arc::new))
    }

    /// Its unknowns, where the system has the same ones.
    pub(super) fn in_system(&self, system: &System) -> Option<&[f64]> {
        let names = system.unknowns.iter().map(|unknown| &unknown.name);
        names.eq(&self.names).then_some(&self.x)
    }

    /// Room for a record; fresh where none lies ready.
    pub(super) fn lend(&self) -> Spare {
        self.spares.lock().ok().and_then(|mut spares| spares.pop()).unwrap_or_default()
    }

    /// Takes the room of a record back for another run.
    pub(super) fn take_back(&self, spare: Spare) {
        if let Ok(mut spares) = self.spares.lock() {
            spares.push(spare);
        }
    }

    /// Its plans, where they are for matrices of the system.
    pub(super) fn plans_for(&self, system: &System) -> Option<&Plans> {
        self.plans.as_ref().filter(|plans| plans.suit(system))
    }
}

/// The rest of a prepared test on its variant.
pub(super) fn rest(
    prepared: &Prepared,
    start: Start,
    system: &System,
) -> Result<OperatingPoint, Failure> {
    let pieces = system.pieces(-1.0);
    if start == Start::InitialValues {
        return to_start_from(system, &pieces, 0.0);
    }
    let unchanged = prepared.unchanged.as_deref();
    match unchanged.and_then(|unchanged| Some((unchanged, unchanged.in_system(system)?))) {
        Some((unchanged, x)) => {
            operating_point_near(system, &pieces, 0.0, x, unchanged.plans_for(system))
        }
        None => operating_point(system, &pieces, 0.0, None),
    }
}

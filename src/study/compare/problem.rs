//! The least-squares problem: a trace, what may be moved, and how far a solution lies from the trace.

use super::knob::Knob;
use super::solution::Solution;
use super::trace::Trace;
use crate::circuit::Change;
use nalgebra::DMatrix;
use std::cell::Cell;

/// Slopes are differences over this to both sides: of the value itself where it is moved by ratio,
/// else of the way between its bounds. Small against what bends, large against the solver's error.
pub(super) const SIDE: f64 = 0.005;

/// Where the trace's zero lies in the record.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Shift {
    /// Found with the fit.
    #[default]
    Free,
    /// At the start of the record.
    None,
    /// At this instant of the record, s.
    Given(f64),
}

/// Solves the test once for each list of changes, in order.
pub(super) type Solve<'a> = dyn Fn(&[Vec<Change>]) -> Vec<Result<Solution, String>> + 'a;

/// A fit to be made.
pub(super) struct Problem<'a> {
    /// What was measured.
    pub(super) trace: &'a Trace,
    /// What is moved.
    pub(super) knobs: &'a [Knob],
    /// Whether the shift is found too.
    pub(super) shift: Shift,
    /// Whether a constant error of the probe is found too.
    pub(super) offset_free: bool,
    /// What a solution may differ from the exact one, V.
    pub(super) blur_v: f64,
    /// For the search of the shift.
    pub(super) threads: usize,
    /// The circuit.
    pub(super) solve: &'a Solve<'a>,
    /// Solutions so far.
    pub(super) runs: Cell<usize>,
}

/// Where in its coordinates a fit stands.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Place {
    /// One a knob.
    pub(super) u: Vec<f64>,
    /// What is added to the trace's times.
    pub(super) shift_s: f64,
    /// What is taken off the trace.
    pub(super) offset_v: f64,
}

/// A place that was looked at.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    pub(super) place: Place,
    pub(super) changes: Vec<Change>,
    pub(super) solution: Solution,
    /// Measured minus calculated, one a sample in use.
    pub(super) residual: Vec<f64>,
    /// Sum of their squares.
    pub(super) sum: f64,
}

impl Problem<'_> {
    /// How many of shift and offset are found: they come first among the columns.
    pub(super) fn aside(&self) -> usize {
        usize::from(self.shift == Shift::Free) + usize::from(self.offset_free)
    }

    /// The samples that the record covers at a shift.
    pub(super) fn covered(&self, solution: &Solution, shift_s: f64) -> Vec<usize> {
        let times = self.trace.time_s.iter().enumerate();
        let inside = |t: f64| t <= solution.end_s() && (t >= 0.0 || solution.at_rest);
        times.filter(|(_, t)| inside(**t + shift_s)).map(|(k, _)| k).collect()
    }

    /// What changes a place stands for, and the place as their texts read.
    pub(super) fn changes(&self, place: &Place) -> (Vec<Change>, Place) {
        let each = self.knobs.iter().zip(&place.u).map(|(knob, u)| knob.change(*u));
        let (changes, u) = each.unzip();
        (changes, Place { u, ..place.clone() })
    }

    /// Looks at places side by side; `None` where the test cannot be solved.
    pub(super) fn look(&self, places: &[Place], used: &[usize]) -> Vec<Option<Seen>> {
        let read: Vec<_> = places.iter().map(|place| self.changes(place)).collect();
        let lists: Vec<Vec<Change>> = read.iter().map(|(changes, _)| changes.clone()).collect();
        self.runs.set(self.runs.get() + lists.len());
        let solved = (self.solve)(&lists);
        let seen = read.into_iter().zip(solved).map(|((changes, place), solution)| {
            Some(self.against(place, changes, solution.ok()?, used))
        });
        seen.collect()
    }

    /// A solution held against the trace.
    pub(super) fn against(
        &self,
        place: Place,
        changes: Vec<Change>,
        solution: Solution,
        used: &[usize],
    ) -> Seen {
        let residual: Vec<f64> = self.residual(&place, &solution, used);
        let sum = residual.iter().map(|r| r * r).sum();
        Seen { place, changes, solution, residual, sum }
    }

    fn residual(&self, place: &Place, solution: &Solution, used: &[usize]) -> Vec<f64> {
        let (time_s, volt) = (&self.trace.time_s, &self.trace.volt);
        let one = |&k: &usize| volt[k] - place.offset_v - solution.volt(time_s[k] + place.shift_s);
        used.iter().map(one).collect()
    }

    /// How the calculated samples go with shift, offset and knobs, a column each in this order.
    /// `None` where no neighbour of the place can be solved.
    pub(super) fn slopes(&self, seen: &Seen, used: &[usize]) -> Option<DMatrix<f64>> {
        let mut places = Vec::new();
        for (k, knob) in self.knobs.iter().enumerate() {
            let [low, high] = knob.ends();
            for side in [SIDE, -SIDE] {
                let mut place = seen.place.clone();
                place.u[k] = (place.u[k] + side).clamp(low, high);
                places.push(place);
            }
        }
        let looked = self.look(&places, used);
        let mut columns: Vec<Vec<f64>> = Vec::new();
        if self.shift == Shift::Free {
            let at = |&k: &usize| seen.solution.rate(self.trace.time_s[k] + seen.place.shift_s);
            columns.push(used.iter().map(at).collect());
        }
        if self.offset_free {
            columns.push(vec![1.0; used.len()]);
        }
        for (k, pair) in looked.chunks(2).enumerate() {
            let [up, down] = pair else { return None };
            let (up, down) = (up.as_ref().unwrap_or(seen), down.as_ref().unwrap_or(seen));
            let way = up.place.u[k] - down.place.u[k];
            if way == 0.0 {
                return None;
            }
            let both = up.residual.iter().zip(&down.residual);
            columns.push(both.map(|(up, down)| (down - up) / way).collect());
        }
        let columns: Vec<f64> = columns.concat();
        let width = columns.len() / used.len().max(1);
        Some(DMatrix::from_vec(used.len(), width, columns))
    }
}

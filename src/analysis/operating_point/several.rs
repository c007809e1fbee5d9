//! Of several rests one at which a circuit stays, and first the one that it was built for.
//!
//! Newton's method finds any rest, also one that no circuit holds: a point half way down a foldback, the
//! middle of a latch. There an odd number of natural frequencies is real and positive, and det(G) and
//! det(G + σ·C), σ beyond all of them, differ in sign (Green and Willson, IEEE Trans. Circuits Syst. I 39
//! (1992), cited from memory). By the degree of the map those signs add up to one over all rests of a
//! circuit, so that such a rest never is the only one: the circuit is let go from there and followed.
//! The rest of an oscillator has a complex pair or two real ones; its signs agree, and it is kept.

use super::{Failure, OperatingPoint, Search, WARM_ITERATIONS, as_held};
use crate::analysis::newton::{Damping, Held};
use crate::analysis::solver::Solver;
use crate::device::Wanted;
use crate::system::{Pieces, System};

/// Between these, in rad/s, real frequencies are looked for. A rest that takes a quarter of an hour to
/// leave is one; nothing that anybody builds is faster than the other.
pub(in crate::analysis) const GROWTHS: [f64; 2] = [1e-3, 1e18];
/// F from every node to ground, so that a circuit without any capacitor has a motion too: less than any
/// wire has.
pub(in crate::analysis) const STRAY_F: f64 = 1e-15;
/// W/K that hold junctions where they are: what heat does has its own test (`thermal.rs`).
const HELD_W_PER_K: f64 = 1e6;
/// Halvings of the interval of growths, in its logarithm: to some 1e-5.
const HALVINGS: usize = 22;
/// Rounds of inverse iteration; the frequency is known to five digits, so that each gains five.
const ROUNDS: usize = 3;
/// The push that sends it away, in V at the node that moves most.
const PUSH_V: f64 = 1e-3;
/// So many pushes away it counts as left. Until then steps are a share of the time in which it
/// grows: longer ones of backward Euler would bring it back.
const LEFT_PUSHES: f64 = 30.0;
const SHARE_OF_GROWTH: f64 = 0.3;
/// The most any node moves in a step: in V, and as a share of the highest voltage.
const MOST_MOVED: [f64; 2] = [0.05, 0.03];
/// Steps after which it is given up, and the step in s at which it has come to rest.
const MOST_STEPS: usize = 4000;
const RESTING_S: f64 = 1e6;
/// Rests closer than this, in V, are the same one.
const SAME_V: f64 = 1e-5;
/// An output below this share of what is wanted may be that of another rest than the wanted one.
const WANTED_SHARE: f64 = 0.9;
/// A rest is nearer to what is wanted only if it is by more than this share of it.
const NEARER_SHARE: f64 = 1e-3;
/// S that hold the output where it is wanted, first and last: stiffer than any rail, and nothing.
const HOLDING_S: [f64; 2] = [1e3, 1e-10];
/// The share of the way to where it is wanted that the output is drawn first.
const FIRST_SHARE: f64 = 1e-3;
/// Where it is held, as a share of what is wanted: short of it, so that the loop pulls up as well as it
/// can. At the set voltage itself all of its gain would lie in microvolts.
const HELD_SHARE: f64 = 0.98;

impl Search<'_> {
    /// The rest itself, if a circuit stays there; else the one that it goes to. Of two, by a push this
    /// way or that, the one nearer to what is wanted, or, where nothing is, to no voltage at all.
    pub(super) fn stable(&mut self, found: Vec<f64>) -> Vec<f64> {
        if !self.is_saddle(&found) {
            return found;
        }
        let what = "left a rest that no circuit holds, as the circuit would";
        let mut best: Option<(f64, Vec<f64>)> = None;
        if let Some((growth, direction)) = self.way_out(&found) {
            for push_v in [PUSH_V, -PUSH_V] {
                let Some(end) = self.leave(&found, (growth, &direction), push_v) else { continue };
                let rank = self.distance_from_wanted(&end);
                if best.as_ref().is_none_or(|(other, _)| rank < *other) {
                    best = Some((rank, end));
                }
            }
        }
        self.log(what, if best.is_some() { "came to rest elsewhere" } else { "found no other" });
        best.map_or(found, |(_, end)| end)
    }

    /// Whether an odd number of natural frequencies is real and positive, heat held.
    pub(super) fn is_saddle(&mut self, z: &[f64]) -> bool {
        // A linear circuit has one rest.
        if self.system.law_inputs() == 0 {
            return false;
        }
        let [slow, fast] = GROWTHS.map(|growth| self.sign(z, growth));
        slow.zip(fast).is_some_and(|(slow, fast)| slow != fast)
    }

    /// G + growth·C at a rest, factored.
    fn factored(&mut self, z: &[f64], growth: f64) -> Option<Solver<f64>> {
        let slopes = vec![0.0; z.len()];
        let at = &mut self.newton.at;
        self.system.linearise(z, &slopes, at);
        self.system.add_tie(HELD_W_PER_K, z, at);
        self.system.add_anchor(growth * STRAY_F, &[], z, at);
        let mut solver = Solver::new(self.system.pattern());
        at.matrix(growth, solver.values());
        // What pivots suit one growth does not suit another, so each has its own.
        self.newton.solver.factorisations += 1;
        let place = GROWTHS.iter().position(|known| *known == growth);
        if let Some((place, plans)) = place.zip(self.plans) {
            solver.adopt(&plans.growing[place]);
        }
        solver.factor().ok()?;
        if self.plans.is_some() {
            // Pivots that suited other values are only taken where they solve with these.
            solver.solve_checked(&mut vec![1.0; self.system.n()]).ok()?;
        }
        Some(solver)
    }

    fn sign(&mut self, z: &[f64], growth: f64) -> Option<f64> {
        self.factored(z, growth).map(|solver| solver.determinant_sign())
    }

    /// How fast a rest is left, in 1/s, and along which vector over the unknowns, largest node 1.
    fn way_out(&mut self, z: &[f64]) -> Option<(f64, Vec<f64>)> {
        let [mut low, mut high] = GROWTHS.map(f64::ln);
        let beyond = self.sign(z, GROWTHS[1])?;
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            // Exactly at the frequency there is no sign, and either half will do.
            if self.sign(z, middle.exp()) == Some(beyond) {
                high = middle;
            } else {
                low = middle;
            }
        }
        let growth = high.exp();
        let mut solver = self.factored(z, growth)?;
        let mut vector: Vec<f64> = (0..=self.system.n())
            .map(|k| if k == 0 { 0.0 } else { 1.0 + 0.3 * (7.0 * k as f64).sin() })
            .collect();
        for _ in 0..ROUNDS {
            let mut stored = self.stored(&vector);
            solver.solve(&mut stored[1..]);
            let largest = self.largest(&stored);
            if !(largest > 0.0 && largest.is_finite()) {
                return None;
            }
            vector = stored.iter().map(|x| x / largest).collect();
        }
        Some((growth, vector))
    }

    /// (C + stray)·v at the point last linearised.
    fn stored(&self, v: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; v.len()];
        for (row, (start, columns)) in self.system.pattern().rows().enumerate() {
            let capacitances = &self.newton.at.capacitances[start..start + columns.len()];
            let products = columns.iter().zip(capacitances);
            out[row + 1] = products.map(|(&column, c)| c * v[column as usize + 1]).sum();
        }
        for (k, entry) in self.system.unknowns.iter().enumerate() {
            if entry.role.is_voltage() {
                out[k] += STRAY_F * v[k];
            }
        }
        out
    }

    /// The motion from a rest after a push, by backward Euler with growing steps; another rest at
    /// which a circuit stays.
    fn leave(&mut self, from: &[f64], way: (f64, &[f64]), push_v: f64) -> Option<Vec<f64>> {
        let (growth, direction) = way;
        let mut z = from.to_vec();
        for (x, d) in z.iter_mut().zip(direction) {
            *x += push_v * d;
        }
        let mut rows = vec![0.0; self.system.unknowns.len()];
        self.charges_at(&mut z, &mut rows);
        let longest_at_first = SHARE_OF_GROWTH / growth;
        let mut h = longest_at_first;
        let most = MOST_MOVED[0] + MOST_MOVED[1] * self.largest(from);
        for _ in 0..MOST_STEPS {
            if self.apart(from, &z) < LEFT_PUSHES * PUSH_V {
                h = h.min(longest_at_first);
            }
            let (anchor, mut trial) = (z.clone(), z.clone());
            let held = Held {
                rate: 1.0 / h,
                rows: &rows,
                anchor_siemens: STRAY_F / h,
                anchor_at: &anchor,
                source_scale: 1.0,
                ..Held::default()
            };
            let solved = self.solve(&held, Damping::Junctions, WARM_ITERATIONS, &mut trial);
            let moved = self.apart(&z, &trial);
            if solved && moved <= most {
                z = trial;
                self.newton.charge_rows(self.system, &z, &mut rows);
                h *= if moved < 0.25 * most { 2.0 } else { 1.0 };
            } else {
                h *= 0.25;
            }
            if h > RESTING_S {
                let held = Held { source_scale: 1.0, ..Held::default() };
                let solved = self.solve(&held, Damping::Junctions, WARM_ITERATIONS, &mut z);
                let is_other = self.apart(from, &z) > SAME_V && !self.is_saddle(&z);
                return (solved && is_other).then_some(z);
            }
            if h < 1e-12 * longest_at_first {
                break;
            }
        }
        None
    }

    /// V² from what is wanted; from no voltage at any node where nothing is.
    fn distance_from_wanted(&self, z: &[f64]) -> f64 {
        match &self.system.wanted {
            Some(wanted) => (voltage(wanted, z) - wanted.volt).powi(2),
            None => self.voltages(z).map(|v| v * v).sum(),
        }
    }

    fn voltages<'z>(&self, z: &'z [f64]) -> impl Iterator<Item = f64> + use<'z, '_> {
        let both = self.system.unknowns.iter().zip(z);
        both.filter(|(entry, _)| entry.role.is_voltage()).map(|(_, v)| *v)
    }

    fn largest(&self, z: &[f64]) -> f64 {
        self.voltages(z).fold(0.0, |most, v| most.max(v.abs()))
    }

    /// V: the most by which any node differs.
    fn apart(&self, a: &[f64], b: &[f64]) -> f64 {
        self.voltages(a).zip(self.voltages(b)).fold(0.0, |most, (a, b)| most.max((a - b).abs()))
    }

    /// The rest that is left when the output, drawn from where it is to where it is wanted, is let go
    /// step by step. Over a voltage that is forced a current that folds back has no turn.
    fn let_go(&mut self, wanted: &Wanted, from: &[f64]) -> Option<Vec<f64>> {
        let [output, ground] = wanted.between;
        let (start, end) = (from[output], from[ground] + HELD_SHARE * wanted.volt);
        let pulled = |siemens: f64, level: f64| Held {
            pulled: Some((output, siemens, level)),
            source_scale: 1.0,
            ..Held::default()
        };
        let mut z = from.to_vec();
        let drawn = "the output drawn close to its nominal voltage (share)";
        let there = self.follow_to(&mut z, (FIRST_SHARE, 1.0), drawn, |share| {
            pulled(HOLDING_S[0], start + share * (end - start))
        });
        let let_go = "the output let go from there step by step (S)";
        if !there
            || !self.follow_to(&mut z, (HOLDING_S[0], HOLDING_S[1]), let_go, |s| pulled(s, end))
        {
            return None;
        }
        let held = Held { source_scale: 1.0, ..Held::default() };
        let solved = self.solve(&held, Damping::Junctions, WARM_ITERATIONS, &mut z);
        self.log(let_go, if solved { "solved" } else { "its last step did not converge" });
        solved.then_some(z)
    }
}

/// The rest found, or one whose output is nearer to what is wanted: a rail that folds back or latches
/// can rest far below with the same load, and which of them Newton's method comes to is chance.
pub(super) fn wanted_first(
    system: &System,
    (pieces, t): (&Pieces, f64),
    found: OperatingPoint,
) -> OperatingPoint {
    let Some(wanted) = &system.wanted else { return found };
    let share = |z: &[f64]| voltage(wanted, z) / wanted.volt;
    if share(&found.z) >= WANTED_SHARE || system.law_inputs() == 0 {
        return found;
    }
    let mut search = Search::new(system, (pieces, t), 0.0);
    let Some(z) = search.let_go(wanted, &found.z) else { return found };
    let is_nearer =
        |z: &[f64]| (share(z) - 1.0).abs() + NEARER_SHARE < (share(&found.z) - 1.0).abs();
    if !is_nearer(&z) {
        return found;
    }
    // With heat and all that a rest is held to.
    let better: Result<OperatingPoint, Failure> = as_held(system, pieces, t, Some(&z));
    match better {
        Ok(better) if is_nearer(&better.z) => {
            let tried = [found.tried, search.tried, better.tried].concat();
            OperatingPoint { tried, ..better }
        }
        _ => found,
    }
}

fn voltage(wanted: &Wanted, z: &[f64]) -> f64 {
    let [output, ground] = wanted.between;
    z[output] - z[ground]
}

//! Natural frequencies: the s at which (G + s·C)·x = 0 has a solution, and who owns each.
//!
//! All of them at once from a dense matrix, shifted and inverted: with A = G + σ·C the eigenvalues
//! μ of A⁻¹·C are 1/(σ − s), for several σ. Then each alone, by Rayleigh's quotient over the sparse matrix with
//! left and right vectors (Ostrowski 1958, Parlett 1974), which does not suffer from the spread of
//! twelve decades that the dense matrix has.

use super::{LoopPoint, Phasor, SmallSignal, Wire};
use crate::numeric::Pattern;
use crate::system::Linearisation;
use nalgebra::{Complex, DMatrix, Schur, linalg::balancing};
use std::f64::consts::TAU;

/// More unknowns than this are too many for dense eigenvalues: they cost the cube of their number.
pub const MOST_UNKNOWNS: usize = 400;
/// σ in rad/s, three decades apart, odd enough to be nobody's pole. Rounding spoils what lies many
/// decades from σ, so each is asked for what lies around it, with some overlap.
const SHIFTS: [f64; 5] = [TAU * 1.3, TAU * 1.3e3, TAU * 1.3e6, TAU * 1.3e9, TAU * 1.3e12];
/// Factor on either side of σ within which its frequencies are taken; the outermost take all beyond.
const AROUND: f64 = 100.0;
/// Natural frequencies beyond this, in rad/s, are those of no part anybody buys: what rounding
/// leaves of infinite ones.
const FASTEST: f64 = 1e13;
/// Iterations of Rayleigh's quotient; it triples the number of digits each time.
const POLISHING: usize = 12;
/// Shares of a frequency by which the matrix is taken beside it, until it can be solved with.
const BESIDE: [f64; 4] = [0.0, 1e-13, 1e-11, 1e-9];
/// A polished frequency that moved by more than this share has gone to another one.
const STRAYED: f64 = 0.05;
/// Digits to which a polished frequency stands still.
const SETTLED: f64 = 1e-13;
const MOST_QR_STEPS: usize = 10_000;

/// One natural frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct Natural {
    /// rad/s; a negative real part dies away.
    pub s: Phasor,
    /// Who stores what swings: shares of dln s/dln(element), largest first; they add up to 1 with
    /// their phases.
    pub owners: Vec<(String, f64)>,
    /// Right vector over the unknowns.
    pub right: Vec<Phasor>,
    /// Left vector, scaled so that left·C·right = 1.
    pub left: Vec<Phasor>,
}

impl Natural {
    /// |s|/2π in Hz.
    pub fn frequency_hz(&self) -> f64 {
        self.s.norm() / TAU
    }

    /// −Re s/|s|: 1 for a real pole that decays.
    pub fn damping(&self) -> f64 {
        -self.s.re / self.s.norm()
    }
}

/// What is done to the wire of a loop before natural frequencies are sought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WireState {
    /// Nothing: the poles of the closed loop.
    Closed,
    /// It is cut, the terminal held: the poles of the loop gain.
    Cut,
    /// It is cut, the terminal driven so that nothing comes back: the zeros of the loop gain.
    NothingReturns,
}

impl<'a> SmallSignal<'a> {
    /// The same circuit with its wire in another state. Exact where the terminal takes no signal
    /// current.
    #[must_use]
    pub fn with_wire(&self, wire: Wire, state: WireState) -> SmallSignal<'a> {
        let mut other = self.clone();
        let (row, e, f) = (wire.current - 1, wire.entry, wire.exit);
        let pattern = self.system.pattern();
        let mut set = |row: usize, unknown: usize, value: f64| {
            if let Some(slot) = unknown.checked_sub(1).and_then(|c| pattern.slot(row, c)) {
                other.at.conductances[slot] = value;
            }
        };
        let [entry, exit] = match state {
            WireState::Closed => return other,
            WireState::Cut => [1.0, 0.0],
            WireState::NothingReturns => [0.0, 1.0],
        };
        set(row, e, entry);
        set(row, f, exit);
        if let Some(exit_row) = f.checked_sub(1) {
            set(exit_row, wire.current, 0.0);
        }
        other
    }

    /// All natural frequencies, slowest first; `None` where there are too many unknowns or the
    /// eigenvalues could not be found.
    pub fn natural_frequencies(&mut self) -> Option<Vec<Natural>> {
        if self.system.n() > MOST_UNKNOWNS {
            return None;
        }
        let raw = raw_frequencies(self.system.pattern(), &self.at)?;
        let mut found: Vec<Natural> = Vec::with_capacity(raw.len());
        // Of a conjugate pair the one above suffices.
        let mut sought: Vec<Phasor> = raw.into_iter().filter(|s| s.im >= 0.0).collect();
        // Where one is drawn away by a neighbour, it is found once the neighbour is.
        for _ in 0..2 {
            sought.retain(|&s| self.polish(s, &found).map(|one| found.push(one)).is_none());
        }
        found.sort_by(|a, b| a.s.norm().total_cmp(&b.s.norm()));
        Some(found)
    }

    /// Rayleigh's quotient from a guess. What was found before close to it is taken out of the vectors, or
    /// both would go to the same: of two poles beside each other, or equal ones, each is to be found.
    fn polish(&mut self, guess: Phasor, before: &[Natural]) -> Option<Natural> {
        let is_close = |other: &&Natural| (other.s - guess).norm() <= 2.0 * STRAYED * guess.norm();
        let close: Vec<&Natural> = before.iter().filter(is_close).collect();
        let n = self.system.unknowns.len();
        // From elsewhere than what is taken out began, or for an equal pole nothing would be left.
        let turn = 7 + 4 * close.len();
        let mut right: Vec<Phasor> =
            (0..n).map(|k| Complex::new(1.0, 0.3 * ((turn * k) as f64).sin())).collect();
        let mut left = right.clone();
        let mut s = guess;
        for _ in 0..POLISHING {
            let (mut x, mut y) = (self.stored(&right), self.stored_transposed(&left));
            self.inverse_step(s, &mut x, &mut y)?;
            for other in &close {
                // Left and right vectors of different frequencies have nothing in common over C.
                let share = dot(&other.left, &self.stored(&x));
                x.iter_mut().zip(&other.right).for_each(|(x, v)| *x -= share * v);
                let share = dot(&y, &self.stored(&other.right));
                y.iter_mut().zip(&other.left).for_each(|(y, w)| *y -= share * w);
            }
            normalise(&mut x);
            normalise(&mut y);
            (right, left) = (x, y);
            let stored = dot(&left, &self.stored(&right));
            let step = dot(&left, &self.residual(&right, s)) / stored;
            if !(step.re.is_finite() && step.im.is_finite()) {
                return None;
            }
            s -= step;
            if step.norm() <= SETTLED * s.norm() {
                break;
            }
        }
        let strayed = (s - guess).norm() > STRAYED * guess.norm();
        if strayed || s.norm() > FASTEST {
            return None;
        }
        let stored = dot(&left, &self.stored(&right));
        left.iter_mut().for_each(|w| *w /= stored);
        if s.im.abs() <= 1e-9 * s.norm() {
            s.im = 0.0;
        }
        let owners = self.owners(&left, &right);
        Some(Natural { s, owners, right, left })
    }

    /// x and y through the inverse and its transpose. Exactly at a natural frequency there is none;
    /// a hair beside it, it points to the vectors just as well.
    fn inverse_step(&mut self, s: Phasor, x: &mut [Phasor], y: &mut [Phasor]) -> Option<()> {
        let starts = (x.to_vec(), y.to_vec());
        let solved = BESIDE.into_iter().any(|share| {
            x.copy_from_slice(&starts.0);
            y.copy_from_slice(&starts.1);
            self.set(s * (1.0 + share)).is_ok()
                && self.solve(x).is_ok()
                && self.solve_transposed(y).is_ok()
        });
        solved.then_some(())
    }

    fn owners(&self, left: &[Phasor], right: &[Phasor]) -> Vec<(String, f64)> {
        let mut shares: Vec<(String, Phasor)> = Vec::new();
        for store in self.system.stores(&self.at) {
            let share = store.between(left, right);
            match shares.iter_mut().find(|(owner, _)| *owner == store.owner) {
                Some((_, sum)) => *sum += share,
                None => shares.push((store.owner, share)),
            }
        }
        let mut owners: Vec<(String, f64)> =
            shares.into_iter().map(|(owner, share)| (owner, share.norm())).collect();
        owners.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        owners
    }

    /// C·v.
    fn stored(&self, v: &[Phasor]) -> Vec<Phasor> {
        product(self.system.pattern(), &self.at.capacitances, v)
    }

    /// Cᵀ·w.
    fn stored_transposed(&self, w: &[Phasor]) -> Vec<Phasor> {
        let mut out = vec![Complex::new(0.0, 0.0); w.len()];
        for (row, (start, columns)) in self.system.pattern().rows().enumerate() {
            for (k, &column) in columns.iter().enumerate() {
                out[column as usize + 1] += w[row + 1] * self.at.capacitances[start + k];
            }
        }
        out
    }

    /// (G + s·C)·v.
    fn residual(&self, v: &[Phasor], s: Phasor) -> Vec<Phasor> {
        let pattern = self.system.pattern();
        let g = product(pattern, &self.at.conductances, v);
        let c = product(pattern, &self.at.capacitances, v);
        g.iter().zip(&c).map(|(g, c)| *g + s * c).collect()
    }

    /// Whether the terminal of a wire takes no signal current worth counting at this point.
    pub fn takes_no_current(point: &LoopPoint) -> bool {
        // Then nothing of the gain's shape depends on what loads the other end.
        let both = point.gain.norm().max(1.0);
        (point.gain - point.voltage_gain).norm() <= 1e-6 * both
    }
}

fn product(pattern: &Pattern, values: &[f64], v: &[Phasor]) -> Vec<Phasor> {
    let mut out = vec![Complex::new(0.0, 0.0); v.len()];
    for (row, (start, columns)) in pattern.rows().enumerate() {
        out[row + 1] = columns
            .iter()
            .enumerate()
            .map(|(k, &column)| v[column as usize + 1] * values[start + k])
            .sum();
    }
    out
}

/// Without conjugation: left and right vectors of a matrix that is not Hermitian.
fn dot(w: &[Phasor], v: &[Phasor]) -> Phasor {
    w.iter().zip(v).map(|(w, v)| w * v).sum()
}

fn normalise(v: &mut [Phasor]) {
    let largest = v.iter().map(|x| x.norm()).fold(0.0, f64::max);
    if largest > 0.0 && largest.is_finite() {
        v.iter_mut().for_each(|x| *x /= largest);
    }
}

/// Natural frequencies from the dense matrix, good to some digits.
fn raw_frequencies(pattern: &Pattern, at: &Linearisation) -> Option<Vec<Phasor>> {
    let n = pattern.n();
    let (mut g, mut c) = (DMatrix::<f64>::zeros(n, n), DMatrix::<f64>::zeros(n, n));
    for (row, (start, columns)) in pattern.rows().enumerate() {
        for (k, &column) in columns.iter().enumerate() {
            g[(row, column as usize)] += at.conductances[start + k];
            c[(row, column as usize)] += at.capacitances[start + k];
        }
    }
    let around = |k: usize, shift: f64| -> Option<Vec<Phasor>> {
        let shifted = &g + &c * shift;
        let mut matrix = shifted.lu().solve(&c)?;
        if matrix.iter().any(|x| !x.is_finite()) {
            return None;
        }
        balancing::balance_parlett_reinsch(&mut matrix);
        let schur = Schur::try_new(matrix, f64::EPSILON, MOST_QR_STEPS)?;
        let values = schur.complex_eigenvalues();
        let frequencies = values.iter().filter(|mu| mu.norm() > 0.0);
        let frequencies = frequencies.map(|mu| Complex::new(shift, 0.0) - mu.inv());
        let slowest = if k == 0 { 0.0 } else { shift / AROUND };
        let fastest = if k + 1 == SHIFTS.len() { FASTEST } else { shift * AROUND };
        Some(frequencies.filter(|s| s.norm() >= slowest && s.norm() <= fastest).collect())
    };
    let found: Vec<Vec<Phasor>> =
        SHIFTS.into_iter().enumerate().filter_map(|(k, shift)| around(k, shift)).collect();
    (!found.is_empty()).then(|| found.concat())
}

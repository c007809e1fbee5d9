//! Small signals around a point at rest: (G + s·C)·x = b over complex numbers, with the slopes of
//! the same devices and the same elimination as every other analysis.

mod loop_gain;
mod natural;
mod noise;
mod resonances;

pub use loop_gain::{LoopPoint, Wire};
pub use natural::{MOST_UNKNOWNS, Natural, WireState};
pub use noise::{BAND_TOLERANCE, BandNoise, Contributor, OutputNoise};
pub use resonances::resonances;

use super::Failure;
use super::solver::Solver;
use crate::device::GROUND;
use crate::numeric::Singular;
use crate::system::{Linearisation, System};
use nalgebra::Complex;
use std::f64::consts::TAU;

/// A complex amplitude.
pub type Phasor = Complex<f64>;

/// One system, linear around a point at rest.
///
/// Vectors of unknowns are numbered as in [`System::unknowns`]: entry 0 is ground and stays 0.
#[derive(Clone, Debug)]
pub struct SmallSignal<'a> {
    system: &'a System,
    at: Linearisation,
    z: Vec<f64>,
    solver: Solver<Phasor>,
}

/// s = j·2πf of a frequency in Hz.
pub fn s_of(frequency_hz: f64) -> Phasor {
    Complex::new(0.0, TAU * frequency_hz)
}

impl<'a> SmallSignal<'a> {
    /// Around the extended vector `z` of a point at rest.
    pub fn new(system: &'a System, z: &[f64]) -> Self {
        let mut at = Linearisation::new(system);
        system.linearise(z, &vec![0.0; z.len()], &mut at);
        let solver = Solver::new(system.pattern());
        Self { system, at, z: z.to_vec(), solver }
    }

    /// Moves to another point at rest of the same system; the order of pivots is kept while it serves.
    pub fn move_to(&mut self, z: &[f64]) {
        self.z.copy_from_slice(z);
        self.system.linearise(&self.z, &vec![0.0; z.len()], &mut self.at);
    }

    /// The system.
    pub fn system(&self) -> &'a System {
        self.system
    }

    /// The slopes at the point: conductances G and capacitances C in the slots of the pattern.
    pub fn slopes(&self) -> &Linearisation {
        &self.at
    }

    /// Its point at rest.
    pub fn z(&self) -> &[f64] {
        &self.z
    }

    /// Makes G + s·C ready to be solved with; `s` in rad/s.
    ///
    /// # Errors
    /// When the matrix is singular: `s` is a natural frequency, or the circuit has none of its own.
    pub fn set(&mut self, s: Phasor) -> Result<(), Singular> {
        let values = self.solver.values();
        for (value, (&g, &c)) in
            values.iter_mut().zip(self.at.conductances.iter().zip(&self.at.capacitances))
        {
            *value = s * c + g;
        }
        self.solver.factor()
    }

    /// x of (G + s·C)·x = b, in place, at the `s` that was set.
    ///
    /// # Errors
    /// As [`SmallSignal::set`].
    pub fn solve(&mut self, b: &mut [Phasor]) -> Result<(), Singular> {
        b[GROUND] = Complex::new(0.0, 0.0);
        self.solver.solve_checked(&mut b[1..])
    }

    /// y of (G + s·C)ᵀ·y = b, in place: what every injection contributes to one output.
    ///
    /// # Errors
    /// As [`SmallSignal::set`].
    pub fn solve_transposed(&mut self, b: &mut [Phasor]) -> Result<(), Singular> {
        b[GROUND] = Complex::new(0.0, 0.0);
        self.solver.solve_transposed_checked(&mut b[1..])
    }

    /// A vector of zeros.
    pub fn zeros(&self) -> Vec<Phasor> {
        vec![Complex::new(0.0, 0.0); self.system.unknowns.len()]
    }

    /// The response to 1 A taken out of node `from` and delivered into node `to`.
    ///
    /// # Errors
    /// As [`SmallSignal::set`].
    pub fn respond_to_current(&mut self, from: usize, to: usize) -> Result<Vec<Phasor>, Singular> {
        let mut b = self.zeros();
        b[from] -= 1.0;
        b[to] += 1.0;
        self.solve(&mut b)?;
        Ok(b)
    }

    /// The response to a unit of change of a drive (V of a source, the unit of a load).
    ///
    /// # Errors
    /// As [`SmallSignal::set`].
    pub fn respond_to_drive(&mut self, drive: usize) -> Result<Vec<Phasor>, Singular> {
        let mut b = self.injection_of_drive(drive);
        self.solve(&mut b)?;
        Ok(b)
    }

    /// The right side that a unit of change of a drive stands for.
    pub fn injection_of_drive(&self, drive: usize) -> Vec<Phasor> {
        let mut slopes = vec![0.0; self.system.extent()];
        slopes[self.system.unknowns.len() + drive] = 1.0;
        let mut at = Linearisation::new(self.system);
        self.system.linearise(&self.z, &slopes, &mut at);
        at.f_slope.iter().map(|slope| Complex::new(-slope, 0.0)).collect()
    }

    /// A singular matrix in words, for the outcome of a test.
    pub fn failure(&self, frequency_hz: f64, at: Singular) -> Failure {
        let node = self.system.unknowns.get(at.column + 1).map(|u| u.name.clone());
        let part = self.system.part_at(at.column + 1).map(str::to_owned);
        let name = node.as_deref().unwrap_or("the circuit");
        let tried = vec!["elimination with a fresh order of pivots".to_owned()];
        let message = format!(
            "the small-signal equations have no solution at {frequency_hz:.6e} Hz; nothing \
             determines `{name}` there"
        );
        Failure { time_s: None, node, part, tried, message }
    }
}

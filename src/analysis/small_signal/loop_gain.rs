//! Loop gain at one wire, by a voltage in series with it and a current into it, the loop closed.
//!
//! R. D. Middlebrook, Int. J. Electronics 38 (1975) 485-512; for loops that carry signals both ways
//! M. Tian, V. Visvanathan, J. Hantgan, K. Kundert, IEEE Circuits & Devices Mag. 17 (2001) 31-41.
//! With the wire cut, Y the admittances of the two ends and e the end that the loop's gain starts
//! from: T = (Y21 + Y12)/(Y11 + Y22), positive where feedback is negative.

use super::{Phasor, SmallSignal, s_of};
use crate::device::Break;
use crate::numeric::Singular;
use nalgebra::Complex;

/// The wire that is probed, by the unknowns of a system that was laid out with a [`Break`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wire {
    /// The terminal's own side: where the loop's forward path begins.
    pub entry: usize,
    /// The side of the network it is wired to.
    pub exit: usize,
    /// The current from the terminal's side to the other.
    pub current: usize,
}

impl From<Break> for Wire {
    fn from(at: Break) -> Self {
        Self { entry: at.entry, exit: at.exit, current: at.current }
    }
}

/// What both injections give at one frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoopPoint {
    /// Loop gain of the bilateral form.
    pub gain: Phasor,
    /// −v(exit)/v(entry) under the series voltage.
    pub voltage_gain: Phasor,
    /// i(exit)/i(entry) under the shunt current; not finite where the terminal takes no current.
    pub current_gain: Phasor,
}

impl SmallSignal<'_> {
    /// Loop gain at a frequency in Hz.
    ///
    /// # Errors
    /// When the closed loop has a natural frequency right there.
    pub fn loop_gain(&mut self, wire: Wire, frequency_hz: f64) -> Result<LoopPoint, Singular> {
        self.loop_gain_at(wire, s_of(frequency_hz))
    }

    /// Loop gain at any complex frequency in rad/s.
    ///
    /// # Errors
    /// As [`SmallSignal::loop_gain`].
    pub fn loop_gain_at(&mut self, wire: Wire, s: Phasor) -> Result<LoopPoint, Singular> {
        self.set(s)?;
        let mut by_voltage = self.zeros();
        by_voltage[wire.current] = Complex::new(1.0, 0.0);
        self.solve(&mut by_voltage)?;
        let by_current = self.respond_to_current(crate::device::GROUND, wire.entry)?;
        let (ve_v, ie_v) = (by_voltage[wire.entry], -by_voltage[wire.current]);
        let (v_i, ie_i) = (by_current[wire.entry], -by_current[wire.current] + 1.0);
        let closed = ve_v + ie_i + (v_i * ie_v - ie_i * ve_v) * 2.0;
        Ok(LoopPoint {
            gain: closed.inv() - 1.0,
            voltage_gain: -by_voltage[wire.exit] / ve_v,
            current_gain: by_current[wire.current] / ie_i,
        })
    }
}

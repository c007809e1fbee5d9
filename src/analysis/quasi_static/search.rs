//! Searches for the level of a drive at which a quantity of the rest has a value.

use super::{QuasiStatic, Watched};
use crate::analysis::Failure;

/// Steps of a search for a level.
const SEARCH_STEPS: usize = 80;

/// What a search for a level came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sought {
    /// The level; the circuit rests there.
    Found(f64),
    /// The quantity jumps over the target at this level; the circuit rests just ahead of the jump.
    Jumps(f64),
    /// The quantity does not come to the target between the two levels.
    Never,
}

impl QuasiStatic<'_> {
    /// Moves a drive from where it is towards `to` until `of` (of the extended vector) is `target`
    /// within `tolerance`; levels are told apart down to `resolution`. The circuit stays on the
    /// branch it is on as long as that goes on.
    ///
    /// # Errors
    /// When there is no rest at `to`, or none at a level between.
    pub fn seek(
        &mut self,
        drive: usize,
        to: f64,
        (of, target): (Watched<'_>, f64),
        (tolerance, resolution): (f64, f64),
    ) -> Result<Sought, Failure> {
        let mut near = (self.here(drive), of(&self.z) - target);
        if near.1.abs() <= tolerance {
            return Ok(Sought::Found(near.0.level));
        }
        self.go(drive, to)?;
        let mut far = (to, of(&self.z) - target);
        if far.1.abs() <= tolerance {
            return Ok(Sought::Found(to));
        }
        if near.1.signum() == far.1.signum() {
            self.put(drive, &near.0);
            return Ok(Sought::Never);
        }
        // Regula falsi; the end that stays is given half its weight (the Illinois rule), and every
        // third step halves, so that a jump is closed in too.
        let (mut weights, mut last_was_near) = ((1.0, 1.0), None);
        for k in 0..SEARCH_STEPS {
            let (a, b) = (near.1 * weights.0, far.1 * weights.1);
            let share = if k % 3 == 2 { 0.5 } else { a / (a - b) };
            let level = near.0.level + share * (far.0 - near.0.level);
            let width = (far.0 - near.0.level).abs();
            if width <= resolution || level == near.0.level || level == far.0 {
                break;
            }
            self.put(drive, &near.0);
            self.go(drive, level)?;
            let off = of(&self.z) - target;
            if off.abs() <= tolerance {
                return Ok(Sought::Found(level));
            }
            let is_near = off.signum() == near.1.signum();
            let again = last_was_near == Some(is_near);
            if is_near {
                near = (self.here(drive), off);
                weights = (1.0, if again { 0.5 * weights.1 } else { weights.1 });
            } else {
                far = (level, off);
                weights = (if again { 0.5 * weights.0 } else { weights.0 }, 1.0);
            }
            last_was_near = Some(is_near);
        }
        self.put(drive, &near.0);
        Ok(Sought::Jumps(near.0.level))
    }

    /// Moves a drive until `of` (of the extended vector), which follows it smoothly, is `target`
    /// within `tolerance`: a secant that starts with a slope of 1. Gives the level, or `None` (and
    /// stays where it was) if the quantity does not follow the drive so far.
    pub fn reach(
        &mut self,
        drive: usize,
        (of, target): (Watched<'_>, f64),
        tolerance: f64,
    ) -> Option<f64> {
        let before = self.here(drive);
        let (mut level, mut off) = (before.level, of(&before.z) - target);
        let mut slope = 1.0;
        for _ in 0..SEARCH_STEPS {
            if off.abs() <= tolerance {
                return Some(level);
            }
            let next = level - off / slope;
            if !next.is_finite() || self.go(drive, next).is_err() {
                break;
            }
            let now = of(&self.z) - target;
            let found = (now - off) / (next - level);
            if next == level || !found.is_finite() || found == 0.0 {
                break;
            }
            (level, off, slope) = (next, now, found);
        }
        self.put(drive, &before);
        None
    }
}

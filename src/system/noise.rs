//! Which noise sources a system has at a point, and which rows they work on.

use super::assemble::gather;
use super::{PlacedLaw, System};
use crate::device::{GROUND, Law, Net, Noise, NoiseCause, NoisePlace, NoiseSource, Visitor};

/// A noise source at a point.
#[derive(Clone, Debug, PartialEq)]
pub struct NoiseAt {
    /// The part that makes it.
    pub part: String,
    /// Why.
    pub cause: NoiseCause,
    /// Rows numbered as in z, 0 for ground: a noise current leaves the first and enters the second.
    /// A voltage in a branch stands in the branch's own row, with ground for the second.
    pub rows: [usize; 2],
    /// A²/Hz of a current, V²/Hz of a voltage.
    pub white: f64,
    /// What falls as 1/f, at 1 Hz, in the same unit.
    pub flicker_at_1hz: f64,
}

impl NoiseAt {
    /// Density in A²/Hz or V²/Hz at a frequency in Hz above 0.
    pub fn density(&self, frequency_hz: f64) -> f64 {
        self.white + self.flicker_at_1hz / frequency_hz
    }
}

/// Noise that does not depend on z, by part and rows.
#[derive(Clone, Debug)]
pub(crate) struct PlacedNoise {
    part: usize,
    rows: [usize; 2],
    noise: Noise<f64>,
}

/// The noise of a net outside of its laws.
pub(super) fn placed(net: &Net) -> Vec<PlacedNoise> {
    let rows = |place: &NoisePlace| match place {
        NoisePlace::Between(pins) => pins.map(|p| p.unknown),
        NoisePlace::InBranch(current) => [*current, GROUND],
    };
    let placed = |(part, source): &(usize, NoiseSource)| PlacedNoise {
        part: *part,
        rows: rows(&source.place),
        noise: source.noise,
    };
    net.noise.iter().map(placed).collect()
}

impl System {
    /// Every noise source at z, each independent of all others, in the order of parts' elements:
    /// first those that no point changes, then those of laws. What has no effect is left out: sources
    /// of size zero, and those with both ends on one node.
    pub fn noise_sources(&self, z: &[f64]) -> Vec<NoiseAt> {
        let mut found = Vec::new();
        for PlacedNoise { part, rows, noise } in &self.noise {
            self.note(*part, *rows, noise, &mut found);
        }
        for placed in &self.laws {
            let noises = placed.law.visit(Noises { placed, z });
            for (rows, noise) in placed.currents.iter().zip(&noises) {
                self.note(placed.part, rows.map(|k| k as usize), noise, &mut found);
            }
        }
        found
    }

    /// A cause a source: the 1/f part of anything but a given density is flicker noise of its own.
    fn note(&self, part: usize, rows: [usize; 2], noise: &Noise<f64>, found: &mut Vec<NoiseAt>) {
        let Noise { cause, white, flicker_at_1hz } = *noise;
        let parts = if cause == NoiseCause::Source {
            [(cause, white, flicker_at_1hz), (cause, 0.0, 0.0)]
        } else {
            [(cause, white, 0.0), (NoiseCause::Flicker, 0.0, flicker_at_1hz)]
        };
        let present =
            parts.into_iter().filter(|(_, white, flicker)| *white > 0.0 || *flicker > 0.0);
        if rows[0] != rows[1] {
            found.extend(present.map(|(cause, white, flicker_at_1hz)| NoiseAt {
                part: self.parts[part].name.clone(),
                cause,
                rows,
                white,
                flicker_at_1hz,
            }));
        }
    }
}

struct Noises<'a> {
    placed: &'a PlacedLaw,
    z: &'a [f64],
}

impl Visitor for Noises<'_> {
    type Output = Vec<Noise<f64>>;

    fn visit<L: Law<f64, N, M, K>, const N: usize, const M: usize, const K: usize>(
        self,
        law: &L,
    ) -> Vec<Noise<f64>> {
        law.noise(&gather::<N>(self.placed, self.z)).to_vec()
    }
}

//! A branch laid into a net, to be completed: what drives it, what it follows, its noise.

use super::net::{Control, Element, Net, Pin, Role};
use super::{Noise, NoisePlace};

/// The branch just laid, to add to it.
pub struct BranchRef<'a> {
    pub(super) net: &'a mut Net,
    /// The unknown of its current.
    pub current: usize,
}

impl BranchRef<'_> {
    /// Adds a drive to its voltage.
    #[must_use]
    pub fn driven_by(self, by: usize) -> Self {
        if let Some((_, Element::Branch { drive, .. })) = self.net.elements.last_mut() {
            *drive = Some(by);
        }
        self
    }

    /// Adds a voltage that follows another quantity.
    #[must_use]
    pub fn controlled_by(self, by: Control, gain: f64) -> Self {
        if let Some((_, Element::Branch { control, .. })) = self.net.elements.last_mut() {
            *control = Some((by, gain));
        }
        self
    }

    /// Adds noise to its voltage, in V²/Hz.
    #[must_use]
    pub fn noisy(self, noise: Noise<f64>) -> Self {
        self.net.noise(NoisePlace::InBranch(self.current), noise);
        self
    }

    /// Sets its current at t = 0 for a start from initial values.
    #[must_use]
    pub fn starting_at(self, ampere: Option<f64>) -> Self {
        if let Some((_, Element::Branch { initial_a, .. })) = self.net.elements.last_mut() {
            *initial_a = ampere;
        }
        self
    }
}

impl Net {
    /// A branch with a current of its own, which others may sense if it is the part's first.
    /// Without inductance it is a source; gives the unknown of its current.
    pub fn branch(
        &mut self,
        pins: [Pin; 2],
        resistance_ohm: f64,
        inductance_h: f64,
    ) -> BranchRef<'_> {
        let role = if inductance_h == 0.0 { Role::SourceCurrent } else { Role::InductorCurrent };
        let current = self.unknown("current", role);
        if let Some(part) = self.parts.last_mut() {
            part.branch.get_or_insert(current);
        }
        self.push(Element::Branch {
            pins,
            current,
            resistance_ohm,
            inductance_h,
            initial_a: None,
            drive: None,
            control: None,
        });
        BranchRef { net: self, current }
    }
}

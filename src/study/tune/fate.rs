//! What became of a candidate, and how far it was looked at.

use super::held::Spot;

/// Whether a candidate is still one.
#[derive(Clone, Debug, PartialEq)]
pub enum Fate {
    /// It meets everything that counts, wherever it was tried.
    Meets,
    /// It misses this requirement, by more than any other.
    Misses {
        /// Index into the requirements.
        row: usize,
        /// Where and by how much.
        spot: Spot,
    },
}

/// How far the worst case of a candidate was searched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Searched {
    /// Not at all.
    Nominal,
    /// It was tried at the worst cases of others.
    KnownCases,
    /// All corners, and tolerances by the signs of single turns.
    BySigns,
    /// Until nothing got worse.
    Fully,
}

impl Searched {
    /// As in the results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Nominal => "nominal",
            Self::KnownCases => "known-cases",
            Self::BySigns => "signs",
            Self::Fully => "searched",
        }
    }
}

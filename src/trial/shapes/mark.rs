//! Where the figures of line shapes come from, in words.

/// Where a figure comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// Seen there, not in the standard itself.
    LookedUp(&'static str),
    /// Not seen again.
    FromMemory,
    /// No standard's: chosen here.
    OurChoice,
    /// The level at which the source stands by itself.
    PartsOwn,
    /// The test says so.
    Given,
}

impl Mark {
    /// As told beside figures.
    pub fn words(self) -> String {
        match self {
            Self::LookedUp(place) => format!("looked up: {place}"),
            Self::FromMemory => "from memory, not checked".to_owned(),
            Self::OurChoice => "our own choice".to_owned(),
            Self::PartsOwn => "the source's own level".to_owned(),
            Self::Given => "given by the test".to_owned(),
        }
    }
}

//! States with hysteresis: what is watched, where the state changes over, and which level follows.
//!
//! A state is high or low. It goes high once what is watched has been above `rises_at` for its filter
//! time, low once it has been below `falls_at`; in between it stays as it is. The level that it
//! drives moves in a straight line, so that equations stay smooth between two corners.

/// A state of a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Trip {
    /// The first unknown above the second is watched, in V (a temperature: in K).
    pub watched: [usize; 2],
    /// Added to it before it is held against the levels.
    pub offset: f64,
    /// Above this the state goes high.
    pub rises_at: f64,
    /// Below this it goes low; not above `rises_at`.
    pub falls_at: f64,
    /// s that it must stay beyond a level: before going low, before going high.
    pub filter_s: [f64; 2],
    /// What the drive stands at: low, high.
    pub levels: [f64; 2],
    /// s that the drive takes from one to the other.
    pub transition_s: f64,
    /// What the part does when it goes low, when it goes high, in words that follow its name.
    pub words: [&'static str; 2],
    /// What its drive is called among the columns of a record, after the part's name.
    pub column: &'static str,
    /// Whether low means that a reset is given.
    pub resets: bool,
}

impl Trip {
    /// How far what is watched is beyond the level at which the state leaves, at values of the
    /// unknowns; negative: it stays.
    #[inline]
    pub fn excess(&self, high: bool, x: &[f64]) -> f64 {
        let value = x[self.watched[0]] - x[self.watched[1]] + self.offset;
        if high { self.falls_at - value } else { value - self.rises_at }
    }

    /// The level of a state.
    pub fn level(&self, high: bool) -> f64 {
        self.levels[usize::from(high)]
    }
}

/// A state with the part that has it and the drive that follows it.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedTrip {
    /// Index of its part.
    pub part: usize,
    /// Index of its drive.
    pub drive: usize,
    /// What it does.
    pub trip: Trip,
}

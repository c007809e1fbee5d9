//! What states with hysteresis did while time ran.

/// Flips are kept one by one up to this many; all are counted.
const MOST_EVENTS: usize = 10_000;
/// So many flips and no end in sight are chatter.
pub(super) const CHATTER: usize = 1000;

/// A state that changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// s
    pub time_s: f64,
    /// The part.
    pub part: String,
    /// What it did, in words that follow its name.
    pub what: &'static str,
}

/// The flips of a run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Events {
    /// The first ones, in order of time.
    pub list: Vec<Event>,
    /// How many there were.
    pub count: usize,
}

impl Events {
    /// Takes note of one more.
    pub(super) fn note(&mut self, event: impl FnOnce() -> Event) {
        self.count += 1;
        if self.list.len() < MOST_EVENTS {
            self.list.push(event());
        }
    }
}

//! Whether the models can be stable where the datasheet recommends an output capacitor: loop gain at
//! the ends of what it recommends.

use super::bench::{Bench, Margin};
use super::freedom::Equal;
use crate::study::in_parallel;

/// One end of what is recommended.
#[derive(Clone, Debug, PartialEq)]
pub struct RangeEnd {
    /// The test of the bench: `stable with 1 µF and 1 mΩ`.
    pub name: String,
    /// Phase margin of the best model in degrees, or why there is none.
    pub best: Result<f64, String>,
    /// How many of the models are not stable there.
    pub unstable: usize,
    /// Of so many.
    pub models: usize,
}

impl RangeEnd {
    /// Whether no model that meets the points can be stable there.
    pub fn contradicts(&self) -> bool {
        self.models > 0 && self.unstable == self.models
    }
}

/// Looks at all ends with all models.
pub(super) fn range_ends(bench: &Bench, models: &[Equal], threads: usize) -> Vec<RangeEnd> {
    let count = models.len().max(1);
    let tests: Vec<usize> = bench.stability_tests().collect();
    let found = in_parallel(tests.len() * count, threads, |job| {
        let changes = models.get(job % count).map(|m| m.seen.changes.as_slice());
        bench.margin(tests[job / count], changes.unwrap_or_default())
    });
    let end = |(test, margins): (&usize, &[Margin])| {
        let best = margins.first().map(|margin| margin.degrees.clone());
        RangeEnd {
            name: bench.tests.get(*test).map_or_else(String::new, |t| t.name.clone()),
            best: best.unwrap_or_else(|| Err("no model".to_owned())),
            unstable: margins.iter().filter(|margin| margin.unstable).count(),
            models: models.len(),
        }
    };
    tests.iter().zip(found.chunks(count)).map(end).collect()
}

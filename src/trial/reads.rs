//! How much of a solution is looked at.

/// How much is read off a solution: less for runs among many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Reads {
    /// Measurements, rail signals, columns of the CSV, explanation and books.
    #[default]
    Everything,
    /// What a picture that follows a hand shows of a test in time: measurements, rail signals with their
    /// currents as in [`Reads::Slopes`], what steers the pass device, and the explanation.
    Shown,
    /// Measurements and rail signals.
    Measurements,
    /// The same, currents between two points by the slopes of the curve that joins them instead of
    /// by the equations: what is measured ends a step and is exact again.
    Slopes,
    /// The same of the rail's voltages alone, which take no currents to be worked out.
    Voltages,
}

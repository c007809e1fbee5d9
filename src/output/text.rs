//! The text of a run.

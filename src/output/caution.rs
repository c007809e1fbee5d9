//! Cautions.

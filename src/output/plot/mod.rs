//! Plots.

//! The program as a user meets it: arguments, exit codes, files, messages.
#![allow(clippy::unwrap_used, clippy::expect_used)] // a test fails by panicking

mod bench;
mod checking;
mod exits;
mod files;
mod options;
mod sweeps;
mod tune;
mod words;

//! The program as a user meets it: arguments, exit codes, files, messages.
#![allow(clippy::unwrap_used, clippy::expect_used)] // a test fails by panicking

mod bench;
mod budget;
mod checking;
mod compare;
mod corners;
mod exits;
mod faults;
mod files;
mod help;
mod hostile;
mod live;
mod mapping;
mod meddling;
mod model;
mod models;
mod new;
mod options;
mod readme;
mod screen;
mod spread;
mod sweeps;
mod tune;
mod words;

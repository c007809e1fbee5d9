//! What holds for every circuit, looked at on circuits that nobody thought of: drawn at random over the
//! whole ranges of their values, and against ways of solution that share no code with the engine.
//!
//! `RANDOM_CIRCUITS=10000` draws that many circuits for the search for rest (`rests.rs`).
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)] // a failed unwrap is a failed test
#![allow(clippy::print_stdout)] // counts and distances, which `--nocapture` shows

#[allow(dead_code)] // Shared with the checks, which use all of it.
#[path = "../checks/bench.rs"]
mod bench;
mod demos;
mod hard;
mod laws;
mod linear;
mod network;
#[allow(dead_code)]
#[path = "../networks/mod.rs"]
mod networks;
mod order;
mod radau;
mod random;
mod rests;
mod single_equations;

//! The reader on files as instruments write them; fits of a rail whose answer is a closed form.
#![allow(clippy::unwrap_used)] // a failed unwrap is a failed test

mod fits;
mod rail;
mod reader;

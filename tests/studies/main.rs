//! Studies against closed forms, and as a user meets them.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)] // a failed unwrap is a failed test

mod compare;
mod map;
mod spread;
mod tune;

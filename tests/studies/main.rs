//! Studies against closed forms, and as a user meets them.
#![allow(missing_docs, clippy::unwrap_used)] // a test fails by panicking

mod map;

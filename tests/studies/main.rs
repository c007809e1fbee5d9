//! Studies against closed forms, and their demo data.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)] // a failed unwrap is a failed test

mod compare;

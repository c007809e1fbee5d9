//! Studies of many runs, against closed forms.

#![allow(missing_docs, clippy::unwrap_used)] // a failed unwrap is a failed test

mod tune;

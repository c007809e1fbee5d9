//! Fuzzes `feed::profile`.
#![no_main]

#[path = "../feed.rs"]
#[allow(dead_code)] // each target uses one of the readers
mod feed;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| feed::profile(bytes));

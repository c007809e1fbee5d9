//! Fuzzes `feed::circuit`.
#![no_main]

#[path = "../feed.rs"]
#[allow(dead_code)] // each target uses one of the readers
mod feed;
#[path = "../words.rs"]
mod words;

libfuzzer_sys::fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    words::mutate(data, size, max_size, seed)
});
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| feed::circuit(bytes));

//! What a fuzzer found worth keeping, given to the readers again: nothing in it may make them panic, and
//! all of it together must be read in seconds. `DEVELOPERS.md` says how to look for more.
#![allow(clippy::unwrap_used)] // a test fails by panicking

#[path = "fuzz/feed.rs"]
mod feed;

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

/// The most that is kept: what is found on top takes the place of something.
const MOST_FILES: usize = 200;
const MOST_BYTES: usize = 300_000;
/// Longest for any one input, many times what it takes, for machines under load.
const PATIENCE: Duration = Duration::from_secs(20);

type Feed = fn(&[u8]);

/// A folder of the corpus, what it is fed to, and the fewest inputs that must lie there.
const FEEDS: [(&str, Feed, usize); 4] = [
    ("circuit", feed::circuit, 20),
    ("expression", feed::expression, 20),
    ("profile", feed::profile, 5),
    ("trace", feed::trace, 5),
];

fn inputs(folder: &str) -> Vec<(String, Vec<u8>)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(folder);
    let mut all: Vec<_> = fs::read_dir(path).unwrap().map(|e| e.unwrap().path()).collect();
    all.sort();
    all.into_iter().map(|path| (path.display().to_string(), fs::read(path).unwrap())).collect()
}

#[test]
fn whatever_was_found_is_read_without_a_panic_and_without_delay() {
    for (folder, feed, fewest) in FEEDS {
        let all = inputs(folder);
        assert!(all.len() >= fewest, "{folder}: only {} inputs", all.len());
        for (path, bytes) in all {
            let start = Instant::now();
            // A panic names its place in the code; the input is named before it.
            let done = std::panic::catch_unwind(|| feed(&bytes));
            assert!(done.is_ok(), "{path}");
            assert!(start.elapsed() < PATIENCE, "{path}: {:?}", start.elapsed());
        }
    }
}

#[test]
fn what_is_kept_stays_small() {
    let all: Vec<_> = FEEDS.iter().flat_map(|(folder, ..)| inputs(folder)).collect();
    let bytes: usize = all.iter().map(|(_, bytes)| bytes.len()).sum();
    assert!(all.len() < MOST_FILES && bytes < MOST_BYTES, "{} files, {bytes} bytes", all.len());
}

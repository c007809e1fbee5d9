//! Files that are no circuit, or more of one than anybody means: each ends in words within a minute and
//! two gigabytes, whatever it holds.
#![cfg(unix)]

use crate::bench::{Bench, SMALL};
use std::os::unix::fs::symlink;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Many times what any of these takes, for machines under load.
const PATIENCE: Duration = Duration::from_secs(60);
/// KiB of memory that a command may ask for.
const MEMORY_KIB: u32 = 2_000_000;

/// What `check` says of a file, which must be refused.
fn refused(bench: &Bench, file: &str) -> String {
    let call = format!(
        "ulimit -v {MEMORY_KIB}; exec {} check {file} 2>told >/dev/null",
        env!("CARGO_BIN_EXE_railstep")
    );
    let mut command = Command::new("sh");
    command.args(["-c", &call]).current_dir(bench.path("")).env("NO_COLOR", "1");
    let mut child = command.stdin(Stdio::null()).spawn().unwrap();
    let start = Instant::now();
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if start.elapsed() > PATIENCE {
            child.kill().unwrap();
            child.wait().unwrap();
            panic!("{file} takes more than {PATIENCE:?}");
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    let told = bench.read("told");
    assert_eq!(status.code(), Some(2), "{file}: {told}");
    told
}

fn tells(bench: &Bench, file: &str, words: &str) {
    let told = refused(bench, file);
    assert!(told.contains(words), "{file}: {told:.2000}");
}

fn repeated(count: usize, line: impl Fn(usize) -> String) -> String {
    (0..count).map(line).collect()
}

#[test]
fn what_is_no_file_is_told_and_not_waited_for() {
    let bench = Bench::with(SMALL);
    let made = Command::new("mkfifo").arg(bench.path("pipe")).status().unwrap();
    assert!(made.success());
    tells(&bench, "pipe", "it is a pipe");
    tells(&bench, "/dev/zero", "larger than 64 MB");
    tells(&bench, "/dev/null", "has no `title`");
    tells(&bench, ".", "it is a folder");
    symlink("round", bench.path("round")).unwrap();
    tells(&bench, "round", "cannot be read");
    symlink("/etc/passwd", bench.path("away.toml")).unwrap();
    for (name, words) in [
        ("pipe", "it is a pipe"),
        ("away.toml", "outside the folder"),
        (".", "names no file"),
        ("/etc/passwd", "not a path relative"),
        ("a/../../x", "leads out"),
        ("including.toml", "in a circle"),
    ] {
        bench.put("including.toml", format!("include = [\"{name}\"]\n{SMALL}").as_bytes());
        tells(&bench, "including.toml", words);
    }
    bench.put("nul.toml", b"title = \"a\0b\"\n\0");
    tells(&bench, "nul.toml", "not valid TOML");
}

#[test]
fn a_flood_of_mistakes_is_cut_off_and_not_gone_through() {
    let bench = Bench::with(SMALL);
    let many = |line: &dyn Fn(usize) -> String| {
        format!("title = \"x\"\n[parts]\n{}", repeated(20_000, line))
    };
    let source = "{ kind = \"voltage-source\", plus = \"n\", minus = \"gnd\" }";
    let floods = [
        many(&|_| format!("V = {source}\n")),
        many(&|k| format!("V{k} = {{ kind = \"votage-source\", plus = \"n{k}\" }}\n")),
        many(&|k| format!("V{k} = {{ kind = \"current-source\", nodes = [\"n{k}\", \"gnd\"] }}\n")),
        many(&|k| {
            format!(
                "C{k} = {{ kind = \"controlled-current-source\", nodes = [\"a\", \"gnd\"], sensed = \"V{k}\", gain = 1 }}\n"
            )
        }),
        format!(
            "title = \"x\"\n[values]\n{}[parts]\nV = {source}\n",
            repeated(20_000, |k| format!("v{k} = \"w{k}\"\n"))
        ),
        format!("{}{SMALL}", repeated(20_000, |k| format!("key{k} = {k}\n"))),
        format!("include = [{}]\n{SMALL}", repeated(20_000, |k| format!("\"no{k}.toml\", "))),
    ];
    for flood in floods {
        bench.put("flood.toml", flood.as_bytes());
        let told = refused(&bench, "flood.toml");
        assert!(
            told.len() < 1_000_000 && told.contains("mistake"),
            "{} bytes {told:.2000}",
            told.len()
        );
    }
}

#[test]
fn more_than_anybody_means_is_refused_by_its_count() {
    let bench = Bench::with(SMALL);
    // Ten uses of a block in each of fourteen blocks in one another, with no part at all in the last.
    let blocks = repeated(15, |k| {
        let uses = repeated(if k == 0 { 0 } else { 10 }, |use_| {
            format!(
                "X{use_} = {{ kind = \"block\", block = \"b{}\", ports = {{ a = \"a\" }} }}\n",
                k - 1
            )
        });
        format!("[blocks.b{k}]\nports = [\"a\"]\n[blocks.b{k}.parts]\n{uses}")
    });
    let long = |letter: &str| letter.repeat(1_000_000);
    let with = |more: &str| format!("{SMALL}{more}");
    for (text, words) in [
        (
            format!(
                "title = \"x\"\n{blocks}[parts]\nX = {{ kind = \"block\", block = \"b14\", ports = {{ a = \"gnd\" }} }}\n"
            ),
            "ports and values",
        ),
        (
            with(&repeated(1001, |k| {
                format!("[[tests]]\nname = \"t{k}\"\nkind = \"operating-point\"\n")
            })),
            "more than 1000 tests",
        ),
        (
            SMALL.replace("0.5 Ω", &format!("1 Ω{}", "+1 Ω".repeat(100_000))),
            "longer than 4096 bytes",
        ),
        (SMALL.replace("0.5 Ω", &"(".repeat(4000)), "nested more than 64 deep"),
        (
            SMALL
                .replace("R_OUT =", &format!("{} =", long("R")))
                .replace("\"I_LOAD\"", &format!("\"{}\"", long("Q"))),
            "there is no part",
        ),
        (with(&format!("x = {}", "[".repeat(1_000_000))), "not valid TOML"),
        (format!("{} = 1\n", "a.".repeat(200_000) + "a"), "not valid TOML"),
        (with(&format!("#{}", "x".repeat(8_000_000))), "larger than 8 MB"),
    ] {
        bench.put("much.toml", text.as_bytes());
        tells(&bench, "much.toml", words);
    }
}

#[test]
fn the_limits_that_are_written_down_are_those_that_are_kept() {
    use railstep::{circuit, diagnostic, document, quantity, study};
    let readme = include_str!("../../README.md");
    let row = |of: &str| readme.lines().find(|line| line.starts_with(&format!("| {of}"))).unwrap();
    for (of, limit) in [
        ("circuit file", document::MOST_BYTES),
        ("circuit file", document::MOST_NESTING),
        ("files it includes", circuit::MOST_FILES),
        ("expression", quantity::MAX_TEXT_BYTES),
        ("expression", quantity::MAX_NESTING),
        ("parts", circuit::MOST_PARTS),
        ("parts", circuit::MOST_BLOCK_DEPTH),
        ("points", circuit::MOST_POINTS),
        ("samples", study::compare::MOST_SAMPLES),
        ("corners", study::worst::MOST_CORNERS),
        ("places", study::map::MOST_PLACES),
        ("drawn runs", study::spread::MOST_RUNS as usize),
        ("mistakes", diagnostic::MOST_TOLD),
    ] {
        // In groups of three, as English has them.
        let digits = limit.to_string();
        let groups: Vec<&str> =
            digits.as_bytes().rchunks(3).rev().map(|g| std::str::from_utf8(g).unwrap()).collect();
        let written = groups.join(",");
        let mut numbers = row(of).split(|c: char| !c.is_ascii_digit() && c != ',');
        assert!(numbers.any(|number| number.trim_matches(',') == written), "{of}: {written}");
    }
}

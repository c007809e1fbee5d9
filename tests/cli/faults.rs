//! What goes wrong around the program: disks that are full, programs that are killed, terminals that are
//! none. Results of an earlier run stay as they were, and no half file is left.
#![cfg(unix)]

use crate::bench::{Bench, SMALL, Told};
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::process::ExitStatusExt as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Much longer than anything takes here, for machines under load.
const PATIENCE: Duration = Duration::from_secs(60);

/// Runs the program from a shell that first does `before`, with `after` behind its arguments.
fn shell(bench: &Bench, before: &str, arguments: &str, after: &str) -> Told {
    let program = env!("CARGO_BIN_EXE_railstep");
    let mut command = Command::new("sh");
    command.args(["-c", &format!("{before}\nexec {program} {arguments} {after}")]);
    let output = command.current_dir(bench.path("")).env("NO_COLOR", "1").output().unwrap();
    Told {
        code: output.status.code(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Files and folders that are being written, below the results.
fn unfinished(bench: &Bench) -> Vec<String> {
    let folder = fs::read_dir(bench.path("results/small")).unwrap();
    let names = folder.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    names
        .filter(|name| name.starts_with(".railstep-") && name.strip_suffix(".part").is_some())
        .collect()
}

/// The files that are results, whatever else was left behind.
fn results(bench: &Bench) -> BTreeMap<String, Vec<u8>> {
    let mut all = bench.all_files("results");
    all.retain(|path, _| !path.contains("/.railstep-"));
    all
}

#[test]
fn a_disk_that_fills_up_is_told_and_costs_no_earlier_result() {
    let bench = Bench::with(SMALL);
    bench.run(&[]).expect(0);
    let before = bench.all_files("results");
    // A file may take two blocks at most; the pictures take more.
    let told = shell(&bench, "trap '' XFSZ; ulimit -f 2", "run small.toml --set r_out=0.4ohm", "");
    let told = told.expect(2);
    assert!(told.err.contains("cannot be written: ") && told.out.is_empty(), "{}", told.err);
    assert_eq!(bench.all_files("results"), before);
}

#[test]
fn a_program_that_is_killed_over_a_file_leaves_the_earlier_results_and_the_next_one_tidies() {
    let bench = Bench::with(SMALL);
    bench.run(&[]).expect(0);
    let before = results(&bench);
    // Without the trap, the system kills the program in the middle of a file.
    let told = shell(&bench, "ulimit -f 2", "run small.toml --set r_out=0.4ohm", "");
    assert_eq!(told.code, None, "{}", told.err);
    assert_eq!(results(&bench), before);
    assert_eq!(unfinished(&bench).len(), 1);
    // Nothing of anybody else is touched.
    bench.put("results/small/.railstep-notes", b"mine");
    bench.run(&[]).expect(0);
    assert!(unfinished(&bench).is_empty());
    assert_eq!(bench.read("results/small/.railstep-notes"), "mine");
}

#[test]
fn killed_at_any_instant_every_file_is_an_old_one_or_a_new_one() {
    const KILLS: u32 = 12;
    let bench = Bench::with(SMALL);
    let whole = |set: &str| {
        let start = Instant::now();
        bench.run(&["--set", set]).expect(0);
        (results(&bench), start.elapsed())
    };
    let ((old, _), (new, took)) = (whole("r_out=0.4ohm"), whole("r_out=0.45ohm"));
    assert!(old.keys().eq(new.keys()) && old != new);
    for kill in 0..KILLS {
        let mut command = bench.command(&["run", "small.toml", "--set", "r_out=0.45ohm"]);
        let mut child = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(took * (kill + 1) / KILLS);
        child.kill().unwrap();
        child.wait().unwrap();
        for (path, bytes) in results(&bench) {
            assert!(bytes == old[&path] || bytes == new[&path], "{path} after kill {kill}");
        }
    }
    whole("r_out=0.4ohm");
    assert!(unfinished(&bench).is_empty());
}

#[test]
fn what_is_printed_onto_a_full_disk_is_told_and_what_nobody_reads_is_not() {
    let bench = Bench::with(SMALL);
    for arguments in ["run small.toml --format json", "explain load-step", "schema"] {
        let told = shell(&bench, "", arguments, "> /dev/full").expect(2);
        assert!(told.err.contains("standard output cannot be written: no space is left"));
    }
    for closed in [">&-", "2>&-", ">&- 2>&- <&-"] {
        shell(&bench, "", "run small.toml", closed).expect(0);
    }
    // The figures of that run are on the disk all the same.
    assert_eq!(bench.summary()["verdict"], "pass");
}

#[test]
fn no_home_no_terminal_and_no_width_make_no_difference() {
    let bench = Bench::with(SMALL);
    let usual = bench.run(&[]).expect(0).out;
    let bare = bench.command(&["run", "small.toml"]).env_clear().output().unwrap();
    assert_eq!((bare.status.code(), String::from_utf8(bare.stdout).unwrap()), (Some(0), usual));
    let environment = [("HOME", "/dev/null/home"), ("TERM", "dumb"), ("COLUMNS", "1")];
    let spread = "spread small.toml --runs 4 --test step-up";
    let all =
        ["run small.toml", "check small.toml", "explain droop", "run --help", "--help", spread];
    for arguments in all {
        let words: Vec<&str> = arguments.split(' ').collect();
        let output = bench.command(&words).envs(environment).output().unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.code().is_some_and(|code| code < 3), "{arguments}: {told}");
        assert!(!told.contains("panicked"), "{arguments}: {told}");
    }
}

#[test]
fn a_folder_that_takes_no_files_is_told_before_anything_is_run() {
    let bench = Bench::with(SMALL);
    // Where nobody can write, not even root.
    let told = bench.run(&["--out", "/proc/self/results"]).expect(2);
    assert!(told.err.contains("`/proc/self/results` cannot be written"), "{}", told.err);
    assert!(told.out.is_empty());
}

/// `SMALL` with something to be spread.
fn scattered() -> String {
    SMALL.replace("\"0.5 Ω\"", "{ value = \"0.5 Ω\", tolerance = \"5 %\" }")
}

/// So many lines that a study has begun.
const FEW: usize = 3;

fn rows(journal: &Path) -> usize {
    fs::read_to_string(journal).map_or(0, |text| text.lines().count())
}

fn wait_for_rows(journal: &Path) {
    let start = Instant::now();
    while rows(journal) < FEW {
        assert!(start.elapsed() < PATIENCE);
        std::thread::sleep(Duration::from_millis(2));
    }
}

#[test]
fn a_part_of_a_study_that_fills_the_disk_tells_what_is_lost_and_goes_on_there() {
    let bench = Bench::with(&scattered());
    let whole = "spread small.toml --runs 100 --test step-up --out";
    let spread = |more: &str| {
        let words = format!("{whole} {more}");
        bench.tell(&words.split(' ').collect::<Vec<_>>())
    };
    spread("whole").expect(0);
    let part = "parts --shard 1/2 --threads 1";
    // Of this journal some five kilobytes fit.
    let told =
        shell(&bench, "trap '' XFSZ; ulimit -f 10", &format!("{whole} {part}"), "").expect(2);
    let journal = "`parts/spread.part-1-of-2.jsonl`";
    assert_eq!(
        told.err.matches(&format!("{journal} cannot be written: ")).count(),
        1,
        "{}",
        told.err
    );
    assert!(told.err.contains(&format!("error: {journal} does not hold all ")), "{}", told.err);
    let told = spread(part).expect(0);
    assert!(told.err.contains("going on after "), "{}", told.err);
    spread("parts --shard 2/2").expect(0);
    bench.tell(&["study", "merge", "parts", "--out", "joined"]).expect(0);
    assert_eq!(bench.read("joined/spread.csv"), bench.read("whole/spread.csv"));
}

#[test]
fn a_folder_that_is_removed_under_a_study_costs_its_journal_and_nothing_else() {
    let bench = Bench::with(&scattered());
    let cases = [(&[][..], "spread", 0), (&["--shard", "1/2"], "spread.part-1-of-2", 2)];
    for (more, name, code) in cases {
        let all = ["spread", "small.toml", "--runs", "6000", "--threads", "1", "--out", "there"];
        let mut command = bench.command(&[&all, more].concat());
        let child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        wait_for_rows(&bench.path(&format!("there/{name}.jsonl")));
        fs::remove_dir_all(bench.path("there")).unwrap();
        let output = child.wait_with_output().unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{told}");
        assert_eq!(told.contains("of this part: it was removed meanwhile"), code == 2, "{told}");
        assert_eq!(bench.path("there/spread.csv").exists(), code == 0);
    }
}

#[test]
fn an_interrupted_study_says_what_is_kept_and_goes_on_there() {
    let bench = Bench::with(&scattered());
    let arguments = ["spread", "small.toml", "--runs", "3000", "--threads", "1"];
    let direct = bench.command(&arguments);
    // Tests started in the background pass on that the signal is to be ignored, as the program rightly does.
    let mut command = Command::new("env");
    command.arg("--default-signal=INT").arg(direct.get_program()).args(direct.get_args());
    command.current_dir(bench.path("")).env_remove("COLUMNS").env("NO_COLOR", "1");
    let child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let journal = bench.path("results/small/spread/spread.jsonl");
    wait_for_rows(&journal);
    let asked = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(asked.success());
    let output = child.wait_with_output().unwrap();
    // What a shell tells as 130.
    assert_eq!(output.status.signal(), Some(2));
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(told.contains("interrupted; finished runs stand in `results/small/spread/"), "{told}");
    assert!(output.stdout.is_empty());
    assert!(rows(&journal) >= FEW);
    let again = bench.tell(&arguments).expect(0);
    assert!(again.err.contains("going on after "), "{}", again.err);
    assert!(!journal.exists());
}

//! The program on both demo files as the README calls it: `check` finds nothing, `run` ends with 1
//! for the failures the files announce, and leaves the files it lists.

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const NETLISTS: [&str; 2] = ["buoy-radio", "sensor-supply"];

fn netlist(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("netlists").join(name).with_extension("toml")
}

fn tell(command: &str, file: &Path, folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_railstep"))
        .arg(command)
        .arg(file)
        .current_dir(folder)
        .output()
        .expect("the program can be started")
}

#[test]
fn check_finds_nothing_to_say_against_the_demos() {
    let folder = tempfile::tempdir().unwrap();
    for name in NETLISTS {
        let told = tell("check", &netlist(name), folder.path());
        let (out, err) = (String::from_utf8_lossy(&told.stdout), String::from_utf8(told.stderr));
        assert_eq!(told.status.code(), Some(0), "{name}: {out}");
        assert_eq!(err.unwrap(), "", "{name}");
        assert!(!out.contains("warning"), "{name}: {out}");
    }
}

#[test]
fn run_ends_with_the_announced_failures_and_leaves_the_files_it_lists() {
    let folder = tempfile::tempdir().unwrap();
    // Tests with curves and their total: each of them has a table and a figure, and all one summary.
    for (name, with_curves, tests) in [("buoy-radio", 20, 21), ("sensor-supply", 26, 28)] {
        let told = tell("run", &netlist(name), folder.path());
        let err = String::from_utf8_lossy(&told.stderr);
        assert_eq!(told.status.code(), Some(1), "{name}: {err}");
        let results = folder.path().join("results").join(name);
        let text = std::fs::read_to_string(results.join("summary.json")).unwrap();
        let summary: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(summary["verdict"], "fail", "{name}");
        assert_eq!(summary["tests"].as_array().unwrap().len(), tests, "{name}");
        let mut listed: Vec<&str> =
            summary["files"].as_array().unwrap().iter().map(|f| f.as_str().unwrap()).collect();
        listed.sort_unstable();
        let ending = |e: &str| listed.iter().filter(|f| f.ends_with(e)).count();
        assert_eq!((ending(".csv"), ending(".svg")), (with_curves, with_curves), "{name}");
        let mut there: Vec<String> = std::fs::read_dir(&results)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        there.sort_unstable();
        assert_eq!(there, listed, "{name}");
    }
}

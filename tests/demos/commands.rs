//! The program on the demo files as the README calls it: `check` finds nothing, `run` ends with the
//! verdict each announces, and leaves the files it lists.

use super::{DEMOS, plan};
use railstep::measure::TestKind;
use railstep::output::sweep_figure::table_suffixes;
use railstep::trial::Motion;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn netlist(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("netlists").join(name).with_extension("toml")
}

fn tell(command: &[&str], file: &Path, folder: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_railstep"))
        .args(command)
        .arg(file)
        .current_dir(folder)
        .output()
        .expect("the program can be started")
}

#[test]
fn check_finds_nothing_to_say_against_the_demos() {
    let folder = tempfile::tempdir().unwrap();
    for (name, _, _) in DEMOS {
        let told = tell(&["check"], &netlist(name), folder.path());
        let (out, err) = (String::from_utf8_lossy(&told.stdout), String::from_utf8(told.stderr));
        assert_eq!(told.status.code(), Some(0), "{name}: {out}");
        assert_eq!(err.unwrap(), "", "{name}");
        assert!(!out.contains("warning"), "{name}: {out}");
    }
}

/// Bytes of a page for each of its tests, and for the script and the look that every page carries.
const PAGE: (usize, usize) = (60_000, 150_000);

#[test]
fn run_ends_with_the_announced_verdict_and_leaves_the_files_it_lists() {
    let folder = tempfile::tempdir().unwrap();
    for (name, text, verdict) in DEMOS {
        let told = tell(&["run", "--quick"], &netlist(name), folder.path());
        let err = String::from_utf8_lossy(&told.stderr);
        assert_eq!(told.status.code(), Some(i32::from(*verdict == "fail")), "{name}: {err}");
        let results = folder.path().join("results").join(name);
        let text_of = std::fs::read_to_string(results.join("summary.json")).unwrap();
        let summary: Value = serde_json::from_str(&text_of).unwrap();
        assert_eq!(summary["verdict"], *verdict, "{name}");
        let tests = plan(text).tests;
        assert_eq!(summary["tests"].as_array().unwrap().len(), tests.len(), "{name}");
        // Tests with curves have a table and a figure each, those that look for the worst rate two, ripple
        // rejection at three levels of the source a second figure, and all together one summary.
        let drawn = tests.iter().filter(|t| t.kind != TestKind::OperatingPoint);
        let with_curves: usize = drawn.map(|t| table_suffixes(&t.motion).len()).sum();
        let over_headroom = tests.iter().filter(|t| {
            let levels = |m: &Motion| matches!(m, Motion::Steady(m) if m.source_levels.len() >= 3);
            t.kind == TestKind::RippleRejection && levels(&t.motion)
        });
        let figures = with_curves + over_headroom.count();
        let mut listed: Vec<&str> =
            summary["files"].as_array().unwrap().iter().map(|f| f.as_str().unwrap()).collect();
        listed.sort_unstable();
        let ending = |e: &str| listed.iter().filter(|f| f.ends_with(e)).count();
        assert_eq!((ending(".csv"), ending(".svg")), (with_curves, figures), "{name}");
        let mut there: Vec<String> = std::fs::read_dir(&results)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        there.sort_unstable();
        assert_eq!(there, listed, "{name}");
        let page = std::fs::read_to_string(results.join("report.html")).unwrap();
        assert_eq!(page.matches("<section class=\"test\"").count(), tests.len(), "{name}");
        assert_eq!(page.matches("<svg width").count(), figures, "{name}");
        let allowed = tests.len() * PAGE.0 + PAGE.1;
        assert!(page.len() < allowed, "{name}: {} bytes", page.len());
        assert!(*name != "buoy-radio" || page.len() < 1_000_000, "{} bytes", page.len());
    }
}

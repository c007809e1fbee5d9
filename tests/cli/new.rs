//! `railstep new`: files to start from.

use crate::bench::Bench;
use std::fs;
use std::path::Path;

fn netlists() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("netlists");
    let names = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name());
    let names = names.map(|name| name.into_string().unwrap());
    let mut stems: Vec<String> =
        names.filter_map(|name| Some(name.strip_suffix(".toml")?.to_owned())).collect();
    stems.sort();
    stems
}

#[test]
fn the_starter_is_understood_and_passes() {
    let bench = Bench::with("");
    let told = bench.tell(&["new", "my-rail"]).expect(0);
    assert_eq!(told.out, "written: my-rail.toml\nnext:\n  railstep run my-rail.toml\n");
    let checked = bench.tell(&["check", "my-rail.toml"]).expect(0);
    assert_eq!(checked.err, "");
    let ran = bench.tell(&["run", "my-rail.toml"]).expect(0);
    assert!(ran.out.contains("verdict: pass (4 tests: 4 pass)"), "{}", ran.out);
    let text = bench.read("my-rail.toml");
    let remarks = text.lines().filter(|line| line.contains('#')).count();
    assert!(remarks >= 25 && text.contains("railstep schema"), "{remarks}");
}

#[test]
fn a_start_from_a_datasheet_is_understood_and_says_what_to_type_next() {
    let bench = Bench::with("");
    let told = bench.tell(&["new", "by-sheet", "--regulator"]).expect(0);
    assert!(told.out.starts_with("written: by-sheet.toml\nnext:\n"), "{}", told.out);
    assert!(told.out.contains("railstep model by-sheet.toml --part U1"), "{}", told.out);
    let checked = bench.tell(&["check", "by-sheet.toml"]).expect(0);
    assert_eq!(checked.err, "");
    let ran = bench.tell(&["run", "--quick", "by-sheet.toml"]).expect(0);
    assert!(ran.out.contains("(3 tests: 3 pass)"), "{}", ran.out);
    assert!(bench.read("by-sheet.toml").matches("OPEN").count() >= 3);
    let both = bench.tell(&["new", "both", "--regulator", "--like", "buoy-radio"]).expect(2);
    assert!(both.err.contains("cannot be used with"), "{}", both.err);
}

#[test]
fn every_demo_can_be_started_from_with_its_files() {
    let bench = Bench::with("");
    let stems = netlists();
    assert!(stems.len() >= 7, "{stems:?}");
    for stem in &stems {
        let name = format!("like-{stem}.toml");
        let told = bench.tell(&["new", &name, "--like", stem]).expect(0);
        assert!(told.out.starts_with(&format!("written: {name}")), "{}", told.out);
        let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("netlists").join(stem);
        assert_eq!(bench.read(&name), fs::read_to_string(own.with_extension("toml")).unwrap());
        let _ = bench.tell(&["check", &name]).expect(0);
    }
    assert!(bench.path("buoy-radio.measured.csv").is_file());
    // Files that belong to a demo are no obstacle to a second start from it.
    let _ = bench.tell(&["new", "again", "--like", "buoy-radio.toml"]).expect(0);
}

#[test]
fn nothing_is_overwritten() {
    let bench = Bench::with("mine");
    let told = bench.tell(&["new", "small"]).expect(2);
    assert!(told.err.contains("`small.toml` is not written"), "{}", told.err);
    assert_eq!(bench.read("small.toml"), "mine");
    bench.put("buoy-radio.measured.csv", b"mine");
    let told = bench.tell(&["new", "buoy", "--like", "buoy-radio"]).expect(2);
    assert!(told.err.contains("`buoy-radio.measured.csv` is not written"), "{}", told.err);
    assert!(!bench.path("buoy.toml").exists());
    let told = bench.tell(&["new", "nowhere/rail"]).expect(2);
    assert!(told.err.contains("its folder does not exist"), "{}", told.err);
}

#[test]
fn an_unknown_demo_is_answered_with_those_there_are() {
    let bench = Bench::with("");
    let told = bench.tell(&["new", "rail", "--like", "bouy-radio"]).expect(2);
    assert!(told.err.contains("is `buoy-radio` meant?"), "{}", told.err);
    for stem in netlists() {
        assert!(told.err.contains(&format!("\n  {stem} ")), "{}", told.err);
    }
    assert!(!bench.path("rail.toml").exists());
}

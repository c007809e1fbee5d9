//! The README: every command that it shows is run, in its order, in one folder with the demos.

use crate::bench::Bench;
use std::fs;
use std::path::Path;

const README: &str = include_str!("../../README.md");

/// The lines of all blocks of shell commands that call the program, and with which code each ends.
fn calls() -> Vec<(String, i32)> {
    let mut calls = Vec::new();
    for block in README.split("```sh\n").skip(1) {
        let block = block.split("```").next().unwrap().replace("\\\n", " ");
        for line in block.lines().filter(|line| line.starts_with("railstep ")) {
            let (call, remark) = line.split_once('#').unwrap_or((line, ""));
            let code = i32::from(remark.contains("ends with 1"));
            calls.push((call.trim().to_owned(), code));
        }
    }
    calls
}

/// The words of a command, texts in quotes being one.
fn words(call: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (k, piece) in call.split('"').enumerate() {
        if k % 2 == 1 {
            words.push(piece.to_owned());
        } else {
            words.extend(piece.split_whitespace().map(str::to_owned));
        }
    }
    words
}

#[test]
fn every_command_of_the_readme_does_what_stands_beside_it() {
    let bench = Bench::with("");
    let netlists = Path::new(env!("CARGO_MANIFEST_DIR")).join("netlists");
    for entry in fs::read_dir(netlists).unwrap().map(Result::unwrap) {
        let name = format!("netlists/{}", entry.file_name().into_string().unwrap());
        bench.put(&name, &fs::read(entry.path()).unwrap());
    }
    let calls = calls();
    assert!(calls.len() >= 12, "{calls:?}");
    for (call, code) in calls {
        // What a shell would write into a file is only printed here.
        let call = call.split('>').next().unwrap();
        let mut words = words(call);
        words.remove(0);
        if words[0] == "live" {
            // It would serve until it is interrupted; that it is there is enough here.
            let help = bench.tell(&["--help"]).expect(0).out;
            if help.contains("\n  live ") {
                bench.tell(&["live", "--help"]).expect(0);
            }
            continue;
        }
        let arguments: Vec<&str> = words.iter().map(String::as_str).collect();
        let told = bench.tell(&arguments);
        assert_eq!(told.code, Some(code), "{call}\n{}\n{}", told.out, told.err);
    }
}

#[test]
fn every_command_there_is_stands_in_the_readme() {
    let help = Bench::with("").tell(&["--help"]).expect(0).out;
    let list = help.split_once("\nCommands:\n").unwrap().1;
    for line in list.lines().take_while(|line| !line.is_empty()) {
        if line.starts_with("  ") && !line.starts_with("   ") {
            let name = line.split_whitespace().next().unwrap();
            assert!(README.contains(&format!("| `railstep {name}")), "{name}");
        }
    }
}

#[test]
fn what_the_story_shows_is_what_the_program_says() {
    let bench = Bench::with("");
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("netlists/buoy-radio.toml");
    let file = file.to_str().unwrap();
    let told = bench.tell(&["run", file, "--test", "transmit burst", "--set", "esr_out=300mohm"]);
    // Figures to three digits: finer ones go with the steps taken.
    for figure in ["droop 44.4 mV = charge 2.70 mV (C_OUT) + esr 41.3 mV (C_OUT)", "-49 %  fail"] {
        assert!(README.contains(figure) && told.out.contains(figure), "{}", told.out);
    }
}

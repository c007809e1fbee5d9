//! What a terminal gets that a file does not: a sketch, as wide as there is room, and nothing else.

use crate::bench::{Bench, SMALL};
use std::process::Command;

/// Runs `small.toml` in a pseudo-terminal (`script` of util-linux) with this environment.
fn on_a_terminal(bench: &Bench, more: &str, environment: &[(&str, &str)]) -> String {
    let call = format!("{} run small.toml --quick {more}", env!("CARGO_BIN_EXE_railstep"));
    let mut command = Command::new("script");
    command.args(["-qec", &call, "/dev/null"]).current_dir(bench.path(""));
    for name in ["LC_ALL", "LC_CTYPE", "LANG", "COLUMNS", "NO_COLOR"] {
        command.env_remove(name);
    }
    let output = command.envs(environment.iter().copied()).output();
    let output = output.expect("`script` of util-linux is there");
    let text = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(0), "{text}");
    text.replace('\r', "")
}

fn lines_with(text: &str, side: char) -> Vec<&str> {
    text.lines().filter(|line| line.contains(side)).collect()
}

#[test]
fn a_terminal_gets_a_sketch_of_each_test_in_time_as_wide_as_it_is() {
    let bench = Bench::with(SMALL);
    let text = on_a_terminal(&bench, "", &[("COLUMNS", "72"), ("LANG", "en_GB.UTF-8")]);
    // Seven rows for each of the two tests that run through time, none for the one at rest.
    assert_eq!(lines_with(&text, '│').len(), 14, "{text}");
    assert!(text.contains("a droop 50.0 mV at "), "{text}");
    let drawn = ['│', '└', '┄'];
    for line in text.lines().filter(|line| line.contains(drawn)) {
        assert!(line.chars().count() <= 72, "{line}");
    }
    // Nothing is coloured, so nothing is lost where colours are not seen.
    assert!(!text.contains('\u{1b}'), "{text}");
}

#[test]
fn a_locale_without_unicode_gets_plain_characters() {
    let bench = Bench::with(SMALL);
    for locale in [&[("LC_ALL", "C"), ("LANG", "en_GB.UTF-8")][..], &[("LANG", "POSIX")], &[]] {
        let text = on_a_terminal(&bench, "--test 'Step up'", locale);
        assert!(lines_with(&text, '│').is_empty(), "{text}");
        assert!(lines_with(&text, '|').len() >= 7, "{text}");
    }
}

#[test]
fn no_sketch_is_drawn_where_it_is_not_wanted_or_has_no_room() {
    let bench = Bench::with(SMALL);
    let unicode = ("LC_ALL", "C.UTF-8");
    let unwanted = on_a_terminal(&bench, "--no-sketch", &[unicode]);
    assert!(lines_with(&unwanted, '│').is_empty(), "{unwanted}");
    let narrow = on_a_terminal(&bench, "", &[unicode, ("COLUMNS", "39")]);
    assert!(lines_with(&narrow, '│').is_empty(), "{narrow}");
    let json = on_a_terminal(&bench, "--format json", &[unicode]);
    assert!(serde_json::from_str::<serde_json::Value>(&json).is_ok(), "{json}");
    // Not on a terminal there is none, and `--no-sketch` changes nothing.
    let piped = bench.run(&["--quick"]).expect(0).out;
    assert!(lines_with(&piped, '│').is_empty(), "{piped}");
    assert_eq!(bench.run(&["--quick", "--no-sketch"]).expect(0).out, piped);
}

#[test]
fn a_mistake_is_coloured_on_a_terminal_alone_and_reads_the_same_without() {
    let bench = Bench::with(&SMALL.replace("0.5 Ω", "0.5 V"));
    let call = format!("{} check small.toml", env!("CARGO_BIN_EXE_railstep"));
    let shown = |environment: &[(&str, &str)]| {
        let mut command = Command::new("script");
        command.args(["-qec", &call, "/dev/null"]).current_dir(bench.path(""));
        command.env_remove("NO_COLOR").env("TERM", "xterm").envs(environment.iter().copied());
        String::from_utf8(command.output().unwrap().stdout).unwrap().replace('\r', "")
    };
    let (coloured, plain) = (shown(&[]), shown(&[("NO_COLOR", "1")]));
    assert!(coloured.contains('\u{1b}') && !plain.contains('\u{1b}'), "{coloured}\n{plain}");
    let mut stripped = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        stripped.push_str(before);
        rest = after.split_once('m').map_or("", |(_, after)| after);
    }
    stripped.push_str(rest);
    assert_eq!(stripped, plain);
}

#[test]
fn a_reader_that_takes_one_line_gets_it_and_nobody_complains() {
    let bench = Bench::with(SMALL);
    for call in ["run small.toml --quick", "explain", "schema", "run --help"] {
        let program = env!("CARGO_BIN_EXE_railstep");
        let script = format!("set -o pipefail; {program} {call} | head -1");
        let output = Command::new("bash")
            .args(["-c", &script])
            .current_dir(bench.path(""))
            .output()
            .unwrap();
        assert_eq!(String::from_utf8_lossy(&output.stdout).lines().count(), 1, "{call}");
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{call}");
        // 141 is what a shell makes of the signal of a closed pipe.
        assert!([Some(0), Some(141)].contains(&output.status.code()), "{call}: {output:?}");
    }
}

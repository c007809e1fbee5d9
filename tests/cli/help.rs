//! Help, completions and the schema: what teaches before anything is run.

use crate::bench::Bench;
use serde_json::Value;

/// Words that the first line of a help may begin with.
const VERBS: [&str; 16] = [
    "Step", "Run", "Read", "Map", "Draw", "Hold", "Find", "Give", "Join", "Write", "Explain",
    "Decide", "Print", "Open", "Serve", "Turn",
];

/// The commands that a help lists.
fn commands(help: &str) -> Vec<String> {
    let Some((_, list)) = help.split_once("\nCommands:\n") else { return Vec::new() };
    let lines = list.lines().take_while(|line| !line.is_empty());
    // Names stand two deep; what belongs to them hangs deeper.
    let names = lines.filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    names.filter_map(|line| Some(line.split_whitespace().next()?.to_owned())).collect()
}

/// Every command with the words that call it; the program itself is the first.
fn all_commands(bench: &Bench) -> Vec<Vec<String>> {
    let mut all = vec![Vec::new()];
    let mut next = 0;
    while let Some(words) = all.get(next).cloned() {
        next += 1;
        let help = help(bench, &words, "--help");
        all.extend(commands(&help).into_iter().map(|name| [&words[..], &[name]].concat()));
    }
    all
}

fn help(bench: &Bench, words: &[String], option: &str) -> String {
    let arguments: Vec<&str> = words.iter().map(String::as_str).chain([option]).collect();
    bench.tell(&arguments).expect(0).out
}

#[test]
fn every_help_fits_80_columns_and_begins_with_what_the_command_does() {
    let bench = Bench::with("");
    let all = all_commands(&bench);
    assert!(all.len() >= 15, "{all:?}");
    for words in &all {
        for option in ["--help", "-h"] {
            let help = help(&bench, words, option);
            let first = help.lines().next().unwrap();
            let verb = first.split_whitespace().next().unwrap();
            assert!(VERBS.contains(&verb), "{words:?}: {first}");
            assert!(!first.ends_with('.'), "{words:?}: {first}");
            // One line says it: the second is empty.
            assert_eq!(help.lines().nth(1), Some(""), "{words:?}: {first}");
            for line in help.lines() {
                assert!(line.chars().count() <= 80, "{words:?}: {line}");
            }
        }
    }
}

#[test]
fn completions_of_every_shell_name_every_command() {
    let bench = Bench::with("");
    let names: Vec<String> = all_commands(&bench).into_iter().filter_map(|mut w| w.pop()).collect();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = bench.tell(&["completions", shell]).expect(0).out;
        for name in &names {
            assert!(script.contains(name.as_str()), "{shell}: {name}");
        }
        assert!(script.contains("no-sketch"), "{shell}");
    }
    let told = bench.tell(&["completions", "abacus"]).expect(2);
    assert!(told.err.contains("bash"), "{}", told.err);
}

#[test]
fn the_schema_is_json_and_nothing_else() {
    let told = Bench::with("").tell(&["schema"]).expect(0);
    assert_eq!(told.err, "");
    let schema: Value = serde_json::from_str(&told.out).unwrap();
    assert_eq!(schema["properties"]["title"]["type"], "string");
}

/// The lines of an entry's example that call the program, `\` at their ends taken out.
fn calls(entry: &str) -> Vec<String> {
    let example = entry.split_once("\nexample\n").map_or("", |(_, example)| example);
    let whole = example.replace("\\\n", " ");
    whole
        .lines()
        .map(|line| line.trim().to_owned())
        .filter(|l| l.starts_with("railstep "))
        .collect()
}

#[test]
fn every_command_is_explained_and_every_command_shown_is_understood() {
    let bench = Bench::with("");
    let names = commands(&help(&bench, &[], "--help"));
    for name in &names {
        bench.tell(&["explain", name]).expect(0);
    }
    let contents = bench.tell(&["explain"]).expect(0).out;
    let entries = contents.lines().filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    let mut tried = 0;
    for entry in entries.filter_map(|line| line.split_whitespace().next()) {
        for call in calls(&bench.tell(&["explain", entry]).expect(0).out) {
            let words: Vec<&str> = call.split_whitespace().skip(1).collect();
            if !names.iter().any(|name| name == words[0]) {
                continue;
            }
            let told = bench.tell(&words);
            // The file that it names is not there; the words themselves must be understood.
            assert!(!told.err.contains("Usage:"), "{call}\n{}", told.err);
            tried += 1;
        }
    }
    assert!(tried >= 12, "{tried}");
}

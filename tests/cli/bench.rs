//! A folder with circuit files, and the program run in it.

use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;

/// A source of 3 V, 0.5 Ω, a capacitor, a load. At rest the output is 3 V less the load's current
/// times 0.5 Ω, so a step from 10 mA to 110 mA droops by 50 mV.
pub(crate) const SMALL: &str = r#"title = "small bench rail"
[values]
r_out = "0.5 Ω"
[rail]
input = "vin"
output = "vout"
nominal = "3 V"
window = "5 %"
source = "V1"
load = "I_LOAD"
[parts]
V1 = { kind = "voltage-source", plus = "vin", minus = "gnd", voltage = "3 V" }
R_OUT = { kind = "resistor", nodes = ["vin", "vout"], resistance = "r_out" }
C_OUT = { kind = "capacitor", nodes = ["vout", "gnd"], capacitance = "10 µF", esr = "10 mΩ" }
I_LOAD = { kind = "load", nodes = ["vout", "gnd"], current = "10 mA" }

[[tests]]
name = "Step up"
kind = "load-step"
from = "10 mA"
to = "110 mA"
edge = "0"
hold = "100 µs"
require = { droop = "<= 80 mV" }

[[tests]]
name = "ramp"
kind = "profile"
load_points = [["0 s", "10 mA"], ["50 µs", "10 mA"], ["60 µs", "60 mA"], ["100 µs", "60 mA"]]

[[tests]]
name = "rest"
kind = "operating-point"
"#;

/// `SMALL` with another requirement of its first test.
pub(crate) fn requiring(require: &str) -> String {
    SMALL.replace("droop = \"<= 80 mV\"", require)
}

/// Two tests, the second of which asks a part for more current than it can ever carry.
pub(crate) const UNSOLVABLE: &str = r#"title = "a part that carries 1 mA at most"
[values]
i_in = "0.5 mA"
[parts]
I1 = { kind = "current-source", nodes = ["gnd", "x"], current = "i_in" }
L1 = { kind = "law", nodes = ["x", "gnd"], inputs = { u = ["x", "gnd"] }, current = "1 mA * tanh(u / 1 V)" }
C1 = { kind = "capacitor", nodes = ["x", "gnd"], capacitance = "1 nF" }
[[tests]]
name = "within"
kind = "profile"
duration = "10 µs"
[[tests]]
name = "beyond"
kind = "profile"
duration = "10 µs"
values = { i_in = "2 mA" }
"#;

pub(crate) struct Bench {
    folder: TempDir,
}

pub(crate) struct Told {
    pub(crate) code: Option<i32>,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Told {
    pub(crate) fn expect(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{}\n{}", self.out, self.err);
        self
    }
}

impl Bench {
    /// An empty folder with this text in `small.toml`.
    pub(crate) fn with(text: &str) -> Self {
        let bench = Self { folder: tempfile::tempdir().unwrap() };
        bench.put("small.toml", text.as_bytes());
        bench
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn put(&self, name: &str, bytes: &[u8]) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }

    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_railstep"));
        command.args(arguments).current_dir(self.folder.path());
        // What the caller's terminal is like must not matter.
        command.env_remove("COLUMNS").env("NO_COLOR", "1");
        command
    }

    pub(crate) fn tell(&self, arguments: &[&str]) -> Told {
        let output = self.command(arguments).output().unwrap();
        Told {
            code: output.status.code(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Runs `small.toml` with further arguments.
    pub(crate) fn run(&self, more: &[&str]) -> Told {
        self.tell(&[&["run", "small.toml"], more].concat())
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    pub(crate) fn summary(&self) -> Value {
        serde_json::from_str(&self.read("results/small/summary.json")).unwrap()
    }

    /// Every file below a folder with its bytes; empty if there is none.
    pub(crate) fn all_files(&self, folder: &str) -> BTreeMap<String, Vec<u8>> {
        let mut found = BTreeMap::new();
        gather(&self.path(folder), &mut found);
        found
    }
}

fn gather(folder: &Path, found: &mut BTreeMap<String, Vec<u8>>) {
    for entry in fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            gather(&path, found);
        } else {
            found.insert(path.display().to_string(), fs::read(&path).unwrap());
        }
    }
}

/// A CSV: heading, and rows of numbers.
pub(crate) fn table(text: &str) -> (Vec<String>, Vec<Vec<f64>>) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heading = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let rows = reader.records().map(|row| {
        row.unwrap().iter().map(|cell| cell.parse::<f64>().unwrap()).collect::<Vec<f64>>()
    });
    (heading, rows.collect())
}

pub(crate) fn column(heading: &[String], name: &str) -> usize {
    heading.iter().position(|h| h == name).unwrap_or_else(|| panic!("{name} in {heading:?}"))
}

pub(crate) fn measurement<'a>(summary: &'a Value, test: usize, name: &str) -> &'a Value {
    let all = summary["tests"][test]["measurements"].as_array().unwrap();
    all.iter().find(|m| m["name"] == name).unwrap()
}

//! What a run leaves behind: CSV, figures, summary, and what it says of older files.

use crate::bench::{Bench, SMALL, column, measurement, table};
use serde_json::Value;

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

#[test]
fn every_test_in_time_gets_its_csv_and_figure_and_the_summary_lists_them() {
    let bench = Bench::with(SMALL);
    bench.run(&[]).expect(0);
    let files =
        ["step-up.csv", "step-up.svg", "ramp.csv", "ramp.svg", "report.html", "summary.json"];
    assert_eq!(bench.summary()["files"], serde_json::json!(files));
    assert_eq!(bench.summary()["stale"], serde_json::json!([]));
    assert_eq!(bench.all_files("results").len(), files.len());
    for file in files {
        let text = bench.read(&format!("results/small/{file}"));
        assert!(text.ends_with(['\n', '>']) && !text.contains('\r'), "{file}");
    }
    let svg = bench.read("results/small/step-up.svg");
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
}

#[test]
fn the_page_of_a_run_shows_every_test_and_takes_no_orders_from_the_file() {
    let title = "</title><script>alert(1)</script>";
    let bench = Bench::with(&SMALL.replace("small bench rail", title).replace("ramp", "a & <b>"));
    bench.run(&[]).expect(0);
    let page = bench.read("results/small/report.html");
    assert!(page.contains("<h1>&lt;/title&gt;&lt;script&gt;alert(1)&lt;/script&gt;</h1>"));
    assert!(!page.contains("<script>alert") && !page.contains("<b>\""));
    for name in ["Step up", "a &amp; &lt;b&gt;", "rest"] {
        assert!(page.contains(&format!("<h2>{name} <small>")), "{name}");
    }
    for told in ["<a href=\"step-up.csv\">", "≤ 80 mV", "calculated, not measured"] {
        assert!(page.contains(told), "{told}");
    }
    // One record a test in time, each with its picture.
    assert_eq!(page.matches("<figure class=\"record\"").count(), 2);
    assert_eq!(page.matches("<svg width").count(), 2);
}

#[test]
fn a_csv_has_time_then_nodes_then_parts_and_both_sides_of_a_jump() {
    let bench = Bench::with(SMALL);
    bench.run(&["--test", "Step up"]).expect(0);
    let (heading, rows) = table(&bench.read("results/small/step-up.csv"));
    assert_eq!(heading[..3], ["time [s]", "vin [V]", "vout [V]"]);
    assert!(heading[3..].iter().all(|h| h.contains('.')));
    for name in ["I_LOAD.current [A]", "I_LOAD.power [W]", "V1.power [W]", "R_OUT.current [A]"] {
        column(&heading, name);
    }
    assert!(rows.windows(2).all(|pair| pair[0][0] <= pair[1][0]), "time never falls");
    assert_eq!(rows[0][0], 0.0);
    // 10 µs ahead, 100 µs held, 100 µs watched
    assert!((rows.last().unwrap()[0] - 210e-6).abs() < 1e-15);

    let load = column(&heading, "I_LOAD.current [A]");
    for (at, before, after) in [(10e-6, 0.010, 0.110), (110e-6, 0.110, 0.010)] {
        let sides: Vec<f64> =
            rows.iter().filter(|r| (r[0] - at).abs() < 1e-15).map(|r| r[load]).collect();
        assert_eq!(sides.len(), 2, "{at}");
        assert!((sides[0] - before).abs() < 1e-9 && (sides[1] - after).abs() < 1e-9, "{sides:?}");
    }
}

#[test]
fn exact_the_record_shows_the_droop_of_a_source_resistance() {
    let bench = Bench::with(SMALL);
    bench.run(&["--test", "step-up"]).expect(0);
    // 0.5 Ω · 100 mA; ten microvolts is the accuracy asked for by default
    let droop = measurement(&bench.summary(), 0, "droop")["value"].as_f64().unwrap();
    assert!((droop - 0.05).abs() < 1e-5, "{droop}");
    let (heading, rows) = table(&bench.read("results/small/step-up.csv"));
    let output = column(&heading, "vout [V]");
    assert!((rows[0][output] - 2.995).abs() < 1e-5);
    // Ohm's law on every row, to the rounding of differences of a few volts
    let current = column(&heading, "R_OUT.current [A]");
    for row in &rows {
        assert!(((row[1] - row[output]) / 0.5 - row[current]).abs() < 1e-12);
    }
}

#[test]
fn the_summary_has_its_keys_in_order_and_its_verdicts_in_words() {
    let bench = Bench::with(SMALL);
    bench.run(&[]).expect(0);
    let summary = bench.summary();
    assert_eq!(
        keys(&summary),
        ["format", "file", "title", "verdict", "files", "tests", "cautions", "stale"]
    );
    assert_eq!((&summary["format"], &summary["file"]), (&1.into(), &"small.toml".into()));
    let tests = summary["tests"].as_array().unwrap();
    let names: Vec<&str> = tests.iter().map(|t| t["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Step up", "ramp", "rest"]);
    let words = ["pass", "marginal", "fail", "not-evaluated", "error", "no-requirements"];
    for test in tests {
        assert_eq!(
            keys(test)[..6],
            ["name", "kind", "verdict", "error", "condition", "measurements"]
        );
        assert_eq!(test["condition"]["nominal_only"], true);
        assert_eq!(test["condition"]["ambient_c"], 25.0);
        assert!(words.contains(&test["verdict"].as_str().unwrap()));
        for row in test["measurements"].as_array().unwrap() {
            assert!(words.contains(&row["verdict"].as_str().unwrap()));
            assert!(!row["definition"].as_str().unwrap().is_empty());
            assert!(!row["value"].is_null() || row["reason"].is_string(), "{row}");
        }
    }
    let droop = measurement(&summary, 0, "droop");
    assert_eq!((&droop["unit"], &droop["limit"]), (&"V".into(), &"<= 80 mV".into()));
    // (80 mV − 50 mV) / 80 mV
    assert!((droop["margin"].as_f64().unwrap() - 0.375).abs() < 1e-3);
    let cautions = summary["cautions"].as_array().unwrap();
    assert!(cautions.iter().any(|c| c.as_str().unwrap().starts_with("calculated, not measured")));
}

#[test]
fn files_of_an_earlier_run_are_called_stale_until_they_are_written_again_or_gone() {
    let bench = Bench::with(SMALL);
    bench.run(&[]).expect(0);
    let told = bench.run(&["--test", "ramp"]).expect(0);
    assert!(told.out.contains("stale, from an earlier run: step-up.csv, step-up.svg"));
    let summary = bench.summary();
    assert_eq!(
        summary["files"],
        serde_json::json!(["ramp.csv", "ramp.svg", "report.html", "summary.json"])
    );
    assert_eq!(summary["stale"], serde_json::json!(["step-up.csv", "step-up.svg"]));
    // Still lying there after another run of one test, and still said.
    std::fs::remove_file(bench.path("results/small/step-up.svg")).unwrap();
    bench.run(&["--test", "ramp"]).expect(0);
    assert_eq!(bench.summary()["stale"], serde_json::json!(["step-up.csv"]));
    bench.run(&[]).expect(0);
    assert_eq!(bench.summary()["stale"], serde_json::json!([]));
}

#[test]
fn a_summary_that_was_tampered_with_does_not_lead_out_of_its_folder() {
    let bench = Bench::with(SMALL);
    let listed = r#"{ "files": ["../../small.toml", "/etc/passwd", 7, "gone.csv"], "stale": "x" }"#;
    bench.put("results/small/summary.json", listed.as_bytes());
    bench.run(&["--test", "rest"]).expect(0);
    assert_eq!(bench.summary()["stale"], serde_json::json!([]));
}

#[test]
fn the_same_input_gives_the_same_bytes_whatever_the_threads() {
    let bench = Bench::with(SMALL);
    let one = bench.run(&["--threads", "1", "--out", "a"]).expect(0);
    let four = bench.run(&["--threads", "4", "--out", "b"]).expect(0);
    assert_eq!(one.out.replace("into a:", "into b:"), four.out);
    let (a, b) = (bench.all_files("a"), bench.all_files("b"));
    assert!(a.len() == 6 && a.values().eq(b.values()));
}

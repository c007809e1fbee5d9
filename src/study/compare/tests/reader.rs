//! Traces as instruments write them, and every mistake with its place.

use crate::diagnostic::{Diagnostic, FileId, Sources};
use crate::study::compare::{Columns, Trace, read_trace};
use std::fmt::Write as _;

const USUAL: Columns<'static> = Columns { time: None, value: None, node: "vout" };

fn read(text: &str, asked: Columns<'_>) -> Result<Trace, Vec<Diagnostic>> {
    read_trace(text, FileId(0), asked)
}

/// Twelve rows below a head, `row` making each of its number.
fn rows(head: &str, row: impl Fn(usize) -> String) -> String {
    let mut text = format!("{head}\n");
    for k in 0..12 {
        let _ = writeln!(text, "{}", row(k));
    }
    text
}

fn mistakes(text: &str, asked: Columns<'_>) -> Vec<String> {
    let mut sources = Sources::default();
    sources.add("trace.csv", text);
    let told = read(text, asked).unwrap_err();
    let one = |d: &Diagnostic| {
        let (line, column) = sources.line_column(d.span.unwrap());
        format!("{line}:{column}: {} ({})", d.message, d.hint.clone().unwrap_or_default())
    };
    told.iter().map(one).collect()
}

#[test]
fn heads_units_delimiters_and_decimal_signs_of_many_instruments_read_alike() {
    let point = |k: usize| format!("{}.5,{}", k, 2800 + k);
    let texts = [
        rows("time [µs],vout [mV]", point),
        rows("\u{feff}time (us),vout (mV)", point),
        rows("# made by hand\n# twice\ntime [µs],vout [mV]", point),
        rows("model,X-9\nserial,0001,A\n\n\"time [µs]\",\"vout [mV]\"", point),
        rows("time,vout\n[µs],[mV]", point),
        rows("time,vout\nus,mV", point),
        rows("time [µs],spare [V],VOUT [mV]", |k| format!("{k}.5,,{}", 2800 + k)),
        rows("time [µs];vout [mV]", |k| format!("{k},5;{}", 2800 + k)),
        rows("time [µs]\tvout [mV]", |k| format!("{k},5\t{},0", 2800 + k)),
        rows("time [µs]\tvout [mV]", |k| format!("{k}.5\t{}.0", 2800 + k)),
        rows("time [µs],vout [mV]", |k| format!(" \"{k}.5\" , +{}e0,", 2800 + k))
            .replace('\n', "\r\n"),
    ];
    for text in texts {
        let trace = read(&text, USUAL).unwrap();
        assert_eq!(trace.time_s.len(), 12, "{text}");
        for k in 0..12 {
            assert!((trace.time_s[k] - (k as f64 + 0.5) * 1e-6).abs() < 1e-18, "{text}");
            assert!((trace.volt[k] - (2.8 + 1e-3 * k as f64)).abs() < 1e-12, "{text}");
        }
        assert!((trace.interval_s() - 1e-6).abs() < 1e-18);
    }
}

#[test]
fn columns_are_named_with_or_without_their_unit() {
    let text = rows("n,t,CH1 [V],CH2", |k| format!("{k},{k}e-6,1,2.{k}"));
    let asked = |time, value| Columns { time: Some(time), value: Some(value), node: "vout" };
    let trace = read(&text, asked("t [s]", "CH2 [mV]")).unwrap();
    assert_eq!((trace.time_head.as_str(), trace.volt_head.as_str()), ("t", "CH2"));
    assert!((trace.volt[3] - 2.3e-3).abs() < 1e-15 && (trace.time_s[3] - 3e-6).abs() < 1e-18);
    assert_eq!(read(&text, asked("t [s]", "CH1")).unwrap().volt[0], 1.0);
    let told = mistakes(&text, asked("t", "CH1 [mV]"));
    assert!(told[0].starts_with("1:3: column `t` names no unit (say it: `--time \"t [s]\"`"));
    assert!(told[1].contains("the head says `V`, `--value` says `mV`"), "{told:?}");
    let told = mistakes(&text, asked("t [V]", "ch1"));
    assert!(told[0].contains("`V` is not a unit of"), "{told:?}");
    assert!(told[1].contains("no column `ch1` (write `--value \"CH1\"`"), "{told:?}");
    let told = mistakes(&text, asked("t [s]", "t [s]"));
    assert!(told[0].contains("as time and as voltage") || told[0].contains("not a unit"));
}

#[test]
fn a_column_without_a_unit_is_refused_with_what_to_type() {
    let told = mistakes(&rows("t,v", |k| format!("{k},{k}")), USUAL);
    assert_eq!(told.len(), 2);
    assert!(told[1].contains("(say it: `--value \"v [V]\"`"), "{told:?}");
}

#[test]
fn every_mistake_is_told_at_its_place_and_no_more_than_twenty() {
    let text = rows("time [µs],vout [V]", |k| match k {
        2 => "2,abc".to_owned(),
        4 => "3".to_owned(),
        5 => "1,2.8".to_owned(),
        7 => "7,1e999".to_owned(),
        _ => format!("{k},2.8"),
    });
    let told = mistakes(&text, USUAL);
    assert_eq!(told.len(), 4, "{told:?}");
    assert!(told[0].starts_with("4:3: `abc` is no number"), "{told:?}");
    assert!(told[1].starts_with("6:2: a number is missing here"), "{told:?}");
    assert!(told[2].starts_with("7:1: times must rise"), "{told:?}");
    assert!(told[3].starts_with("9:3: `1e999` is no number"), "{told:?}");
    let mut many = rows("time [µs],vout [V]", |k| format!("{k},1"));
    (12..60).for_each(|k| {
        let _ = writeln!(many, "{k},x");
    });
    let told = mistakes(&many, USUAL);
    assert_eq!(told.len(), 21);
    assert!(told[20].contains("and 28 more mistakes"), "{}", told[20]);
}

#[test]
fn what_is_no_trace_is_told_so() {
    for (text, words) in [
        ("", "no line with two numbers"),
        ("time [s],vout [V]\n", "no line with two numbers"),
        ("1,2\n2,3\n", "the columns of the trace have no heads"),
        ("time [s],vout [V]\n1,2\n2,3\n", "fewer than 10 samples"),
        ("just words\n1,2\n2,3\n", "the columns of the trace have no heads"),
    ] {
        assert!(mistakes(text, USUAL)[0].contains(words), "{text}");
    }
}

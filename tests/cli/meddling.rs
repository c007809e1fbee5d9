//! The live page among programs that mean it no good, and files that change under it: it answers or
//! refuses, and what it writes is whole.

use crate::bench::{Bench, SMALL, UNSOLVABLE};
use crate::live::{Served, droop, reply};
use serde_json::{Value, json};
use std::fs;
use std::io::Write as _;

/// More than are served at a time.
const IDLE: usize = 200;

#[test]
fn odd_numbers_and_odd_json_are_answered_in_words_or_refused() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    // What is JSON, whatever it asks for, gets an answer.
    for value in [
        "1e308",
        "-1e308",
        "5e-324",
        "0",
        "-0.0",
        "-1",
        "\"NaN\"",
        "\"inf Ω\"",
        "\"1e400 Ω\"",
        "\"\"",
        "\"0.5 Ω\\u0000\"",
        "\"r_out\"",
        "\"1 Ω; rm\"",
        "\"1e-320 Ω\"",
        "\"1 Ω^9\"",
    ] {
        let reply = served.post("turn", &format!("{{\"test\":0,\"set\":{{\"r_out\":{value}}}}}"));
        assert_eq!(reply.status, 200, "{value}: {}", reply.body);
        assert!(serde_json::from_str::<Value>(&reply.body).is_ok(), "{value}: {}", reply.body);
    }
    let deep = format!("{{\"set\":{}1{}}}", "[".repeat(30_000), "]".repeat(30_000));
    let long = format!("{{\"set\":{{\"{}\":1}}}}", "x".repeat(60_000));
    for body in [
        "",
        "null",
        "[]",
        "1e999",
        "{",
        "{}",
        "{\"set\":null}",
        "{\"set\":{\"r_out\":1e999}}",
        "{\"set\":{\"r_out\":NaN}}",
        "{\"set\":{\"r_out\":null}}",
        "{\"set\":{\"r_out\":[1]}}",
        "{\"set\":{},\"test\":-1}",
        "{\"set\":{},\"test\":99}",
        "{\"set\":{},\"test\":1e300}",
        "{\"set\":{},\"file\":\"/etc/passwd\"}",
        "{\"set\":{\"../r_out\":1}}",
        &deep,
        &long,
    ] {
        assert_eq!(served.post("turn", body).status, 400, "{body:.80}");
    }
    // A text far longer than an expression may be is told as one.
    let answer = served.turn(&json!({ "set": { "r_out": "1 Ω + ".repeat(5000) } }));
    assert!(answer["mistakes"][0].to_string().contains("longer than"), "{answer}");
    served.is_alive();
}

#[test]
fn what_cannot_be_solved_is_told_and_the_next_turn_is_solved() {
    let bench = Bench::with(UNSOLVABLE);
    let served = Served::start(&bench, &["--test", "within"]);
    let failing = served.turn(&json!({ "set": { "i_in": "2 mA" } }));
    assert!(failing.to_string().contains("solve"), "{failing}");
    let solved = served.turn(&json!({ "set": { "i_in": "0.4 mA" } }));
    assert!(solved["rows"].is_array(), "{solved}");
}

#[test]
fn several_requests_on_one_connection_get_one_answer() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    let one =
        format!("GET /{}/live.css HTTP/1.1\r\nHost: {}\r\n\r\n", served.token, served.own_host());
    let told = served.send(one.repeat(20).as_bytes());
    assert_eq!((told.status, told.body.matches("HTTP/1.1").count()), (200, 0));
    assert!(told.head.contains("Connection: close"));
    // A body in pieces under a length as well, as requests are smuggled.
    let both =
        one.replace("\r\n\r\n", "\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n");
    assert_eq!(served.send(format!("{both}0\r\n\r\n{one}").as_bytes()).status, 501);
    let folded = one.replace("\r\n\r\n", "\r\nOrigin\r\n : http://elsewhere\r\n\r\n");
    assert_eq!(served.send(folded.as_bytes()).status, 400);
    served.is_alive();
}

#[test]
fn more_idle_connections_than_are_served_are_turned_away_and_it_goes_on_after_them() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    let idle: Vec<_> = (0..IDLE).map(|_| served.connect()).collect();
    let (mut refused, mut last) = (0, None);
    for stream in idle {
        // Those that are served say nothing before they are asked, and are let go here.
        let mut stream = stream;
        let _ = stream.shutdown(std::net::Shutdown::Write);
        let _ = stream.flush();
        if let Some(told) = reply(stream) {
            refused += 1;
            last = Some(told.status);
        }
    }
    assert!(refused > 0 && last == Some(503), "{refused} {last:?}");
    served.is_alive();
}

#[test]
fn copies_made_at_once_are_all_whole_and_a_changed_file_is_not_copied() {
    const AT_ONCE: usize = 8;
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    let copy = |ohm: usize| {
        let body = json!({ "set": { "r_out": format!("{ohm} Ω") } }).to_string();
        let told: Value = serde_json::from_str(&served.post("copy", &body).body).unwrap();
        (ohm, told["written"].as_str().unwrap().to_owned())
    };
    let copies: Vec<(usize, String)> = std::thread::scope(|scope| {
        let all: Vec<_> = (1..=AT_ONCE).map(|ohm| scope.spawn(move || copy(ohm))).collect();
        all.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    for (ohm, name) in &copies {
        let expected = SMALL.replace("\"0.5 Ω\"", &format!("\"{ohm} Ω\""));
        assert_eq!(bench.read(name), expected, "{name}");
    }
    let entries = || fs::read_dir(bench.path("")).unwrap().count();
    assert_eq!(entries(), 1 + AT_ONCE);

    let refusal = || served.post("copy", "{\"set\":{}}").body;
    bench.put("small.toml", SMALL.replace("10 µF", "22 µF").as_bytes());
    assert!(refusal().contains("was changed since it was read"), "{}", refusal());
    fs::remove_file(bench.path("small.toml")).unwrap();
    assert!(refusal().contains("no such file"), "{}", refusal());
    assert_eq!(entries(), AT_ONCE);
    // What is on the page is still that of the file as it was.
    assert_eq!(droop(&served.turn(&json!({ "set": {} }))), "50.00 mV");
}

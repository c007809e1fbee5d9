//! The live page from outside: what it answers, what it refuses, and that nothing ends it.

use crate::bench::{Bench, SMALL, measurement};
use serde_json::{Value, json};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

/// Much longer than anything takes here, for machines under load.
const PATIENCE: Duration = Duration::from_secs(60);

/// A page that is being served; ended when dropped.
pub(crate) struct Served {
    child: Child,
    port: u16,
    pub(crate) token: String,
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

pub(crate) struct Reply {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: String,
}

impl Served {
    pub(crate) fn start(bench: &Bench, more: &[&str]) -> Self {
        let mut command = bench.command(&[&["live", "small.toml"], more].concat());
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let address = lines.next().unwrap().unwrap();
        assert_eq!(lines.next().unwrap().unwrap(), "Ctrl-C ends it");
        let rest = address.strip_prefix("http://127.0.0.1:").unwrap();
        let (port, token) = rest.strip_suffix('/').unwrap().split_once('/').unwrap();
        Self { child, port: port.parse().unwrap(), token: token.to_owned() }
    }

    pub(crate) fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        stream
    }

    /// Sends bytes as they are and reads what comes until the end.
    pub(crate) fn send(&self, bytes: &[u8]) -> Reply {
        let mut stream = self.connect();
        // A refusal may come before everything is sent.
        let _ = stream.write_all(bytes);
        reply(stream).unwrap()
    }

    pub(crate) fn get(&self, path: &str, host: &str, further: &str) -> Reply {
        self.send(format!("GET {path} HTTP/1.1\r\nHost: {host}\r\n{further}\r\n").as_bytes())
    }

    pub(crate) fn own_host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    pub(crate) fn route(&self, route: &str) -> Reply {
        self.get(&format!("/{}/{route}", self.token), &self.own_host(), "")
    }

    pub(crate) fn post(&self, route: &str, body: &str) -> Reply {
        let (host, length) = (self.own_host(), body.len());
        self.send(
            format!(
                "POST /{}/{route} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
                 Content-Type: application/json\r\nContent-Length: {length}\r\n\r\n{body}",
                self.token
            )
            .as_bytes(),
        )
    }

    pub(crate) fn turn(&self, body: &Value) -> Value {
        let reply = self.post("turn", &body.to_string());
        assert_eq!(reply.status, 200, "{}", reply.body);
        serde_json::from_str(&reply.body).unwrap()
    }

    pub(crate) fn is_alive(&self) {
        assert_eq!(self.route("").status, 200);
    }
}

/// `None` where the connection was broken off, which is a refusal too.
pub(crate) fn reply(mut stream: TcpStream) -> Option<Reply> {
    let mut bytes = Vec::new();
    // What was sent before the end counts, even where the end was not in good order.
    let _ = stream.read_to_end(&mut bytes);
    let text = String::from_utf8(bytes).unwrap();
    let (head, body) = text.split_once("\r\n\r\n")?;
    let status = head.strip_prefix("HTTP/1.1 ")?.get(..3)?.parse().ok()?;
    Some(Reply { status, head: head.to_owned(), body: body.to_owned() })
}

pub(crate) fn droop(answer: &Value) -> &str {
    let rows = answer["rows"].as_array().unwrap();
    rows.iter().find(|row| row["name"] == "droop").unwrap()["value"].as_str().unwrap()
}

#[test]
fn the_page_and_what_belongs_to_it_are_served_with_a_strict_policy() {
    let bench = Bench::with(&SMALL.replace("small bench rail", "a <b>rail</b>"));
    let (one, other) = (Served::start(&bench, &[]), Served::start(&bench, &[]));
    assert!(one.port != other.port && one.token != other.token);
    assert!(one.token.len() == 32 && one.token.bytes().all(|b| b.is_ascii_hexdigit()));
    let page = one.route("");
    assert!(page.body.contains("<h1>a &lt;b&gt;rail&lt;/b&gt;</h1>"));
    assert!(page.body.contains("value=\"0.5 Ω\"") && page.body.contains("Step up (load-step)"));
    assert!(page.head.contains("default-src 'none'") && page.head.contains("no-referrer"));
    for route in ["live.js", "live.css", "uplot.js", "uplot.css"] {
        assert!(one.route(route).status == 200 && !one.route(route).body.is_empty(), "{route}");
    }
    let by_name = one.get(&format!("/{}/", one.token), &format!("localhost:{}", one.port), "");
    assert_eq!(by_name.status, 200);
}

#[test]
fn exact_a_turn_gives_the_droop_of_the_source_resistance() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &["--test", "Step up"]);
    let own = served.turn(&json!({ "test": 0, "set": {} }));
    // 0.5 Ω · 100 mA, to the ten microvolts that are asked for by default
    assert_eq!(droop(&own), "50.00 mV");
    assert_eq!(own["verdict"], "pass");
    assert_eq!(own["command"], "railstep run small.toml --test 'Step up'");
    // 0.9 Ω · 100 mA against 80 mV; a slider's number is told as a quantity
    let turned = served.turn(&json!({ "test": 0, "set": { "r_out": 0.90001 } }));
    assert_eq!(droop(&turned), "90.00 mV");
    assert_eq!(turned["verdict"], "fail");
    assert_eq!(turned["command"], "railstep run small.toml --test 'Step up' --set r_out=900mΩ");
    assert_eq!(turned["values"][0]["text"], "900 mΩ");
    let output =
        &turned["panels"].as_array().unwrap().iter().find(|p| p["label"] == "output").unwrap();
    let lowest = output["curves"][0]["v"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap());
    // 3 V - 0.9 Ω · 110 mA, to the share of the height that curves are thinned to
    assert!((lowest.fold(f64::INFINITY, f64::min) - 2.901).abs() < 1e-4);
    let typed = served.turn(&json!({ "test": 0, "set": { "r_out": "0.3 Ω + 0.3 Ω" } }));
    assert_eq!((droop(&typed), &typed["values"][0]["comes_to"]), ("60.00 mV", &"600 mΩ".into()));
}

#[test]
fn a_wrong_value_is_told_in_words_beside_its_name_and_the_next_turn_is_solved() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    for (wrong, words) in
        [("5 V", "resistance"), ("", "nothing"), ("-1 Ω", "above zero"), ("gone", "gone")]
    {
        let told = served.turn(&json!({ "test": 0, "set": { "r_out": wrong } }));
        let mistake = &told["mistakes"][0];
        assert_eq!(mistake["path"], "r_out", "{wrong}: {told}");
        assert!(!mistake["words"].as_str().unwrap().is_empty(), "{words}");
    }
    assert_eq!(droop(&served.turn(&json!({ "test": 0, "set": {} }))), "50.00 mV");
}

#[test]
fn what_the_command_line_sets_is_where_the_page_starts_and_part_of_the_command() {
    let bench = Bench::with(SMALL);
    let sets = ["--set", "r_out=0.7 Ω", "--set", "C_OUT.esr=20 mΩ"];
    let served = Served::start(&bench, &sets);
    let page = served.route("").body;
    assert!(page.contains("value=\"0.7 Ω\"") && page.contains("data-own=\"0.5 Ω\""));
    let answer = served.turn(&json!({ "test": 0, "set": { "r_out": "0.7 Ω" } }));
    assert_eq!(droop(&answer), "70.00 mV");
    let command = "railstep run small.toml --test 'Step up' --set C_OUT.esr=20mΩ --set r_out=0.7Ω";
    assert_eq!(answer["command"], command);
    let own = served.turn(&json!({ "test": 0, "set": {}, "own": true }));
    assert_eq!(own["command"], "railstep run small.toml --test 'Step up'");
}

#[test]
fn a_copy_keeps_comments_overwrites_nothing_and_gives_the_same_figures() {
    let commented = SMALL.replace("\"0.5 Ω\"", "\"0.5 Ω\"     # of the wire");
    let bench = Bench::with(&commented);
    let served = Served::start(&bench, &[]);
    let body = json!({ "set": { "r_out": "0.6 Ω" } }).to_string();
    let written = |reply: Reply| serde_json::from_str::<Value>(&reply.body).unwrap();
    assert_eq!(written(served.post("copy", &body))["written"], "small-live.toml");
    let copy = bench.read("small-live.toml");
    assert_eq!(copy, commented.replace("0.5 Ω", "0.6 Ω"));
    assert_eq!(written(served.post("copy", &body))["written"], "small-live-2.toml");
    assert_eq!(bench.read("small.toml"), commented);
    bench.tell(&["check", "small-live.toml"]).expect(0);
    bench.tell(&["run", "small-live.toml"]).expect(0);
    let summary: Value =
        serde_json::from_str(&bench.read("results/small-live/summary.json")).unwrap();
    let from_copy = measurement(&summary, 0, "droop")["value"].as_f64().unwrap();
    bench.run(&["--set", "r_out=0.6 Ω"]).expect(0);
    let from_set = measurement(&bench.summary(), 0, "droop")["value"].as_f64().unwrap();
    // Both solutions are aimed at ten microvolts.
    assert!((from_copy - from_set).abs() < 1e-5 && (from_copy - 0.06).abs() < 1e-5);
    // A key that the file does not write cannot be changed in place.
    let besides = Served::start(&bench, &["--set", "C_OUT.esl=1 nH"]);
    let refused = written(besides.post("copy", &body));
    assert!(refused["refused"].as_str().unwrap().contains("`C_OUT.esl`"), "{refused}");
    assert!(!bench.path("small-live-3.toml").exists());
}

#[test]
fn nobody_without_the_token_or_from_elsewhere_is_answered() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    let (own, path) = (served.own_host(), format!("/{}/", served.token));
    let wrong_token = format!("/{}/", "0".repeat(32));
    for path in ["/", "/live.js", "//", "", wrong_token.as_str(), &path[..path.len() - 1]] {
        let status = served.get(path, &own, "").status;
        assert!(status == 403 || (path.is_empty() && status == 400), "{path}: {status}");
    }
    for host in ["example.org", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.example.org", "[::1]:1", ""]
    {
        assert_eq!(served.get(&path, host, "").status, 403, "{host}");
    }
    for origin in ["http://example.org", "null", "https://127.0.0.1", &format!("https://{own}")] {
        assert_eq!(
            served.get(&path, &own, &format!("Origin: {origin}\r\n")).status,
            403,
            "{origin}"
        );
    }
    let without_host = format!("GET {path} HTTP/1.1\r\n\r\n");
    assert_eq!(served.send(without_host.as_bytes()).status, 403);
    let twice = format!("GET {path} HTTP/1.1\r\nHost: {own}\r\nHost: example.org\r\n\r\n");
    assert_eq!(served.send(twice.as_bytes()).status, 400);
    served.is_alive();
}

#[test]
fn only_the_routes_that_exist_are_answered_by_their_own_method() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    let tricks = [
        "../small.toml",
        "%2e%2e/small.toml",
        "..%2fsmall.toml",
        "live.js/",
        "./",
        "/",
        "small.toml",
        "live.js?x",
        "/etc/passwd",
        "turn/../live.js",
        "live.js%00",
        "LIVE.JS",
    ];
    for trick in tricks {
        assert_eq!(served.route(trick).status, 404, "{trick}");
    }
    let absolute = format!("http://{}/{}/", served.own_host(), served.token);
    assert_eq!(served.get(&absolute, &served.own_host(), "").status, 403);
    assert_eq!(served.get("/../small.toml", &served.own_host(), "").status, 403);
    for route in ["turn", "copy"] {
        assert_eq!(served.route(route).status, 405, "{route}");
    }
    assert_eq!(served.post("live.js", "{}").status, 405);
    let put = format!("PUT /{}/turn HTTP/1.1\r\nHost: {}\r\n\r\n", served.token, served.own_host());
    assert_eq!(served.send(put.as_bytes()).status, 405);
    served.is_alive();
}

#[test]
fn bodies_and_heads_are_bounded_and_must_make_sense() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    for body in [
        "",
        "{",
        "[]",
        "{\"set\":7}",
        "{\"test\":0}",
        "{\"set\":{},\"more\":1}",
        "\u{7f}",
        "{\"test\":99,\"set\":{}}",
        "{\"test\":-1,\"set\":{}}",
        "{\"set\":{\"gone\":\"1\"}}",
        "{\"set\":{\"r_out\":1e999}}",
        &"[".repeat(60_000),
    ] {
        assert_eq!(served.post("turn", body).status, 400, "{}", &body[..body.len().min(40)]);
    }
    assert_eq!(served.post("turn", &" ".repeat(70_000)).status, 413);
    let (token, host) = (&served.token, served.own_host());
    let post = |head: &str| {
        let bytes =
            format!("POST /{token}/turn HTTP/1.1\r\nHost: {host}\r\n{head}\r\n{{\"set\":{{}}}}");
        served.send(bytes.as_bytes()).status
    };
    let (origin, kind) =
        (format!("Origin: http://{host}\r\n"), "Content-Type: application/json\r\n");
    assert_eq!(post(&format!("{origin}{kind}")), 411);
    assert_eq!(post(&format!("{kind}Content-Length: 10\r\n")), 403);
    assert_eq!(post(&format!("{origin}Content-Type: text/plain\r\nContent-Length: 10\r\n")), 415);
    assert_eq!(post(&format!("{origin}{kind}Content-Length: -1\r\n")), 400);
    assert_eq!(post(&format!("{origin}{kind}Content-Length: {}\r\n", "9".repeat(30))), 413);
    assert_eq!(post(&format!("{origin}{kind}Transfer-Encoding: chunked\r\n")), 501);
    assert_eq!(
        post(&format!("{origin}{kind}Content-Length: 10\r\nX: {}\r\n", "x".repeat(20_000))),
        431
    );
    assert_eq!(post(&format!("{}Content-Length: 10\r\n", "X: y\r\n".repeat(100))), 431);
    assert_eq!(served.send(b"\x16\x03\x01\x02\x00 not http \r\n\r\n").status, 400);
    served.is_alive();
}

#[test]
fn a_thousand_requests_at_once_are_answered_or_refused_and_it_still_serves() {
    const THREADS: usize = 20;
    const AT_ONCE: usize = 10;
    const ROUNDS: usize = 5;
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    let body = json!({ "test": 0, "set": { "r_out": 0.7 } }).to_string();
    let head = format!(
        "POST /{}/turn HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        served.token,
        body.len(),
        host = served.own_host(),
    );
    let round = || {
        let send = |_| {
            let mut stream = TcpStream::connect(("127.0.0.1", served.port)).ok()?;
            stream.set_read_timeout(Some(PATIENCE)).ok()?;
            let _ = stream.write_all(head.as_bytes());
            Some(stream)
        };
        let streams: Vec<Option<TcpStream>> = (0..AT_ONCE).map(send).collect();
        streams
            .into_iter()
            .map(|stream| stream.and_then(reply).map_or(0, |reply| reply.status))
            .collect()
    };
    let all = || (0..ROUNDS).flat_map(|_| -> Vec<u16> { round() }).collect::<Vec<u16>>();
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..THREADS).map(|_| scope.spawn(all)).collect();
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    assert_eq!(statuses.len(), 1000);
    // 0 is a connection that was broken off.
    assert!(statuses.iter().all(|status| [200, 503, 0].contains(status)), "{statuses:?}");
    let answered = statuses.iter().filter(|status| **status == 200).count();
    assert!(answered > 100, "{answered}");
    let after = served.turn(&json!({ "test": 0, "set": { "r_out": 0.7 } }));
    assert_eq!(droop(&after), "70.00 mV");
}

#[test]
fn the_slow_do_not_hold_up_others_and_are_left_in_the_end() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    // Some say nothing, some stop in the middle, some ask and never read.
    let mut idle = Vec::new();
    for k in 0..60 {
        let mut stream = served.connect();
        let text =
            format!("GET /{}/uplot.js HTTP/1.1\r\nHost: {}\r\n", served.token, served.own_host());
        let part = match k % 3 {
            0 => "",
            1 => &text,
            _ => &format!("{text}\r\n"),
        };
        stream.write_all(part.as_bytes()).unwrap();
        idle.push(stream);
    }
    let start = Instant::now();
    let answer = served.turn(&json!({ "test": 0, "set": {} }));
    assert_eq!(droop(&answer), "50.00 mV");
    // Nobody waits for the five seconds that the slow ones are given.
    assert!(start.elapsed() < Duration::from_secs(4), "{:?}", start.elapsed());
    let half = idle.remove(1);
    assert_eq!(reply(half).unwrap().status, 408);
}

#[test]
fn a_port_that_is_taken_and_a_file_without_tests_are_told() {
    let bench = Bench::with(SMALL);
    let served = Served::start(&bench, &[]);
    let told = bench.tell(&["live", "small.toml", "--port", &served.port.to_string()]).expect(2);
    assert!(told.err.contains("is taken") && told.out.is_empty(), "{}", told.err);
    let bare = Bench::with(SMALL.split("[[tests]]").next().unwrap());
    let told = bare.tell(&["live", "small.toml"]).expect(2);
    assert!(told.err.contains("has no tests"), "{}", told.err);
    let help = bench.tell(&["live", "--help"]).expect(0).out;
    assert!(help.starts_with("Turn values on a local page"), "{help}");
    assert!(help.lines().all(|line| line.chars().count() <= 80), "{help}");
}

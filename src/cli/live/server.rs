//! Takes connections, so many at a time, each on a thread of its own, so that nobody who is slow holds
//! up another. What cannot be taken is refused at once, and nothing ends the server.

use super::desk::Desk;
use super::gate::Gate;
use super::request::{Method, Reply, Request, Status, part, read, write};
use railstep::output::page::live::{PLOT_SCRIPT, PLOT_STYLE, SCRIPT, STYLE};
use std::net::{TcpListener, TcpStream};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

/// Connections at a time: a browser opens six, and a slow client holds one for fifteen seconds at most; who
/// keeps one has to ask on, for five seconds of silence end it.
const MOST_CONNECTIONS: usize = 128;
/// How long nothing is taken after the system refused a connection (too many open files).
const PAUSE: Duration = Duration::from_millis(20);

/// Serves for ever.
pub(super) fn serve(listener: &TcpListener, gate: &Gate, desk: &Desk<'_>) {
    let open = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        loop {
            let Ok((stream, _)) = listener.accept() else {
                std::thread::sleep(PAUSE);
                continue;
            };
            let place = Place::take(&open);
            if place.is_none() {
                turn_away(stream);
                continue;
            }
            let attend = move || {
                let _held = place;
                attend(stream, gate, desk);
            };
            // Where no thread can be had, the connection is dropped with what was to attend it.
            let _ = std::thread::Builder::new().spawn_scoped(scope, attend);
        }
    });
}

/// One of the connections that are open.
struct Place<'a>(&'a AtomicUsize);

impl<'a> Place<'a> {
    fn take(open: &'a AtomicUsize) -> Option<Self> {
        // Only the accepting thread adds, so that the count cannot pass the limit in between.
        if open.load(Ordering::Acquire) >= MOST_CONNECTIONS {
            return None;
        }
        open.fetch_add(1, Ordering::AcqRel);
        Some(Self(open))
    }
}

impl Drop for Place<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::AcqRel);
    }
}

/// A word that fits into what the system sends by itself; nobody waits for it to be taken.
fn turn_away(mut stream: TcpStream) {
    use std::io::Write as _;
    if stream.set_nonblocking(true).is_ok() {
        let line = Status::Busy.line();
        let word = format!("HTTP/1.1 {line}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n");
        let _ = stream.write_all(word.as_bytes());
    }
}

fn attend(mut stream: TcpStream, gate: &Gate, desk: &Desk<'_>) {
    let _ = stream.set_nodelay(true);
    let mut kept = false;
    loop {
        let (reply, stays) = match read(&mut stream) {
            Ok(None) => return,
            // A fault in a solution must not take the page away.
            Ok(Some(request)) => catch_unwind(AssertUnwindSafe(|| answer(&request, gate, desk)))
                .unwrap_or(Err(Status::Broken))
                .map_or_else(
                    |status| (Reply::refusal(status), false),
                    |reply| (reply, request.stays),
                ),
            // A kept connection on which nothing more is asked has idled long enough.
            Err(Status::TimedOut) if kept => return,
            Err(status) => (Reply::refusal(status), false),
        };
        if !write(&mut stream, &reply, stays) {
            return;
        }
        if !stays {
            return part(&mut stream);
        }
        kept = true;
    }
}

/// All that there is to ask for. No route names a file.
fn answer(request: &Request, gate: &Gate, desk: &Desk<'_>) -> Result<Reply, Status> {
    const SCRIPTS: &str = "text/javascript; charset=utf-8";
    const STYLES: &str = "text/css; charset=utf-8";
    const TOLD: &str = "application/json";
    let route = gate.pass(request)?;
    let wanted = match route {
        "" | "live.js" | "live.css" | "uplot.js" | "uplot.css" => Method::Get,
        "turn" | "copy" => Method::Post,
        _ => return Err(Status::NotFound),
    };
    if request.method != wanted {
        return Err(Status::MethodNotAllowed);
    }
    if wanted == Method::Post {
        // Every browser names the page that posts; another page could not say that it sends JSON.
        if request.origin.is_none() {
            return Err(Status::Forbidden);
        }
        let kind = request.content_type.as_deref().and_then(|kind| kind.split(';').next());
        if !kind.is_some_and(|kind| kind.trim().eq_ignore_ascii_case(TOLD)) {
            return Err(Status::WrongType);
        }
    }
    Ok(match route {
        "" => Reply::of("text/html; charset=utf-8", desk.page()),
        "live.js" => Reply::of(SCRIPTS, SCRIPT),
        "live.css" => Reply::of(STYLES, STYLE),
        "uplot.js" => Reply::of(SCRIPTS, PLOT_SCRIPT),
        "uplot.css" => Reply::of(STYLES, PLOT_STYLE),
        "turn" => Reply::of(TOLD, desk.turn(&request.body)?),
        _ => Reply::of(TOLD, desk.copy(&request.body)?),
    })
}

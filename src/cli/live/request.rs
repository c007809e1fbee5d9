//! One request off the wire and one reply onto it, each within bounds of size and time.
//!
//! A connection carries one request, unless the client asks to keep it, as browsers do: setting up another
//! for every turn of a value would cost more than the wire. One that idles is let go as soon as a slow one.

use std::io::{ErrorKind, Read, Write as _};
use std::net::{Shutdown, TcpStream};
use std::time::{Duration, Instant};

/// Longest request line with headers.
pub(super) const LONGEST_HEAD_BYTES: usize = 16 << 10;
/// Most headers: a browser sends some twenty.
const MOST_HEADERS: usize = 64;
/// Longest body: some hundreds of values with their texts.
pub(super) const LONGEST_BODY_BYTES: usize = 64 << 10;
/// A request must have come whole by then.
const READING: Duration = Duration::from_secs(5);
/// A reply must have been taken by then.
const WRITING: Duration = Duration::from_secs(10);
/// What a refused client still sends is read away for so long, so that it reads why before its
/// connection breaks.
const PARTING: Duration = Duration::from_millis(300);
const PARTING_BYTES: usize = 1 << 20;
const CHUNK: usize = 16 << 10;

/// A request whose head and body kept the bounds.
#[derive(Debug)]
pub(super) struct Request {
    pub(super) method: Method,
    /// As asked for, nothing decoded and nothing resolved: routes are compared to it as they stand.
    pub(super) path: String,
    pub(super) host: Option<String>,
    pub(super) origin: Option<String>,
    pub(super) content_type: Option<String>,
    pub(super) body: Vec<u8>,
    /// Whether the client wants to ask more on the same connection.
    pub(super) stays: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Method {
    Get,
    Post,
}

/// Why a request is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Status {
    BadRequest,
    Forbidden,
    NotFound,
    MethodNotAllowed,
    TimedOut,
    LengthRequired,
    BodyTooLarge,
    WrongType,
    HeadTooLarge,
    Broken,
    NotImplemented,
    Busy,
}

impl Status {
    pub(super) fn line(self) -> &'static str {
        match self {
            Self::BadRequest => "400 Bad Request",
            Self::Forbidden => "403 Forbidden",
            Self::NotFound => "404 Not Found",
            Self::MethodNotAllowed => "405 Method Not Allowed",
            Self::TimedOut => "408 Request Timeout",
            Self::LengthRequired => "411 Length Required",
            Self::BodyTooLarge => "413 Content Too Large",
            Self::WrongType => "415 Unsupported Media Type",
            Self::HeadTooLarge => "431 Request Header Fields Too Large",
            Self::Broken => "500 Internal Server Error",
            Self::NotImplemented => "501 Not Implemented",
            Self::Busy => "503 Service Unavailable",
        }
    }
}

/// What is sent back.
#[derive(Debug)]
pub(super) struct Reply {
    status: &'static str,
    kind: &'static str,
    body: Vec<u8>,
}

impl Reply {
    pub(super) fn of(kind: &'static str, body: impl Into<Vec<u8>>) -> Self {
        Self { status: "200 OK", kind, body: body.into() }
    }

    pub(super) fn refusal(status: Status) -> Self {
        let body = format!("{}\n", status.line()).into_bytes();
        Self { status: status.line(), kind: "text/plain; charset=utf-8", body }
    }

    fn head(&self, stays: bool) -> String {
        // Only what this server sends may run, and nothing may be sent elsewhere.
        const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
            connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
        format!(
            "HTTP/1.1 {}\r\nContent-Type: {}\r\nContent-Length: {}\r\nConnection: {}\r\n\
             Cache-Control: no-store\r\nContent-Security-Policy: {POLICY}\r\n\
             Cross-Origin-Opener-Policy: same-origin\r\nCross-Origin-Resource-Policy: same-origin\r\n\
             Referrer-Policy: no-referrer\r\nX-Content-Type-Options: nosniff\r\n\r\n",
            self.status,
            self.kind,
            self.body.len(),
            if stays { "keep-alive" } else { "close" },
        )
    }
}

/// Reads one request. `Ok(None)` where the other side only came and went, as browsers do ahead of
/// time.
pub(super) fn read(stream: &mut TcpStream) -> Result<Option<Request>, Status> {
    let until = Instant::now() + READING;
    let mut bytes = Vec::new();
    let end = loop {
        if let Some(end) = bytes.windows(4).position(|four| four == b"\r\n\r\n") {
            break end + 4;
        }
        if bytes.len() > LONGEST_HEAD_BYTES {
            return Err(Status::HeadTooLarge);
        }
        if more(stream, &mut bytes, until)? == 0 {
            return if bytes.is_empty() { Ok(None) } else { Err(Status::BadRequest) };
        }
    };
    if end > LONGEST_HEAD_BYTES {
        return Err(Status::HeadTooLarge);
    }
    let body = bytes.split_off(end);
    let (mut request, length) = head(&bytes)?;
    request.body = body;
    while request.body.len() < length {
        if more(stream, &mut request.body, until)? == 0 {
            return Err(Status::BadRequest);
        }
    }
    // Nothing is asked ahead of an answer: what follows is not looked at, nor what would follow that.
    request.stays &= request.body.len() == length;
    request.body.truncate(length);
    Ok(Some(request))
}

fn more(stream: &mut TcpStream, bytes: &mut Vec<u8>, until: Instant) -> Result<usize, Status> {
    let left = until.saturating_duration_since(Instant::now());
    if left.is_zero() || stream.set_read_timeout(Some(left)).is_err() {
        return Err(Status::TimedOut);
    }
    let mut chunk = [0; CHUNK];
    loop {
        return match stream.read(&mut chunk) {
            Ok(count) => {
                bytes.extend_from_slice(&chunk[..count]);
                Ok(count)
            }
            Err(error) if error.kind() == ErrorKind::Interrupted => continue,
            Err(_) => Err(Status::TimedOut),
        };
    }
}

/// The head of a request, and how long its body is.
fn head(bytes: &[u8]) -> Result<(Request, usize), Status> {
    let mut headers = [httparse::EMPTY_HEADER; MOST_HEADERS];
    let mut parsed = httparse::Request::new(&mut headers);
    match parsed.parse(bytes) {
        Ok(httparse::Status::Complete(_)) => {}
        Err(httparse::Error::TooManyHeaders) => return Err(Status::HeadTooLarge),
        Ok(httparse::Status::Partial) | Err(_) => return Err(Status::BadRequest),
    }
    let method = match parsed.method {
        Some("GET") => Method::Get,
        Some("POST") => Method::Post,
        _ => return Err(Status::MethodNotAllowed),
    };
    let named = |name: &str| -> Vec<&[u8]> {
        let all = parsed.headers.iter().filter(|header| header.name.eq_ignore_ascii_case(name));
        all.map(|header| header.value).collect()
    };
    // Two of a kind could be read one way here and another way elsewhere.
    let only = |name: &str| match named(name).as_slice() {
        [] => Ok(None),
        [one] => match std::str::from_utf8(one) {
            Ok(text) => Ok(Some(text.to_owned())),
            Err(_) => Err(Status::BadRequest),
        },
        _ => Err(Status::BadRequest),
    };
    if !named("transfer-encoding").is_empty() {
        return Err(Status::NotImplemented);
    }
    let length = match (method, only("content-length")?) {
        (Method::Post, None) => return Err(Status::LengthRequired),
        (_, None) => 0,
        (_, Some(text)) if text.bytes().all(|b| b.is_ascii_digit()) && !text.is_empty() => {
            // So many digits that they are no number are too many bytes, too.
            text.parse().unwrap_or(usize::MAX)
        }
        (_, Some(_)) => return Err(Status::BadRequest),
    };
    if length > LONGEST_BODY_BYTES {
        return Err(Status::BodyTooLarge);
    }
    let request = Request {
        method,
        path: parsed.path.unwrap_or_default().to_owned(),
        host: only("host")?,
        origin: only("origin")?,
        content_type: only("content-type")?,
        body: Vec::new(),
        stays: only("connection")?.is_some_and(|words| words.eq_ignore_ascii_case("keep-alive")),
    };
    Ok((request, length))
}

/// Sends a reply; whether all of it was taken. A client that takes too long is left.
pub(super) fn write(stream: &mut TcpStream, reply: &Reply, stays: bool) -> bool {
    let until = Instant::now() + WRITING;
    // Head and body go together: a short answer is one packet, and wakes its reader once.
    let bytes = [reply.head(stays).as_bytes(), &reply.body].concat();
    bytes.chunks(CHUNK).all(|piece| {
        let left = until.saturating_duration_since(Instant::now());
        let timed = !left.is_zero() && stream.set_write_timeout(Some(left)).is_ok();
        timed && stream.write_all(piece).is_ok()
    })
}

/// Ends a connection so that the client reads the last answer before it breaks.
pub(super) fn part(stream: &mut TcpStream) {
    let _ = stream.shutdown(Shutdown::Write);
    let until = Instant::now() + PARTING;
    let mut rest = Vec::new();
    while rest.len() < PARTING_BYTES && more(stream, &mut rest, until).is_ok_and(|count| count > 0)
    {
    }
}

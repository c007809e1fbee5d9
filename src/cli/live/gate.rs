//! Who may ask: whoever knows the token in the address, from a page of this server, by a name of this
//! machine. A page elsewhere that has its name point to this machine is told by the name it asks for.

use super::request::{Request, Status};
use crate::cli::Stop;

/// Bytes of the token: 128 bits from the operating system.
const TOKEN_BYTES: usize = 16;

pub(super) struct Gate {
    port: u16,
    token: String,
}

impl Gate {
    pub(super) fn new(port: u16) -> Result<Self, Stop> {
        let mut bytes = [0; TOKEN_BYTES];
        getrandom::fill(&mut bytes).map_err(|error| {
            Stop::Because(format!("the operating system gives no random numbers: {error}"))
        })?;
        let digits = |byte: &u8| {
            [byte >> 4, byte & 15].map(|d| char::from(b"0123456789abcdef"[usize::from(d)]))
        };
        let token = bytes.iter().flat_map(digits).collect();
        Ok(Self { port, token })
    }

    /// What to open in a browser.
    pub(super) fn address(&self) -> String {
        format!("http://127.0.0.1:{}/{}/", self.port, self.token)
    }

    /// The route that is asked for, the token taken off; the empty one is the page.
    pub(super) fn pass<'a>(&self, request: &'a Request) -> Result<&'a str, Status> {
        let names = [format!("127.0.0.1:{}", self.port), format!("localhost:{}", self.port)];
        let host = request.host.as_deref().ok_or(Status::Forbidden)?;
        if !names.iter().any(|name| name == host) {
            return Err(Status::Forbidden);
        }
        if request.origin.as_ref().is_some_and(|origin| *origin != format!("http://{host}")) {
            return Err(Status::Forbidden);
        }
        let path = request.path.strip_prefix('/').ok_or(Status::Forbidden)?;
        let (token, route) = path.split_once('/').ok_or(Status::Forbidden)?;
        if same(token.as_bytes(), self.token.as_bytes()) {
            Ok(route)
        } else {
            Err(Status::Forbidden)
        }
    }
}

/// Takes as long for a token that is wrong at its start as for one that is wrong at its end.
fn same(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && a.iter().zip(b).fold(0, |differ, (a, b)| differ | (a ^ b)) == 0
}

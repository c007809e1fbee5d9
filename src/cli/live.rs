//! `railstep live`: a page on this machine alone, on which values are turned and the rail follows.

mod copy;
mod desk;
mod gate;
mod request;
mod server;

use super::disk::reason;
use super::{Stop, read, terminal};
use clap::Args;
use desk::Desk;
use gate::Gate;
use std::net::{Ipv4Addr, TcpListener};
use std::path::PathBuf;

#[derive(Debug, Args)]
pub(super) struct LiveArguments {
    /// The circuit file
    file: PathBuf,
    /// Offer only this test (repeatable)
    #[arg(long = "test", value_name = "NAME")]
    tests: Vec<String>,
    /// Start with a value, or a key by its path, set over the file (repeatable)
    #[arg(long = "set", value_name = "NAME=VALUE")]
    sets: Vec<String>,
    /// Listen on this port of 127.0.0.1 [default: a free one]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    port: Option<u16>,
}

/// Serves until the program is ended from outside.
pub(super) fn live(arguments: &LiveArguments) -> Result<u8, Stop> {
    let changes = read::changes(&arguments.sets)?;
    let (plan, sources) = read::plan_and_sources(&arguments.file, &changes)?;
    let text = sources.files.first().map_or("", |file| file.text.as_str());
    if plan.tests.is_empty() {
        let why = "has no tests to look at; add `[[tests]]`, such as one of kind `load-step`";
        return Err(Stop::Because(format!("`{}` {why}", arguments.file.display())));
    }
    let chosen = plan.chosen(&arguments.tests).map_err(Stop::Because)?;
    let is_chosen = |stem: &str| chosen.iter().any(|test| test.stem == stem);
    let tests: Vec<usize> =
        (0..plan.tests.len()).filter(|&k| is_chosen(&plan.tests[k].stem)).collect();

    let listener = listener(arguments.port)?;
    let port = listener.local_addr().map_err(|e| Stop::Because(reason(&e)))?.port();
    let gate = Gate::new(port)?;
    let desk = Desk::new(&arguments.file, text, &plan, tests, &changes.list);
    terminal::say(&format!("{}\nCtrl-C ends it\n", gate.address()));
    server::serve(&listener, &gate, &desk);
    Ok(0)
}

fn listener(port: Option<u16>) -> Result<TcpListener, Stop> {
    TcpListener::bind((Ipv4Addr::LOCALHOST, port.unwrap_or(0))).map_err(|error| {
        let why = match (error.kind(), port) {
            (std::io::ErrorKind::AddrInUse, Some(port)) => {
                format!("port {port} is taken; leave `--port` out for a free one")
            }
            _ => format!("no port of 127.0.0.1 can be listened on: {}", reason(&error)),
        };
        Stop::Because(why)
    })
}

//! The railstep program: the only place that touches the world.

mod cli;

fn main() -> std::process::ExitCode {
    cli::main()
}

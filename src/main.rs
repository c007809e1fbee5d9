//! The railstep program: the only place that touches the world.

mod cli;

/// Measured: a spread of 10,000 runs is done in 0.92 times the time with it, of four pairs.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    cli::main()
}

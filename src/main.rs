//! The railstep program.

fn main() {}

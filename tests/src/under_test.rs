//! The command line as the command tests start it.

fn main() {}

//! The `sealspan` program.

fn main() -> std::process::ExitCode {
    sealspan_cli::main()
}

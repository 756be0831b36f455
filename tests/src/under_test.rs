//! The command line as the command tests start it.

fn main() -> std::process::ExitCode {
    sealspan_cli::main()
}

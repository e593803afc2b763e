//! The command: calls the library and returns its exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    quaystone::cli::main()
}

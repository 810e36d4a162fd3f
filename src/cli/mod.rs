//! The `billet` command: one small file per subcommand.

use std::process::ExitCode;

/// Entry point of the binary.
pub fn main() -> ExitCode {
    ExitCode::SUCCESS
}

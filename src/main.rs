//! The `billet` command.

fn main() -> std::process::ExitCode {
    billet_thermal::command()
}

//! Parse, call, print the error with its hint, exit status. Everything else is in the library.

fn main() -> std::process::ExitCode {
    armload::cli::run()
}

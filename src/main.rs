use std::process::ExitCode;

fn main() -> ExitCode {
    ringtrue::cli::run(std::env::args_os())
}

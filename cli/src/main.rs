//! The command line of Sheaf: a thin main over [`run::run`].

mod commands;
mod output;
mod run;

use std::process::ExitCode;

fn main() -> ExitCode {
    let code = run::run(std::env::args_os(), &mut std::io::stdout().lock(), &mut std::io::stderr().lock());
    ExitCode::from(code)
}

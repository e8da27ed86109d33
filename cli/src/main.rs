//! The command line of Sheaf: a thin main over [`run::run`].
//!
//! In:  arguments. Out: results on stdout, progress and findings on stderr, an exit code.
//! One file a command (`commands`); files are read in `input` and written in `output`; plain words are in `summary`.
//! Not here: any rule of the subject; a command calls one job of `sheaf-app` or `sheaf-web` and shows what it gave.
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::panic))]

mod commands;
mod input;
#[cfg(test)]
mod made_up;
mod output;
mod run;
mod summary;
#[cfg(test)]
mod tests;

use sheaf_app::apart;
use std::process::ExitCode;

fn main() -> ExitCode {
    if std::env::args_os().nth(1).is_some_and(|word| word == apart::COMMAND) {
        return read_apart();
    }
    if let Some(program) = apart::this_program() {
        apart::read_apart_with(program);
    }
    // Not locked: the threads of `serve` write their log to stderr, and would wait for this one for ever.
    let code = run::run(std::env::args_os(), &mut std::io::stdout(), &mut std::io::stderr());
    ExitCode::from(code)
}

/// This process only reads files for another one; whether it could, the other sees by the answer.
fn read_apart() -> ExitCode {
    match apart::child::answer(&mut std::io::stdin().lock(), &mut std::io::stdout().lock()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(_) => ExitCode::FAILURE,
    }
}

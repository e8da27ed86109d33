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

use std::process::ExitCode;

fn main() -> ExitCode {
    // Not locked: the threads of `serve` write their log to stderr, and would wait for this one for ever.
    let code = run::run(std::env::args_os(), &mut std::io::stdout(), &mut std::io::stderr());
    ExitCode::from(code)
}

//! Arguments in, exit code out: the whole command line as one function that a test can call.
//!
//! Results go to `out`, progress and findings to `err`. A reader of `out` that closes it early has what it wanted: 0.
//! Exit codes: 0 done, 1 anything else, 2 wrong usage, 3 input that cannot be read or understood, 4 no plan possible.
//! Not here: what the commands do (`commands`, and below them `sheaf-app`).

use crate::commands;
use crate::output::reason;
use clap::{Parser, Subcommand};
use sheaf_app::error::{AppError, ErrorKind};
use std::ffi::OsString;
use std::io::Write;

/// Groups children by what they need to learn next, from the score sheets a school has.
#[derive(Parser)]
#[command(name = "sheaf", version, about, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// The whole weekly job on score sheets: read, profile, group, rotate, tickets, workbook.
    Plan(commands::plan::PlanArguments),
    /// One day of a plan again, with as few changes as possible, while somebody is out.
    Repair(commands::repair::RepairArguments),
    /// Read only: what was understood, and every finding with its cell.
    Check(commands::check::CheckArguments),
    /// Exit-ticket items for a skill; or test a file of item models.
    Tickets(commands::tickets::TicketsArguments),
    /// Size-limited k-means on any table of numbers.
    Cluster(commands::cluster::ClusterArguments),
    /// Invented classes with known truth: how well needs are found, and how many minutes land on lacked skills.
    Simulate(commands::simulate::SimulateArguments),
    /// Who moved between groups, who is stuck, growth, from the records.
    Movement(commands::movement::MovementArguments),
    /// A copy of the records, whole or not at all.
    Backup(commands::care::BackupArguments),
    /// Puts a copy in the place of the records.
    Restore(commands::care::RestoreArguments),
    /// Looks the records over.
    Verify(commands::care::VerifyArguments),
    /// Forgets a student: no byte of the name stays in the records.
    Forget(commands::care::ForgetArguments),
    /// Who may sign in from other machines, and as what.
    #[command(subcommand)]
    Account(commands::account::AccountCommand),
    /// The local service: upload, look over, plan and print in a browser, on this machine or over TLS on others.
    Serve(commands::serve::ServeArguments),
}

/// What stopped a command.
#[derive(Debug)]
pub enum Stop {
    /// Wrong usage: exit 2.
    Usage(String),
    /// A job's error.
    Job(AppError),
    /// Output that could not be written: exit 1.
    Output(String),
    /// The reader of the output went away: exit 0.
    ReaderGone,
}

impl From<AppError> for Stop {
    fn from(e: AppError) -> Self {
        Stop::Job(e)
    }
}

impl From<std::io::Error> for Stop {
    fn from(e: std::io::Error) -> Self {
        if e.kind() == std::io::ErrorKind::BrokenPipe {
            return Stop::ReaderGone;
        }
        Stop::Output(format!("The result could not be written: {}.", reason(&e)))
    }
}

impl Stop {
    pub fn exit_code(&self) -> u8 {
        match self {
            Stop::ReaderGone => 0,
            Stop::Usage(_) => 2,
            Stop::Output(_) => 1,
            Stop::Job(e) => match e.kind {
                ErrorKind::Input | ErrorKind::TooLarge | ErrorKind::NotFound => 3,
                ErrorKind::NoPlan => 4,
                ErrorKind::Conflict | ErrorKind::Stale | ErrorKind::Unavailable | ErrorKind::OurFault => 1,
            },
        }
    }

    pub fn message(&self) -> &str {
        match self {
            Stop::Usage(text) | Stop::Output(text) => text,
            Stop::Job(e) => &e.message,
            Stop::ReaderGone => "",
        }
    }
}

/// Runs one command and gives its exit code.
pub fn run(args: impl IntoIterator<Item = OsString>, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    let arguments = match Arguments::try_parse_from(args) {
        Ok(arguments) => arguments,
        Err(usage) => {
            let sink: &mut dyn Write = if usage.use_stderr() { err } else { out };
            // A closed pipe cannot be told anything.
            let _ = write!(sink, "{usage}");
            return if usage.use_stderr() { 2 } else { 0 };
        }
    };
    let result = match arguments.command {
        Command::Plan(a) => commands::plan::run(&a, out, err),
        Command::Repair(a) => commands::repair::run(&a, out),
        Command::Check(a) => commands::check::run(&a, out, err),
        Command::Tickets(a) => commands::tickets::run(&a, out, err),
        Command::Cluster(a) => commands::cluster::run(&a, out, err),
        Command::Simulate(a) => commands::simulate::run(&a, out, err),
        Command::Movement(a) => commands::movement::run(&a, out, err),
        Command::Backup(a) => commands::care::backup(&a, out),
        Command::Restore(a) => commands::care::put_back(&a, out),
        Command::Verify(a) => commands::care::check(&a, out),
        Command::Forget(a) => commands::care::forget(&a, out),
        Command::Account(a) => commands::account::run(&a, out, err),
        Command::Serve(a) => commands::serve::run(&a, out, err),
    };
    match result {
        Ok(()) => 0,
        Err(stop) => {
            if !matches!(stop, Stop::ReaderGone) {
                let _ = writeln!(err, "sheaf: {}", stop.message());
            }
            stop.exit_code()
        }
    }
}

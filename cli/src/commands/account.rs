//! `sheaf account add`, `list`, `remove`: who may sign in from other machines.
//!
//! In:  a name and a role as arguments; a passphrase by standard input, so that it stands in no list of processes and in no history of a
//! shell: typed twice at a terminal, where it is not shown, or two lines of a pipe. Out: one sentence.
//! Not here: what a name or a passphrase must be (`sheaf-app`), the page that does the same (`sheaf-web`).

use crate::input::load_setup;
use crate::run::Stop;
use clap::{Args, Subcommand, ValueEnum};
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Role, Weeks};
use std::io::{BufRead, IsTerminal, Write};
use std::path::PathBuf;

#[derive(Subcommand)]
pub enum AccountCommand {
    /// Adds an account; the passphrase is read from standard input, twice
    Add(AddArguments),
    /// Lists the accounts
    List(ListArguments),
    /// Removes an account; whoever uses it is signed out
    Remove(RemoveArguments),
}

#[derive(Args)]
pub struct AddArguments {
    /// The file of records; made where it is missing
    #[arg(long, value_name = "FILE")]
    db: PathBuf,
    /// What the account may do: everything; rosters, tickets, results and attendance; or look at movement
    #[arg(long, value_enum)]
    role: RoleWord,
    /// Its name: up to 40 letters and digits, no blanks
    name: String,
}

#[derive(Args)]
pub struct ListArguments {
    /// The file of records
    #[arg(long, value_name = "FILE")]
    db: PathBuf,
}

#[derive(Args)]
pub struct RemoveArguments {
    /// The file of records
    #[arg(long, value_name = "FILE")]
    db: PathBuf,
    /// The account's name
    name: String,
}

#[derive(Clone, Copy, ValueEnum)]
enum RoleWord {
    Interventionist,
    GradeTeam,
    Coach,
}

impl From<RoleWord> for Role {
    fn from(word: RoleWord) -> Self {
        match word {
            RoleWord::Interventionist => Role::Interventionist,
            RoleWord::GradeTeam => Role::GradeTeam,
            RoleWord::Coach => Role::Coach,
        }
    }
}

pub fn run(command: &AccountCommand, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    match command {
        AccountCommand::Add(a) => add(a, out, err),
        AccountCommand::List(a) => list(a, out),
        AccountCommand::Remove(a) => {
            Weeks::open_kept(&a.db, load_setup(None)?)?.remove_account(&a.name)?;
            Ok(writeln!(out, "The account {} is removed.", a.name)?)
        }
    }
}

fn add(a: &AddArguments, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let (first, second) = passphrases(err)?;
    if first != second {
        let what = "The passphrase was typed in two ways; type the same twice.";
        return Err(AppError::new(ErrorKind::Input, "passphrases-differ", what).into());
    }
    Weeks::open(&a.db, load_setup(None)?)?.add_account(&a.name, a.role.into(), &first)?;
    Ok(writeln!(out, "The account {} is added ({}).", a.name, Role::from(a.role).word())?)
}

fn list(a: &ListArguments, out: &mut dyn Write) -> Result<(), Stop> {
    let accounts = Weeks::open_kept(&a.db, load_setup(None)?)?.accounts()?;
    if accounts.is_empty() {
        return Ok(writeln!(out, "No account.")?);
    }
    for account in accounts {
        writeln!(out, "{}\t{}\tsince {}", account.name, account.role.word(), account.created)?;
    }
    Ok(())
}

/// Both as they were typed; at a terminal they are asked for and not shown.
fn passphrases(err: &mut dyn Write) -> Result<(String, String), Stop> {
    if std::io::stdin().is_terminal() {
        let ask = |prompt: &str| rpassword::prompt_password(prompt).map_err(|e| not_read(&e));
        writeln!(err, "The passphrase is not shown while you type.")?;
        return Ok((ask("Passphrase: ")?, ask("The same again: ")?));
    }
    let mut lines = std::io::stdin().lock().lines();
    let mut line = || lines.next().transpose().map(Option::unwrap_or_default).map_err(|e| not_read(&e));
    Ok((line()?, line()?))
}

fn not_read(e: &std::io::Error) -> Stop {
    Stop::Output(format!("The passphrase could not be read ({e}); nothing was changed."))
}

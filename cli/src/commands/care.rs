//! `sheaf backup`, `restore`, `verify`, `forget`: care of the records.
//!
//! Not here: what a copy is (`sheaf-store`), what of a child is forgotten (`sheaf-app`).

use crate::input::load_setup;
use crate::run::Stop;
use crate::summary::plural;
use clap::Args;
use sheaf_app::copies::{Verified, back_up, restore, verify};
use sheaf_app::weeks::Weeks;
use std::io::Write;
use std::path::PathBuf;

#[derive(Args)]
pub struct BackupArguments {
    /// The file of records
    #[arg(long, value_name = "FILE")]
    db: PathBuf,
    /// Where the copy goes; it holds children's records, so keep it as you keep those
    to: PathBuf,
}

#[derive(Args)]
pub struct RestoreArguments {
    /// The copy
    from: PathBuf,
    /// The file of records; what is there now stays beside it under another name
    #[arg(long, value_name = "FILE")]
    db: PathBuf,
}

#[derive(Args)]
pub struct VerifyArguments {
    /// The file of records, or a copy
    #[arg(long, value_name = "FILE")]
    db: PathBuf,
}

#[derive(Args)]
pub struct ForgetArguments {
    /// The file of records
    #[arg(long, value_name = "FILE")]
    db: PathBuf,
    /// The student's id
    student: String,
}

pub fn backup(a: &BackupArguments, out: &mut dyn Write) -> Result<(), Stop> {
    back_up(&a.db, &a.to)?;
    Ok(writeln!(out, "A copy of the records is in {}.", a.to.display())?)
}

pub fn put_back(a: &RestoreArguments, out: &mut dyn Write) -> Result<(), Stop> {
    let before = restore(&a.from, &a.db)?;
    writeln!(out, "The records in {} are those of the copy.", a.db.display())?;
    match before {
        None => Ok(()),
        Some(before) => Ok(writeln!(out, "Those that were there before are in {}.", before.display())?),
    }
}

pub fn check(a: &VerifyArguments, out: &mut dyn Write) -> Result<(), Stop> {
    let Verified { counts: [weeks, uploads, plans], n_changes, last_change } = verify(&a.db)?;
    let counts = format!("{}, {}, {}", plural(weeks, "week"), plural(uploads, "upload"), plural(plans, "plan"));
    writeln!(out, "The records are whole: {counts}.")?;
    if n_changes > 0 {
        writeln!(
            out,
            "The list of changes is whole: {}, the last with the mark {last_change}.",
            plural(n_changes, "change")
        )?;
        writeln!(
            out,
            "Whoever writes the whole file anew can write its list anew; only a mark that you wrote down elsewhere would show that."
        )?;
    }
    Ok(())
}

pub fn forget(a: &ForgetArguments, out: &mut dyn Write) -> Result<(), Stop> {
    let forgotten = Weeks::open_kept(&a.db, load_setup(None)?)?.forget(&a.student)?;
    let (uploads, plans) = (plural(forgotten.n_uploads, "upload"), plural(forgotten.n_plans, "plan"));
    writeln!(out, "Forgotten, in {uploads} and {plans}; {} removed.", plural(forgotten.n_originals, "original file"))?;
    Ok(writeln!(out, "Workbooks, prints, copies of the records and the setup file are yours to clear.")?)
}

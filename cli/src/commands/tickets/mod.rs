//! `sheaf tickets`: exit-ticket items for one skill or every covered one; a file of item models put to the test;
//! or the table of what is covered.
//!
//! Items for children come first; their key stands on its own at the end, or on a page of its own.
//! Not here: which items a group gets (`sheaf-core`), QTI and text of one item (`sheaf-core`).

mod html;

use crate::input::{load, load_knowledge};
use crate::run::Stop;
use crate::summary::plural;
use clap::{Args, ValueEnum};
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::item_bank::{Form, SkillChoice, check_models, draw_items};
use sheaf_app::knowledge::Knowledge;
use sheaf_core::skills::SkillCode;
use sheaf_core::tickets::published::PublishedItems;
use sheaf_core::tickets::qti::item_qti;
use sheaf_core::tickets::text::{KeyShown, item_text};
use sheaf_core::tickets::{TicketItem, coverage_table, sheet_code};
use std::io::{BufWriter, Result as Written, Write};
use std::path::{Path, PathBuf};

#[derive(Args)]
pub struct TicketsArguments {
    /// A skill code such as 5.NF.B.5a, or all for every covered skill
    #[arg(long, value_name = "CODE", value_parser = skill_choice, required_unless_present_any = ["check", "coverage"])]
    skill: Option<SkillChoice>,
    /// Items a skill
    #[arg(long, value_name = "N", default_value_t = 5, value_parser = clap::value_parser!(u16).range(1..=500))]
    count: u16,
    /// Seed of every draw: the same seed gives the same items
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Form, a letter: each has other numbers
    #[arg(long, value_name = "A", default_value = "A", value_parser = form)]
    form: Form,
    /// How to print them
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Files of your own beside what is built in: item models (.toml) or wrong ideas (.csv); may be given several times
    #[arg(long, value_name = "FILE")]
    own: Vec<PathBuf>,
    /// Test a file of item models instead
    #[arg(long, value_name = "FILE", conflicts_with = "skill")]
    check: Option<PathBuf>,
    /// Print which standard has which item models, as a Markdown table
    #[arg(long, conflicts_with_all = ["skill", "check"])]
    coverage: bool,
}

/// How items are printed.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Plain text, the key at the end
    Text,
    /// `sheaf.tickets/1`
    Json,
    /// A page to print, the key on a page of its own
    Html,
    /// QTI 3.0: one item is a document, several are a list of them
    Qti,
}

fn skill_choice(text: &str) -> Result<SkillChoice, String> {
    if text.trim().eq_ignore_ascii_case("all") {
        return Ok(SkillChoice::Covered);
    }
    SkillCode::parse(text).map(SkillChoice::One).ok_or_else(|| "a skill is a code such as 5.NF.B.5a, or all".to_owned())
}

fn form(text: &str) -> Result<Form, String> {
    Form::parse(text).ok_or_else(|| "a form is one letter from A to Z".to_owned())
}

pub fn run(a: &TicketsArguments, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let mut out = BufWriter::new(out);
    if a.coverage {
        let knowledge = Knowledge::builtin()?;
        out.write_all(coverage_table(&knowledge.item_models, &knowledge.graph).as_bytes())?;
        return Ok(out.flush()?);
    }
    match (&a.check, &a.skill) {
        (Some(file), _) => check(file, &load_knowledge(&a.own, err)?, &mut out, err)?,
        (None, Some(choice)) => {
            let knowledge = load_knowledge(&a.own, err)?;
            let items = draw_items(&knowledge, choice, usize::from(a.count), a.form, a.seed)?;
            print(&items, a, &knowledge, &mut out)?;
        }
        (None, None) => return Err(Stop::Usage("Give --skill CODE or --check FILE.".to_owned())),
    }
    Ok(out.flush()?)
}

fn check(file: &Path, knowledge: &Knowledge, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let loaded = load(file)?;
    let name = loaded.name.clone();
    let checked = check_models(knowledge, &name, &loaded.into_text()?)?;
    let (sound, faults) = (plural(checked.n_sound, "sound item model"), plural(checked.faults.len(), "fault"));
    writeln!(out, "{name}: {sound}, {faults}")?;
    if checked.faults.is_empty() {
        return Ok(());
    }
    for fault in &checked.faults {
        writeln!(err, "  {fault}")?;
    }
    out.flush()?;
    let what = format!("{name} has faults in its item models; mend the lines named above.");
    Err(AppError::new(ErrorKind::Input, "item-model-fault", what).into())
}

/// A ticket for each skill.
fn page(items: &[TicketItem], a: &TicketsArguments, knowledge: &Knowledge) -> String {
    let sheet = |items: &'_ [TicketItem]| items.first().map(|first| sheet_code(&first.skill, a.seed, a.form.letter()));
    let sheets: Vec<html::Sheet<'_>> = items
        .chunks(usize::from(a.count))
        .filter_map(|items| Some(html::Sheet { code: sheet(items)?, items }))
        .collect();
    html::page(&sheets, knowledge)
}

fn print(items: &[TicketItem], a: &TicketsArguments, knowledge: &Knowledge, out: &mut dyn Write) -> Written<()> {
    match a.format {
        Format::Html => out.write_all(page(items, a, knowledge).as_bytes()),
        Format::Text => print_text(items, out),
        Format::Json => {
            serde_json::to_writer_pretty(&mut *out, &PublishedItems::new(items)).map_err(std::io::Error::from)?;
            writeln!(out)
        }
        Format::Qti => print_qti(items, out),
    }
}

fn print_text(items: &[TicketItem], out: &mut dyn Write) -> Written<()> {
    for item in items {
        writeln!(out, "{}", item_text(item, KeyShown::Hidden))?;
    }
    writeln!(out, "Key (for staff)")?;
    for item in items {
        writeln!(
            out,
            "{}. {}   {} version {}, {}",
            item.number,
            item.key.join(", "),
            item.model,
            item.version,
            item.skill
        )?;
    }
    Ok(())
}

/// One item is a document of its own; several are put into one root, so that the whole stays one XML document.
fn print_qti(items: &[TicketItem], out: &mut dyn Write) -> Written<()> {
    const DECLARATION: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";
    if let [item] = items {
        return out.write_all(item_qti(item).as_bytes());
    }
    writeln!(out, "{DECLARATION}<items>")?;
    for item in items {
        let document = item_qti(item);
        out.write_all(document.strip_prefix(DECLARATION).unwrap_or(&document).as_bytes())?;
    }
    writeln!(out, "</items>")
}

//! The school setup: TOML to [`School`], every mistake with its line.
//!
//! In:  the text of a setup file. Out: a [`School`]; a key that is left out keeps the built-in value, a list that is given
//! replaces the built-in one whole.
//! Keeps: 1. an unknown key names the nearest known one (`an_unknown_key_names_the_nearest`)
//!        2. every message is one sentence with file and line (`every_mistake_is_one_sentence_with_its_line`)
//!        3. `config/default.toml` is the built-in setup and shows every key (`the_shipped_file_is_the_built_in_setup`,
//!           `the_shipped_file_and_the_reader_know_the_same_keys`)
//! Not here: what the rules do (`sheaf-core`), where the file lies (`cli`, `sheaf-web`).

mod about;
mod clash;
mod form;
mod groups;
mod keys;
mod reader;
mod rules;
#[cfg(test)]
mod tests;
mod timetable;

pub use about::{KeyAbout, SectionAbout, about_setup};
pub use form::{Fields, Kind, field_at, fields_of, kind_of, text_with};

use crate::error::AppError;
use reader::{Section, Source};
use sheaf_core::roster::School;
use toml::de::DeTable;

/// The built-in setup as a text that explains every key.
pub const DEFAULT_TOML: &str = include_str!("../../../../config/default.toml");

/// Largest count that a setup may name; more is a slip of the finger.
const MANY: usize = 10_000;

/// Reads a school setup. `file` is named in messages.
///
/// # Errors
/// [`AppError`]: kind input, code `setup-mistake`, for an unknown key, a wrong type, a value out of range or a name that is not there,
/// each with its line; kind no-plan, code `limits-clash`, where students are to be kept apart and together.
pub fn parse_school(file: &str, toml_text: &str) -> Result<School, AppError> {
    let source = Source { file, text: toml_text.trim_start_matches('\u{feff}') };
    let table = DeTable::parse(source.text).map_err(|e| not_toml(source, &e))?;
    let root = Section::new(source, &keys::ROOT, table.get_ref(), 0)?;
    let mut school = School::default();
    school.groups = groups::read_groups(&root, school.groups)?;
    school.intensive = groups::read_intensive(&root, school.intensive)?;
    school.mastery = rules::read_mastery(&root, school.mastery)?;
    timetable::read_timetable(&root, &mut school)?;
    school.ticket = rules::read_ticket(&root, school.ticket)?;
    school.core = rules::read_core(&root)?;
    school.limits = rules::read_limits(&root)?;
    school.cycle = rules::read_cycle(&root, school.cycle)?;
    school.reading = rules::read_reading(&root, school.reading)?;
    school.records = rules::read_records(&root, school.records)?;
    clash::refuse_clash(&root, &school.groups)?;
    Ok(school)
}

fn not_toml(source: Source<'_>, error: &toml::de::Error) -> AppError {
    let offset = error.span().map_or(0, |span| span.start);
    let reason = error.message().lines().next().unwrap_or("it is not TOML");
    source.mistake(offset, &format!("this line cannot be read as TOML ({reason}); mend it and try again"))
}

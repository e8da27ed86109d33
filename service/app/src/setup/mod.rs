//! The school setup: TOML to [`School`], every mistake with its line.
//!
//! In:  the text of a setup file. Out: a [`School`]; a key that is left out keeps the built-in value, a list that is given
//! replaces the built-in one whole. Keeps: an unknown key names the nearest known one (`an_unknown_key_names_the_nearest`),
//! every message is one sentence with file and line, nothing is half-read. `config/default.toml` shows every key and is the
//! built-in setup (`the_shipped_file_is_the_built_in_setup`).
//! Not here: what the rules do (`sheaf-core`).

mod reader;
mod sections;

#[cfg(test)]
mod tests;

use crate::error::{AppError, ErrorKind};
use reader::Section;
use sheaf_core::roster::School;

/// The built-in setup as a text that explains every key.
pub const DEFAULT_TOML: &str = include_str!("../../../../config/default.toml");

/// Sections of a setup file.
pub(crate) const SECTIONS: [&str; 12] = [
    "groups",
    "intensive",
    "mastery",
    "block",
    "staff",
    "room",
    "station",
    "busy",
    "ticket",
    "core",
    "limits",
    "cycle",
];

/// Reads a school setup. `file` is named in messages.
///
/// # Errors
/// [`AppError`]: kind input, code `setup-mistake`, for an unknown key, a wrong type, a value out of range or a name that is not there,
/// each with its line; kind no-plan, code `limits-clash`, where a pair is to be kept apart and together.
pub fn parse_school(file: &str, toml_text: &str) -> Result<School, AppError> {
    let text = toml_text.trim_start_matches('\u{feff}');
    let root = toml::de::DeTable::parse(text).map_err(|e| {
        let line = e.span().map_or(1, |s| reader::line_of(text, s.start));
        let what = e.message().lines().next().unwrap_or("it is not TOML").to_owned();
        mistake(file, line, &format!("{what}; mend the line and try again"))
    })?;
    let root = Section::new(file, text, "", root.get_ref(), 0);
    root.only_known(&SECTIONS)?;
    let mut school = School::default();
    sections::read_all(&root, &mut school)?;
    sections::check_names(&root, &school)?;
    refuse_clash(file, &school)?;
    Ok(school)
}

pub(crate) fn mistake(file: &str, line: usize, what: &str) -> AppError {
    AppError::new(ErrorKind::Input, "setup-mistake", format!("{file}, line {line}: {what}."))
}

fn refuse_clash(file: &str, school: &School) -> Result<(), AppError> {
    let groups = &school.groups;
    let clash = groups
        .keep_apart
        .iter()
        .find(|(a, b)| groups.keep_together.iter().any(|set| set.contains(a) && set.contains(b)));
    match clash {
        Some((a, b)) => Err(AppError::new(
            ErrorKind::NoPlan,
            "limits-clash",
            format!("{file}: {a} and {b} are in keep_apart and in keep_together; take one of the two out."),
        )),
        None => Ok(()),
    }
}

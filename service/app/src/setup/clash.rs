//! Students who are to be kept apart and together at once.
//!
//! Sets of `keep_together` that share a student are one set. Not here: limits that clash only with the sheets at hand (`grouping`).

use super::keys::GROUPS;
use super::reader::Section;
use crate::error::{AppError, ErrorKind};
use sheaf_core::roster::{GroupSettings, StudentId};
use std::collections::HashMap;

/// Refuses a pair that is named in both, directly or by way of others.
pub fn refuse_clash(root: &Section<'_>, groups: &GroupSettings) -> Result<(), AppError> {
    let set_of = joined_sets(&groups.keep_together);
    let is_joined =
        |a: &StudentId, b: &StudentId| matches!((set_of.get(a), set_of.get(b)), (Some(x), Some(y)) if x == y);
    let Some((a, b)) = groups.keep_apart.iter().find(|(a, b)| is_joined(a, b)) else { return Ok(()) };
    let line = line_of_pair(root, a, b)?;
    Err(AppError::new(
        ErrorKind::NoPlan,
        "limits-clash",
        format!(
            "{}, line {line}: {a} and {b} are to be kept apart (keep_apart) and together (keep_together); take them out of one of the two.",
            root.source.file
        ),
    ))
}

/// A number for each student: the same for students who must sit together.
fn joined_sets(sets: &[Vec<StudentId>]) -> HashMap<&StudentId, usize> {
    let mut set_of: HashMap<&StudentId, usize> = HashMap::new();
    for (number, set) in sets.iter().enumerate() {
        let met: Vec<usize> = set.iter().filter_map(|id| set_of.get(id).copied()).collect();
        set_of.values_mut().filter(|n| met.contains(n)).for_each(|n| *n = number);
        set_of.extend(set.iter().map(|id| (id, number)));
    }
    set_of
}

fn line_of_pair(root: &Section<'_>, a: &StudentId, b: &StudentId) -> Result<usize, AppError> {
    let Some(section) = root.section(&GROUPS)? else { return Ok(1) };
    let sets = section.text_lists("keep_apart")?.unwrap_or_default();
    let names = |set: &[toml::Spanned<String>], id: &StudentId| set.iter().any(|s| s.get_ref() == id.as_str());
    let found = sets.iter().find(|set| names(set.get_ref(), a) && names(set.get_ref(), b));
    Ok(found.map_or(1, |set| root.source.line_of(set.span().start)))
}

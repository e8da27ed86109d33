//! `[groups]` and `[intensive]`: sizes, how many, who stays apart or together.
//! Ranges are checked here, one key at a time; contradictions between keys are found in `clash`.

use super::MANY;
use super::keys::{GROUPS, INTENSIVE};
use super::reader::{Placed, Section, ShareRange};
use crate::error::AppError;
use sheaf_core::roster::{GroupCount, GroupSettings, Include, IntensiveSettings, StudentId, Within};
use toml::Spanned;

pub fn read_groups(root: &Section<'_>, built_in: GroupSettings) -> Result<GroupSettings, AppError> {
    let Some(section) = root.section(&GROUPS)? else { return Ok(built_in) };
    let include = section.word("include", &[("need", Include::Need), ("all", Include::All)])?;
    let within = [("grade", Within::Grade), ("homeroom", Within::Homeroom), ("all", Within::All)];
    let (min_size, max_size) = read_sizes(&section, built_in.min_size, built_in.max_size)?;
    Ok(GroupSettings {
        include: include.unwrap_or(built_in.include),
        within: section.word("within", &within)?.unwrap_or(built_in.within),
        min_size,
        max_size,
        count: section.whole_or("count", "auto", 1..=MANY)?.map_or(GroupCount::Auto, GroupCount::Fixed),
        sessions: section.whole("sessions", 1..=MANY)?,
        keep_apart: read_sets(&section, "keep_apart")?.iter().flat_map(|set| pairs_of(set)).collect(),
        keep_together: read_sets(&section, "keep_together")?,
        max_swap_share: section.share("max_swap_share", ShareRange::FromZero)?.unwrap_or(built_in.max_swap_share),
    })
}

pub fn read_intensive(root: &Section<'_>, built_in: IntensiveSettings) -> Result<IntensiveSettings, AppError> {
    let Some(section) = root.section(&INTENSIVE)? else { return Ok(built_in) };
    let (min_size, max_size) = read_sizes(&section, built_in.min_size, built_in.max_size)?;
    let students = section.texts("students")?.unwrap_or_default();
    Ok(IntensiveSettings {
        students: students.iter().map(|id| student_id(&section, id)).collect::<Result<_, _>>()?,
        min_size,
        max_size,
        sessions: section.whole("sessions", 1..=MANY)?.unwrap_or(built_in.sessions),
    })
}

fn read_sizes(section: &Section<'_>, min: usize, max: usize) -> Result<(usize, usize), AppError> {
    let given_min = section.whole("min_size", 1..=MANY)?;
    let given_max = section.whole("max_size", 1..=MANY)?;
    let (min_size, max_size) = (given_min.unwrap_or(min), given_max.unwrap_or(max));
    if min_size <= max_size {
        return Ok((min_size, max_size));
    }
    let (key, what) = match (given_min, given_max) {
        (_, None) => {
            ("min_size", format!("min_size {min_size} is above the built-in max_size {max_size}; give max_size too"))
        }
        (None, _) => {
            ("max_size", format!("max_size {max_size} is below the built-in min_size {min_size}; give min_size too"))
        }
        _ => ("max_size", format!("max_size {max_size} is below min_size {min_size}; swap or mend them")),
    };
    Err(section.mistake_at(key, &what))
}

fn student_id(section: &Section<'_>, id: &Placed) -> Result<StudentId, AppError> {
    StudentId::parse(id.get_ref()).ok_or_else(|| section.source.mistake(id.span().start, "an id may not be blank"))
}

/// Sets of at least two different students.
fn read_sets(section: &Section<'_>, key: &str) -> Result<Vec<Vec<StudentId>>, AppError> {
    section.text_lists(key)?.unwrap_or_default().iter().map(|set| read_set(section, key, set)).collect()
}

fn read_set(section: &Section<'_>, key: &str, set: &Spanned<Vec<Placed>>) -> Result<Vec<StudentId>, AppError> {
    let ids: Vec<StudentId> = set.get_ref().iter().map(|id| student_id(section, id)).collect::<Result<_, _>>()?;
    if let Some(twice) = ids.iter().enumerate().find_map(|(i, id)| ids[..i].contains(id).then_some(id)) {
        let what = format!("an entry of groups.{key} names {twice} twice; name two different students");
        return Err(section.source.mistake(set.span().start, &what));
    }
    if ids.len() < 2 {
        let what = format!("an entry of groups.{key} names fewer than two students; name at least two");
        return Err(section.source.mistake(set.span().start, &what));
    }
    Ok(ids)
}

fn pairs_of(set: &[StudentId]) -> Vec<(StudentId, StudentId)> {
    let mut pairs = Vec::new();
    for (i, a) in set.iter().enumerate() {
        pairs.extend(set[i + 1..].iter().map(|b| (a.clone(), b.clone())));
    }
    pairs
}

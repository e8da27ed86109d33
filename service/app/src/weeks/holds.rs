//! What an earlier plan holds for a later one: groups that stay together, and the groups of the week before with their numbers.
//!
//! A late class is added without reshuffling the rest: whoever sat together in the week's plan stays together.
//!
//! In:  the plan that the week has, and the uploads that count now. Out: its groups as sets to keep together, where the only
//! change is that sheets came in; none otherwise, since a correction or a take-back may change what a child needs.
//! The sets are part of the plan's recipe, and hold in the search like the school's own `keep_together`
//! (`a_late_class_is_added_without_reshuffling_the_rest`).
//! Not here: targets of the kept groups, which follow from needs; the core has no input that holds those.

use super::Week;
use super::merged::NewestIds;
use crate::error::AppError;
use serde::Deserialize;
use sheaf_core::grouping::{PreviousGroup, PreviousGroups};
use sheaf_core::plan::group_number;
use sheaf_core::roster::{School, StudentId};
use sheaf_store::KeptPlan;

#[derive(Deserialize)]
struct Published {
    groups: Vec<PublishedGroup>,
}

#[derive(Deserialize)]
struct PublishedGroup {
    id: String,
    members: Vec<String>,
}

/// Sets of students who stay together.
pub(super) type Holds = Vec<Vec<StudentId>>;

/// The groups of the week's plan, if sheets were added to those it was made from and none was taken away.
pub(super) fn holds_of(kept: Option<&KeptPlan>, sources: &[i64]) -> Result<Holds, AppError> {
    let Some(kept) = kept else { return Ok(Holds::new()) };
    if kept.sources == sources {
        return holds_from_json(&kept.holds);
    }
    if !kept.sources.iter().all(|id| sources.contains(id)) {
        return Ok(Holds::new());
    }
    let published: Published = serde_json::from_str(&kept.published).map_err(AppError::our_fault)?;
    Ok(sets(published.groups.into_iter().map(|g| g.members)))
}

/// The groups of an earlier week's plan, under the ids that students have now.
pub(super) fn previous_groups(week: Week, kept: &KeptPlan, newest: &NewestIds) -> Result<PreviousGroups, AppError> {
    let published: Published = serde_json::from_str(&kept.published).map_err(AppError::our_fault)?;
    let id = |text: &String| StudentId::parse(text).map(|id| newest.get(&id).unwrap_or(&id).clone());
    let group = |g: PublishedGroup| {
        let number = group_number(&g.id)?;
        Some(PreviousGroup { number, members: g.members.iter().filter_map(id).collect() })
    };
    Ok(PreviousGroups { week: week.monday(), groups: published.groups.into_iter().filter_map(group).collect() })
}

/// The school with these sets kept together too.
pub(super) fn with_holds(school: &School, holds: &Holds) -> School {
    let mut school = school.clone();
    school.groups.keep_together.extend(holds.iter().cloned());
    school
}

pub(super) fn holds_to_json(holds: &Holds) -> Result<String, AppError> {
    let ids: Vec<Vec<&str>> = holds.iter().map(|set| set.iter().map(StudentId::as_str).collect()).collect();
    serde_json::to_string(&ids).map_err(AppError::our_fault)
}

pub(super) fn holds_from_json(json: &str) -> Result<Holds, AppError> {
    let ids: Vec<Vec<String>> = serde_json::from_str(json).map_err(AppError::our_fault)?;
    Ok(sets(ids.into_iter()))
}

fn sets(ids: impl Iterator<Item = Vec<String>>) -> Holds {
    ids.map(|set| set.iter().filter_map(|id| StudentId::parse(id)).collect::<Vec<_>>())
        .filter(|set| set.len() > 1)
        .collect()
}

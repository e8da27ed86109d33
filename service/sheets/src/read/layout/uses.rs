//! What a person said a column holds, and the word for what a column was taken for.
//!
//! In:  a choice, by headings as shown. Out: changed roles, and the columns that were said to be items.
//! Keeps: `a_choice_comes_before_what_is_judged`: a use that only one column can have is taken from the column that had it.

use super::super::asked::{ColumnUse, SheetChoice};
use super::super::words::Role;
use super::Columns;
use std::collections::BTreeSet;

/// Changes roles by the headings of the header row; gives the columns chosen as items.
pub fn apply_to_columns(columns: &mut Columns, choice: Option<&SheetChoice>) -> BTreeSet<u32> {
    let Some(choice) = choice else { return BTreeSet::new() };
    let chosen: Vec<(u32, ColumnUse)> =
        columns.labels.iter().filter_map(|(c, label)| choice.uses.get(label).map(|u| (*c, *u))).collect();
    chosen.into_iter().filter(|(c, u)| set(columns, *c, *u)).map(|(c, _)| c).collect()
}

/// Gives one column a use; says whether it is an item.
pub fn set(columns: &mut Columns, column: u32, column_use: ColumnUse) -> bool {
    let Some(role) = role_of_use(column_use) else {
        columns.roles.remove(&column);
        return true;
    };
    if !matches!(role, Role::Total | Role::Other) {
        let before: Vec<u32> = columns.roles.iter().filter(|(_, r)| **r == role).map(|(c, _)| *c).collect();
        before.into_iter().for_each(|c| {
            columns.roles.insert(c, Role::Other);
        });
    }
    columns.roles.insert(column, role);
    false
}

/// The role of a use; `None` for an item.
fn role_of_use(column_use: ColumnUse) -> Option<Role> {
    Some(match column_use {
        ColumnUse::Item => return None,
        ColumnUse::Id => Role::Id,
        ColumnUse::Name => Role::Name,
        ColumnUse::Given => Role::Given,
        ColumnUse::Family => Role::Family,
        ColumnUse::Grade => Role::Grade,
        ColumnUse::Homeroom => Role::Homeroom,
        ColumnUse::Supports => Role::Supports,
        ColumnUse::Total => Role::Total,
        ColumnUse::LeftOut => Role::Other,
        ColumnUse::ItemName => Role::Item,
        ColumnUse::Answer => Role::Answer,
        ColumnUse::Points => Role::Points,
        ColumnUse::Skill => Role::Skill,
        ColumnUse::Key => Role::Key,
        ColumnUse::Kind => Role::Kind,
    })
}

/// What a column with this role was taken for.
pub fn use_of(role: Option<Role>) -> ColumnUse {
    match role {
        Some(Role::Id) => ColumnUse::Id,
        Some(Role::Name) => ColumnUse::Name,
        Some(Role::Given) => ColumnUse::Given,
        Some(Role::Family) => ColumnUse::Family,
        Some(Role::Grade) => ColumnUse::Grade,
        Some(Role::Homeroom) => ColumnUse::Homeroom,
        Some(Role::Supports) => ColumnUse::Supports,
        Some(Role::Total) => ColumnUse::Total,
        Some(Role::Item) => ColumnUse::ItemName,
        Some(Role::Answer) => ColumnUse::Answer,
        Some(Role::Points) => ColumnUse::Points,
        Some(Role::Skill) => ColumnUse::Skill,
        Some(Role::Key) => ColumnUse::Key,
        Some(Role::Kind) => ColumnUse::Kind,
        Some(Role::Other | Role::Stem | Role::Assessment) | None => ColumnUse::LeftOut,
    }
}

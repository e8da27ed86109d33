//! What planning again changed, as sentences for the groups page: who sits elsewhere, other targets, which holds were kept.
//!
//! In:  the difference of two plans as the job gives it. Out: sentences; nothing is compared here.
//! Keeps: where nothing changed that is said (`planning_again_keeps_holds_and_says_so`, acceptance). Not here: the comparison (`sheaf-app`).

use super::decide::sentence;
use super::naming::Naming;
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{Decision, Replanned, SeatChange};
use sheaf_core::plan::{Plan, group_number};

/// What changed, and what was kept.
pub(super) struct ReplannedView {
    pub(super) seats: Vec<String>,
    pub(super) groups: Vec<String>,
    pub(super) kept: Vec<String>,
    pub(super) without_effect: Vec<String>,
}

/// The difference in words.
pub(super) fn view(plan: &Plan, changed: &Replanned, of: (&Knowledge, &Naming)) -> ReplannedView {
    let (knowledge, naming) = of;
    let said = |list: &[Decision]| list.iter().map(|d| sentence(plan, d, knowledge, naming)).collect();
    let target = |(group, before, now): &(String, String, String)| {
        format!("{} is taught {now} instead of {before}.", group_words(group))
    };
    let targets = changed.targets.iter().map(target);
    let new = changed.new_groups.iter().map(|g| format!("{} is new.", group_words(g)));
    let gone = changed.gone_groups.iter().map(|g| format!("{} is gone.", group_words(g)));
    ReplannedView {
        seats: changed.seats.iter().map(|s| seat(s, naming)).collect(),
        groups: targets.chain(new).chain(gone).collect(),
        kept: said(&changed.kept),
        without_effect: said(&changed.without_effect),
    }
}

fn seat(change: &SeatChange, naming: &Naming) -> String {
    let who = naming.label(&change.student);
    match (&change.from, &change.to) {
        (Some(from), Some(to)) => format!("{who}: from {} to {}.", group_words(from), group_words(to)),
        (None, Some(to)) => format!("{who}: had no seat, now {}.", group_words(to)),
        (Some(from), None) => format!("{who}: was in {}, now without a seat.", group_words(from)),
        (None, None) => format!("{who}: without a seat."),
    }
}

/// What a group is called, whether it is still there or not.
pub(super) fn group_words(id: &str) -> String {
    group_number(id).map_or_else(|| id.to_owned(), |number| format!("Group {number}"))
}

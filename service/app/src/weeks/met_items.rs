//! Items that children met on the tickets of the weeks before.
//!
//! In:  the plans that the last [`WEEKS_BACK`] weeks have, as handed out. Out: for each child, under the id it has now, the draws on
//! both forms of its group's ticket. Keeps: `items_of_the_weeks_before_do_not_come_again`.
//! Not here: what a ticket does with them (`sheaf-core`). Source: common practice for four weeks, no source.

use super::merged::NewestIds;
use super::{Week, Weeks};
use crate::error::AppError;
use serde::Deserialize;
use sheaf_core::plan::MetItems;
use sheaf_core::roster::StudentId;
use sheaf_core::tickets::{ParamValue, draw_fingerprint};
use std::collections::{BTreeMap, BTreeSet};

/// Weeks for which an item is remembered.
const WEEKS_BACK: usize = 4;

#[derive(Deserialize)]
struct Published {
    groups: Vec<PublishedGroup>,
    #[serde(default)]
    tickets: Vec<PublishedTicket>,
}

#[derive(Deserialize)]
struct PublishedGroup {
    id: String,
    members: Vec<String>,
}

#[derive(Deserialize)]
struct PublishedTicket {
    group: String,
    items: Vec<PublishedItem>,
}

#[derive(Deserialize)]
struct PublishedItem {
    model: String,
    params: BTreeMap<String, PublishedParam>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum PublishedParam {
    Int(i64),
    Text(String),
}

impl Weeks {
    /// What children met in the weeks before this one.
    pub(super) fn met_items(&self, week: Week) -> Result<MetItems, AppError> {
        let mut mondays = self.store.mondays()?;
        mondays.retain(|monday| (1..=WEEKS_BACK).contains(&Week::of(*monday).until(week)));
        let newest = self.newest_ids()?;
        let mut met = MetItems::new();
        for monday in mondays {
            if let Some(kept) = self.store.plan(monday)? {
                let published: Published = serde_json::from_str(&kept.published).map_err(AppError::our_fault)?;
                add(&mut met, &published, &newest);
            }
        }
        Ok(met)
    }
}

fn add(met: &mut MetItems, published: &Published, newest: &NewestIds) {
    for group in &published.groups {
        let own = published.tickets.iter().filter(|t| t.group == group.id);
        let draws: BTreeSet<u64> = own.flat_map(|t| &t.items).map(fingerprint).collect();
        for id in group.members.iter().filter_map(|text| StudentId::parse(text)) {
            let id = newest.get(&id).unwrap_or(&id).clone();
            met.entry(id).or_default().extend(&draws);
        }
    }
}

fn fingerprint(item: &PublishedItem) -> u64 {
    let value = |param: &PublishedParam| match param {
        PublishedParam::Int(number) => ParamValue::Int(*number),
        PublishedParam::Text(text) => ParamValue::Text(text.clone()),
    };
    let params = item.params.iter().map(|(name, param)| (name.clone(), value(param))).collect();
    draw_fingerprint(&item.model, &params)
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::{QUIZ, file, week};
    use super::super::{Keeping, SchoolSetup};
    use super::*;

    fn draws(weeks: &Weeks, week: Week) -> BTreeSet<u64> {
        let plan = weeks.plan(week).unwrap();
        let items = plan.plan.tickets.iter().flat_map(|t| &t.items);
        items.map(|item| draw_fingerprint(&item.model, &item.params)).collect()
    }

    #[test]
    fn items_of_the_weeks_before_do_not_come_again() {
        let setup = SchoolSetup::parse("school.toml", "[groups]\nmin_size = 2\nmax_size = 3\n").unwrap();
        let weeks = Weeks::in_memory(setup).unwrap();
        let mut all = BTreeSet::new();
        let mut this = week();
        for nth in 0..4 {
            let quiz = QUIZ.replace("Q1", &format!("V{nth}"));
            weeks.take_in(this, vec![file("quiz.csv", &quiz)], None, Keeping::Keep).unwrap();
            weeks.plan_week(this, Some(7)).unwrap();
            let drawn = draws(&weeks, this);
            assert!(!drawn.is_empty() && drawn.is_disjoint(&all), "week {nth}");
            all.extend(drawn);
            this = this.next();
        }
        assert_eq!(weeks.met_items(week()).unwrap(), MetItems::new());
        assert!(!weeks.met_items(this).unwrap().is_empty());
    }
}

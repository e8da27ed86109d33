//! A plan with some of its days issued anew while somebody is out.
//!
//! In:  a [`Plan`] and who is out. Out: the same plan with those days changed and the changes beside it; all else stays
//! (`the_published_plan_mended_is_the_plan_repaired` in `mend`).
//! [`Timetable`] is what the rotation was planned from, so that a plan can be repaired without the school's setup.
//! Not here: which sessions change (`rotation::repair`), the published text ([`super::mend`]).

use super::Plan;
use crate::roster::{Busy, BusyWhen, BusyWho, School};
use crate::rotation::repair::{Change, Out, OutError, repair};
use crate::rotation::{GroupToPlace, Proof, Session};

/// What a rotation was planned from: of the setup the timetable alone, and the groups.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Timetable {
    /// Blocks, staff, rooms, stations, limits, and busy times by block; the rest is the built-in setup.
    pub school: School,
    /// Groups with what they ask for.
    pub groups: Vec<GroupToPlace>,
}

/// Days issued anew because somebody was out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanRepair {
    /// Who was out, and when.
    pub without: Vec<Out>,
    /// What changed.
    pub changes: Vec<Change>,
    /// Whether it is proved that nothing better can be had with as few changes.
    pub proof: Proof,
}

impl PlanRepair {
    /// A sentence where the day is legal but no proof was found in time that it is the best.
    #[must_use]
    pub fn doubt(&self) -> Option<&'static str> {
        let sentence =
            "The day keeps every limit and is the best found, not proved to be the best: the timetable is very large.";
        (self.proof == Proof::BestFound).then_some(sentence)
    }
}

impl Timetable {
    /// The timetable of a setup. Busy times become the blocks that they fall into, one entry for each who.
    #[must_use]
    pub fn new(school: &School, groups: Vec<GroupToPlace>) -> Self {
        let school = School {
            blocks: school.blocks.clone(),
            staff: school.staff.clone(),
            rooms: school.rooms.clone(),
            stations: school.stations.clone(),
            busy: busy_by_block(school),
            limits: school.limits.clone(),
            ..School::default()
        };
        // As it is published, so that a plan read back is repaired the same way.
        let rounded = |g: GroupToPlace| GroupToPlace { need: (g.need.clamp(0.0, 1.0) * 100.0).round() / 100.0, ..g };
        Timetable { school, groups: groups.into_iter().map(rounded).collect() }
    }
}

fn busy_by_block(school: &School) -> Vec<Busy> {
    let mut all: Vec<(BusyWho, Vec<String>)> = Vec::new();
    for busy in &school.busy {
        let is_hit = |b: &&crate::roster::Block| match &busy.when {
            BusyWhen::Span(span) => span.overlaps(&b.time),
            BusyWhen::Blocks(ids) => ids.contains(&b.id),
        };
        let blocks = school.blocks.iter().filter(is_hit).map(|b| b.id.clone());
        match all.iter_mut().find(|(who, _)| *who == busy.who) {
            Some((_, known)) => known.extend(blocks),
            None => all.push((busy.who.clone(), blocks.collect())),
        }
    }
    all.into_iter()
        .filter(|(_, blocks)| !blocks.is_empty())
        .map(|(who, mut blocks)| {
            blocks.sort_unstable();
            blocks.dedup();
            Busy { who, when: BusyWhen::Blocks(blocks) }
        })
        .collect()
}

impl Plan {
    /// Reads `WHO@WHEN` in the names of this plan.
    ///
    /// # Errors
    /// [`OutError`] where the plan knows no such name.
    pub fn out(&self, text: &str) -> Result<Out, OutError> {
        Out::parse(text, &self.timetable.school, &self.timetable.groups)
    }

    /// The plan with the days of those who are out issued anew, with as few changes as possible.
    #[must_use]
    pub fn repaired(&self, now: Vec<Out>) -> Plan {
        let before: Vec<Out> = self.repairs.iter().flat_map(|r| r.without.iter().cloned()).collect();
        let Timetable { school, groups } = &self.timetable;
        let repaired = repair(school, groups, &self.rotation, &before, &now);
        let mut plan = self.clone();
        plan.rotation = repaired.sessions;
        plan.repairs.push(PlanRepair { without: now, changes: repaired.changes, proof: repaired.proof });
        plan
    }

    /// What the latest repair of this session changed, in a few words; `None` where it is as it was planned.
    #[must_use]
    pub fn change_of(&self, session: &Session) -> Option<String> {
        let changes = self.repairs.iter().rev().flat_map(|r| &r.changes);
        changes.into_iter().find(|c| c.after.as_ref() == Some(session)).map(Change::mark)
    }

    /// What a group is called; its id where the plan has no such group.
    #[must_use]
    pub fn group_name<'s>(&'s self, id: &'s str) -> &'s str {
        self.groups.iter().find(|g| g.id == id).map_or(id, |g| g.name.as_str())
    }
}

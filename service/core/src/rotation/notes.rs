//! What staff must be told about the week: who got less than asked, why, and what one more adult in one block would change.
//!
//! In: the [`Week`], the [`Chosen`] meetings and the sessions. Out: plain sentences, most important first.
//! Rules it keeps: a timetable that is missing is explained, not silently empty (`without_a_timetable_a_note_says_how_to_add_one`);
//! every group that gets fewer sessions than it asks for is named with both numbers
//! (`a_group_that_gets_less_than_asked_is_named`); the promise about one more adult is the outcome of planning again
//! (`one_more_adult_is_promised_what_planning_again_gives`).
//! Source of the caution on few sessions: guidance for small-group mathematics in grades 3 to 5 asks for three or more
//! meetings a week of 20 to 40 minutes (National Center on Response to Intervention, 2010).
//! Not here: notes on who sits with whom (`grouping`).

use super::conflict;
use super::model::Spare;
use super::stages::{self, Chosen};
use super::week::{Meeting, Week};
use super::{GroupToPlace, Proof, Session};
use crate::roster::{School, StaffMember};
use std::collections::{BTreeMap, BTreeSet};

/// Led sessions a week below which the caution is printed.
const PUBLISHED_SESSIONS: usize = 3;
/// Names that one sentence lists.
const MOST_NAMES: usize = 12;

/// The one note of a week that has nothing to plan with.
pub(super) fn nothing_to_plan(school: &School, groups: &[GroupToPlace]) -> Option<String> {
    let note = if school.blocks.is_empty() {
        "The setup has no timetable, so there is no rotation: add a [[block]] (id, day, start, end) for each time in \
         which groups may meet and a [[staff]] (name, blocks) for each adult."
    } else if school.staff.is_empty() {
        "The setup lists blocks but no adults, so there is no rotation: add a [[staff]] with name and blocks for each adult."
    } else if !school.staff.iter().any(|s| s.leads) {
        "No adult of the setup leads, so there is no rotation: set leads = true for a [[staff]] who teaches groups."
    } else if !school.stations.is_empty() && !school.stations.iter().any(|s| s.staffed) {
        "No station of the setup is staffed, so there are no led sessions: set staffed = true for a [[station]], or list \
         no stations at all."
    } else if groups.is_empty() {
        "There are no groups, so there is no rotation."
    } else {
        return None;
    };
    Some(note.to_owned())
}

/// Every note about a planned week.
pub(super) fn about(week: &Week<'_>, chosen: &Chosen, sessions: &[Session]) -> Vec<String> {
    let n_led = |g: usize| chosen.led.iter().filter(|m| m.group == g).count();
    let mut notes = Vec::new();
    notes.extend(cannot_meet(week));
    notes.extend(fewer_than_asked(week, n_led));
    notes.extend(never_expected(week, sessions));
    notes.extend(few_sessions(week, chosen));
    notes.extend(one_more_adult(week, chosen, n_led));
    if !short(week, n_led).is_empty() && chosen.proof == Proof::Optimal {
        notes.extend(conflict::about(week, chosen));
    }
    notes.extend(proof(week, chosen));
    notes
}

fn all_meetings(week: &Week<'_>, group: usize) -> impl Iterator<Item = Meeting> {
    (0..week.blocks.len()).map(move |block| Meeting { block, group })
}

/// Groups that have no block at all in which they could be led, a sentence for each reason.
fn cannot_meet(week: &Week<'_>) -> Vec<String> {
    let mut by_reason: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for group in (0..week.groups.len()).filter(|&g| week.wants(g) > 0) {
        if !all_meetings(week, group).any(|m| week.is_candidate(m)) {
            by_reason.entry(reason(week, group)).or_default().push(week.groups[group].id.clone());
        }
    }
    by_reason.into_iter().map(|(reason, ids)| format!("Cannot meet, because {reason}: {}.", listed(&ids))).collect()
}

fn reason(week: &Week<'_>, group: usize) -> &'static str {
    let free: Vec<Meeting> = all_meetings(week, group).filter(|&m| week.n_expected(m) > 0).collect();
    let led: Vec<Meeting> = free.iter().copied().filter(|m| !week.leaders[m.block].is_empty()).collect();
    if free.is_empty() {
        "no member is free in any block"
    } else if led.is_empty() {
        "no adult leads in the blocks in which members are free"
    } else if !led.iter().any(|&m| seats(week, m)) {
        "no room that is free then seats the members"
    } else {
        "the limits on departures or pull-outs leave no block"
    }
}

/// The names, the first few only where there are many.
fn listed(names: &[String]) -> String {
    let shown = names.iter().take(MOST_NAMES).map(String::as_str).collect::<Vec<_>>().join(", ");
    let more = names.len().saturating_sub(MOST_NAMES);
    if more == 0 { shown } else { format!("{shown} and {more} more") }
}

fn seats(week: &Week<'_>, meeting: Meeting) -> bool {
    let rooms = &week.school.rooms;
    rooms.is_empty() || week.rooms[meeting.block].iter().any(|&r| rooms[r].seats >= week.n_expected(meeting))
}

/// Groups with a number asked for that got fewer: position, got, asked.
fn short(week: &Week<'_>, n_led: impl Fn(usize) -> usize) -> Vec<(usize, usize, usize)> {
    let asked = |g: usize| week.groups[g].sessions_wanted.map(|asked| (g, n_led(g), asked));
    (0..week.groups.len()).filter_map(asked).filter(|(_, got, asked)| got < asked).collect()
}

fn fewer_than_asked(week: &Week<'_>, n_led: impl Fn(usize) -> usize) -> Option<String> {
    let short = short(week, n_led);
    let named = short.iter().map(|(g, got, asked)| format!("{} ({got} of {asked})", week.groups[*g].id));
    let list = listed(&named.collect::<Vec<_>>());
    (!short.is_empty()).then(|| format!("Fewer led sessions than asked for: {list}."))
}

/// Members who are busy at every led session of a group that does meet.
fn never_expected(week: &Week<'_>, sessions: &[Session]) -> Option<String> {
    let mut reached: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for session in sessions.iter().filter(|s| s.is_led(week.school)) {
        reached.entry(&session.group).or_default().extend(session.expected.iter().map(String::as_str));
    }
    let missed_of = |group: &GroupToPlace| -> Vec<String> {
        let Some(reached) = reached.get(group.id.as_str()) else { return Vec::new() };
        let ids = group.members.iter().map(|m| m.id.as_str()).filter(|id| !reached.contains(id));
        ids.map(|id| format!("{id} ({})", group.id)).collect()
    };
    let missed: Vec<String> = week.groups.iter().flat_map(missed_of).collect();
    (!missed.is_empty()).then(|| format!("Busy at every led session of their group: {}.", listed(&missed)))
}

fn few_sessions(week: &Week<'_>, chosen: &Chosen) -> Option<String> {
    if chosen.floor >= PUBLISHED_SESSIONS || chosen.led.is_empty() {
        return None;
    }
    let minutes = chosen.led.iter().map(|m| week.blocks[m.block].time.length_minutes()).min()?;
    let (floor, s) = (chosen.floor, if chosen.floor == 1 { "" } else { "s" });
    Some(format!(
        "A group may get as few as {floor} led session{s} of {minutes} minutes this week; published guidance asks for \
         three or more a week."
    ))
}

/// Plans again with one more adult who may lead in any one block, and says what that gives.
fn one_more_adult(week: &Week<'_>, chosen: &Chosen, n_led: impl Fn(usize) -> usize) -> Option<String> {
    let is_wanting = !short(week, n_led).is_empty() || chosen.floor < PUBLISHED_SESSIONS;
    if !is_wanting || chosen.proof != Proof::Optimal {
        return None;
    }
    let mut school = week.school.clone();
    let spare = school.staff.len();
    let blocks = school.blocks.iter().map(|b| b.id.clone()).collect();
    school.staff.push(StaffMember { name: String::new(), blocks, leads: true });
    let wider = Week::new(&school, week.groups);
    let better = stages::choose_with_spare(&wider, Some(Spare(spare)), &stages::counted(week))?;
    let block = (0..wider.blocks.len()).find(|&b| better.adults[b].contains(&spare));
    let gain = gain(chosen, &better).zip(block);
    Some(gain.map_or_else(
        || {
            "One more adult in any single block would change nothing: busy times, rooms or limits hold the groups back."
                .to_owned()
        },
        |(gain, block)| {
            let block = wider.blocks[block];
            let (id, day, start) = (&block.id, block.time.day.long(), block.time.start);
            format!("One more adult who leads in block {id} ({day} {start}) would raise {gain}.")
        },
    ))
}

pub(super) fn gain(chosen: &Chosen, better: &Chosen) -> Option<String> {
    let places = format!("attended places from {} to {}", chosen.attended, better.attended);
    if better.floor > chosen.floor {
        let floor = format!("the sessions that every group gets from {} to {}", chosen.floor, better.floor);
        Some(if better.attended > chosen.attended { format!("{floor}, and {places}") } else { floor })
    } else {
        (better.attended > chosen.attended).then_some(places)
    }
}

fn proof(week: &Week<'_>, chosen: &Chosen) -> Option<String> {
    match (chosen.proof, chosen.comfort) {
        (Proof::BestFound, _) => {
            let most = most_thinkable(week).max(chosen.attended);
            let percent = 100.0 * (most - chosen.attended) as f64 / most.max(1) as f64;
            Some(format!(
                "This rotation keeps every limit and is the best found, not proved to be the best: {} attended places, and \
                 no rotation can have more than {most} (gap at most {:.0} %).",
                chosen.attended,
                percent.ceil()
            ))
        }
        (_, Proof::BestFound) => Some(
            "Sessions and attendance are proved to be the best possible; departures and spread over the days are the \
             best found."
                .to_owned(),
        ),
        _ => None,
    }
}

/// Attended places that no rotation can pass, by counting alone: in each block the largest groups for the adults who lead
/// then, and for each group its best blocks up to what it asks for.
fn most_thinkable(week: &Week<'_>) -> usize {
    let largest = |mut sizes: Vec<usize>, n: usize| -> usize {
        sizes.sort_unstable_by(|a, b| b.cmp(a));
        sizes.into_iter().take(n).sum()
    };
    let candidates = week.candidates();
    let sizes = |holds: &dyn Fn(&Meeting) -> bool| {
        candidates.iter().filter(|m| holds(m)).map(|m| week.n_expected(*m)).collect::<Vec<_>>()
    };
    let by_block =
        (0..week.blocks.len()).map(|b| largest(sizes(&|m| m.block == b), week.leaders[b].len())).sum::<usize>();
    let by_group = (0..week.groups.len()).map(|g| largest(sizes(&|m| m.group == g), week.wants(g))).sum();
    by_block.min(by_group)
}

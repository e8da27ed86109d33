//! Why a group meets here and now, and what else was possible: one sentence for each session.
//!
//! In:  the timetable, the sessions of the week, one of them. Out: a sentence that counts what anybody can count: members who are
//! free, sessions asked for, and the other times at which the group could come, each with what stands against it.
//! Keeps: a time is called possible only if members, an adult who leads, and a room are free then
//! (`a_time_is_called_possible_only_if_somebody_could_lead`). Not here: the wishes that the rotation meets in order (`plan_rotation`).

use super::{GroupToPlace, Session};
use crate::roster::{Block, School};

/// Other times that one sentence names.
const MOST_TIMES: usize = 3;

/// The sentence for one session; empty where its group or block is not known.
#[must_use]
pub fn explain(school: &School, groups: &[GroupToPlace], sessions: &[Session], session: &Session) -> String {
    let Some(group) = groups.iter().find(|g| g.id == session.group) else { return String::new() };
    let mut parts = vec![free(session.expected.len(), group.members.len())];
    if session.is_led(school) {
        parts.push(nth_led(school, group, sessions, session));
        parts.extend(same_adult(sessions, session));
    } else {
        parts.push("practice between led sessions, at a station that has a place".to_owned());
    }
    parts.push(other_times(school, group, sessions));
    format!("{}.", parts.join("; "))
}

fn free(n_there: usize, n_members: usize) -> String {
    match n_members - n_there.min(n_members) {
        0 => format!("All {n_members} members are free then"),
        n_busy => format!("{n_there} of {n_members} members are free then ({n_busy} busy)"),
    }
}

fn nth_led(school: &School, group: &GroupToPlace, sessions: &[Session], session: &Session) -> String {
    let own: Vec<&Session> = sessions.iter().filter(|s| s.group == group.id && s.is_led(school)).collect();
    let n = own.iter().position(|s| *s == session).map_or(0, |at| at + 1);
    let asked = group.sessions_wanted.map_or("as many as fit".to_owned(), |asked| asked.to_string());
    format!("led session {n} of {} (asked for: {asked})", own.len())
}

fn same_adult(sessions: &[Session], session: &Session) -> Option<String> {
    let adult = session.staff.as_ref()?;
    let own: Vec<&Session> = sessions.iter().filter(|s| s.group == session.group && s.staff.is_some()).collect();
    let n_same = own.iter().filter(|s| s.staff.as_ref() == Some(adult)).count();
    (own.len() > 1).then(|| format!("{adult} has the group {n_same} of {} times", own.len()))
}

/// Other times at which somebody of the group is free: those that were possible first.
fn other_times(school: &School, group: &GroupToPlace, sessions: &[Session]) -> String {
    let taken = |b: &Block| sessions.iter().any(|s| s.group == group.id && s.time.overlaps(&b.time));
    let mut blocks: Vec<&Block> = school.blocks.iter().filter(|b| !taken(b)).collect();
    blocks.sort_by_key(|b| (b.time.day, b.time.start));
    let mut times: Vec<(bool, String)> = blocks.iter().filter_map(|b| time(school, group, sessions, b)).collect();
    times.sort_by_key(|(is_possible, _)| !is_possible);
    if times.is_empty() {
        return "no other time is open to the group".to_owned();
    }
    let n_more = times.len().saturating_sub(MOST_TIMES);
    let named: Vec<String> = times.into_iter().take(MOST_TIMES).map(|(_, words)| words).collect();
    let more = if n_more == 0 { String::new() } else { format!(" and {n_more} more") };
    format!("other times: {}{more}", named.join(", "))
}

/// Whether the group could be led then, and in words; `None` where nobody of it is free.
fn time(school: &School, group: &GroupToPlace, sessions: &[Session], block: &Block) -> Option<(bool, String)> {
    let n_free = group.members.iter().filter(|m| !school.is_busy(&m.id, &m.homeroom, block)).count();
    if n_free == 0 {
        return None;
    }
    let then: Vec<&Session> = sessions.iter().filter(|s| s.time.overlaps(&block.time)).collect();
    let mut leaders = school.leaders_in(block).peekable();
    let reason = if leaders.peek().is_none() {
        Some("no adult leads")
    } else if leaders.all(|a| then.iter().any(|s| s.staff.as_ref() == Some(&a.name))) {
        Some("every adult who leads has another group")
    } else if !has_room(school, block, &then, n_free) {
        Some("no room is free")
    } else {
        None
    };
    let busy = if n_free < group.members.len() {
        format!("{} of {} free", n_free, group.members.len())
    } else {
        String::new()
    };
    let notes: Vec<&str> =
        [reason.unwrap_or("possible"), busy.as_str()].into_iter().filter(|n| !n.is_empty()).collect();
    Some((reason.is_none(), format!("{} {} ({})", block.time.day.short(), block.time.start, notes.join(", "))))
}

fn has_room(school: &School, block: &Block, then: &[&Session], n_free: usize) -> bool {
    let is_free = |r: &&crate::roster::Room| {
        let is_open = r.blocks.is_empty() || r.blocks.contains(&block.id);
        is_open && r.seats >= n_free && !then.iter().any(|s| s.room.as_ref() == Some(&r.name))
    };
    school.rooms.is_empty() || school.rooms.iter().any(|r| is_free(&r))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotation::plan_rotation;
    use crate::rotation::tests::setups::{block, group, room, school, staff};

    fn sentences(school: &School, groups: &[GroupToPlace]) -> Vec<String> {
        let sessions = plan_rotation(school, groups).sessions;
        sessions.iter().map(|s| explain(school, groups, &sessions, s)).collect()
    }

    #[test]
    fn a_session_says_who_is_free_and_what_else_there_was() {
        let ids = ["Mon 09:00", "Tue 09:00"];
        let school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids)]);
        let said = sentences(&school, &[group("g1", "5P", 3, Some(1)), group("g2", "5P", 3, Some(1))]);
        assert_eq!(
            said[0],
            "All 3 members are free then; led session 1 of 1 (asked for: 1); other times: Tue 09:00 (every adult who leads has another group)."
        );
    }

    #[test]
    fn a_time_is_called_possible_only_if_somebody_could_lead() {
        let ids = ["Mon 09:00", "Tue 09:00", "Wed 09:00"];
        let mut school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids[..2])]);
        let groups = [group("g1", "5P", 3, Some(1))];
        let said = sentences(&school, &groups);
        assert!(said[0].contains("Tue 09:00 (possible)") && said[0].contains("Wed 09:00 (no adult leads)"), "{said:?}");
        school.rooms = vec![room("Nook", 3)];
        school.rooms[0].blocks = vec!["Mon 09:00".to_owned()];
        assert!(sentences(&school, &groups)[0].contains("Tue 09:00 (no room is free)"));
    }
}

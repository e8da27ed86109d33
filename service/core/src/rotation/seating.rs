//! Which adult and which room each led session gets, once it is settled which groups meet when.
//!
//! In: the [`Week`] and the [`Chosen`] meetings with the adults and rooms that may be used in each block.
//! Out: sessions with adult, station and room.
//! Rules it keeps: a group keeps its adult where it can (`a_group_keeps_its_adult`), intensive groups first; each group
//! gets the smallest room that seats it (`a_large_group_takes_the_large_room`); equal choices go to the adult or room
//! that the setup lists first. Not here: who may be used at all (`stages`).

use super::Session;
use super::stages::Chosen;
use super::week::{Meeting, Week};
use pathfinding::kuhn_munkres::kuhn_munkres;
use pathfinding::matrix::Matrix;

/// How much one session already held together weighs against one that could still be.
const HELD: i64 = 100;
/// How much more continuity weighs for an intensive group.
const INTENSIVE: i64 = 2;

/// The led sessions with their adults and rooms.
pub(super) fn seat(week: &Week<'_>, chosen: &Chosen) -> Vec<(Meeting, Session)> {
    let mut held = vec![vec![0i64; week.school.staff.len()]; week.groups.len()];
    let mut sessions = Vec::new();
    for block in 0..week.blocks.len() {
        let meetings: Vec<Meeting> = chosen.led.iter().copied().filter(|m| m.block == block).collect();
        let adults = adults_for(week, chosen, &meetings, block, &held);
        let rooms = rooms_for(week, &chosen.rooms[block], &meetings);
        for ((meeting, adult), room) in meetings.into_iter().zip(adults).zip(rooms) {
            held[meeting.group][adult] += 1;
            sessions.push((meeting, led_session(week, meeting, adult, room)));
        }
    }
    sessions
}

fn led_session(week: &Week<'_>, meeting: Meeting, adult: usize, room: Option<usize>) -> Session {
    let leaders_before = week.school.staff[..adult].iter().filter(|s| s.leads).count();
    let station = week.staffed_stations[leaders_before % week.staffed_stations.len()];
    let mut session = week.session(meeting, station);
    session.staff = Some(week.school.staff[adult].name.clone());
    session.room = room.map(|room| week.school.rooms[room].name.clone());
    session
}

/// One adult for each meeting of the block: as many sessions together, past and possible, as can be.
fn adults_for(week: &Week<'_>, chosen: &Chosen, meetings: &[Meeting], block: usize, held: &[Vec<i64>]) -> Vec<usize> {
    let adults = &chosen.adults[block];
    if meetings.is_empty() || adults.len() < meetings.len() {
        return Vec::new();
    }
    let possible = |group: usize, adult: usize| {
        chosen
            .led
            .iter()
            .filter(|m| m.group == group && m.block > block && chosen.adults[m.block].contains(&adult))
            .count()
    };
    let weights = Matrix::from_fn(meetings.len(), adults.len(), |(row, column)| {
        let (group, adult) = (meetings[row].group, adults[column]);
        let together = HELD * held[group][adult] + possible(group, adult) as i64;
        if week.groups[group].is_intensive { INTENSIVE * together } else { together }
    });
    let (_, columns) = kuhn_munkres(&weights);
    columns.into_iter().map(|column| adults[column]).collect()
}

/// The smallest room that seats each meeting, smallest meeting first; `None` where the setup lists no room.
fn rooms_for(week: &Week<'_>, free: &[usize], meetings: &[Meeting]) -> Vec<Option<usize>> {
    let mut rooms = vec![None; meetings.len()];
    let mut order: Vec<usize> = (0..meetings.len()).collect();
    order.sort_by_key(|&idx| (week.n_expected(meetings[idx]), idx));
    let mut left = free.iter().copied().peekable();
    for idx in order {
        let n_students = week.n_expected(meetings[idx]);
        while left.next_if(|&room| week.school.rooms[room].seats < n_students).is_some() {}
        rooms[idx] = left.next();
    }
    rooms
}

#[cfg(test)]
mod tests {
    use crate::rotation::tests::setups::{block, group, room, school, staff};
    use crate::rotation::{plan_rotation, violations};

    #[test]
    fn a_group_keeps_its_adult() {
        let blocks = ["Mon 09:00", "Tue 09:00", "Wed 09:00", "Thu 09:00"].map(|when| block(when, 30)).to_vec();
        let ids: Vec<&str> = blocks.iter().map(|b| b.id.as_str()).collect();
        let adults = vec![staff("A", &ids), staff("B", &ids)];
        let groups = vec![group("g1", "5P", 4, Some(4)), group("g2", "5Q", 4, Some(4))];
        let rotation = plan_rotation(&school(blocks.clone(), adults), &groups);
        let adults_of = |id: &str| -> Vec<Option<String>> {
            rotation.sessions.iter().filter(|s| s.group == id).map(|s| s.staff.clone()).collect()
        };
        assert_eq!(adults_of("g1"), vec![Some("A".to_owned()); 4]);
        assert_eq!(adults_of("g2"), vec![Some("B".to_owned()); 4]);
    }

    #[test]
    fn a_large_group_takes_the_large_room() {
        let blocks = vec![block("Mon 09:00", 30)];
        let id = blocks[0].id.clone();
        let mut school = school(blocks, vec![staff("A", &[&id]), staff("B", &[&id])]);
        school.rooms = vec![room("Large", 6), room("Small", 3)];
        let groups = vec![group("g1", "5P", 2, None), group("g2", "5Q", 5, None)];
        let rotation = plan_rotation(&school, &groups);
        let rooms: Vec<(&str, Option<&str>)> =
            rotation.sessions.iter().map(|s| (s.group.as_str(), s.room.as_deref())).collect();
        assert_eq!(rooms, [("g1", Some("Small")), ("g2", Some("Large"))]);
        assert_eq!(violations(&school, &groups, &rotation), Vec::new());
        let two_large = vec![group("g1", "5P", 4, None), group("g2", "5Q", 5, None)];
        assert_eq!(plan_rotation(&school, &two_large).sessions.len(), 1, "only one room seats more than three");
    }
}

//! One day again, with as few changes as possible, when a member of staff, a room or a student is out.
//!
//! In:  the setup and groups that the week was planned from, its sessions, who was out before and who is out now.
//! Out: [`Repaired`]: every session of the week, and what changed.
//! Rules it keeps:
//! 1. only the days of those who are out now change (`other_days_are_untouched`);
//! 2. nobody who is out is used, and no hard limit of the day breaks (`a_repaired_day_is_legal`);
//! 3. the fewest sessions are lost, and then the fewest change (`a_repair_changes_as_little_as_trying_everything`);
//! 4. an intensive group keeps its led session while any adult leads (`an_intensive_group_takes_the_place_of_another`).
//!
//! Practice that was printed stays where it still may, with another assistant or none; none is added.
//! Not here: a whole week planned anew (`plan_rotation`), the published plan (`plan::repair`).

mod change;
mod day;
mod out;

pub use change::Change;
pub use out::{Out, OutError, When, Who, school_without};

use super::practice;
use super::week::{Meeting, Week};
use super::{GroupToPlace, Proof, Session};
use crate::roster::{Day, School};
use day::{Printed, Settled};

/// A week with some of its days issued anew.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repaired {
    /// Every session of the week, in order of time, then of group.
    pub sessions: Vec<Session>,
    /// What changed, in order of time.
    pub changes: Vec<Change>,
    /// Whether it is proved that fewer changes would not do.
    pub proof: Proof,
}

/// Issues the days of those who are out anew.
///
/// `before` are those who were out already when the sessions were made; they stay out.
/// The same input gives the same value. Never panics.
#[must_use]
pub fn repair(school: &School, groups: &[GroupToPlace], sessions: &[Session], before: &[Out], now: &[Out]) -> Repaired {
    let outs: Vec<Out> = before.iter().chain(now).cloned().collect();
    let school_now = school_without(school, &outs);
    let week = Week::new(&school_now, groups);
    let mut repaired = Repaired { sessions: sessions.to_vec(), changes: Vec::new(), proof: Proof::Optimal };
    for day in Day::ALL.into_iter().filter(|d| now.iter().any(|out| out.day(school) == Some(*d))) {
        issue(&week, day, &mut repaired);
    }
    repaired
}

fn issue(week: &Week<'_>, day: Day, repaired: &mut Repaired) {
    let (of_day, others): (Vec<Session>, Vec<Session>) =
        std::mem::take(&mut repaired.sessions).into_iter().partition(|s| s.time.day == day);
    let known: Vec<(Meeting, Session)> = of_day.iter().filter_map(|s| Some((meeting(week, s)?, s.clone()))).collect();
    let (led, practised): (Vec<_>, Vec<_>) = known.into_iter().partition(|(_, s)| s.is_led(week.school));
    let elsewhere: Vec<(Meeting, Session)> =
        others.iter().filter_map(|s| Some((meeting(week, s)?, s.clone()))).collect();
    let (led_elsewhere, practised_elsewhere): (Vec<_>, Vec<_>) =
        elsewhere.into_iter().partition(|(_, s)| s.is_led(week.school));

    let printed: Vec<Printed> = led.iter().map(|(m, s)| printed(week, *m, s)).collect();
    let n_elsewhere: Vec<usize> =
        (0..week.groups.len()).map(|g| led_elsewhere.iter().filter(|(m, _)| m.group == g).count()).collect();
    let rooms: Vec<(usize, usize)> = practised.iter().filter_map(|(m, s)| Some((m.block, room(week, s)?))).collect();
    let (settled, proof) = day::settle(week, day, &printed, &n_elsewhere, &rooms);
    let now_led: Vec<(Meeting, Session)> = settled.iter().map(|s| (s.meeting, session(week, s, &led))).collect();

    let all_led = now_led.iter().cloned().chain(led_elsewhere).collect();
    let kept = practice::keep(week, all_led, practised_elsewhere, practised);
    let day_sessions: Vec<Session> = week.in_order(now_led.into_iter().chain(kept).collect());
    let why = |lost: &Session| why_lost(week, lost, &settled);
    repaired.changes.extend(change::changes(&of_day, &day_sessions, why));
    repaired.sessions = in_order(others, day_sessions, week);
    if proof == Proof::BestFound {
        repaired.proof = Proof::BestFound;
    }
}

/// Days keep their places: sessions lie in order of time.
fn in_order(others: Vec<Session>, of_day: Vec<Session>, week: &Week<'_>) -> Vec<Session> {
    let Some(day) = of_day.first().map(|s| s.time.day) else { return others };
    let place = others.iter().position(|s| s.time.day > day).unwrap_or(others.len());
    debug_assert!(of_day.iter().all(|s| week.blocks.iter().any(|b| b.id == s.block)));
    let mut sessions = others;
    sessions.splice(place..place, of_day);
    sessions
}

fn meeting(week: &Week<'_>, session: &Session) -> Option<Meeting> {
    let block = week.blocks.iter().position(|b| b.id == session.block)?;
    let group = week.groups.iter().position(|g| g.id == session.group)?;
    Some(Meeting { block, group })
}

fn printed(week: &Week<'_>, meeting: Meeting, session: &Session) -> Printed {
    let adult = session.staff.as_ref().and_then(|name| week.school.staff.iter().position(|s| &s.name == name));
    Printed { meeting, adult, room: room(week, session) }
}

fn room(week: &Week<'_>, session: &Session) -> Option<usize> {
    session.room.as_ref().and_then(|name| week.school.rooms.iter().position(|r| &r.name == name))
}

/// The station stays the one that the group had.
fn session(week: &Week<'_>, settled: &Settled, led: &[(Meeting, Session)]) -> Session {
    let own = |same_block: bool| {
        led.iter().find(|(m, _)| m.group == settled.meeting.group && (!same_block || m.block == settled.meeting.block))
    };
    let station = own(true).or_else(|| own(false)).map_or("", |(_, s)| s.station.as_str());
    let mut session = week.session(settled.meeting, station);
    session.staff = Some(week.school.staff[settled.adult].name.clone());
    session.room = settled.room.map(|room| week.school.rooms[room].name.clone());
    session
}

fn why_lost(week: &Week<'_>, lost: &Session, settled: &[Settled]) -> String {
    let why = match meeting(week, lost) {
        None => "the setup no longer knows its block or group",
        Some(_) if !lost.is_led(week.school) => "it would be practice twice running, or practice only",
        Some(meeting) if week.n_expected(meeting) == 0 => "nobody of the group is there",
        Some(meeting) => {
            let is_used = |adult: &usize| settled.iter().any(|s| s.meeting.block == meeting.block && s.adult == *adult);
            if week.leaders[meeting.block].iter().all(is_used) {
                "no adult who leads is free"
            } else {
                "no room is free, or a limit of the setup stands against it"
            }
        }
    };
    why.to_owned()
}

//! The parts of the published plan that a repair reads back: sessions, the timetable as used, what was changed before.
//!
//! `setup` holds the timetable that the rotation was planned from, not the whole school setup: of busy times only the blocks that
//! they fall into, of groups what they ask for and how far behind they are, in whole percent.
//! Keeps: what is written is read back the same (`the_timetable_comes_back_as_it_was`).

use crate::plan::{Plan, PlanRepair, Timetable};
use crate::roster::{
    Block, Busy, BusyWhen, BusyWho, Day, Limits, Minutes, Room, School, StaffMember, Station, StudentId, TimeSpan,
};
use crate::rotation::repair::Change;
use crate::rotation::{GroupToPlace, Proof, Session};
use serde::{Deserialize, Serialize};

/// One session.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct PublishedSession {
    block: String,
    day: String,
    start: String,
    end: String,
    group: String,
    station: String,
    staff: Option<String>,
    room: Option<String>,
    skill: String,
    /// Who is expected.
    #[serde(default)]
    students: Vec<String>,
    /// What a repair changed of it, in a few words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    change: Option<String>,
}

impl PublishedSession {
    /// A session with the mark of what was changed of it.
    #[must_use]
    pub fn new(s: &Session, change: Option<String>) -> Self {
        PublishedSession {
            block: s.block.clone(),
            day: s.time.day.short().to_owned(),
            start: s.time.start.to_string(),
            end: s.time.end.to_string(),
            group: s.group.clone(),
            station: s.station.clone(),
            staff: s.staff.clone(),
            room: s.room.clone(),
            skill: s.skill.clone(),
            students: s.expected.clone(),
            change,
        }
    }

    /// The session; `None` where its time is none.
    #[must_use]
    pub fn session(self) -> Option<Session> {
        Some(Session {
            time: span(&self.day, &self.start, &self.end)?,
            block: self.block,
            group: self.group,
            station: self.station,
            staff: self.staff,
            room: self.room,
            skill: self.skill,
            expected: self.students,
        })
    }
}

fn span(day: &str, start: &str, end: &str) -> Option<TimeSpan> {
    TimeSpan::new(Day::parse(day)?, Minutes::parse(start)?, end_of(end)?).ok()
}

/// A block may end at midnight.
fn end_of(text: &str) -> Option<Minutes> {
    if text == "24:00" { Some(Minutes(24 * 60)) } else { Minutes::parse(text) }
}

/// Days issued anew because somebody was out.
#[derive(Debug, Serialize, Deserialize)]
pub struct PublishedRepair {
    /// Who was out, and when.
    pub without: Vec<String>,
    /// What changed.
    pub changes: Vec<PublishedChange>,
    /// Whether the day is the best found without a proof; left out where it is proved.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub is_best_found: bool,
}

impl PublishedRepair {
    /// The repair with its changes in words.
    #[must_use]
    pub fn new(repair: &PlanRepair, plan: &Plan) -> Self {
        PublishedRepair {
            without: repair.without.iter().map(ToString::to_string).collect(),
            changes: repair.changes.iter().map(|c| PublishedChange::new(c, plan)).collect(),
            is_best_found: repair.proof == Proof::BestFound,
        }
    }
}

/// One session that was changed or taken away.
#[derive(Debug, Serialize, Deserialize)]
pub struct PublishedChange {
    words: String,
    before: PublishedSession,
    after: Option<PublishedSession>,
    why: String,
}

impl PublishedChange {
    fn new(change: &Change, plan: &Plan) -> Self {
        PublishedChange {
            words: change.words(plan.group_name(&change.before.group)),
            before: PublishedSession::new(&change.before, None),
            after: change.after.as_ref().map(|s| PublishedSession::new(s, None)),
            why: change.why.clone(),
        }
    }

    /// The change; `None` where a time in it is none.
    #[must_use]
    pub fn change(self) -> Option<Change> {
        let after = match self.after {
            Some(after) => Some(after.session()?),
            None => None,
        };
        Some(Change { before: self.before.session()?, after, why: self.why })
    }
}

/// The timetable that the rotation was planned from.
#[derive(Debug, Default, Serialize, Deserialize)]
pub struct PublishedSetup {
    blocks: Vec<PublishedBlock>,
    staff: Vec<PublishedStaff>,
    rooms: Vec<PublishedRoom>,
    stations: Vec<PublishedStation>,
    busy: Vec<PublishedBusy>,
    limits: PublishedLimits,
    groups: Vec<PublishedAsk>,
}

#[derive(Debug, Serialize, Deserialize)]
struct PublishedBlock {
    id: String,
    day: String,
    start: String,
    end: String,
    homerooms: Vec<String>,
}

#[derive(Debug, Serialize, Deserialize)]
struct PublishedStaff {
    name: String,
    leads: bool,
    blocks: Vec<String>,
}

#[derive(Debug, Serialize, Deserialize)]
struct PublishedRoom {
    name: String,
    seats: usize,
    blocks: Vec<String>,
}

#[derive(Debug, Serialize, Deserialize)]
struct PublishedStation {
    name: String,
    staffed: bool,
    capacity: usize,
}

#[derive(Debug, Serialize, Deserialize)]
struct PublishedBusy {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    homeroom: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    student: Option<String>,
    blocks: Vec<String>,
}

#[derive(Debug, Default, Serialize, Deserialize)]
struct PublishedLimits {
    max_departures: Option<usize>,
    max_pullouts: Option<usize>,
    walk_minutes: Option<u16>,
    max_in_a_row: Option<usize>,
}

/// What a group asks for.
#[derive(Debug, Serialize, Deserialize)]
struct PublishedAsk {
    group: String,
    intensive: bool,
    sessions: Option<usize>,
    /// How far behind its members are, percent of the furthest.
    behind: u8,
}

/// A group of the plan with the homerooms of its members, to put beside what it asks for.
pub(crate) struct KnownGroup {
    pub id: String,
    pub skill: String,
    pub members: Vec<crate::rotation::Member>,
}

impl PublishedSetup {
    /// The published form.
    #[must_use]
    pub fn new(timetable: &Timetable) -> Self {
        let school = &timetable.school;
        let limits = &school.limits;
        PublishedSetup {
            blocks: school.blocks.iter().map(block).collect(),
            staff: school
                .staff
                .iter()
                .map(|s| PublishedStaff { name: s.name.clone(), leads: s.leads, blocks: s.blocks.clone() })
                .collect(),
            rooms: school
                .rooms
                .iter()
                .map(|r| PublishedRoom { name: r.name.clone(), seats: r.seats, blocks: r.blocks.clone() })
                .collect(),
            stations: school
                .stations
                .iter()
                .map(|s| PublishedStation { name: s.name.clone(), staffed: s.staffed, capacity: s.capacity })
                .collect(),
            busy: school.busy.iter().filter_map(busy).collect(),
            limits: PublishedLimits {
                max_departures: limits.max_departures,
                max_pullouts: limits.max_pullouts,
                walk_minutes: limits.walk_minutes,
                max_in_a_row: limits.max_in_a_row,
            },
            groups: timetable.groups.iter().map(ask).collect(),
        }
    }

    /// The timetable; `None` where a time in it is none.
    pub(crate) fn timetable(self, known: Vec<KnownGroup>) -> Option<Timetable> {
        let mut school = School { limits: self.limits.limits(), ..School::default() };
        for b in self.blocks {
            let time = span(&b.day, &b.start, &b.end)?;
            school.blocks.push(Block { id: b.id, time, homerooms: b.homerooms });
        }
        let staff = self.staff.into_iter().map(|s| StaffMember { name: s.name, blocks: s.blocks, leads: s.leads });
        school.staff = staff.collect();
        school.rooms =
            self.rooms.into_iter().map(|r| Room { name: r.name, seats: r.seats, blocks: r.blocks }).collect();
        let station = |s: PublishedStation| Station { name: s.name, staffed: s.staffed, capacity: s.capacity };
        school.stations = self.stations.into_iter().map(station).collect();
        school.busy = self.busy.into_iter().filter_map(PublishedBusy::busy).collect();
        let asks = self.groups;
        let group = |g: KnownGroup| {
            let ask = asks.iter().find(|a| a.group == g.id);
            GroupToPlace {
                need: ask.map_or(0.0, |a| f64::from(a.behind) / 100.0),
                is_intensive: ask.is_some_and(|a| a.intensive),
                sessions_wanted: ask.and_then(|a| a.sessions),
                id: g.id,
                skill: g.skill,
                members: g.members,
            }
        };
        Some(Timetable { groups: known.into_iter().map(group).collect(), school })
    }
}

fn block(b: &Block) -> PublishedBlock {
    PublishedBlock {
        id: b.id.clone(),
        day: b.time.day.short().to_owned(),
        start: b.time.start.to_string(),
        end: b.time.end.to_string(),
        homerooms: b.homerooms.clone(),
    }
}

/// A timetable names busy times by block; see [`Timetable::new`].
fn busy(busy: &Busy) -> Option<PublishedBusy> {
    let BusyWhen::Blocks(blocks) = &busy.when else { return None };
    let (homeroom, student) = match &busy.who {
        BusyWho::Homeroom(name) => (Some(name.clone()), None),
        BusyWho::Student(id) => (None, Some(id.to_string())),
    };
    Some(PublishedBusy { homeroom, student, blocks: blocks.clone() })
}

impl PublishedBusy {
    fn busy(self) -> Option<Busy> {
        let student = self.student.as_deref().and_then(StudentId::parse).map(BusyWho::Student);
        let who = self.homeroom.map(BusyWho::Homeroom).or(student)?;
        Some(Busy { who, when: BusyWhen::Blocks(self.blocks) })
    }
}

impl PublishedLimits {
    fn limits(&self) -> Limits {
        Limits {
            max_departures: self.max_departures,
            max_pullouts: self.max_pullouts,
            walk_minutes: self.walk_minutes,
            max_in_a_row: self.max_in_a_row,
        }
    }
}

fn ask(group: &GroupToPlace) -> PublishedAsk {
    PublishedAsk {
        group: group.id.clone(),
        intensive: group.is_intensive,
        sessions: group.sessions_wanted,
        behind: (group.need.clamp(0.0, 1.0) * 100.0).round() as u8,
    }
}

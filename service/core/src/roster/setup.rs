//! The school's own rules: whom to include, group sizes, times, adults, rooms, stations, limits.
//!
//! Out: [`School`], every field with a value; `School::default()` is the built-in setup of `config/default.toml`
//! (a test in `sheaf-app` holds the two together). Not here: reading TOML (`sheaf-app`), students (the sheets).

use super::{Day, StudentId, TimeSpan};
use crate::finding::Finding;
use jiff::civil::Date;

/// Which students get a seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Include {
    /// Students with at least one unmet skill.
    Need,
    /// Everyone with scores.
    All,
}

/// Who may sit together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Within {
    /// Students of one grade.
    Grade,
    /// Students of one homeroom.
    Homeroom,
    /// Anyone.
    All,
}

/// How many groups to form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GroupCount {
    /// From the timetable: led blocks divided by sessions, within what the sizes allow.
    Auto,
    /// A number, which seats everyone.
    Fixed(usize),
}

/// Group rules.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupSettings {
    /// Which students get a seat.
    pub include: Include,
    /// Who may sit together.
    pub within: Within,
    /// Smallest group, students, at least 1.
    pub min_size: usize,
    /// Largest group, students, at least `min_size`.
    pub max_size: usize,
    /// How many groups.
    pub count: GroupCount,
    /// Staffed sessions a week that a group asks for; `None`: as many as fit.
    pub sessions: Option<usize>,
    /// Pairs that never share a group.
    pub keep_apart: Vec<(StudentId, StudentId)>,
    /// Sets that always share one.
    pub keep_together: Vec<Vec<StudentId>>,
    /// Largest share of seats that may change from one week to the next inside a cycle, 0 to 1.
    pub max_swap_share: f64,
}

/// Rules for the students a school lists as needing the most support.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IntensiveSettings {
    /// Their ids.
    pub students: Vec<StudentId>,
    /// Smallest group.
    pub min_size: usize,
    /// Largest group.
    pub max_size: usize,
    /// Staffed sessions a week.
    pub sessions: usize,
}

/// What an omitted answer says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OmittedCounts {
    /// Neither for nor against the student.
    Nothing,
    /// As a wrong answer.
    Wrong,
}

/// When a skill counts as met.
#[derive(Debug, Clone, PartialEq)]
pub struct MasterySettings {
    /// What an omitted answer says.
    pub omitted: OmittedCounts,
    /// Share of a skill's points that counts as met, 0 to 1.
    pub cut: f64,
    /// Tickets or checks on which it must be met to be confirmed.
    pub confirm: usize,
    /// Weeks after which an answer counts half.
    pub half_life_weeks: usize,
}

/// A time in which groups may meet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block {
    /// Unique id, e.g. `mon-1`.
    pub id: String,
    /// When.
    pub time: TimeSpan,
    /// Homerooms that may be pulled; empty: all.
    pub homerooms: Vec<String>,
}

/// An adult.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StaffMember {
    /// Unique name or code.
    pub name: String,
    /// Ids of the blocks in which they are free.
    pub blocks: Vec<String>,
    /// Whether they may teach a target skill; otherwise they hold a practice station.
    pub leads: bool,
}

/// A room.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Room {
    /// Unique name.
    pub name: String,
    /// Students it seats.
    pub seats: usize,
    /// Ids of the blocks in which it is free; empty: always.
    pub blocks: Vec<String>,
}

/// A place in the rotation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Station {
    /// Unique name.
    pub name: String,
    /// Whether it needs an adult who leads.
    pub staffed: bool,
    /// Groups at a time (for a staffed station: one for each adult who leads; this is not used).
    pub capacity: usize,
}

/// Who is busy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BusyWho {
    /// Everyone of a homeroom.
    Homeroom(String),
    /// One student.
    Student(StudentId),
}

/// When they are busy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BusyWhen {
    /// Part of a day.
    Span(TimeSpan),
    /// These blocks, by id.
    Blocks(Vec<String>),
}

/// A time in which somebody is never pulled: a core lesson, lunch, another service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Busy {
    /// Who.
    pub who: BusyWho,
    /// When.
    pub when: BusyWhen,
}

/// Ticket rules.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TicketSettings {
    /// Items on an exit ticket, 1 to 10.
    pub items: usize,
}

/// What class lessons teach this month.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CoreLessons {
    /// Skill codes, preferred as targets.
    pub skills: Vec<String>,
}

/// Limits that hold only where they are given.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Limits {
    /// Students leaving one homeroom at a time.
    pub max_departures: Option<usize>,
    /// Pull-outs of one student in a day.
    pub max_pullouts: Option<usize>,
    /// Minutes between two sessions of one adult.
    pub walk_minutes: Option<u16>,
    /// Led sessions of one adult without a break.
    pub max_in_a_row: Option<usize>,
}

/// The weeks between two full regroupings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cycle {
    /// First Monday, if the school says.
    pub starts: Option<Date>,
    /// Length in weeks.
    pub weeks: usize,
}

impl Cycle {
    /// Whether no new cycle begins between two weeks. Where the school names no first Monday, none ever does.
    #[must_use]
    pub fn holds_both(&self, before: Date, now: Date) -> bool {
        let Some(starts) = self.starts else { return true };
        let days = |week: Date| starts.until(week).map_or(0, |span| span.get_days());
        let cycle = |week: Date| days(week).div_euclid(7 * i32::try_from(self.weeks.max(1)).unwrap_or(i32::MAX / 7));
        cycle(before) == cycle(now)
    }
}

/// The largest files that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReadingLimits {
    /// Size of a file, MiB.
    pub max_megabytes: usize,
    /// Rows of a sheet that hold something.
    pub max_rows: usize,
    /// Columns of a row that hold something.
    pub max_columns: usize,
}

/// How long records are kept, and what is told of them outside the team.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordSettings {
    /// Weeks for which the original bytes of a score sheet stay after its week; what was read of it stays longer.
    pub keep_originals_weeks: usize,
    /// Smallest count that stands in a file that names nobody.
    pub smallest_count: usize,
    /// First day of a school year: month and day.
    pub year_begins: (i8, i8),
    /// School years for which records stay after they are over before somebody is asked.
    pub keep_years: usize,
}

/// Everything a school sets.
#[derive(Debug, Clone, PartialEq)]
pub struct School {
    /// Group rules.
    pub groups: GroupSettings,
    /// Intensive groups.
    pub intensive: IntensiveSettings,
    /// When a skill counts as met.
    pub mastery: MasterySettings,
    /// Times in which groups may meet.
    pub blocks: Vec<Block>,
    /// Adults.
    pub staff: Vec<StaffMember>,
    /// Rooms; empty: no such limit.
    pub rooms: Vec<Room>,
    /// Stations.
    pub stations: Vec<Station>,
    /// Times in which somebody is never pulled.
    pub busy: Vec<Busy>,
    /// Ticket rules.
    pub ticket: TicketSettings,
    /// What core lessons teach.
    pub core: CoreLessons,
    /// Optional limits.
    pub limits: Limits,
    /// The cycle.
    pub cycle: Cycle,
    /// The largest files that are read.
    pub reading: ReadingLimits,
    /// How long records are kept.
    pub records: RecordSettings,
    /// What was noticed in reading the setup; stands with the findings of every plan made under it.
    pub remarks: Vec<Finding>,
}

impl Default for School {
    fn default() -> Self {
        School {
            groups: GroupSettings {
                include: Include::Need,
                within: Within::Grade,
                min_size: 3,
                max_size: 5,
                count: GroupCount::Auto,
                sessions: None,
                keep_apart: Vec::new(),
                keep_together: Vec::new(),
                max_swap_share: 0.25,
            },
            intensive: IntensiveSettings { students: Vec::new(), min_size: 1, max_size: 3, sessions: 5 },
            mastery: MasterySettings { omitted: OmittedCounts::Nothing, cut: 0.80, confirm: 2, half_life_weeks: 3 },
            blocks: Vec::new(),
            staff: Vec::new(),
            rooms: Vec::new(),
            stations: Vec::new(),
            busy: Vec::new(),
            ticket: TicketSettings { items: 5 },
            core: CoreLessons::default(),
            limits: Limits::default(),
            cycle: Cycle { starts: None, weeks: 5 },
            reading: ReadingLimits { max_megabytes: 50, max_rows: 25_000, max_columns: 600 },
            records: RecordSettings { keep_originals_weeks: 40, smallest_count: 5, year_begins: (8, 1), keep_years: 0 },
            remarks: Vec::new(),
        }
    }
}

impl School {
    /// Whether a student of this homeroom is busy in this block (or the block is not open to the homeroom).
    #[must_use]
    pub fn is_busy(&self, student: &StudentId, homeroom: &str, block: &Block) -> bool {
        if !block.homerooms.is_empty() && !homeroom.is_empty() && !block.homerooms.iter().any(|h| h == homeroom) {
            return true;
        }
        self.busy.iter().any(|busy| {
            let who = match &busy.who {
                BusyWho::Homeroom(name) => name == homeroom,
                BusyWho::Student(id) => id == student,
            };
            who && match &busy.when {
                BusyWhen::Span(span) => span.overlaps(&block.time),
                BusyWhen::Blocks(ids) => ids.contains(&block.id),
            }
        })
    }

    /// Names of the adults who may lead in this block.
    pub fn leaders_in<'a>(&'a self, block: &'a Block) -> impl Iterator<Item = &'a StaffMember> + 'a {
        self.staff.iter().filter(move |s| s.leads && s.blocks.contains(&block.id))
    }

    /// The blocks of one day, in order of time.
    #[must_use]
    pub fn blocks_on(&self, day: Day) -> Vec<&Block> {
        let mut blocks: Vec<&Block> = self.blocks.iter().filter(|b| b.time.day == day).collect();
        blocks.sort_by_key(|b| (b.time.start, b.time.end, b.id.clone()));
        blocks
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_cycle_ends_after_its_weeks() {
        let cycle = Cycle { starts: Some(date(2026, 1, 26)), weeks: 5 };
        assert!(cycle.holds_both(date(2026, 1, 26), date(2026, 2, 23)));
        assert!(!cycle.holds_both(date(2026, 2, 23), date(2026, 3, 2)));
        assert!(!cycle.holds_both(date(2026, 1, 19), date(2026, 1, 26)));
        assert!(Cycle { starts: None, weeks: 5 }.holds_both(date(2026, 1, 5), date(2026, 6, 1)));
    }
}

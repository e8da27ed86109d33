//! The shape of the rotation in a plan: sessions, the timetable they were planned from, days issued anew.
//!
//! Written by the core; these types are never made and only describe it.
//! Keeps: the rotation of the demo school, a day issued anew too, is as described (acceptance test
//! `every_answer_of_the_demo_school_is_as_described`).
#![allow(dead_code, reason = "types that only describe")]

use utoipa::ToSchema;

/// One group in one block.
#[derive(ToSchema)]
pub(crate) struct Session {
    /// Id of the block.
    #[schema(example = "mon-1")]
    block: String,
    /// Its day.
    day: Day,
    /// When it starts, hours and minutes.
    #[schema(example = "09:00")]
    start: String,
    /// When it ends.
    #[schema(example = "09:30")]
    end: String,
    /// Id of the group.
    group: String,
    /// Where the group works.
    station: String,
    /// Who leads; null where nobody does.
    #[schema(required)]
    staff: Option<String>,
    /// The room; null where none was asked for.
    #[schema(required)]
    room: Option<String>,
    /// Code of what is taught.
    skill: String,
    /// Ids of who is expected.
    students: Vec<String>,
    /// What a repair changed of it, in a few words; left out where nothing was.
    #[schema(required = false)]
    change: String,
}

#[derive(ToSchema)]
enum Day {
    Mon,
    Tue,
    Wed,
    Thu,
    Fri,
}

/// The timetable as it was used.
#[derive(ToSchema)]
pub(crate) struct Timetable {
    blocks: Vec<Block>,
    staff: Vec<Adult>,
    rooms: Vec<Room>,
    stations: Vec<Station>,
    busy: Vec<Busy>,
    limits: Limits,
    /// What each group asks for.
    groups: Vec<GroupAsks>,
}

/// A time in which groups may meet.
#[derive(ToSchema)]
struct Block {
    id: String,
    day: Day,
    start: String,
    end: String,
    /// Who may be taken out of class then; empty: everyone.
    homerooms: Vec<String>,
}

/// One of the staff.
#[derive(ToSchema)]
struct Adult {
    name: String,
    /// Whether groups are taught by this person.
    leads: bool,
    /// Ids of blocks.
    blocks: Vec<String>,
}

/// One room.
#[derive(ToSchema)]
struct Room {
    name: String,
    seats: usize,
    /// Ids of blocks; empty: always.
    blocks: Vec<String>,
}

/// Where a group works.
#[derive(ToSchema)]
struct Station {
    name: String,
    /// Whether one of the staff leads there.
    staffed: bool,
    /// Groups at a time.
    capacity: usize,
}

/// A homeroom or a student who is not taken out of class in these blocks.
#[derive(ToSchema)]
struct Busy {
    #[schema(required = false)]
    homeroom: String,
    #[schema(required = false)]
    student: String,
    blocks: Vec<String>,
}

/// Limits of the school; null is none.
#[derive(ToSchema)]
struct Limits {
    /// Children leaving one homeroom at a time.
    #[schema(required)]
    max_departures: Option<usize>,
    /// Sessions of a child a day.
    #[schema(required)]
    max_pullouts: Option<usize>,
    /// Minutes between sessions of one adult.
    #[schema(required)]
    walk_minutes: Option<u16>,
    /// Led sessions of one adult without a break.
    #[schema(required)]
    max_in_a_row: Option<usize>,
}

/// What a group asks for.
#[derive(ToSchema)]
struct GroupAsks {
    group: String,
    /// Whether it is one of the small groups that meet most often.
    intensive: bool,
    /// Led sessions; null: as many as fit.
    #[schema(required)]
    sessions: Option<usize>,
    /// How far behind its members are, percent of the furthest.
    #[schema(maximum = 100)]
    behind: u8,
}

/// Days issued anew because somebody was out.
#[derive(ToSchema)]
pub(crate) struct Repair {
    /// Who was out, and when.
    #[schema(example = json!(["Teacher B@mon-1"]))]
    without: Vec<String>,
    /// What changed.
    changes: Vec<SessionChange>,
    /// True where it is the best found without a proof; left out where it is proved.
    #[schema(required = false)]
    is_best_found: bool,
}

/// One session that was changed or taken away.
#[derive(ToSchema)]
struct SessionChange {
    /// The change in words.
    words: String,
    /// As it was.
    before: Session,
    /// As it is; null where the group does not meet.
    #[schema(required)]
    after: Option<Session>,
    /// Why.
    why: String,
}

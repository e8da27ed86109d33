//! A timetable that fits: two half hours on each of five days, and as many adults as give each group three sessions.
//!
//! In:  the groups of a plan. Out: one school of up to 120 groups with the groups it has to place; no school has a
//! district's timetable, so of a district the first such school stands for all.

use sheaf_core::plan::Plan;
use sheaf_core::roster::{Block, Day, Minutes, School, StaffMember, Station, TimeSpan};
use sheaf_core::rotation::{GroupToPlace, Member};

/// Most groups of one school.
const SCHOOL_GROUPS: usize = 120;
const SESSIONS: usize = 3;

/// The school and its groups.
pub fn school(plan: &Plan) -> (School, Vec<GroupToPlace>) {
    let n_groups = plan.groups.len().min(SCHOOL_GROUPS);
    (school_of(n_groups), (0..n_groups).map(|group_idx| group_to_place(plan, group_idx)).collect())
}

fn group_to_place(plan: &Plan, group_idx: usize) -> GroupToPlace {
    let group = &plan.groups[group_idx];
    let member = |&student_idx: &usize| {
        let student = &plan.students[student_idx];
        Member { id: student.id.clone(), homeroom: student.homeroom.clone() }
    };
    GroupToPlace {
        id: group.id.clone(),
        members: group.members.iter().map(member).collect(),
        need: group.need,
        is_intensive: group.is_intensive,
        sessions_wanted: Some(SESSIONS),
        skill: group.target_skill.to_string(),
    }
}

fn school_of(n_groups: usize) -> School {
    let blocks: Vec<Block> =
        Day::ALL.iter().flat_map(|&day| [block(day, "09:00", "09:30"), block(day, "13:00", "13:30")]).collect();
    let n_adults = (n_groups * SESSIONS).div_ceil(blocks.len());
    let ids: Vec<String> = blocks.iter().map(|block| block.id.clone()).collect();
    let adult =
        |adult_idx: usize| StaffMember { name: format!("Adult {}", adult_idx + 1), blocks: ids.clone(), leads: true };
    School {
        staff: (0..n_adults).map(adult).collect(),
        stations: vec![Station { name: "Teacher table".to_owned(), staffed: true, capacity: 1 }],
        blocks,
        ..School::default()
    }
}

fn block(day: Day, start: &str, end: &str) -> Block {
    let (start, end) = (Minutes::parse(start).unwrap(), Minutes::parse(end).unwrap());
    let time = TimeSpan::new(day, start, end).unwrap();
    Block { id: format!("{}-{start}", day.short()), time, homerooms: Vec::new() }
}

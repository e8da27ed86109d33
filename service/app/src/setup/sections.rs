//! The keys of each section, with their ranges.
//!
//! One function a section; each refuses keys that it does not know. Names of blocks are checked at the end, when all are read.

use super::reader::Section;
use crate::error::AppError;
use jiff::civil::Date;
use sheaf_core::roster::{
    Block, Busy, BusyWhen, BusyWho, Day, GroupCount, Include, Minutes, OmittedCounts, Room, School, StaffMember,
    Station, StudentId, TimeSpan, Within,
};
use std::collections::BTreeSet;

/// Largest group that the setup may name; more is a class.
const MOST_IN_GROUP: usize = 40;
/// Largest count of anything else.
const MANY: usize = 10_000;

pub fn read_all(root: &Section<'_>, school: &mut School) -> Result<(), AppError> {
    if let Some(section) = root.table("groups")? {
        read_groups(&section, school)?;
    }
    if let Some(section) = root.table("intensive")? {
        read_intensive(&section, school)?;
    }
    if let Some(section) = root.table("mastery")? {
        read_mastery(&section, school)?;
    }
    school.blocks = read_list(root, "block", read_block)?;
    school.staff = read_list(root, "staff", read_staff)?;
    school.rooms = read_list(root, "room", read_room)?;
    school.stations = read_list(root, "station", read_station)?;
    school.busy = read_list(root, "busy", read_busy)?;
    if let Some(section) = root.table("ticket")? {
        section.only_known(&["items"])?;
        school.ticket.items = section.whole("items", 1..=10)?.unwrap_or(school.ticket.items);
    }
    if let Some(section) = root.table("core")? {
        section.only_known(&["skills"])?;
        school.core.skills = section.texts("skills")?.unwrap_or_default();
    }
    if let Some(section) = root.table("limits")? {
        read_limits(&section, school)?;
    }
    if let Some(section) = root.table("cycle")? {
        read_cycle(&section, school)?;
    }
    Ok(())
}

fn read_list<T>(
    root: &Section<'_>,
    key: &'static str,
    read: impl Fn(&Section<'_>) -> Result<T, AppError>,
) -> Result<Vec<T>, AppError> {
    root.tables(key)?.unwrap_or_default().iter().map(read).collect()
}

fn read_groups(section: &Section<'_>, school: &mut School) -> Result<(), AppError> {
    section.only_known(&[
        "include",
        "within",
        "min_size",
        "max_size",
        "count",
        "sessions",
        "keep_apart",
        "keep_together",
        "max_swap_share",
    ])?;
    let groups = &mut school.groups;
    let include = section.word("include", &[("need", Include::Need), ("all", Include::All)])?;
    groups.include = include.unwrap_or(groups.include);
    let within = [("grade", Within::Grade), ("homeroom", Within::Homeroom), ("all", Within::All)];
    groups.within = section.word("within", &within)?.unwrap_or(groups.within);
    (groups.min_size, groups.max_size) = read_sizes(section, groups.min_size, groups.max_size)?;
    if section.has("count") {
        groups.count = match section.text("count") {
            Ok(Some(word)) if word == "auto" => GroupCount::Auto,
            Ok(_) => return Err(section.mistake_at("count", "groups.count must be \"auto\" or a whole number")),
            Err(_) => section.whole("count", 1..=MANY)?.map_or(GroupCount::Auto, GroupCount::Fixed),
        };
    }
    groups.sessions = section.whole("sessions", 1..=25)?;
    for pair in section.text_lists("keep_apart")?.unwrap_or_default() {
        let ids: Vec<StudentId> = pair.iter().filter_map(|id| StudentId::parse(id)).collect();
        if ids.len() < 2 {
            return Err(section.mistake_at("keep_apart", "each entry of groups.keep_apart needs two ids"));
        }
        for (i, a) in ids.iter().enumerate() {
            groups.keep_apart.extend(ids[i + 1..].iter().map(|b| (a.clone(), b.clone())));
        }
    }
    for set in section.text_lists("keep_together")?.unwrap_or_default() {
        groups.keep_together.push(set.iter().filter_map(|id| StudentId::parse(id)).collect());
    }
    groups.max_swap_share = section.share("max_swap_share", 0.0..=1.0)?.unwrap_or(groups.max_swap_share);
    Ok(())
}

fn read_sizes(section: &Section<'_>, min: usize, max: usize) -> Result<(usize, usize), AppError> {
    let given_min = section.whole("min_size", 1..=MOST_IN_GROUP)?;
    let given_max = section.whole("max_size", 1..=MOST_IN_GROUP)?;
    let (min_size, max_size) = (given_min.unwrap_or(min), given_max.unwrap_or(max));
    if min_size > max_size {
        let at = if given_min.is_some() { "min_size" } else { "max_size" };
        return Err(section.mistake_at(at, &format!("min_size {min_size} is above max_size {max_size}; set both")));
    }
    Ok((min_size, max_size))
}

fn read_intensive(section: &Section<'_>, school: &mut School) -> Result<(), AppError> {
    section.only_known(&["students", "min_size", "max_size", "sessions"])?;
    let intensive = &mut school.intensive;
    let students = section.texts("students")?.unwrap_or_default();
    intensive.students = students.iter().filter_map(|id| StudentId::parse(id)).collect();
    (intensive.min_size, intensive.max_size) = read_sizes(section, intensive.min_size, intensive.max_size)?;
    intensive.sessions = section.whole("sessions", 1..=25)?.unwrap_or(intensive.sessions);
    Ok(())
}

fn read_mastery(section: &Section<'_>, school: &mut School) -> Result<(), AppError> {
    section.only_known(&["omitted", "cut", "confirm"])?;
    let words = [("ignore", OmittedCounts::Nothing), ("wrong", OmittedCounts::Wrong)];
    school.mastery.omitted = section.word("omitted", &words)?.unwrap_or(school.mastery.omitted);
    school.mastery.cut = section.share("cut", 0.05..=1.0)?.unwrap_or(school.mastery.cut);
    school.mastery.confirm = section.whole("confirm", 1..=20)?.unwrap_or(school.mastery.confirm);
    Ok(())
}

fn read_time(section: &Section<'_>) -> Result<TimeSpan, AppError> {
    let day = section.needed_text("day")?;
    let day = Day::parse(&day).ok_or_else(|| {
        section.mistake_at("day", &format!("{day} is not a school day; write Mon, Tue, Wed, Thu or Fri"))
    })?;
    let minutes = |key: &str| -> Result<Minutes, AppError> {
        let text = section.needed_text(key)?;
        Minutes::parse(&text)
            .ok_or_else(|| section.mistake_at(key, &format!("{text} is not a time of day; write it like 09:30")))
    };
    TimeSpan::new(day, minutes("start")?, minutes("end")?).map_err(|e| section.mistake_at("end", &e.to_string()))
}

fn read_block(section: &Section<'_>) -> Result<Block, AppError> {
    section.only_known(&["id", "day", "start", "end", "homerooms"])?;
    Ok(Block {
        id: section.needed_text("id")?,
        time: read_time(section)?,
        homerooms: section.texts("homerooms")?.unwrap_or_default(),
    })
}

fn read_staff(section: &Section<'_>) -> Result<StaffMember, AppError> {
    section.only_known(&["name", "blocks", "leads"])?;
    Ok(StaffMember {
        name: section.needed_text("name")?,
        blocks: section.texts("blocks")?.unwrap_or_default(),
        leads: section.yes_no("leads")?.unwrap_or(true),
    })
}

fn read_room(section: &Section<'_>) -> Result<Room, AppError> {
    section.only_known(&["name", "seats", "blocks"])?;
    let seats = section.whole("seats", 1..=MANY)?;
    Ok(Room {
        name: section.needed_text("name")?,
        seats: seats.ok_or_else(|| section.mistake("this [[room]] needs seats"))?,
        blocks: section.texts("blocks")?.unwrap_or_default(),
    })
}

fn read_station(section: &Section<'_>) -> Result<Station, AppError> {
    section.only_known(&["name", "staffed", "capacity"])?;
    Ok(Station {
        name: section.needed_text("name")?,
        staffed: section.yes_no("staffed")?.unwrap_or(true),
        capacity: section.whole("capacity", 1..=MANY)?.unwrap_or(1),
    })
}

fn read_busy(section: &Section<'_>) -> Result<Busy, AppError> {
    section.only_known(&["homeroom", "student", "day", "start", "end", "blocks"])?;
    let who = match (section.text("homeroom")?, section.text("student")?) {
        (Some(homeroom), None) => BusyWho::Homeroom(homeroom),
        (None, Some(id)) => BusyWho::Student(
            StudentId::parse(&id).ok_or_else(|| section.mistake_at("student", "busy.student must be an id"))?,
        ),
        _ => return Err(section.mistake("each [[busy]] needs either homeroom or student")),
    };
    let when = match section.texts("blocks")? {
        Some(blocks) => BusyWhen::Blocks(blocks),
        None => BusyWhen::Span(read_time(section)?),
    };
    Ok(Busy { who, when })
}

fn read_limits(section: &Section<'_>, school: &mut School) -> Result<(), AppError> {
    section.only_known(&["max_departures", "max_pullouts", "walk_minutes", "max_in_a_row"])?;
    school.limits.max_departures = section.whole("max_departures", 1..=MANY)?;
    school.limits.max_pullouts = section.whole("max_pullouts", 1..=25)?;
    school.limits.walk_minutes = section.whole("walk_minutes", 0..=120)?.map(|m| m as u16);
    school.limits.max_in_a_row = section.whole("max_in_a_row", 1..=25)?;
    Ok(())
}

fn read_cycle(section: &Section<'_>, school: &mut School) -> Result<(), AppError> {
    section.only_known(&["starts", "weeks"])?;
    if let Some(text) = section.text("starts")? {
        let date: Date = text
            .parse()
            .map_err(|_| section.mistake_at("starts", "cycle.starts must be a date like \"2026-01-26\""))?;
        if date.weekday() != jiff::civil::Weekday::Monday {
            return Err(section.mistake_at("starts", &format!("cycle.starts must be a Monday; {text} is not")));
        }
        school.cycle.starts = Some(date);
    }
    school.cycle.weeks = section.whole("weeks", 1..=52)?.unwrap_or(school.cycle.weeks);
    Ok(())
}

/// Names are unique, and every block that is named exists.
pub fn check_names(root: &Section<'_>, school: &School) -> Result<(), AppError> {
    for (key, field) in [("block", "id"), ("staff", "name"), ("room", "name"), ("station", "name")] {
        let mut seen = BTreeSet::new();
        for section in root.tables(key)?.unwrap_or_default() {
            let name = section.needed_text(field)?;
            if !seen.insert(name.clone()) {
                return Err(
                    section.mistake_at(field, &format!("{key} {name} is there twice; give each its own {field}"))
                );
            }
        }
    }
    let ids: Vec<&str> = school.blocks.iter().map(|b| b.id.as_str()).collect();
    for key in ["staff", "room", "busy"] {
        for section in root.tables(key)?.unwrap_or_default() {
            for block in section.texts("blocks")?.unwrap_or_default() {
                if !ids.contains(&block.as_str()) {
                    let nearest = ids.iter().max_by(|a, b| strsim::jaro(a, &block).total_cmp(&strsim::jaro(b, &block)));
                    let hint = nearest.map_or("; there is no [[block]]".to_owned(), |n| format!("; did you mean {n}?"));
                    return Err(section.mistake_at("blocks", &format!("there is no block {block}{hint}")));
                }
            }
        }
    }
    Ok(())
}

//! `[[block]]`, `[[staff]]`, `[[room]]`, `[[station]]` and `[[busy]]`: when, who, where.
//!
//! Keeps: ids and names are unique, and every block that is named exists (`names_are_unique`, `an_unknown_block_names_the_nearest`).
//! Blocks that overlap are fine, even for one adult: the rotation gives each adult one place at a time. Where an adult's own list
//! names two that overlap, that is remarked with its line (`blocks_of_one_adult_that_overlap_are_remarked`).

use super::MANY;
use super::keys::{BLOCK, BUSY, Keys, ROOM, STAFF, STATION, nearest};
use super::reader::{Placed, Section};
use crate::error::AppError;
use sheaf_core::finding::Finding;
use sheaf_core::roster::{
    Block, Busy, BusyWhen, BusyWho, Day, Minutes, Room, School, StaffMember, Station, StudentId, TimeSpan,
};
use std::collections::HashSet;

/// The whole day, for somebody who is busy on it.
const MIDNIGHT_AFTER: Minutes = Minutes(24 * 60);

pub fn read_timetable(root: &Section<'_>, school: &mut School) -> Result<(), AppError> {
    school.blocks = read_each(root, &BLOCK, Some("id"), read_block)?;
    let ids: Vec<String> = school.blocks.iter().map(|b| b.id.clone()).collect();
    school.staff = read_each(root, &STAFF, Some("name"), |s| read_staff(s, &ids))?;
    if root.has(STAFF.section) && school.staff.is_empty() && !school.blocks.is_empty() {
        let what =
            "staff is empty beside blocks, so nobody could lead; write a [[staff]] for each adult, or leave staff out";
        return Err(root.mistake_at(STAFF.section, what));
    }
    school.remarks.extend(overlaps(root, &school.blocks)?);
    school.rooms = read_each(root, &ROOM, Some("name"), |s| read_room(s, &ids))?;
    school.busy = read_each(root, &BUSY, None, |s| read_busy(s, &ids))?;
    if root.has(STATION.section) {
        school.stations = read_each(root, &STATION, Some("name"), read_station)?;
    }
    Ok(())
}

/// Reads each section of a name; where `unique` names a key, no two may share its value.
fn read_each<T>(
    root: &Section<'_>,
    keys: &'static Keys,
    unique: Option<&str>,
    read: impl Fn(&Section<'_>) -> Result<T, AppError>,
) -> Result<Vec<T>, AppError> {
    let mut seen = HashSet::new();
    let mut list = Vec::new();
    for section in root.sections(keys)? {
        if let Some(key) = unique {
            let name = section.needed_text(key)?;
            if seen.contains(&name) {
                let what = format!("{} {name} is there twice; give each its own {key}", keys.section);
                return Err(section.mistake_at(key, &what));
            }
            seen.insert(name);
        }
        list.push(read(&section)?);
    }
    Ok(list)
}

fn read_block(section: &Section<'_>) -> Result<Block, AppError> {
    let time = read_span(section)?.ok_or_else(|| section.mistake("this [[block]] needs start and end"))?;
    Ok(Block {
        id: section.needed_text("id")?,
        time,
        homerooms: plain(section.texts("homerooms")?.unwrap_or_default()),
    })
}

fn read_staff(section: &Section<'_>, ids: &[String]) -> Result<StaffMember, AppError> {
    Ok(StaffMember {
        name: section.needed_text("name")?,
        blocks: read_blocks(section, ids)?.unwrap_or_else(|| ids.to_vec()),
        leads: section.yes_no("leads")?.unwrap_or(true),
    })
}

/// A warning for each adult who is listed for blocks that overlap: one of them at a time is planned.
fn overlaps(root: &Section<'_>, blocks: &[Block]) -> Result<Vec<Finding>, AppError> {
    let mut findings = Vec::new();
    for section in root.sections(&STAFF)? {
        let ids = section.texts("blocks")?.unwrap_or_default();
        let named: Vec<&Block> = ids.iter().filter_map(|id| blocks.iter().find(|b| b.id == *id.get_ref())).collect();
        let mut pairs = named.iter().enumerate().flat_map(|(n, a)| named[n + 1..].iter().map(move |b| (a, b)));
        if let Some((a, b)) = pairs.find(|(a, b)| a.id != b.id && a.time.overlaps(&b.time)) {
            let name = section.needed_text("name")?;
            let what = format!("staff.blocks of {name} names {} and {}, which overlap", a.id, b.id);
            let message = section.mistake_at("blocks", &what).message;
            findings.push(Finding::warning(
                "blocks-overlap",
                message,
                "one of them at a time is planned for this adult",
            ));
        }
    }
    Ok(findings)
}

fn read_room(section: &Section<'_>, ids: &[String]) -> Result<Room, AppError> {
    let seats = section.whole("seats", 1..=MANY)?;
    Ok(Room {
        name: section.needed_text("name")?,
        seats: seats.ok_or_else(|| section.mistake("this [[room]] needs seats"))?,
        blocks: read_blocks(section, ids)?.unwrap_or_default(),
    })
}

fn read_station(section: &Section<'_>) -> Result<Station, AppError> {
    Ok(Station {
        name: section.needed_text("name")?,
        staffed: section.yes_no("staffed")?.unwrap_or(true),
        capacity: section.whole("capacity", 1..=MANY)?.unwrap_or(1),
    })
}

fn read_busy(section: &Section<'_>, ids: &[String]) -> Result<Busy, AppError> {
    Ok(Busy { who: read_busy_who(section)?, when: read_busy_when(section, ids)? })
}

fn read_busy_who(section: &Section<'_>) -> Result<BusyWho, AppError> {
    let student = section.text("student")?.and_then(|id| StudentId::parse(&id));
    match (section.text("homeroom")?, student) {
        (Some(homeroom), None) => Ok(BusyWho::Homeroom(homeroom)),
        (None, Some(id)) => Ok(BusyWho::Student(id)),
        (Some(_), Some(_)) => {
            Err(section.mistake("this [[busy]] names a homeroom and a student; write one section for each"))
        }
        (None, None) => Err(section.mistake("this [[busy]] needs homeroom or student")),
    }
}

fn read_busy_when(section: &Section<'_>, ids: &[String]) -> Result<BusyWhen, AppError> {
    let clock = ["day", "start", "end"].into_iter().find(|key| section.has(key));
    match (read_blocks(section, ids)?, clock) {
        (Some(_), Some(key)) => {
            Err(section
                .mistake_at(key, &format!("this [[busy]] has both blocks and {key}; write one section for each")))
        }
        (Some(blocks), None) => Ok(BusyWhen::Blocks(blocks)),
        (None, None) => {
            Err(section.mistake("this [[busy]] needs day (with start and end, or alone for all day) or blocks"))
        }
        (None, Some(_)) => {
            let whole_day = |day| TimeSpan { day, start: Minutes(0), end: MIDNIGHT_AFTER };
            Ok(BusyWhen::Span(read_span(section)?.map_or_else(|| read_day(section).map(whole_day), Ok)?))
        }
    }
}

fn read_day(section: &Section<'_>) -> Result<Day, AppError> {
    let text = section.needed_text("day")?;
    Day::parse(&text).ok_or_else(|| {
        section.mistake_at("day", &format!("{text} is not a school day; write Mon, Tue, Wed, Thu or Fri"))
    })
}

/// A part of a day; `None` where neither start nor end is given.
fn read_span(section: &Section<'_>) -> Result<Option<TimeSpan>, AppError> {
    let day = read_day(section)?;
    match (read_minutes(section, "start")?, read_minutes(section, "end")?) {
        (Some(start), Some(end)) => {
            let span = TimeSpan::new(day, start, end);
            span.map(Some).map_err(|e| section.mistake_at("end", &format!("{e}; give an end after the start")))
        }
        (None, None) => Ok(None),
        (Some(_), None) => {
            Err(section.mistake_at("start", &format!("this {} has start but no end", section.heading())))
        }
        (None, Some(_)) => Err(section.mistake_at("end", &format!("this {} has end but no start", section.heading()))),
    }
}

fn read_minutes(section: &Section<'_>, key: &str) -> Result<Option<Minutes>, AppError> {
    let Some(text) = section.text(key)? else { return Ok(None) };
    // A time without quotes comes with its seconds.
    let minutes = text.strip_suffix(":00").and_then(Minutes::parse).or_else(|| Minutes::parse(&text));
    let what = || format!("{text} is not a time of day; write it like \"09:30\"");
    minutes.map(Some).ok_or_else(|| section.mistake_at(key, &what()))
}

/// Ids of blocks, each of which exists.
fn read_blocks(section: &Section<'_>, ids: &[String]) -> Result<Option<Vec<String>>, AppError> {
    let Some(named) = section.texts("blocks")? else { return Ok(None) };
    for block in &named {
        if !ids.contains(block.get_ref()) {
            let hint = nearest(block.get_ref(), ids.iter().map(String::as_str))
                .map_or("add a [[block]] with this id".to_owned(), |near| format!("the nearest is {near}"));
            return Err(section
                .source
                .mistake(block.span().start, &format!("there is no block {}; {hint}", block.get_ref())));
        }
    }
    Ok(Some(plain(named)))
}

fn plain(texts: Vec<Placed>) -> Vec<String> {
    texts.into_iter().map(Placed::into_inner).collect()
}

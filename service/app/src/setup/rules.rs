//! `[mastery]`, `[ticket]`, `[core]`, `[limits]`, `[cycle]`, `[reading]` and `[records]`: single figures.
//! Ranges are checked here, one key at a time; names of blocks and people belong to `timetable`.

use super::MANY;
use super::keys::{CORE, CYCLE, LIMITS, MASTERY, READING, RECORDS, TICKET};
use super::reader::{Section, ShareRange};
use crate::error::AppError;
use jiff::civil::{Date, Weekday};
use sheaf_core::roster::{
    CoreLessons, Cycle, Limits, MasterySettings, OmittedCounts, ReadingLimits, RecordSettings, TicketSettings,
};
use sheaf_core::skills::SkillCode;
/// Years for which records stay after their end, at most.
const MOST_YEARS: usize = 20;

/// Longest walk that is believed, minutes.
const LONGEST_WALK: usize = 240;
/// Rows and columns of any spreadsheet program, and the largest file that reading is tested with, MiB.
const MOST_ROWS: usize = 1_048_576;
const MOST_COLUMNS: usize = 16_384;
const MOST_MEGABYTES: usize = 50;
/// Longest time for which originals are kept, weeks: ten years.
const LONGEST_KEPT: usize = 520;
/// Smallest counts that may be told: one alone would hide nothing.
const SMALLEST_COUNTS: std::ops::RangeInclusive<usize> = 2..=1000;
/// Most items on a ticket.
const MOST_ITEMS: usize = 10;

pub fn read_mastery(root: &Section<'_>, built_in: MasterySettings) -> Result<MasterySettings, AppError> {
    let Some(section) = root.section(&MASTERY)? else { return Ok(built_in) };
    let words = [("ignore", OmittedCounts::Nothing), ("wrong", OmittedCounts::Wrong)];
    Ok(MasterySettings {
        omitted: section.word("omitted", &words)?.unwrap_or(built_in.omitted),
        cut: section.share("cut", ShareRange::AboveZero)?.unwrap_or(built_in.cut),
        confirm: section.whole("confirm", 1..=MANY)?.unwrap_or(built_in.confirm),
        half_life_weeks: section.whole("half_life_weeks", 1..=MANY)?.unwrap_or(built_in.half_life_weeks),
    })
}

pub fn read_ticket(root: &Section<'_>, built_in: TicketSettings) -> Result<TicketSettings, AppError> {
    let Some(section) = root.section(&TICKET)? else { return Ok(built_in) };
    Ok(TicketSettings { items: section.whole("items", 1..=MOST_ITEMS)?.unwrap_or(built_in.items) })
}

pub fn read_core(root: &Section<'_>) -> Result<CoreLessons, AppError> {
    let Some(section) = root.section(&CORE)? else { return Ok(CoreLessons::default()) };
    let given = section.texts("skills")?.unwrap_or_default();
    let codes = given.iter().filter_map(|code| SkillCode::parse(code.get_ref()));
    Ok(CoreLessons { skills: codes.map(|code| code.to_string()).collect() })
}

pub fn read_limits(root: &Section<'_>) -> Result<Limits, AppError> {
    let Some(section) = root.section(&LIMITS)? else { return Ok(Limits::default()) };
    let walk_minutes = section.whole("walk_minutes", 0..=LONGEST_WALK)?;
    Ok(Limits {
        max_departures: section.whole("max_departures", 1..=MANY)?,
        max_pullouts: section.whole("max_pullouts", 1..=MANY)?,
        walk_minutes: walk_minutes.and_then(|minutes| minutes.try_into().ok()),
        max_in_a_row: section.whole("max_in_a_row", 1..=MANY)?,
    })
}

pub fn read_cycle(root: &Section<'_>, built_in: Cycle) -> Result<Cycle, AppError> {
    let Some(section) = root.section(&CYCLE)? else { return Ok(built_in) };
    Ok(Cycle {
        starts: read_monday(&section)?.or(built_in.starts),
        weeks: section.whole("weeks", 1..=MANY)?.unwrap_or(built_in.weeks),
    })
}

pub fn read_reading(root: &Section<'_>, built_in: ReadingLimits) -> Result<ReadingLimits, AppError> {
    let Some(section) = root.section(&READING)? else { return Ok(built_in) };
    Ok(ReadingLimits {
        max_megabytes: section.whole("max_megabytes", 1..=MOST_MEGABYTES)?.unwrap_or(built_in.max_megabytes),
        max_rows: section.whole("max_rows", 1..=MOST_ROWS)?.unwrap_or(built_in.max_rows),
        max_columns: section.whole("max_columns", 1..=MOST_COLUMNS)?.unwrap_or(built_in.max_columns),
    })
}

pub fn read_records(root: &Section<'_>, built_in: RecordSettings) -> Result<RecordSettings, AppError> {
    let Some(section) = root.section(&RECORDS)? else { return Ok(built_in) };
    let weeks = section.whole("keep_originals_weeks", 1..=LONGEST_KEPT)?;
    let smallest = section.whole("smallest_count", SMALLEST_COUNTS)?;
    Ok(RecordSettings {
        keep_originals_weeks: weeks.unwrap_or(built_in.keep_originals_weeks),
        smallest_count: smallest.unwrap_or(built_in.smallest_count),
        year_begins: read_day_of_year(&section)?.unwrap_or(built_in.year_begins),
        keep_years: section.whole("keep_years", 0..=MOST_YEARS)?.unwrap_or(built_in.keep_years),
    })
}

/// Month and day, such as "08-01"; a day that not every year has is none.
fn read_day_of_year(section: &Section<'_>) -> Result<Option<(i8, i8)>, AppError> {
    let Some(text) = section.text("year_begins")? else { return Ok(None) };
    let is_written_so = text.len() == 5 && text.as_bytes()[2] == b'-';
    let date = is_written_so.then(|| format!("2025-{text}").parse::<Date>().ok()).flatten();
    date.map(|d| Some((d.month(), d.day()))).ok_or_else(|| {
        let what =
            format!("{text} is not a day of every year; write records.year_begins like \"08-01\", month and day");
        section.mistake_at("year_begins", &what)
    })
}

fn read_monday(section: &Section<'_>) -> Result<Option<Date>, AppError> {
    let Some(text) = section.text("starts")? else { return Ok(None) };
    let date: Date = text.parse().map_err(|_| {
        section.mistake_at("starts", &format!("{text} is not a date; write cycle.starts like \"2026-01-26\""))
    })?;
    if date.weekday() == Weekday::Monday {
        return Ok(Some(date));
    }
    Err(section
        .mistake_at("starts", &format!("{text} is not a Monday; give cycle.starts the Monday of the first week")))
}

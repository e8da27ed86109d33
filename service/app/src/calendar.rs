//! A calendar file for one adult: the sessions of a week as RFC 5545 has them.
//!
//! In:  a plan, the adult, the week's Monday. Out: the text of an .ics file. Times are local and float, as a school's timetable does.
//! Written here and not by a library: the kept ones stamp entries by clock and random number, and this file must be the same twice.
//! Keeps: 1. no child's name or id is in it (`no_child_is_in_a_calendar`); 2. lines end in CRLF and are folded at 75 octets
//! (`long_lines_are_folded_between_letters`); 3. a UID is that of the adult's block in the week, whatever is planned in it, so that
//! a repaired plan replaces its entries (`the_same_block_keeps_its_uid`).
//! Source: RFC 5545, sections 3.1 (folding), 3.3.11 (escapes), 3.6.1 (events), 3.8.4.7 (UID).

use jiff::ToSpan;
use jiff::civil::Date;
use sheaf_core::plan::Plan;
use sheaf_core::roster::{Day, Minutes};
use sheaf_core::rotation::Session;

/// Octets of a line without its break.
const LINE_OCTETS: usize = 75;

/// The calendar of one adult.
#[must_use]
pub fn calendar(plan: &Plan, monday: Date, adult: &str) -> String {
    let mut lines: Vec<String> =
        ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Sheaf//Rotation//EN", "CALSCALE:GREGORIAN"]
            .map(str::to_owned)
            .to_vec();
    for session in plan.rotation.iter().filter(|s| s.staff.as_deref() == Some(adult)) {
        lines.extend(event(plan, monday, adult, session));
    }
    lines.push("END:VCALENDAR".to_owned());
    lines.iter().flat_map(|line| folded(line)).map(|line| line + "\r\n").collect()
}

fn event(plan: &Plan, monday: Date, adult: &str, session: &Session) -> Vec<String> {
    let day = date_of(monday, session.time.day);
    let at = |minute: Minutes| format!("{}T{:02}{:02}00", compact(day), minute.0 / 60, minute.0 % 60);
    let group = plan.group_name(&session.group);
    let mut lines = vec![
        "BEGIN:VEVENT".to_owned(),
        format!("UID:{monday}.{}.{}@sheaf.invalid", plain(&session.block), plain(adult)),
        // The stamp is the week's, since the clock would change the file.
        format!("DTSTAMP:{}T000000Z", compact(monday)),
        format!("DTSTART:{}", at(session.time.start)),
        format!("DTEND:{}", at(session.time.end)),
        format!("SUMMARY:{}", escaped(&format!("{group}, {}", session.station))),
    ];
    if let Some(room) = &session.room {
        lines.push(format!("LOCATION:{}", escaped(room)));
    }
    lines.push(format!("DESCRIPTION:{}", escaped(&format!("Target {}", session.skill))));
    lines.push("END:VEVENT".to_owned());
    lines
}

fn date_of(monday: Date, day: Day) -> Date {
    let n_after = Day::ALL.iter().position(|d| *d == day).unwrap_or(0) as i64;
    monday.saturating_add(n_after.days())
}

fn compact(date: Date) -> String {
    date.to_string().replace('-', "")
}

/// Letters and digits stay; everything else becomes its number, so that two names never share one.
fn plain(name: &str) -> String {
    let letter =
        |c: char| if c.is_ascii_alphanumeric() || c == '-' { c.to_string() } else { format!("_{:x}", c as u32) };
    name.chars().map(letter).collect()
}

fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\").replace(';', "\\;").replace(',', "\\,").replace(['\r', '\n'], " ")
}

/// Pieces of at most 75 octets, all but the first begun by a space.
fn folded(line: &str) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for letter in line.chars() {
        let is_full = pieces.last().is_some_and(|p| p.len() + letter.len_utf8() > LINE_OCTETS);
        if is_full {
            pieces.push(" ".to_owned());
        }
        if let Some(piece) = pieces.last_mut() {
            piece.push(letter);
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weeks::{GivenFile, Keeping, SchoolSetup, Week, Weeks};
    use std::sync::Arc;

    const SETUP: &str = "[[block]]\nid = \"mon-1\"\nday = \"Mon\"\nstart = \"09:00\"\nend = \"09:30\"\n[[block]]\nid = \"fri 1\"\nday = \"Fri\"\nstart = \"13:05\"\nend = \"13:35\"\n\
        [[staff]]\nname = \"Frau Ähre, Raum; 1\"\n[[room]]\nname = \"Nook, upstairs\"\nseats = 9\n";
    const QUIZ: &str = "student_id,student,class,Q1,Q2,Q3\n,,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a\n,,key,A,B,C\n\
        0001,Ada Ash,5P,B,A,A\n0002,Bo Birch,5P,B,A,B\n0003,Cy Cedar,5P,C,A,A\n";
    const ADULT: &str = "Frau Ähre, Raum; 1";

    fn planned() -> (Weeks, Week) {
        let weeks = Weeks::in_memory(SchoolSetup::parse("school.toml", SETUP).unwrap()).unwrap();
        let week = Week::parse("2026-02-02").unwrap();
        let quiz = GivenFile { name: "quiz.csv".to_owned(), bytes: QUIZ.as_bytes().to_vec() };
        weeks.take_in(week, vec![quiz], None, Keeping::Keep).unwrap();
        weeks.plan_week(week, None).unwrap();
        (weeks, week)
    }

    fn text() -> String {
        let (weeks, week) = planned();
        let plan: Arc<_> = weeks.plan(week).unwrap();
        calendar(&plan.plan, week.monday(), ADULT)
    }

    fn unfolded(text: &str) -> String {
        text.replace("\r\n ", "")
    }

    #[test]
    fn a_session_is_an_event_at_its_local_time() {
        let text = unfolded(&text());
        assert!(
            text.starts_with("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n") && text.ends_with("END:VCALENDAR\r\n"),
            "{text}"
        );
        assert!(text.contains("DTSTART:20260206T130500\r\nDTEND:20260206T133500\r\n"), "{text}");
        assert!(
            text.contains("LOCATION:Nook\\, upstairs\r\n") && text.contains("SUMMARY:Group 1\\, Teacher table\r\n"),
            "{text}"
        );
        assert_eq!(text.matches("BEGIN:VEVENT").count(), 2);
    }

    #[test]
    fn no_child_is_in_a_calendar() {
        let text = text();
        for word in ["Ada", "Ash", "Bo Birch", "Cedar", "0001", "0002", "0003"] {
            assert!(!text.contains(word), "{word}");
        }
    }

    #[test]
    fn long_lines_are_folded_between_letters() {
        let text = text();
        for line in text.split_terminator("\r\n") {
            assert!(line.len() <= LINE_OCTETS && !line.contains(['\r', '\n']), "{line}");
        }
        let long = "é".repeat(60);
        let pieces = folded(&long);
        assert!(pieces.len() == 2 && pieces.iter().all(|p| p.len() <= LINE_OCTETS), "{pieces:?}");
        assert_eq!(pieces.concat().replace(' ', ""), long);
    }

    #[test]
    fn the_same_block_keeps_its_uid() {
        let text = unfolded(&text());
        let uids: Vec<&str> = text.split("\r\n").filter(|l| l.starts_with("UID:")).collect();
        assert_eq!(
            uids,
            [
                "UID:2026-02-02.mon-1.Frau_20_c4hre_2c_20Raum_3b_201@sheaf.invalid",
                "UID:2026-02-02.fri_201.Frau_20_c4hre_2c_20Raum_3b_201@sheaf.invalid"
            ]
        );
        assert_eq!(text, unfolded(&self::text()));
    }
}

//! Attendance laid on weeks: dates say which week a session was in; sessions without a date belong to the week that is meant.
//!
//! Keeps: a dated session never counts for another week (`dates_decide_the_week`); who is noted but not known is told once.
//! Not here: reading the sheet (`sheaf-sheets`), what it comes to (`sheaf_core::movement`).

use crate::weeks::Week;
use sheaf_core::finding::Finding;
use sheaf_core::movement::{Attendance, AttendanceRow, HeldSession};
use sheaf_core::roster::StudentId;
use std::collections::{BTreeMap, BTreeSet};

/// Ids named in a finding; the rest is counted.
const NAMED: usize = 5;

/// The sessions of each week, with the marks of those noted there. `meant` is the week of sessions without a date; where it
/// is unknown these are left out.
pub(crate) fn by_week(all: &Attendance, meant: Option<Week>) -> BTreeMap<Week, Attendance> {
    let week_of = |s: &HeldSession| s.date.map(Week::of).or(meant);
    let weeks: BTreeSet<Week> = all.sessions.iter().filter_map(week_of).collect();
    weeks.into_iter().map(|week| (week, sessions_where(all, |s| week_of(s) == Some(week)))).collect()
}

fn sessions_where(all: &Attendance, is_wanted: impl Fn(&HeldSession) -> bool) -> Attendance {
    let places: Vec<usize> = (0..all.sessions.len()).filter(|&i| is_wanted(&all.sessions[i])).collect();
    let row = |row: &AttendanceRow| {
        let marks: Vec<_> = places.iter().map(|&p| row.marks.get(p).copied().flatten()).collect();
        marks.iter().any(Option::is_some).then(|| AttendanceRow { student: row.student.clone(), marks })
    };
    Attendance {
        sessions: places.iter().map(|&p| all.sessions[p].clone()).collect(),
        rows: all.rows.iter().filter_map(row).collect(),
    }
}

/// A finding where sessions belong to other weeks than the one planned.
pub(crate) fn other_weeks(parts: &BTreeMap<Week, Attendance>, planned: Option<Week>) -> Option<Finding> {
    let others: Vec<String> = parts.keys().filter(|w| Some(**w) != planned).map(ToString::to_string).collect();
    (!others.is_empty()).then(|| {
        let message = format!("The attendance sheet has sessions of other weeks: {}.", others.join(", "));
        Finding::note("attendance-of-other-weeks", message, "not counted for this plan")
    })
}

/// A finding where somebody is noted whom no score sheet and no list knows.
pub(crate) fn unknown_students<'a>(
    attendance: &Attendance,
    known: impl IntoIterator<Item = &'a StudentId>,
) -> Option<Finding> {
    let known: BTreeSet<&StudentId> = known.into_iter().collect();
    let strangers: Vec<&StudentId> =
        attendance.rows.iter().map(|r| &r.student).filter(|id| !known.contains(id)).collect();
    (!strangers.is_empty()).then(|| {
        let shown = strangers.iter().take(NAMED).map(ToString::to_string).collect::<Vec<_>>().join(", ");
        let more = if strangers.len() > NAMED { ", …" } else { "" };
        let message =
            format!("The attendance sheet names {} who are in no score sheet or list: {shown}{more}.", strangers.len());
        Finding::warning(
            "attendance-of-unknown",
            message,
            "not counted; mend the ids where they should be the same child",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::{Date, date};
    use sheaf_core::movement::Presence;

    fn session(label: &str, date: Option<Date>) -> HeldSession {
        HeldSession { label: label.into(), day: None, date, start: None }
    }

    fn sheet() -> Attendance {
        let sessions =
            vec![session("a", Some(date(2026, 2, 3))), session("b", None), session("c", Some(date(2026, 2, 12)))];
        let here = Some(Presence::Present);
        let row = |id: &str, marks: [Option<Presence>; 3]| AttendanceRow {
            student: StudentId::parse(id).unwrap(),
            marks: marks.to_vec(),
        };
        Attendance { sessions, rows: vec![row("1", [here, None, here]), row("2", [None, here, None])] }
    }

    #[test]
    fn dates_decide_the_week() {
        let week = Week::of(date(2026, 2, 2));
        let parts = by_week(&sheet(), Some(week));
        let labels = |w: Week| parts[&w].sessions.iter().map(|s| s.label.clone()).collect::<Vec<_>>();
        assert_eq!(labels(week), ["a", "b"]);
        assert_eq!(labels(Week::of(date(2026, 2, 9))), ["c"]);
        assert_eq!((parts[&week].rows.len(), parts[&Week::of(date(2026, 2, 9))].rows.len()), (2, 1));
        assert_eq!(by_week(&sheet(), None).len(), 2, "a session of no week is left out");
        assert!(other_weeks(&parts, Some(week)).unwrap().message.contains("2026-02-09"));
    }

    #[test]
    fn strangers_are_told_once() {
        let known = [StudentId::parse("1").unwrap()];
        let finding = unknown_students(&sheet(), &known).unwrap();
        assert!(finding.message.contains("names 1 who") && finding.message.ends_with(": 2."), "{}", finding.message);
        assert_eq!(unknown_students(&sheet(), &[known[0].clone(), StudentId::parse("2").unwrap()]), None);
    }
}

//! Who was there: presence at the sessions of a week, and the minutes that it comes to.
//!
//! In:  a mark a student and session (present, late, absent, minutes), and the length of a session in minutes where the
//! timetable tells it. Out: for each student how many sessions were noted, at how many the child was there, and minutes
//! planned and received. Keeps: what was not noted counts neither for nor against anybody (`what_was_not_noted_does_not_count`);
//! late counts as there with the whole time, since no sheet says how late (common practice, no source); minutes typed stand as
//! they are. Not here: reading the sheet (`sheaf-sheets`), keeping it (`sheaf-store`).

use crate::roster::{Block, Day, Minutes, StudentId};
use jiff::civil::{Date, Weekday};

/// Under this share of the planned minutes a skill is not yet taught rather than not learnt. Common practice, no source.
pub const TAUGHT_FROM: f64 = 0.5;

/// What one cell says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Presence {
    /// There.
    Present,
    /// There, not from the beginning.
    Late,
    /// Not there.
    Absent,
    /// There for so many minutes; 0 is not there.
    Minutes(u16),
}

/// A session or day that a column stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeldSession {
    /// The column's heading.
    pub label: String,
    /// Its day, where the heading tells one.
    pub day: Option<Day>,
    /// Its date, where the heading tells one.
    pub date: Option<Date>,
    /// When it began, where the heading tells it.
    pub start: Option<Minutes>,
}

impl HeldSession {
    /// The school day, told by the heading or by the date; `None` on a weekend or where neither tells one.
    #[must_use]
    pub fn school_day(&self) -> Option<Day> {
        self.day.or_else(|| match self.date?.weekday() {
            Weekday::Monday => Some(Day::Mon),
            Weekday::Tuesday => Some(Day::Tue),
            Weekday::Wednesday => Some(Day::Wed),
            Weekday::Thursday => Some(Day::Thu),
            Weekday::Friday => Some(Day::Fri),
            _ => None,
        })
    }

    /// Length in minutes by the timetable: of the block that the heading names or that begins then; else of any block of
    /// that day, if all of them are equally long.
    #[must_use]
    pub fn length(&self, blocks: &[Block]) -> Option<u16> {
        let named = blocks.iter().find(|b| b.id == self.label);
        let of_day = |b: &&Block| self.school_day().is_none_or(|day| b.time.day == day);
        let started = || blocks.iter().filter(of_day).find(|b| self.start == Some(b.time.start));
        if let Some(block) = named.or_else(started) {
            return Some(minutes_of(block));
        }
        let mut lengths = blocks.iter().filter(of_day).map(minutes_of);
        let first = lengths.next()?;
        lengths.all(|l| l == first).then_some(first)
    }
}

fn minutes_of(block: &Block) -> u16 {
    block.time.end.0.saturating_sub(block.time.start.0)
}

/// One student's marks, one a session; `None`: not noted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AttendanceRow {
    /// Who.
    pub student: StudentId,
    /// As long as [`Attendance::sessions`].
    pub marks: Vec<Option<Presence>>,
}

/// Attendance of one week, a row a student.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Attendance {
    /// Sessions or days, in the order of the sheet.
    pub sessions: Vec<HeldSession>,
    /// Students, each once.
    pub rows: Vec<AttendanceRow>,
}

/// What a student got of the time planned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct TimeReceived {
    /// Sessions with a mark.
    pub n_sessions: usize,
    /// Of these, sessions at which the child was there.
    pub n_there: usize,
    /// Minutes of the sessions whose length is known.
    pub minutes_planned: u32,
    /// Minutes received of these.
    pub minutes_received: u32,
}

impl TimeReceived {
    /// Share of the planned time that was received, 0 to 1: of minutes where lengths are known, else of sessions; `None` where
    /// nothing was noted.
    #[must_use]
    pub fn share(&self) -> Option<f64> {
        let share = |part: f64, whole: f64| (whole > 0.0).then(|| (part / whole).min(1.0));
        share(f64::from(self.minutes_received), f64::from(self.minutes_planned))
            .or_else(|| share(self.n_there as f64, self.n_sessions as f64))
    }

    /// One sentence with counts; `None` where nothing was noted.
    #[must_use]
    pub fn sentence(&self) -> Option<String> {
        let share = self.share()?;
        let minutes = if self.minutes_planned > 0 {
            format!(" ({} of {} minutes)", self.minutes_received, self.minutes_planned)
        } else {
            String::new()
        };
        let doubt = if share < TAUGHT_FROM { ": not yet taught, rather than not learnt" } else { "" };
        let sessions = if self.n_sessions == 1 { "session" } else { "sessions" };
        Some(format!("There at {} of {} {sessions}{minutes}{doubt}.", self.n_there, self.n_sessions))
    }
}

impl Attendance {
    /// What each student got, in the order of the rows.
    ///
    /// `blocks` is the timetable that lengths are taken from; it may be empty.
    #[must_use]
    pub fn time_received(&self, blocks: &[Block]) -> Vec<(StudentId, TimeReceived)> {
        let lengths: Vec<Option<u16>> = self.sessions.iter().map(|s| s.length(blocks)).collect();
        let of_row = |row: &AttendanceRow| (row.student.clone(), received(&row.marks, &lengths));
        self.rows.iter().map(of_row).collect()
    }
}

fn received(marks: &[Option<Presence>], lengths: &[Option<u16>]) -> TimeReceived {
    let mut time = TimeReceived::default();
    for (mark, length) in marks.iter().zip(lengths) {
        let Some(mark) = mark else { continue };
        time.n_sessions += 1;
        let got = match mark {
            Presence::Present | Presence::Late => length.unwrap_or(0),
            Presence::Absent => 0,
            Presence::Minutes(minutes) => *minutes,
        };
        time.n_there += usize::from(!matches!(mark, Presence::Absent | Presence::Minutes(0)));
        if let Some(length) = length {
            time.minutes_planned += u32::from(*length);
            time.minutes_received += u32::from(got);
        }
    }
    time
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::TimeSpan;

    fn block(id: &str, day: Day, start: &str, end: &str) -> Block {
        let time = TimeSpan::new(day, Minutes::parse(start).unwrap(), Minutes::parse(end).unwrap()).unwrap();
        Block { id: id.into(), time, homerooms: Vec::new() }
    }

    fn session(label: &str, day: Option<Day>, start: Option<&str>) -> HeldSession {
        HeldSession { label: label.into(), day, date: None, start: start.and_then(Minutes::parse) }
    }

    fn one_row(sessions: Vec<HeldSession>, marks: Vec<Option<Presence>>) -> Attendance {
        Attendance { sessions, rows: vec![AttendanceRow { student: StudentId::parse("7").unwrap(), marks }] }
    }

    #[test]
    fn a_session_is_as_long_as_its_block() {
        let blocks = [block("mon-1", Day::Mon, "09:00", "09:30"), block("mon-2", Day::Mon, "10:00", "10:45")];
        assert_eq!(session("mon-2", None, None).length(&blocks), Some(45));
        assert_eq!(session("Mon 09:00", Some(Day::Mon), Some("09:00")).length(&blocks), Some(30));
        assert_eq!(session("Mon", Some(Day::Mon), None).length(&blocks), None, "two lengths that day");
        assert_eq!(session("Mon", Some(Day::Mon), None).length(&blocks[..1]), Some(30));
        assert_eq!(session("Tue", Some(Day::Tue), None).length(&blocks), None);
        let date = Some(jiff::civil::date(2026, 2, 2));
        assert_eq!(HeldSession { date, ..session("2 Feb", None, None) }.length(&blocks[..1]), Some(30));
    }

    #[test]
    fn what_was_not_noted_does_not_count() {
        let blocks = [block("mon-1", Day::Mon, "09:00", "09:30")];
        let sessions = vec![session("mon-1", None, None); 4];
        let marks = vec![Some(Presence::Late), None, Some(Presence::Absent), Some(Presence::Minutes(12))];
        let time = one_row(sessions, marks).time_received(&blocks)[0].1;
        assert_eq!((time.n_sessions, time.n_there, time.minutes_planned, time.minutes_received), (3, 2, 90, 42));
        assert_eq!(
            time.sentence().unwrap(),
            "There at 2 of 3 sessions (42 of 90 minutes): not yet taught, rather than not learnt."
        );
    }

    #[test]
    fn without_a_timetable_sessions_are_counted() {
        let sessions = vec![session("Session 1", None, None), session("Session 2", None, None)];
        let row = one_row(sessions, vec![Some(Presence::Present), Some(Presence::Absent)]);
        let time = row.time_received(&[])[0].1;
        assert_eq!((time.share(), time.sentence().unwrap().as_str()), (Some(0.5), "There at 1 of 2 sessions."));
        assert_eq!(TimeReceived::default().sentence(), None);
    }
}

//! Attendance by ticks: the sessions of each group with who is expected, and what a person ticked.
//!
//! In:  a week with a plan. Out: a [`GroupToTick`] for each group; a school without a timetable gets a session a school day. Ticked: the
//! sessions that were held, and who was there. Of a held session the others expected were absent.
//! Keeps: a session that nobody ticks stays as it was noted (`what_is_not_ticked_as_held_stays`), one whose tick was taken away is as if
//! it had never been noted (`a_tick_taken_away_takes_the_session_back`); who was noted late or with minutes and
//! is ticked stays so; a session that a sheet named otherwise keeps its name, so that no time counts twice
//! (`a_session_of_a_sheet_keeps_its_heading`). Not here: sheets of attendance (`attendance`), what it comes to (`sheaf-core`).

use super::plan_week::names_plan;
use super::{Week, Weeks};
use crate::error::{AppError, ErrorKind};
use sheaf_core::movement::{Attendance, AttendanceRow, HeldSession, Presence};
use sheaf_core::plan::{Group, Plan};
use sheaf_core::roster::{Day, StudentId};
use sheaf_core::rotation::Session;
use std::collections::{BTreeMap, BTreeSet};

/// One session of one group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SessionToTick {
    /// The session; its heading is that of the sheet where one has noted it.
    pub session: HeldSession,
    /// Who is expected, each with what was noted.
    pub expected: BTreeMap<StudentId, Option<Presence>>,
}

/// One group's sessions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GroupToTick {
    /// Id.
    pub group: String,
    /// Members, each with the name, in order of id.
    pub members: Vec<(StudentId, String)>,
    /// In order of time.
    pub sessions: Vec<SessionToTick>,
}

/// What a person ticked; sessions by group and their place in its list.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Ticked {
    /// Tag of the plan that the person looked at.
    pub tag: String,
    /// Sessions that were held.
    pub held: BTreeSet<(String, usize)>,
    /// Sessions that the person saw as noted.
    pub noted: BTreeSet<(String, usize)>,
    /// Who was there.
    pub there: BTreeSet<(String, usize, String)>,
}

/// What ticks came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TicksKept {
    /// Marks that were noted.
    pub n_marks: usize,
    /// Sessions that were taken back.
    pub n_taken_back: usize,
}

impl SessionToTick {
    /// Whether anything was noted of it.
    #[must_use]
    pub fn is_noted(&self) -> bool {
        self.expected.values().any(Option::is_some)
    }
}

/// Whether a mark says that the child was there.
#[must_use]
pub fn was_there(mark: Presence) -> bool {
    !matches!(mark, Presence::Absent | Presence::Minutes(0))
}

impl Weeks {
    /// The sessions of a week, and the tag of its plan.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the week has no plan, or of the records.
    pub fn sessions_to_tick(&self, week: Week) -> Result<(Vec<GroupToTick>, String), AppError> {
        let plan = self.plan(week)?;
        let noted = self.attendance(week)?;
        Ok((plan.plan.groups.iter().map(|g| group_to_tick(&plan.plan, g, &noted)).collect(), plan.tag.clone()))
    }

    /// Keeps what was ticked, and takes back what was noted of a session whose tick was taken away.
    ///
    /// # Errors
    /// [`AppError`] of kind input where no session was ticked and none taken back, stale where the week has another plan by now, or of the records.
    pub fn tick(&self, week: Week, ticked: &Ticked) -> Result<TicksKept, AppError> {
        let (groups, tag) = self.sessions_to_tick(week)?;
        if !names_plan(&ticked.tag, &tag) {
            let what = "The plan was changed meanwhile; nothing was noted. Look at the sessions again.";
            return Err(AppError::new(ErrorKind::Stale, "plan-changed", what));
        }
        if ticked.held.is_empty() && ticked.noted.is_empty() {
            let what = "No session was ticked; tick each one that was held, in the heading of its column.";
            return Err(AppError::new(ErrorKind::Input, "answer-missing", what));
        }
        let mut n_marks = 0;
        let (mut parts, mut taken_back) = (Vec::new(), Vec::new());
        for group in &groups {
            for (place, session) in group.sessions.iter().enumerate() {
                let at = (group.group.clone(), place);
                if ticked.held.contains(&at) {
                    let rows = marks_of(&group.group, place, session, ticked);
                    n_marks += rows.len();
                    parts.push(Attendance { sessions: vec![session.session.clone()], rows });
                } else if ticked.noted.contains(&at) && session.is_noted() {
                    taken_back.push((session.session.label.clone(), session.expected.keys().cloned().collect()));
                }
            }
        }
        self.store.change_attendance(week.monday(), &parts, &taken_back)?;
        tracing::info!(job = "tick", n_sessions = parts.len(), n_marks, n_taken_back = taken_back.len());
        Ok(TicksKept { n_marks, n_taken_back: taken_back.len() })
    }
}

fn marks_of(group: &str, place: usize, session: &SessionToTick, ticked: &Ticked) -> Vec<AttendanceRow> {
    let mark = |(student, noted): (&StudentId, &Option<Presence>)| {
        let is_there = ticked.there.contains(&(group.to_owned(), place, student.to_string()));
        // What says the same and more, such as late or minutes, stays.
        let as_noted = noted.filter(|mark| was_there(*mark) == is_there);
        let mark = as_noted.unwrap_or(if is_there { Presence::Present } else { Presence::Absent });
        AttendanceRow { student: student.clone(), marks: vec![Some(mark)] }
    };
    session.expected.iter().map(mark).collect()
}

fn group_to_tick(plan: &Plan, group: &Group, noted: &Attendance) -> GroupToTick {
    let members: Vec<(StudentId, String)> = group
        .members
        .iter()
        .filter_map(|&m| plan.students.get(m))
        .map(|s| (s.id.clone(), s.shown_name().to_owned()))
        .collect();
    let mut led: Vec<&Session> = plan.rotation.iter().filter(|s| s.group == group.id && s.staff.is_some()).collect();
    led.sort_by_key(|s| (s.time.day, s.time.start));
    let held: Vec<(HeldSession, Vec<StudentId>)> = if plan.rotation.iter().any(|s| s.staff.is_some()) {
        led.iter()
            .map(|s| (heading_of(s, &led, noted), s.expected.iter().filter_map(|e| StudentId::parse(e)).collect()))
            .collect()
    } else {
        let everyone: Vec<StudentId> = members.iter().map(|(id, _)| id.clone()).collect();
        Day::ALL.iter().map(|day| (day_of(*day, noted), everyone.clone())).collect()
    };
    let sessions = held.into_iter().map(|(session, expected)| {
        let expected = expected.into_iter().map(|id| (id.clone(), mark_in(noted, &session.label, &id))).collect();
        SessionToTick { session, expected }
    });
    GroupToTick { group: group.id.clone(), members, sessions: sessions.collect() }
}

/// The session as a sheet has named it: by its block, by day and start, or by its day alone where the group meets once that day; else under
/// the workbook's heading.
fn heading_of(session: &Session, of_group: &[&Session], noted: &Attendance) -> HeldSession {
    let (day, start) = (session.time.day, session.time.start);
    let find = |is_it: &dyn Fn(&HeldSession) -> bool| noted.sessions.iter().find(|s| is_it(s)).cloned();
    let by_time = || find(&|s| s.school_day() == Some(day) && s.start == Some(start));
    let is_alone = of_group.iter().filter(|s| s.time.day == day).count() == 1;
    let by_day = || if is_alone { find(&|s| s.school_day() == Some(day) && s.start.is_none()) } else { None };
    find(&|s| s.label == session.block).or_else(by_time).or_else(by_day).unwrap_or_else(|| HeldSession {
        label: format!("{} {start}", day.short()),
        day: Some(day),
        date: None,
        start: Some(start),
    })
}

fn day_of(day: Day, noted: &Attendance) -> HeldSession {
    let is_it = |s: &&HeldSession| s.school_day() == Some(day) && s.start.is_none();
    let new = || HeldSession { label: day.short().to_owned(), day: Some(day), date: None, start: None };
    noted.sessions.iter().find(is_it).cloned().unwrap_or_else(new)
}

fn mark_in(noted: &Attendance, label: &str, student: &StudentId) -> Option<Presence> {
    let place = noted.sessions.iter().position(|s| s.label == label)?;
    noted.rows.iter().find(|r| r.student == *student)?.marks.get(place).copied().flatten()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weeks::small_quiz::{QUIZ, file, week};
    use crate::weeks::{Keeping, SchoolSetup};

    const TIMETABLE: &str = "[groups]\nmin_size = 2\nmax_size = 6\n[[block]]\nid = \"mon-1\"\nday = \"Mon\"\n\
        start = \"09:00\"\nend = \"09:30\"\n[[block]]\nid = \"tue-1\"\nday = \"Tue\"\nstart = \"09:00\"\nend = \"09:30\"\n\
        [[staff]]\nname = \"TA\"\nblocks = [\"mon-1\", \"tue-1\"]\nleads = true\n";

    fn planned(setup: &str) -> Weeks {
        let weeks = Weeks::in_memory(SchoolSetup::parse("school.toml", setup).unwrap()).unwrap();
        weeks.take_in(week(), vec![file("q.csv", QUIZ)], None, Keeping::Keep).unwrap();
        weeks.plan_week(week(), None).unwrap();
        weeks
    }

    /// The first session of the first group that has one, with everybody there but one.
    fn all_but_one(weeks: &Weeks) -> (Ticked, StudentId) {
        let (groups, tag) = weeks.sessions_to_tick(week()).unwrap();
        let group = groups.iter().find(|g| !g.sessions.is_empty()).unwrap();
        let away = group.sessions[0].expected.keys().next().unwrap().clone();
        let there = group.sessions[0].expected.keys().filter(|id| **id != away);
        let there = there.map(|id| (group.group.clone(), 0, id.to_string())).collect();
        (Ticked { tag, held: BTreeSet::from([(group.group.clone(), 0)]), noted: BTreeSet::new(), there }, away)
    }

    #[test]
    fn what_is_not_ticked_as_held_stays() {
        for setup in [TIMETABLE, ""] {
            let weeks = planned(setup);
            let (ticked, away) = all_but_one(&weeks);
            assert_eq!(weeks.tick(week(), &ticked).unwrap().n_marks, ticked.there.len() + 1);
            let (groups, _) = weeks.sessions_to_tick(week()).unwrap();
            let sessions: Vec<&SessionToTick> = groups.iter().flat_map(|g| &g.sessions).collect();
            assert_eq!(sessions.iter().filter(|s| s.is_noted()).count(), 1);
            let noted = sessions.iter().find(|s| s.is_noted()).unwrap();
            assert_eq!(noted.expected[&away], Some(Presence::Absent));
            assert_eq!(noted.expected.values().filter(|m| **m == Some(Presence::Present)).count(), ticked.there.len());
        }
    }

    #[test]
    fn a_tick_taken_away_takes_the_session_back() {
        let weeks = planned(TIMETABLE);
        let (ticked, _) = all_but_one(&weeks);
        weeks.tick(week(), &ticked).unwrap();
        let seen = Ticked { noted: ticked.held.clone(), held: BTreeSet::new(), ..ticked.clone() };
        assert_eq!(weeks.tick(week(), &seen).unwrap(), TicksKept { n_marks: 0, n_taken_back: 1 });
        assert_eq!(weeks.attendance(week()).unwrap(), Attendance::default());
        // Once more changes nothing: it is not noted now.
        assert_eq!(weeks.tick(week(), &seen).unwrap().n_taken_back, 0);
        // What somebody else noted meanwhile was not seen, and stays.
        weeks.tick(week(), &ticked).unwrap();
        let other = Ticked { held: BTreeSet::new(), noted: BTreeSet::from([("g9".to_owned(), 7)]), ..ticked };
        assert_eq!(weeks.tick(week(), &other).unwrap().n_taken_back, 0);
        assert!(!weeks.attendance(week()).unwrap().rows.is_empty());
    }

    #[test]
    fn a_session_of_a_sheet_keeps_its_heading() {
        let weeks = planned(TIMETABLE);
        let (ticked, away) = all_but_one(&weeks);
        let late = ticked.there.iter().next().unwrap().2.clone();
        let noted = format!("id,mon-1\n{away},present\n{late},late\n");
        weeks.put_attendance(week(), &file("there.csv", &noted)).unwrap();
        weeks.put_attendance(week(), &file("there.csv", &noted.replace("mon-1", "tue-1"))).unwrap();
        weeks.tick(week(), &ticked).unwrap();
        let kept = weeks.attendance(week()).unwrap();
        weeks.put_attendance(week(), &file("there.csv", &noted.replace("mon-1", "2026-02-02"))).unwrap();
        let (groups, _) = weeks.sessions_to_tick(week()).unwrap();
        let headings = |g: &GroupToTick| g.sessions.iter().map(|s| s.session.label.clone()).collect::<Vec<_>>();
        assert!(
            groups.iter().all(|g| headings(g).iter().all(|h| h == "mon-1" || h == "tue-1")),
            "the block's own first"
        );
        let labels: Vec<&str> = kept.sessions.iter().map(|s| s.label.as_str()).collect();
        assert_eq!(labels, ["mon-1", "tue-1"], "no session beside the sheet's own");
        let marks: Vec<Presence> = kept.rows.iter().flat_map(|r| r.marks.iter().flatten().copied()).collect();
        assert_eq!(marks.iter().filter(|m| **m == Presence::Late).count(), 2, "late and ticked stays late");
        assert_eq!(marks.iter().filter(|m| **m == Presence::Absent).count(), 1);
    }

    #[test]
    fn a_day_that_a_sheet_noted_is_the_session_of_that_day() {
        let weeks = planned(TIMETABLE);
        let (ticked, away) = all_but_one(&weeks);
        weeks
            .put_attendance(week(), &file("there.csv", &format!("id,2026-02-02,2026-02-03\n{away},present,present\n")))
            .unwrap();
        weeks.tick(week(), &ticked).unwrap();
        let labels: Vec<String> = weeks.attendance(week()).unwrap().sessions.into_iter().map(|s| s.label).collect();
        assert_eq!(labels, ["2026-02-02", "2026-02-03"]);
        let (groups, _) = weeks.sessions_to_tick(week()).unwrap();
        let marks: Vec<Presence> =
            groups.iter().flat_map(|g| &g.sessions).filter_map(|s| *s.expected.get(&away)?).collect();
        assert!(marks.contains(&Presence::Absent), "{marks:?}");
    }

    #[test]
    fn ticks_of_another_plan_or_of_no_session_are_refused() {
        let weeks = planned(TIMETABLE);
        let (ticked, _) = all_but_one(&weeks);
        let none = Ticked { held: BTreeSet::new(), ..ticked.clone() };
        assert_eq!(weeks.tick(week(), &none).unwrap_err().code, "answer-missing");
        weeks.plan_week(week(), Some(9)).unwrap();
        assert_eq!(weeks.tick(week(), &ticked).unwrap_err().code, "plan-changed");
        assert!(weeks.attendance(week()).unwrap().rows.is_empty());
    }
}

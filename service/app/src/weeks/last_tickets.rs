//! What the children of a week answered on the exit tickets of the planned week before it.
//!
//! In:  a week. Out: a line for each child and form that has results: points got and possible, and what the form asked.
//! Keeps: results are found by the code on the ticket, whichever week's sheets they came with (`results_of_the_week_before_are_found`).
//! Not here: who has still to take one (`make_up`), what an answer says about a child (`sheaf-core`).

use super::make_up::WEEKS_AFTER;
use super::{Week, Weeks};
use crate::error::AppError;
use serde::Deserialize;
use sheaf_core::roster::StudentId;
use sheaf_core::scores::{MarkState, ResponseTable};
use std::collections::BTreeSet;

/// One child's results on one ticket.
#[derive(Debug, Clone, PartialEq)]
pub struct TicketResult {
    /// The child.
    pub student: StudentId,
    /// Code on the ticket.
    pub form_code: String,
    /// Codes of the skills that its items ask.
    pub skills: Vec<String>,
    /// Points got on the items that were taken.
    pub points: f64,
    /// Points possible on them.
    pub points_possible: f64,
}

#[derive(Deserialize)]
struct Published {
    tickets: Vec<PublishedTicket>,
}

#[derive(Deserialize)]
struct PublishedTicket {
    form_code: Option<String>,
}

impl Weeks {
    /// The planned week before this one, and what children answered on its tickets; `None` where there is no such week.
    ///
    /// # Errors
    /// [`AppError`] of the records.
    pub fn last_ticket_results(&self, week: Week) -> Result<Option<(Week, Vec<TicketResult>)>, AppError> {
        let mut mondays = self.store.mondays()?;
        mondays.retain(|m| *m < week.monday());
        for monday in mondays.into_iter().rev() {
            if let Some(kept) = self.store.plan(monday)? {
                let published: Published = serde_json::from_str(&kept.published).map_err(AppError::our_fault)?;
                let codes: BTreeSet<String> = published.tickets.into_iter().filter_map(|t| t.form_code).collect();
                let before = Week::of(monday);
                return Ok(Some((before, self.results_on(before, &codes)?)));
            }
        }
        Ok(None)
    }

    fn results_on(&self, week: Week, codes: &BTreeSet<String>) -> Result<Vec<TicketResult>, AppError> {
        let mut results = Vec::new();
        let mut at = week;
        for _ in 0..=WEEKS_AFTER {
            let mut uploads = self.store.uploads_of(at.monday())?;
            uploads.retain(|u| u.standing.counts());
            if !uploads.is_empty() {
                results.extend(results_in(&self.read_together(&uploads)?.table, codes));
            }
            at = at.next();
        }
        Ok(results)
    }
}

/// Results of our own tickets make a check that bears their form code.
fn results_in(table: &ResponseTable, codes: &BTreeSet<String>) -> Vec<TicketResult> {
    let mut results = Vec::new();
    for (check, assessment) in table.assessments().iter().enumerate().filter(|(_, a)| codes.contains(&a.name)) {
        let items: Vec<usize> = (0..table.n_items()).filter(|i| table.items()[*i].assessment == check).collect();
        let mut skills: Vec<String> =
            items.iter().flat_map(|&i| &table.items()[i].skills).map(ToString::to_string).collect();
        skills.dedup();
        for (s, student) in table.students().iter().enumerate() {
            let taken = items.iter().filter(|&&i| table.mark(s, i).state != MarkState::NotTaken);
            let taken: Vec<usize> = taken.copied().collect();
            if !taken.is_empty() {
                results.push(TicketResult {
                    student: student.id.clone(),
                    form_code: assessment.name.clone(),
                    skills: skills.clone(),
                    points: taken.iter().filter_map(|&i| table.mark(s, i).points).sum(),
                    points_possible: taken.iter().map(|&i| table.items()[i].points).sum(),
                });
            }
        }
    }
    results
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::{QUIZ, file, week};
    use super::super::{Keeping, SchoolSetup};
    use super::*;

    #[test]
    fn results_of_the_week_before_are_found() {
        let setup =
            SchoolSetup::parse("school.toml", "[groups]\ninclude = \"all\"\nmin_size = 2\nmax_size = 3\n").unwrap();
        let weeks = Weeks::in_memory(setup).unwrap();
        weeks.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap();
        let plan = weeks.plan_week(week(), None).unwrap();
        assert_eq!(weeks.last_ticket_results(week()).unwrap(), None, "no week before");
        let next = week().next();
        assert_eq!(weeks.last_ticket_results(next).unwrap(), Some((week(), Vec::new())), "no results yet");
        let group = &plan.plan.groups[0];
        let ticket = plan.plan.tickets.iter().find(|t| t.group == group.id).unwrap();
        let child = &plan.plan.students[group.members[0]].id;
        let rows = format!("Id,Form code,Item 1,Item 2\n{child},{},right,wrong\n", ticket.form_code);
        weeks.take_in(next, vec![file("results.csv", &rows)], None, Keeping::Keep).unwrap();
        let (before, results) = weeks.last_ticket_results(next).unwrap().unwrap();
        assert_eq!((before, results.len()), (week(), 1));
        let of = &results[0];
        assert_eq!((&of.student, &of.form_code), (child, &ticket.form_code));
        let (first, second) = (ticket.items[0].points, ticket.items[1].points);
        assert_eq!((of.points, of.points_possible), (first, first + second));
        assert!(!of.skills.is_empty());
    }
}

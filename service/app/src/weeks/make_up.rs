//! Who has still to take the week's exit ticket.
//!
//! In:  the week's groups and tickets, and the ticket results that came in with this week's sheets or those of the weeks right after.
//! Out: for each group whose results came in, the members without any, and the form that the others did not take.
//! Keeps: a group without any result is not in yet, nobody of it is named (`who_was_away_is_to_take_the_other_form`).
//! Not here: tickets of other programs, which carry no form code of ours.

use super::{Week, Weeks};
use crate::error::AppError;
use sheaf_core::plan::{Group, Plan};
use sheaf_core::roster::StudentId;
use sheaf_core::scores::{MarkState, ResponseTable};
use std::collections::{BTreeMap, BTreeSet};

/// Weeks after the ticket's own in which its results are looked for.
pub(super) const WEEKS_AFTER: usize = 2;

/// What is left to take of one group's ticket.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MakeUp {
    /// Id of the group.
    pub group: String,
    /// Members with results.
    pub n_taken: usize,
    /// Members without, as indexes into [`Plan::students`].
    pub missing: Vec<usize>,
    /// Code of the form to give them.
    pub form_code: String,
}

impl Weeks {
    /// Who has still to take the ticket, group by group; groups without results, and those that are complete, are left out.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the week has no plan, or of the records.
    pub fn make_ups(&self, week: Week) -> Result<Vec<MakeUp>, AppError> {
        let plan = self.plan(week)?;
        let taken = self.taken_by_form(week, None)?;
        let of_group = |group: &Group| make_up(&plan.plan, group, &taken);
        Ok(plan.plan.groups.iter().filter_map(of_group).collect())
    }

    /// Who has results on which form; one upload may be left out.
    pub(super) fn taken_by_form(
        &self,
        week: Week,
        without: Option<i64>,
    ) -> Result<BTreeMap<String, BTreeSet<StudentId>>, AppError> {
        let mut taken: BTreeMap<String, BTreeSet<StudentId>> = BTreeMap::new();
        let mut at = week;
        for _ in 0..=WEEKS_AFTER {
            let mut uploads = self.store.uploads_of(at.monday())?;
            uploads.retain(|u| u.standing.counts() && Some(u.id) != without);
            if !uploads.is_empty() {
                add(&mut taken, &self.read_together(&uploads)?.table);
            }
            at = at.next();
        }
        Ok(taken)
    }
}

/// Results of our own tickets make a check that bears their form code.
fn add(taken: &mut BTreeMap<String, BTreeSet<StudentId>>, table: &ResponseTable) {
    for (s, student) in table.students().iter().enumerate() {
        for (i, item) in table.items().iter().enumerate() {
            if table.mark(s, i).state != MarkState::NotTaken {
                let form = &table.assessments()[item.assessment].name;
                taken.entry(form.clone()).or_default().insert(student.id.clone());
            }
        }
    }
}

fn make_up(plan: &Plan, group: &Group, taken: &BTreeMap<String, BTreeSet<StudentId>>) -> Option<MakeUp> {
    let forms: Vec<&String> = plan.tickets.iter().filter(|t| t.group == group.id).map(|t| &t.form_code).collect();
    let n_on = |code: &&String| taken.get(*code).map_or(0, BTreeSet::len);
    let has =
        |s: &usize| plan.students.get(*s).is_some_and(|child| forms.iter().any(|c| has_taken(taken, c, &child.id)));
    let missing: Vec<usize> = group.members.iter().copied().filter(|s| !has(s)).collect();
    let n_taken = group.members.len() - missing.len();
    let form_code = forms.iter().copied().min_by_key(n_on)?.clone();
    (n_taken > 0 && !missing.is_empty()).then(|| MakeUp { group: group.id.clone(), n_taken, missing, form_code })
}

fn has_taken(taken: &BTreeMap<String, BTreeSet<StudentId>>, form_code: &str, id: &StudentId) -> bool {
    taken.get(form_code).is_some_and(|ids| ids.contains(id))
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::{QUIZ, file, week};
    use super::super::{Keeping, SchoolSetup};
    use super::*;

    #[test]
    fn who_was_away_is_to_take_the_other_form() {
        let setup =
            SchoolSetup::parse("school.toml", "[groups]\ninclude = \"all\"\nmin_size = 2\nmax_size = 3\n").unwrap();
        let weeks = Weeks::in_memory(setup).unwrap();
        weeks.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap();
        let plan = weeks.plan_week(week(), None).unwrap();
        assert_eq!(weeks.make_ups(week()).unwrap(), []);
        let group = &plan.plan.groups[0];
        let code = |form: &str| {
            let ticket = plan.plan.tickets.iter().find(|t| t.group == group.id && t.form == form).unwrap();
            ticket.form_code.clone()
        };
        let members: Vec<&str> = group.members.iter().map(|s| plan.plan.students[*s].id.as_str()).collect();
        assert_eq!(members.len(), 3);
        let results = format!(
            "student_id,form code,1,2,3,4,5\n{},{a},1,1,0,1,1\n{},{a},0,1,0,1,1\n{},{a},absent,absent,absent,absent,absent\n",
            members[0],
            members[1],
            members[2],
            a = code("A")
        );
        weeks.take_in(week().next(), vec![file("results.csv", &results)], None, Keeping::Keep).unwrap();
        let left =
            MakeUp { group: group.id.clone(), n_taken: 2, missing: vec![group.members[2]], form_code: code("B") };
        assert_eq!(weeks.make_ups(week()).unwrap(), [left]);
        let later = format!("student_id,form code,1,2,3,4,5\n{},{},1,1,1,1,1\n", members[2], code("B"));
        weeks.take_in(week().next(), vec![file("later.csv", &later)], None, Keeping::Keep).unwrap();
        assert_eq!(weeks.make_ups(week()).unwrap(), []);
    }
}

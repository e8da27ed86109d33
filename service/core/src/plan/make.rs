//! The weekly job as one function: profile, group, rotate, tickets, plan.
//! Every number is worked out here, once; what comes after only shows the plan that this gives.

use super::steps::{PlanStep, PlanWatch, reach};
use super::week_tickets::{MetItems, Taught, TicketInput, week_tickets};
use super::{InputSummary, Plan, Quality, StudentReport, Timetable};
use crate::finding::Finding;
use crate::grouping::{Overrule, PreviousGroups, Seating, SeatingInput, Told, overrule, seat_students, tell};
use crate::movement::TimeReceived;
use crate::profile::{
    BlurKind, ErrorCatalogue, Profiles, ShareTable, blurred_skills, estimate, item_figures, item_reports,
};
use crate::roster::{School, StudentId};
use crate::rotation::{GroupToPlace, Member, keep_week, plan_rotation};
use crate::scores::{ResponseTable, Strangers};
use crate::skills::SkillGraph;
use crate::tickets::ModelLibrary;
use jiff::civil::Date;
use std::collections::BTreeSet;
use thiserror::Error;

/// Everything the weekly job needs.
#[derive(Debug)]
pub struct PlanInput<'a> {
    /// Who answered what, in any order of students.
    pub table: ResponseTable,
    /// What the same students answered in weeks before, where that is kept: it counts for profiles, by its age.
    pub earlier: Option<ResponseTable>,
    /// The groups of the plan before, where that is kept: groups keep their numbers, and inside a cycle few seats change.
    pub previous: Option<PreviousGroups>,
    /// What a person decided against the suggested seats and targets, in order.
    pub overrules: &'a [Overrule],
    /// What was read.
    pub inputs: Vec<InputSummary>,
    /// What was noticed while reading.
    pub findings: Vec<Finding>,
    /// The school's rules.
    pub school: &'a School,
    /// Skills.
    pub graph: &'a SkillGraph,
    /// Wrong ideas.
    pub catalogue: &'a ErrorCatalogue,
    /// Who was there, of the students who were noted; may be empty.
    pub attended: &'a [(StudentId, TimeReceived)],
    /// Item models.
    pub item_models: &'a ModelLibrary,
    /// Items that children met on tickets of late; empty where no weeks are kept.
    pub met: &'a MetItems,
    /// The week's Monday, where known.
    pub week: Option<Date>,
    /// Seed of every random draw.
    pub seed: u64,
}

/// Why no plan could be made. Each message is one sentence for the person who asked.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PlanError {
    /// Nobody can be seated under the limits.
    #[error("{0}")]
    NoGroup(String),
    /// Fixed limits contradict each other.
    #[error("{0}")]
    LimitsClash(String),
    /// Whoever watched wanted no more of it.
    #[error("Stopped before the plan was made; the plan that was there stays.")]
    Stopped,
}

/// Pairs of skills named that the items blur.
const MOST_BLURRED: usize = 12;
/// Ids named in a finding; the rest is counted.
const NAMED: usize = 12;
/// Students up to whom the whole job runs in one thread.
const ONE_THREAD_UP_TO: usize = 60;

/// Makes the week's plan.
///
/// # Errors
/// [`PlanError`] where no group at all can be formed or fixed limits clash.
pub fn make_plan(input: PlanInput<'_>) -> Result<Plan, PlanError> {
    make_plan_watched(input, &|_| true)
}

/// The same, telling each step before it begins.
///
/// # Errors
/// As [`make_plan`]; [`PlanError::Stopped`] where a step was refused.
pub fn make_plan_watched(input: PlanInput<'_>, watch: PlanWatch<'_>) -> Result<Plan, PlanError> {
    if input.table.n_students() > ONE_THREAD_UP_TO {
        return make(input, watch);
    }
    // The threads of a pool cost more to wake, time and again, than so little work takes.
    match rayon::ThreadPoolBuilder::new().num_threads(1).build() {
        Ok(pool) => pool.install(|| make(input, watch)),
        Err(_) => make(input, watch),
    }
}

fn make(input: PlanInput<'_>, watch: PlanWatch<'_>) -> Result<Plan, PlanError> {
    reach(watch, PlanStep::Profiles)?;
    let this_week = input.table.sorted_by_id();
    let shares = ShareTable::new(&this_week, input.school.mastery.omitted);
    let figures = item_figures(&this_week, &shares);
    let items = item_reports(&this_week, &figures);
    let table = with_earlier(this_week, input.earlier.as_ref());
    let mut profiles = estimate(&table, input.graph, &input.school.mastery, input.week);
    let seating_input = SeatingInput {
        table: &table,
        profiles: &profiles,
        school: input.school,
        previous: input.previous.as_ref(),
        swap_share: swap_share(input.school, input.previous.as_ref(), input.week),
        seed: input.seed,
    };
    reach(watch, PlanStep::Groups)?;
    let mut seating = seat_students(seating_input).map_err(|clash| PlanError::LimitsClash(clash.0))?;
    refuse_if_nobody_sits(&seating)?;
    let suggested = (!input.overrules.is_empty()).then(|| {
        let told = tell(&table, &profiles, &seating, input.catalogue);
        plan_rotation(input.school, &groups_to_place(&table, &seating, &told, input.school))
    });
    overrule(&mut seating, input.overrules, (&table, &profiles, input.school));
    let mut told = tell(&table, &profiles, &seating, input.catalogue);
    for (student, report) in told.students.iter_mut().zip(std::mem::take(&mut profiles.reports)) {
        student.profile = report;
    }
    add_attendance(&mut told.students, input.attended);
    reach(watch, PlanStep::Rotation)?;
    let to_place = groups_to_place(&table, &seating, &told, input.school);
    // A child who sits elsewhere is no reason to move everybody's times.
    let kept = suggested.and_then(|planned| keep_week(input.school, &to_place, &planned));
    let rotation = kept.unwrap_or_else(|| plan_rotation(input.school, &to_place));
    let mut findings = input.findings;
    findings.extend(input.school.remarks.iter().cloned());
    findings.extend(unknown_in_setup(input.school, &table));
    findings.extend(seating.findings.iter().cloned());
    findings.extend(told.findings);
    findings.extend(skill_findings(&profiles));
    findings.extend(blur_findings(&profiles));
    findings.extend(guess_finding(&table, &profiles));
    reach(watch, PlanStep::Tickets)?;
    let ticket_input = TicketInput {
        item_models: input.item_models,
        graph: input.graph,
        n_items: input.school.ticket.items,
        met: input.met,
        seed: input.seed,
    };
    let taught = Taught { groups: &told.groups, students: &told.students, profiles: &profiles };
    let tickets = week_tickets(&taught, input.overrules, &ticket_input, &mut findings);
    Ok(Plan {
        week: input.week,
        seed: input.seed,
        inputs: input.inputs,
        findings,
        items,
        skills: profiles.skills.skills.clone(),
        students: told.students,
        unplaced: told.unplaced,
        groups: told.groups,
        rotation: rotation.sessions,
        rotation_notes: rotation.notes,
        timetable: Timetable::new(input.school, to_place),
        repairs: Vec::new(),
        tickets,
        quality: Quality { reliability: figures.reliability, standard_error: figures.standard_error, ..told.quality },
    })
}

/// Share of last week's seats that may change: all where a cycle begins between the two weeks.
fn swap_share(school: &School, previous: Option<&PreviousGroups>, week: Option<Date>) -> f64 {
    let is_inside = previous.zip(week).is_none_or(|(before, now)| school.cycle.holds_both(before.week, now));
    if is_inside { school.groups.max_swap_share } else { 1.0 }
}

/// Students need a group, and not one could be formed.
fn refuse_if_nobody_sits(seating: &Seating) -> Result<(), PlanError> {
    let needs_a_seat = seating.pools.iter().any(|p| !p.seated.is_empty() || !p.waiting.is_empty());
    if !seating.groups.is_empty() || !needs_a_seat {
        return Ok(());
    }
    let reasons: Vec<String> = seating.pools.iter().filter_map(|p| p.note.clone()).collect();
    let reason = reasons.first().cloned().or_else(|| seating.waiting.first().map(|(_, why)| why.clone()));
    Err(PlanError::NoGroup(format!(
        "No group can be formed: {}",
        reason.unwrap_or_else(|| "the limits seat nobody.".to_owned())
    )))
}

/// The week's answers with those of earlier weeks beside them.
fn with_earlier(mut this_week: ResponseTable, earlier: Option<&ResponseTable>) -> ResponseTable {
    if let Some(earlier) = earlier {
        // Marks that one table took fit the same item in another.
        let _ = this_week.join(earlier, Strangers::StayOut);
    }
    this_week
}

/// Skills that these items cannot keep apart, each with the item that would.
fn blur_findings(profiles: &Profiles) -> Vec<Finding> {
    if profiles.skills.is_by_item {
        return Vec::new();
    }
    let code = |k: usize| &profiles.skills.skills[k].code;
    blurred_skills(&profiles.skills)
        .into_iter()
        .take(MOST_BLURRED)
        .map(|b| {
            let (skill, with) = (code(b.skill), code(b.with));
            let message = match b.kind {
                BlurKind::SameItems => format!("These items cannot tell {skill} from {with}: the same items ask both."),
                BlurKind::OnlyTogether => {
                    format!("{skill} is asked only together with {with}: for a child who lacks {with} it is not seen.")
                }
                BlurKind::NeverAlone => {
                    format!("{skill} is never asked alone, mostly with {with}: for a child who lacks those skills it is not seen.")
                }
            };
            Finding::note("skills-not-told-apart", message, format!("add an item on {skill} alone to the next check"))
        })
        .collect()
}

/// Students of the setup whom no sheet and no list knows: a mistyped id would otherwise leave two children together who are to be apart.
fn unknown_in_setup(school: &School, table: &ResponseTable) -> Option<Finding> {
    let apart = school.groups.keep_apart.iter().flat_map(|(a, b)| [a, b]);
    let named = apart.chain(school.groups.keep_together.iter().flatten()).chain(&school.intensive.students);
    let unknown: BTreeSet<&str> = named.filter(|id| table.student_index(id).is_none()).map(StudentId::as_str).collect();
    (!unknown.is_empty()).then(|| {
        let message = format!(
            "The setup names {} (keep_apart, keep_together or intensive), whom no sheet and no list of students knows.",
            first_few(unknown.iter().copied())
        );
        Finding::warning("setup-names-nobody", message, "check the id; what is asked for this student has no effect")
    })
}

/// The first few, and that there are more.
fn first_few<'a>(mut ids: impl Iterator<Item = &'a str>) -> String {
    let mut few: Vec<&str> = ids.by_ref().take(NAMED).collect();
    few.extend(ids.next().map(|_| "…"));
    few.join(", ")
}

/// Children whose answers look guessed.
fn guess_finding(table: &ResponseTable, profiles: &Profiles) -> Option<Finding> {
    let who: Vec<&str> = (0..table.n_students())
        .filter(|&s| profiles.looks_guessed[s])
        .map(|s| table.students()[s].id.as_str())
        .collect();
    (!who.is_empty()).then(|| {
        let message = format!(
            "Answers that look guessed, right no oftener than by chance and showing no idea again and again: {} ({}).",
            who.len(),
            first_few(who.iter().copied())
        );
        Finding::warning("answers-look-guessed", message, "no state but not-enough; ask a few items by word of mouth")
    })
}

/// Says beside the reason for a seat how much teaching the child got.
fn add_attendance(students: &mut [StudentReport], attended: &[(StudentId, TimeReceived)]) {
    for (id, time) in attended {
        let seated = students.binary_search_by(|s| s.id.cmp(id)).ok().and_then(|i| students.get_mut(i));
        if let (Some(student), Some(sentence)) = (seated.filter(|s| s.group.is_some()), time.sentence()) {
            student.why = format!("{} {sentence}", student.why);
        }
    }
}

fn skill_findings(profiles: &Profiles) -> Vec<Finding> {
    if profiles.skills.is_by_item && profiles.skills.n_skills() > 0 {
        return vec![Finding::warning(
            "no-skills-named",
            "No item names the skill it needs.",
            "each item is taken as a skill of its own; add a skill row, an items sheet or --items",
        )];
    }
    Vec::new()
}

fn groups_to_place(table: &ResponseTable, seating: &Seating, told: &Told, school: &School) -> Vec<GroupToPlace> {
    let most = (0..table.n_students()).map(|s| seating.needs.behind(s)).fold(1e-9, f64::max);
    told.groups
        .iter()
        .map(|group| {
            let behind: f64 = group.members.iter().map(|&s| seating.needs.behind(s)).sum();
            let member = |&s: &usize| {
                let student = &table.students()[s];
                Member { id: student.id.clone(), homeroom: student.homeroom.clone() }
            };
            GroupToPlace {
                id: group.id.clone(),
                members: group.members.iter().map(member).collect(),
                need: behind / (most * group.members.len().max(1) as f64),
                is_intensive: group.is_intensive,
                sessions_wanted: if group.is_intensive {
                    Some(school.intensive.sessions)
                } else {
                    school.groups.sessions
                },
                skill: group.target_skill.to_string(),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::Student;
    use crate::scores::{Item, Mark};
    use crate::skills::SkillCode;
    use std::sync::Mutex;

    #[test]
    fn an_id_of_the_setup_that_nobody_bears_is_named() {
        let id = |text: &str| StudentId::parse(text).unwrap();
        let mut table = ResponseTable::new();
        for known in ["0001", "0002"] {
            table.add_student(Student::unnamed(id(known)));
        }
        let table = table.sorted_by_id();
        let mut school = School::default();
        school.groups.keep_apart = vec![(id("0001"), id("0002"))];
        assert_eq!(unknown_in_setup(&school, &table), None);
        school.groups.keep_apart.push((id("0001"), id("0020")));
        school.intensive.students.push(id("0003"));
        let found = unknown_in_setup(&school, &table).unwrap();
        assert!(found.code == "setup-names-nobody" && found.message.contains("0003, 0020 ("), "{}", found.message);
    }

    /// Twelve students, three skills of four items each; a third lacks each skill.
    fn watched(watch: PlanWatch<'_>) -> Result<Plan, PlanError> {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        for j in 0..12 {
            let skills = vec![SkillCode::parse(&format!("S{}", j % 3)).unwrap()];
            table.add_item(Item { skills, ..Item::new(&format!("Q{j}"), check) });
        }
        for s in 0..12 {
            let row = table.add_student(Student::unnamed(StudentId::parse(&format!("{s:04}")).unwrap()));
            for j in 0..12 {
                table.set(row, j, Mark::scored(None, Some(if s % 3 == j % 3 { 0.0 } else { 1.0 }))).unwrap();
            }
        }
        let input = PlanInput {
            table,
            earlier: None,
            previous: None,
            overrules: &[],
            inputs: Vec::new(),
            findings: Vec::new(),
            school: &School::default(),
            graph: &SkillGraph::default(),
            catalogue: &ErrorCatalogue::default(),
            attended: &[],
            item_models: &ModelLibrary::default(),
            met: &MetItems::default(),
            week: None,
            seed: 1,
        };
        make_plan_watched(input, watch)
    }

    #[test]
    fn a_plan_that_is_watched_is_the_same_plan() {
        let reached = Mutex::new(Vec::new());
        let plan = watched(&|step| {
            reached.lock().unwrap().push(step);
            true
        });
        let steps = [PlanStep::Profiles, PlanStep::Groups, PlanStep::Rotation, PlanStep::Tickets];
        assert_eq!(*reached.lock().unwrap(), steps);
        assert_eq!(plan, watched(&|_| true));
        assert!(plan.is_ok_and(|p| !p.groups.is_empty()));
        for refused in steps {
            assert_eq!(watched(&|step| step != refused), Err(PlanError::Stopped), "{refused:?}");
        }
    }
}

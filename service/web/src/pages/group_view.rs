//! One group as the groups page and its own page show it: badge, target, shared idea, members with strips and reasons.
//!
//! In:  the plan, a group, what children are called. Out: a view; every figure and sentence is the plan's.
//! Not here: the strip (`needs`), when the group meets (`rotation`), tickets (`group`).

use super::hatch::{Badge, badge};
use super::naming::Naming;
use super::needs::{Cell, strip};
use super::text;
use sheaf_app::knowledge::Knowledge;
use sheaf_core::plan::{Group, Plan, StudentReport};

/// Wrong ideas shown of one student.
const N_IDEAS: usize = 2;

/// One member.
pub(super) struct Member {
    pub(super) id: String,
    pub(super) label: String,
    /// The id, where it stands beside the name.
    pub(super) id_beside: String,
    pub(super) homeroom: String,
    pub(super) supports: String,
    pub(super) needs: Vec<Cell>,
    pub(super) ideas: Vec<String>,
    pub(super) why: String,
}

/// One group.
pub(super) struct GroupView {
    pub(super) id: String,
    pub(super) badge: Badge,
    pub(super) name: String,
    pub(super) is_intensive: bool,
    pub(super) target: String,
    pub(super) target_name: String,
    pub(super) idea: Option<String>,
    pub(super) need_words: String,
    pub(super) notes: Vec<String>,
    pub(super) members: Vec<Member>,
}

/// The view of a group.
pub(super) fn group_view(plan: &Plan, group: &Group, knowledge: &Knowledge, naming: &Naming) -> GroupView {
    let members: Vec<&StudentReport> = group.members.iter().filter_map(|&m| plan.students.get(m)).collect();
    let n_lacking = (group.need * members.len() as f64).round() as usize;
    GroupView {
        id: group.id.clone(),
        badge: badge(&group.id),
        name: group.name.clone(),
        is_intensive: group.is_intensive,
        target: group.target_skill.to_string(),
        target_name: knowledge.graph.name(&group.target_skill).to_owned(),
        idea: group.error_pattern.as_deref().map(|code| knowledge.catalogue.idea(code).to_owned()),
        need_words: format!("{n_lacking} of {} lack it", members.len()),
        notes: group.notes.iter().map(|n| text::as_sentence(&naming.sentence(n))).collect(),
        members: members.into_iter().map(|m| member(plan, group, m, (knowledge, naming))).collect(),
    }
}

fn member(plan: &Plan, group: &Group, student: &StudentReport, of: (&Knowledge, &Naming)) -> Member {
    let (knowledge, naming) = of;
    let ideas = student.patterns.iter().filter(|p| p.seen > 0.0).take(N_IDEAS);
    let id = student.id.as_str();
    Member {
        id: id.to_owned(),
        label: naming.label(id).to_owned(),
        id_beside: naming.id_beside(id),
        homeroom: student.homeroom.clone(),
        supports: naming.typed(&student.supports.join(", ")).to_owned(),
        needs: strip(plan, group, student),
        ideas: ideas
            .map(|p| format!("{} ({} of {})", knowledge.catalogue.idea(&p.code), text::points(p.seen), p.chances))
            .collect(),
        why: text::as_sentence(&naming.sentence(&student.why)),
    }
}

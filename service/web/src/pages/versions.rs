//! Two people decided at once: what one looked at and decided, beside the plan as it is by now, group by group.
//!
//! In:  the seating that the person looked at (where it is still kept), the one of now, the decision that was not kept. Out: two versions
//! of the groups that differ or that the decision is about, each difference with a shape and words.
//! Keeps: a group is in both versions, or said to be missing in one (`both_versions_name_what_differs`). Not here: the comparison of
//! figures (`decide`), keeping (`sheaf-app`).

use super::decide::{sentence, skill};
use super::hatch::{Badge, badge};
use super::naming::Naming;
use super::replanned::group_words;
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{Decision, Decisions, GroupThen, SeatingThen};
use sheaf_core::plan::Plan;
use std::collections::BTreeSet;

/// One member in one version.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct MemberVersion {
    pub(super) label: String,
    /// A shape where something differs; empty where nothing does.
    pub(super) mark: &'static str,
    /// What differs.
    pub(super) note: String,
}

/// One group in one version.
pub(super) struct GroupVersion {
    pub(super) badge: Badge,
    pub(super) name: String,
    pub(super) target: String,
    /// What differs in the target.
    pub(super) target_note: String,
    pub(super) members: Vec<MemberVersion>,
    pub(super) is_there: bool,
}

/// One version.
pub(super) struct Version {
    /// Over what was decided.
    pub(super) head: &'static str,
    /// What was decided in it.
    pub(super) said: Vec<String>,
    pub(super) groups: Vec<GroupVersion>,
}

/// Both.
pub(super) struct Versions {
    /// What the person looked at, with the decision; `None` where it is kept no longer.
    pub(super) looked_at: Option<Version>,
    /// As it is by now.
    pub(super) now: Version,
}

const MINE: &str = "▶";
const WENT: &str = "◇";
const CAME: &str = "◆";

struct Both<'a> {
    then: &'a SeatingThen,
    now: &'a SeatingThen,
    mine: &'a Decision,
    naming: &'a Naming,
    knowledge: &'a Knowledge,
}

/// The two versions.
pub(super) fn versions(
    plan: &Plan,
    (then, now): (Option<&SeatingThen>, &SeatingThen),
    mine: &Decision,
    (knowledge, naming): (&Knowledge, &Naming),
) -> Versions {
    let both = Both { then: then.unwrap_or(now), now, mine, naming, knowledge };
    let concerned = both.concerned();
    let told = |d: &Decision| sentence(plan, d, knowledge, naming);
    Versions {
        looked_at: then.map(|_| Version {
            head: "You decided, and it was not kept:",
            said: vec![told(mine)],
            groups: concerned.iter().map(|id| both.before(id)).collect(),
        }),
        now: Version {
            head: if then.is_some() { "Decided by somebody else since:" } else { "Decided on it by now:" },
            said: meanwhile(&both.then.decisions, &now.decisions, then.is_some(), told),
            groups: concerned.iter().map(|id| both.after(id)).collect(),
        },
    }
}

/// What was decided since, and what was taken back.
fn meanwhile(then: &Decisions, now: &Decisions, is_known: bool, told: impl Fn(&Decision) -> String) -> Vec<String> {
    if !is_known {
        return now.done.iter().map(told).collect();
    }
    let n_same = then.done.iter().zip(&now.done).take_while(|(a, b)| a == b).count();
    let taken_back = then.done.iter().skip(n_same).map(|d| format!("Taken back: {}", told(d)));
    let mut said: Vec<String> = now.done.iter().skip(n_same).map(&told).chain(taken_back).collect();
    if said.is_empty() {
        said.push("Nothing: the week was planned again, or a day was issued anew.".to_owned());
    }
    said
}

impl Both<'_> {
    /// Groups that differ, and those that the decision is about, in order of the earlier version.
    fn concerned(&self) -> Vec<String> {
        let mut ids: Vec<&GroupThen> = self.then.groups.iter().collect();
        ids.extend(self.now.groups.iter().filter(|g| self.then.group(&g.id).is_none()));
        let about: BTreeSet<&str> = match self.mine {
            Decision::Seat { student, to, .. } => {
                let at = [self.then, self.now].into_iter().filter_map(|s| s.group_of(student));
                at.map(|g| g.id.as_str()).chain([to.as_str()]).collect()
            }
            Decision::Target { group, .. } | Decision::Item { group, .. } => BTreeSet::from([group.as_str()]),
        };
        let differs = |g: &GroupThen| self.then.group(&g.id) != self.now.group(&g.id);
        ids.into_iter().filter(|g| differs(g) || about.contains(g.id.as_str())).map(|g| g.id.clone()).collect()
    }

    fn before(&self, id: &str) -> GroupVersion {
        let Some(group) = self.then.group(id) else { return missing(id) };
        let mut members: Vec<MemberVersion> = group.members.iter().map(|m| self.member_before(id, m)).collect();
        if let Decision::Seat { student, to, .. } = self.mine
            && to == id
            && !group.members.contains(student)
        {
            members.push(self.member(student, MINE, "you seat here".to_owned()));
        }
        let target_note = match self.mine {
            Decision::Target { group, target_skill, .. } if group == id => {
                format!("{MINE} you teach {} instead", skill(target_skill, self.knowledge))
            }
            _ => String::new(),
        };
        GroupVersion { target_note, members, ..self.group(group) }
    }

    fn member_before(&self, id: &str, student: &str) -> MemberVersion {
        let now = self.now.group_of(student).map(|g| g.id.as_str());
        match self.mine {
            Decision::Seat { student: moved, to, .. } if moved == student && to != id => {
                self.member(student, MINE, format!("you move to {}", group_words(to)))
            }
            _ if now == Some(id) => self.member(student, "", String::new()),
            _ => {
                let place = now.map_or_else(|| "without a seat".to_owned(), |g| format!("in {}", group_words(g)));
                self.member(student, WENT, format!("by now {place}"))
            }
        }
    }

    fn after(&self, id: &str) -> GroupVersion {
        let Some(group) = self.now.group(id) else { return missing(id) };
        let member = |student: &String| {
            let then = self.then.group_of(student).map(|g| g.id.as_str());
            if then == Some(id) {
                return self.member(student, "", String::new());
            }
            let place = then.map_or_else(|| "without a seat".to_owned(), |g| format!("in {}", group_words(g)));
            self.member(student, CAME, format!("came: was {place}"))
        };
        let members = group.members.iter().map(member).collect();
        let changed = self.then.group(id).filter(|then| then.target != group.target);
        let target_note = changed.map_or_else(String::new, |then| format!("{CAME} changed: was {}", then.target));
        GroupVersion { target_note, members, ..self.group(group) }
    }

    fn member(&self, student: &str, mark: &'static str, note: String) -> MemberVersion {
        MemberVersion { label: self.naming.label(student).to_owned(), mark, note }
    }

    fn group(&self, group: &GroupThen) -> GroupVersion {
        GroupVersion {
            badge: badge(&group.id),
            name: group.name.clone(),
            target: skill(&group.target, self.knowledge),
            target_note: String::new(),
            members: Vec::new(),
            is_there: true,
        }
    }
}

fn missing(id: &str) -> GroupVersion {
    GroupVersion {
        badge: badge(id),
        name: group_words(id),
        target: String::new(),
        target_note: String::new(),
        members: Vec::new(),
        is_there: false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_app::weeks::{Keeping, SchoolSetup, Week, Weeks};

    const QUIZ: &str = ",,skill,5.NF.B.5a,5.NF.B.5a,4.NF.A.1,4.NF.A.1\n,,key,A,B,D,A\nstudent_id,student,class,Q1,Q2,Q3,Q4\n\
        0001,Ada Ash,5P,B,A,D,A\n0002,Bo Birch,5P,B,A,D,A\n0003,Cy Cedar,5P,C,A,D,A\n\
        0004,Di Dogwood,5P,A,B,A,B\n0005,Ed Elm,5P,A,B,A,C\n0006,Fi Fir,5P,A,B,B,B\n";

    fn group(id: &str, target: &str, members: &[&str]) -> GroupThen {
        let members = members.iter().map(|m| (*m).to_owned()).collect();
        GroupThen { id: id.to_owned(), name: group_words(id), target: target.to_owned(), members }
    }

    fn seating(groups: Vec<GroupThen>, done: Vec<Decision>) -> SeatingThen {
        SeatingThen { groups, decisions: Decisions { done, undone: Vec::new() } }
    }

    fn told(version: &Version) -> Vec<String> {
        let of = |g: &GroupVersion| {
            let members: Vec<String> =
                g.members.iter().map(|m| format!("{} {} {}", m.label, m.mark, m.note).trim().to_owned()).collect();
            let there = if g.is_there { "" } else { " is not there" };
            format!("{}{there} [{}] {}", g.name, g.target_note, members.join("; "))
        };
        version.groups.iter().map(of).collect()
    }

    #[test]
    fn both_versions_name_what_differs() {
        let weeks = Weeks::in_memory(SchoolSetup::builtin().unwrap()).unwrap();
        let week = Week::parse("2026-02-02").unwrap();
        let file = sheaf_app::weeks::GivenFile { name: "q.csv".to_owned(), bytes: QUIZ.as_bytes().to_vec() };
        weeks.take_in(week, vec![file], None, Keeping::Keep).unwrap();
        let plan = weeks.plan_week(week, None).unwrap();
        let naming = Naming::full(&plan.plan);
        let seat = |student: &str, to: &str, reason: &str| Decision::Seat {
            student: student.to_owned(),
            to: to.to_owned(),
            reason: reason.to_owned(),
            hold: false,
        };
        let (mine, theirs) = (seat("0001", "g2", "calmer there"), seat("0002", "g2", "asked for it"));
        let then = seating(
            vec![group("g1", "a", &["0001", "0002"]), group("g2", "b", &["0003"]), group("g3", "c", &["0004"])],
            Vec::new(),
        );
        let now = seating(
            vec![group("g1", "a", &["0001"]), group("g2", "d", &["0002", "0003"]), group("g3", "c", &["0004"])],
            vec![theirs],
        );
        let both = versions(&plan.plan, (Some(&then), &now), &mine, (weeks.knowledge(), &naming));
        assert_eq!(
            told(both.looked_at.as_ref().unwrap()),
            [
                "Group 1 [] Ada Ash ▶ you move to Group 2; Bo Birch ◇ by now in Group 2",
                "Group 2 [] Cy Cedar; Ada Ash ▶ you seat here",
            ]
        );
        assert_eq!(
            told(&both.now),
            ["Group 1 [] Ada Ash", "Group 2 [◆ changed: was b] Bo Birch ◆ came: was in Group 1; Cy Cedar"]
        );
        assert!(both.looked_at.unwrap().said[0].contains("calmer there") && both.now.said[0].contains("asked for it"));
        let gone = seating(vec![group("g1", "a", &["0001", "0002", "0003"]), group("g3", "c", &["0004"])], Vec::new());
        let both = versions(&plan.plan, (Some(&then), &gone), &mine, (weeks.knowledge(), &naming));
        assert_eq!(told(&both.now)[1], "Group 2 is not there [] ");
        assert!(both.now.said[0].contains("planned again"));
        let unknown = versions(&plan.plan, (None, &now), &mine, (weeks.knowledge(), &naming));
        assert!(unknown.looked_at.is_none() && unknown.now.said.len() == 1);
    }
}

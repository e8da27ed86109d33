//! What every sheet looks up: the plan, names of skills and ideas, a group's sessions and tickets.
//!
//! In:  the plan, the skill graph, the catalogue of wrong ideas. Out: borrowed views, nothing computed twice.
//! Keeps: it decides nothing; what the plan does not say is not shown. Not here: cells (`sheet`).

use super::words;
use sheaf_core::movement::LookBack;
use sheaf_core::plan::{Group, Plan, SkillReport, StudentReport};
use sheaf_core::profile::ErrorCatalogue;
use sheaf_core::rotation::Session;
use sheaf_core::skills::{SkillCode, SkillGraph};
use sheaf_core::tickets::Ticket;
use std::collections::HashMap;

/// The plan with its indexes.
pub(super) struct Book<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What this week looks back on, where there is a week before.
    pub back: Option<&'a LookBack>,
    /// Name of the staff's workbook that the sheets join.
    pub own_file: Option<&'a str>,
    catalogue: &'a ErrorCatalogue,
    graph: &'a SkillGraph,
    sessions: HashMap<&'a str, Vec<&'a Session>>,
    tickets: HashMap<&'a str, Vec<&'a Ticket>>,
    groups: HashMap<&'a str, &'a Group>,
    measured: HashMap<&'a str, usize>,
}

impl<'a> Book<'a> {
    /// Indexes a plan.
    pub(super) fn new(plan: &'a Plan, graph: &'a SkillGraph, catalogue: &'a ErrorCatalogue) -> Self {
        let mut sessions: HashMap<&str, Vec<&Session>> = HashMap::new();
        for session in &plan.rotation {
            sessions.entry(&session.group).or_default().push(session);
        }
        let mut tickets: HashMap<&str, Vec<&Ticket>> = HashMap::new();
        for ticket in &plan.tickets {
            tickets.entry(&ticket.group).or_default().push(ticket);
        }
        let groups = plan.groups.iter().map(|g| (g.id.as_str(), g)).collect();
        let measured = plan.skills.iter().enumerate().map(|(i, s)| (s.code.as_str(), i)).collect();
        Book { plan, back: None, own_file: None, catalogue, graph, sessions, tickets, groups, measured }
    }

    /// Whether the plan has so many students that rows are given a usual height instead of one each.
    pub(super) fn is_large(&self) -> bool {
        self.plan.students.len() > 2_000
    }

    /// `Week of 2026-02-02`, or that the week is not known.
    pub(super) fn week_words(&self) -> String {
        self.plan.week.map_or_else(|| "Week not given".to_owned(), |monday| format!("Week of {monday}"))
    }

    /// Meetings of a group, in order of time.
    pub(super) fn sessions_of(&self, group: &str) -> &[&'a Session] {
        self.sessions.get(group).map_or(&[], Vec::as_slice)
    }

    /// Tickets of a group, in order of form.
    pub(super) fn tickets_of(&self, group: &str) -> &[&'a Ticket] {
        self.tickets.get(group).map_or(&[], Vec::as_slice)
    }

    /// Name of a group, or its id where the plan has no such group.
    pub(super) fn group_name<'s>(&'s self, id: &'s str) -> &'s str {
        self.groups.get(id).map_or(id, |g| g.name.as_str())
    }

    /// A skill in plain words: the plan's, else the graph's, else the code.
    pub(super) fn skill_name<'s>(&'s self, code: &'s SkillCode) -> &'s str {
        self.measured
            .get(code.as_str())
            .and_then(|idx| self.plan.skills.get(*idx))
            .map_or_else(|| self.graph.name(code), |s| s.name.as_str())
    }

    /// Code and plain words, or the code alone where nobody knows more.
    pub(super) fn skill_words(&self, code: &SkillCode) -> String {
        let name = self.skill_name(code);
        if name == code.as_str() { name.to_owned() } else { format!("{code}  {name}") }
    }

    /// Items of the score sheets that need a skill.
    pub(super) fn n_items_on(&self, code: &SkillCode) -> usize {
        self.measured.get(code.as_str()).and_then(|idx| self.plan.skills.get(*idx)).map_or(0, |s| s.n_items)
    }

    /// A wrong idea in plain words.
    pub(super) fn idea<'s>(&'s self, code: &'s str) -> &'s str {
        self.catalogue.idea(code)
    }

    /// A worked example of a wrong idea, where the catalogue has one.
    pub(super) fn look_for(&self, code: &str) -> Option<&str> {
        self.catalogue.get(code).map(|p| p.look_for.as_str()).filter(|text| !text.is_empty())
    }

    /// What a student shows on a skill, if it was measured for them.
    pub(super) fn on_skill<'s>(&self, student: &'s StudentReport, code: &SkillCode) -> Option<&'s SkillReport> {
        let skill = *self.measured.get(code.as_str())?;
        student.profile.iter().find(|report| report.skill == skill)
    }

    /// The wrong idea to name for a student: the group's where they show it, else the one most seen.
    pub(super) fn idea_of(&self, student: &StudentReport, group: Option<&Group>) -> String {
        let shared = group.and_then(|g| g.error_pattern.as_deref());
        let seen = student
            .patterns
            .iter()
            .find(|p| Some(p.code.as_str()) == shared)
            .or_else(|| student.patterns.first())
            .filter(|p| p.seen > 0.0);
        seen.map_or_else(String::new, |p| {
            format!("{} ({} of {})", self.idea(&p.code), words::figure(p.seen), p.chances)
        })
    }

    /// Names of a group's members who are busy during a meeting.
    pub(super) fn not_expected(&self, session: &Session) -> Vec<&'a str> {
        let Some(group) = self.groups.get(session.group.as_str()) else { return Vec::new() };
        let is_expected = |s: &&StudentReport| session.expected.iter().any(|id| id == s.id.as_str());
        self.members(group).filter(|s| !is_expected(s)).map(shown_name).collect()
    }

    /// Members of a group.
    pub(super) fn members(&self, group: &Group) -> impl Iterator<Item = &'a StudentReport> {
        let plan = self.plan;
        group.members.iter().filter_map(move |idx| plan.students.get(*idx))
    }
}

/// What to call a student: the name, or the id where there is none.
pub(super) fn shown_name(student: &StudentReport) -> &str {
    if student.name.trim().is_empty() { student.id.as_str() } else { &student.name }
}

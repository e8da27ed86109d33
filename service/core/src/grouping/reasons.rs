//! Why each student sits where they sit, and what staff should know of each group, in sentences with counts.
//!
//! In:  a [`Seating`] and the profiles it rests on. Out: groups, student reports, the unplaced and a finding, ready for the plan.
//! Keeps: counts come before any claim; a skill with under three items is said to be unsure; two wrong ideas of one target in one
//! group are named, as sizes forced them together, and the groups in which they are make one finding.
//! Not here: choosing seats (`seating`), showing them (pages, workbook).

use super::pools::Pool;
use super::seating::{SeatedGroup, Seating};
use crate::finding::Finding;
use crate::numeric::mean_silhouette;
use crate::plan::{Group, PatternReport, Quality, SkillState, StudentReport, Unplaced, UnplacedKind};
use crate::profile::{ErrorCatalogue, IdeaSureness, PatternCount, Profiles};
use crate::scores::ResponseTable;
use std::cmp::{Ordering, Reverse};
use std::collections::BTreeMap;

/// Groups named in a finding; the rest is counted.
const NAMED: usize = 20;
/// Largest pool for which a silhouette is computed; its time grows with the square.
const SILHOUETTE_UP_TO: usize = 3_000;

/// The seating in words.
#[derive(Debug)]
pub struct Told {
    /// Groups in order of number.
    pub groups: Vec<Group>,
    /// Students in order of id.
    pub students: Vec<StudentReport>,
    /// Students without a seat.
    pub unplaced: Vec<Unplaced>,
    /// What staff should know of the groups as a whole.
    pub findings: Vec<Finding>,
    /// Figures on the seating (reliability is filled in by the caller).
    pub quality: Quality,
}

/// Puts a seating into words.
#[must_use]
pub fn tell(table: &ResponseTable, profiles: &Profiles, seating: &Seating, catalogue: &ErrorCatalogue) -> Told {
    let mut of_pool = vec![Vec::new(); seating.pools.len()];
    seating.groups.iter().enumerate().for_each(|(g, group)| of_pool[group.pool].push(g));
    let teller = Teller { table, profiles, seating, catalogue, of_pool };
    let groups: Vec<Group> = (0..seating.groups.len()).map(|g| teller.group(g)).collect();
    let mut group_of = vec![None; table.n_students()];
    for (g, group) in seating.groups.iter().enumerate() {
        group.members.iter().for_each(|&s| group_of[s] = Some(g));
    }
    let students: Vec<StudentReport> =
        (0..table.n_students()).map(|s| teller.student(s, group_of[s], &groups)).collect();
    let unplaced = teller.unplaced(&group_of);
    let quality = teller.quality(&group_of, &students, &groups);
    let findings = teller.mixed_finding(&groups).into_iter().collect();
    Told { groups, students, unplaced, findings, quality }
}

struct Teller<'a> {
    table: &'a ResponseTable,
    profiles: &'a Profiles,
    seating: &'a Seating,
    catalogue: &'a ErrorCatalogue,
    /// Groups of each pool.
    of_pool: Vec<Vec<usize>>,
}

impl Teller<'_> {
    fn group(&self, g: usize) -> Group {
        let seated = &self.seating.groups[g];
        let skill = &self.profiles.skills.skills[seated.target];
        let n_lacking = seated.members.iter().filter(|&&s| self.seating.needs.lacks[(s, seated.target)]).count();
        Group {
            id: format!("g{}", self.seating.numbers[g]),
            name: format!("Group {}", self.seating.numbers[g]),
            members: seated.members.clone(),
            target_skill: skill.code.clone(),
            error_pattern: self.shared_idea(g),
            need: n_lacking as f64 / seated.members.len().max(1) as f64,
            is_intensive: self.seating.pools[seated.pool].is_intensive,
            notes: self.group_notes(g, n_lacking),
        }
    }

    /// Codes of the target, with the members whose answers show each clearly.
    fn ideas_in(&self, g: usize) -> BTreeMap<usize, Vec<usize>> {
        let seated = &self.seating.groups[g];
        let of_target = &self.seating.needs.ideas_of_skill[seated.target];
        let mut found: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &s in &seated.members {
            // A student counts for the idea that shows most in their answers.
            let top = self.profiles.patterns.counts[s]
                .iter()
                .filter(|c| of_target.contains(&c.code) && is_clear(c))
                .max_by(|a, b| by_sight(a, b));
            if let Some(count) = top {
                found.entry(count.code).or_default().push(s);
            }
        }
        found
    }

    /// The idea that at least half of the members show.
    fn shared_idea(&self, g: usize) -> Option<String> {
        let n = self.seating.groups[g].members.len();
        self.ideas_in(g)
            .into_iter()
            .filter(|(_, who)| who.len() * 2 >= n)
            .max_by(|a, b| a.1.len().cmp(&b.1.len()).then(b.0.cmp(&a.0)))
            .map(|(code, _)| self.profiles.patterns.codes[code].clone())
    }

    fn group_notes(&self, g: usize, n_lacking: usize) -> Vec<String> {
        let seated = &self.seating.groups[g];
        let skill = &self.profiles.skills.skills[seated.target];
        let n = seated.members.len();
        let mut notes: Vec<String> = self.decided_target(g).into_iter().collect();
        notes.push(format!(
            "{n_lacking} of {n} lack {} ({}): {}.",
            skill.code,
            skill.name,
            shared_words(n_lacking, n, self.lacked_before(seated))
        ));
        if skill.n_items < crate::profile::ENOUGH_ITEMS {
            notes.push(format!(
                "Unsure: {} rests on {}; put two probe items on the next ticket before building on it.",
                skill.code,
                count(skill.n_items, "item")
            ));
        }
        notes.extend(self.misfit_note(g));
        notes.extend(self.mixed_note(g));
        notes
    }

    /// That a person set the target, and why.
    fn decided_target(&self, g: usize) -> Option<String> {
        let (suggested, reason) = self.seating.overruled.of_group(self.seating.numbers[g])?;
        let code = &self.profiles.skills.skills[suggested].code;
        Some(format!("Target set by a person{}; {code} was suggested.", because(reason)))
    }

    /// The skill before a group's target that most of its members lack, with how many.
    fn lacked_before(&self, group: &SeatedGroup) -> Option<String> {
        let n = group.members.len();
        let n_lack = |k: usize| group.members.iter().filter(|&&s| self.seating.needs.lacks[(s, k)]).count();
        let earlier = (0..group.target).map(|k| (n_lack(k), k)).filter(|(lack, _)| lack * 2 > n);
        let (lack, k) = earlier.max_by_key(|(lack, k)| (*lack, Reverse(*k)))?;
        let skill = &self.profiles.skills.skills[k];
        Some(format!("{lack} of {n} also lack {} ({}), which comes before", skill.code, skill.name))
    }

    fn misfit_note(&self, g: usize) -> Option<String> {
        let seated = &self.seating.groups[g];
        let misfits: Vec<String> = seated
            .members
            .iter()
            .filter(|&&s| !self.seating.needs.lacks[(s, seated.target)])
            .map(|&s| {
                let own = self.seating.needs.first_target(s, &self.profiles.skills);
                let need =
                    own.map_or("no measured skill".to_owned(), |k| self.profiles.skills.skills[k].code.to_string());
                format!("{} (lacks {need})", self.table.students()[s].id)
            })
            .collect();
        (!misfits.is_empty())
            .then(|| format!("Fits less well: {}; seated here by {}.", misfits.join(", "), self.causes()))
    }

    /// What can put a student where another group would fit better.
    fn causes(&self) -> &'static str {
        if self.seating.is_held {
            "sizes, pairs, places or because few seats change inside a cycle"
        } else {
            "sizes, pairs or places"
        }
    }

    fn mixed_note(&self, g: usize) -> Option<String> {
        let ideas = self.ideas_in(g);
        if ideas.len() < 2 {
            return None;
        }
        let parts: Vec<String> = ideas
            .iter()
            .map(|(code, who)| {
                let ids: Vec<&str> = who.iter().map(|&s| self.table.students()[s].id.as_str()).collect();
                format!("{} ({})", self.catalogue.idea(&self.profiles.patterns.codes[*code]), ids.join(", "))
            })
            .collect();
        Some(format!("Different wrong ideas sit here because sizes, pairs or needs forced it: {}.", parts.join("; ")))
    }

    /// The groups in which different wrong ideas sit.
    fn mixed_finding(&self, groups: &[Group]) -> Option<Finding> {
        let is_mixed = |g: &usize| self.ideas_in(*g).len() > 1;
        let mixed: Vec<&str> = (0..groups.len()).filter(is_mixed).map(|g| groups[g].name.as_str()).collect();
        let more = mixed.len().saturating_sub(NAMED);
        let more = if more == 0 { String::new() } else { format!(", and {more} more") };
        let named = mixed.iter().take(NAMED).copied().collect::<Vec<_>>().join(", ");
        (!mixed.is_empty()).then(|| {
            let what = "Different wrong ideas share a group because sizes, pairs or needs forced it";
            let action = "seated together all the same; the note of each group names the ideas and who shows them";
            Finding::note("ideas-mixed", format!("{what}: {named}{more}."), action)
        })
    }

    fn student(&self, s: usize, group: Option<usize>, groups: &[Group]) -> StudentReport {
        let student = &self.table.students()[s];
        let second_choice = group.and_then(|g| self.second_choice(s, g));
        let fit = group.map_or(0.0, |g| self.fit(s, g));
        StudentReport {
            id: student.id.clone(),
            name: student.name.clone(),
            grade: student.grade.clone(),
            homeroom: student.homeroom.clone(),
            supports: student.supports.clone(),
            group,
            // Moved in from the profiles once everything is told: a district has many.
            profile: Vec::new(),
            patterns: self.patterns(s),
            why: group.map_or_else(String::new, |g| self.why(s, g, second_choice, groups)),
            second_choice,
            fit,
        }
    }

    fn fit(&self, s: usize, g: usize) -> f64 {
        self.seating.needs.gain[(s, self.seating.groups[g].target)].clamp(0.0, 1.0)
    }

    /// The other group of the same pool whose target is most useful to the student, then whose ideas are nearest.
    fn second_choice(&self, s: usize, own: usize) -> Option<usize> {
        let pool = self.seating.groups[own].pool;
        self.of_pool[pool]
            .iter()
            .copied()
            .filter(|&g| g != own)
            .max_by(|&a, &b| self.closeness(s, a).total_cmp(&self.closeness(s, b)).then(b.cmp(&a)))
    }

    fn closeness(&self, s: usize, g: usize) -> f64 {
        let group = &self.seating.groups[g];
        let of_target = &self.seating.needs.ideas_of_skill[group.target];
        let shared: f64 = of_target
            .iter()
            .map(|&c| {
                let others: f64 = group.members.iter().map(|&m| self.seating.needs.ideas[(m, c)]).sum();
                self.seating.needs.ideas[(s, c)] * others / group.members.len().max(1) as f64
            })
            .fold(0.0, f64::max);
        self.fit(s, g) + 0.3 * shared
    }

    fn patterns(&self, s: usize) -> Vec<PatternReport> {
        let mut patterns: Vec<PatternReport> = self.profiles.patterns.counts[s]
            .iter()
            .filter(|c| c.seen > 0.0)
            .map(|c| PatternReport {
                code: self.profiles.patterns.codes[c.code].clone(),
                seen: c.seen,
                chances: c.chances,
            })
            .collect();
        patterns.sort_by(|a, b| b.seen.total_cmp(&a.seen).then(a.chances.cmp(&b.chances)).then(a.code.cmp(&b.code)));
        patterns
    }

    fn why(&self, s: usize, g: usize, second: Option<usize>, groups: &[Group]) -> String {
        let target = self.seating.groups[g].target;
        let skill = &self.profiles.skills.skills[target];
        let mut parts = Vec::new();
        if let Some((from, reason)) = self.seating.overruled.of_student(s) {
            let suggested = from.map_or("no seat".to_owned(), |number| format!("Group {number}"));
            parts.push(format!("Seated here by a person{}; {suggested} was suggested", because(reason)));
        }
        match self.profiles.reports[s].iter().find(|r| r.skill == target) {
            Some(r) => parts.push(format!(
                "{} of {} points on {} ({}){}",
                plain(r.points),
                plain(r.points_possible),
                skill.code,
                skill.name,
                match (r.is_lacked(), r.state) {
                    (true, _) => "",
                    (false, SkillState::NotEnough) => ", which this student may hold, on too few items to say",
                    (false, _) => ", which this student seems to hold",
                }
            )),
            None => parts.push(format!("{} was not measured for this student", skill.code)),
        }
        if self.profiles.looks_guessed[s] {
            parts.push(
                "the answers look guessed, so this seat is a guess too: ask a few items by word of mouth".to_owned(),
            );
        } else if let Some(idea) = self.told_idea(s, target) {
            parts.push(idea);
        }
        if !self.seating.needs.lacks[(s, target)]
            && let Some(own) = self.seating.needs.first_target(s, &self.profiles.skills)
        {
            parts.push(format!(
                "own first need is {}, seated here by {}",
                self.profiles.skills.skills[own].code,
                self.causes()
            ));
        }
        if let Some(second) = second {
            parts.push(format!("next best {}", groups[second].name));
        }
        let mut sentence = parts.join("; ");
        sentence.push('.');
        sentence
    }

    fn told_idea(&self, s: usize, target: usize) -> Option<String> {
        let of_target = &self.seating.needs.ideas_of_skill[target];
        let count = self.profiles.patterns.counts[s]
            .iter()
            .filter(|c| of_target.contains(&c.code) && c.sureness() >= IdeaSureness::Possible)
            .max_by(|a, b| by_sight(a, b))?;
        let idea = self.catalogue.idea(&self.profiles.patterns.codes[count.code]);
        let sure = if count.sureness() == IdeaSureness::Likely { "" } else { ", possible, not more" };
        let (seen, chances) = (plain(count.seen), count.chances);
        Some(format!("answers show \u{201c}{idea}\u{201d} {seen} of {chances} times{sure}"))
    }

    fn unplaced(&self, group_of: &[Option<usize>]) -> Vec<Unplaced> {
        let mut waiting: BTreeMap<usize, &str> = BTreeMap::new();
        let in_pools = self.seating.pools.iter().flat_map(|p: &Pool| &p.waiting);
        for (s, reason) in in_pools.chain(&self.seating.waiting) {
            waiting.insert(*s, reason);
        }
        (0..group_of.len())
            .filter(|&s| group_of[s].is_none())
            .map(|s| {
                let (kind, reason) = match waiting.get(&s) {
                    Some(reason) => (UnplacedKind::Waits, (*reason).to_owned()),
                    None if self.table.has_scores(s) => {
                        (UnplacedKind::NoNeed, "Lacks none of the skills measured this week.".to_owned())
                    }
                    None => (UnplacedKind::NoScores, "No scores this week.".to_owned()),
                };
                Unplaced { student: s, kind, reason }
            })
            .collect()
    }

    fn quality(&self, group_of: &[Option<usize>], students: &[StudentReport], groups: &[Group]) -> Quality {
        let features = &self.seating.error_profiles;
        let mut sse = 0.0;
        for group in groups {
            let n = group.members.len() as f64;
            for c in 0..features.ncols() {
                let mean = group.members.iter().map(|&s| features[(s, c)]).sum::<f64>() / n;
                sse += group.members.iter().map(|&s| (features[(s, c)] - mean).powi(2)).sum::<f64>();
            }
        }
        let placed: Vec<usize> = (0..students.len()).filter(|&s| group_of[s].is_some()).collect();
        let met = placed
            .iter()
            .filter(|&&s| group_of[s].is_some_and(|g| self.seating.needs.lacks[(s, self.seating.groups[g].target)]))
            .count();
        Quality {
            sse,
            silhouette: self.silhouette(features, group_of, &placed),
            need_met: if placed.is_empty() { 0.0 } else { met as f64 / placed.len() as f64 },
            reliability: None,
            standard_error: None,
        }
    }

    /// Mean over students of the silhouette within their own pool, as only groups of one pool are alternatives.
    fn silhouette(&self, features: &ndarray::Array2<f64>, group_of: &[Option<usize>], placed: &[usize]) -> Option<f64> {
        let mut by_pool: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &s in placed {
            if let Some(g) = group_of[s] {
                by_pool.entry(self.seating.groups[g].pool).or_default().push(s);
            }
        }
        let (mut sum, mut n) = (0.0, 0.0);
        for students in by_pool.into_values().filter(|p| p.len() <= SILHOUETTE_UP_TO) {
            let rows = features.select(ndarray::Axis(0), &students);
            let groups: Vec<usize> = students.iter().filter_map(|&s| group_of[s]).collect();
            let mut distinct = groups.clone();
            distinct.sort_unstable();
            distinct.dedup();
            let labels: Vec<usize> = groups.iter().filter_map(|g| distinct.binary_search(g).ok()).collect();
            if let Some(mean) = mean_silhouette(rows.view(), &labels) {
                sum += mean * students.len() as f64;
                n += students.len() as f64;
            }
        }
        (n > 0.0).then_some(sum / n)
    }
}

/// Likely, or seen twice in at least half of the chances: fewer is what guessing gives.
fn is_clear(c: &PatternCount) -> bool {
    c.sureness() == IdeaSureness::Likely || (c.sureness() == IdeaSureness::Possible && c.seen * 2.0 >= c.chances as f64)
}

/// The idea seen more often, then in fewer chances, then by code.
fn by_sight(a: &PatternCount, b: &PatternCount) -> Ordering {
    a.seen.total_cmp(&b.seen).then(b.chances.cmp(&a.chances)).then(b.code.cmp(&a.code))
}

/// How far a target is shared; nothing is called shared that most of the members do not lack, nor the earliest where most lack an
/// earlier one.
fn shared_words(n_lacking: usize, n: usize, lacked_before: Option<String>) -> String {
    match lacked_before {
        _ if n_lacking * 2 <= n => "most of them do not share it, so look at this group before teaching it".to_owned(),
        Some(before) => format!("most of them share it; {before}"),
        None => "the earliest unmet skill that most of them share".to_owned(),
    }
}

/// The reason a person gave, as the end of a clause.
fn because(reason: &str) -> String {
    let reason = reason.trim().trim_end_matches('.');
    if reason.is_empty() { String::new() } else { format!(" (\u{201c}{reason}\u{201d})") }
}

/// A count without a needless `.0`.
fn plain(value: f64) -> String {
    if (value - value.round()).abs() < 1e-9 { format!("{value:.0}") } else { format!("{value:.1}") }
}

fn count(n: usize, word: &str) -> String {
    if n == 1 { format!("{n} {word}") } else { format!("{n} {word}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_target_is_called_shared_only_where_most_lack_it() {
        assert!(shared_words(3, 5, None).contains("most of them share"));
        for (n_lacking, n) in [(1, 4), (2, 4), (0, 3)] {
            assert!(shared_words(n_lacking, n, None).contains("do not share"), "{n_lacking} of {n}");
        }
    }
}

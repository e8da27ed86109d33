//! What a command tells a person in plain lines: the plan on stdout, findings on stderr.
//!
//! Not here: JSON (`sheaf-core`), the workbook (`sheaf-sheets`).

use sheaf_core::finding::{Finding, Severity};
use sheaf_core::plan::{Group, Plan, UnplacedKind};
use std::io::{Result, Write};

/// Findings shown in full; the rest is counted.
const SHOWN_FINDINGS: usize = 8;
/// Groups and waiting students shown in full; beyond that only their counts.
const SHOWN_GROUPS: usize = 60;
/// Said under every plan.
const CAUTION: &str = "These groups are a suggestion from few items: not a diagnosis, and no ground for eligibility or placement decisions.";

/// How many findings of each severity, and the first warnings and errors, the gravest first.
pub fn tell_findings(findings: &[Finding], err: &mut dyn Write) -> Result<()> {
    if findings.is_empty() {
        return Ok(());
    }
    writeln!(err, "Findings: {}.", counts(findings))?;
    let mut grave: Vec<&Finding> = findings.iter().filter(|f| f.severity > Severity::Note).collect();
    grave.sort_by_key(|f| std::cmp::Reverse(f.severity));
    for finding in grave.iter().take(SHOWN_FINDINGS) {
        writeln!(err, "  {}", finding_line(finding))?;
    }
    if grave.len() > SHOWN_FINDINGS {
        writeln!(err, "  and {} more; `sheaf check` lists those of the sheets.", grave.len() - SHOWN_FINDINGS)?;
    }
    Ok(())
}

fn counts(findings: &[Finding]) -> String {
    let count = |severity| findings.iter().filter(|f| f.severity == severity).count();
    let (errors, warnings, notes) = (count(Severity::Error), count(Severity::Warning), count(Severity::Note));
    format!("{}, {}, {}", plural(errors, "error"), plural(warnings, "warning"), plural(notes, "note"))
}

/// `warning points-over-maximum, week1.xlsx Quiz C17: what was found (what was done)`.
pub fn finding_line(f: &Finding) -> String {
    let place: Vec<&str> =
        [f.file.as_str(), f.sheet.as_str(), f.cell.as_str()].into_iter().filter(|p| !p.is_empty()).collect();
    let place = if place.is_empty() { String::new() } else { format!(", {}", place.join(" ")) };
    let action = if f.action.is_empty() { String::new() } else { format!(" ({})", f.action) };
    format!("{} {}{place}: {}{action}", f.severity.word(), f.code, f.message)
}

/// The plan: groups, who has no seat, rotation, findings counted.
pub fn tell_plan(plan: &Plan, out: &mut dyn Write) -> Result<()> {
    tell_heading(plan, out)?;
    for group in plan.groups.iter().take(SHOWN_GROUPS) {
        tell_group(plan, group, out)?;
    }
    if plan.groups.len() > SHOWN_GROUPS {
        let hidden = plan.groups.len() - SHOWN_GROUPS;
        writeln!(out, "\nand {} more; the workbook and the JSON hold them all.", plural(hidden, "group"))?;
    }
    tell_unplaced(plan, out)?;
    tell_rotation(plan, out)?;
    writeln!(out, "\nFindings: {}.", counts(&plan.findings))?;
    writeln!(out, "{CAUTION}")
}

fn tell_heading(plan: &Plan, out: &mut dyn Write) -> Result<()> {
    let week = plan.week.map_or("no week named".to_owned(), |w| format!("week of {w}"));
    let n_seated: usize = plan.groups.iter().map(|g| g.members.len()).sum();
    let students = plural(plan.students.len(), "student");
    writeln!(out, "{students}, {week}: {n_seated} in {}", plural(plan.groups.len(), "group"))
}

fn tell_group(plan: &Plan, group: &Group, out: &mut dyn Write) -> Result<()> {
    let kind = if group.is_intensive { ", intensive" } else { "" };
    writeln!(out, "\n{}{kind}: {}", group.name, target_line(plan, group))?;
    for note in &group.notes {
        writeln!(out, "  {note}")?;
    }
    for student in group.members.iter().filter_map(|&m| plan.students.get(m)) {
        let name = if student.name.is_empty() { String::new() } else { format!(" {}", student.name) };
        writeln!(out, "  - {}{name}: {}", student.id, student.why)?;
    }
    let meetings = meetings_of(plan, group);
    if meetings.is_empty() { Ok(()) } else { writeln!(out, "  meets {}", meetings.join(", ")) }
}

/// Code and name of the target, and the share of members who lack it.
fn target_line(plan: &Plan, group: &Group) -> String {
    let known = plan.skills.iter().find(|s| s.code == group.target_skill);
    let name = known.filter(|s| s.name != s.code.as_str()).map_or(String::new(), |s| format!(" {}", s.name));
    format!("{}{name} ({:.0} % lack it)", group.target_skill, 100.0 * group.need)
}

/// Meetings, in order of time.
fn meetings_of(plan: &Plan, group: &Group) -> Vec<String> {
    let mine = plan.rotation.iter().filter(|s| s.group == group.id);
    mine.map(|s| {
        let staff = s.staff.as_deref().map_or(String::new(), |name| format!(" with {name}"));
        format!("{} {} {}{staff}", s.time.day.short(), s.time.start, s.station)
    })
    .collect()
}

fn tell_unplaced(plan: &Plan, out: &mut dyn Write) -> Result<()> {
    let of = |kind: UnplacedKind| plan.unplaced.iter().filter(move |u| u.kind == kind);
    let count = |kind| of(kind).count();
    writeln!(
        out,
        "\nWithout a seat: {} wait, {} lack nothing measured, {} have no scores",
        count(UnplacedKind::Waits),
        count(UnplacedKind::NoNeed),
        count(UnplacedKind::NoScores)
    )?;
    for waiting in of(UnplacedKind::Waits).take(SHOWN_GROUPS) {
        let Some(student) = plan.students.get(waiting.student) else { continue };
        writeln!(out, "  - {} waits: {}", student.id, waiting.reason)?;
    }
    let hidden = count(UnplacedKind::Waits).saturating_sub(SHOWN_GROUPS);
    if hidden == 0 { Ok(()) } else { writeln!(out, "  and {hidden} more; the JSON holds them all.") }
}

fn tell_rotation(plan: &Plan, out: &mut dyn Write) -> Result<()> {
    let n_staffed = plan.rotation.iter().filter(|s| s.staff.is_some()).count();
    let n_alone = plan.rotation.len() - n_staffed;
    writeln!(out, "\nRotation: {} with an adult, {n_alone} without", plural(n_staffed, "session"))?;
    for note in &plan.rotation_notes {
        writeln!(out, "  {note}")?;
    }
    Ok(())
}

/// `1 group`, `2 groups`.
pub fn plural(count: usize, word: &str) -> String {
    format!("{count} {word}{}", if count == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made_up::plan;

    fn told(plan: &Plan) -> String {
        let mut out = Vec::new();
        tell_plan(plan, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn a_plan_tells_members_reasons_meetings_and_who_waits() {
        let text = told(&plan());
        for line in [
            "3 students, week of 2026-02-02: 2 in 1 group",
            "Group 1: 4.NF.A.1 equal fractions (50 % lack it)",
            "  - 0417 Ada Lund: Shows 1 of 4 on equal fractions.",
            "  meets Mon 09:00 Table with Teacher A, Mon 10:00 Table",
            "Without a seat: 1 wait, 0 lack nothing measured, 0 have no scores",
            "  - 0600 waits: No seat was left.",
            "Rotation: 1 session with an adult, 1 without",
            "Findings: 1 error, 1 warning, 1 note.",
        ] {
            assert!(text.lines().any(|l| l == line), "{line:?} is not in\n{text}");
        }
        assert!(text.trim_end().ends_with(CAUTION));
    }

    #[test]
    fn findings_are_counted_and_the_gravest_come_first() {
        let mut err = Vec::new();
        tell_findings(&plan().findings, &mut err).unwrap();
        assert_eq!(
            String::from_utf8(err).unwrap(),
            "Findings: 1 error, 1 warning, 1 note.\n\
             \u{20} error points-over-maximum, week1.csv C17: 7 of 4 points. (taken as not taken)\n\
             \u{20} warning no-id, week1.csv: There is no id column. (the name serves)\n"
        );
    }
}

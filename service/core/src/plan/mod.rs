//! The week's plan: one value that every page, print, workbook, JSON and command shows and none decides.
//!
//! [`Plan`] is the domain value; [`published`] is its JSON form (`sheaf.plan/1`), the only place in this crate
//! with names for the outside; [`mend`] reads it back as far as a repair needs.
//! Not here: weeks before this one (`movement`), files (`sheaf-app`).

mod lines;
mod make;
pub mod mend;
pub mod published;
pub mod published_check;
mod repaired;
mod steps;
mod week_tickets;

pub(crate) use lines::write_lines;
pub use make::{PlanError, PlanInput, make_plan, make_plan_watched};
pub use repaired::{PlanRepair, Timetable};
pub use steps::{PlanStep, PlanWatch};
pub use week_tickets::{IDLE_SWAP, MetItems};

use crate::finding::Finding;
use crate::roster::StudentId;
use crate::rotation::Session;
use crate::skills::SkillCode;
use crate::tickets::Ticket;
use jiff::civil::Date;

/// One sheet that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InputSummary {
    /// File name without folders.
    pub file: String,
    /// SHA-256 of the file's bytes, lower-case hex.
    pub sha256: String,
    /// Sheet name; empty for text files.
    pub sheet: String,
    /// Students read from it.
    pub n_students: usize,
    /// Items read from it.
    pub n_items: usize,
}

/// Quality figures of one item.
#[derive(Debug, Clone, PartialEq)]
pub struct ItemReport {
    /// Label.
    pub label: String,
    /// Skills.
    pub skills: Vec<SkillCode>,
    /// Students with points on it.
    pub n_taken: usize,
    /// Mean share of points, 0 to 1; `None` where nobody took it.
    pub difficulty: Option<f64>,
    /// Correlation with the rest score, -1 to 1; `None` where undefined.
    pub discrimination: Option<f64>,
    /// What became of each option, in order of label; empty where nothing was chosen from.
    pub options: Vec<OptionReport>,
    /// A word for what is odd about it, e.g. `everybody-right`; `None` where nothing is.
    pub flag: Option<String>,
}

/// What became of one option of an item.
#[derive(Debug, Clone, PartialEq)]
pub struct OptionReport {
    /// Its letter.
    pub label: String,
    /// Students who chose it.
    pub n_chosen: usize,
    /// Their share of those who chose, 0 to 1.
    pub share: f64,
    /// Correlation of having chosen it with the rest score, -1 to 1; `None` where undefined.
    pub discrimination: Option<f64>,
    /// A word for a wrong option that does no work; `None` where nothing is odd.
    pub flag: Option<String>,
}

/// Where a student stands on a skill. Declared in order of need; see the contract for the rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SkillState {
    /// Under three scored items.
    NotEnough,
    /// Was confirmed, now under the cut.
    Lost,
    /// Met on as many tickets or checks as the setup asks for.
    Confirmed,
    /// Met once.
    MetOnce,
    /// The interval spans the cut.
    Close,
    /// Under the cut.
    NotYet,
}

impl SkillState {
    /// The word used in JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            SkillState::NotEnough => "not-enough",
            SkillState::Lost => "lost",
            SkillState::Confirmed => "confirmed",
            SkillState::MetOnce => "met-once",
            SkillState::Close => "close",
            SkillState::NotYet => "not-yet",
        }
    }

    /// The state of a word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        use SkillState::{Close, Confirmed, Lost, MetOnce, NotEnough, NotYet};
        [NotEnough, Lost, Confirmed, MetOnce, Close, NotYet].into_iter().find(|s| s.word() == word)
    }
}

/// What one student shows on one skill.
#[derive(Debug, Clone, PartialEq)]
pub struct SkillReport {
    /// Index into [`Plan::skills`].
    pub skill: usize,
    /// Probability that the student holds the skill, 0 to 1; lacks it when under 0.5.
    pub mastery: f64,
    /// Lower end of the 80 % interval of the share of points.
    pub share_low: f64,
    /// Upper end.
    pub share_high: f64,
    /// Scored items that need the skill.
    pub n_items: usize,
    /// Points got on them.
    pub points: f64,
    /// Points possible on them.
    pub points_possible: f64,
    /// Where the student stands.
    pub state: SkillState,
}

impl SkillReport {
    /// Whether the student lacks the skill: mastery under one half.
    #[must_use]
    pub fn is_lacked(&self) -> bool {
        self.mastery < 0.5
    }
}

/// How often one wrong idea showed in one student's answers.
#[derive(Debug, Clone, PartialEq)]
pub struct PatternReport {
    /// Error-pattern code.
    pub code: String,
    /// Times it was chosen (halves where an option carries two codes).
    pub seen: f64,
    /// Answered items that offered it.
    pub chances: usize,
}

/// One student in the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct StudentReport {
    /// Id.
    pub id: StudentId,
    /// Name as given.
    pub name: String,
    /// Grade as given.
    pub grade: String,
    /// Homeroom as given.
    pub homeroom: String,
    /// Supports, for staff only.
    pub supports: Vec<String>,
    /// Index into [`Plan::groups`]; `None`: see [`Plan::unplaced`].
    pub group: Option<usize>,
    /// One entry a skill measured for this student, in order of [`Plan::skills`].
    pub profile: Vec<SkillReport>,
    /// Wrong ideas, most seen first.
    pub patterns: Vec<PatternReport>,
    /// Why the student sits there, in one sentence.
    pub why: String,
    /// Index of the next best group, where there is one.
    pub second_choice: Option<usize>,
    /// How well the group's target meets the student's need, 0 to 1; 0 where unplaced.
    pub fit: f64,
}

impl StudentReport {
    /// What to call the student on paper: the name, or the id where there is none.
    #[must_use]
    pub fn shown_name(&self) -> &str {
        if self.name.trim().is_empty() { self.id.as_str() } else { &self.name }
    }
}

/// Why a student has no seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnplacedKind {
    /// Needs a seat; none was left.
    Waits,
    /// Lacks no measured skill.
    NoNeed,
    /// No scores.
    NoScores,
}

impl UnplacedKind {
    /// The word used in JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            UnplacedKind::Waits => "waits",
            UnplacedKind::NoNeed => "no-need",
            UnplacedKind::NoScores => "no-scores",
        }
    }
}

/// A student without a seat.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unplaced {
    /// Index into [`Plan::students`].
    pub student: usize,
    /// Which kind.
    pub kind: UnplacedKind,
    /// One sentence.
    pub reason: String,
}

/// The number of a group's id: 3 of `g3`; `None` where it is no id of ours.
#[must_use]
pub fn group_number(id: &str) -> Option<usize> {
    id.trim_start_matches('g').parse().ok()
}

/// One group.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// `g1`, `g2`, …
    pub id: String,
    /// Neutral name, e.g. `Group 1`.
    pub name: String,
    /// Indexes into [`Plan::students`], in order of id.
    pub members: Vec<usize>,
    /// Skill that the group is taught.
    pub target_skill: SkillCode,
    /// Wrong idea that most members share, among those that belong to the target.
    pub error_pattern: Option<String>,
    /// Share of members who lack the target, 0 to 1.
    pub need: f64,
    /// Whether it is an intensive group.
    pub is_intensive: bool,
    /// Sentences for staff: why this target, who does not fit, ideas that are mixed, sureness.
    pub notes: Vec<String>,
}

/// Figures on the whole.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Quality {
    /// Sum of squared distances of error profiles to their group's mean.
    pub sse: f64,
    /// Mean silhouette of the groups, -1 to 1; `None` with fewer than two groups.
    pub silhouette: Option<f64>,
    /// Share of placed students whose group targets a skill that they lack.
    pub need_met: f64,
    /// KR-20 / alpha of the items; `None` where undefined.
    pub reliability: Option<f64>,
    /// Standard error of measurement of the points; `None` where undefined.
    pub standard_error: Option<f64>,
}

/// A skill that the sheets measure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MeasuredSkill {
    /// Code.
    pub code: SkillCode,
    /// Plain words; the code where the graph does not know it.
    pub name: String,
    /// Items that need it.
    pub n_items: usize,
}

/// The week's plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The week's Monday, where known.
    pub week: Option<Date>,
    /// Seed of every random draw.
    pub seed: u64,
    /// What was read.
    pub inputs: Vec<InputSummary>,
    /// What was noticed, reading and planning.
    pub findings: Vec<Finding>,
    /// Items with their figures.
    pub items: Vec<ItemReport>,
    /// Skills measured, in teaching order.
    pub skills: Vec<MeasuredSkill>,
    /// Students, in order of id.
    pub students: Vec<StudentReport>,
    /// Students without a seat, in order of id.
    pub unplaced: Vec<Unplaced>,
    /// Groups, in order of number.
    pub groups: Vec<Group>,
    /// Meetings, in order of time, then group.
    pub rotation: Vec<Session>,
    /// Sentences about the rotation: sessions a group got, what did not fit and what would fix it.
    pub rotation_notes: Vec<String>,
    /// What the rotation was planned from.
    pub timetable: Timetable,
    /// Days that were issued anew because somebody was out, in order.
    pub repairs: Vec<PlanRepair>,
    /// Tickets, in order of group, then form.
    pub tickets: Vec<Ticket>,
    /// Figures on the whole.
    pub quality: Quality,
}

//! How it went with one child and the skill that the child's group is taught: met, close, or what stands in the way.
//!
//! In:  week by week whether the skill was the target, the time received, the fresh answers on it, the state in that week's plan, and
//! wrong ideas seen. Out: a [`Judged`]: a verdict with one sentence of counts, a wrong idea that changed, whether there is a gain.
//! Rules, the first that holds: not there in the last week `left`; state met once or confirmed `met`; `lost`; under half of the time of
//! the last three weeks with this target received `not-yet-taught`; answers that look guessed `not-enough`; the interval of the share
//! over these weeks, or over the last three alone, spans the cut `close`; under it with three weeks, 70 % of the time and 8 items, of as many weeks as it takes,
//! and a lack by the last week's plan, `change-something`; else `not-enough`.
//! Keeps: `away_is_not_stuck`, `stuck_needs_weeks_minutes_and_items`, `a_changed_idea_is_named`, `few_answers_are_no_gain`.
//! Source of the numbers: common practice, no source. Not here: which weeks there are (`sheaf-app`), movement by chance.

use super::{TAUGHT_FROM, TimeReceived};
use crate::numeric::{jeffreys_interval, jeffreys_reaches};
use crate::plan::SkillState;
use crate::profile::{ENOUGH_ITEMS, ErrorCatalogue, SHOWN_LEVEL};

/// Weeks in a row with the same target from which something is to change.
pub const STUCK_WEEKS: usize = 3;
/// Share of the planned time received from which a lack is not one of time.
pub const STUCK_MINUTES: f64 = 0.7;
/// Fresh items from which a lack is one of learning.
pub const STUCK_ITEMS: usize = 8;
/// Sightings from which an idea counts in a comparison of weeks: possible before, likely since.
const SEEN_BEFORE: f64 = 2.0;
const SEEN_LATELY: f64 = 3.0;
/// Weeks that are set against those before them where ideas are compared.
const LATEST_WEEKS: usize = 2;

/// One week of one child on one skill.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SkillWeek {
    /// Whether the child's group was taught it.
    pub is_target: bool,
    /// Time planned and received.
    pub time: TimeReceived,
    /// Scored items of this week on it.
    pub n_items: usize,
    /// Points got on them.
    pub points: f64,
    /// Points possible on them.
    pub points_possible: f64,
    /// Where the child stood in the week's plan; `None` where it was not measured.
    pub state: Option<SkillState>,
    /// Whether the week's plan says that the child lacks it, from all that it knows.
    pub is_lacked: bool,
    /// Wrong ideas seen on it this week, with how often.
    pub ideas: Vec<(String, f64)>,
    /// Whether the week's answers look guessed.
    pub looks_guessed: bool,
}

/// How it went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Met.
    Met,
    /// The interval spans the cut.
    Close,
    /// Taught and not learnt: something else is to be tried.
    ChangeSomething,
    /// Most of the time was not received.
    NotYetTaught,
    /// Too little to say.
    NotEnough,
    /// Was confirmed, and is no longer.
    Lost,
    /// Not there any more.
    Left,
}

impl Verdict {
    /// The word used in JSON.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Met => "met",
            Verdict::Close => "close",
            Verdict::ChangeSomething => "change-something",
            Verdict::NotYetTaught => "not-yet-taught",
            Verdict::NotEnough => "not-enough",
            Verdict::Lost => "lost",
            Verdict::Left => "left",
        }
    }
}

/// A wrong idea that took the place of another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangedIdea {
    /// Code of the idea before.
    pub from: String,
    /// Code of the idea of the last two weeks.
    pub to: String,
}

/// How it went, and why that is said.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// One sentence with counts.
    pub reason: String,
    /// A wrong idea that took the place of another.
    pub changed_idea: Option<ChangedIdea>,
    /// Whether the last week's share lies above the first week's by more than both are unsure.
    pub has_gained: bool,
    /// Weeks in a row, up to the last known, with the skill as target.
    pub n_weeks: usize,
}

/// Judges the weeks of one child on one skill, the first week first. `None`: the child was in no sheet and no list of that week.
#[must_use]
pub fn judge(weeks: &[Option<SkillWeek>], cut: f64, catalogue: &ErrorCatalogue) -> Judged {
    let known: Vec<&SkillWeek> = weeks.iter().flatten().collect();
    let run = Run::latest(&known);
    let verdict = match (weeks.last(), known.last()) {
        (Some(Some(_)), Some(last)) => verdict_of(last, &run, cut),
        _ => Verdict::Left,
    };
    let changed_idea = changed_idea(&known);
    Judged {
        verdict,
        reason: run.reason(
            verdict,
            known.iter().rfind(|w| w.n_items > 0).copied(),
            cut,
            changed_idea.as_ref(),
            catalogue,
        ),
        changed_idea,
        has_gained: has_gained(&known),
        n_weeks: run.n_weeks,
    }
}

fn verdict_of(last: &SkillWeek, run: &Run, cut: f64) -> Verdict {
    match last.state {
        Some(SkillState::Confirmed | SkillState::MetOnce) => return Verdict::Met,
        Some(SkillState::Lost) => return Verdict::Lost,
        _ => {}
    }
    let received = run.time.share();
    if received.is_some_and(|share| share < TAUGHT_FROM) {
        return Verdict::NotYetTaught;
    }
    if last.looks_guessed || run.answers.n_items < ENOUGH_ITEMS {
        return Verdict::NotEnough;
    }
    let is_taught = run.n_weeks >= STUCK_WEEKS && received.is_some_and(|share| share >= STUCK_MINUTES - 1e-9);
    // Earlier weeks that fill in for items do not outvote what was learnt lately.
    if run.answers.reaches(cut, SHOWN_LEVEL) || run.recent.reaches(cut, SHOWN_LEVEL) {
        Verdict::Close
    } else if is_taught && run.answers.n_items >= STUCK_ITEMS && last.is_lacked {
        Verdict::ChangeSomething
    } else {
        Verdict::NotEnough
    }
}

/// The last weeks in a row with the skill as target: how many, the time of the last three, and the answers of the last three or of as
/// many as make [`STUCK_ITEMS`].
#[derive(Debug, Default)]
struct Run {
    n_weeks: usize,
    time: TimeReceived,
    answers: Answers,
    /// Of the last three weeks alone.
    recent: Answers,
}

/// Answers of some weeks.
#[derive(Debug, Default, Clone, Copy)]
struct Answers {
    n_items: usize,
    points: f64,
    possible: f64,
}

impl Answers {
    fn add(&mut self, week: &SkillWeek) {
        self.n_items += week.n_items;
        self.points += week.points;
        self.possible += week.points_possible;
    }

    fn words(&self) -> String {
        let items = if self.n_items == 1 { "1 item".to_owned() } else { format!("{} items", self.n_items) };
        format!("{} of {} points on {items}", counted(self.points), counted(self.possible))
    }

    /// Whether the interval of the share reaches up to the cut.
    fn reaches(&self, cut: f64, level: f64) -> bool {
        jeffreys_reaches(self.points, self.possible, level, cut)
    }
}

impl Run {
    fn latest(weeks: &[&SkillWeek]) -> Self {
        let mut run = Run::default();
        for week in weeks.iter().rev().skip_while(|w| !w.is_target).take_while(|w| w.is_target) {
            run.n_weeks += 1;
            // Short quizzes need more weeks for as many items; time is always that of the last three.
            if run.n_weeks <= STUCK_WEEKS || run.answers.n_items < STUCK_ITEMS {
                run.answers.add(week);
            }
            if run.n_weeks <= STUCK_WEEKS {
                run.recent = run.answers;
                run.time.n_sessions += week.time.n_sessions;
                run.time.n_there += week.time.n_there;
                run.time.minutes_planned += week.time.minutes_planned;
                run.time.minutes_received += week.time.minutes_received;
            }
        }
        run
    }

    /// Met and lost stand beside the week that asked last, and say so where it alone points the other way; the others rest on all that the run
    /// counts.
    fn reason(
        &self,
        verdict: Verdict,
        asked_last: Option<&SkillWeek>,
        cut: f64,
        changed: Option<&ChangedIdea>,
        catalogue: &ErrorCatalogue,
    ) -> String {
        let weeks = if self.n_weeks == 1 { "1 week".to_owned() } else { format!("{} weeks", self.n_weeks) };
        let minutes = if self.time.minutes_planned > 0 {
            format!("{} of {} minutes", self.time.minutes_received, self.time.minutes_planned)
        } else if self.time.n_sessions > 0 {
            format!("at {} of {} sessions", self.time.n_there, self.time.n_sessions)
        } else {
            "time not noted".to_owned()
        };
        let told_cut = format!("cut {:.0} %", cut * 100.0);
        let counts = match (verdict, asked_last) {
            (Verdict::Met | Verdict::Lost, Some(week)) => {
                let mut last = Answers::default();
                last.add(week);
                let is_over = last.points >= cut * last.possible - 1e-9;
                let but = match (verdict, is_over) {
                    (Verdict::Met, false) => ", which alone does not undo it",
                    (Verdict::Lost, true) => ", which alone does not confirm it again",
                    _ => "",
                };
                format!("{} when last asked ({told_cut}){but}; target for {weeks}, lately {minutes}", last.words())
            }
            _ => format!("target for {weeks}; lately {minutes}, {} ({told_cut})", self.answers.words()),
        };
        let says = match verdict {
            Verdict::Met => "Met",
            Verdict::Close => "Close to the cut",
            Verdict::ChangeSomething => {
                "Taught and not learnt yet: look one step down, or change representation, group size or adult"
            }
            Verdict::NotYetTaught => "Not yet taught, rather than not learnt",
            Verdict::NotEnough => "Too little to say",
            Verdict::Lost => "Was confirmed and is under the cut again",
            Verdict::Left => "Not in the last week's sheets",
        };
        let idea = changed.map_or(String::new(), |c| {
            format!("; the wrong idea was “{}” and is now “{}”", catalogue.idea(&c.from), catalogue.idea(&c.to))
        });
        format!("{says}: {counts}{idea}.")
    }
}

/// Points as people write them: whole ones without a decimal.
fn counted(points: f64) -> String {
    let tenths = (points * 10.0).round() / 10.0;
    tenths.to_string()
}

/// The idea seen most, if it was seen often enough and oftener than any other.
fn top_idea(weeks: &[&SkillWeek], enough: f64) -> Option<String> {
    let mut sums: std::collections::BTreeMap<&str, f64> = std::collections::BTreeMap::new();
    weeks.iter().flat_map(|w| &w.ideas).for_each(|(code, seen)| *sums.entry(code).or_default() += seen);
    let (code, most) = sums.iter().max_by(|a, b| a.1.total_cmp(b.1).then(b.0.cmp(a.0)))?;
    let is_alone = sums.values().filter(|seen| **seen >= *most).count() == 1;
    (*most >= enough && is_alone).then(|| (*code).to_owned())
}

fn changed_idea(weeks: &[&SkillWeek]) -> Option<ChangedIdea> {
    let answered: Vec<&SkillWeek> = weeks.iter().copied().filter(|w| w.n_items > 0).collect();
    let (before, latest) = answered.split_at(answered.len().saturating_sub(LATEST_WEEKS));
    let (from, to) = (top_idea(before, SEEN_BEFORE)?, top_idea(latest, SEEN_LATELY)?);
    (from != to).then_some(ChangedIdea { from, to })
}

fn has_gained(weeks: &[&SkillWeek]) -> bool {
    let answered: Vec<&&SkillWeek> = weeks.iter().filter(|w| w.n_items > 0).collect();
    let (Some(first), Some(last)) = (answered.first(), answered.last()) else { return false };
    let share = |w: &SkillWeek| w.points / w.points_possible.max(1e-9);
    if share(last) <= share(first) {
        return false;
    }
    let interval = |w: &SkillWeek| jeffreys_interval(w.points, w.points_possible, SHOWN_LEVEL);
    interval(last).low > interval(first).high
}

#[cfg(test)]
mod tests {
    use super::*;

    fn week(points: f64, n_items: usize, minutes_received: u32) -> Option<SkillWeek> {
        let time = TimeReceived { n_sessions: 3, n_there: 3, minutes_planned: 90, minutes_received };
        let points_possible = n_items as f64;
        let state = Some(SkillState::NotYet);
        Some(SkillWeek {
            is_lacked: true,
            is_target: true,
            time,
            n_items,
            points,
            points_possible,
            state,
            ..SkillWeek::default()
        })
    }

    fn verdict(weeks: &[Option<SkillWeek>]) -> Verdict {
        judge(weeks, 0.8, &ErrorCatalogue::default()).verdict
    }

    #[test]
    fn stuck_needs_weeks_minutes_and_items() {
        let stuck = [week(1.0, 4, 90), week(0.0, 4, 60), week(1.0, 4, 60)];
        assert_eq!(verdict(&stuck), Verdict::ChangeSomething);
        assert_eq!(
            judge(&stuck, 0.8, &ErrorCatalogue::default()).reason,
            "Taught and not learnt yet: look one step down, or change representation, group size or adult: target for 3 weeks; \
             lately 210 of 270 minutes, 2 of 12 points on 12 items (cut 80 %)."
        );
        assert_eq!(verdict(&stuck[1..]), Verdict::NotEnough, "two weeks");
        assert_eq!(verdict(&[week(1.0, 4, 90), week(0.0, 4, 50), week(1.0, 4, 40)]), Verdict::NotEnough, "two thirds");
        assert_eq!(verdict(&[week(0.0, 3, 90), week(0.0, 2, 90), week(0.0, 2, 90)]), Verdict::NotEnough, "seven items");
        let short: Vec<_> = (0..5).map(|_| week(0.0, 2, 90)).collect();
        assert_eq!(verdict(&short[..3]), Verdict::NotEnough, "six items");
        assert_eq!(verdict(&short[..4]), Verdict::ChangeSomething, "two items a week make eight in four weeks");
        assert!(
            judge(&short, 0.8, &ErrorCatalogue::default())
                .reason
                .contains("270 of 270 minutes, 0 of 8 points on 8 items")
        );
        let lately = |points: [f64; 5]| -> Vec<_> { points.into_iter().map(|points| week(points, 2, 90)).collect() };
        assert_eq!(verdict(&lately([0.0, 0.0, 1.0, 1.0, 1.0])), Verdict::ChangeSomething, "half right lately");
        assert_eq!(
            verdict(&lately([0.0, 0.0, 1.0, 1.0, 2.0])),
            Verdict::Close,
            "older answers do not outvote two thirds right lately"
        );
        let mut held = stuck.clone();
        held[2].as_mut().unwrap().is_lacked = false;
        assert_eq!(verdict(&held), Verdict::NotEnough, "the plan holds that the child has it by now");
        let mut other = stuck;
        other[1].as_mut().unwrap().is_target = false;
        assert_eq!(verdict(&other), Verdict::NotEnough, "another target between");
    }

    #[test]
    fn away_is_not_stuck() {
        let away = [week(1.0, 4, 90), week(0.0, 0, 0), week(0.0, 0, 0), week(0.0, 9, 90)];
        assert_eq!(verdict(&away), Verdict::NotYetTaught);
        assert_eq!(verdict(&away[..3]), Verdict::NotYetTaught);
        assert_eq!(verdict(&[week(1.0, 4, 90), None]), Verdict::Left);
        assert_eq!(verdict(&[]), Verdict::Left);
    }

    #[test]
    fn who_is_near_the_cut_is_close_and_who_is_over_it_has_met() {
        let near = [week(3.0, 4, 90), week(3.0, 4, 90), week(3.0, 4, 90)];
        assert_eq!(verdict(&near), Verdict::Close);
        for (state, expect) in [
            (SkillState::MetOnce, Verdict::Met),
            (SkillState::Confirmed, Verdict::Met),
            (SkillState::Lost, Verdict::Lost),
            (SkillState::Close, Verdict::Close),
        ] {
            let mut weeks = near.clone();
            weeks[2].as_mut().unwrap().state = Some(state);
            assert_eq!(verdict(&weeks), expect);
        }
        let mut met = [week(0.0, 9, 90), week(4.0, 5, 60)];
        met[1].as_mut().unwrap().state = Some(SkillState::MetOnce);
        let counted = |weeks: &[Option<SkillWeek>]| judge(weeks, 0.8, &ErrorCatalogue::default()).reason;
        assert_eq!(
            counted(&met),
            "Met: 4 of 5 points on 5 items when last asked (cut 80 %); target for 2 weeks, lately 150 of 180 minutes."
        );
        met[1].as_mut().unwrap().points = 1.0;
        assert!(
            counted(&met)
                .contains("Met: 1 of 5 points on 5 items when last asked (cut 80 %), which alone does not undo it;")
        );
        met[1].as_mut().unwrap().state = Some(SkillState::Lost);
        assert!(counted(&met).contains("cut again: 1 of 5 points on 5 items when last asked (cut 80 %);"));
        met[1].as_mut().unwrap().points = 5.0;
        assert!(counted(&met).contains("when last asked (cut 80 %), which alone does not confirm it again;"));
        let mut guessed = near;
        guessed[2].as_mut().unwrap().looks_guessed = true;
        assert_eq!(verdict(&guessed), Verdict::NotEnough);
    }

    #[test]
    fn a_changed_idea_is_named() {
        let with = |ideas: &[(&str, f64)]| {
            let mut week = week(1.0, 5, 90).unwrap();
            week.ideas = ideas.iter().map(|(code, seen)| ((*code).to_owned(), *seen)).collect();
            Some(week)
        };
        let weeks = [
            with(&[("a", 3.0)]),
            with(&[("a", 1.0), ("b", 1.0)]),
            with(&[("b", 2.0)]),
            with(&[("b", 2.0), ("a", 1.0)]),
        ];
        let judged = judge(&weeks, 0.8, &ErrorCatalogue::default());
        assert_eq!(judged.changed_idea, Some(ChangedIdea { from: "a".into(), to: "b".into() }));
        assert!(judged.reason.ends_with("; the wrong idea was “a” and is now “b”."), "{}", judged.reason);
        assert_eq!(judge(&weeks[..2], 0.8, &ErrorCatalogue::default()).changed_idea, None, "nothing came before");
        let even = [with(&[("a", 2.0)]), with(&[("b", 3.0)]), with(&[("a", 3.0)])];
        assert_eq!(judge(&even, 0.8, &ErrorCatalogue::default()).changed_idea, None, "two ideas as often");
        let rare = [with(&[("a", 2.0)]), with(&[("b", 1.0)]), with(&[("b", 1.0)])];
        assert_eq!(
            judge(&rare, 0.8, &ErrorCatalogue::default()).changed_idea,
            None,
            "seen twice lately is what guessing gives"
        );
    }

    #[test]
    fn few_answers_are_no_gain() {
        assert!(!judge(&[week(1.0, 4, 90), week(3.0, 4, 90)], 0.8, &ErrorCatalogue::default()).has_gained);
        assert!(judge(&[week(1.0, 9, 90), week(8.0, 9, 90)], 0.8, &ErrorCatalogue::default()).has_gained);
        assert!(!judge(&[week(8.0, 9, 90), week(1.0, 9, 90)], 0.8, &ErrorCatalogue::default()).has_gained);
    }
}

//! What is met from one week to the next: skills newly met and no longer met, and how alike the two weeks judge.
//!
//! In:  the facts of two weeks. Out: [`StateChanges`]: over every skill of every child that both weeks could judge, how many turned to
//! met and back, the exact chance of so uneven a turn if either way were as likely (McNemar), and Cohen's kappa of met or not.
//! Keeps: who was not judged in one of the weeks counts in neither (`what_one_week_could_not_judge_does_not_count`); an even turn is
//! told as such (`an_even_turn_is_no_news`). A state looks back over weeks, so most stay by themselves.
//! Not here: the tests' arithmetic (`numeric::exact`, `agreement`), single children (`verdict`).

use super::agreement::cohens_kappa;
use super::facts::WeekFacts;
use crate::numeric::exact_mcnemar;
use crate::plan::SkillState;

/// Under this chance a turn is told as more than coming and going. Common practice, no source.
const TOLD: f64 = 0.05;

/// What changed between two weeks.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct StateChanges {
    /// Skills of children that both weeks judged.
    pub n: usize,
    /// Met now and not before.
    pub newly_met: usize,
    /// Met before and not now.
    pub no_longer_met: usize,
    /// Cohen's kappa of met or not; `None` where all were judged one way.
    pub kappa: Option<f64>,
    /// Exact two-sided chance of so uneven a turn.
    pub chance: f64,
}

impl StateChanges {
    /// What the counts allow to be said.
    #[must_use]
    pub fn says(&self) -> &'static str {
        match self.chance < TOLD {
            true if self.newly_met > self.no_longer_met => "more met than coming and going alone would give",
            true => "fewer met than coming and going alone would give",
            false => "no more than coming and going",
        }
    }

    /// One sentence with counts.
    #[must_use]
    pub fn sentence(&self) -> String {
        let StateChanges { n, newly_met, no_longer_met, .. } = self;
        let says = self.says();
        format!("Of {n} skills judged in both weeks {newly_met} newly met, {no_longer_met} no longer: {says}.")
    }
}

fn is_met(state: SkillState) -> Option<bool> {
    match state {
        SkillState::NotEnough => None,
        SkillState::Confirmed | SkillState::MetOnce => Some(true),
        SkillState::Lost | SkillState::Close | SkillState::NotYet => Some(false),
    }
}

/// Values whose key stands in both; each goes up by key.
fn in_both<'a, K: Ord + 'a, V>(
    before: impl Iterator<Item = (&'a K, V)>,
    now: impl Iterator<Item = (&'a K, V)>,
) -> impl Iterator<Item = (V, V)> {
    let mut before = before.peekable();
    now.filter_map(move |(key, now)| {
        while before.next_if(|(earlier, _)| *earlier < key).is_some() {}
        before.next_if(|(earlier, _)| *earlier == key).map(|(_, was)| (was, now))
    })
}

/// Compares what two weeks say is met.
pub(super) fn state_changes(before: &WeekFacts, now: &WeekFacts) -> StateChanges {
    let mut table = [[0_u64; 2]; 2];
    let children =
        in_both(before.children.iter().map(|c| (&c.student.id, c)), now.children.iter().map(|c| (&c.student.id, c)));
    for (was, is) in children.flat_map(|(was, is)| in_both(was.states.iter(), is.states.iter())) {
        if let Some((was, is)) = is_met(*was).zip(is_met(*is)) {
            table[usize::from(was)][usize::from(is)] += 1;
        }
    }
    let [[_, newly_met], [no_longer_met, _]] = table;
    StateChanges {
        n: table.iter().flatten().sum::<u64>() as usize,
        newly_met: newly_met as usize,
        no_longer_met: no_longer_met as usize,
        kappa: cohens_kappa(&table),
        chance: exact_mcnemar(newly_met, no_longer_met),
    }
}

#[cfg(test)]
mod tests {
    use super::super::facts::made_up::{child, week};
    use super::*;

    const SKILL: &str = "4.NF.A.1";

    fn of(n: i32, states: &[SkillState]) -> WeekFacts {
        let of_child = |(at, state): (usize, &SkillState)| {
            let mut made = child(&format!("{at:02}"), Some("g1"), SKILL, 1.0, 5.0);
            made.states.values_mut().for_each(|s| *s = *state);
            made
        };
        week(n, states.iter().enumerate().map(of_child).collect())
    }

    #[test]
    fn what_one_week_could_not_judge_does_not_count() {
        use SkillState::{Confirmed, Lost, MetOnce, NotEnough, NotYet};
        let changes = state_changes(
            &of(0, &[NotYet, NotYet, Confirmed, NotEnough, NotYet]),
            &of(1, &[MetOnce, NotYet, Lost, MetOnce]),
        );
        assert_eq!((changes.n, changes.newly_met, changes.no_longer_met), (3, 1, 1));
        assert_eq!(state_changes(&of(0, &[]), &of(1, &[])), StateChanges { chance: 1.0, ..StateChanges::default() });
    }

    #[test]
    fn an_even_turn_is_no_news() {
        use SkillState::{Confirmed, NotYet};
        let turned = |n_up: usize, n_down: usize| {
            let states = |up: SkillState, down: SkillState| -> Vec<SkillState> {
                let turning = std::iter::repeat_n(up, n_up).chain(std::iter::repeat_n(down, n_down));
                turning.chain([NotYet, Confirmed]).collect()
            };
            state_changes(&of(0, &states(NotYet, Confirmed)), &of(1, &states(Confirmed, NotYet)))
        };
        assert!(turned(5, 1).sentence().ends_with("5 newly met, 1 no longer: no more than coming and going."));
        assert!((turned(5, 1).chance - 0.218_75).abs() < 1e-9);
        assert!(turned(9, 1).sentence().contains("more met than"), "{}", turned(9, 1).sentence());
        assert!(turned(1, 9).sentence().contains("fewer met than"));
        assert_eq!(turned(0, 0).kappa, Some(1.0));
    }
}

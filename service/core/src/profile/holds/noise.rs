//! Right answers without the skills and wrong ones with them: one rate of each for a kind of item, and each item's own near it.
//!
//! An item's own rates are pulled to those of its kind with the weight of [`KIND_WEIGHT`] answers, so in one class items hardly
//! differ and in a grade they may. The rates of a kind are pulled to what is commonly met: with four options a blind guess is
//! right one time in four, a written number hardly ever.

use super::answers::{Answer, Answers, Guessing};

/// Prior guess rate of items with options and of open ones, and the weight in answers.
const PRIOR_GUESS: [f64; 2] = [0.18, 0.06];
const PRIOR_GUESS_WEIGHT: f64 = 40.0;
/// Prior slip rate and its weight.
const PRIOR_SLIP: f64 = 0.15;
const PRIOR_SLIP_WEIGHT: f64 = 40.0;
/// Answers of which the rates of an item's kind weigh as much as its own.
const KIND_WEIGHT: f64 = 100.0;

/// Rates of one item, or of a kind of items.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Probability of a right answer without the skills, 0.01 to 0.45.
    pub guess: f64,
    /// Probability of a wrong answer with them, 0.01 to 0.40.
    pub slip: f64,
}

impl Noise {
    /// The rates before any answer, by kind.
    pub(super) fn start() -> [Noise; 2] {
        PRIOR_GUESS.map(|guess| Noise { guess, slip: PRIOR_SLIP })
    }

    /// What an answer speaks for, worked out once for all students.
    pub(super) fn log_ratios(&self) -> LogRatios {
        LogRatios { right: ((1.0 - self.slip) / self.guess).ln(), wrong: (self.slip / (1.0 - self.guess)).ln() }
    }
}

/// Log of how much likelier a right answer is with the skills than without, and a wrong one.
#[derive(Debug, Clone, Copy)]
pub(super) struct LogRatios {
    right: f64,
    wrong: f64,
}

impl LogRatios {
    /// The same of an answer; partial points count in proportion.
    pub(super) fn of(&self, answer: &Answer) -> f64 {
        answer.weight * (answer.share * self.right + (1.0 - answer.share) * self.wrong)
    }
}

/// What one item has shown: expected answers by those with the skills and by those without, and the right ones among them.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct NoiseCounts {
    n_with: f64,
    right_with: f64,
    n_without: f64,
    right_without: f64,
}

impl NoiseCounts {
    /// Adds an answer of a student who holds the item's skills with probability `held`.
    pub(super) fn add(&mut self, held: f64, answer: &Answer) {
        self.n_with += held * answer.weight;
        self.right_with += held * answer.weight * answer.share;
        self.n_without += (1.0 - held) * answer.weight;
        self.right_without += (1.0 - held) * answer.weight * answer.share;
    }

    pub(super) fn join(&mut self, other: &NoiseCounts) {
        self.n_with += other.n_with;
        self.right_with += other.right_with;
        self.n_without += other.n_without;
        self.right_without += other.right_without;
    }

    fn noise(&self, near: Noise, guess_weight: f64, slip_weight: f64) -> Noise {
        let guess = (self.right_without + guess_weight * near.guess) / (self.n_without + guess_weight);
        let slip = (self.n_with - self.right_with + slip_weight * near.slip) / (self.n_with + slip_weight);
        Noise { guess: guess.clamp(0.01, 0.45), slip: slip.clamp(0.01, 0.40) }
    }
}

/// Rates of the kinds and of every item from what the items have shown.
pub(super) fn refit_noise(answers: &Answers<'_>, counts: &[NoiseCounts]) -> ([Noise; 2], Vec<Noise>) {
    let prior = Noise::start();
    let kinds = Guessing::ALL.map(|kind| {
        let mut all = NoiseCounts::default();
        answers.items.iter().zip(counts).filter(|(i, _)| i.guessing == kind).for_each(|(_, c)| all.join(c));
        all.noise(prior[kind.idx()], PRIOR_GUESS_WEIGHT, PRIOR_SLIP_WEIGHT)
    });
    let own = |(item, count): (&super::answers::ModelItem<'_>, &NoiseCounts)| {
        count.noise(kinds[item.guessing.idx()], KIND_WEIGHT, KIND_WEIGHT)
    };
    (kinds, answers.items.iter().zip(counts).map(own).collect())
}

//! Which switches to turn on so that a weighted count is highest and every limit holds: an exact 0/1 program.
//!
//! In: switches, rows `sum of (factor x switch)` at most or at least a whole number, whole weights, a start and a number
//! of steps. Out: [`Answer`]: the switches, their weighted count and an upper bound for it; equal bound means proved.
//!
//! Rules it keeps: the answer satisfies every row in whole numbers, whatever the arithmetic inside did
//! (`answers_satisfy_every_row`); it equals trying everything (`answers_equal_trying_everything`); steps are relaxations
//! solved, not seconds, so the same program gives the same answer on any machine
//! (`steps_that_run_out_are_owned_up_to`); equal answers are settled in favour of switches added first
//! (`ties_go_to_the_switch_added_first`).
//!
//! Branch and bound, depth first, on linear relaxations by microlp. Its own integer search is not used: it knows no
//! number of steps, no start, and does not round bounds of whole-number objectives down.
//! Source: A. H. Land and A. G. Doig, Econometrica 28 (1960) 497-520.

use microlp::{ComparisonOp, Error, OptimizationDirection, Problem, Solution, Variable};

/// How far from a whole number still counts as whole.
const WHOLE: f64 = 1e-6;
/// All tie-breaking weights together; under one half, so that no whole-number objective changes.
const TIE_SHARE: f64 = 0.2;

/// Which side of the row is limited.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Limit {
    /// The sum is at most the bound.
    AtMost(i64),
    /// The sum is at least the bound.
    AtLeast(i64),
}

#[derive(Debug, Clone)]
struct Row {
    terms: Vec<(usize, i64)>,
    limit: Limit,
}

impl Row {
    fn holds(&self, on: &[bool]) -> bool {
        let sum: i64 = self.terms.iter().filter(|(switch, _)| on[*switch]).map(|(_, factor)| factor).sum();
        match self.limit {
            Limit::AtMost(bound) => sum <= bound,
            Limit::AtLeast(bound) => sum >= bound,
        }
    }
}

/// Switches and rows.
#[derive(Debug, Clone, Default)]
pub(super) struct Program {
    n_switches: usize,
    rows: Vec<Row>,
}

/// What a search came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Answer {
    /// The best switches found, their weighted count, and what no choice can exceed.
    Found { on: Vec<bool>, total: i64, bound: i64 },
    /// No choice satisfies the rows.
    Impossible,
    /// The steps ran out before any choice was found.
    Unknown,
}

impl Program {
    pub fn add_switch(&mut self) -> usize {
        self.n_switches += 1;
        self.n_switches - 1
    }

    pub fn n_switches(&self) -> usize {
        self.n_switches
    }

    /// Rows and switches together, the measure of one step's work.
    pub fn size(&self) -> usize {
        self.n_switches + self.rows.len()
    }

    /// Adds a row, unless it holds for every choice.
    pub fn add_row(&mut self, mut terms: Vec<(usize, i64)>, limit: Limit) {
        terms.sort_unstable();
        let positive: i64 = terms.iter().map(|t| t.1.max(0)).sum();
        let negative: i64 = terms.iter().map(|t| t.1.min(0)).sum();
        let always = match limit {
            Limit::AtMost(bound) => positive <= bound,
            Limit::AtLeast(bound) => negative >= bound,
        };
        if !always {
            self.rows.push(Row { terms, limit });
        }
    }

    /// Whether the choice satisfies every row.
    pub fn holds(&self, on: &[bool]) -> bool {
        self.rows.iter().all(|row| row.holds(on))
    }

    /// The choice with the highest weighted count.
    ///
    /// `start` is used where it satisfies the rows; `n_steps` is the number of relaxations that may be solved.
    pub fn highest(&self, weights: &[i64], start: Option<&[bool]>, n_steps: usize) -> Answer {
        let mut search = Search { program: self, weights, best: None, n_steps, open_bound: None, is_sure: true };
        if let Some(on) = start.filter(|on| on.len() == self.n_switches && self.holds(on)) {
            search.best = Some((count(weights, on), on.to_vec()));
        }
        search.run();
        search.answer()
    }

    fn relaxation(&self, weights: &[i64]) -> (Problem, Vec<Variable>) {
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let n = self.n_switches as f64;
        let tie = |switch: usize| TIE_SHARE * 2.0 * (switch as f64 + 1.0) / (n * (n + 1.0));
        let variables: Vec<Variable> =
            (0..self.n_switches).map(|s| problem.add_var(weights[s] as f64 - tie(s), (0.0, 1.0))).collect();
        for row in &self.rows {
            let terms: Vec<(Variable, f64)> =
                row.terms.iter().map(|&(s, factor)| (variables[s], factor as f64)).collect();
            match row.limit {
                Limit::AtMost(bound) => problem.add_constraint(terms, ComparisonOp::Le, bound as f64),
                Limit::AtLeast(bound) => problem.add_constraint(terms, ComparisonOp::Ge, bound as f64),
            }
        }
        (problem, variables)
    }
}

fn count(weights: &[i64], on: &[bool]) -> i64 {
    weights.iter().zip(on).filter(|(_, on)| **on).map(|(weight, _)| weight).sum()
}

/// A relaxation that waits to be solved: the one before it, and the switch to fix.
struct Step {
    before: std::rc::Rc<Solution>,
    bound: i64,
    switch: usize,
    value: f64,
}

struct Search<'p> {
    program: &'p Program,
    weights: &'p [i64],
    best: Option<(i64, Vec<bool>)>,
    n_steps: usize,
    /// Highest bound of what was left unsolved when the steps ran out.
    open_bound: Option<i64>,
    /// False once a relaxation failed for other reasons than having no solution.
    is_sure: bool,
}

impl Search<'_> {
    fn run(&mut self) {
        let (problem, variables) = self.program.relaxation(self.weights);
        let mut open: Vec<Step> = Vec::new();
        let root = problem.solve();
        self.look_at(root, &variables, &mut open);
        while let Some(step) = open.pop() {
            if !self.is_worth(step.bound) {
                continue;
            }
            if self.n_steps == 0 {
                self.open_bound = self.open_bound.max(Some(step.bound));
                continue;
            }
            self.n_steps -= 1;
            let next = Solution::clone(&step.before).fix_var(variables[step.switch], step.value);
            self.look_at(next, &variables, &mut open);
        }
    }

    fn is_worth(&self, bound: i64) -> bool {
        self.best.as_ref().is_none_or(|(total, _)| bound > *total)
    }

    /// Takes in one solved relaxation: a new best, two further steps, or nothing.
    fn look_at(&mut self, solved: Result<Solution, Error>, variables: &[Variable], open: &mut Vec<Step>) {
        let solution = match solved {
            Ok(solution) => solution,
            Err(Error::Infeasible) => return,
            Err(_) => {
                self.is_sure = false;
                return;
            }
        };
        let values: Vec<f64> = variables.iter().map(|&v| solution[v]).collect();
        let exact: f64 = values.iter().zip(self.weights).map(|(value, &weight)| value * weight as f64).sum();
        let bound = (exact + TIE_SHARE + WHOLE).floor() as i64;
        if !self.is_worth(bound) {
            return;
        }
        match most_split(&values) {
            None => self.take(&values),
            Some(switch) => {
                let before = std::rc::Rc::new(solution);
                // The last one in is solved first: the side to which the relaxation leans.
                let (first, second) = if values[switch] >= 0.5 { (1.0, 0.0) } else { (0.0, 1.0) };
                open.push(Step { before: before.clone(), bound, switch, value: second });
                open.push(Step { before, bound, switch, value: first });
            }
        }
    }

    fn take(&mut self, values: &[f64]) {
        let on: Vec<bool> = values.iter().map(|value| *value > 0.5).collect();
        if !self.program.holds(&on) {
            self.is_sure = false;
            return;
        }
        let total = count(self.weights, &on);
        if self.is_worth(total) {
            self.best = Some((total, on));
        }
    }

    fn answer(self) -> Answer {
        let unsure_bound = if self.is_sure { None } else { Some(self.weights.iter().map(|w| (*w).max(0)).sum()) };
        let beyond = self.open_bound.max(unsure_bound);
        match (self.best, beyond) {
            (Some((total, on)), beyond) => Answer::Found { on, total, bound: beyond.unwrap_or(total).max(total) },
            (None, None) => Answer::Impossible,
            (None, Some(_)) => Answer::Unknown,
        }
    }
}

/// The switch furthest from on and off; the first of several; `None` where every switch is one or the other.
fn most_split(values: &[f64]) -> Option<usize> {
    let mut most: Option<(usize, f64)> = None;
    for (switch, value) in values.iter().enumerate() {
        let split = (value - value.round()).abs();
        if split > WHOLE && most.is_none_or(|(_, widest)| split > widest + WHOLE) {
            most = Some((switch, split));
        }
    }
    most.map(|(switch, _)| switch)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn program(n_switches: usize, rows: &[(Vec<i64>, Limit)]) -> Program {
        let mut program = Program::default();
        for _ in 0..n_switches {
            program.add_switch();
        }
        for (factors, limit) in rows {
            let terms = factors.iter().copied().enumerate().filter(|(_, f)| *f != 0).collect();
            program.add_row(terms, *limit);
        }
        program
    }

    fn best_by_trying(program: &Program, weights: &[i64]) -> Option<i64> {
        (0..1u32 << program.n_switches())
            .map(|bits| (0..program.n_switches()).map(|s| bits >> s & 1 == 1).collect::<Vec<bool>>())
            .filter(|on| program.holds(on))
            .map(|on| count(weights, &on))
            .max()
    }

    #[test]
    fn ties_go_to_the_switch_added_first() {
        let pick_two = program(4, &[(vec![1, 1, 1, 1], Limit::AtMost(2))]);
        let Answer::Found { on, total, bound } = pick_two.highest(&[1, 1, 1, 1], None, 10) else {
            panic!("none found")
        };
        assert_eq!((on, total, bound), (vec![true, true, false, false], 2, 2));
    }

    #[test]
    fn steps_that_run_out_are_owned_up_to() {
        // Three switches of which no two go together: the relaxation says one and a half of weight two.
        let pairs =
            [(vec![1, 1, 0], Limit::AtMost(1)), (vec![0, 1, 1], Limit::AtMost(1)), (vec![1, 0, 1], Limit::AtMost(1))];
        let odd = program(3, &pairs);
        assert_eq!(odd.highest(&[2, 2, 2], None, 0), Answer::Unknown);
        let start = [false; 3];
        let Answer::Found { total, bound, .. } = odd.highest(&[2, 2, 2], Some(&start), 0) else { panic!("none found") };
        assert_eq!((total, bound), (0, 3));
        let Answer::Found { total, bound, .. } = odd.highest(&[2, 2, 2], Some(&start), 50) else {
            panic!("none found")
        };
        assert_eq!((total, bound), (2, 2));
    }

    #[test]
    fn rows_that_contradict_are_impossible() {
        let none = program(2, &[(vec![1, 1], Limit::AtLeast(2)), (vec![1, 1], Limit::AtMost(1))]);
        assert_eq!(none.highest(&[1, 1], None, 50), Answer::Impossible);
    }

    fn any_rows() -> impl Strategy<Value = Vec<(Vec<i64>, Limit)>> {
        let limit = prop_oneof![(0i64..6).prop_map(Limit::AtMost), (-1i64..3).prop_map(Limit::AtLeast)];
        proptest::collection::vec((proptest::collection::vec(-1i64..4, 9), limit), 1..8)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]
        #[test]
        fn answers_equal_trying_everything(rows in any_rows(), weights in proptest::collection::vec(-3i64..9, 9)) {
            let program = program(9, &rows);
            let wanted = best_by_trying(&program, &weights);
            match program.highest(&weights, None, 5_000) {
                Answer::Found { total, bound, .. } => {
                    prop_assert_eq!(Some(total), wanted);
                    prop_assert_eq!(total, bound);
                }
                Answer::Impossible => prop_assert_eq!(wanted, None),
                Answer::Unknown => prop_assert!(false, "5,000 steps ran out on nine switches"),
            }
        }

        #[test]
        fn answers_satisfy_every_row(rows in any_rows(), weights in proptest::collection::vec(0i64..9, 9), n_steps in 0usize..6) {
            let program = program(9, &rows);
            if let Answer::Found { on, total, bound } = program.highest(&weights, None, n_steps) {
                prop_assert!(program.holds(&on));
                prop_assert!(total <= bound);
                prop_assert!(best_by_trying(&program, &weights).is_some_and(|best| best <= bound));
            }
        }
    }
}

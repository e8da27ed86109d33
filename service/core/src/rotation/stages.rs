//! One wish after the other, each as good as the ones before it allow.
//!
//! In: the [`Week`]. Out: [`Chosen`]: which group is led in which block, which adults and rooms may be used then.
//!
//! The wishes in order: (1) intensive groups: the highest number of days with a led session that each of them gets,
//! then the most such days; (2) the highest floor of led sessions for the other groups; (3) the most attended places;
//! (4) more of them for the furthest behind; (5) the most children who are there at one led session, then two, and so on up to the floor, though busy at some times;
//! (6) the fewest times at which somebody leaves a homeroom; (7) a group's sessions on different days.
//! Rules it keeps: a later wish never costs an earlier one (`a_later_wish_never_costs_an_earlier_one`); what could not
//! be proved within the steps allowed is marked (`a_week_beyond_the_exact_size_says_best_found`).
//! Not here: names of adults and rooms for each group (`seating`), practice (`practice`).

use super::Proof;
use super::best_found;
use super::model::{Model, Spare};
use super::program::{Answer, Limit};
use super::week::{Meeting, Week, positions};
use crate::roster::Day;

/// More switches than this, and the week is planned by rules of thumb and improvement.
pub(super) const MOST_SWITCHES: usize = 700;
/// Relaxations times size of the program, for one wish: bounds the work without a clock.
const WORK: usize = 400_000;
/// The wishes that only make a week more comfortable get one part in so many of that work.
const COMFORT_SHARE: usize = 8;

/// How much work a wish is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Effort {
    /// Sessions, attendance, need.
    Full,
    /// Departures, different days.
    Comfort,
}

/// The outcome of all wishes.
#[derive(Debug, Clone)]
pub(super) struct Chosen {
    /// Led meetings in order of block, then group.
    pub led: Vec<Meeting>,
    /// Adults of whom any may lead, by block; all together are legal.
    pub adults: Vec<Vec<usize>>,
    /// Rooms that may be used for led sessions, by block; all together are legal.
    pub rooms: Vec<Vec<usize>>,
    pub floor: usize,
    pub attended: usize,
    /// Of floor, attended places and need.
    pub proof: Proof,
    /// Of the wishes after those: departures, different days.
    pub comfort: Proof,
}

/// The led sessions of the week.
pub(super) fn choose(week: &Week<'_>) -> Chosen {
    let counted = counted(week);
    // Looked at first: the rows of a very large week take longer than planning it.
    if week.candidates().len() > MOST_SWITCHES {
        return best_found::choose(week, &counted);
    }
    let model = Model::new(week, None);
    if model.program.n_switches() > MOST_SWITCHES {
        return best_found::choose(week, &counted);
    }
    let mut search = Search::new(week, model);
    let floor = search.serve(&counted);
    search.prefer_need();
    let proof = std::mem::take(&mut search.proof);
    search.effort = Effort::Comfort;
    search.prefer_full_children(floor);
    search.prefer_few_departures();
    search.prefer_different_days();
    let comfort = std::mem::replace(&mut search.proof, proof);
    search.chosen(floor, comfort)
}

/// Floor, attended places and the led meetings if a spare adult, where there is one, joined in the best block for it;
/// `None` where that is not known.
pub(super) fn choose_with_spare(week: &Week<'_>, spare: Option<Spare>, counted: &[usize]) -> Option<Chosen> {
    if week.candidates().len() > MOST_SWITCHES {
        return None;
    }
    let model = Model::new(week, spare);
    if model.program.n_switches() > MOST_SWITCHES {
        return None;
    }
    let mut search = Search::new(week, model);
    let floor = search.serve(counted);
    Some(search.chosen(floor, Proof::Optimal)).filter(|chosen| chosen.proof == Proof::Optimal)
}

/// Groups on which the floor is measured: those of ordinary size, or all where there are none; only groups that can meet.
pub(super) fn counted(week: &Week<'_>) -> Vec<usize> {
    let can_meet = |&g: &usize| (0..week.blocks.len()).any(|block| week.is_candidate(Meeting { block, group: g }));
    let able: Vec<usize> = (0..week.groups.len()).filter(can_meet).collect();
    let ordinary: Vec<usize> = able.iter().copied().filter(|&g| !week.groups[g].is_intensive).collect();
    if ordinary.is_empty() { able } else { ordinary }
}

struct Search<'w, 'a> {
    week: &'w Week<'a>,
    model: Model,
    on: Vec<bool>,
    proof: Proof,
    effort: Effort,
}

impl<'w, 'a> Search<'w, 'a> {
    fn new(week: &'w Week<'a>, model: Model) -> Self {
        let on = vec![false; model.program.n_switches()];
        Search { week, model, on, proof: Proof::Optimal, effort: Effort::Full }
    }

    /// Wishes 1 to 3. Returns the floor.
    fn serve(&mut self, counted: &[usize]) -> usize {
        self.serve_intensive();
        let floor = self.raise_floor(counted);
        let attended = self.attended_weights();
        self.keep(&attended);
        floor
    }

    fn serve_intensive(&mut self) {
        let days: Vec<(usize, Vec<usize>)> = self.intensive_days();
        if days.is_empty() {
            return;
        }
        let most = days.iter().map(|(g, days)| self.week.wants(*g).min(days.len())).max().unwrap_or(0);
        let none = vec![0; self.model.program.n_switches()];
        for floor in (1..=most).rev() {
            let asked = |g: usize, days: &[usize]| floor.min(self.week.wants(g)).min(days.len()) as i64;
            let rows = days.iter().map(|(g, days)| (ones(days), Limit::AtLeast(asked(*g, days)))).collect();
            if self.try_rows(rows, &none) {
                break;
            }
        }
        let mut weights = none;
        days.iter().flat_map(|(_, days)| days).for_each(|&day| weights[day] = 1);
        self.ask(&weights);
        self.keep(&weights);
    }

    /// A switch for each intensive group and day on which it could be led.
    fn intensive_days(&mut self) -> Vec<(usize, Vec<usize>)> {
        let able = |g: &usize| self.week.groups[*g].is_intensive && self.model.meetings.iter().any(|m| m.group == *g);
        let groups: Vec<usize> = (0..self.week.groups.len()).filter(able).collect();
        groups.into_iter().map(|g| (g, self.day_switches(g))).collect()
    }

    /// Switches that can be on only if the group is led on that day.
    fn day_switches(&mut self, group: usize) -> Vec<usize> {
        let mut switches = Vec::new();
        for day in Day::ALL {
            let mut row = self.model.terms(|m| m.group == group && self.week.day(m.block) == day);
            if row.is_empty() {
                continue;
            }
            let is_led = row.iter().any(|(switch, _)| self.on[*switch]);
            let switch = self.model.program.add_switch();
            self.on.push(is_led);
            row.iter_mut().for_each(|term| term.1 = -1);
            row.push((switch, 1));
            self.model.program.add_row(row, Limit::AtMost(0));
            switches.push(switch);
        }
        switches
    }

    /// Finds the highest floor and, with it, the most attended places.
    fn raise_floor(&mut self, counted: &[usize]) -> usize {
        let weights = self.attended_weights();
        for floor in (1..=self.highest_thinkable_floor(counted)).rev() {
            let row =
                |&g: &usize| (self.model.terms(|m| m.group == g), Limit::AtLeast(floor.min(self.week.wants(g)) as i64));
            if self.try_rows(counted.iter().map(row).collect(), &weights) {
                return floor;
            }
        }
        self.ask(&weights);
        0
    }

    /// By counting alone: candidates of each group, places of each block.
    fn highest_thinkable_floor(&self, counted: &[usize]) -> usize {
        let n_candidates = |g: usize| self.model.meetings.iter().filter(|m| m.group == g).count();
        let places = |block: usize| {
            let n_groups = self.model.meetings.iter().filter(|m| m.block == block).count();
            self.week.leaders[block].len().min(n_groups)
        };
        let n_places: usize = (0..self.week.blocks.len()).map(places).sum();
        let most = counted.iter().map(|&g| self.week.wants(g)).max().unwrap_or(0);
        let fits = |&floor: &usize| {
            let asked = |&g: &usize| floor.min(self.week.wants(g));
            counted.iter().all(|g| asked(g) <= n_candidates(*g)) && counted.iter().map(asked).sum::<usize>() <= n_places
        };
        (1..=most).rev().find(fits).unwrap_or(0)
    }

    fn attended_weights(&self) -> Vec<i64> {
        self.weights(|m| self.week.n_expected(m) as i64)
    }

    fn prefer_need(&mut self) {
        let weights = self.weights(|m| {
            let percent = (self.week.groups[m.group].need.clamp(0.0, 1.0) * 100.0).round() as i64;
            percent * self.week.n_expected(m) as i64
        });
        self.ask(&weights);
        self.keep(&weights);
    }

    /// As few children as can be are led less often than their group because they are busy: the worst off first.
    fn prefer_full_children(&mut self, floor: usize) {
        for level in 1..=floor {
            self.prefer_children_led(level);
        }
    }

    /// A switch for each child who is busy at some meetings of their group, on only if they are led so often.
    fn prefer_children_led(&mut self, level: usize) {
        let mut full = Vec::new();
        for group in 0..self.week.groups.len() {
            for member in 0..self.week.groups[group].members.len() {
                let all = self.model.terms(|m| m.group == group);
                let there =
                    self.model.terms(|m| m.group == group && self.week.expected[group][m.block].contains(&member));
                let asked = level.min(self.week.wants(group)).min(there.len());
                if there.len() < all.len() && asked > 0 {
                    full.push(self.full_switch(there, asked as i64));
                }
            }
        }
        let mut weights = vec![0; self.model.program.n_switches()];
        full.iter().for_each(|&switch| weights[switch] = 1);
        if !full.is_empty() {
            self.ask(&weights);
            self.keep(&weights);
        }
    }

    /// A switch that can be on only where so many of these meetings take place.
    fn full_switch(&mut self, mut there: Vec<(usize, i64)>, asked: i64) -> usize {
        let n_now = there.iter().filter(|(switch, _)| self.on[*switch]).count() as i64;
        let switch = self.model.program.add_switch();
        self.on.push(n_now >= asked);
        there.push((switch, -asked));
        self.model.program.add_row(there, Limit::AtLeast(0));
        switch
    }

    /// A switch for each homeroom and block in which somebody leaves, as few on as can be.
    fn prefer_few_departures(&mut self) {
        let mut quiet = Vec::new();
        for &homeroom in &self.week.homerooms {
            for block in 0..self.week.blocks.len() {
                let leaving = self.model.terms(|m| m.block == block && self.week.n_leaving(m, homeroom) > 0);
                if !leaving.is_empty() {
                    quiet.push(self.quiet_switch(&leaving, self.week.leaders[block].len()));
                }
            }
        }
        let mut weights = vec![0; self.model.program.n_switches()];
        quiet.into_iter().for_each(|switch| weights[switch] = 1);
        self.ask(&weights);
        self.keep(&weights);
    }

    /// A switch that can be on only where none of these meetings, of which `most` can be at once, takes place.
    fn quiet_switch(&mut self, leaving: &[(usize, i64)], most: usize) -> usize {
        let quiet = self.model.program.add_switch();
        self.on.push(!leaving.iter().any(|(switch, _)| self.on[*switch]));
        for &(switch, _) in leaving {
            self.model.program.add_row(vec![(switch, 1), (quiet, 1)], Limit::AtMost(1));
        }
        // Follows from the rows above, and leaves a relaxation less to gain from halves.
        let together = leaving.iter().copied().chain([(quiet, most as i64)]).collect();
        self.model.program.add_row(together, Limit::AtMost(most as i64));
        quiet
    }

    fn prefer_different_days(&mut self) {
        let groups = 0..self.week.groups.len();
        let days: Vec<usize> = groups.flat_map(|g| self.day_switches(g)).collect();
        let mut weights = vec![0; self.model.program.n_switches()];
        days.into_iter().for_each(|switch| weights[switch] = 1);
        self.ask(&weights);
    }

    fn weights(&self, of: impl Fn(Meeting) -> i64) -> Vec<i64> {
        let mut weights: Vec<i64> = self.model.meetings.iter().map(|m| of(*m)).collect();
        weights.resize(self.model.program.n_switches(), 0);
        weights
    }

    /// Relaxations allowed for one wish: the smaller the program, the more.
    fn n_steps(&self) -> usize {
        let (work, fewest) = match self.effort {
            Effort::Full => (WORK, 40),
            Effort::Comfort => (WORK / COMFORT_SHARE, 12),
        };
        (work / self.model.program.size().max(1)).clamp(fewest, 4_000)
    }

    /// Takes the highest choice for these weights; remembers if it is not proved.
    fn ask(&mut self, weights: &[i64]) {
        match self.model.program.highest(weights, Some(&self.on), self.n_steps()) {
            Answer::Found { on, total, bound } => {
                self.on = on;
                self.mark(total, bound);
            }
            Answer::Impossible | Answer::Unknown => self.proof = Proof::BestFound,
        }
    }

    fn mark(&mut self, total: i64, bound: i64) {
        if total < bound {
            self.proof = Proof::BestFound;
        }
    }

    /// Whether the rows can be kept; if so they stay, and the choice is the highest for the weights.
    fn try_rows(&mut self, rows: Vec<(Vec<(usize, i64)>, Limit)>, weights: &[i64]) -> bool {
        let mut program = self.model.program.clone();
        for (terms, limit) in rows {
            program.add_row(terms, limit);
        }
        match program.highest(weights, Some(&self.on), self.n_steps()) {
            Answer::Found { on, total, bound } => {
                self.on = on;
                self.mark(total, bound);
                self.model.program = program;
                true
            }
            Answer::Impossible => false,
            Answer::Unknown => {
                self.proof = Proof::BestFound;
                false
            }
        }
    }

    /// From now on no choice may fall below the present one on these weights.
    fn keep(&mut self, weights: &[i64]) {
        let terms: Vec<(usize, i64)> = weights.iter().copied().enumerate().filter(|(_, weight)| *weight != 0).collect();
        let total = terms.iter().filter(|(switch, _)| self.on[*switch]).map(|(_, weight)| weight).sum();
        self.model.program.add_row(terms, Limit::AtLeast(total));
    }

    fn chosen(self, floor: usize, comfort: Proof) -> Chosen {
        let mut led: Vec<Meeting> = positions(&self.model.meetings, |_| true)
            .into_iter()
            .filter(|&s| self.on[s])
            .map(|s| self.model.meetings[s])
            .collect();
        led.sort_unstable();
        let usable = |all: &[Vec<usize>], switches: &[Vec<Option<usize>>]| -> Vec<Vec<usize>> {
            let in_block = |(block, who): (usize, &Vec<usize>)| {
                who.iter().copied().filter(|&w| switches[w][block].is_none_or(|s| self.on[s])).collect()
            };
            all.iter().enumerate().map(in_block).collect()
        };
        Chosen {
            adults: usable(&self.week.leaders, &self.model.adult_switches),
            rooms: usable(&self.week.rooms, &self.model.room_switches),
            attended: led.iter().map(|&m| self.week.n_expected(m)).sum(),
            led,
            floor,
            proof: self.proof,
            comfort,
        }
    }
}

fn ones(switches: &[usize]) -> Vec<(usize, i64)> {
    switches.iter().map(|&switch| (switch, 1)).collect()
}

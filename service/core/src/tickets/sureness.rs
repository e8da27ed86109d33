//! How sure a ticket is: what so many right say about a child, how often a cut is passed, and how a child who only guesses comes out.
//!
//! In:  numbers of items, a cut, a true share; the items of a ticket. Out: intervals and probabilities, each 0 to 1.
//! Keeps: 1. a cut is passed as often as a table of binomial tails says (`cuts_are_passed_as_often_as_the_table_says`)
//!        2. the guesser's figures are those of counting every way to guess (`the_guesser_agrees_with_counting_every_way`).
//! Not here: when an idea is called possible or likely (`profile`); the same rule is used.
//! Source: binomial tails by arithmetic; the interval is that of `numeric::jeffreys_interval`; that answers are independent and
//! equally hard is an assumption, said where the figures are shown.

use super::TicketItem;
use crate::numeric::{Interval, jeffreys_interval};
use crate::profile::{IdeaSureness, PatternCount};
use crate::scores::ItemKind;
use std::collections::{BTreeMap, BTreeSet};

/// Level of the interval that is shown beside a count.
const LEVEL: f64 = 0.80;

/// What so many right of so many say: the 80 % interval of the child's true share.
#[must_use]
pub fn right_says(n_right: usize, n_items: usize) -> Interval {
    jeffreys_interval(n_right as f64, n_items as f64, LEVEL)
}

/// Items to be right to reach a cut (a share, 0 to 1).
#[must_use]
pub fn needed(n_items: usize, cut: f64) -> usize {
    (0..=n_items).find(|right| *right as f64 >= cut * n_items as f64 - 1e-9).unwrap_or(n_items)
}

/// How often a child of a true share gets at least so many of so many items right.
#[must_use]
pub fn passes(n_items: usize, n_needed: usize, truth: f64) -> f64 {
    let truth = truth.clamp(0.0, 1.0);
    tail(&vec![truth; n_items], n_needed)
}

/// How often at least so many of independent things happen.
fn tail(chances: &[f64], n_needed: usize) -> f64 {
    // So many happened so far, with what probability.
    let mut counts = vec![1.0];
    for chance in chances {
        let mut next = vec![0.0; counts.len() + 1];
        for (n, p) in counts.iter().enumerate() {
            next[n] += p * (1.0 - chance);
            next[n + 1] += p * chance;
        }
        counts = next;
    }
    counts.iter().skip(n_needed).sum::<f64>().min(1.0)
}

/// How a child who only guesses comes out on a ticket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guesser {
    /// Reaches the cut.
    pub passes: f64,
    /// Some wrong idea is called possible or likely.
    pub looks_possible: f64,
    /// Some wrong idea is called likely.
    pub looks_likely: f64,
}

/// A guess at one item: its probability, whether it is right, and the ideas that it shows with their weights.
struct Guess {
    chance: f64,
    is_right: bool,
    shows: Vec<(String, f64)>,
}

/// Works out how a child who chooses every answer by lot comes out. Of numbers to be written none is hit.
#[must_use]
pub fn guesser(items: &[TicketItem], n_needed: usize) -> Guesser {
    let guesses: Vec<Vec<Guess>> = items.iter().map(guesses_at).collect();
    let chance_right = |guesses: &Vec<Guess>| guesses.iter().filter(|g| g.is_right).map(|g| g.chance).sum::<f64>();
    let right: Vec<f64> = guesses.iter().map(chance_right).collect();
    let (looks_possible, looks_likely) = ideas(items, &guesses);
    Guesser { passes: tail(&right, n_needed), looks_possible, looks_likely }
}

/// Halves seen of each idea, and of these halves where something was written or a reason given.
type Seen = Vec<(u8, u8)>;

/// How often some idea is called at least possible, and likely.
fn ideas(items: &[TicketItem], guesses: &[Vec<Guess>]) -> (f64, f64) {
    let codes = codes_that_can_show(guesses);
    let mut states: BTreeMap<Seen, f64> = BTreeMap::from([(vec![(0, 0); codes.len()], 1.0)]);
    for (item, guesses) in items.iter().zip(guesses) {
        let is_written = matches!(item.kind, ItemKind::Numeric | ItemKind::TwoPart);
        let mut next: BTreeMap<Seen, f64> = BTreeMap::new();
        for (seen, p) in &states {
            for guess in guesses {
                *next.entry(after(seen, guess, &codes, is_written)).or_insert(0.0) += p * guess.chance;
            }
        }
        states = next;
    }
    let chance_of = |least: IdeaSureness| {
        let is_called = |seen: &Seen| seen.iter().any(|halves| sureness(*halves) >= least);
        states.iter().filter(|(seen, _)| is_called(seen)).map(|(_, p)| p).sum::<f64>().min(1.0)
    };
    (chance_of(IdeaSureness::Possible), chance_of(IdeaSureness::Likely))
}

/// Ideas that are seen twice when everything goes their way; the others are never called anything.
fn codes_that_can_show(guesses: &[Vec<Guess>]) -> Vec<String> {
    let mut most: BTreeMap<&str, f64> = BTreeMap::new();
    for of_item in guesses {
        let mut of_this: BTreeMap<&str, f64> = BTreeMap::new();
        for (code, weight) in of_item.iter().flat_map(|g| &g.shows) {
            let best = of_this.entry(code).or_insert(0.0);
            *best = best.max(*weight);
        }
        of_this.into_iter().for_each(|(code, weight)| *most.entry(code).or_insert(0.0) += weight);
    }
    most.into_iter().filter(|(_, sum)| *sum >= 2.0 - 1e-9).map(|(code, _)| code.to_owned()).collect()
}

fn after(seen: &Seen, guess: &Guess, codes: &[String], is_written: bool) -> Seen {
    let mut seen = seen.clone();
    for (code, weight) in &guess.shows {
        if let Some(halves) = codes.iter().position(|c| c == code).and_then(|at| seen.get_mut(at)) {
            let more = (weight * 2.0).round() as u8;
            halves.0 = halves.0.saturating_add(more);
            halves.1 = halves.1.saturating_add(if is_written { more } else { 0 });
        }
    }
    seen
}

fn sureness((seen, written): (u8, u8)) -> IdeaSureness {
    let (seen, seen_written) = (f64::from(seen) / 2.0, f64::from(written) / 2.0);
    PatternCount { code: 0, seen, seen_written, chances: 0 }.sureness()
}

/// Every way to guess at an item; ways that come to the same are put together.
fn guesses_at(item: &TicketItem) -> Vec<Guess> {
    match item.kind {
        ItemKind::Choice => guesses_of_choice(item),
        ItemKind::MultiSelect => guesses_of_many(item),
        ItemKind::TwoPart => guesses_of_parts(item),
        // Results of a grid are points: it shows no idea.
        ItemKind::Match => {
            let n_columns = item.columns.len().max(1) as f64;
            right_or_not(n_columns.powi(-(item.rows.len() as i32)))
        }
        ItemKind::Numeric => right_or_not(0.0),
    }
}

fn right_or_not(chance: f64) -> Vec<Guess> {
    let guess = |chance, is_right| Guess { chance, is_right, shows: Vec::new() };
    vec![guess(chance, true), guess(1.0 - chance, false)]
}

fn guesses_of_choice(item: &TicketItem) -> Vec<Guess> {
    let chance = 1.0 / item.options.len().max(1) as f64;
    let guess = |option: &super::TicketOption| {
        let is_right = item.key.contains(&option.label);
        let weight = 1.0 / option.patterns.len().max(1) as f64;
        let shows = option.patterns.iter().filter(|_| !is_right).map(|code| (code.clone(), weight)).collect();
        Guess { chance, is_right, shows }
    };
    item.options.iter().map(guess).collect()
}

/// Any letters but none at all.
fn guesses_of_many(item: &TicketItem) -> Vec<Guess> {
    let n_ways = (1_u32 << item.options.len().min(8)) - 1;
    let chance = 1.0 / f64::from(n_ways.max(1));
    let key: BTreeSet<&String> = item.key.iter().collect();
    let guess = |way: u32| {
        let chosen: Vec<_> = item.options.iter().enumerate().filter(|(at, _)| way & (1 << at) != 0).collect();
        let is_right = chosen.iter().map(|(_, o)| &o.label).collect::<BTreeSet<_>>() == key;
        let mut shows: BTreeMap<String, f64> = BTreeMap::new();
        for (_, option) in chosen.iter().filter(|_| !is_right) {
            let weight = 1.0 / option.patterns.len().max(1) as f64;
            for code in &option.patterns {
                let sum = shows.entry(code.clone()).or_insert(0.0);
                *sum = (*sum + weight).min(1.0);
            }
        }
        Guess { chance, is_right, shows: shows.into_iter().collect() }
    };
    (1..=n_ways).map(guess).collect()
}

/// Of the parts only the reason shows an idea.
fn guesses_of_parts(item: &TicketItem) -> Vec<Guess> {
    let start = vec![Guess { chance: 1.0, is_right: true, shows: Vec::new() }];
    item.parts.iter().enumerate().fold(start, |so_far, (at, part)| {
        let of_part = guesses_of_choice(part);
        let both = |a: &Guess, b: &Guess| Guess {
            chance: a.chance * b.chance,
            is_right: a.is_right && b.is_right,
            shows: a.shows.iter().chain(b.shows.iter().filter(|_| at > 0)).cloned().collect(),
        };
        so_far.iter().flat_map(|a| of_part.iter().map(move |b| both(a, b))).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tickets::{ModelLibrary, draw_item};

    /// Binomial tails, worked out by hand with fractions: 1 of 1, 2 of 2, 3 of 4, 4 of 5, 8 of 10 at true shares of 90, 80, 60, 50
    /// and 25 in a hundred.
    #[test]
    fn cuts_are_passed_as_often_as_the_table_says() {
        for (n_items, n_needed, table) in [
            (1, 1, [0.90, 0.80, 0.60, 0.50, 0.25]),
            (2, 2, [0.81, 0.64, 0.36, 0.25, 0.0625]),
            (4, 3, [0.9477, 0.8192, 0.4752, 0.3125, 0.050_781_25]),
            (5, 4, [0.918_54, 0.737_28, 0.336_96, 0.1875, 0.015_625]),
            (10, 8, [0.929_809_173_6, 0.677_799_526_4, 0.167_289_753_6, 0.054_687_5, 0.000_415_802]),
        ] {
            for (truth, expected) in [0.90, 0.80, 0.60, 0.50, 0.25].into_iter().zip(table) {
                let found = passes(n_items, n_needed, truth);
                assert!((found - expected).abs() < 1e-9, "{n_needed} of {n_items} at {truth}: {found}");
            }
        }
        assert_eq!([needed(5, 0.8), needed(4, 0.8), needed(4, 0.75), needed(10, 0.8), needed(6, 0.8)], [4, 4, 3, 8, 5]);
    }

    /// Ends of Beta(4.5, 1.5), Beta(2.5, 3.5) and Beta(7.5, 3.5) at 80 %, as SciPy 1.17.1 gives them.
    #[test]
    fn four_of_five_says_little() {
        for (right, n_items, low, high) in
            [(4, 5, 0.516_097, 0.940_191), (2, 5, 0.174_976, 0.673_153), (7, 10, 0.498_219, 0.849_409)]
        {
            let says = right_says(right, n_items);
            assert!((says.low - low).abs() < 1e-5 && (says.high - high).abs() < 1e-5, "{says:?}");
        }
    }

    /// Counts every way to guess, one after the other, with no states.
    fn by_counting(items: &[TicketItem], n_needed: usize) -> Guesser {
        let guesses: Vec<Vec<Guess>> = items.iter().map(guesses_at).collect();
        let n_ways: usize = guesses.iter().map(Vec::len).product();
        let mut out = Guesser { passes: 0.0, looks_possible: 0.0, looks_likely: 0.0 };
        for way in 0..n_ways {
            let (mut rest, mut chance, mut n_right) = (way, 1.0, 0);
            let mut seen: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
            for (item, of_item) in items.iter().zip(&guesses) {
                let guess = &of_item[rest % of_item.len()];
                rest /= of_item.len();
                chance *= guess.chance;
                n_right += usize::from(guess.is_right);
                for (code, weight) in &guess.shows {
                    let sums = seen.entry(code).or_default();
                    sums.0 += weight;
                    if [ItemKind::Numeric, ItemKind::TwoPart].contains(&item.kind) {
                        sums.1 += weight;
                    }
                }
            }
            let is_likely = seen.values().any(|(s, w)| *s >= 3.0 || (*s >= 2.0 && *w >= 1.0));
            let is_possible = is_likely || seen.values().any(|(s, _)| *s >= 2.0);
            out.passes += if n_right >= n_needed { chance } else { 0.0 };
            out.looks_possible += if is_possible { chance } else { 0.0 };
            out.looks_likely += if is_likely { chance } else { 0.0 };
        }
        out
    }

    #[test]
    fn the_guesser_agrees_with_counting_every_way() {
        let library = ModelLibrary::builtin();
        for seed in 0..3 {
            let of = |slug: &str| draw_item(library.get(slug).unwrap(), seed).unwrap();
            let items =
                ["g5-scale-one", "g5-scale-above-one", "g5-scale-symbol", "g5-scale-grid", "g5-scale-multi"].map(of);
            let (found, counted) = (guesser(&items, 4), by_counting(&items, 4));
            for (a, b) in [
                (found.passes, counted.passes),
                (found.looks_possible, counted.looks_possible),
                (found.looks_likely, counted.looks_likely),
            ] {
                assert!((a - b).abs() < 1e-9, "{found:?} {counted:?}");
            }
            assert!(found.looks_likely > 0.0 && found.looks_possible > found.looks_likely, "{found:?}");
        }
    }

    /// Three ideas on four choice items of four options each: 1 - P(no idea twice), and three times, by counting with fractions.
    #[test]
    fn four_items_with_the_same_three_ideas_look_like_an_idea_often() {
        let item = draw_item(ModelLibrary::builtin().get("g5-scale-above-one").unwrap(), 1).unwrap();
        let found = guesser(&vec![item; 4], 4);
        assert!((found.looks_possible - 0.714_843_75).abs() < 1e-9, "{found:?}");
        assert!((found.looks_likely - 0.152_343_75).abs() < 1e-9, "{found:?}");
        assert!((found.passes - 0.003_906_25).abs() < 1e-12, "{found:?}");
    }
}

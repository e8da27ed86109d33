//! Draws a million items over all item models on two threads and judges each by what a child would read.
//!
//! In:  `--draws N` and `--seed N` (the first seed). Out: seeds, time, how keys lie, and every draw that breaks a rule, on stdout.
//! Not here: what the rules are (`judge`); other items of one ticket (the core's tests).
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::panic)]

mod judge;

use rayon::prelude::*;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{ItemModel, ModelLibrary, TicketItem, draw_fingerprint, draw_item};
use std::collections::{BTreeMap, BTreeSet};
use std::time::Instant;

const N_DRAWS: u64 = 1_000_000;
const N_THREADS: usize = 2;
const N_SHOWN: usize = 20;

/// What became of the draws of one model.
#[derive(Default)]
struct Outcome {
    n_drawn: u64,
    n_different: usize,
    letters: BTreeMap<String, u64>,
    faults: Vec<String>,
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let given = |name: &str| args.iter().position(|a| a == name).and_then(|at| args.get(at + 1)?.parse::<u64>().ok());
    let (n_draws, first) = (given("--draws").unwrap_or(N_DRAWS), given("--seed").unwrap_or(0));
    let library = ModelLibrary::builtin();
    let models: Vec<&ItemModel> = library.iter().collect();
    let last = first + n_draws.div_ceil(models.len() as u64);
    judge_finds_faults(models[0]);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(N_THREADS).build().unwrap();
    let began = Instant::now();
    let outcomes: Vec<Outcome> = pool.install(|| models.par_iter().map(|m| draw_many(m, first..last)).collect());
    let seconds = began.elapsed().as_secs_f64();
    report(&models, &outcomes, &format!("seeds {first} to {} of each of {} models", last - 1, models.len()), seconds);
}

/// Stops where the judge would pass a broken item: two right options, one value twice, a wrong option without a code.
fn judge_finds_faults(model: &ItemModel) {
    let sound = draw_item(model, 1).unwrap();
    assert_eq!(judge::fault(&sound), None);
    let broken = [
        |item: &mut TicketItem| item.key = vec!["A".to_owned(), "B".to_owned()],
        |item: &mut TicketItem| item.options[1].text = item.options[0].text.clone(),
        |item: &mut TicketItem| item.options.iter_mut().for_each(|o| o.patterns.clear()),
        |item: &mut TicketItem| item.stem.push_str(" 5/7"),
        |item: &mut TicketItem| item.stem.push_str(" 123,456,789"),
        |item: &mut TicketItem| item.stem.push_str(" {a}"),
    ];
    for spoil in broken {
        let mut item = sound.clone();
        spoil(&mut item);
        assert!(judge::fault(&item).is_some(), "a broken item is passed: {item:?}");
    }
}

fn draw_many(model: &ItemModel, seeds: std::ops::Range<u64>) -> Outcome {
    let mut outcome = Outcome::default();
    let mut different = BTreeSet::new();
    for seed in seeds {
        let item = match draw_item(model, seed) {
            Ok(item) => item,
            Err(e) => {
                outcome.faults.push(format!("seed {seed}: {e}"));
                continue;
            }
        };
        outcome.n_drawn += 1;
        different.insert(draw_fingerprint(&item.model, &item.params));
        if item.kind == ItemKind::Choice {
            *outcome.letters.entry(item.key[0].clone()).or_insert(0) += 1;
        }
        if let Some(fault) = judge::fault(&item) {
            outcome.faults.push(format!("{} seed {seed}: {fault}: {}", model.slug(), item.stem));
        }
    }
    outcome.n_different = different.len();
    outcome
}

fn report(models: &[&ItemModel], outcomes: &[Outcome], seeds: &str, seconds: f64) {
    let n_drawn: u64 = outcomes.iter().map(|o| o.n_drawn).sum();
    let n_faults: usize = outcomes.iter().map(|o| o.faults.len()).sum();
    println!("{n_drawn} items, {seeds}: {seconds:.1} s on {N_THREADS} threads, each judged (goal under 60 s)");
    println!("draws that break a rule: {n_faults} (goal 0)");
    let shown = outcomes.iter().flat_map(|o| o.faults.iter().take(2)).take(N_SHOWN);
    shown.for_each(|fault| println!("  {fault}"));
    let mut letters: BTreeMap<&str, u64> = BTreeMap::new();
    for (letter, n) in outcomes.iter().flat_map(|o| &o.letters) {
        *letters.entry(letter).or_insert(0) += n;
    }
    let n_choices: u64 = letters.values().sum();
    for (letter, n) in &letters {
        println!("key at {letter} before a ticket spreads them: {:.1} %", 100.0 * *n as f64 / n_choices as f64);
    }
    let fewest = models.iter().zip(outcomes).min_by_key(|(_, o)| o.n_different).unwrap();
    println!("fewest different items of a model: {} of {}", fewest.1.n_different, fewest.0.slug());
}

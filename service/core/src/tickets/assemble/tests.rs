//! Tickets for a group, on a small skill graph.
//! Shape, balance of key letters, distinct draws and the probe for an unmeasured prerequisite.

use super::*;
use crate::scores::ItemKind;
use std::collections::BTreeSet;

fn graph() -> SkillGraph {
    SkillGraph::parse(
        "code,grade,name,prerequisites\n\
         3.OA.C.7,3,facts,\n3.NF.A.3b,3,simple equal fractions,\n3.NF.A.3c,3,wholes as fractions,\n\
         4.OA.A.2,4,times as many,3.OA.C.7\n4.NF.A.1,4,equal fractions,3.NF.A.3b;3.OA.C.7\n\
         4.NF.B.4b,4,whole times fraction,3.NF.A.3c\n\
         5.NF.B.5a,5,scaling,4.NF.B.4b;4.OA.A.2;3.NF.A.3c\n5.NF.B.5b,5,why scaling,5.NF.B.5a;4.NF.A.1\n\
         5.NF.B.5,5,umbrella,5.NF.B.5a;5.NF.B.5b\n",
    )
    .unwrap()
}

fn code(text: &str) -> SkillCode {
    SkillCode::parse(text).unwrap()
}

fn forms() -> Vec<String> {
    vec!["A".to_owned(), "B".to_owned()]
}

struct Ask<'a> {
    group: &'a str,
    target: &'a str,
    pattern: Option<&'a str>,
    n_items: usize,
    seed: u64,
    unmeasured: &'a [&'a str],
    level: Level,
}

const SCALING: Ask<'_> = Ask {
    group: "g1",
    target: "5.NF.B.5a",
    pattern: None,
    n_items: 5,
    seed: 7,
    unmeasured: &[],
    level: Level::AsWritten,
};

fn tickets(ask: &Ask<'_>) -> Result<Vec<Ticket>, TicketGap> {
    tickets_after(ask, &BTreeSet::new())
}

fn tickets_after(ask: &Ask<'_>, met: &BTreeSet<u64>) -> Result<Vec<Ticket>, TicketGap> {
    let unmeasured: Vec<PrerequisiteEvidence> = ask
        .unmeasured
        .iter()
        .map(|s| PrerequisiteEvidence { skill: code(s), evidence: Evidence::Unmeasured })
        .collect();
    let request = TicketRequest {
        group: ask.group,
        target: &code(ask.target),
        error_pattern: ask.pattern,
        n_items: ask.n_items,
        forms: &forms(),
        seed: ask.seed,
        met,
        level: ask.level,
        prerequisites: &unmeasured,
    };
    assemble_tickets(&ModelLibrary::builtin(), &graph(), &request)
}

fn draw_of(item: &TicketItem) -> u64 {
    crate::tickets::draw_fingerprint(&item.model, &item.params)
}

#[test]
fn a_ticket_has_target_items_a_deep_one_a_prerequisite_and_a_review() {
    let tickets = tickets(&SCALING).unwrap();
    let items = &tickets[0].items;
    assert_eq!(items.iter().map(|i| i.number).collect::<Vec<_>>(), [1, 2, 3, 4, 5]);
    let skills: Vec<&str> = items.iter().map(|i| i.skill.as_str()).collect();
    assert_eq!(skills[..3], ["5.NF.B.5a"; 3]);
    assert!(skills[3..].iter().all(|s| ["4.NF.B.4b", "4.OA.A.2", "3.NF.A.3c"].contains(s)), "{skills:?}");
    assert_ne!(skills[3], skills[4]);
    assert_ne!(items[0].kind, items[1].kind);
    assert!(matches!(items[2].kind, ItemKind::TwoPart | ItemKind::Match));
    let models: BTreeSet<&str> = items.iter().map(|i| i.model.as_str()).collect();
    assert_eq!(models.len(), 5);
}

#[test]
fn an_unmeasured_prerequisite_is_probed_first() {
    let tickets = tickets(&Ask { unmeasured: &["3.NF.A.3c"], ..SCALING }).unwrap();
    assert_eq!(tickets[0].items[3].skill, "3.NF.A.3c");
}

#[test]
fn the_shared_wrong_idea_is_among_the_options() {
    for pattern in ["scale-always-bigger", "scale-fraction-shrinks", "scale-add-factor", "scale-mixed-by-part"] {
        let tickets = tickets(&Ask { pattern: Some(pattern), ..SCALING }).unwrap();
        for ticket in &tickets {
            let first = format!("{:?}", ticket.items[0]);
            assert!(first.contains(pattern), "{pattern} in {first}");
        }
    }
}

#[test]
fn forms_are_alike_and_differ_in_their_numbers() {
    let tickets = tickets(&SCALING).unwrap();
    assert_eq!(tickets.iter().map(|t| t.form.as_str()).collect::<Vec<_>>(), ["A", "B"]);
    for (a, b) in tickets[0].items.iter().zip(&tickets[1].items) {
        assert_eq!(a.model, b.model);
        assert_ne!(draw_of(a), draw_of(b));
    }
}

#[test]
fn no_draw_comes_twice() {
    for seed in 0..40 {
        let tickets = tickets(&Ask { n_items: 8, seed, ..SCALING }).unwrap();
        let draws: Vec<u64> = tickets.iter().flat_map(|t| &t.items).map(draw_of).collect();
        assert_eq!(draws.iter().collect::<BTreeSet<_>>().len(), 16);
    }
}

#[test]
fn a_draw_that_was_met_does_not_come_again() {
    let mut met = BTreeSet::new();
    for week in 0..4 {
        // The same seed every week: only what was met makes the weeks differ.
        let tickets = tickets_after(&SCALING, &met).unwrap();
        for draw in tickets.iter().flat_map(|t| &t.items).map(draw_of) {
            assert!(met.insert(draw), "met again in week {week}");
        }
    }
    assert_eq!(met.len(), 4 * 2 * 5);
}

#[test]
fn one_code_stands_for_one_set_of_items() {
    let mut items_of: std::collections::BTreeMap<String, Vec<TicketItem>> = std::collections::BTreeMap::new();
    let all = tickets(&SCALING).unwrap();
    let met: BTreeSet<u64> = all.iter().flat_map(|t| &t.items).map(draw_of).collect();
    let other_idea = tickets(&Ask { pattern: Some("scale-always-bigger"), ..SCALING }).unwrap();
    let easier = tickets(&Ask { level: Level::Easier, ..SCALING }).unwrap();
    let shorter = tickets(&Ask { n_items: 4, ..SCALING }).unwrap();
    let later = tickets_after(&SCALING, &met).unwrap();
    let again = tickets(&SCALING).unwrap();
    for ticket in [all, other_idea, easier, shorter, later, again].into_iter().flatten() {
        // What it was drawn for is no part of what stands on it.
        let items: Vec<TicketItem> =
            ticket.items.into_iter().map(|item| TicketItem { level: Level::AsWritten, ..item }).collect();
        let known = items_of.entry(ticket.form_code).or_insert_with(|| items.clone());
        assert_eq!(*known, items);
    }
    assert!(items_of.len() >= 6, "{:?}", items_of.keys());
}

#[test]
fn a_swap_changes_one_item() {
    let (library, ticket) = (ModelLibrary::builtin(), tickets(&SCALING).unwrap().remove(0));
    let mut met = BTreeSet::new();
    for seed in 0..6 {
        let swapped = swap_item(&library, &ticket, 2, Swap::Another, &met, seed).unwrap();
        assert_ne!(swapped.form_code, ticket.form_code);
        assert_eq!(swapped.form_code[5..], ticket.form_code[5..]);
        for (old, new) in ticket.items.iter().zip(&swapped.items).filter(|(old, _)| old.number != 2) {
            assert_eq!(old, new);
        }
        let (old, new) = (&ticket.items[1], &swapped.items[1]);
        assert_eq!((new.number, &new.model, &new.skill), (2, &old.model, &old.skill));
        assert!(draw_of(new) != draw_of(old) && met.insert(draw_of(new)), "{new:?}");
    }
    assert_eq!(
        swap_item(&library, &ticket, 9, Swap::Another, &met, 1).unwrap_err().to_string(),
        format!("ticket {} has no item 9", ticket.form_code)
    );
}

#[test]
fn a_swap_says_when_every_draw_was_met() {
    let (library, ticket) = (ModelLibrary::builtin(), tickets(&Ask { target: "3.NF.A.2a", ..SCALING }));
    let ticket = ticket.unwrap().remove(0);
    let model = library.get(&ticket.items[0].model).unwrap();
    let met = (0..4_000).map(|seed| draw_of(&crate::tickets::draw_item(model, seed).unwrap())).collect();
    let gap = swap_item(&library, &ticket, 1, Swap::Another, &met, 1).unwrap_err().to_string();
    assert!(gap.ends_with("every draw that was looked at has been met"), "{gap}");
}

#[test]
fn a_swap_may_ask_for_an_easier_item_or_another_kind() {
    let (library, ticket) = (ModelLibrary::builtin(), tickets(&SCALING).unwrap().remove(0));
    let with_level = ticket.items.iter().find(|i| library.get(&i.model).unwrap().has_level(Level::Easier)).unwrap();
    let easier = swap_item(&library, &ticket, with_level.number, Swap::Easier, &BTreeSet::new(), 1).unwrap();
    let item = &easier.items[with_level.number - 1];
    assert_eq!((item.level, &item.model), (Level::Easier, &with_level.model));
    let other = swap_item(&library, &ticket, 1, Swap::OtherKind, &BTreeSet::new(), 1).unwrap();
    let (old, new) = (&ticket.items[0], &other.items[0]);
    assert!(new.skill == old.skill && !ticket.items.iter().any(|i| i.model == new.model), "{new:?}");
}

#[test]
fn one_item_is_easier_where_that_is_asked_for() {
    for level in [Level::Easier, Level::Harder] {
        for ticket in tickets(&Ask { level, ..SCALING }).unwrap() {
            let levels: Vec<Level> = ticket.items.iter().map(|i| i.level).collect();
            let plain = Level::AsWritten;
            assert_eq!(levels, [plain, level, plain, plain, plain]);
            assert_eq!(ticket.items[1].skill, "5.NF.B.5a");
        }
    }
}

#[test]
fn the_same_request_gives_the_same_tickets() {
    assert_eq!(tickets(&SCALING), tickets(&SCALING));
    assert_ne!(tickets(&SCALING), tickets(&Ask { seed: 8, ..SCALING }));
}

#[test]
fn every_item_is_made_again_from_model_and_parameters() {
    let library = ModelLibrary::builtin();
    for item in tickets(&SCALING).unwrap().iter().flat_map(|t| &t.items) {
        let again = crate::tickets::redraw(library.get(&item.model).unwrap(), &item.params).unwrap();
        assert_eq!(TicketItem { number: item.number, level: item.level, ..again }, *item);
    }
}

/// Share of each key letter, and of numeric choices with the key at an end, over tickets for every covered skill.
fn letters_over_all_skills(seeds: std::ops::Range<u64>) -> (std::collections::BTreeMap<String, f64>, f64, usize) {
    let library = ModelLibrary::builtin();
    let skills: Vec<String> = library.covered_skills().iter().map(ToString::to_string).collect();
    let tickets = seeds.flat_map(|seed| {
        skills.iter().flat_map(move |target| tickets(&Ask { target, seed, ..SCALING }).unwrap()).collect::<Vec<_>>()
    });
    let (mut letters, mut n_tickets, mut n_ends, mut n_numeric) = (std::collections::BTreeMap::new(), 0, 0.0, 0.0);
    for ticket in tickets {
        n_tickets += 1;
        for item in ticket.items.iter().filter(|i| i.kind == ItemKind::Choice) {
            *letters.entry(item.key[0].clone()).or_insert(0.0) += 1.0;
            if item.options.iter().all(|o| o.text.chars().all(|c| "0123456789/., ".contains(c))) {
                n_numeric += 1.0;
                n_ends += f64::from(u8::from(["A", "D"].contains(&item.key[0].as_str())));
            }
        }
    }
    let total: f64 = letters.values().sum();
    letters.values_mut().for_each(|n| *n /= total);
    (letters, n_ends / n_numeric, n_tickets)
}

#[test]
fn key_letters_are_spread() {
    let (letters, at_an_end, n_tickets) = letters_over_all_skills(0..10);
    assert!(n_tickets >= 1_000, "{n_tickets}");
    assert_eq!(letters.len(), 4);
    assert!(letters.values().all(|share| (0.20..=0.30).contains(share)), "{letters:?}");
    assert!(at_an_end <= 0.60, "{at_an_end}");
}

#[test]
fn form_codes_are_short_and_differ() {
    let mut codes = BTreeSet::new();
    let mut n_codes = 0;
    for group in ["g1", "g2", "g13", "own group"] {
        for seed in 0..50 {
            for ticket in tickets(&Ask { group, seed, n_items: 1, ..SCALING }).unwrap() {
                assert!(ticket.form_code.len() <= 11, "{}", ticket.form_code);
                assert!(!ticket.form_code.contains(['I', 'O']), "{}", ticket.form_code);
                codes.insert(ticket.form_code);
                n_codes += 1;
            }
        }
    }
    assert_eq!(codes.len(), n_codes);
}

#[test]
fn an_umbrella_target_takes_the_models_of_its_parts() {
    let tickets = tickets(&Ask { target: "5.NF.5", ..SCALING }).unwrap();
    assert!(tickets[0].items[..3].iter().all(|i| i.skill.starts_with("5.NF.B.5")));
    assert!(!tickets[0].items[3].skill.starts_with("5.NF.B.5"));
}

#[test]
fn short_tickets_ask_for_the_target_alone() {
    for n_items in 1..=3 {
        let tickets = tickets(&Ask { n_items, ..SCALING }).unwrap();
        assert_eq!(tickets[0].items.len(), n_items);
        assert!(tickets[0].items.iter().all(|i| i.skill == "5.NF.B.5a"));
    }
}

#[test]
fn a_skill_without_models_is_a_gap_with_a_sentence() {
    let gap = tickets(&Ask { target: "5.XX.1", ..SCALING }).unwrap_err();
    assert!(gap.to_string().starts_with("no item model asks for 5.XX.1"), "{gap}");
    assert!(sample_items(&ModelLibrary::builtin(), &code("5.XX.1"), 2, 1).is_err());
}

#[test]
fn samples_take_every_model_in_turn() {
    let items = sample_items(&ModelLibrary::builtin(), &code("4.NF.A.1"), 6, 1).unwrap();
    let models: BTreeSet<&str> = items.iter().map(|i| i.model.as_str()).collect();
    assert_eq!((items.len(), models.len()), (6, 4));
    assert_eq!(items.iter().map(draw_of).collect::<BTreeSet<_>>().len(), 6);
}

/// Mean over tickets for every skill of how often a guesser is called likely to hold some wrong idea, and the share of tickets where
/// that is over one in five. By the shipped skill graph, so that earlier skills stand on a ticket as they do in a plan.
#[test]
fn a_guesser_seldom_looks_like_a_wrong_idea() {
    let (library, graph, forms) = (ModelLibrary::builtin(), SkillGraph::builtin().unwrap(), forms());
    let mut likely: Vec<f64> = Vec::new();
    for (target, seed) in library.covered_skills().iter().flat_map(|t| (0..4).map(move |seed| (t, seed))) {
        let (met, level, error_pattern) = (&BTreeSet::new(), Level::AsWritten, None);
        let request = TicketRequest {
            group: "g1",
            target,
            error_pattern,
            n_items: 5,
            forms: &forms,
            seed,
            met,
            level,
            prerequisites: &[],
        };
        let tickets = assemble_tickets(&library, &graph, &request).unwrap();
        likely.extend(tickets.iter().map(|t| crate::tickets::guesser(&t.items, 4).looks_likely));
    }
    let mean = likely.iter().sum::<f64>() / likely.len() as f64;
    let over = likely.iter().filter(|p| **p > 0.20).count() as f64 / likely.len() as f64;
    assert!(
        likely.len() >= 700 && mean <= 0.06 && over <= 0.08,
        "{} tickets: mean {mean}, over a fifth {over}",
        likely.len()
    );
}

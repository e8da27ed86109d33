//! What movement claims of a thousand invented classes, printed: without learning beside the stated rates, with learning as power.
//!
//! `cargo test -p sheaf-tests --test acceptance claims -- --nocapture` shows the table. Not here: the classes (`sheaf-core`).
// The rates are there to be read.
#![allow(clippy::print_stdout)]

use sheaf_core::movement::{InventedClasses, Rate, claim_rates};
use sheaf_core::skills::SkillGraph;

fn told(words: &str, rate: Rate, stated: &str) {
    println!("  {words:<62} {:>6.1} % of {:>6.0}   {stated}", 100.0 * rate.share(), rate.of);
}

/// Classes of 24 seldom have ten children who changed and ten who stayed; a school has.
#[test]
fn three_hundred_schools_without_learning_and_with() {
    let graph = SkillGraph::builtin().unwrap();
    for (words, step_after_change) in [("nobody learns", 0.0), ("who changed groups rises by 5 points a week", 0.05)] {
        let settings =
            InventedClasses { n_classes: 300, n_students: 120, step_after_change, ..InventedClasses::default() };
        let rates = claim_rates(&settings, 12, &graph);
        println!("300 schools of 120 over 5 weeks, 4 items a week; {words}:");
        told("more of those who changed groups", rates.more_of_changed, "stated without learning: 2.5 %");
        told("fewer of those who changed groups", rates.fewer_of_changed, "stated without learning: 2.5 %");
        assert!(rates.more_of_changed.of >= 300.0, "every school has enough of both");
        assert!(rates.fewer_of_changed.keeps_to(0.025), "{:?}", rates.fewer_of_changed);
        if step_after_change == 0.0 {
            assert!(rates.more_of_changed.keeps_to(0.025), "{:?}", rates.more_of_changed);
        } else {
            assert!(rates.more_of_changed.share() > 0.3, "{:?}", rates.more_of_changed);
        }
    }
}

#[test]
fn a_thousand_classes_without_learning_and_with() {
    let graph = SkillGraph::builtin().unwrap();
    for (words, step, step_after_change) in [
        ("nobody learns", 0.0, 0.0),
        ("a true share rises by 5 points in a hundred a week", 0.05, 0.0),
        ("a true share rises by 10 points in a hundred a week", 0.10, 0.0),
        ("only who changed groups rises, by 25 points in a hundred a week", 0.0, 0.25),
    ] {
        let settings = InventedClasses { step, step_after_change, ..InventedClasses::default() };
        let rates = claim_rates(&settings, 11, &graph);
        println!("1,000 classes of 24 over 5 weeks, 4 items a week; {words}:");
        told("change something, where the true share is at the cut", rates.stuck_and_is_not, "stated: at most 10 %");
        told("change something, where the true share is under a half", rates.stuck_and_is, "power");
        told("met at the last check, of those under the cut at first", rates.met_seen, "seen");
        told("the same by chance, as the page says it", rates.met_expected, "stated");
        told("first to last more than its own error", rates.reliable, "stated without learning: 5 %");
        told("more of those who changed groups", rates.more_of_changed, "stated without learning: 2.5 %");
        told("fewer of those who changed groups", rates.fewer_of_changed, "stated without learning: 2.5 %");
        if step + step_after_change == 0.0 {
            assert!(rates.stuck_and_is_not.keeps_to(0.10) && rates.met_seen.keeps_to(rates.met_expected.share()));
            assert!(rates.reliable.keeps_to(0.05), "{:?}", rates.reliable);
            assert!(rates.more_of_changed.keeps_to(0.025) && rates.fewer_of_changed.keeps_to(0.025));
        }
    }
}

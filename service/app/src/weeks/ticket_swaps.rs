//! Claims about the items of a week's tickets that hold over several jobs: swaps by hand, and items for a group's state.
//! On the small quiz, whose children have nothing right on the skill that they lack.

use super::small_quiz::{QUIZ, file, week};
use super::{Decision, Keeping, SchoolSetup, Weeks};
use crate::error::ErrorKind;
use sheaf_core::tickets::{Level, Ticket};

fn planned(quiz: &str) -> (Weeks, String) {
    let setup = SchoolSetup::parse("school.toml", "[groups]\ninclude = \"all\"\nmin_size = 2\nmax_size = 3\n");
    let weeks = Weeks::in_memory(setup.unwrap()).unwrap();
    weeks.take_in(week(), vec![file("quiz.csv", quiz)], None, Keeping::Keep).unwrap();
    let tag = weeks.plan_week(week(), None).unwrap().tag.clone();
    (weeks, tag)
}

fn swap(item: usize, how: &str) -> Decision {
    let (group, form) = ("g1".to_owned(), "A".to_owned());
    Decision::Item { group, form, item, swap: how.to_owned(), reason: String::new() }
}

fn tickets(weeks: &Weeks) -> Vec<Ticket> {
    weeks.plan(week()).unwrap().plan.tickets.clone()
}

#[test]
fn a_swap_changes_its_ticket_alone() {
    let (weeks, tag) = planned(QUIZ);
    let before = tickets(&weeks);
    let (_, tag) = weeks.overrule(week(), &tag, swap(2, "another")).unwrap();
    let after = tickets(&weeks);
    assert_eq!(before.len(), after.len());
    for (old, new) in before.iter().zip(&after) {
        let is_it = (old.group.as_str(), old.form.as_str()) == ("g1", "A");
        assert_eq!(old.form_code != new.form_code, is_it, "{}", old.form_code);
        for (was, is) in old.items.iter().zip(&new.items) {
            assert_eq!(was != is, is_it && was.number == 2, "{}, item {}", old.form_code, was.number);
        }
    }
    let (_, tag) = weeks.overrule(week(), &tag, swap(2, "other-kind")).unwrap();
    assert_ne!(tickets(&weeks)[0].items[1].model, after[0].items[1].model);
    let (_, tag) = weeks.undo(week(), &tag).unwrap();
    assert_eq!(tickets(&weeks), after);
    weeks.undo(week(), &tag).unwrap();
    assert_eq!(tickets(&weeks), before);
}

#[test]
fn results_on_a_ticket_that_was_swapped_after_it_was_printed_go_by_its_own_key() {
    let (weeks, tag) = planned(QUIZ);
    let printed = tickets(&weeks).remove(0);
    weeks.overrule(week(), &tag, swap(2, "other-kind")).unwrap();
    let known = weeks.handed_out().unwrap();
    let keys = |code: &str| known.iter().find(|t| t.form_code == code).map(|t| t.items.len());
    assert_eq!(keys(&printed.form_code), Some(printed.items.len()), "the printed ticket is still known");
    assert_eq!(keys(&tickets(&weeks)[0].form_code), Some(printed.items.len()));
}

#[test]
fn what_cannot_be_swapped_is_refused() {
    let (weeks, tag) = planned(QUIZ);
    for (item, how, code) in [(9, "another", "no-such-item"), (1, "nicer", "no-such-swap")] {
        let error = weeks.overrule(week(), &tag, swap(item, how)).unwrap_err();
        assert_eq!((error.kind, error.code), (ErrorKind::Input, code), "{}", error.message);
    }
}

#[test]
fn the_state_of_a_group_makes_one_item_easier_or_harder() {
    let levels = |quiz: &str| {
        let tickets = tickets(&planned(quiz).0);
        let of_scaling = tickets.iter().filter(|t| t.items[0].skill == "5.NF.B.5a");
        of_scaling.map(|t| t.items.iter().map(|i| i.level).collect::<Vec<_>>()).collect::<Vec<_>>()
    };
    let plain = Level::AsWritten;
    let nothing_right = levels(QUIZ);
    assert!(!nothing_right.is_empty());
    assert!(nothing_right.iter().all(|l| *l == [plain, Level::Easier, plain, plain, plain]), "{nothing_right:?}");
    // Two of three right: the interval spans the cut.
    let near = QUIZ.replace(",B,A,A,", ",A,B,A,").replace(",B,A,B,D", ",A,B,B,D").replace(",C,A,A,", ",A,B,A,");
    let nearly_right = levels(&near);
    assert!(!nearly_right.is_empty());
    assert!(nearly_right.iter().all(|l| *l == [plain, Level::Harder, plain, plain, plain]), "{nearly_right:?}");
}

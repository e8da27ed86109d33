//! A list that only grows: what is in it already is found again, what is new goes to its end.
//!
//! Keeps: what was there keeps its place; the same content gets the same place; nothing is added twice
//! (`a_list_only_grows_and_finds_again_what_it_has`). Not here: what the content is (`canon`).

use std::collections::HashMap;

/// Places of what is in a list, and what is added.
#[derive(Debug, Default)]
pub(super) struct Pool {
    places: HashMap<String, u32>,
    n_items: u32,
    /// What goes to the end, as XML.
    pub added: String,
}

impl Pool {
    /// A list as it is; the first of two equal items is the one that is found.
    pub(super) fn new(items: impl IntoIterator<Item = String>) -> Self {
        let mut pool = Pool::default();
        for item in items {
            pool.places.entry(item).or_insert(pool.n_items);
            pool.n_items += 1;
        }
        pool
    }

    /// The place of an item; `xml` is asked for where it is new.
    pub(super) fn place(&mut self, item: String, xml: impl FnOnce() -> String) -> u32 {
        let next = self.n_items;
        *self.places.entry(item).or_insert_with(|| {
            self.n_items += 1;
            self.added.push_str(&xml());
            next
        })
    }

    /// How many items there are.
    pub(super) fn len(&self) -> u32 {
        self.n_items
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_list_only_grows_and_finds_again_what_it_has(
            theirs in prop::collection::vec(0_u8..12, 0..20),
            ours in prop::collection::vec(0_u8..12, 0..20),
        ) {
            let as_text = |item: &u8| item.to_string();
            let mut pool = Pool::new(theirs.iter().map(as_text));
            let places: Vec<u32> = ours.iter().map(|item| pool.place(as_text(item), || format!("{item},"))).collect();
            let added = pool.added.split_terminator(',').map(|item| item.parse::<u8>().unwrap());
            let list: Vec<u8> = theirs.iter().copied().chain(added).collect();
            prop_assert_eq!(list.len(), pool.len() as usize);
            for (item, place) in ours.iter().zip(&places) {
                prop_assert_eq!(list[*place as usize], *item, "each of ours stands where it was put");
            }
            let mut again = Pool::new(list.iter().map(as_text));
            for (item, place) in ours.iter().zip(&places) {
                prop_assert_eq!(again.place(as_text(item), || "twice".to_owned()), *place);
            }
            prop_assert!(again.added.is_empty(), "the next week finds all of it again");
        }
    }
}

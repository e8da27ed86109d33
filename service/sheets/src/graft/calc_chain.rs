//! The order in which formulas were last calculated, without the cells of sheets that go.
//!
//! In:  the text of the part, the numbers of the sheets. Out: the text without their cells, or none where nothing is left.
//! Keeps: an entry without a number is on the sheet of the entry before it (`an_entry_without_a_number_follows_the_last`).
//! Source: ECMA-376 part 1, 18.6. Not here: sheets that come; programs find new formulas by themselves.

use super::error::GraftError;
use super::outline::Outline;
use super::splice::Edits;
use std::collections::HashSet;

/// What is left of the part.
pub(super) fn without(text: &str, sheet_ids: &HashSet<u32>) -> Result<Option<String>, GraftError> {
    let outline = Outline::of(text, 1)?;
    let (mut edits, mut sheet_id, mut n_left) = (Edits::default(), None, 0_usize);
    for cell in outline.parts().filter(|n| n.local == "c") {
        let own = outline.attribute(cell, "i").and_then(|id| id.trim().parse::<u32>().ok());
        sheet_id = own.or(sheet_id);
        if sheet_id.is_some_and(|id| sheet_ids.contains(&id)) {
            edits.remove(cell.whole.clone());
        } else {
            n_left += 1;
        }
    }
    Ok((n_left > 0).then(|| edits.apply(text)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::graft::outline::MAIN;

    #[test]
    fn an_entry_without_a_number_follows_the_last() {
        let chain = |cells: &str| format!("<calcChain xmlns='{MAIN}'>{cells}</calcChain>");
        let text = chain("<c r='A1' i='1'/><c r='A2'/><c r='B1' i='2'/><c r='B2'/><c r='A3' i='1'/>");
        let left = without(&text, &HashSet::from([2])).unwrap();
        assert_eq!(left, Some(chain("<c r='A1' i='1'/><c r='A2'/><c r='A3' i='1'/>")));
        assert_eq!(without(&text, &HashSet::from([1, 2])).unwrap(), None);
        assert_eq!(without(&text, &HashSet::from([3])).unwrap(), Some(text));
    }
}

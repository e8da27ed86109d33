//! Changes to a text: pieces taken out and put in at places of the text as it was.
//!
//! In:  places and new pieces. Out: the text with them; everything between two places is copied byte for byte
//! (`what_is_not_touched_stays_as_it_is`). Pieces at one place stand in the order in which they were given.
//! Keeps: what goes in is ASCII, so that it fits whatever encoding the part declares (`texts_go_in_as_ascii`).
//! Not here: finding the places (`outline`).

use super::outline::{Node, Outline};
use std::fmt::Write;
use std::ops::Range;

/// Changes to one text.
#[derive(Debug, Default)]
pub(super) struct Edits {
    list: Vec<(Range<usize>, String)>,
}

impl Edits {
    /// Puts a piece in place of another.
    pub(super) fn replace(&mut self, place: Range<usize>, piece: impl Into<String>) {
        self.list.push((place, piece.into()));
    }

    /// Takes a piece out.
    pub(super) fn remove(&mut self, place: Range<usize>) {
        self.replace(place, "");
    }

    /// Puts a piece in.
    pub(super) fn insert(&mut self, at: usize, piece: impl Into<String>) {
        self.replace(at..at, piece);
    }

    /// Puts elements at the end of an element, which is opened where it is one tag.
    pub(super) fn append(&mut self, outline: &Outline<'_>, parent: &Node, pieces: &str) {
        if pieces.is_empty() {
        } else if parent.is_one_tag() {
            let slash =
                outline.text[parent.open.clone()].rfind('/').map_or(parent.open.end, |at| parent.open.start + at);
            self.replace(slash..parent.open.end, format!(">{pieces}</{}>", outline.name(parent)));
        } else {
            self.insert(parent.inner.end, pieces);
        }
    }

    /// Puts elements at the end of a child of the root, which is made where it is missing, after those that come before
    /// it in the order of the schema.
    pub(super) fn append_in(&mut self, outline: &Outline<'_>, order: &[&str], local: &str, pieces: &str) {
        if let Some(parent) = outline.part(local) {
            self.append(outline, parent, pieces);
        } else if !pieces.is_empty() {
            let prefix = outline.prefix();
            self.insert(place_for(outline, order, local), format!("<{prefix}{local}>{pieces}</{prefix}{local}>"));
        }
    }

    /// The text with the changes.
    pub(super) fn apply(mut self, text: &str) -> String {
        self.list.sort_by_key(|(place, _)| place.start);
        let mut changed = String::with_capacity(text.len() + self.list.iter().map(|(_, p)| p.len()).sum::<usize>());
        let mut at = 0;
        for (place, piece) in &self.list {
            changed.push_str(&text[at.min(place.start)..place.start]);
            changed.push_str(piece);
            at = at.max(place.end);
        }
        changed.push_str(&text[at..]);
        changed
    }
}

/// Where a missing child of the root goes.
fn place_for(outline: &Outline<'_>, order: &[&str], local: &str) -> usize {
    let rank = |name: &str| order.iter().position(|o| *o == name);
    let before = outline.parts().filter(|n| rank(&n.local) < rank(local) && rank(&n.local).is_some());
    before.map(|n| n.whole.end).max().unwrap_or(outline.root().inner.start)
}

/// A text as the value of an attribute or the content of an element, in ASCII.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            ' '..='~' => out.push(c),
            // Writing to a string cannot fail.
            c => _ = write!(out, "&#{};", u32::from(c)),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_touched_stays_as_it_is() {
        let text = "<a ><!-- x -->  <b c = '1'/>\r\n</a>";
        let outline = Outline::of(text, 2).unwrap();
        let b = outline.part("b").unwrap();
        let mut edits = Edits::default();
        edits.append(&outline, b, "<d/>");
        edits.replace(outline.raw_attribute(b, "c").unwrap(), "22");
        edits.append_in(&outline, &["b", "e"], "e", "<f/>");
        assert_eq!(edits.apply(text), "<a ><!-- x -->  <b c = '22'><d/></b><e><f/></e>\r\n</a>");
    }

    #[test]
    fn a_missing_element_goes_where_the_schema_wants_it() {
        let text = "<a><b/><d/></a>";
        let outline = Outline::of(text, 1).unwrap();
        let order = ["b", "c", "d"];
        let mut edits = Edits::default();
        edits.append_in(&outline, &order, "c", "<x/>");
        assert_eq!(edits.apply(text), "<a><b/><c><x/></c><d/></a>");
    }

    #[test]
    fn texts_go_in_as_ascii() {
        assert_eq!(escaped("<\"Zoë\" & 🦊>"), "&lt;&quot;Zo&#235;&quot; &amp; &#129418;&gt;");
    }
}

//! One way to write a font, fill, border or format, so that two that look the same are seen to be the same.
//!
//! In:  an element as a program wrote it. Out: a text that is equal for equal looks: attributes and the parts of a font in one
//! order, `true` as `1`, what is the default anyway left out. Never written to a file.
//! Keeps: two programs' ways of writing one look are equal, and two looks are not (`the_same_look_is_one_text`).
//! Source: ECMA-376 part 1, 18.8 (styles), for the defaults.

use crate::graft::error::GraftError;
use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, XmlVersion};

/// An element taken apart.
#[derive(Debug, Default)]
pub(super) struct Look {
    pub name: String,
    pub attributes: Vec<(String, String)>,
    pub children: Vec<Look>,
}

/// Parts of a font that are on when they are there.
const SWITCHES: [&str; 8] = ["b", "i", "strike", "condense", "extend", "outline", "shadow", "u"];

/// Attributes that say nothing at these values.
const DEFAULTS: [(&str, &str, &str); 13] = [
    ("patternFill", "patternType", "none"),
    ("alignment", "horizontal", "general"),
    ("alignment", "vertical", "bottom"),
    ("alignment", "textRotation", "0"),
    ("alignment", "wrapText", "0"),
    ("alignment", "indent", "0"),
    ("alignment", "shrinkToFit", "0"),
    ("protection", "locked", "1"),
    ("protection", "hidden", "0"),
    ("xf", "quotePrefix", "0"),
    ("xf", "pivotButton", "0"),
    ("border", "diagonalUp", "0"),
    ("border", "diagonalDown", "0"),
];

impl Look {
    /// Takes an element apart; `prefix` is left off its names.
    pub(super) fn of(fragment: &str, prefix: &str) -> Result<Self, GraftError> {
        let mut reader = Reader::from_str(fragment);
        let mut open = vec![Look::default()];
        loop {
            match reader.read_event().map_err(|e| GraftError::damaged(format!("its formats: {e}")))? {
                Event::Start(tag) => open.push(start(&tag, prefix)),
                Event::Empty(tag) => hand_up(&mut open, start(&tag, prefix)),
                Event::End(_) => {
                    if let Some(done) = open.pop() {
                        hand_up(&mut open, done);
                    }
                }
                Event::Eof => break,
                _ => {}
            }
        }
        let mut top = open.into_iter().next().unwrap_or_default();
        top.children.pop().ok_or_else(|| GraftError::damaged("its formats are cut short"))
    }

    /// The value of an attribute.
    pub(super) fn attribute(&self, key: &str) -> Option<&str> {
        self.attributes.iter().find(|(k, _)| k == key).map(|(_, v)| v.as_str())
    }

    /// The number that an attribute holds, or 0.
    pub(super) fn number(&self, key: &str) -> u32 {
        self.attribute(key).and_then(|v| v.trim().parse().ok()).unwrap_or(0)
    }

    /// The one text.
    pub(super) fn text(mut self) -> String {
        self.settle();
        let mut out = String::new();
        self.write(&mut out);
        out
    }

    /// Leaves out what says nothing and sorts what has no order.
    fn settle(&mut self) {
        let name = self.name.clone();
        self.attributes.retain(|(k, v)| !DEFAULTS.contains(&(name.as_str(), k.as_str(), v.as_str())));
        self.attributes.sort();
        self.children.iter_mut().for_each(Look::settle);
        self.children.retain(|c| !c.says_nothing());
        if name == "font" {
            self.children.iter_mut().for_each(Look::settle_switch);
            self.children.sort_by(|a, b| a.name.cmp(&b.name));
        }
    }

    fn says_nothing(&self) -> bool {
        let is_off = SWITCHES.contains(&self.name.as_str()) && matches!(self.attribute("val"), Some("0" | "none"));
        let is_bare = matches!(self.name.as_str(), "alignment" | "protection") && self.attributes.is_empty();
        is_off || is_bare
    }

    fn settle_switch(&mut self) {
        if SWITCHES.contains(&self.name.as_str()) {
            self.attributes.retain(|(k, v)| k != "val" || (v != "1" && v != "single"));
        }
    }

    fn write(&self, out: &mut String) {
        out.push_str(&self.name);
        for (key, value) in &self.attributes {
            out.extend([" ", key, "=", value]);
        }
        out.push('(');
        self.children.iter().for_each(|child| child.write(out));
        out.push(')');
    }
}

fn hand_up(open: &mut [Look], done: Look) {
    if let Some(parent) = open.last_mut() {
        parent.children.push(done);
    }
}

fn start(tag: &BytesStart<'_>, prefix: &str) -> Look {
    let name = tag.name();
    let name = name.as_ref();
    let attributes = tag.attributes().flatten().map(|a| {
        let value = a.normalized_value(XmlVersion::Implicit1_0).unwrap_or_else(|_| a.value.clone());
        let value = match value.as_ref() {
            "true" => "1",
            "false" => "0",
            other => other,
        };
        (a.key.as_ref().to_owned(), value.to_owned())
    });
    let attributes = attributes.filter(|(key, _)| !key.starts_with("xmlns")).collect();
    Look { name: name.strip_prefix(prefix).unwrap_or(name).to_owned(), attributes, children: Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(fragment: &str, prefix: &str) -> String {
        Look::of(fragment, prefix).unwrap().text()
    }

    #[test]
    fn the_same_look_is_one_text() {
        let ours = "<font><b/><u/><sz val=\"11\"/><color theme=\"1\"/></font>";
        let theirs = "<x:font><x:color theme='1'/><x:i val='false'/><x:sz val='11'/><x:b val='true'/><x:u val='single'/></x:font>";
        assert_eq!(text(ours, ""), text(theirs, "x:"));
        assert_ne!(text(ours, ""), text("<font><sz val=\"11\"/><color theme=\"1\"/></font>", ""));
        let bare = "<xf fontId='1'/>";
        let wordy =
            "<xf quotePrefix='0' fontId='1'><alignment wrapText='false' indent='0'/><protection locked='true'/></xf>";
        assert_eq!(text(bare, ""), text(wordy, ""));
        assert_ne!(text(bare, ""), text("<xf fontId='1'><alignment wrapText='1'/></xf>", ""));
        assert!(Look::of("<font><b></font>", "").is_err());
    }
}

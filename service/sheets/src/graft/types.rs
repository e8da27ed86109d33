//! Content types: what each part of a package is.
//!
//! In:  the text of `[Content_Types].xml`. Out: the type of a part; additions and removals as edits.
//! Keeps: changed by addition, but for parts that go (`types_are_only_added`); a type that an ending already gives is not
//! given twice. Source: ECMA-376 part 2, content types. Not here: the parts.

use super::error::GraftError;
use super::outline::{Outline, Space};
use super::package::key;
use super::splice::{Edits, escaped};
use std::collections::HashMap;
use std::fmt::Write;
use std::ops::Range;

/// Name of the part.
pub(super) const PART: &str = "[Content_Types].xml";

/// What the part says.
#[derive(Debug)]
pub(super) struct Types {
    endings: HashMap<String, String>,
    parts: HashMap<String, (String, Range<usize>)>,
}

impl Types {
    /// Reads the part.
    pub(super) fn read(text: &str) -> Result<Self, GraftError> {
        let outline = Outline::of(text, 1)?;
        if outline.root().space != Space::Types {
            return Err(GraftError::damaged("its list of content types is none"));
        }
        let (mut endings, mut parts) = (HashMap::new(), HashMap::new());
        for node in outline.parts() {
            let value = |name: &str| outline.attribute(node, name).unwrap_or_default();
            if node.local == "Default" {
                endings.insert(value("Extension").to_lowercase(), value("ContentType"));
            } else if node.local == "Override" {
                parts.insert(key(&value("PartName")), (value("ContentType"), node.whole.clone()));
            }
        }
        Ok(Types { endings, parts })
    }

    /// The type of a part.
    pub(super) fn of(&self, part: &str) -> Option<&str> {
        let named = self.parts.get(&key(part)).map(|(kind, _)| kind.as_str());
        named.or_else(|| self.endings.get(&ending(part)).map(String::as_str))
    }

    /// Whether a part is named, there or not.
    pub(super) fn names(&self, part: &str) -> bool {
        self.parts.contains_key(&key(part))
    }

    /// The text with the types of new parts, and without those of parts that go.
    pub(super) fn change(
        &self,
        text: &str,
        added: &[(String, String)],
        dropped: &[String],
    ) -> Result<String, GraftError> {
        let outline = Outline::of(text, 1)?;
        let mut edits = Edits::default();
        let gone: Vec<String> = dropped.iter().map(|part| key(part)).collect();
        for place in gone.iter().filter_map(|part| self.parts.get(part)).map(|(_, place)| place) {
            edits.remove(place.clone());
        }
        let prefix = outline.prefix();
        let mut pieces = String::new();
        for (part, kind) in added {
            let is_known = !self.names(part) && self.of(part) == Some(kind.as_str());
            if !is_known {
                let (part, kind) = (escaped(part), escaped(kind));
                // Writing to a string cannot fail.
                _ = write!(pieces, "<{prefix}Override PartName=\"/{part}\" ContentType=\"{kind}\"/>");
            }
        }
        edits.append(&outline, outline.root(), &pieces);
        Ok(edits.apply(text))
    }
}

fn ending(part: &str) -> String {
    part.rsplit_once('.').map_or_else(String::new, |(_, ending)| ending.to_lowercase())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn types_are_only_added() {
        let text = "<t:Types xmlns:t='http://schemas.openxmlformats.org/package/2006/content-types'>\n\
            <t:Default Extension='PNG' ContentType='image/png'/><t:Override PartName='/XL/a.xml' ContentType='a'/></t:Types>";
        let types = Types::read(text).unwrap();
        assert_eq!(
            (types.of("xl/A.xml"), types.of("x/y.png"), types.of("z.xml")),
            (Some("a"), Some("image/png"), None)
        );
        let added = [("xl/b.xml".to_owned(), "b".to_owned()), ("m/i.png".to_owned(), "image/png".to_owned())];
        let changed = types.change(text, &added, &[]).unwrap();
        let tail = "<t:Override PartName=\"/xl/b.xml\" ContentType=\"b\"/></t:Types>";
        assert_eq!(changed, text.replace("</t:Types>", tail));
        let without = types.change(&changed, &[], &["xl/A.xml".to_owned()]).unwrap();
        assert!(!without.contains("XL/a.xml") && without.contains("/xl/b.xml"));
    }
}

//! A part of a package as a tree, for checks that share no code with what they check.
//! Prefixes are left off names, as the checks ask what an element is and not how its part calls it.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

/// An element.
#[derive(Debug, Default, Clone)]
pub(super) struct Element {
    /// Name without prefix.
    pub name: String,
    /// Attributes by name without prefix.
    pub attributes: Vec<(String, String)>,
    pub children: Vec<Element>,
    pub text: String,
}

impl Element {
    /// The root of a part; `None` where it is no XML that this reader knows.
    pub(super) fn read(bytes: &[u8]) -> Option<Element> {
        let text = std::str::from_utf8(bytes).ok()?;
        let mut reader = Reader::from_str(text.trim_start_matches('\u{feff}'));
        let mut open = vec![Element::default()];
        loop {
            match reader.read_event().ok()? {
                Event::Start(tag) => open.push(element(&tag)),
                Event::Empty(tag) => open.last_mut()?.children.push(element(&tag)),
                Event::End(_) => {
                    let closed = open.pop()?;
                    open.last_mut()?.children.push(closed);
                }
                Event::Text(piece) => open.last_mut()?.text.push_str(&piece.into_inner()),
                Event::GeneralRef(name) => open.last_mut()?.text.push_str(match name.into_inner().as_ref() {
                    "lt" => "<",
                    "gt" => ">",
                    "amp" => "&",
                    "quot" => "\"",
                    _ => "'",
                }),
                Event::Eof => return open.pop()?.children.pop(),
                _ => {}
            }
        }
    }

    pub(super) fn get(&self, key: &str) -> Option<&str> {
        self.attributes.iter().find(|(k, _)| k == key).map(|(_, value)| value.as_str())
    }

    pub(super) fn number(&self, key: &str) -> Option<usize> {
        self.get(key).and_then(|value| value.parse().ok())
    }

    pub(super) fn child(&self, name: &str) -> Option<&Element> {
        self.children.iter().find(|c| c.name == name)
    }

    /// Children of a child.
    pub(super) fn list(&self, name: &str) -> &[Element] {
        self.child(name).map_or(&[], |c| &c.children)
    }

    /// This element and all below it.
    pub(super) fn all(&self) -> Vec<&Element> {
        let mut found = vec![self];
        found.extend(self.children.iter().flat_map(Element::all));
        found
    }

    /// All text below.
    pub(super) fn whole_text(&self) -> String {
        self.all().iter().map(|e| e.text.as_str()).collect()
    }
}

fn element(tag: &BytesStart<'_>) -> Element {
    let local = |name: &str| name.rsplit(':').next().unwrap_or(name).to_owned();
    let attributes = tag.attributes().flatten().map(|a| {
        let value = quick_xml::escape::unescape(&a.value).map_or_else(|_| a.value.to_string(), |v| v.into_owned());
        (local(a.key.as_ref()), value)
    });
    Element { name: local(tag.name().as_ref()), attributes: attributes.collect(), ..Element::default() }
}

//! The XML of a part, event by event.
//!
//! Keeps: a DOCTYPE is refused wherever it stands (`a_doctype_is_refused`), so nothing can unfold; names count without their prefix,
//! so that strict files and other prefixes read alike; attributes are looked at once each.
//! Not here: what elements mean (`xlsx`, `ods`).

use super::ReadError;
use super::package::Package;
use super::package::Part;
use super::refuse::{damaged, with_declarations};
use quick_xml::Reader;
pub use quick_xml::events::{BytesRef, BytesStart, Event};
use std::borrow::Cow;
use std::io::BufRead;

/// A part that is read event by event.
pub struct Xml<'f, R> {
    file: &'f str,
    reader: Reader<R>,
    buffer: Vec<u8>,
}

impl<'f, R: BufRead> Xml<'f, R> {
    pub fn new(file: &'f str, source: R) -> Self {
        let mut reader = Reader::from_reader(source);
        reader.config_mut().check_end_names = false;
        Xml { file, reader, buffer: Vec::with_capacity(1024) }
    }

    /// The next event; the last is [`Event::Eof`].
    pub fn next(&mut self) -> Result<Event<'_>, ReadError> {
        self.buffer.clear();
        match self.reader.read_event_into(&mut self.buffer) {
            Ok(Event::DocType(_)) => Err(with_declarations(self.file)),
            Ok(event) => Ok(event),
            Err(_) => Err(damaged(self.file)),
        }
    }
}

/// Calls `see` with the start of every element of a small part; nothing happens where the part is missing.
pub fn for_each_start(
    package: &mut Package<'_>,
    path: &str,
    see: &mut dyn FnMut(&BytesStart<'_>),
) -> Result<(), ReadError> {
    let file = package.file();
    let Some(bytes) = package.small(path)? else { return Ok(()) };
    let mut xml = Xml::new(file, &bytes[..]);
    loop {
        match xml.next()? {
            Event::Eof => return Ok(()),
            Event::Start(e) | Event::Empty(e) => see(&e),
            _ => {}
        }
    }
}

/// Runs `read` over a part, held or streamed; `None` where it is missing.
pub fn with_part<T>(
    package: &mut Package<'_>,
    path: &str,
    read: impl FnOnce(&mut dyn BufRead) -> Result<T, ReadError>,
) -> Result<Option<T>, ReadError> {
    match package.part(path)? {
        None => Ok(None),
        Some(Part::Held(bytes)) => read(&mut &bytes[..]).map(Some),
        Some(Part::Streamed(mut part)) => read(&mut part).map(Some),
    }
}

/// An attribute by its name without prefix, with references resolved.
pub fn attribute<'e>(e: &'e BytesStart<'_>, key: &str) -> Option<Cow<'e, str>> {
    let found = e.attributes().with_checks(false).flatten().find(|a| a.key.local_name().as_ref() == key)?;
    Some(unescaped(found.value))
}

/// `1`, `true` or `on`.
pub fn is_on(value: &str) -> bool {
    matches!(value, "1" | "true" | "on")
}

fn unescaped(value: Cow<'_, str>) -> Cow<'_, str> {
    if !value.contains('&') {
        return value;
    }
    quick_xml::escape::unescape(&value).map(|text| Cow::Owned(text.into_owned())).unwrap_or(value)
}

/// Adds what a reference such as `&amp;` or `&#228;` stands for; one that nobody declared stands for nothing.
pub fn push_reference(text: &mut String, reference: &BytesRef<'_>) {
    match reference.resolve_char_ref() {
        Ok(Some(c)) => text.push(c),
        _ => text.push_str(quick_xml::escape::resolve_predefined_entity(reference).unwrap_or_default()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_doctype_is_refused() {
        let text = b"<!DOCTYPE a [<!ENTITY b \"cccc\">]><a>&b;</a>";
        let mut xml = Xml::new("f.xlsx", &text[..]);
        assert_eq!(xml.next().err().unwrap().code, "file-has-declarations");
    }

    #[test]
    fn references_stand_for_what_everyone_knows() {
        let mut xml = Xml::new("f.xlsx", &b"<a b=\"x &amp; y\">1 &lt; 2&#65;&other;</a>"[..]);
        let Event::Start(e) = xml.next().unwrap() else { panic!("no start") };
        assert_eq!(attribute(&e, "b").unwrap(), "x & y");
        let mut text = String::new();
        loop {
            match xml.next().unwrap() {
                Event::Text(t) => text.push_str(&t),
                Event::GeneralRef(r) => push_reference(&mut text, &r),
                Event::End(_) => break,
                _ => {}
            }
        }
        assert_eq!(text, "1 < 2A");
    }
}

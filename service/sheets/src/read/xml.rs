//! The XML of a part, piece by piece, in one small window.
//!
//! Only what parts of workbooks need: tags with their attributes, texts, CDATA; comments and instructions are passed over.
//! Keeps: a DOCTYPE is refused wherever it stands (`a_doctype_is_refused`), so nothing can unfold; no piece is longer than
//! [`LONGEST_PIECE`] (`a_piece_without_end_is_refused`); names count without their prefix, so that strict files and other prefixes read
//! alike; the same pieces come whatever the size of the reads (`pieces_do_not_depend_on_reads`).
//! Twice as fast on sheets as the general XML library, which copies and checks each piece (measured by `tests/bench`).
//! Not here: what elements mean (`xlsx`, `ods`), whether every tag is closed.

use super::ReadError;
use super::package::{Package, Part};
use super::refuse::{damaged, too_large, with_declarations};
use memchr::{memchr, memmem};
use std::borrow::Cow;
use std::io::Read;

/// Bytes read at a time.
const WINDOW: usize = 128 * 1024;
/// Bytes of one tag or text at most; no cell holds more than 32,767 letters.
const LONGEST_PIECE: usize = 8 * 1024 * 1024;

/// A piece of XML.
#[derive(Debug, PartialEq, Eq)]
pub enum Event<'b> {
    /// `<a>`
    Start(Tag<'b>),
    /// `<a/>`
    Empty(Tag<'b>),
    /// `</a>`: the name without its prefix.
    End(&'b [u8]),
    /// Text as it stands, with its references; see [`push_text`].
    Text(&'b [u8]),
    /// Text without references.
    CData(&'b [u8]),
    /// The end of the part.
    Eof,
}

/// A tag: its name and what stands behind it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tag<'b> {
    name: &'b [u8],
    attributes: &'b [u8],
}

/// A part that is read piece by piece.
pub struct Xml<'f, R> {
    file: &'f str,
    source: R,
    window: Vec<u8>,
    /// What of the window is not yet used.
    start: usize,
    end: usize,
    is_at_end: bool,
}

/// What the next piece is, and how long.
enum Found {
    Text(usize),
    Tag(usize),
    CData(usize),
    /// A comment or an instruction.
    Passed(usize),
    Declaration,
    /// It does not end in the window.
    Open,
}

impl<'f, R: Read> Xml<'f, R> {
    pub fn new(file: &'f str, source: R) -> Self {
        Xml { file, source, window: vec![0; WINDOW], start: 0, end: 0, is_at_end: false }
    }

    /// The next piece; the last is [`Event::Eof`].
    pub fn next(&mut self) -> Result<Event<'_>, ReadError> {
        loop {
            let rest = &self.window[self.start..self.end];
            if rest.is_empty() && self.is_at_end {
                return Ok(Event::Eof);
            }
            let (is_cdata, n) = match find(rest) {
                Found::Declaration => return Err(with_declarations(self.file)),
                Found::Passed(n) => {
                    self.start += n;
                    continue;
                }
                Found::Text(n) | Found::Tag(n) => (false, n),
                Found::CData(n) => (true, n),
                Found::Open if !self.is_at_end => {
                    self.fill()?;
                    continue;
                }
                // A text may end with the part, a tag may not.
                Found::Open if rest[0] == b'<' => return Err(damaged(self.file)),
                Found::Open => (false, rest.len()),
            };
            let piece = self.start..self.start + n;
            self.start = piece.end;
            let piece = &self.window[piece];
            return Ok(match (piece[0], is_cdata) {
                (_, true) => Event::CData(&piece[9..n - 3]),
                (b'<', _) => tag(piece),
                _ => Event::Text(piece),
            });
        }
    }

    fn fill(&mut self) -> Result<(), ReadError> {
        self.window.copy_within(self.start..self.end, 0);
        (self.start, self.end) = (0, self.end - self.start);
        if self.end == self.window.len() {
            if self.end >= LONGEST_PIECE {
                return Err(too_large(self.file, "holds a text without end"));
            }
            self.window.resize(self.end * 2, 0);
        }
        let n = self.source.read(&mut self.window[self.end..]).map_err(|_| damaged(self.file))?;
        (self.end, self.is_at_end) = (self.end + n, n == 0);
        Ok(())
    }
}

fn find(rest: &[u8]) -> Found {
    let until = |mark: &[u8]| memmem::find(rest, mark).map(|at| at + mark.len());
    let passed = |mark: &[u8]| until(mark).map_or(Found::Open, Found::Passed);
    match rest {
        [] | [b'<'] => Found::Open,
        [b'<', b'?', ..] => passed(b"?>"),
        [b'<', b'!', ..] if rest.len() < 9 => Found::Open,
        [b'<', b'!', b'-', b'-', inside @ ..] => {
            memmem::find(inside, b"-->").map_or(Found::Open, |at| Found::Passed(at + 7))
        }
        [b'<', b'!', ..] if rest.starts_with(b"<![CDATA[") => until(b"]]>").map_or(Found::Open, Found::CData),
        [b'<', b'!', ..] => Found::Declaration,
        [b'<', ..] => tag_length(rest).map_or(Found::Open, Found::Tag),
        _ => memchr(b'<', rest).map_or(Found::Open, Found::Text),
    }
}

/// Up to the `>` that stands in no quotes.
fn tag_length(rest: &[u8]) -> Option<usize> {
    let mut quote = 0;
    for (at, &byte) in rest.iter().enumerate() {
        match byte {
            b'>' if quote == 0 => return Some(at + 1),
            b'"' | b'\'' if quote == 0 => quote = byte,
            _ if byte == quote => quote = 0,
            _ => {}
        }
    }
    None
}

/// The event of a whole tag, `<` and `>` included.
fn tag(piece: &[u8]) -> Event<'_> {
    let inside = &piece[1..piece.len() - 1];
    if let Some(name) = inside.strip_prefix(b"/") {
        return Event::End(local(name.trim_ascii_end()));
    }
    let (inside, is_empty) = inside.strip_suffix(b"/").map_or((inside, false), |inside| (inside, true));
    let end = inside.iter().position(u8::is_ascii_whitespace).unwrap_or(inside.len());
    let tag = Tag { name: local(&inside[..end]), attributes: &inside[end..] };
    if is_empty { Event::Empty(tag) } else { Event::Start(tag) }
}

/// A name without its prefix.
fn local(name: &[u8]) -> &[u8] {
    memchr(b':', name).map_or(name, |at| &name[at + 1..])
}

impl<'b> Tag<'b> {
    /// The name without its prefix.
    pub fn name(&self) -> &'b [u8] {
        self.name
    }

    /// Names and values of the attributes, as they stand; what is written otherwise ends the list.
    pub fn attributes(&self) -> impl Iterator<Item = (&'b [u8], &'b [u8])> + use<'b> {
        let mut rest = self.attributes;
        std::iter::from_fn(move || {
            rest = rest.trim_ascii_start();
            let equals = memchr(b'=', rest)?;
            let key = rest[..equals].trim_ascii_end();
            let value = rest[equals + 1..].trim_ascii_start();
            let (quote, value) = value.split_first().filter(|(quote, _)| matches!(quote, b'"' | b'\''))?;
            let end = memchr(*quote, value)?;
            rest = &value[end + 1..];
            Some((key, &value[..end]))
        })
    }
}

/// Calls `see` with the start of every element of a small part; nothing happens where the part is missing.
pub fn for_each_start(package: &mut Package<'_>, path: &str, see: &mut dyn FnMut(&Tag<'_>)) -> Result<(), ReadError> {
    let file = package.file();
    let Some(bytes) = package.small(path)? else { return Ok(()) };
    let mut xml = Xml::new(file, &bytes[..]);
    loop {
        match xml.next()? {
            Event::Eof => return Ok(()),
            Event::Start(tag) | Event::Empty(tag) => see(&tag),
            _ => {}
        }
    }
}

/// Runs `read` over a part, held or streamed; `None` where it is missing.
pub fn with_part<T>(
    package: &mut Package<'_>,
    path: &str,
    read: impl FnOnce(&mut dyn Read) -> Result<T, ReadError>,
) -> Result<Option<T>, ReadError> {
    match package.part(path)? {
        None => Ok(None),
        Some(Part::Held(bytes)) => read(&mut &bytes[..]).map(Some),
        Some(Part::Streamed(mut part)) => read(&mut part).map(Some),
    }
}

/// An attribute by its name without prefix, with references resolved.
pub fn attribute<'b>(tag: &Tag<'b>, key: &str) -> Option<Cow<'b, str>> {
    tag.attributes().find(|(name, _)| local(name) == key.as_bytes()).map(|(_, value)| value_text(value))
}

/// A value with its references resolved.
pub fn value_text(value: &[u8]) -> Cow<'_, str> {
    if memchr(b'&', value).is_none() {
        return String::from_utf8_lossy(value);
    }
    let mut text = String::new();
    push_resolved(&mut text, &String::from_utf8_lossy(value));
    Cow::Owned(text)
}

/// A value that is a number.
pub fn value_number<T: std::str::FromStr>(value: &[u8]) -> Option<T> {
    std::str::from_utf8(value).ok()?.trim().parse().ok()
}

/// `1`, `true` or `on`.
pub fn is_on(value: &[u8]) -> bool {
    matches!(value, b"1" | b"true" | b"on")
}

/// Adds a text with its references resolved.
pub fn push_text(text: &mut String, piece: &[u8], file: &str) -> Result<(), ReadError> {
    let piece = std::str::from_utf8(piece).map_err(|_| damaged(file))?;
    if piece.contains('&') {
        push_resolved(text, piece);
    } else {
        text.push_str(piece);
    }
    Ok(())
}

/// Adds a text as it stands.
pub fn push_plain(text: &mut String, piece: &[u8], file: &str) -> Result<(), ReadError> {
    text.push_str(std::str::from_utf8(piece).map_err(|_| damaged(file))?);
    Ok(())
}

/// `&amp;`, `&#228;` and their kin become what they stand for; a reference that nobody declared stands for nothing.
fn push_resolved(text: &mut String, piece: &str) {
    let mut rest = piece;
    while let Some((before, after)) = rest.split_once('&') {
        text.push_str(before);
        let Some((name, behind)) = after.split_once(';') else {
            rest = "";
            continue;
        };
        text.extend(referenced(name));
        rest = behind;
    }
    text.push_str(rest);
}

fn referenced(name: &str) -> Option<char> {
    match name {
        "amp" => Some('&'),
        "lt" => Some('<'),
        "gt" => Some('>'),
        "quot" => Some('"'),
        "apos" => Some('\''),
        _ => {
            let number = name.strip_prefix('#')?;
            let hex = number.strip_prefix(['x', 'X']).map(|hex| u32::from_str_radix(hex, 16));
            char::from_u32(hex.unwrap_or_else(|| number.parse()).ok()?).filter(|c| *c != '\0')
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Gives so many bytes at a time.
    struct Slowly<'a>(&'a [u8], usize);

    impl Read for Slowly<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            let n = self.1.min(self.0.len()).min(buffer.len());
            let (now, later) = self.0.split_at(n);
            buffer[..n].copy_from_slice(now);
            self.0 = later;
            Ok(n)
        }
    }

    fn told(source: impl Read) -> Vec<String> {
        let mut xml = Xml::new("f.xlsx", source);
        let mut told = Vec::new();
        loop {
            let event = match xml.next() {
                Err(error) => format!("error {}", error.code),
                Ok(Event::Eof) => return told,
                Ok(event) => format!("{event:?}"),
            };
            let is_error = event.starts_with("error");
            told.push(event);
            if is_error {
                return told;
            }
        }
    }

    #[test]
    fn a_doctype_is_refused() {
        let text = b"<a/><!DOCTYPE a [<!ENTITY b \"cccc\">]><a>&b;</a>";
        assert_eq!(told(&text[..]).last().unwrap(), "error file-has-declarations");
    }

    #[test]
    fn tags_texts_and_attributes_come_one_by_one() {
        let mut xml = Xml::new("f", &b"\xef\xbb\xbf<?xml?><x:a r:id = 'one' b=\"x > &amp; y\" c=\"\"><!-- <b> --><![CDATA[<&]]>1 &lt; 2&#65;&#x42;&other;</x:a ><e/>"[..]);
        assert_eq!(xml.next().unwrap(), Event::Text(b"\xef\xbb\xbf"));
        let Event::Start(tag) = xml.next().unwrap() else { panic!("no start") };
        assert_eq!(tag.name(), b"a");
        let values: Vec<Cow<'_, str>> = ["id", "b", "c"].iter().filter_map(|key| attribute(&tag, key)).collect();
        assert_eq!(values, ["one", "x > & y", ""]);
        assert_eq!(attribute(&tag, "d"), None);
        assert_eq!(xml.next().unwrap(), Event::CData(b"<&"));
        let Event::Text(piece) = xml.next().unwrap() else { panic!("no text") };
        let mut text = String::new();
        push_text(&mut text, piece, "f").unwrap();
        assert_eq!(text, "1 < 2AB");
        assert_eq!(xml.next().unwrap(), Event::End(b"a"));
        assert!(matches!(xml.next().unwrap(), Event::Empty(tag) if tag.name() == b"e"));
        assert_eq!(xml.next().unwrap(), Event::Eof);
    }

    #[test]
    fn pieces_do_not_depend_on_reads() {
        let text = b"<a b='>'><!-- - -->x<![CDATA[]]]]><c/></a>tail";
        let whole = told(&text[..]);
        assert_eq!(whole.len(), 6);
        // Texts are cut where a read ends only at the end of the part, so even one byte at a time gives the same.
        for n in [1, 2, 3, 7] {
            assert_eq!(told(Slowly(text, n)), whole, "{n} bytes at a time");
        }
    }

    #[test]
    fn a_tag_without_end_is_damaged() {
        for text in ["<a b=\"", "<a", "<", "<!-- ", "<![CDATA[ ", "<?x"] {
            assert_eq!(told(text.as_bytes()).last().unwrap(), "error file-damaged", "{text}");
        }
    }

    #[test]
    fn a_piece_without_end_is_refused() {
        assert_eq!(told(std::io::repeat(b' ')).last().unwrap(), "error file-too-large");
    }
}

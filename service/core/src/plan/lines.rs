//! JSON with a line for each entry of each list: short enough to send, plain enough to read and to compare line by line.
//!
//! The outermost object and the lists in it are spread over lines; everything inside an entry stays on its line.
//! Same value, same bytes (`an_entry_has_a_line`).

use serde::Serialize;
use serde_json::ser::{Formatter, Serializer};
use std::io::{Result, Write};

/// Depth down to which containers are spread over lines.
const SPREAD: usize = 2;

/// Writes a value, with a line break at the end.
///
/// # Errors
/// What the sink gives.
pub(crate) fn write_lines<T: Serialize>(value: &T, mut sink: impl Write) -> Result<()> {
    value.serialize(&mut Serializer::with_formatter(&mut sink, Lines::default()))?;
    sink.write_all(b"\n")?;
    sink.flush()
}

/// One entry of a list, as [`write_lines`] puts it on its line.
pub(super) fn entry<T: Serialize>(value: &T) -> Result<String> {
    let mut bytes = Vec::new();
    let lines = Lines { depth: SPREAD, has_entry: false };
    value.serialize(&mut Serializer::with_formatter(&mut bytes, lines))?;
    String::from_utf8(bytes).map_err(std::io::Error::other)
}

/// A list of such entries.
pub(super) fn list(entries: &[String]) -> String {
    if entries.is_empty() {
        return "[]".to_owned();
    }
    format!("[\n    {}\n  ]", entries.join(",\n    "))
}

#[derive(Default)]
struct Lines {
    depth: usize,
    has_entry: bool,
}

impl Lines {
    fn open<W: ?Sized + Write>(&mut self, writer: &mut W, bracket: &[u8]) -> Result<()> {
        self.depth += 1;
        self.has_entry = false;
        writer.write_all(bracket)
    }

    fn close<W: ?Sized + Write>(&mut self, writer: &mut W, bracket: &[u8]) -> Result<()> {
        self.depth -= 1;
        if self.has_entry && self.depth < SPREAD {
            self.begin_line(writer)?;
        }
        writer.write_all(bracket)
    }

    fn begin_entry<W: ?Sized + Write>(&mut self, writer: &mut W, is_first: bool) -> Result<()> {
        let is_spread = self.depth <= SPREAD;
        if !is_first {
            writer.write_all(if is_spread { b"," } else { b", " })?;
        }
        if is_spread { self.begin_line(writer) } else { Ok(()) }
    }

    fn begin_line<W: ?Sized + Write>(&self, writer: &mut W) -> Result<()> {
        writer.write_all(b"\n")?;
        (0..self.depth).try_for_each(|_| writer.write_all(b"  "))
    }
}

impl Formatter for Lines {
    fn begin_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.open(writer, b"[")
    }

    fn end_array<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.close(writer, b"]")
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.begin_entry(writer, first)
    }

    fn end_array_value<W: ?Sized + Write>(&mut self, _: &mut W) -> Result<()> {
        self.has_entry = true;
        Ok(())
    }

    fn begin_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.open(writer, b"{")
    }

    fn end_object<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        self.close(writer, b"}")
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, writer: &mut W, first: bool) -> Result<()> {
        self.begin_entry(writer, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, writer: &mut W) -> Result<()> {
        writer.write_all(b": ")
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, _: &mut W) -> Result<()> {
        self.has_entry = true;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_has_a_line() {
        let value = serde_json::json!({"a": [], "b": [{"x": 1, "y": [1, 2, {}]}, {}], "c": null, "d": {"e": 1}});
        let mut bytes = Vec::new();
        write_lines(&value, &mut bytes).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        assert_eq!(
            text,
            "{\n  \"a\": [],\n  \"b\": [\n    {\"x\": 1, \"y\": [1, 2, {}]},\n    {}\n  ],\n  \"c\": null,\n  \"d\": {\n    \"e\": 1\n  }\n}\n"
        );
        assert_eq!(serde_json::from_str::<serde_json::Value>(&text).unwrap(), value);
    }
}

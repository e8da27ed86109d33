//! The text form of item models: TOML with one `[[model]]` each.
//!
//! A file is cut at its `[[model]]` lines and each piece read alone, so that a slip in one model costs that model only.

use serde::Deserialize;
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;

/// A text with its place.
pub(super) type Placed = Spanned<String>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Piece {
    model: Vec<RawModel>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawModel {
    pub(super) slug: Placed,
    pub(super) version: Spanned<u32>,
    pub(super) skill: Placed,
    #[serde(rename = "type")]
    pub(super) kind: Placed,
    pub(super) stem: Placed,
    pub(super) picture: Option<Placed>,
    pub(super) draw: Option<Placed>,
    #[serde(default)]
    pub(super) params: BTreeMap<String, Placed>,
    #[serde(default, rename = "let")]
    pub(super) lets: Vec<Placed>,
    #[serde(default, rename = "where")]
    pub(super) conditions: Vec<Placed>,
    pub(super) key: Option<RawOption>,
    #[serde(default)]
    pub(super) wrong: Vec<RawOption>,
    #[serde(default)]
    pub(super) options: Vec<RawOption>,
    pub(super) right_when: Option<Placed>,
    #[serde(default)]
    pub(super) columns: Vec<Placed>,
    #[serde(default)]
    pub(super) rows: Vec<RawRow>,
    #[serde(default)]
    pub(super) parts: Vec<RawPart>,
    pub(super) easier: String,
    pub(super) harder: String,
    #[serde(default)]
    pub(super) easier_where: Vec<Placed>,
    #[serde(default)]
    pub(super) harder_where: Vec<Placed>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawOption {
    pub(super) value: Option<Placed>,
    pub(super) text: Option<Placed>,
    pub(super) worth: Option<Placed>,
    pub(super) claim: Option<Placed>,
    pub(super) when: Option<Placed>,
    pub(super) pattern: Option<Placed>,
    pub(super) also: Option<Placed>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawRow {
    pub(super) text: Placed,
    pub(super) key: Placed,
    #[serde(default)]
    pub(super) wrong: Vec<RawOption>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawPart {
    pub(super) stem: Placed,
    pub(super) key: RawOption,
    #[serde(default)]
    pub(super) wrong: Vec<RawOption>,
    #[serde(default)]
    pub(super) show: Vec<Placed>,
}

/// A piece of a file: from one `[[model]]` line to the next.
#[derive(Debug, Clone, Copy)]
pub(super) struct Chunk<'a> {
    pub(super) text: &'a str,
    /// 1-based line of its first line in the file.
    first_line: usize,
}

impl<'a> Chunk<'a> {
    /// The text of `name = "text"` where it stands on a line of its own, without reading the rest.
    pub(super) fn named(&self, name: &str) -> Option<&'a str> {
        let value = |line: &'a str| line.strip_prefix(name)?.trim_start().strip_prefix('=')?.trim().strip_prefix('"');
        self.text.lines().find_map(value).and_then(|rest| rest.split('"').next())
    }

    /// 1-based line in the file of a byte of the piece.
    pub(super) fn line(&self, at: usize) -> usize {
        self.first_line + self.text.as_bytes().iter().take(at).filter(|b| **b == b'\n').count()
    }

    /// The model in it, or the place and reason.
    pub(super) fn read(&self) -> Result<RawModel, (Range<usize>, String)> {
        let piece: Piece = toml::from_str(self.text)
            .map_err(|e| (e.span().unwrap_or(0..0), e.message().replace('\n', " ").trim().to_owned()))?;
        piece.model.into_iter().next().ok_or((0..0, "there is no model here".to_owned()))
    }
}

/// The pieces of a file, and the line of the first text that stands before any model, where there is such text.
pub(super) fn chunks(text: &str) -> (Vec<Chunk<'_>>, Option<usize>) {
    let mut starts: Vec<(usize, usize)> = Vec::new();
    let mut stray = None;
    let mut at = 0;
    for (line_idx, line) in text.split_inclusive('\n').enumerate() {
        let plain = line.trim();
        if plain.starts_with("[[model]]") {
            starts.push((at, line_idx + 1));
        } else if starts.is_empty() && !plain.is_empty() && !plain.starts_with('#') {
            stray = stray.or(Some(line_idx + 1));
        }
        at += line.len();
    }
    let ends = starts.iter().skip(1).map(|(at, _)| *at).chain([text.len()]);
    let chunks = starts.iter().zip(ends).map(|((from, first_line), to)| Chunk {
        text: text.get(*from..to).unwrap_or_default(),
        first_line: *first_line,
    });
    (chunks.collect(), stray)
}

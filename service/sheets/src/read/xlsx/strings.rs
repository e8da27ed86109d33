//! The texts that the cells of a workbook share, in order.
//!
//! One long text with the ends of each, so that many short texts cost little. Phonetic readings are left out.

use crate::read::ReadError;
use crate::read::package::Package;
use crate::read::refuse::damaged;
use crate::read::xml::{Event, Xml, push_plain, push_text, with_part};
use std::io::Read;

/// Shared texts by number.
#[derive(Default)]
pub struct Strings {
    all: String,
    ends: Vec<usize>,
}

impl Strings {
    /// The text of a number.
    pub fn get(&self, idx: usize) -> Option<&str> {
        let end = *self.ends.get(idx)?;
        let start = if idx == 0 { 0 } else { self.ends[idx - 1] };
        self.all.get(start..end)
    }
}

/// Reads the part of shared texts; a part that is missing holds none.
pub fn read(package: &mut Package<'_>, path: &str) -> Result<Strings, ReadError> {
    let file = package.file();
    Ok(with_part(package, path, |part| read_part(file, part))?.unwrap_or_default())
}

fn read_part(file: &str, part: &mut dyn Read) -> Result<Strings, ReadError> {
    let mut xml = Xml::new(file, part);
    let mut strings = Strings::default();
    let (mut is_text, mut n_phonetic) = (false, 0_u32);
    loop {
        match xml.next()? {
            Event::Eof => return Err(damaged(file)),
            Event::Start(e) => match e.name() {
                b"t" => is_text = n_phonetic == 0,
                b"rPh" => n_phonetic += 1,
                _ => {}
            },
            Event::Empty(e) if e.name() == b"si" => strings.ends.push(strings.all.len()),
            Event::Empty(e) if e.name() == b"sst" => return Ok(strings),
            Event::Text(t) if is_text => push_text(&mut strings.all, t, file)?,
            Event::CData(t) if is_text => push_plain(&mut strings.all, t, file)?,
            Event::End(name) => match name {
                b"t" => is_text = false,
                b"rPh" => n_phonetic = n_phonetic.saturating_sub(1),
                b"si" => strings.ends.push(strings.all.len()),
                b"sst" => return Ok(strings),
                _ => {}
            },
            _ => {}
        }
    }
}

//! The reading process: takes one request from its input, reads, gives one answer, ends.
//!
//! First it limits itself: memory, processor time, no core file, no file written. What goes beyond ends the process, and the parent
//! makes a sentence of that. Keeps: nothing is told but the answer.
//! Not here: starting and ending the process (`parent`), what is carried (`wire`).

use super::codec::{bytes_of, whole};
use super::wire::{Asked, Job};
use super::{ANSWER_MARK, CPU_SECONDS, MEMORY_BYTES};
use sheaf_core::skills::SkillGraph;
use sheaf_sheets::read::{
    Mentions, ReadError, ReadRequest, SourceFile, may_mention, read_attendance, read_score_sheets, read_students,
};
use std::io::{self, Read, Write};

/// Takes one request from `input` and writes the answer to `output`.
///
/// # Errors
/// Where the input is no request or the output is gone; the parent knows by the missing answer.
pub fn answer(input: &mut dyn Read, output: &mut dyn Write) -> io::Result<()> {
    limit_this_process()?;
    // Before the request: a process that was started ahead has nothing else to do.
    let graph = SkillGraph::builtin().map_err(io::Error::other)?;
    let asked: Asked = whole(&read_sized(input)?).map_err(|_| io::ErrorKind::InvalidData)?;
    let mut files = Vec::new();
    for (name, size) in &asked.sizes {
        let mut bytes = vec![0; *size];
        input.read_exact(&mut bytes)?;
        files.push((name.as_str(), bytes));
    }
    let sources: Vec<SourceFile<'_>> = files.iter().map(|(name, bytes)| SourceFile { name, bytes }).collect();
    let answer = read(&asked, &sources, &graph);
    output.write_all(ANSWER_MARK)?;
    output.write_all(&(answer.len() as u64).to_le_bytes())?;
    output.write_all(&answer)?;
    output.flush()
}

fn read_sized(input: &mut dyn Read) -> io::Result<Vec<u8>> {
    let mut size = [0; 8];
    input.read_exact(&mut size)?;
    let mut bytes = Vec::new();
    input.take(u64::from_le_bytes(size)).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn read(asked: &Asked, sources: &[SourceFile<'_>], graph: &SkillGraph) -> Vec<u8> {
    let no_file = || ReadError { code: "no-file", message: "No file was given.".to_owned() };
    match asked.job {
        Job::Students => {
            let list = sources.first().ok_or_else(no_file).and_then(|source| read_students(*source, asked.limits));
            bytes_of(&list)
        }
        Job::Attendance => {
            let list = sources.first().ok_or_else(no_file).and_then(|source| read_attendance(*source, asked.limits));
            bytes_of(&list)
        }
        Job::Mentions => {
            let wanted = Mentions { whole: &asked.wanted.whole, parts: &asked.wanted.parts };
            let found = sources.first().ok_or_else(no_file).map(|source| may_mention(*source, asked.limits, wanted));
            bytes_of(&found)
        }
        Job::Scores => {
            let (scores, items) = sources.split_at(sources.len().saturating_sub(asked.n_items_files));
            let request = ReadRequest {
                items: items.first().copied(),
                limits: asked.limits,
                choices: &asked.choices,
                remembered: &asked.remembered,
                known: &asked.known,
                tickets: &asked.tickets,
                nothing_read: asked.nothing_read,
                perhaps_across: asked.perhaps_across,
                ..ReadRequest::new(scores, graph)
            };
            bytes_of(&read_score_sheets(&request))
        }
    }
}

#[cfg(unix)]
fn limit_this_process() -> io::Result<()> {
    use rustix::process::{Resource, Rlimit, setrlimit};
    let at_most = |n| Rlimit { current: Some(n), maximum: Some(n) };
    setrlimit(Resource::Core, at_most(0))?;
    setrlimit(Resource::Fsize, at_most(0))?;
    setrlimit(Resource::Cpu, at_most(CPU_SECONDS))?;
    setrlimit(Resource::As, at_most(MEMORY_BYTES))?;
    Ok(())
}

/// Elsewhere the parent's clock is the only limit.
#[cfg(not(unix))]
fn limit_this_process() -> io::Result<()> {
    let _ = (CPU_SECONDS, MEMORY_BYTES);
    Ok(())
}

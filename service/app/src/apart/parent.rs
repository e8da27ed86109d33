//! Starts a reading process, hands it one request, waits for the answer no longer than it should, and makes sure that it is gone.
//!
//! Keeps: a process that dies, stalls or talks nonsense is one sentence (`a_reader_that_dies_stalls_or_babbles_is_one_sentence`);
//! one that is not waited for any longer is gone (`a_reader_that_is_stopped_is_gone_at_once`);
//! a program that cannot be started is our fault and says so (`a_reader_that_is_not_there_is_our_fault`); a process started ahead
//! serves one request like any other (`a_process_started_ahead_is_used_once`).
//! Not here: what is carried (`wire`), the process's own limits (`child`).

use super::codec::{Wire, bytes_of, whole};
use super::wire::Asked;
use super::{ANSWER_MARK, COMMAND};
use crate::error::{AppError, ErrorKind};
use sheaf_sheets::read::{ReadError, SourceFile};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, PoisonError, mpsc};
use std::thread;
use std::time::{Duration, Instant};

/// Bytes of an answer at most.
const LONGEST_ANSWER: u64 = 256 * 1024 * 1024;

/// Time between two looks whether the request is stopped.
const LOOK: Duration = Duration::from_millis(50);

/// How long an answer is waited for.
#[derive(Clone, Copy)]
pub struct Patience<'a> {
    /// At most so long.
    pub wall: Duration,
    /// And no longer than this says no.
    pub is_stopped: &'a dyn Fn() -> bool,
}

impl Patience<'static> {
    /// To the end of the time.
    pub fn of(wall: Duration) -> Self {
        Patience { wall, is_stopped: &|| false }
    }
}

/// Has the files read by a process of `program`.
pub fn ask<T: Wire>(
    program: &Path,
    patience: Patience<'_>,
    asked: &Asked,
    sources: &[SourceFile<'_>],
) -> Result<Result<T, ReadError>, AppError> {
    let began = Instant::now();
    let mut process = match take_ahead(program) {
        Some(process) => process,
        None => Running(start(program)?),
    };
    let answer = exchange(&mut process.0, patience, &bytes_of(asked), sources);
    let answer = answer.and_then(|bytes| whole(&bytes).ok());
    let duration_ms = began.elapsed().as_millis() as u64;
    if answer.is_none() && (patience.is_stopped)() {
        return Err(AppError::stopped());
    }
    tracing::debug!(job = "read_apart", n_files = sources.len(), is_answered = answer.is_some(), duration_ms);
    answer.ok_or_else(|| {
        tracing::warn!(job = "read_apart", code = "file-too-demanding", n_files = sources.len(), duration_ms);
        too_demanding(sources)
    })
}

/// The process ends with the request, however that ends.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        // It may have ended by itself; then there is nothing to kill.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A process that was started before there was anything to read.
static AHEAD: Mutex<Option<(PathBuf, Running)>> = Mutex::new(None);

/// Starts the process for the next request now, so that it gets ready while other work is done.
pub fn start_ahead(program: &Path) -> Result<(), AppError> {
    let process = Running(start(program)?);
    AHEAD.lock().unwrap_or_else(PoisonError::into_inner).replace((program.to_owned(), process));
    Ok(())
}

/// The process that was started ahead, unless it is gone.
fn take_ahead(program: &Path) -> Option<Running> {
    let mut ahead = AHEAD.lock().unwrap_or_else(PoisonError::into_inner);
    let (_, mut process) = ahead.take_if(|(of, _)| of == program)?;
    matches!(process.0.try_wait(), Ok(None)).then_some(process)
}

fn start(program: &Path) -> Result<Child, AppError> {
    Command::new(program)
        .arg(COMMAND)
        .env_clear()
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .map_err(|e| AppError::our_fault(format!("the process that reads files did not start ({e})")))
}

/// Sends and receives at the same time, so that neither side waits for the other.
fn exchange(process: &mut Child, patience: Patience<'_>, asked: &[u8], sources: &[SourceFile<'_>]) -> Option<Vec<u8>> {
    let (mut to, mut from) = (process.stdin.take()?, process.stdout.take()?);
    thread::scope(|scope| {
        scope.spawn(move || {
            // A process that is gone takes nothing; its missing answer says so.
            let _ = send(&mut to, asked, sources);
        });
        let (tell, told) = mpsc::channel();
        scope.spawn(move || tell.send(receive(&mut from)));
        let answer = wait(&told, patience).and_then(Result::ok);
        // Ends both threads where they still wait: the pipes break.
        let _ = process.kill();
        answer
    })
}

/// What is told in time, unless the request is stopped.
fn wait<T>(told: &mpsc::Receiver<T>, patience: Patience<'_>) -> Option<T> {
    let end = Instant::now() + patience.wall;
    loop {
        let left = end.saturating_duration_since(Instant::now());
        match told.recv_timeout(left.min(LOOK)) {
            Ok(answer) => return Some(answer),
            Err(mpsc::RecvTimeoutError::Timeout) if !left.is_zero() && !(patience.is_stopped)() => {}
            Err(_) => return None,
        }
    }
}

fn send(to: &mut dyn Write, asked: &[u8], sources: &[SourceFile<'_>]) -> io::Result<()> {
    to.write_all(&(asked.len() as u64).to_le_bytes())?;
    to.write_all(asked)?;
    sources.iter().try_for_each(|source| to.write_all(source.bytes))
}

fn receive(from: &mut dyn Read) -> io::Result<Vec<u8>> {
    let mut head = [0; ANSWER_MARK.len() + 8];
    from.read_exact(&mut head)?;
    let (mark, size) = head.split_at(ANSWER_MARK.len());
    let size = u64::from_le_bytes(size.try_into().map_err(io::Error::other)?);
    if mark != ANSWER_MARK || size > LONGEST_ANSWER {
        return Err(io::ErrorKind::InvalidData.into());
    }
    let mut answer = Vec::with_capacity(size as usize);
    from.take(size).read_to_end(&mut answer)?;
    Ok(answer)
}

fn too_demanding(sources: &[SourceFile<'_>]) -> AppError {
    let names: Vec<&str> = sources.iter().map(|source| source.name).collect();
    let what = if names.len() == 1 { "It" } else { "One of them" };
    let message = format!(
        "{}: reading takes more memory or time than any score sheet needs. {what} may be damaged or hold far more than scores; \
         copy the scores alone into a new workbook and use that.",
        names.join(", ")
    );
    AppError::new(ErrorKind::Input, "file-too-demanding", message)
}

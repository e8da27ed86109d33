//! Long work: a job that goes on by itself while a page shows how far it is, whoever closes that page.
//!
//! In:  a job that gives the address to go on to. Out: its outcome where it is over soon, else a [`Work`] to look at again.
//! A work is known by a drawn id, holds no child's data but what its job holds, and goes with the program.
//! Keeps: 1. a week is planned once at a time (`a_week_under_way_is_not_planned_twice`)
//!        2. only so many works go on at once, and only so many are remembered (`works_that_are_over_make_room`)
//! Not here: the page, its events (`pages::work`); where a job may be stopped (`sheaf_app::progress`).

use crate::service::{Service, aside};
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::progress::{Step, Watcher};
use sheaf_app::weeks::Week;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::watch;

/// Works that may go on at once: each may hold an upload of full size.
const MOST_AT_ONCE: usize = 12;
/// Works that are over and remembered, so that going back in the browser finds them.
const MOST_REMEMBERED: usize = 32;

/// What is being done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum WorkKind {
    /// A week is planned.
    Plan,
    /// Score sheets are read.
    TakeIn,
}

impl WorkKind {
    /// The steps that its job tells, in order.
    pub(crate) fn steps(self) -> &'static [Step] {
        match self {
            WorkKind::Plan => {
                &[Step::Reading, Step::Profiles, Step::Groups, Step::Rotation, Step::Tickets, Step::Keeping]
            }
            WorkKind::TakeIn => &[Step::Reading, Step::Comparing, Step::Keeping],
        }
    }
}

/// How far a work is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Standing {
    /// Nothing was told yet.
    Begun,
    /// In this step.
    At(Step),
    /// Over; here it goes on.
    Done(String),
    /// Over, with nothing changed.
    Failed(AppError),
}

impl Standing {
    /// Whether it is over.
    pub(crate) fn is_over(&self) -> bool {
        matches!(self, Standing::Done(_) | Standing::Failed(_))
    }
}

/// A job on its way, or what came of it.
#[derive(Debug)]
pub(crate) struct Work {
    pub(crate) id: String,
    pub(crate) kind: WorkKind,
    pub(crate) week: Week,
    standing: watch::Sender<Standing>,
    is_stopped: AtomicBool,
    /// Whether somebody saw how it ended.
    is_seen: AtomicBool,
    told: Arc<AtomicU64>,
}

impl Work {
    /// How far it is now.
    pub(crate) fn standing(&self) -> Standing {
        self.standing.borrow().clone()
    }

    /// How far it is, from now on.
    pub(crate) fn follow(&self) -> watch::Receiver<Standing> {
        self.standing.subscribe()
    }

    /// Asks it to stop; it does at its next step, unless it is keeping its outcome already.
    pub(crate) fn stop(&self) {
        self.is_stopped.store(true, Ordering::Relaxed);
    }

    /// Whether it was asked to stop.
    pub(crate) fn is_stopping(&self) -> bool {
        self.is_stopped.load(Ordering::Relaxed)
    }

    /// Somebody was shown how it ended.
    pub(crate) fn seen(&self) {
        self.is_seen.store(true, Ordering::Relaxed);
        self.told.fetch_add(1, Ordering::Release);
    }

    /// Waits until it is over, at most so long; says whether it is.
    pub(crate) async fn wait(&self, at_most: Duration) -> bool {
        let mut standing = self.follow();
        let over = standing.wait_for(Standing::is_over);
        actix_web::rt::time::timeout(at_most, over).await.is_ok_and(|told| told.is_ok())
    }

    fn end(&self, outcome: Result<String, AppError>) {
        self.standing.send_replace(outcome.map_or_else(Standing::Failed, Standing::Done));
        self.told.fetch_add(1, Ordering::Release);
    }
}

impl Watcher for Work {
    fn reached(&self, step: Step) -> bool {
        let goes_on = !self.is_stopping();
        if goes_on {
            self.standing.send_replace(Standing::At(step));
        }
        goes_on
    }

    fn is_stopped(&self) -> bool {
        self.is_stopping()
    }
}

/// All works of a service.
#[derive(Debug)]
pub(crate) struct Works {
    patience: Duration,
    known: Mutex<Vec<Arc<Work>>>,
    told: Arc<AtomicU64>,
}

/// A work, and whether it was begun just now.
struct Entered {
    work: Arc<Work>,
    is_new: bool,
}

impl Works {
    /// `patience`: how long a form waits for its job before the page of the work is shown.
    pub(crate) fn new(patience: Duration) -> Self {
        Works { patience, known: Mutex::default(), told: Arc::default() }
    }

    /// The one with this id.
    pub(crate) fn find(&self, id: &str) -> Option<Arc<Work>> {
        self.all().into_iter().find(|w| w.id == id)
    }

    /// Those that go on or whose end nobody saw, the oldest first.
    pub(crate) fn unseen(&self) -> Vec<Arc<Work>> {
        let mut works = self.all();
        works.retain(|w| !w.is_seen.load(Ordering::Relaxed));
        works
    }

    /// Counts what changed in what [`Works::unseen`] says, each change after it was made.
    pub(crate) fn n_told(&self) -> u64 {
        self.told.load(Ordering::Acquire)
    }

    fn all(&self) -> Vec<Arc<Work>> {
        self.known.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// A work for a job, or the one that does the same already.
    fn enter(&self, kind: WorkKind, week: Week) -> Result<Entered, AppError> {
        let id = drawn_id()?;
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        let is_under_way = |w: &&Arc<Work>| !w.standing.borrow().is_over();
        let same =
            known.iter().filter(is_under_way).find(|w| kind == WorkKind::Plan && (w.kind, w.week) == (kind, week));
        if let Some(work) = same.filter(|w| !w.is_stopping()) {
            return Ok(Entered { work: work.clone(), is_new: false });
        }
        if known.iter().filter(is_under_way).count() >= MOST_AT_ONCE {
            let what =
                format!("Sheaf is busy with {MOST_AT_ONCE} jobs; nothing was kept, wait for one to end and try again.");
            return Err(AppError::new(ErrorKind::Unavailable, "too-much-at-once", what));
        }
        let work = Arc::new(Work {
            id,
            kind,
            week,
            standing: watch::Sender::new(Standing::Begun),
            is_stopped: AtomicBool::new(false),
            is_seen: AtomicBool::new(false),
            told: self.told.clone(),
        });
        known.push(work.clone());
        let mut n_over = known.iter().filter(|w| w.standing.borrow().is_over()).count();
        known.retain(|w| {
            let goes = n_over > MOST_REMEMBERED && w.standing.borrow().is_over();
            n_over -= usize::from(goes);
            !goes
        });
        self.told.fetch_add(1, Ordering::Release);
        Ok(Entered { work, is_new: true })
    }

    fn forget(&self, work: &Arc<Work>) {
        self.known.lock().unwrap_or_else(PoisonError::into_inner).retain(|w| !Arc::ptr_eq(w, work));
        self.told.fetch_add(1, Ordering::Release);
    }
}

/// Nobody guesses it, though it opens nothing that its reader could not see anyway.
fn drawn_id() -> Result<String, AppError> {
    let mut bytes = [0_u8; 16];
    getrandom::fill(&mut bytes).map_err(AppError::our_fault)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// What became of a job in the time that a form waits.
pub(crate) enum Followed {
    /// It is over: the address to go on to, or why not.
    Over(Result<String, AppError>),
    /// It goes on.
    Under(Arc<Work>),
}

/// Runs a job on its own, and waits for it as long as a form does. `job` gives the address to go on to.
///
/// # Errors
/// [`AppError`] of kind unavailable where too much is going on; the job did not run then.
pub(crate) async fn follow(
    service: &Service,
    kind: WorkKind,
    week: Week,
    job: impl FnOnce(&Service) -> Result<String, AppError> + Send + 'static,
) -> Result<Followed, AppError> {
    let works = &service.house.works;
    let Entered { work, is_new } = works.enter(kind, week)?;
    if is_new {
        let watched = Service { weeks: service.weeks.watched_by(work.clone()), ..service.clone() };
        let its = work.clone();
        // Not awaited: whoever asked may be gone before it is over.
        actix_web::rt::spawn(async move { its.end(aside(move || job(&watched)).await) });
    }
    if !work.wait(works.patience).await {
        return Ok(Followed::Under(work));
    }
    if is_new {
        works.forget(&work);
    }
    match work.standing() {
        Standing::Done(address) => Ok(Followed::Over(Ok(address))),
        Standing::Failed(error) => Ok(Followed::Over(Err(error))),
        Standing::Begun | Standing::At(_) => Ok(Followed::Under(work)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn week(text: &str) -> Week {
        Week::parse(text).unwrap()
    }

    #[test]
    fn a_week_under_way_is_not_planned_twice() {
        let works = Works::new(Duration::ZERO);
        let enter = |kind, date| works.enter(kind, week(date)).unwrap();
        let first = enter(WorkKind::Plan, "2026-10-05");
        let again = enter(WorkKind::Plan, "2026-10-07");
        assert!(first.is_new && !again.is_new && Arc::ptr_eq(&first.work, &again.work));
        assert!(enter(WorkKind::Plan, "2026-10-12").is_new);
        assert!(enter(WorkKind::TakeIn, "2026-10-05").is_new && enter(WorkKind::TakeIn, "2026-10-05").is_new);
        // One that is about to stop does not count, nor does one that is over.
        first.work.stop();
        let anew = enter(WorkKind::Plan, "2026-10-05");
        assert!(anew.is_new);
        anew.work.end(Ok("/".to_owned()));
        assert!(enter(WorkKind::Plan, "2026-10-05").is_new);
    }

    #[test]
    fn works_that_are_over_make_room() {
        let works = Works::new(Duration::ZERO);
        let enter = || works.enter(WorkKind::TakeIn, week("2026-10-05"));
        for round in 0..5 {
            let begun: Vec<Arc<Work>> = (0..MOST_AT_ONCE).map(|_| enter().unwrap().work).collect();
            assert_eq!(enter().err().map(|e| e.code), Some("too-much-at-once"), "round {round}");
            for work in begun {
                assert!(work.reached(Step::Reading) && works.find(&work.id).is_some());
                work.end(Err(AppError::stopped()));
            }
            assert!(works.all().len() <= MOST_REMEMBERED + MOST_AT_ONCE);
        }
        let unseen = works.unseen();
        assert!(unseen.len() > MOST_REMEMBERED / 2);
        unseen.iter().for_each(|w| w.seen());
        assert!(works.unseen().is_empty());
    }
}

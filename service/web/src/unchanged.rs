//! Answers that are given again while nothing changed: the page a class looks at all morning is made once.
//!
//! In:  a request that only looks, who asks, and a mark of all that an answer is made of: records, setup, long jobs, the day. Out: the answer
//!      as it was made before, or nothing; to whom has it already, that nothing changed (304).
//! Keeps: 1. an answer goes again only to the same role and account, and only while the mark is the same on both sides of its making
//!           (`an_answer_goes_again_until_something_changes`)
//!        2. what sets a cookie, comes bit by bit, tells of a job under way, or did not go well is made each time (`only_whole_answers_stay`)
//!        3. at most [`MOST_BYTES`] stay (`the_shelf_does_not_grow_for_ever`)
//!        4. what many ask for at once is made once, and nobody waits for more than that (`the_others_wait_for_the_first_alone`)
//!        5. who asked before a change does not empty what was kept after it (`an_older_mark_empties_nothing`)
//! Source: RFC 9110, sections 8.8.3, 13.1.2 and 15.4.5. Pages stay `no-store`: the browser keeps nothing, the tag is for scripts.
//! Not here: who may look at what (`guard`).

use crate::service::{House, Service};
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{CACHE_CONTROL, ETAG, HeaderMap, HeaderValue, IF_NONE_MATCH, SET_COOKIE};
use actix_web::http::{Method, StatusCode};
use actix_web::web::Bytes;
use actix_web::{HttpRequest, HttpResponse};
use jiff::ZonedDateTime;
use jiff::civil::Date;
use sha2::{Digest, Sha256};
use sheaf_app::weeks::{RecordsMark, Role};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::OwnedMutexGuard;

/// Bytes of answers that stay, all together; a week's pages are a tenth of that.
const MOST_BYTES: usize = 6 * 1024 * 1024;

/// What an answer takes besides its body and its address, bytes, about.
const BESIDES_BYTES: usize = 1024;

/// The answer to a longer address is made each time.
const LONGEST_ADDRESS: usize = 1024;

/// Questions that somebody is answering, or whose answers are made each time, at most; past them others do not wait.
const MOST_TURNS: usize = 256;

/// So long others wait for the first who asks; then they make it themselves.
const PATIENCE: Duration = Duration::from_secs(10);

/// A longer answer is made each time.
const LONGEST: usize = 1024 * 1024;

/// All that an answer is made of besides its question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Mark {
    records: RecordsMark,
    works: u64,
    today: Date,
}

impl Mark {
    fn now(house: &House) -> Option<Self> {
        let records = house.weeks.mark_at_once()?;
        Some(Mark { records, works: house.works.n_told(), today: ZonedDateTime::now().date() })
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Question {
    address: String,
    role: Role,
    account: Option<String>,
}

#[derive(Debug)]
struct Answer {
    headers: HeaderMap,
    body: Bytes,
    tag: HeaderValue,
    route: Route,
}

/// Under which name of the table an answer was made, for the log.
#[derive(Debug, Clone)]
pub(crate) struct Route(pub(crate) Arc<str>);

/// Who makes an answer.
#[derive(Debug, Clone)]
enum Turn {
    /// Whoever holds it.
    First(Arc<tokio::sync::Mutex<()>>),
    /// Everybody: the last answer could not stay.
    Each,
}

#[derive(Debug, Default)]
struct Shelf {
    mark: Option<Mark>,
    n_bytes: usize,
    answers: HashMap<Question, Arc<Answer>>,
    turns: HashMap<Question, Turn>,
}

impl Shelf {
    /// Whether the shelf is of this mark; it is made so where the mark is that of now. An older one does not empty what is newer.
    fn is_of(&mut self, mark: Mark, now: impl FnOnce() -> Option<Mark>) -> bool {
        if self.mark != Some(mark) && now() == Some(mark) {
            *self = Shelf { mark: Some(mark), ..Shelf::default() };
        }
        self.mark == Some(mark)
    }

    fn put(&mut self, question: Question, answer: Arc<Answer>) {
        let n_besides = question.address.len() + BESIDES_BYTES;
        let n_bytes = answer.body.len() + n_besides;
        if self.n_bytes + n_bytes > MOST_BYTES {
            (self.n_bytes, self.answers) = (0, HashMap::new());
        }
        self.turns.remove(&question);
        let last = self.answers.insert(question, answer);
        self.n_bytes = self.n_bytes + n_bytes - last.map_or(0, |last| last.body.len() + n_besides);
    }

    fn turn(&mut self, question: &Question) -> Turn {
        if self.turns.len() >= MOST_TURNS {
            self.turns.clear();
        }
        self.turns.entry(question.clone()).or_insert_with(|| Turn::First(Arc::default())).clone()
    }
}

/// The answers of a service that may be given again.
#[derive(Debug, Default)]
pub(crate) struct Unchanged(Mutex<Shelf>);

/// A request whose answer may stay.
pub(crate) struct Asked {
    question: Question,
    mark: Mark,
    has: Option<HeaderValue>,
}

impl Asked {
    /// `None` where the answer is to be made each time: it changes something, tells of a job under way, or the records are being changed.
    pub(crate) fn of(request: &ServiceRequest, service: &Service) -> Option<Self> {
        // The path as routes see it, whatever it was written as.
        if request.method() != Method::GET || request.match_info().as_str().starts_with("/progress/") {
            return None;
        }
        let address = request.uri().path_and_query()?.as_str();
        if address.len() > LONGEST_ADDRESS {
            return None;
        }
        let question = Question {
            address: address.to_owned(),
            role: service.person.role,
            account: service.person.account().map(str::to_owned),
        };
        let has = request.headers().get(IF_NONE_MATCH).cloned();
        Some(Asked { question, mark: Mark::now(&service.house)?, has })
    }
}

impl Unchanged {
    /// The answer as it was given before, if nothing changed since.
    pub(crate) fn answer(&self, asked: &Asked, house: &House) -> Option<(HttpResponse, Route)> {
        let mut shelf = self.shelf();
        if !shelf.is_of(asked.mark, || Mark::now(house)) {
            return None;
        }
        let answer = shelf.answers.get(&asked.question)?.clone();
        drop(shelf);
        Some((given(&answer, asked.has.as_ref()), answer.route.clone()))
    }

    /// Lets the first who asks make the answer, as long as what is returned is held. The others go on when it is made, or was not to be made,
    /// and look again.
    pub(crate) async fn turn(&self, asked: &Asked, house: &House) -> Option<OwnedMutexGuard<()>> {
        self.turn_at(asked, || Mark::now(house)).await
    }

    async fn turn_at(&self, asked: &Asked, now: impl FnOnce() -> Option<Mark>) -> Option<OwnedMutexGuard<()>> {
        let turn = {
            let mut shelf = self.shelf();
            if shelf.is_of(asked.mark, now) { shelf.turn(&asked.question) } else { Turn::Each }
        };
        let Turn::First(turn) = turn else { return None };
        if let Ok(first) = turn.clone().try_lock_owned() {
            return Some(first);
        }
        drop(tokio::time::timeout(PATIENCE, turn.lock()).await);
        None
    }

    fn shelf(&self) -> MutexGuard<'_, Shelf> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Keeps an answer that was made just now, if it may stay, and gives it.
    pub(crate) fn keep(
        &self,
        asked: Asked,
        house: &House,
        response: ServiceResponse<BoxBody>,
    ) -> ServiceResponse<BoxBody> {
        let answered = if response.status() == StatusCode::OK && !response.headers().contains_key(SET_COOKIE) {
            whole(response)
        } else {
            Err(Box::new(response))
        };
        let mut shelf = self.shelf();
        let is_now = Mark::now(house) == Some(asked.mark) && shelf.is_of(asked.mark, || Some(asked.mark));
        match answered {
            Ok((request, answer)) => {
                let answer = Arc::new(answer);
                if is_now && answer.body.len() <= LONGEST {
                    shelf.put(asked.question, answer.clone());
                } else if is_now {
                    shelf.turns.insert(asked.question, Turn::Each);
                }
                drop(shelf);
                ServiceResponse::new(request, given(&answer, asked.has.as_ref()))
            }
            Err(response) => {
                if is_now {
                    shelf.turns.insert(asked.question, Turn::Each);
                }
                *response
            }
        }
    }
}

/// An answer with its tag; the response as it was where it comes bit by bit.
fn whole(response: ServiceResponse<BoxBody>) -> Result<(HttpRequest, Answer), Box<ServiceResponse<BoxBody>>> {
    let route = Route(response.request().match_pattern().as_deref().unwrap_or("none").into());
    let (request, response) = response.into_parts();
    let (head, body) = response.into_parts();
    let body = match body.try_into_bytes() {
        Ok(body) => body,
        Err(body) => return Err(Box::new(ServiceResponse::new(request, head.set_body(body)))),
    };
    let mut headers = head.headers().clone();
    let tag = headers.get(ETAG).cloned().unwrap_or_else(|| tag_of(&body));
    headers.insert(ETAG, tag.clone());
    Ok((request, Answer { headers, body, tag, route }))
}

/// Tells texts apart; not for secrets.
pub(crate) fn short_digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().take(12).map(|byte| format!("{byte:02x}")).collect()
}

fn tag_of(body: &[u8]) -> HeaderValue {
    HeaderValue::from_str(&format!("\"{}\"", short_digest(body))).unwrap_or(HeaderValue::from_static("\"\""))
}

/// The answer, or that whoever asks has it already.
fn given(answer: &Answer, has: Option<&HeaderValue>) -> HttpResponse {
    if has.is_some_and(|has| names(has, &answer.tag)) {
        let mut response = HttpResponse::NotModified().insert_header((ETAG, answer.tag.clone())).finish();
        if let Some(caching) = answer.headers.get(CACHE_CONTROL) {
            response.headers_mut().insert(CACHE_CONTROL, caching.clone());
        }
        return response;
    }
    let mut response = HttpResponse::with_body(StatusCode::OK, BoxBody::new(answer.body.clone()));
    *response.headers_mut() = answer.headers.clone();
    response
}

/// Whether an `If-None-Match` names a tag, compared weakly.
fn names(has: &HeaderValue, tag: &HeaderValue) -> bool {
    let (has, tag) = (has.to_str().unwrap_or_default(), tag.to_str().unwrap_or_default());
    has.split(',').map(str::trim).any(|one| one == "*" || one.strip_prefix("W/").unwrap_or(one) == tag)
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_app::weeks::{SchoolSetup, Weeks};

    fn mark(works: u64) -> Mark {
        let weeks = Weeks::in_memory(SchoolSetup::builtin().unwrap()).unwrap();
        Mark { records: weeks.mark_at_once().unwrap(), works, today: Date::constant(2026, 2, 2) }
    }

    fn asked(address: &str) -> Asked {
        Asked { question: question(address), mark: mark(0), has: None }
    }

    fn question(address: &str) -> Question {
        Question { address: address.to_owned(), role: Role::Coach, account: None }
    }

    fn answer(n_bytes: usize) -> Arc<Answer> {
        let tag = HeaderValue::from_static("\"1\"");
        Arc::new(Answer { headers: HeaderMap::new(), body: vec![b' '; n_bytes].into(), tag, route: Route("/".into()) })
    }

    #[test]
    fn the_shelf_does_not_grow_for_ever() {
        let mut shelf = Shelf::default();
        for n_bytes in [LONGEST, 0] {
            for turn in 0..9000 {
                let question = question(&format!("/{}{:900}", turn % 5000, ""));
                shelf.put(question.clone(), answer(n_bytes));
                assert!(shelf.answers.contains_key(&question));
                let held: usize =
                    shelf.answers.iter().map(|(q, a)| a.body.len() + q.address.len() + BESIDES_BYTES).sum();
                assert_eq!(shelf.n_bytes, held);
                assert!(held <= MOST_BYTES, "{turn}: {held}");
            }
        }
        for turn in 0..2 * MOST_TURNS {
            shelf.turn(&question(&turn.to_string()));
            assert!(shelf.turns.len() <= MOST_TURNS);
        }
    }

    #[test]
    fn an_older_mark_empties_nothing() {
        let (older, newer) = (mark(1), mark(2));
        let mut shelf = Shelf::default();
        assert!(shelf.is_of(newer, || Some(newer)));
        shelf.put(question("/"), answer(1));
        assert!(!shelf.is_of(older, || Some(newer)));
        assert!(shelf.answers.contains_key(&question("/")));
        assert!(shelf.is_of(older, || Some(older)) && shelf.answers.is_empty());
    }

    #[actix_web::test]
    async fn the_others_wait_for_the_first_alone() {
        let unchanged = Arc::new(Unchanged::default());
        let now = || Some(mark(0));
        let first = unchanged.turn_at(&asked("/"), now).await;
        assert!(first.is_some());
        assert!(unchanged.turn_at(&asked("/school"), now).await.is_some(), "another question has a turn of its own");
        let others: Vec<_> = (0..3)
            .map(|_| {
                let unchanged = unchanged.clone();
                actix_web::rt::spawn(async move { unchanged.turn_at(&asked("/"), now).await.is_none() })
            })
            .collect();
        tokio::task::yield_now().await;
        assert!(others.iter().all(|other| !other.is_finished()));
        drop(first);
        for other in others {
            assert!(other.await.unwrap(), "who waited looks again");
        }
        let held = unchanged.turn_at(&asked("/"), now).await;
        unchanged.shelf().turns.insert(question("/"), Turn::Each);
        assert!(unchanged.turn_at(&asked("/"), now).await.is_none(), "nobody waits for what cannot stay");
        drop(held);
    }

    #[test]
    fn a_tag_is_named_among_others_and_weakly() {
        let tag = HeaderValue::from_static("\"ab\"");
        let has = |text| names(&HeaderValue::from_static(text), &tag);
        assert!(has("\"ab\"") && has("W/\"ab\"") && has("\"cd\", \"ab\"") && has("*"));
        assert!(!has("\"a\"") && !has("ab") && !has(""));
    }
}

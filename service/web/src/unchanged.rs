//! Answers that are given again while nothing changed: the page a class looks at all morning is made once.
//!
//! In:  a request that only looks, who asks, and a mark of all that an answer is made of: records, setup, long jobs, the day. Out: the answer
//!      as it was made before, or nothing; to whom has it already, that nothing changed (304).
//! Keeps: 1. an answer goes again only to the same role and account, and only while the mark is the same on both sides of its making
//!           (`an_answer_goes_again_until_something_changes`)
//!        2. what sets a cookie, comes bit by bit, tells of a job under way, or did not go well is made each time (`only_whole_answers_stay`)
//!        3. at most [`MOST_BYTES`] stay (`the_shelf_does_not_grow_for_ever`)
//!        4. what many ask for at once is made once, and nobody waits for more than that (`the_others_wait_for_the_first_alone`)
//! Source: RFC 9110, sections 8.8.3, 13.1.2 and 15.4.5. Pages stay `no-store`: the browser keeps nothing, the tag is for scripts.
//! Not here: who may look at what (`guard`).

use crate::service::{House, Service};
use actix_web::HttpResponse;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{ETAG, HeaderMap, HeaderValue, IF_NONE_MATCH, SET_COOKIE};
use actix_web::http::{Method, StatusCode};
use actix_web::web::Bytes;
use jiff::ZonedDateTime;
use jiff::civil::Date;
use sha2::{Digest, Sha256};
use sheaf_app::weeks::{RecordsMark, Role};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::OwnedMutexGuard;

/// Bytes of answers that stay, all together; a week's pages are a tenth of that.
const MOST_BYTES: usize = 6 * 1024 * 1024;

/// Questions that somebody is answering, at most; past them others do not wait.
const MOST_TURNS: usize = 256;

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

#[derive(Debug, Default)]
struct Shelf {
    mark: Option<Mark>,
    n_bytes: usize,
    answers: HashMap<Question, Arc<Answer>>,
    /// Held by whoever makes the answer first.
    turns: HashMap<Question, Arc<tokio::sync::Mutex<()>>>,
}

impl Shelf {
    fn empty_unless(&mut self, mark: Mark) {
        if self.mark != Some(mark) {
            *self = Shelf { mark: Some(mark), ..Shelf::default() };
        }
    }

    fn put(&mut self, question: Question, answer: Arc<Answer>) {
        if self.n_bytes + answer.body.len() > MOST_BYTES {
            (self.n_bytes, self.answers) = (0, HashMap::new());
        }
        let n_bytes = answer.body.len();
        let last = self.answers.insert(question, answer);
        self.n_bytes = self.n_bytes + n_bytes - last.map_or(0, |last| last.body.len());
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
        if request.method() != Method::GET || request.path().starts_with("/progress/") {
            return None;
        }
        let question = Question {
            address: request.uri().path_and_query()?.as_str().to_owned(),
            role: service.person.role,
            account: service.person.account().map(str::to_owned),
        };
        let has = request.headers().get(IF_NONE_MATCH).cloned();
        Some(Asked { question, mark: Mark::now(&service.house)?, has })
    }
}

impl Unchanged {
    /// The answer as it was given before, if nothing changed since.
    pub(crate) fn answer(&self, asked: &Asked) -> Option<(HttpResponse, Route)> {
        let mut shelf = self.shelf();
        shelf.empty_unless(asked.mark);
        let answer = shelf.answers.get(&asked.question)?.clone();
        drop(shelf);
        Some((given(&answer, asked.has.as_ref()), answer.route.clone()))
    }

    /// Lets the first who asks make the answer, as long as what is returned is held; the others go on when it is made, or was not to be made.
    pub(crate) async fn turn(&self, asked: &Asked) -> Option<OwnedMutexGuard<()>> {
        let turn = {
            let mut shelf = self.shelf();
            shelf.empty_unless(asked.mark);
            if shelf.turns.len() >= MOST_TURNS {
                shelf.turns.clear();
            }
            shelf.turns.entry(asked.question.clone()).or_default().clone()
        };
        if let Ok(first) = turn.clone().try_lock_owned() {
            return Some(first);
        }
        drop(turn.lock().await);
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
        let may_stay = response.status() == StatusCode::OK && !response.headers().contains_key(SET_COOKIE);
        if !may_stay || Mark::now(house) != Some(asked.mark) {
            return response;
        }
        let route = Route(response.request().match_pattern().as_deref().unwrap_or("none").into());
        let (request, response) = response.into_parts();
        let (head, body) = response.into_parts();
        let body = match body.try_into_bytes() {
            Ok(body) if body.len() <= LONGEST => body,
            Ok(body) => return ServiceResponse::new(request, head.set_body(BoxBody::new(body))),
            Err(body) => return ServiceResponse::new(request, head.set_body(body)),
        };
        let mut headers = head.headers().clone();
        let tag = headers.get(ETAG).cloned().unwrap_or_else(|| tag_of(&body));
        headers.insert(ETAG, tag.clone());
        let answer = Arc::new(Answer { headers, body, tag, route });
        let mut shelf = self.shelf();
        shelf.empty_unless(asked.mark);
        shelf.put(asked.question, answer.clone());
        drop(shelf);
        ServiceResponse::new(request, given(&answer, asked.has.as_ref()))
    }
}

fn tag_of(body: &[u8]) -> HeaderValue {
    let digest: String = Sha256::digest(body).iter().take(12).map(|byte| format!("{byte:02x}")).collect();
    HeaderValue::from_str(&format!("\"{digest}\"")).unwrap_or(HeaderValue::from_static("\"\""))
}

/// The answer, or that whoever asks has it already.
fn given(answer: &Answer, has: Option<&HeaderValue>) -> HttpResponse {
    if has.is_some_and(|has| names(has, &answer.tag)) {
        return HttpResponse::NotModified().insert_header((ETAG, answer.tag.clone())).finish();
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

    fn asked(address: &str) -> Asked {
        let weeks = Weeks::in_memory(SchoolSetup::builtin().unwrap()).unwrap();
        let today = Date::constant(2026, 2, 2);
        let mark = Mark { records: weeks.mark_at_once().unwrap(), works: 0, today };
        Asked { question: question(address), mark, has: None }
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
        for turn in 0..40 {
            shelf.put(question(&format!("/{}", turn % 25)), answer(LONGEST - turn));
            let held: usize = shelf.answers.values().map(|a| a.body.len()).sum();
            assert_eq!(shelf.n_bytes, held);
            assert!(held <= MOST_BYTES, "{turn}: {held}");
            assert!(shelf.answers.contains_key(&question(&format!("/{}", turn % 25))));
        }
    }

    #[actix_web::test]
    async fn the_others_wait_for_the_first_alone() {
        let unchanged = Arc::new(Unchanged::default());
        let first = unchanged.turn(&asked("/")).await;
        assert!(first.is_some());
        assert!(unchanged.turn(&asked("/school")).await.is_some(), "another question has a turn of its own");
        let others: Vec<_> = (0..3)
            .map(|_| {
                let unchanged = unchanged.clone();
                actix_web::rt::spawn(async move { unchanged.turn(&asked("/")).await.is_none() })
            })
            .collect();
        tokio::task::yield_now().await;
        assert!(others.iter().all(|other| !other.is_finished()));
        drop(first);
        for other in others {
            assert!(other.await.unwrap(), "who waited makes it without a turn, if it is not there");
        }
    }

    #[test]
    fn a_tag_is_named_among_others_and_weakly() {
        let tag = HeaderValue::from_static("\"ab\"");
        let has = |text| names(&HeaderValue::from_static(text), &tag);
        assert!(has("\"ab\"") && has("W/\"ab\"") && has("\"cd\", \"ab\"") && has("*"));
        assert!(!has("\"a\"") && !has("ab") && !has(""));
    }
}

//! `/progress/{id}`: how far a long job is, with a way to stop it; then on to what it made, or why it made nothing.
//!
//! Its events tell a page with script each step as it comes; without script a link looks again and waits for the end a while.
//! Keeps (acceptance): the page may be closed, the job goes on (`work_goes_on_when_its_page_is_closed`); stopped, it has changed nothing
//! (`work_that_is_stopped_leaves_everything_as_it_was`); events tell the steps and the end (`events_tell_each_step_and_the_end`).
//! Not here: jobs, and what a form waits for itself (`works`).

use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use crate::works::{Standing, Work, WorkKind};
use actix_web::http::header::{CONTENT_ENCODING, HeaderValue};
use actix_web::{HttpRequest, HttpResponse, web};
use askama::Template;
use futures_util::stream;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::progress::Step;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch::Receiver;

/// How long looking again waits for the end.
const LOOK_AGAIN: Duration = Duration::from_secs(10);
/// How long stopping waits for it.
const STOPPING: Duration = Duration::from_secs(3);
/// Time after which a silent stream says that it is still there.
const STILL_HERE: Duration = Duration::from_secs(15);

struct StepView {
    name: &'static str,
    /// `done`, `now` or `later`.
    state: &'static str,
}

#[derive(Template)]
#[template(path = "work.html")]
struct WorkPage {
    frame: Frame,
    id: String,
    title: &'static str,
    steps: Vec<StepView>,
    said: String,
    is_stopping: bool,
    /// Why it made nothing.
    error: Option<String>,
    /// Where its week is looked at.
    back: String,
    back_words: &'static str,
}

/// How far it is; on to what it made where it is over.
pub(crate) async fn show(service: Service, path: web::Path<String>, request: HttpRequest) -> PageAnswer {
    let work = find(&service, &path)?;
    if request.query_string() == "wait" {
        work.wait(LOOK_AGAIN).await;
    }
    match work.standing() {
        Standing::Done(address) => {
            work.seen();
            Ok(see_other(address))
        }
        Standing::Failed(error) => {
            work.seen();
            let status = if error == AppError::stopped() { None } else { Some(status_of(error.kind)) };
            let body = run(&service, move |s| page(s, &work, &Standing::Failed(error))).await?;
            Ok(status.map_or_else(|| html(body.clone()), |status| html_with(status, body.clone())))
        }
        standing => Ok(html(run(&service, move |s| page(s, &work, &standing)).await?)),
    }
}

/// Asks it to stop; back to its page.
pub(crate) async fn stop(service: Service, path: web::Path<String>) -> PageAnswer {
    let work = find(&service, &path)?;
    work.stop();
    work.wait(STOPPING).await;
    Ok(see_other(format!("/progress/{}", work.id)))
}

/// Each step as it comes, then the end.
pub(crate) async fn events(service: Service, path: web::Path<String>) -> PageAnswer {
    let work = find(&service, &path)?;
    let told = stream::unfold(Some((work.follow(), work, true)), |told| async move {
        let (mut standing, work, is_first) = told?;
        if !is_first && !changed(&mut standing).await {
            return Some((
                Ok::<_, Infallible>(web::Bytes::from_static(b": still here\n\n")),
                Some((standing, work, false)),
            ));
        }
        let now = standing.borrow_and_update().clone();
        let event = web::Bytes::from(event(&work, &now));
        Some((Ok(event), (!now.is_over()).then_some((standing, work, false))))
    });
    // What is compressed comes late.
    let plain = (CONTENT_ENCODING, HeaderValue::from_static("identity"));
    Ok(HttpResponse::Ok().content_type("text/event-stream").insert_header(plain).streaming(told))
}

/// Whether something new is there; `false` after a long silence.
async fn changed(standing: &mut Receiver<Standing>) -> bool {
    // A sender that is gone has told its last.
    actix_web::rt::time::timeout(STILL_HERE, standing.changed()).await.is_ok()
}

/// One event: its name, and one line of data without a child's name or a file's.
fn event(work: &Work, standing: &Standing) -> String {
    if standing.is_over() {
        return format!("event: end\ndata: /progress/{}\n\n", work.id);
    }
    let data = serde_json::json!({ "at": at(work.kind, standing), "said": said(work, standing) });
    format!("event: step\ndata: {data}\n\n")
}

fn find(service: &Service, id: &str) -> Result<Arc<Work>, AppError> {
    service.house.works.find(id).ok_or_else(|| {
        let what = "This job is over for long, or Sheaf was started anew since; see where the week stands.";
        AppError::new(ErrorKind::NotFound, "no-such-work", what)
    })
}

fn page(service: &Service, work: &Work, standing: &Standing) -> Result<String, AppError> {
    let at = at(work.kind, standing);
    let state = |i: usize| match i {
        i if i < at => "done",
        i if i == at && !standing.is_over() => "now",
        _ => "later",
    };
    let error = match standing {
        Standing::Failed(error) => Some(text::as_sentence(&error.message)),
        _ => None,
    };
    let (here, back, back_words) = match work.kind {
        WorkKind::Plan => (Here::Groups, format!("/groups/{}", work.week), "The week's groups"),
        WorkKind::TakeIn => (Here::Sheets, format!("/score-sheets?week={}", work.week), "The week's score sheets"),
    };
    render(&WorkPage {
        frame: Frame::new(service, here, title(work.kind), Some(work.week))?.without_works(),
        id: work.id.clone(),
        title: title(work.kind),
        steps: work
            .kind
            .steps()
            .iter()
            .enumerate()
            .map(|(i, s)| StepView { name: words(*s), state: state(i) })
            .collect(),
        said: said(work, standing),
        is_stopping: work.is_stopping(),
        error,
        back,
        back_words,
    })
}

/// The place of the step that it is in, from 0.
fn at(kind: WorkKind, standing: &Standing) -> usize {
    match standing {
        Standing::At(step) => kind.steps().iter().position(|s| s == step).unwrap_or(0),
        _ => 0,
    }
}

fn said(work: &Work, standing: &Standing) -> String {
    if work.is_stopping() && !standing.is_over() {
        return "Stopping …".to_owned();
    }
    let (steps, at) = (work.kind.steps(), at(work.kind, standing));
    let name = steps.get(at).map_or("", |s| words(*s));
    format!("Step {} of {}: {}", at + 1, steps.len(), name)
}

/// What is being done, as a heading.
pub(super) fn title(kind: WorkKind) -> &'static str {
    match kind {
        WorkKind::Plan => "Planning the week",
        WorkKind::TakeIn => "Reading score sheets",
    }
}

fn words(step: Step) -> &'static str {
    match step {
        Step::Reading => "reading the score sheets",
        Step::Comparing => "comparing with what is there",
        Step::Profiles => "what each child holds",
        Step::Groups => "forming groups",
        Step::Rotation => "times, rooms and staff",
        Step::Tickets => "exit tickets",
        Step::Keeping => "keeping it",
    }
}

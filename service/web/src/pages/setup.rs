//! `/school/setup`: every key of the setup as a field with what it is, its range, built-in value and source; the same as text.
//!
//! In:  the setup in force, or what a person typed. Out: the page; a setup that was kept; the text as a file.
//! A form that fails comes back with everything typed and the reason beside its field
//! (acceptance test `a_mistake_in_the_setup_is_told_beside_its_field`). Not here: what a value may be (`sheaf-app`).

use super::setup_view::{SectionView, sections};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use crate::upload_form::read_form;
use actix_multipart::Multipart;
use actix_web::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::{HttpResponse, web};
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::setup::{Fields, field_at, fields_of, text_with};
use sheaf_app::weeks::THE_SETUP;

/// `?kept`.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    kept: Option<String>,
}

/// What a person typed and what is wrong with it.
struct Refused {
    fields: Fields,
    text: String,
    error: AppError,
    /// Where the mistake stands, and the sentence without its line.
    fault: Option<(String, String)>,
    is_text: bool,
}

#[derive(Template)]
#[template(path = "setup.html")]
struct SetupPage {
    frame: Frame,
    tag: String,
    sections: Vec<SectionView>,
    text: String,
    /// A mistake of the whole, or of a field.
    error: Option<String>,
    /// A mistake of the text as text.
    text_error: Option<String>,
    is_kept: bool,
}

/// The page.
pub(crate) async fn show(service: Service, asked: web::Query<Asked>) -> PageAnswer {
    let is_kept = asked.kept.is_some();
    Ok(html(run(&service, move |s| page(s, is_kept, None)).await?))
}

/// Keeps the fields.
pub(crate) async fn keep(service: Service, form: web::Form<Vec<(String, String)>>) -> PageAnswer {
    let mut fields: Fields = form.into_inner().into_iter().map(|(n, v)| (n, v.replace("\r\n", "\n"))).collect();
    let tag = fields.remove("tag").unwrap_or_default();
    answer(&service, move |s| {
        let text = text_with(&s.weeks.setup().toml, &fields)?;
        Ok(s.weeks.keep_setup(&tag, &text).err().map(|error| refused(fields, text, error, false)))
    })
    .await
}

/// Keeps the text.
pub(crate) async fn keep_text(service: Service, form: web::Form<Vec<(String, String)>>) -> PageAnswer {
    let mut fields: Fields = form.into_inner().into_iter().collect();
    let tag = fields.remove("tag").unwrap_or_default();
    let text = fields.remove("text").unwrap_or_default().replace("\r\n", "\n");
    answer(&service, move |s| keep_whole(s, &tag, text)).await
}

/// Keeps a file.
pub(crate) async fn keep_file(service: Service, parts: Multipart) -> PageAnswer {
    let file =
        read_form(parts).await?.scores.pop().ok_or_else(|| {
            AppError::new(ErrorKind::Input, "no-file", "No setup was chosen; go back and choose a file.")
        })?;
    let text = String::from_utf8(file.bytes).map_err(|_| {
        AppError::new(
            ErrorKind::Input,
            "setup-mistake",
            "The file is no text; a setup is a text file with the ending .toml.",
        )
    })?;
    answer(&service, move |s| keep_whole(s, &s.weeks.setup_tag(), text)).await
}

fn keep_whole(service: &Service, tag: &str, text: String) -> Result<Option<Refused>, AppError> {
    let kept = service.weeks.keep_setup(tag, &text);
    let fields = fields_of(&service.weeks.setup().toml)?;
    Ok(kept.err().map(|error| refused(fields, text, error, true)))
}

/// The setup as a file.
pub(crate) async fn file(service: Service) -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "application/toml; charset=utf-8"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"school.toml\""))
        .body(service.weeks.setup().toml.clone())
}

/// On to the page where the setup was kept, or the page with what is wrong.
async fn answer(
    service: &Service,
    job: impl FnOnce(&Service) -> Result<Option<Refused>, AppError> + Send + 'static,
) -> PageAnswer {
    let Some(refused) = run(service, job).await? else { return Ok(see_other("/school/setup?kept=yes".to_owned())) };
    if !matches!(refused.error.kind, ErrorKind::Input | ErrorKind::NoPlan | ErrorKind::Stale) {
        return Err(refused.error.into());
    }
    let status = status_of(refused.error.kind);
    Ok(html_with(status, run(service, |s| page(s, false, Some(refused))).await?))
}

fn refused(fields: Fields, text: String, error: AppError, is_text: bool) -> Refused {
    let said = error.message.strip_prefix(THE_SETUP).and_then(|m| m.strip_prefix(", line "));
    let placed = said.and_then(|m| m.split_once(": ")).and_then(|(line, what)| Some((line.parse().ok()?, what)));
    let fault = placed.and_then(|(line, what)| {
        let field = field_at(&text, line)?;
        Some((field, text::as_sentence(&beside_its_field(what))))
    });
    Refused { fields, text, error, fault, is_text }
}

/// The sentence without the name of the key, which stands above the field.
fn beside_its_field(what: &str) -> String {
    let (key, rest) = what.split_once(' ').unwrap_or((what, ""));
    if key.contains('.') && rest.starts_with("must ") { format!("this {rest}") } else { what.to_owned() }
}

fn page(service: &Service, is_kept: bool, refused: Option<Refused>) -> Result<String, AppError> {
    let setup = service.weeks.setup();
    let is_text = refused.as_ref().is_some_and(|r| r.is_text);
    let fields = match &refused {
        Some(refused) => refused.fields.clone(),
        None => fields_of(&setup.toml)?,
    };
    let fault = refused.as_ref().filter(|r| !r.is_text).and_then(|r| r.fault.clone());
    let error = refused.as_ref().map(|r| text::as_sentence(&r.error.message));
    let whole = match &fault {
        Some(_) => Some("Nothing was kept: one field below has to be mended first.".to_owned()),
        None => error.clone().filter(|_| !is_text),
    };
    render(&SetupPage {
        frame: Frame::new(service, Here::School, "Setup", None)?,
        // What was typed on an older setup may be kept once it was seen beside the newer one.
        tag: service.weeks.setup_tag(),
        sections: sections(&fields, fault.as_ref()),
        text: refused.filter(|r| r.is_text).map_or_else(|| setup.toml.clone(), |r| r.text),
        error: whole,
        text_error: error.filter(|_| is_text),
        is_kept,
    })
}

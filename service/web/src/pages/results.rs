//! `/results/{date}`: results of exit tickets typed by keyboard: a table a group, a row a child, one form that works without script.
//!
//! In:  the week's groups with what was typed before; a form of all rows, or, as it goes, of the rows that a person has just left. Out:
//! the page; what was typed is kept and the page shown again, or a few words as JSON for the page that stays open.
//! Keeps: a row that is not kept comes back with its reason beside the field and with what was typed
//! (acceptance test `a_letter_that_the_item_does_not_have_is_told_beside_its_field`). Not here: what an entry means (`sheaf-app`).

use super::results_view::{GroupTable, Typed, table};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};
use askama::Template;
use serde::Deserialize;
use serde_json::json;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{GroupResults, KeptResults, ResultStanding, TypedResults, TypedRow, Week};
use std::collections::BTreeMap;

/// No ticket has more items.
const MOST_ITEMS: usize = 99;

/// `?kept=12`.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    kept: Option<usize>,
}

/// How far the results of a week are in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Counts {
    pub(super) n_in: usize,
    pub(super) n_away: usize,
    pub(super) n_open: usize,
}

impl Counts {
    pub(super) fn of(groups: &[GroupResults]) -> Self {
        let standings = || groups.iter().flat_map(|g| &g.children).map(|c| c.standing);
        let n_away = standings().filter(|s| *s == ResultStanding::Away).count();
        let n_open = standings().filter(|s| *s == ResultStanding::Open).count();
        Counts { n_in: standings().count() - n_away - n_open, n_away, n_open }
    }

    fn words(self) -> String {
        let n = self.n_in + self.n_away + self.n_open;
        format!("Results in: {} of {}. Absent: {}. Open: {}.", self.n_in, text::children(n), self.n_away, self.n_open)
    }
}

#[derive(Template)]
#[template(path = "results.html")]
struct ResultsPage {
    frame: Frame,
    tag: String,
    groups: Vec<GroupTable>,
    /// Whether the week has a plan.
    has_plan: bool,
    counts: String,
    is_all_in: bool,
    next_week: String,
    next_words: String,
    kept: Option<String>,
    error: Option<String>,
}

/// The page.
pub(crate) async fn show(service: Service, path: web::Path<String>, asked: web::Query<Asked>) -> PageAnswer {
    let told = Told { kept: asked.kept, ..Told::default() };
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?, &told)).await?))
}

/// Keeps what was typed.
pub(crate) async fn keep(
    service: Service,
    path: web::Path<String>,
    form: web::Form<Vec<(String, String)>>,
) -> PageAnswer {
    let week = Week::parse(&path)?;
    let (typed, as_it_goes) = typed_in(&form);
    let rows = typed.clone();
    let kept = run(&service, move |s| s.weeks.type_results(week, &rows)).await;
    if as_it_goes {
        return told_as_it_goes(&service, week, typed, kept).await;
    }
    match kept {
        Ok(kept) if kept.faults.is_empty() => Ok(see_other(format!("/results/{week}?kept={}", kept.n_kept))),
        Ok(kept) => {
            let told = Told { kept: Some(kept.n_kept), typed, faults: kept, error: None };
            let body = run(&service, move |s| page(s, week, &told)).await?;
            Ok(html_with(StatusCode::UNPROCESSABLE_ENTITY, body))
        }
        Err(e) if matches!(e.kind, ErrorKind::Input | ErrorKind::Stale) => {
            let status = status_of(e.kind);
            let told = Told { typed, error: Some(e), ..Told::default() };
            Ok(html_with(status, run(&service, move |s| page(s, week, &told)).await?))
        }
        Err(e) => Err(e.into()),
    }
}

/// What the page says besides what is in the records.
#[derive(Default)]
struct Told {
    kept: Option<usize>,
    /// What was typed, for rows that were not kept.
    typed: TypedResults,
    faults: KeptResults,
    error: Option<AppError>,
}

/// For the page that stays open: what became of the rows, and where everybody stands.
async fn told_as_it_goes(
    service: &Service,
    week: Week,
    typed: TypedResults,
    kept: Result<KeptResults, AppError>,
) -> PageAnswer {
    let kept = match kept {
        Ok(kept) => kept,
        Err(e) => {
            tracing::info!(code = e.code, "a job was refused");
            let said = format!("Not saved: {}", text::as_sentence(&e.message));
            return Ok(HttpResponse::build(status_of(e.kind)).json(json!({ "said": said })));
        }
    };
    let (groups, _) = run(service, move |s| s.weeks.results_to_type(week)).await?;
    let sent = |id: &str| typed.rows.iter().any(|r| r.student == id);
    let children = groups.iter().flat_map(|g| &g.children).filter(|c| sent(c.id.as_str()));
    let standings: BTreeMap<String, &str> = children.map(|c| (c.id.to_string(), word(c.standing))).collect();
    let fault = |f: &sheaf_app::weeks::EntryFault| {
        let field = f.number.map_or_else(|| format!("away|{}", f.student), |n| format!("a|{n}|{}", f.student));
        json!({ "field": field, "says": f.says })
    };
    Ok(HttpResponse::Ok().json(json!({
        "said": saved_words(&kept),
        "counts": Counts::of(&groups).words(),
        "standings": standings,
        "faults": kept.faults.iter().map(fault).collect::<Vec<_>>(),
    })))
}

fn saved_words(kept: &KeptResults) -> String {
    match kept.refused().len() {
        0 => "Saved.".to_owned(),
        n if kept.n_kept == 0 => format!("Not saved: {}; see beside the fields.", text::children(n)),
        n => format!("Saved: {}. Not saved: {n}; see beside the fields.", text::children(kept.n_kept)),
    }
}

/// A child's standing in a word or two.
pub(super) fn word(standing: ResultStanding) -> &'static str {
    match standing {
        ResultStanding::Open => "open",
        ResultStanding::In => "✓ in",
        ResultStanding::Away => "absent",
        ResultStanding::InBySheet => "✓ in, by a score sheet",
        ResultStanding::OnEarlierForm => "✓ in, on an earlier form",
    }
}

fn page(service: &Service, week: Week, told: &Told) -> Result<String, AppError> {
    let found = match service.weeks.results_to_type(week) {
        Err(e) if e.kind == ErrorKind::NotFound => None,
        found => Some(found?),
    };
    let has_plan = found.is_some();
    let (groups, tag) = found.unwrap_or_default();
    let counts = Counts::of(&groups);
    let not_kept = |row: &&TypedRow| told.error.is_some() || told.faults.refused().contains(row.student.as_str());
    let typed = Typed {
        rows: told.typed.rows.iter().filter(not_kept).map(|r| (r.student.as_str(), r)).collect(),
        faults: &told.faults.faults,
    };
    render(&ResultsPage {
        frame: Frame::new(service, Here::Tickets, "Ticket results", Some(week))?,
        tag,
        groups: groups.iter().map(|g| table(g, &typed)).collect(),
        has_plan,
        counts: counts.words(),
        is_all_in: counts.n_open == 0 && counts.n_in > 0,
        next_week: week.next().to_string(),
        next_words: text::week_words(week.next()),
        kept: told.kept.map(|n_kept| saved_words(&KeptResults { n_kept, faults: told.faults.faults.clone() })),
        error: told.error.as_ref().map(|e| text::as_sentence(&e.message)),
    })
}

/// `form|0417=KTRWB-3A`, `a|2|0417=B`, `away|0417=on`; a row is there with its form, and anything else says nothing. Whether it is sent
/// as it goes stands beside.
fn typed_in(form: &[(String, String)]) -> (TypedResults, bool) {
    let mut typed = TypedResults::default();
    let mut places: BTreeMap<&str, usize> = BTreeMap::new();
    for (name, value) in form {
        match name.split_once('|') {
            None if name == "tag" => typed.tag.clone_from(value),
            Some(("form", id)) if !places.contains_key(id) => {
                places.insert(id, typed.rows.len());
                let (student, form_code) = (id.to_owned(), value.clone());
                typed.rows.push(TypedRow { student, form_code, ..TypedRow::default() });
            }
            _ => {}
        }
    }
    for (name, value) in form {
        let (kind, rest) = name.split_once('|').unwrap_or_default();
        let (number, id) = if kind == "a" { rest.split_once('|').unwrap_or_default() } else { ("", rest) };
        let Some(row) = places.get(id).and_then(|&at| typed.rows.get_mut(at)) else { continue };
        match (kind, number.parse::<usize>()) {
            ("away", _) => row.is_away = true,
            ("a", Ok(number)) if (1..=MOST_ITEMS).contains(&number) => {
                if row.entries.len() < number {
                    row.entries.resize(number, String::new());
                }
                if let Some(entry) = row.entries.get_mut(number - 1) {
                    entry.clone_from(value);
                }
            }
            _ => {}
        }
    }
    (typed, form.iter().any(|(name, _)| name == "as-it-goes"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_form_sends_is_read_and_the_rest_says_nothing() {
        let form = [
            ("a|2|04|17", "B"),
            ("tag", "\"2026-02-02.1\""),
            ("form|04|17", "KTRWB-3A"),
            ("a|0|04|17", "x"),
            ("a|100|04|17", "x"),
            ("a|1|9", "no form, no row"),
            ("form|0533", "KTRWB-3B"),
            ("away|0533", "on"),
            ("other", "x"),
        ];
        let form: Vec<(String, String)> = form.map(|(n, v)| (n.to_owned(), v.to_owned())).to_vec();
        let (typed, as_it_goes) = typed_in(&form);
        assert_eq!((typed.tag.as_str(), as_it_goes), ("\"2026-02-02.1\"", false));
        let row = |student: &str, form: &str, is_away, entries: &[&str]| TypedRow {
            student: student.to_owned(),
            form_code: form.to_owned(),
            is_away,
            entries: entries.iter().map(|e| (*e).to_owned()).collect(),
        };
        let rows = [row("04|17", "KTRWB-3A", false, &["", "B"]), row("0533", "KTRWB-3B", true, &[])];
        assert_eq!(typed.rows, rows);
        assert!(typed_in(&[("as-it-goes".to_owned(), "yes".to_owned())]).1);
    }

    #[test]
    fn counts_read_as_words() {
        let counts = Counts { n_in: 12, n_away: 1, n_open: 7 };
        assert_eq!(counts.words(), "Results in: 12 of 20 children. Absent: 1. Open: 7.");
    }
}

//! The local service: pages for people, an API for scripts, both on the same jobs.
//!
//! In:  requests from this machine that carry the launch token, or over TLS from those who signed in. Out: HTML (`templates/`), JSON (`/api/v1`), a workbook.
//! Every route is in one table (`routes`); the guard looks at every request before any handler (`guard`); a handler
//! calls one job of `sheaf_app::weeks` in a blocking thread and renders what it gave (`pages`, `api`).
//! Keeps: no request is made by the service, and none from another origin is served (acceptance tests `http`);
//! no name, score, file name or cell text in the log.
//! Not here: what a job does (`sheaf-app`), status words of errors (`sheaf_app::error`).
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::panic))]

mod api;
mod demo;
mod door;
mod guard;
mod pages;
mod problem;
mod routes;
mod serve;
mod service;
mod static_files;
mod token;
mod unchanged;
mod upload_form;
mod works;

pub use serve::{Records, ServeOptions, TlsOptions, serve};

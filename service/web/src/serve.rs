//! Starts the service on a loopback address and prints where to open it.
//!
//! Limits: 256 connections, 10 s for a request's head, [`BODY_SECONDS`] for the whole request.

use crate::demo;
use crate::guard::{self, BODY_SECONDS};
use crate::routes;
use crate::service::{Lasting, Service, run};
use crate::token::LaunchToken;
use actix_web::middleware::from_fn;
use actix_web::{App, HttpServer, web};
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{SchoolSetup, Weeks};
use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;
use std::time::Duration;

/// Threads that answer; jobs run on others.
const N_WORKERS: usize = 2;
/// Connections at a time, all threads together.
const MAX_CONNECTIONS: usize = 256;

/// Time between two looks for old originals.
const DAY: Duration = Duration::from_secs(24 * 60 * 60);

/// Where the records are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Records {
    /// In a file, made where it is missing.
    File(PathBuf),
    /// Nowhere: gone when the program ends.
    InMemory,
    /// An invented school, gone when the program ends; it brings its own setup.
    Demo,
}

/// How to serve.
#[derive(Debug, Clone)]
pub struct ServeOptions {
    /// Where the records are.
    pub records: Records,
    /// Where to listen: a loopback address; port 0 takes a free one.
    pub addr: SocketAddr,
    /// The school's setup; not used by [`Records::Demo`].
    pub setup: SchoolSetup,
}

/// Serves until the program is told to stop. `announce` gets the address to open, launch token included.
///
/// # Errors
/// [`AppError`] of kind input where the address is not loopback; of kind unavailable where the port or the records
/// cannot be opened.
pub fn serve(options: ServeOptions, announce: impl FnOnce(&str)) -> Result<(), AppError> {
    if !options.addr.ip().is_loopback() {
        return Err(AppError::new(
            ErrorKind::Input,
            "address-not-loopback",
            format!("{} is not an address of this machine alone; use 127.0.0.1 and a port", options.addr.ip()),
        ));
    }
    let addr = options.addr;
    let (weeks, lasting) = open(options)?;
    let unavailable = |e: std::io::Error| {
        AppError::new(
            ErrorKind::Unavailable,
            "port-not-free",
            format!("{addr} cannot be used ({e}); choose another port"),
        )
    };
    let listener = TcpListener::bind(addr).map_err(unavailable)?;
    let port = listener.local_addr().map_err(unavailable)?.port();
    let service = Service { weeks, token: LaunchToken::generate()?, port, lasting };
    announce(&format!("http://{}/?key={}", SocketAddr::new(addr.ip(), port), service.token.as_str()));
    tracing::info!(job = "serve", port);
    actix_web::rt::System::new().block_on(answer(web::Data::new(service), listener)).map_err(unavailable)
}

fn open(options: ServeOptions) -> Result<(Weeks, Lasting), AppError> {
    Ok(match options.records {
        Records::File(path) => (Weeks::open(&path, options.setup)?, Lasting::InFile),
        Records::InMemory => (Weeks::in_memory(options.setup)?, Lasting::UntilClosed),
        Records::Demo => (demo::weeks()?, Lasting::Demo),
    })
}

/// At the start and once a day: originals whose time is over go. A day on which that fails is tried again the next.
async fn remove_old_originals(service: web::Data<Service>) {
    loop {
        let today = jiff::ZonedDateTime::now().date();
        if let Err(error) = run(&service, move |s| s.weeks.remove_old_originals(today)).await {
            tracing::warn!(job = "remove_old_originals", code = error.code, "old originals stay for now");
        }
        actix_web::rt::time::sleep(DAY).await;
    }
}

async fn answer(service: web::Data<Service>, listener: TcpListener) -> std::io::Result<()> {
    actix_web::rt::spawn(remove_old_originals(service.clone()));
    HttpServer::new(move || App::new().app_data(service.clone()).wrap(from_fn(guard::guard)).configure(routes::all))
        .workers(N_WORKERS)
        .max_connections(MAX_CONNECTIONS / N_WORKERS)
        .client_request_timeout(Duration::from_secs(10))
        .client_disconnect_timeout(Duration::from_secs(5))
        .keep_alive(Duration::from_secs(30))
        .shutdown_timeout(BODY_SECONDS.min(5))
        .listen(listener)?
        .run()
        .await
}

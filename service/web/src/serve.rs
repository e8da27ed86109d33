//! Starts the service, on this machine alone or over TLS for others in the building, and prints where to open it.
//!
//! In:  options. Out: a service that answers until the program is told to stop. Another address than loopback takes a certificate, records in a
//! file and at least one account (`another_address_takes_certificate_records_and_an_account`).
//! Limits: 256 connections, 10 s for a request's head, [`BODY_SECONDS`] for the whole request.

use crate::demo;
use crate::door::{Accounts, Door, server_config};
use crate::guard::{self, BODY_SECONDS, Names};
use crate::routes;
use crate::service::{House, Lasting, aside};
use crate::token::LaunchToken;
use crate::unchanged::Unchanged;
use crate::works::Works;
use actix_web::middleware::from_fn;
use actix_web::{App, HttpServer, web};
use rustls::ServerConfig;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::weeks::{Actor, SchoolSetup, Weeks};
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
    /// Where to listen: a loopback address, or with [`ServeOptions::tls`] any; port 0 takes a free one.
    pub addr: SocketAddr,
    /// The school's setup; not used by [`Records::Demo`].
    pub setup: SchoolSetup,
    /// For other machines: TLS and accounts, whatever the address. Left out: this machine alone, by launch token.
    pub tls: Option<TlsOptions>,
    /// How long a form waits for its job before the browser is shown how far the job is.
    pub patience: Duration,
}

/// What it takes to serve other machines.
#[derive(Debug, Clone)]
pub struct TlsOptions {
    /// The certificate and what stands between it and its authority, as PEM.
    pub certificate: PathBuf,
    /// Its private key, as PEM.
    pub key: PathBuf,
    /// Names under which the service is reached, beside its address: `NAME` or `NAME:PORT`.
    pub hosts: Vec<String>,
}

/// Serves until the program is told to stop. `announce` gets the address to open, with the launch token where one opens.
///
/// # Errors
/// [`AppError`] of kind input where another address than loopback comes without certificate, records or account, or a certificate cannot be
/// read; of kind unavailable where the port or the records cannot be opened.
pub fn serve(options: ServeOptions, announce: impl FnOnce(&str)) -> Result<(), AppError> {
    let addr = options.addr;
    let config = match &options.tls {
        None if addr.ip().is_loopback() => None,
        None => return Err(not_loopback(addr)),
        Some(tls) => Some(server_config(&tls.certificate, &tls.key)?),
    };
    let (tls, patience) = (options.tls.clone(), options.patience);
    let (weeks, lasting) = open(options)?;
    if tls.is_some() {
        check_accounts(&weeks, lasting)?;
    }
    let unavailable = |e: std::io::Error| {
        AppError::new(
            ErrorKind::Unavailable,
            "port-not-free",
            format!("{addr} cannot be used ({e}); choose another port"),
        )
    };
    let listener = TcpListener::bind(addr).map_err(unavailable)?;
    let addr = listener.local_addr().map_err(unavailable)?;
    let (door, address) = match tls {
        None => {
            let token = LaunchToken::generate()?;
            let address = format!("http://{addr}/?key={}", token.as_str());
            (Door::Launch(token), address)
        }
        Some(tls) => {
            let authorities = authorities(addr, &tls.hosts)?;
            let address = format!("https://{}/", authorities.first().cloned().unwrap_or_default());
            (Door::Accounts(Box::new(Accounts::new(authorities))), address)
        }
    };
    announce(&address);
    tracing::info!(job = "serve", port = addr.port(), is_tls = config.is_some());
    let house = web::Data::new(House {
        weeks,
        names: Names::of(&door, addr.port()),
        door,
        works: Works::new(patience),
        unchanged: Unchanged::default(),
        lasting,
    });
    actix_web::rt::System::new().block_on(answer(house, listener, config)).map_err(unavailable)
}

fn not_loopback(addr: SocketAddr) -> AppError {
    let what = format!(
        "{} is not an address of this machine alone, and the records are of children: add --tls-certificate and --tls-key, or use 127.0.0.1 and a port",
        addr.ip()
    );
    AppError::new(ErrorKind::Input, "address-not-loopback", what)
}

/// Other machines are let in by account alone, so there must be one, and records that last as it does.
fn check_accounts(weeks: &Weeks, lasting: Lasting) -> Result<(), AppError> {
    if lasting != Lasting::InFile {
        let what =
            "Over TLS people sign in with accounts, which are kept in the records: name a file of records with --db.";
        return Err(AppError::new(ErrorKind::Input, "records-not-there", what));
    }
    if weeks.accounts()?.is_empty() {
        let what = "The records hold no account, so nobody could sign in: add one by `sheaf account add --db FILE NAME --role interventionist`.";
        return Err(AppError::new(ErrorKind::Input, "no-account", what));
    }
    Ok(())
}

/// Names under which the service answers, those that were given first: they are what a certificate is made for. A browser leaves 443 out.
fn authorities(addr: SocketAddr, hosts: &[String]) -> Result<Vec<String>, AppError> {
    let port = addr.port();
    let with_port = |host: &String| if has_port(host) { host.clone() } else { format!("{host}:{port}") };
    let mut names: Vec<String> = hosts.iter().map(with_port).collect();
    if !addr.ip().is_unspecified() {
        names.push(addr.to_string());
    }
    if names.is_empty() {
        let what = format!(
            "{} stands for every address of this machine: say by --host under which name others reach it.",
            addr.ip()
        );
        return Err(AppError::new(ErrorKind::Input, "host-not-named", what));
    }
    let bare: Vec<String> = names.iter().filter_map(|name| name.strip_suffix(":443")).map(str::to_owned).collect();
    names.extend(bare);
    Ok(names)
}

/// `name:8443` and `[::1]:8443` have one, `[::1]` has none.
fn has_port(host: &str) -> bool {
    host.rsplit_once(':').is_some_and(|(_, port)| !port.is_empty() && port.bytes().all(|b| b.is_ascii_digit()))
        && !host.ends_with(']')
}

fn open(options: ServeOptions) -> Result<(Weeks, Lasting), AppError> {
    Ok(match options.records {
        Records::File(path) => (Weeks::open(&path, options.setup)?, Lasting::InFile),
        Records::InMemory => (Weeks::in_memory(options.setup)?, Lasting::UntilClosed),
        Records::Demo => (demo::weeks()?, Lasting::Demo),
    })
}

/// At the start and once a day: originals whose time is over go. A day on which that fails is tried again the next.
async fn remove_old_originals(house: web::Data<House>) {
    loop {
        let weeks = house.weeks.by(Actor::Program);
        let today = jiff::ZonedDateTime::now().date();
        if let Err(error) = aside(move || weeks.remove_old_originals(today)).await {
            tracing::warn!(job = "remove_old_originals", code = error.code, "old originals stay for now");
        }
        actix_web::rt::time::sleep(DAY).await;
    }
}

async fn answer(house: web::Data<House>, listener: TcpListener, tls: Option<ServerConfig>) -> std::io::Result<()> {
    // The invented school's weeks lie where they were invented, however late it is shown.
    if house.lasting != Lasting::Demo {
        actix_web::rt::spawn(remove_old_originals(house.clone()));
    }
    let server =
        HttpServer::new(move || App::new().app_data(house.clone()).wrap(from_fn(guard::guard)).configure(routes::all))
            .workers(N_WORKERS)
            .max_connections(MAX_CONNECTIONS / N_WORKERS)
            .client_request_timeout(Duration::from_secs(10))
            .client_disconnect_timeout(Duration::from_secs(5))
            .tls_handshake_timeout(Duration::from_secs(5))
            .keep_alive(Duration::from_secs(30))
            .shutdown_timeout(BODY_SECONDS.min(5));
    let server = match tls {
        None => server.listen(listener)?,
        Some(config) => server.listen_rustls_0_23(listener, config)?,
    };
    server.run().await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_names_that_were_given_come_first_and_get_the_port() {
        let names = |addr: &str, hosts: &[&str]| {
            let hosts: Vec<String> = hosts.iter().map(|h| (*h).to_owned()).collect();
            authorities(addr.parse().unwrap(), &hosts).map_err(|e| e.code)
        };
        assert_eq!(
            names("10.0.0.5:8443", &["sheaf.example", "other:9000"]).unwrap(),
            ["sheaf.example:8443", "other:9000", "10.0.0.5:8443"]
        );
        assert_eq!(names("0.0.0.0:443", &["sheaf.example"]).unwrap(), ["sheaf.example:443", "sheaf.example"]);
        assert_eq!(names("[::1]:8443", &["[fd00::1]"]).unwrap(), ["[fd00::1]:8443", "[::1]:8443"]);
        assert_eq!(names("0.0.0.0:8443", &[]), Err("host-not-named"));
    }
}

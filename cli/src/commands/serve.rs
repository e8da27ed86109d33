//! `sheaf serve`: the local service, for one machine, or over TLS for those who have an account.
//!
//! Prints the address to open, on one machine with the launch token. With `--demo` an invented school is shown and nothing is kept.
//! The log goes to stderr: codes, counts and durations, never a name or a score.
//! Not here: routes, pages, the guard (`sheaf-web`).

use crate::input::load_setup_with;
use crate::run::Stop;
use clap::Args;
use sheaf_web::{Records, ServeOptions, TlsOptions, serve};
use std::io::Write;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

#[derive(Args)]
pub struct ServeArguments {
    /// The file that holds the records; made where it is missing
    #[arg(long, value_name = "FILE", default_value = "sheaf.db", conflicts_with = "demo")]
    db: PathBuf,
    /// Where to listen: an address of this machine alone, or with a certificate any; port 0 takes a free one
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8750", value_parser = address)]
    addr: SocketAddr,
    /// The school setup (TOML); left out: the built-in one
    #[arg(long, value_name = "FILE")]
    school: Option<PathBuf>,
    /// Files of your own beside what is built in: item models (.toml) or wrong ideas (.csv); may be given several times
    #[arg(long, value_name = "FILE")]
    own: Vec<PathBuf>,
    /// For other machines in the building: the certificate (PEM); people then sign in with accounts (see `sheaf account`)
    #[arg(long, value_name = "FILE", requires = "tls_key", conflicts_with = "demo")]
    tls_certificate: Option<PathBuf>,
    /// Its private key (PEM)
    #[arg(long, value_name = "FILE", requires = "tls_certificate")]
    tls_key: Option<PathBuf>,
    /// A name under which other machines reach this one, as in the certificate; may be given several times
    #[arg(long, value_name = "NAME", requires = "tls_certificate")]
    host: Vec<String>,
    /// Seconds that a form waits for a long job before the page shows how far it is
    #[arg(long, value_name = "SECONDS", default_value_t = 2)]
    progress_after: u64,
    /// Show an invented school; nothing is kept
    #[arg(long)]
    demo: bool,
}

fn address(text: &str) -> Result<SocketAddr, String> {
    text.parse().map_err(|_| "an address is written like 127.0.0.1:8750".to_owned())
}

pub fn run(a: &ServeArguments, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let tls = a.tls_certificate.clone().zip(a.tls_key.clone()).map(|(certificate, key)| TlsOptions {
        certificate,
        key,
        hosts: a.host.clone(),
    });
    if tls.is_none() && !a.addr.ip().is_loopback() {
        // The records are of children: without TLS and accounts the service is for this machine alone.
        let what = format!(
            "{} is not an address of this machine alone; add --tls-certificate and --tls-key, or use 127.0.0.1 and a port.",
            a.addr.ip()
        );
        return Err(Stop::Usage(what));
    }
    let setup = load_setup_with(a.school.as_ref(), &a.own, err)?;
    // A log that is already set up (in a test) stays as it is.
    let _ = tracing_subscriber::fmt().with_writer(std::io::stderr).with_target(false).try_init();
    let records = if a.demo { Records::Demo } else { Records::File(a.db.clone()) };
    let patience = Duration::from_secs(a.progress_after);
    serve(ServeOptions { records, addr: a.addr, setup, tls, patience }, |address| {
        // Whoever started the service without a reader for the address does not want it.
        let _ = writeln!(out, "Sheaf is ready: {address}").and_then(|()| out.flush());
    })?;
    Ok(())
}

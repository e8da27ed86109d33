//! `sheaf serve`: the local service, for one machine.
//!
//! Prints the address to open, launch token included. With `--demo` an invented school is shown and nothing is kept.
//! The log goes to stderr: codes, counts and durations, never a name or a score.
//! Not here: routes, pages, the guard (`sheaf-web`).

use crate::input::load_setup_with;
use crate::run::Stop;
use clap::Args;
use sheaf_web::{Records, ServeOptions, serve};
use std::io::Write;
use std::net::SocketAddr;
use std::path::PathBuf;

#[derive(Args)]
pub struct ServeArguments {
    /// The file that holds the records; made where it is missing
    #[arg(long, value_name = "FILE", default_value = "sheaf.db", conflicts_with = "demo")]
    db: PathBuf,
    /// Where to listen: an address of this machine alone; port 0 takes a free one
    #[arg(long, value_name = "127.0.0.1:PORT", default_value = "127.0.0.1:8750", value_parser = loopback)]
    addr: SocketAddr,
    /// The school setup (TOML); left out: the built-in one
    #[arg(long, value_name = "FILE")]
    school: Option<PathBuf>,
    /// Files of your own beside what is built in: item models (.toml) or wrong ideas (.csv); may be given several times
    #[arg(long, value_name = "FILE")]
    own: Vec<PathBuf>,
    /// Show an invented school; nothing is kept
    #[arg(long)]
    demo: bool,
}

/// The records are of children: the service is for this machine alone.
fn loopback(text: &str) -> Result<SocketAddr, String> {
    let addr: SocketAddr = text.parse().map_err(|_| "an address is written like 127.0.0.1:8750".to_owned())?;
    if addr.ip().is_loopback() {
        Ok(addr)
    } else {
        Err("it must be an address of this machine alone, such as 127.0.0.1".to_owned())
    }
}

pub fn run(a: &ServeArguments, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
    let setup = load_setup_with(a.school.as_ref(), &a.own, err)?;
    // A log that is already set up (in a test) stays as it is.
    let _ = tracing_subscriber::fmt().with_writer(std::io::stderr).with_target(false).try_init();
    let records = if a.demo { Records::Demo } else { Records::File(a.db.clone()) };
    serve(ServeOptions { records, addr: a.addr, setup }, |address| {
        // Whoever started the service without a reader for the address does not want it.
        let _ = writeln!(out, "Sheaf is ready: {address}").and_then(|()| out.flush());
    })?;
    Ok(())
}

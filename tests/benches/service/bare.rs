//! A bare actix-web that says one thing: what the service's throughput stands beside.
//!
//! In:  the hidden word that starts it. Out: its port on stdout, then answers until its starter drops it. Not here: any code of the service.

use actix_web::{App, HttpServer, web};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

/// The word that makes this program the bare service.
pub const WORD: &str = "--bare";

pub fn serve() {
    let server = HttpServer::new(|| App::new().route("/", web::get().to(async || "Hello world!")));
    let server = server.workers(2).bind("127.0.0.1:0").unwrap();
    println!("{}", server.addrs()[0].port());
    actix_web::rt::System::new().block_on(server.run()).unwrap();
}

/// It ends with this value.
pub struct Bare {
    process: Child,
    pub port: u16,
}

pub fn start() -> Bare {
    let mut command = Command::new(std::env::current_exe().unwrap());
    let mut process = command.arg(WORD).stdout(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(process.stdout.take().unwrap()).read_line(&mut line).unwrap();
    Bare { process, port: line.trim().parse().unwrap() }
}

impl Drop for Bare {
    fn drop(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }
}

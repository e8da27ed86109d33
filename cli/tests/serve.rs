//! The binary itself as a service: it answers, and it stops.
//!
//! What only a real process shows: the log of the service's threads and the output of `main` share stdout and stderr.
//! Not here: routes, guard and pages (the acceptance tests).

#![allow(clippy::unwrap_used)]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// The process ends with the test, however that ends.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Starts the demo on a free port and gives its `127.0.0.1:PORT`.
fn start() -> (Running, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_sheaf"));
    command.args(["serve", "--demo", "--addr", "127.0.0.1:0"]).stdout(Stdio::piped()).stderr(Stdio::null());
    let mut running = Running(command.spawn().unwrap());
    let mut line = String::new();
    BufReader::new(running.0.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let address = line.split("http://").nth(1).unwrap().split('/').next().unwrap().to_owned();
    (running, address)
}

#[test]
fn the_service_answers_while_its_threads_write_their_log() {
    let (_running, address) = start();
    for _ in 0..3 {
        let mut stream = TcpStream::connect(&address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        write!(stream, "GET /healthz HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n").unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    }
}

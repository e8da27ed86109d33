//! The service in a process of its own, asked over a plain socket so that little time is the asker's.
//!
//! In:  its program and arguments. Out: answers, and the memory that it holds. It ends with its value. Not here: what is measured (`main`).

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// It ends with this value.
pub struct Running {
    process: Child,
    pub port: u16,
    pub token: String,
}

impl Running {
    pub fn start(sheaf: &Path, args: &[&str]) -> Self {
        let mut command = Command::new(sheaf);
        command.args(["serve", "--addr", "127.0.0.1:0"]).args(args);
        let mut process = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let (base, token) = line.trim().split_once("/?key=").unwrap();
        let port = base.rsplit_once(':').unwrap().1.parse().unwrap();
        Running { process, port, token: token.to_owned() }
    }

    /// Status, head and body of an answer.
    pub fn ask(&self, method: &str, path: &str, body: &str, headers: &[(&str, &str)]) -> (u16, String, String) {
        let mut socket = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        let mut request = format!(
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nAuthorization: Bearer {}\r\nConnection: close\r\nContent-Length: {}\r\n",
            self.port,
            self.token,
            body.len()
        );
        for (name, value) in headers {
            request += &format!("{name}: {value}\r\n");
        }
        socket.write_all(format!("{request}\r\n{body}").as_bytes()).unwrap();
        let mut answer = String::new();
        socket.read_to_string(&mut answer).unwrap();
        let (head, body) = answer.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, head.to_ascii_lowercase().replace('\r', ""), body.to_owned())
    }

    /// Memory that the process holds now.
    pub fn rss_mib(&self) -> f64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.process.id())).unwrap();
        let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
        line.trim().trim_end_matches(" kB").parse::<f64>().unwrap() / 1024.0
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }
}

/// A form with one file: its media type and its body.
pub fn form(name: &str, text: &str) -> (&'static str, String) {
    let head = format!("--sheet\r\nContent-Disposition: form-data; name=\"file\"; filename=\"{name}\"\r\n\r\n");
    ("multipart/form-data; boundary=sheet", format!("{head}{text}\r\n--sheet--\r\n"))
}

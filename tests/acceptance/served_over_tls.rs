//! A real service over TLS on a free port of this machine, with accounts of every role and a planned week; it ends with the test program.
//!
//! The certificate is made by the test and trusted by its client alone. Requests are written byte by byte, so that a test says exactly what a
//! browser would have said. Not here: the service on one machine (`served`).

use crate::served::quillmere;
use rustls::pki_types::ServerName;
use rustls::{ClientConfig, ClientConnection, RootCertStore, StreamOwned};
use sheaf_app::weeks::{GivenFile, Keeping, Role, SchoolSetup, Week, Weeks};
use sheaf_web::{Records, ServeOptions, TlsOptions, serve};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::sync::{Arc, mpsc};
use std::time::Duration;

/// The week that is planned.
pub const WEEK: &str = "2026-02-02";

/// An account of each role: its name and its passphrase.
pub const ACCOUNTS: [(&str, &str, Role); 3] = [
    ("lea", "seven quiet herons", Role::Interventionist),
    ("tom", "nine loud geese on ice", Role::GradeTeam),
    ("cora", "two owls and a lamp", Role::Coach),
];

/// A service to talk to.
pub struct Door {
    pub port: u16,
    pub records: PathBuf,
    client: Arc<ClientConfig>,
    folder: tempfile::TempDir,
}

/// An answer.
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: String,
}

impl Answer {
    /// The first header of this name.
    pub fn header(&self, name: &str) -> Option<&str> {
        let mut fields = self.head.lines().filter_map(|line| line.split_once(": "));
        fields.find(|(n, _)| n.eq_ignore_ascii_case(name)).map(|(_, value)| value)
    }

    /// The session's cookie, as a browser sends it back.
    pub fn cookie(&self) -> Option<String> {
        self.header("set-cookie").and_then(|c| c.split(';').next()).map(str::to_owned)
    }
}

impl Door {
    /// Quillmere with its first week planned, and an account of each role.
    pub fn open() -> Self {
        sheaf_app::apart::read_apart_with(crate::command::binary());
        let folder = tempfile::tempdir().unwrap();
        let records = folder.path().join("school.db");
        fill(&records);
        let made = rcgen::generate_simple_self_signed(vec!["localhost".to_owned(), "127.0.0.1".to_owned()]).unwrap();
        let (certificate, key) = (folder.path().join("cert.pem"), folder.path().join("key.pem"));
        std::fs::write(&certificate, made.cert.pem()).unwrap();
        std::fs::write(&key, made.signing_key.serialize_pem()).unwrap();
        let tls = TlsOptions { certificate, key, hosts: vec!["localhost".to_owned()] };
        let (tell, told) = mpsc::channel();
        let options = ServeOptions {
            records: Records::File(records.clone()),
            addr: "127.0.0.1:0".parse().unwrap(),
            setup: setup(),
            tls: Some(tls),
            patience: crate::served::PATIENCE,
        };
        std::thread::spawn(move || {
            let result = serve(options, |address| tell.send(address.to_owned()).unwrap());
            panic!("the service stopped: {result:?}");
        });
        let address = told.recv_timeout(Duration::from_secs(60)).unwrap();
        assert!(address.starts_with("https://localhost:") && !address.contains("key="), "{address}");
        let port = address.trim_end_matches('/').rsplit_once(':').unwrap().1.parse().unwrap();
        let mut roots = RootCertStore::empty();
        roots.add(made.cert.der().clone()).unwrap();
        let client = ClientConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
        Door { port, records, client: Arc::new(client), folder }
    }

    /// Folder with `cert.pem` and `key.pem`.
    pub fn folder(&self) -> &std::path::Path {
        self.folder.path()
    }

    /// Sends bytes as they are, and gives all that comes back.
    pub fn raw(&self, request: &str) -> String {
        let name = ServerName::try_from("localhost").unwrap();
        let connection = ClientConnection::new(self.client.clone(), name).unwrap();
        let stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let mut stream = StreamOwned::new(connection, stream);
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        // The server may close without the last word of TLS; what it said before counts.
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// A request with these headers, `Host` and the end of the connection added.
    pub fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        let mut request = format!("{method} {path} HTTP/1.1\r\nHost: localhost:{}\r\nConnection: close\r\n", self.port);
        for (name, value) in headers {
            request.push_str(&format!("{name}: {value}\r\n"));
        }
        request.push_str(&format!("Content-Length: {}\r\n\r\n{body}", body.len()));
        let answer = self.raw(&request);
        let (head, body) = answer.split_once("\r\n\r\n").unwrap_or((&answer, ""));
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
        Answer { status, head: head.to_owned(), body: body.to_owned() }
    }

    /// A page, with a cookie.
    pub fn get(&self, cookie: &str, path: &str) -> Answer {
        self.ask("GET", path, &[("Cookie", cookie)], "")
    }

    /// A form of a page of ours, with a cookie.
    pub fn post(&self, cookie: &str, path: &str, body: &str) -> Answer {
        let headers = [
            ("Cookie", cookie),
            ("Sec-Fetch-Site", "same-origin"),
            ("Content-Type", "application/x-www-form-urlencoded"),
        ];
        self.ask("POST", path, &headers, body)
    }

    /// Tries a name and a passphrase, with a cookie from before.
    pub fn try_in(&self, cookie: &str, name: &str, passphrase: &str) -> Answer {
        self.post(cookie, "/sign-in", &format!("name={name}&passphrase={}", passphrase.replace(' ', "+")))
    }

    /// Signs the account of a role in and gives its cookie.
    pub fn sign_in(&self, role: Role) -> String {
        let (name, passphrase, _) = ACCOUNTS.into_iter().find(|(_, _, r)| *r == role).unwrap();
        let answer = self.try_in("", name, passphrase);
        assert_eq!(answer.status, 303, "{}", answer.body);
        answer.cookie().unwrap()
    }
}

fn setup() -> SchoolSetup {
    SchoolSetup::parse("school.toml", &String::from_utf8(quillmere("school.toml")).unwrap()).unwrap()
}

/// Quillmere's first week in these records, planned, and the accounts.
fn fill(records: &std::path::Path) {
    let weeks = Weeks::open(records, setup()).unwrap();
    let file = |name: &str| GivenFile { name: name.to_owned(), bytes: quillmere(name) };
    weeks.put_students(&file("students.csv")).unwrap();
    let week = Week::parse(WEEK).unwrap();
    weeks.take_in(week, vec![file("week1_quiz.xlsx"), file("week1_ticket.xlsx")], None, Keeping::Keep).unwrap();
    weeks.plan_week(week, None).unwrap();
    for (name, passphrase, role) in ACCOUNTS {
        weeks.add_account(name, role, passphrase).unwrap();
    }
}

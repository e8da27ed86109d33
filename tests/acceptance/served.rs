//! A real service on a free port, in a thread of the test; it ends with the test program.
//!
//! Requests can be made as a script with the token, as a browser with the cookie, as nobody, or byte by byte.

use reqwest::blocking::{Client, RequestBuilder, Response, multipart};
use sheaf_app::weeks::SchoolSetup;
use sheaf_web::{Records, ServeOptions, serve};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::mpsc;
use std::time::Duration;

/// Longer than any job of a test.
pub const PATIENCE: Duration = Duration::from_secs(60);

/// A service to talk to.
pub struct Served {
    /// `http://127.0.0.1:PORT`.
    pub base: String,
    pub port: u16,
    pub token: String,
    client: Client,
}

impl Served {
    /// The invented school, first week planned.
    pub fn demo() -> Self {
        Self::start(Records::Demo, SchoolSetup::builtin().unwrap())
    }

    /// No records at all.
    pub fn empty() -> Self {
        Self::start(Records::InMemory, SchoolSetup::builtin().unwrap())
    }

    /// The same; a form waits for no job, but leads to the page that shows how far it is.
    pub fn without_patience() -> Self {
        Self::start_with(Records::InMemory, SchoolSetup::builtin().unwrap(), Duration::ZERO)
    }

    /// Records in a file.
    pub fn file(path: &std::path::Path) -> Self {
        Self::start(Records::File(path.to_path_buf()), SchoolSetup::builtin().unwrap())
    }

    /// Records in a file, with the setup of the invented school.
    pub fn file_of_quillmere(path: &std::path::Path) -> Self {
        Self::start(Records::File(path.to_path_buf()), setup_of_quillmere())
    }

    /// No records, with the setup of the invented school.
    pub fn empty_of_quillmere() -> Self {
        Self::start(Records::InMemory, setup_of_quillmere())
    }

    /// Forms wait for their jobs, however busy the machine is.
    fn start(records: Records, setup: SchoolSetup) -> Self {
        Self::start_with(records, setup, PATIENCE)
    }

    fn start_with(records: Records, setup: SchoolSetup, patience: Duration) -> Self {
        sheaf_app::apart::read_apart_with(crate::command::binary());
        let (tell, told) = mpsc::channel();
        let options = ServeOptions { records, addr: "127.0.0.1:0".parse().unwrap(), setup, tls: None, patience };
        std::thread::spawn(move || {
            let result = serve(options, |address| tell.send(address.to_owned()).unwrap());
            panic!("the service stopped: {result:?}");
        });
        let address = told.recv_timeout(Duration::from_secs(30)).unwrap();
        let (base, token) = address.split_once("/?key=").unwrap();
        let port = base.rsplit_once(':').unwrap().1.parse().unwrap();
        let client = Client::builder().redirect(reqwest::redirect::Policy::none()).no_proxy().build().unwrap();
        Served { base: base.to_owned(), port, token: token.to_owned(), client }
    }

    /// The address that lets a browser in.
    pub fn launch_address(&self) -> String {
        format!("{}/?key={}", self.base, self.token)
    }

    /// A request as a script with the token makes it.
    pub fn script(&self, method: &str, path: &str) -> RequestBuilder {
        self.plain(method, path).bearer_auth(&self.token)
    }

    /// A request with the browser's cookie.
    pub fn with_cookie(&self, method: &str, path: &str) -> RequestBuilder {
        self.plain(method, path).header("cookie", format!("sheaf-{}={}", self.port, self.token))
    }

    /// A form without files, as a page of ours sends it.
    pub fn form(&self, path: &str, fields: &[(&str, &str)]) -> Response {
        let encode = |text: &str| text.bytes().map(|b| format!("%{b:02x}")).collect::<String>();
        let body: Vec<String> = fields.iter().map(|(n, v)| format!("{}={}", encode(n), encode(v))).collect();
        let request = self.with_cookie("POST", path).header("sec-fetch-site", "same-origin");
        request.header("content-type", "application/x-www-form-urlencoded").body(body.join("&")).send().unwrap()
    }

    /// A request without any token.
    pub fn plain(&self, method: &str, path: &str) -> RequestBuilder {
        self.client.request(method.parse().unwrap(), format!("{}{path}", self.base))
    }

    /// Hands score sheets in for a week.
    pub fn hand_in(&self, query: &str, files: &[(&str, &[u8])]) -> Response {
        let mut form = multipart::Form::new();
        for (name, bytes) in files {
            form = form.part("file", multipart::Part::bytes(bytes.to_vec()).file_name((*name).to_owned()));
        }
        self.script("POST", &format!("/api/v1/score-sheets?{query}")).multipart(form).send().unwrap()
    }

    /// Sends bytes as they are, and gives the status and the rest of the answer. For what no well-bred client would send.
    pub fn raw(&self, request: &str) -> (u16, String) {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        // A server that refuses early may close hard; what it said before counts.
        let _ = stream.read_to_end(&mut answer);
        let answer = String::from_utf8_lossy(&answer).into_owned();
        let status = answer.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
        (status, answer)
    }
}

fn setup_of_quillmere() -> SchoolSetup {
    SchoolSetup::parse("school.toml", &String::from_utf8(quillmere("school.toml")).unwrap()).unwrap()
}

/// A file of the invented school.
pub fn quillmere(name: &str) -> Vec<u8> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/schools/quillmere/");
    std::fs::read(format!("{folder}{name}")).unwrap()
}

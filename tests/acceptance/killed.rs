//! A service that is killed, or whose disk is full: what it answered is there afterwards, what it did not answer is whole or absent.
//!
//! A real process each time, killed at a drawn moment while somebody hands in, plans and decides. `SHEAF_KILLS` sets how often (left out:
//! 24), `SHEAF_KILLS_SEED` the draw. Not here: panics inside a request (`http`), power that fails under the disk itself.

use crate::command::{binary, sheaf};
use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use reqwest::blocking::{Client, RequestBuilder, Response, multipart};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

const KILLS: usize = 24;
/// Longest time from the first request to the kill, milliseconds.
const LONGEST: u64 = 900;

/// A service in a process of its own.
pub struct Running {
    child: Child,
    pub base: String,
    pub token: String,
}

impl Running {
    /// On these records; `limit` is the largest file in KiB that the system lets it write.
    fn start(records: &Path, limit: Option<u64>) -> Self {
        let serve = ["serve", "--addr", "127.0.0.1:0", "--db"];
        let mut command = match limit {
            None => Command::new(binary()),
            Some(kib) => {
                let mut shell = Command::new("bash");
                let limits = format!("trap '' XFSZ; ulimit -f {kib}; exec \"$0\" \"$@\"");
                shell.args(["-c", &limits]).arg(binary());
                shell
            }
        };
        command.args(serve).arg(records).stderr(Stdio::null());
        Self::launch(command)
    }

    /// On these records, every line of its log written down.
    pub fn with_log(records: &Path, log: std::fs::File) -> Self {
        let mut command = Command::new(binary());
        command.args(["serve", "--addr", "127.0.0.1:0", "--db"]).arg(records).env("RUST_LOG", "trace").stderr(log);
        Self::launch(command)
    }

    fn launch(mut command: Command) -> Self {
        command.stdout(Stdio::piped());
        let mut child = command.spawn().unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let line = lines.map(Result::unwrap).find(|l| l.contains("/?key=")).unwrap();
        let (base, token) = line.split_once("http://").unwrap().1.split_once("/?key=").unwrap();
        let token = token.split_whitespace().next().unwrap();
        Running { child, base: format!("http://{base}"), token: token.to_owned() }
    }

    pub fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    fn caller(&self) -> Caller {
        Caller {
            base: self.base.clone(),
            token: self.token.clone(),
            client: Client::builder().no_proxy().build().unwrap(),
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Somebody who asks, until nobody answers any more.
#[derive(Clone)]
struct Caller {
    base: String,
    token: String,
    client: Client,
}

impl Caller {
    fn call(&self, method: &str, path: &str) -> RequestBuilder {
        let request = self.client.request(method.parse().unwrap(), format!("{}/api/v1{path}", self.base));
        request.bearer_auth(&self.token).timeout(Duration::from_secs(60))
    }

    fn get(&self, path: &str) -> Response {
        self.call("GET", path).send().unwrap()
    }

    fn hand_in(&self, week: &str, sheet: String) -> reqwest::Result<Response> {
        let part = multipart::Part::bytes(sheet.into_bytes()).file_name("quiz.csv");
        let form = multipart::Form::new().part("file", part);
        self.call("POST", &format!("/score-sheets?week={week}")).multipart(form).send()
    }
}

/// What the service answered.
#[derive(Debug, Clone)]
enum Answered {
    /// An upload of this week is kept under this id.
    Upload(String),
    /// The week has a plan of at least this revision.
    Plan(String, u64),
}

/// A quiz that no other round hands in.
fn quiz(round: usize) -> String {
    let rows = ["B,A,A,D,A,B", "B,A,B,D,A,B", "C,A,A,D,A,B", "A,B,C,A,B,A", "A,B,C,A,C,A", "A,B,C,B,B,C"];
    let head = ",,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a,4.NF.A.1,4.NF.A.1,4.NF.A.1\n,,key,A,B,C,D,A,B\n";
    let labels = format!(
        "student_id,student,class,{}\n",
        (1..=6).map(|i| format!("R{round}Q{i}")).collect::<Vec<_>>().join(",")
    );
    let child = |(i, row): (usize, &&str)| format!("{:04},Child {i},5P,{row}\n", i + 1);
    format!("{head}{labels}{}", rows.iter().enumerate().map(child).collect::<String>())
}

/// The id of a kept upload.
fn id_in(answer: Response) -> reqwest::Result<String> {
    let id = answer.json::<Value>()?["id"].clone();
    Ok(id.as_str().map_or_else(|| id.to_string(), str::to_owned))
}

fn revision(answer: &Response) -> u64 {
    let tag = answer.headers()["etag"].to_str().unwrap().trim_matches('"');
    tag.split(['.', '-']).nth(3).unwrap().parse().unwrap()
}

/// Hands in, plans and moves children, round after round, until the service is gone; tells what was answered.
fn work(caller: &Caller, first_round: usize, told: &Sender<Answered>) -> reqwest::Result<()> {
    for round in first_round.. {
        let week = format!("2026-02-{:02}", 2 + 7 * (round % 3));
        let kept = caller.hand_in(&week, quiz(round))?;
        assert!(kept.status().is_success(), "{}", kept.status());
        told.send(Answered::Upload(id_in(kept)?)).unwrap();
        let planned = caller.call("POST", &format!("/weeks/{week}/plan")).send()?;
        assert!(planned.status().is_success(), "{}", planned.status());
        told.send(Answered::Plan(week.clone(), revision(&planned))).unwrap();
        let tag = planned.headers()["etag"].clone();
        let plan: Value = planned.json()?;
        let Some(child) = plan["groups"][0]["members"][0].as_str() else { continue };
        let body = json!({"student": child, "to": "g2", "reason": "works well there"});
        let moved =
            caller.call("PATCH", &format!("/weeks/{week}/groups")).header("if-match", tag).json(&body).send()?;
        if moved.status().is_success() {
            told.send(Answered::Plan(week, revision(&moved))).unwrap();
        }
    }
    Ok(())
}

/// Whether everything that was answered is there.
fn check(caller: &Caller, answered: &[Answered], round: usize) {
    for answer in answered {
        match answer {
            Answered::Upload(id) => {
                let there = caller.get(&format!("/score-sheets/{id}"));
                assert_eq!(there.status(), 200, "round {round}: upload {id} was answered and is gone");
            }
            Answered::Plan(week, least) => {
                let plan = caller.get(&format!("/weeks/{week}/plan"));
                assert_eq!(plan.status(), 200, "round {round}: {week}");
                assert!(revision(&plan) >= *least, "round {round}: {week} was answered with revision {least}");
            }
        }
    }
}

fn drain(told: &Receiver<Answered>) -> Vec<Answered> {
    told.try_iter().collect()
}

fn set_by(name: &str, else_by: usize) -> usize {
    std::env::var(name).map_or(else_by, |text| text.parse().unwrap())
}

#[test]
fn what_was_answered_survives_a_kill_at_any_moment() {
    let (kills, seed) = (set_by("SHEAF_KILLS", KILLS), set_by("SHEAF_KILLS_SEED", 1));
    let mut rng = Xoshiro256Plus::seed_from_u64(seed as u64);
    let folder = tempfile::tempdir().unwrap();
    let (mut records, mut answered) = (folder.path().join("0.db"), Vec::new());
    let (mut n_answered, mut n_cut) = (0, 0);
    for round in 0..kills {
        // Records of their own every few kills, or the weeks grow without end.
        if round % 8 == 0 {
            (records, answered) = (folder.path().join(format!("{round}.db")), Vec::new());
        }
        let mut running = Running::start(&records, None);
        let caller = running.caller();
        check(&caller, &answered, round);
        let (tell, told) = channel();
        let worker = std::thread::spawn(move || work(&caller, round * 100, &tell).is_err());
        std::thread::sleep(Duration::from_millis(rng.gen_range(0..LONGEST)));
        running.kill();
        n_cut += usize::from(worker.join().unwrap());
        answered.extend(drain(&told));
        n_answered += answered.len();
        let verified = sheaf(["verify", "--db", records.to_str().unwrap()]);
        assert_eq!(verified.code, 0, "round {round}, seed {seed}: {}", verified.err);
    }
    check(&Running::start(&records, None).caller(), &answered, kills);
    assert_eq!(n_cut, kills, "every worker was cut off");
    assert!(n_answered > kills, "too little was answered to say anything: {n_answered}");
}

#[test]
fn a_full_disk_is_one_sentence_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("weeks.db");
    let mut kept = Vec::new();
    {
        let running = Running::start(&records, Some(600));
        let caller = running.caller();
        let mut refusal = None;
        for round in 0..200 {
            // Remarks beside the answers make the sheet large.
            let sheet = format!("{}{}", quiz(round), ",,,\n".repeat(2000));
            let answer = caller.hand_in("2026-02-02", sheet).unwrap();
            if answer.status().is_success() {
                kept.push(id_in(answer).unwrap());
            } else {
                refusal = Some((answer.status().as_u16(), answer.json::<Value>().unwrap()));
                break;
            }
        }
        let (status, problem) = refusal.expect("the disk never filled up");
        let said = problem["detail"].as_str().unwrap();
        assert_eq!((status, problem["code"].as_str()), (503, Some("records-busy")), "{said}");
        assert!(said.contains("full") && said.contains("nothing was changed"), "{said}");
        assert!(!kept.is_empty());
        for id in &kept {
            assert_eq!(caller.get(&format!("/score-sheets/{id}")).status(), 200, "{id} while the disk is full");
        }
    }
    let verified = sheaf(["verify", "--db", records.to_str().unwrap()]);
    assert_eq!(verified.code, 0, "{}", verified.err);
    let caller = Running::start(&records, None);
    let caller = caller.caller();
    for id in &kept {
        assert_eq!(caller.get(&format!("/score-sheets/{id}")).status(), 200, "{id} once there is room");
    }
    assert!(caller.hand_in("2026-02-02", quiz(999)).unwrap().status().is_success());
}

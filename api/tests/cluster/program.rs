//! The program as its users start it: it comes up, answers, keeps its data and ends in good order.
//!
//! The outside witnesses are the process table, the file system, plain HTTP over a socket and
//! PostgreSQL itself.

use std::fs;
use std::io::{BufRead, BufReader, Lines, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Child, ChildStderr, Command, Output, Stdio};

use chrono::TimeDelta;
use nix::errno::Errno;
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use parings::cluster::{Cluster, SUPERUSER, roles};
use parings::db::migrate;
use parings::edge::Clock;

use super::{ask, scratch, server_pid, start};

/// Without what the caller's environment says.
pub(super) fn parings(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_parings"));
    for name in ["DATABASE_URL", "OWNER_DATABASE_URL", "RUST_LOG"] {
        command.env_remove(name);
    }
    for name in ["PARINGS_DATA", "PARINGS_PORT", "PARINGS_ADDRESS"] {
        command.env_remove(name);
    }
    command.args(arguments);
    command
}

pub(super) fn run(arguments: &[&str]) -> Output {
    parings(arguments).output().expect("the program runs")
}

/// What a command that must succeed says.
pub(super) fn said(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("UTF-8")
}

/// What a command that must fail says.
pub(super) fn refused(arguments: &[&str]) -> String {
    let output = run(arguments);
    assert_eq!(output.status.code(), Some(1), "{}", String::from_utf8_lossy(&output.stdout));
    String::from_utf8(output.stderr).expect("UTF-8")
}

/// A server that has said where it answers.
pub(super) struct Running {
    child: Child,
    address: String,
    log: Lines<BufReader<ChildStderr>>,
}

impl Running {
    fn start(arguments: &[&str]) -> Self {
        let mut command = parings(arguments);
        let mut child =
            command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it starts");
        let stdout = BufReader::new(child.stdout.take().expect("standard output"));
        let log = BufReader::new(child.stderr.take().expect("standard error")).lines();
        let answers = stdout.lines().map_while(Result::ok).find_map(|line| {
            line.strip_prefix("Parings answers at http://").map(|address| address.to_owned())
        });
        // Nobody reads on from here, which must not matter.
        match answers {
            Some(address) => Self { child, address, log },
            None => panic!("it ends early: {:?}", log.collect::<Vec<_>>()),
        }
    }

    fn up(data: &Path) -> Self {
        Self::start(&["up", "--empty", "--port", "0", "--data", path(data)])
    }

    pub(super) fn up_with_demo(data: &Path) -> Self {
        Self::start(&["up", "--port", "0", "--data", path(data)])
    }

    fn pid(&self) -> Pid {
        Pid::from_raw(self.child.id().cast_signed())
    }

    fn get(&self, path: &str) -> String {
        self.send("GET", path, "", "")
    }

    fn send(&self, method: &str, path: &str, headers: &str, body: &str) -> String {
        let mut stream = TcpStream::connect(&self.address).expect("it listens");
        let length = body.len();
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: parings\r\nConnection: close\r\n{headers}\
             Content-Type: application/json\r\nContent-Length: {length}\r\n\r\n{body}"
        );
        stream.write_all(request.as_bytes()).expect("sent");
        let mut reply = String::new();
        stream.read_to_string(&mut reply).expect("a reply");
        reply
    }

    /// The header of somebody of the demo who has signed in.
    fn signed_in(&self, data: &Path, role: &str) -> String {
        let told = fs::read_to_string(data.join("sign-ins.txt")).expect("sign-ins");
        let line = told.lines().find(|line| line.starts_with(role)).expect("the role");
        let words: Vec<&str> = line.split_whitespace().collect();
        let email = words.iter().find(|word| word.contains('@')).expect("an address");
        let password = words.last().expect("a password");
        let body = format!(r#"{{"email":"{email}","password":"{password}"}}"#);
        let reply = self.send("POST", "/v1/sessions", "", &body);
        let (_, token) = reply.split_once(r#""access_token":""#).expect("a token");
        let (token, _) = token.split_once('"').expect("its end");
        format!("Authorization: Bearer {token}\r\n")
    }

    fn assert_ready(&self) {
        let reply = self.get("/readyz");
        assert!(reply.starts_with("HTTP/1.1 200 "), "{reply}");
        assert!(reply.contains(&migrate::newest()), "{reply}");
    }

    /// Reads the log until a line holds `words`.
    fn await_log(&mut self, words: &str) {
        let found = self.log.by_ref().map_while(Result::ok).any(|line| line.contains(words));
        assert!(found, "the log ends without: {words}");
    }

    pub(super) fn ends_well_at(mut self, signal: Signal) {
        kill(self.pid(), signal).expect("signalled");
        assert!(self.child.wait().expect("it ends").success(), "{signal}");
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // Gone already when the test went well.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

pub(super) fn path(path: &Path) -> &str {
    path.to_str().expect("UTF-8")
}

fn mode(path: &Path) -> u32 {
    fs::metadata(path).expect("it is there").permissions().mode() & 0o777
}

#[test]
fn up_answers_and_its_data_stay_from_one_start_to_the_next() {
    let scratch = scratch();
    let data = scratch.path();
    let people =
        |arguments: &[&str]| said(&[&["people"], arguments, &["--data", path(data)]].concat());

    let server = Running::up(data);
    server.assert_ready();
    let added = people(&["add", "ada@example.com", "--name", "Ada"]);
    assert!(added.starts_with("added Ada as office\npassword: "), "{added}");
    server.ends_well_at(Signal::SIGTERM);
    assert!(!data.join("postgres/postmaster.pid").exists(), "PostgreSQL stopped in good order");

    let server = Running::up(data);
    server.assert_ready();
    assert_eq!(people(&["list"]), "ada@example.com\toffice\t\tactive\tAda\n");
    server.ends_well_at(Signal::SIGINT);
    let error = refused(&["people", "list", "--data", path(data)]);
    assert!(error.contains("no Parings runs in"), "{error}");
}

#[test]
fn up_serves_without_root_and_keeps_its_keys_to_itself() {
    let scratch = scratch();
    let server = Running::up(scratch.path());
    let status = fs::read_to_string(format!("/proc/{}/status", server.pid())).expect("a process");
    for line in status.lines().filter(|line| line.starts_with("Uid:") || line.starts_with("Gid:")) {
        assert!(!line.split_whitespace().skip(1).any(|id| id == "0"), "{line}");
    }
    let keys = scratch.path().join("keys");
    assert_eq!(mode(&keys), 0o700);
    let files: Vec<_> = fs::read_dir(&keys).expect("keys").flatten().collect();
    assert_eq!(files.len(), 2, "{files:?}");
    for file in files {
        assert_eq!(mode(&file.path()), 0o600, "{}", file.path().display());
    }
    server.ends_well_at(Signal::SIGTERM);
}

#[test]
fn up_comes_back_after_it_was_killed() {
    let scratch = scratch();
    let server = Running::up(scratch.path());
    let (keeper, database) = (server.pid(), server_pid(scratch.path()));
    kill(keeper, Signal::SIGKILL).expect("killed");
    drop(server);
    let server = Running::up(scratch.path());
    server.assert_ready();
    assert_ne!(server_pid(scratch.path()), database);
    server.ends_well_at(Signal::SIGTERM);
}

/// Invariant 3. The server and every process of PostgreSQL are killed at once after the answer; the
/// disk is the witness.
#[test]
fn an_acknowledged_night_survives_a_kill_of_everything() {
    let scratch = scratch();
    let data = scratch.path();
    small_demo(data);
    let server = Running::up_with_demo(data);
    // The business date of the store: its cut-off is at five.
    let today =
        Clock::Machine.now().with_timezone(&chrono_tz::Europe::Lisbon) - TimeDelta::hours(5);
    let night = format!("/v1/stores/hethermill/nights/{}", today.format("%Y-%m-%d"));
    let body = r#"{"submission_id":"018f2f9e-0000-7000-8000-0000000000c1","complete":false,
        "lines":[{"item":"potato","place":"dry-store","quantity":{"value":"13.5","unit":"sack"}}]}"#;
    let headers = server.signed_in(data, "manager") + "If-None-Match: *\r\n";
    let first = server.send("PUT", &night, &headers, body);
    // Before the store opens, the count waits for an answer: it is acknowledged all the same.
    let status = first.split("\r\n").next().unwrap_or_default().to_owned();
    assert!(
        ["HTTP/1.1 201 Created", "HTTP/1.1 202 Accepted"].contains(&status.as_str()),
        "{first}"
    );

    let database = server_pid(data);
    let backends = children(database);
    kill(server.pid(), Signal::SIGKILL).expect("killed");
    // Backends may end by themselves once their client is gone.
    for process in [database].into_iter().chain(backends) {
        let killed = kill(process, Signal::SIGKILL);
        assert!(matches!(killed, Ok(()) | Err(Errno::ESRCH)), "{killed:?}");
    }
    drop(server);

    let server = Running::up_with_demo(data);
    let headers = server.signed_in(data, "manager");
    let read = server.send("GET", &night, &headers, "");
    assert!(read.contains(r#""revision":1"#) && read.contains(r#""value":"13.5""#), "{read}");
    let again = server.send("PUT", &night, &(headers + "If-None-Match: *\r\n"), body);
    let answer = |reply: &str| reply.split_once("\r\n\r\n").map(|(_, body)| body.to_owned());
    assert!(again.starts_with(&status), "{again}");
    assert_eq!(answer(&again), answer(&first), "the resend is answered as the first time");
    server.ends_well_at(Signal::SIGTERM);
}

/// Loads six stores and two weeks, as `parings demo` does; a second time it refuses.
pub(super) fn small_demo(data: &Path) {
    let small = ["demo", "--stores", "6", "--weeks", "2", "--data", path(data)];
    assert!(said(&small).contains("parings up --data"));
    let error = refused(&small);
    assert!(error.contains("there are stores already"), "{error}");
}

/// The processes that a process has started, as `/proc` lists them.
fn children(of: Pid) -> Vec<Pid> {
    let listed = fs::read_to_string(format!("/proc/{of}/task/{of}/children")).expect("a process");
    listed.split_whitespace().map(|pid| Pid::from_raw(pid.parse().expect("a number"))).collect()
}

/// Killed as by the system when memory runs out, and stopped by hand. Meanwhile a request is answered
/// that the database is away; afterwards the next one is answered as if nothing had been.
#[test]
fn up_starts_its_database_again_when_it_ends() {
    let scratch = scratch();
    let mut server = Running::up(scratch.path());
    for signal in [Signal::SIGKILL, Signal::SIGINT] {
        server.assert_ready();
        let database = server_pid(scratch.path());
        kill(database, signal).expect("signalled");
        server.await_log("PostgreSQL ended by itself");
        let reply = server.get("/readyz");
        if !reply.starts_with("HTTP/1.1 200 ") {
            assert!(reply.starts_with("HTTP/1.1 503 "), "{reply}");
            assert!(reply.to_ascii_lowercase().contains("\r\nretry-after: 10\r\n"), "{reply}");
            assert!(reply.contains("The server cannot reach its database."), "{reply}");
        }
        server.await_log("PostgreSQL runs again");
        assert_ne!(server_pid(scratch.path()), database);
        server.assert_ready();
    }
    server.ends_well_at(Signal::SIGTERM);
    assert!(!scratch.path().join("postgres/postmaster.pid").exists(), "stopped in good order");
}

/// As on a full disk: the server cannot start, and is tried again. Asked to stop meanwhile, it stops.
#[test]
fn up_goes_on_trying_while_its_database_does_not_start() {
    let scratch = scratch();
    let mut server = Running::up(scratch.path());
    let postgres = scratch.path().join("postgres");
    // Without this file there is no cluster in the folder.
    let (control, away) = (postgres.join("global/pg_control"), scratch.path().join("away"));
    fs::rename(&control, &away).expect("moved away");
    kill(server_pid(scratch.path()), Signal::SIGQUIT).expect("signalled");
    server.await_log("PostgreSQL does not start");
    let reply = server.get("/readyz");
    assert!(reply.starts_with("HTTP/1.1 503 "), "{reply}");
    assert!(reply.contains("The server cannot reach its database."), "{reply}");
    assert!(server.get("/healthz").starts_with("HTTP/1.1 200 "));
    fs::rename(&away, &control).expect("moved back");
    server.await_log("PostgreSQL runs again");
    server.assert_ready();
    server.ends_well_at(Signal::SIGTERM);
}

#[test]
fn a_port_that_is_taken_is_told_before_anything_is_made() {
    let scratch = scratch();
    let taken = TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = taken.local_addr().expect("an address").port().to_string();
    let data = scratch.path().join("data");
    let error = refused(&["up", "--port", &port, "--data", path(&data)]);
    assert!(error.contains("--port") && error.contains(&port), "{error}");
    assert!(!data.exists());
}

/// A cluster as somebody else would keep it, migrated by the program.
fn migrated(data: &Path) -> (Cluster, String) {
    let cluster = start(data);
    roles::ensure_roles(&cluster.url(SUPERUSER, "postgres")).expect("roles");
    let owner = cluster.url(roles::OWNER, roles::DATABASE);
    let newest = format!("the database is at migration {}\n", migrate::newest());
    let first = said(&["migrate", "--owner-database-url", &owner]);
    assert!(first.contains("ran ") && first.ends_with(&newest), "{first}");
    assert_eq!(said(&["migrate", "--owner-database-url", &owner]), newest);
    (cluster, owner)
}

#[test]
fn serve_finishes_an_open_request_before_it_ends() {
    let scratch = scratch();
    let (cluster, owner) = migrated(&scratch.path().join("cluster"));
    let admin = cluster.url(SUPERUSER, roles::DATABASE);
    ask(&admin, "CREATE ROLE kitchen LOGIN; GRANT parings_app TO kitchen").expect("a login");
    let app = cluster.url("kitchen", roles::DATABASE);
    let keys = scratch.path().join("data");
    let mut server = Running::start(&[
        "serve",
        "--database-url",
        &app,
        "--owner-database-url",
        &owner,
        "--port",
        "0",
        "--data",
        path(&keys),
    ]);
    server.assert_ready();

    // "100 Continue" says that the request is taken and its body awaited (RFC 9110, 10.1.1).
    let body = r#"{"email":"ada@example.com","password":"not the password"}"#;
    let mut stream = TcpStream::connect(&server.address).expect("it listens");
    let head = format!(
        "POST /v1/sessions HTTP/1.1\r\nHost: parings\r\nContent-Type: application/json\r\n\
         Content-Length: {}\r\nExpect: 100-continue\r\nConnection: close\r\n\r\n",
        body.len()
    );
    stream.write_all(head.as_bytes()).expect("sent");
    let mut replies = BufReader::new(stream.try_clone().expect("the same stream"));
    let mut line = String::new();
    replies.read_line(&mut line).expect("a line");
    assert!(line.starts_with("HTTP/1.1 100 "), "{line}");
    kill(server.pid(), Signal::SIGINT).expect("signalled");
    server.await_log("open requests finish");
    stream.write_all(body.as_bytes()).expect("sent");
    let mut reply = String::new();
    replies.read_to_string(&mut reply).expect("a reply");
    assert!(reply.trim_start().starts_with("HTTP/1.1 401 "), "{reply}");
    assert!(server.child.wait().expect("it ends").success());
}

#[test]
fn serve_refuses_a_login_that_may_do_more_than_serve() {
    let scratch = scratch();
    let (cluster, _) = migrated(&scratch.path().join("cluster"));
    let admin = cluster.url(SUPERUSER, roles::DATABASE);
    ask(
        &admin,
        "CREATE ROLE bypasser LOGIN BYPASSRLS; GRANT parings_app TO bypasser;
         CREATE ROLE stranger LOGIN; GRANT CONNECT ON DATABASE parings TO stranger;
         CREATE ROLE reader LOGIN; GRANT parings_app, parings_read TO reader",
    )
    .expect("logins");
    for (login, reason) in [
        (SUPERUSER, "is a superuser"),
        ("bypasser", "bypasses row-level security"),
        ("stranger", "is no member of parings_app"),
        ("reader", "is also a member of parings_read"),
        (roles::OWNER, "parings_app"),
    ] {
        let url = cluster.url(login, roles::DATABASE);
        let data = scratch.path().join("data");
        let error =
            refused(&["serve", "--database-url", &url, "--port", "0", "--data", path(&data)]);
        assert!(error.contains(reason), "{login}: {error}");
        assert!(!data.exists(), "nothing was begun");
    }
}

#[test]
fn the_printed_document_is_the_committed_one() {
    let committed = Path::new(env!("CARGO_MANIFEST_DIR")).join("openapi.json");
    assert_eq!(said(&["openapi"]), fs::read_to_string(committed).expect("api/openapi.json"));
}

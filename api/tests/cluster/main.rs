//! The private cluster against a real PostgreSQL: it starts, keeps its data, stays private, and
//! survives the deaths of its keeper and of its server.
//!
//! Beside PostgreSQL itself the outside witnesses are tokio-postgres, the file system and the
//! process table.

mod files;
mod program;

use std::fs;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use parings::cluster::{Cluster, ClusterError, SUPERUSER, Settings, Step, roles};
use tempfile::TempDir;
use tokio_postgres::{Config, NoTls, SimpleQueryMessage};

/// A folder that goes away with the value; `/tmp` lets every account through.
fn scratch() -> TempDir {
    tempfile::Builder::new().prefix("parings-test-").tempdir_in("/tmp").expect("a scratch folder")
}

fn settings(data: impl Into<PathBuf>) -> Settings {
    Settings { fsync: false, ..Settings::new(data) }
}

fn start(data: &Path) -> Cluster {
    Cluster::start(&settings(data)).expect("the cluster starts")
}

/// Runs `sql` and gives the first column of the first row of the last statement that has rows.
fn ask(url: &str, sql: &str) -> Result<Option<String>, tokio_postgres::Error> {
    let runtime =
        tokio::runtime::Builder::new_current_thread().enable_all().build().expect("tokio");
    runtime.block_on(async {
        let (client, connection) = tokio_postgres::connect(url, NoTls).await?;
        let asking = async move { client.simple_query(sql).await };
        let (answer, _) = tokio::join!(asking, connection);
        Ok(answer?.iter().rev().find_map(|message| match message {
            SimpleQueryMessage::Row(row) => row.get(0).map(str::to_owned),
            _ => None,
        }))
    })
}

fn server_pid(data: &Path) -> Pid {
    let text = fs::read_to_string(data.join("postgres/postmaster.pid")).expect("a pid file");
    Pid::from_raw(text.lines().next().expect("a line").parse().expect("a number"))
}

#[test]
fn data_stays_from_one_start_to_the_next() {
    let scratch = scratch();
    let cluster = start(scratch.path());
    let url = cluster.url(SUPERUSER, "postgres");
    ask(&url, "CREATE TABLE night (n int); INSERT INTO night VALUES (42)").expect("a table");
    cluster.stop().expect("it stops");

    let mut steps = Vec::new();
    let cluster = Cluster::start_reporting(&settings(scratch.path()), |step| steps.push(step));
    let cluster = cluster.expect("the cluster starts again");
    assert_eq!(steps, [Step::FindPrograms, Step::StartServer], "nothing is created anew");
    let url = cluster.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SELECT n FROM night").expect("a row").as_deref(), Some("42"));
}

#[test]
fn dropping_the_cluster_ends_the_server() {
    let scratch = scratch();
    let mut cluster = start(scratch.path());
    let pid = server_pid(scratch.path());
    assert!(cluster.is_running());
    drop(cluster);
    assert!(kill(pid, None).is_err(), "no such process");
    assert!(!scratch.path().join("postgres/postmaster.pid").exists(), "stopped in good order");
}

#[test]
fn only_the_account_may_enter_and_nothing_listens_on_the_network() {
    let scratch = scratch();
    let cluster = start(scratch.path());
    for folder in [scratch.path(), cluster.socket_dir()] {
        let mode = fs::metadata(folder).expect("a folder").permissions().mode();
        assert_eq!(mode & 0o777, 0o700, "{}", folder.display());
    }
    let owner = fs::metadata(scratch.path().join("postgres")).expect("a folder").uid();
    assert_ne!(owner, 0, "PostgreSQL does not run as root");
    let url = cluster.url(SUPERUSER, "postgres");
    let setting = |name: &str| ask(&url, &format!("SHOW {name}")).expect("a setting");
    assert_eq!(setting("listen_addresses").as_deref(), Some(""));
    assert_ne!(setting("port").as_deref(), Some("5432"));
    assert_eq!(setting("data_checksums").as_deref(), Some("on"));
    assert_eq!(setting("server_encoding").as_deref(), Some("UTF8"));
}

#[test]
fn a_second_keeper_is_turned_away_and_the_first_goes_on() {
    let scratch = scratch();
    let first = start(scratch.path());
    let error = Cluster::start(&settings(scratch.path())).expect_err("it is in use");
    assert!(matches!(&error, ClusterError::InUse { .. }), "{error}");
    let keeper = format!("process {}", std::process::id());
    assert!(error.to_string().contains(&keeper), "{error}");
    let url = first.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SELECT 1").expect("a row").as_deref(), Some("1"));
}

#[test]
fn a_killed_server_is_noticed_and_the_next_start_recovers() {
    let scratch = scratch();
    // Without fsync, commits come back before they are written.
    let careful = Settings::new(scratch.path());
    let mut cluster = Cluster::start(&careful).expect("the cluster starts");
    let url = cluster.url(SUPERUSER, "postgres");
    ask(&url, "CREATE TABLE night (n int); INSERT INTO night VALUES (7)").expect("a table");
    kill(server_pid(scratch.path()), Signal::SIGKILL).expect("killed");
    while cluster.is_running() {
        std::thread::yield_now();
    }
    drop(cluster);
    assert!(scratch.path().join("postgres/postmaster.pid").exists(), "the stale file is there");

    let cluster = Cluster::start(&careful).expect("the cluster recovers");
    let url = cluster.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SELECT n FROM night").expect("a row").as_deref(), Some("7"));
}

#[test]
fn a_backend_that_outlives_a_killed_server_is_waited_for() {
    let scratch = scratch();
    let cluster = start(scratch.path());
    let url = cluster.url(SUPERUSER, "postgres");
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().expect("tokio");
    let (session, backend) = runtime.block_on(async {
        let (client, connection) = tokio_postgres::connect(&url, NoTls).await.expect("a session");
        tokio::spawn(connection);
        let row = client.query_one("SELECT pg_backend_pid()", &[]).await.expect("a row");
        (client, Pid::from_raw(row.get(0)))
    });
    // Held still, the backend cannot notice that its server is gone and keeps the shared memory.
    kill(backend, Signal::SIGSTOP).expect("held still");
    kill(server_pid(scratch.path()), Signal::SIGKILL).expect("killed");
    drop(cluster);

    let data = scratch.path();
    let log = data.join("postgres.log");
    let cluster = std::thread::scope(|scope| {
        let starting = scope.spawn(|| start(data));
        let refused = || fs::read_to_string(&log).is_ok_and(|log| log.contains("shared memory"));
        while !refused() && !starting.is_finished() {
            std::thread::yield_now();
        }
        assert!(!starting.is_finished(), "two servers share the data");
        kill(backend, Signal::SIGCONT).expect("let go");
        starting.join().expect("the cluster starts")
    });
    drop(session);
    let url = cluster.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SELECT 1").expect("a row").as_deref(), Some("1"));
}

#[test]
fn a_pid_file_whose_number_went_to_another_process_does_not_stop_the_start() {
    let scratch = scratch();
    start(scratch.path()).stop().expect("it stops");
    // Owned by the cluster's account, as PostgreSQL looks only at processes it may signal.
    let owner = fs::metadata(scratch.path().join("postgres")).expect("a folder");
    let mut other = Command::new("sleep");
    other.arg("600");
    if nix::unistd::geteuid().is_root() {
        use std::os::unix::process::CommandExt;
        other.uid(owner.uid()).gid(owner.gid());
    }
    let mut other = other.spawn().expect("another process");
    let stale = scratch.path().join("postgres/postmaster.pid");
    let text = format!("{}\n{}\n1\n5499\n\n\n", other.id(), scratch.path().display());
    fs::write(&stale, text).expect("a stale file");

    let started = Cluster::start(&settings(scratch.path()));
    let other_lives = matches!(other.try_wait(), Ok(None));
    other.kill().and_then(|()| other.wait()).expect("the other process ends");
    started.expect("the cluster starts").stop().expect("it stops");
    assert!(other_lives, "the other process is none of our business");
}

#[test]
fn a_server_whose_keeper_died_is_stopped_and_started_again() {
    let scratch = scratch();
    let cluster = start(scratch.path());
    let postgres = fs::canonicalize(format!("/proc/{}/exe", server_pid(scratch.path())));
    let owner = fs::metadata(scratch.path().join("postgres")).expect("a folder");
    cluster.stop().expect("it stops");

    // A server without a keeper: nobody holds the lock.
    let mut server = Command::new(postgres.expect("the server's program"));
    server.arg("-D").arg(scratch.path().join("postgres")).current_dir("/");
    server.args(["-c", "listen_addresses=", "-c"]);
    server.arg(format!("unix_socket_directories={}/socket", scratch.path().display()));
    if nix::unistd::geteuid().is_root() {
        use std::os::unix::process::CommandExt;
        server.uid(owner.uid()).gid(owner.gid());
    }
    let mut server = server.stderr(Stdio::null()).spawn().expect("a server");
    let pid_file = scratch.path().join("postgres/postmaster.pid");
    while !fs::read_to_string(&pid_file).is_ok_and(|text| text.contains("ready")) {
        assert!(matches!(server.try_wait(), Ok(None)), "the server runs");
        std::thread::yield_now();
    }
    let reaper = std::thread::spawn(move || server.wait());

    let mut steps = Vec::new();
    let cluster = Cluster::start_reporting(&settings(scratch.path()), |step| steps.push(step));
    let cluster = cluster.expect("the cluster starts");
    assert_eq!(steps, [Step::FindPrograms, Step::StopOrphan, Step::StartServer]);
    assert!(reaper.join().expect("no panic").expect("waited").success(), "ended in good order");
    let url = cluster.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SELECT 1").expect("a row").as_deref(), Some("1"));
}

#[test]
fn a_half_made_cluster_is_made_again() {
    let scratch = scratch();
    fs::write(scratch.path().join("parings.lock"), "1\n").expect("a lock file");
    fs::create_dir(scratch.path().join("postgres.new")).expect("a folder");
    fs::write(scratch.path().join("postgres.new/PG_VERSION"), "15\n").expect("a file");
    let cluster = start(scratch.path());
    let url = cluster.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SELECT 1").expect("a row").as_deref(), Some("1"));
    assert!(!scratch.path().join("postgres.new").exists());
}

#[test]
fn a_folder_with_other_files_is_left_alone() {
    let scratch = scratch();
    fs::write(scratch.path().join("letter.txt"), "dear").expect("a file");
    let before = fs::metadata(scratch.path()).expect("a folder");
    let error = Cluster::start(&settings(scratch.path())).expect_err("it is not ours");
    assert!(matches!(error, ClusterError::NotOurs { .. }), "{error}");
    let after = fs::metadata(scratch.path()).expect("a folder");
    assert_eq!((before.uid(), before.mode()), (after.uid(), after.mode()));
}

#[test]
fn a_path_too_long_for_a_socket_or_full_of_odd_characters_works() {
    let scratch = scratch();
    let data = scratch.path().join(format!("a, \"b\" 100%@é {}", "long".repeat(30)));
    fs::set_permissions(scratch.path(), fs::Permissions::from_mode(0o755)).expect("mode");
    let cluster = start(&data);
    let socket_dir = cluster.socket_dir().to_owned();
    assert!(!socket_dir.starts_with(&data), "{}", socket_dir.display());
    let url = cluster.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SELECT 1").expect("a row").as_deref(), Some("1"));
    cluster.stop().expect("it stops");
    assert!(!socket_dir.exists(), "nothing is left over");

    let odd = scratch.path().join("a, \"b\" 100%@é");
    let cluster = start(&odd);
    assert!(cluster.socket_dir().starts_with(&odd));
    let url = cluster.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SELECT 1").expect("a row").as_deref(), Some("1"));
}

#[test]
fn the_url_parses_to_the_socket_the_role_and_the_database() {
    let scratch = scratch();
    let cluster = start(scratch.path());
    let config: Config = cluster.url("parings_app", "parings").parse().expect("a URL");
    let host = tokio_postgres::config::Host::Unix(cluster.socket_dir().to_owned());
    assert_eq!(config.get_hosts(), [host]);
    assert_eq!(config.get_user(), Some("parings_app"));
    assert_eq!(config.get_dbname(), Some("parings"));
    let [port] = config.get_ports() else { panic!("one port: {:?}", config.get_ports()) };
    assert!(cluster.socket_dir().join(format!(".s.PGSQL.{port}")).exists());
}

#[test]
fn further_settings_win() {
    let scratch = scratch();
    let extra = vec![("max_connections".to_owned(), "23".to_owned())];
    let settings = Settings { extra, ..settings(scratch.path()) };
    let cluster = Cluster::start(&settings).expect("the cluster starts");
    let url = cluster.url(SUPERUSER, "postgres");
    assert_eq!(ask(&url, "SHOW max_connections").expect("a row").as_deref(), Some("23"));
}

#[test]
fn a_setting_the_server_refuses_is_told_with_the_log() {
    let scratch = scratch();
    let extra = vec![("max_connections".to_owned(), "many".to_owned())];
    let settings = Settings { extra, ..settings(scratch.path()) };
    let error = Cluster::start(&settings).expect_err("the server refuses");
    assert!(error.to_string().contains("max_connections"), "{error}");
    start(scratch.path()).stop().expect("the folder is free again");
}

#[test]
fn roles_can_do_their_own_work_and_no_more() {
    let scratch = scratch();
    let cluster = start(scratch.path());
    let bootstrap = cluster.url(SUPERUSER, "postgres");
    for _ in 0..2 {
        roles::ensure_roles(&bootstrap).expect("roles, once and again");
    }
    let roles_with_power = "SELECT count(*) FROM pg_roles WHERE rolname LIKE 'parings%'
        AND (rolsuper OR rolbypassrls OR rolcreaterole OR rolcreatedb OR rolreplication)";
    assert_eq!(ask(&bootstrap, roles_with_power).expect("a row").as_deref(), Some("0"));

    let owner = cluster.url(roles::OWNER, roles::DATABASE);
    let made = ask(
        &owner,
        "CREATE SCHEMA kitchen; CREATE TABLE kitchen.night (n int); CREATE TABLE plain (n int);
         GRANT USAGE, CREATE ON SCHEMA kitchen TO parings_signin;
         CREATE FUNCTION kitchen.who() RETURNS text LANGUAGE sql SECURITY DEFINER
             AS 'SELECT current_user::text';
         ALTER FUNCTION kitchen.who() OWNER TO parings_signin;
         SELECT kitchen.who()",
    );
    assert_eq!(made.expect("the owner makes things").as_deref(), Some(roles::SIGNIN));

    for role in [roles::APP, roles::SIGNIN, roles::JOBS, roles::READ] {
        let url = cluster.url(role, roles::DATABASE);
        assert_eq!(ask(&url, "SELECT current_user").expect("a row").as_deref(), Some(role));
        for forbidden in
            ["CREATE SCHEMA mine", "CREATE TABLE public.mine (n int)", "TABLE public.plain"]
        {
            let error = ask(&url, forbidden).expect_err(forbidden);
            let code = error.code().map(|code| code.code().to_owned());
            // insufficient_privilege, PostgreSQL manual, appendix A. From memory.
            assert_eq!(code.as_deref(), Some("42501"), "{role}: {forbidden}");
        }
    }
}

#[tokio::test]
async fn roles_can_be_ensured_inside_a_runtime() {
    let scratch = scratch();
    let cluster = start(scratch.path());
    let bootstrap = cluster.url(SUPERUSER, "postgres");
    roles::ensure_roles(&bootstrap).expect("roles");
}

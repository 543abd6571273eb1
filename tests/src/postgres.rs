//! A PostgreSQL server for one test program, thrown away with it.

use std::io::{BufRead, BufReader};
use std::os::unix::fs::{MetadataExt, chown};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};
use std::{env, fs};

use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use quietbeam::clock::{Clock, Randomness};
use quietbeam::store::{Address, Store, StoreSettings};

/// Waits until the tests end (its input closes then, however they end), and cleans up.
const KEEPER: &str = r#"
"$BIN/initdb" -D data -A trust -U registry --encoding=UTF8 --locale=C.UTF-8 --no-sync >log 2>&1 &&
"$BIN/pg_ctl" -D data -l log -w -o "-k $DIR -c listen_addresses= -c max_connections=300 $OPTIONS" start >>log 2>&1 || { cat log; exit 1; }
echo ready
cat >/dev/null
"$BIN/pg_ctl" -D data -m immediate stop >>log 2>&1
cd / && rm -rf "$DIR"
"#;

/// A server whose databases may be lost: tests need no durability, only speed.
const FAST: &str = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off";

/// A running server.
pub struct Server {
    /// Address without the name of a database.
    base: String,
    template: OnceLock<String>,
    /// The server stops when the keeper's input is closed.
    keeper: Option<Child>,
}

impl Drop for Server {
    fn drop(&mut self) {
        if let Some(mut keeper) = self.keeper.take() {
            drop(keeper.stdin.take());
            keeper.wait().expect("the server to stop");
        }
    }
}

static SERVER: OnceLock<Server> = OnceLock::new();
static DATABASES: AtomicU32 = AtomicU32::new(0);

/// The server of this test program.
pub fn server() -> &'static Server {
    SERVER.get_or_init(|| match env::var("QUIETBEAM_TEST_POSTGRES") {
        Ok(url) => {
            let base = url.rsplit_once('/').expect("QUIETBEAM_TEST_POSTGRES is postgres://USER@HOST/NAME").0;
            Server { base: base.to_owned(), template: OnceLock::new(), keeper: None }
        }
        Err(_) => Server::start(FAST),
    })
}

impl Server {
    /// Starts a server of its own with these options.
    pub fn start(options: &str) -> Self {
        let bin = find_programs();
        let directory = tempfile::Builder::new().prefix("qb-pg-").tempdir().expect("a folder").keep();
        let mut keeper = Command::new("sh");
        if fs::metadata(&directory).expect("the folder").uid() == 0 {
            // The server refuses to run as root.
            let (user, group) = unprivileged_user();
            chown(&directory, Some(user), Some(group)).expect("to give the folder away");
            keeper.uid(user).gid(group);
        }
        let mut child = keeper
            .args(["-c", KEEPER])
            .envs([("BIN", bin.as_os_str()), ("DIR", directory.as_os_str())])
            .env("OPTIONS", options)
            .current_dir(&directory)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("a shell");
        let mut output = BufReader::new(child.stdout.take().expect("its output"));
        let mut line = String::new();
        output.read_line(&mut line).expect("its first line");
        if line.trim() != "ready" {
            let rest: Vec<String> = output.lines().map_while(Result::ok).collect();
            panic!("the throwaway PostgreSQL did not start: {line}{}", rest.join("\n"));
        }
        let socket = directory.to_str().expect("a plain path").replace('/', "%2F");
        Self { base: format!("postgres://registry@{socket}"), template: OnceLock::new(), keeper: Some(child) }
    }

    /// The address of a database of this server.
    pub fn url(&self, database: &str) -> String {
        format!("{}/{database}", self.base)
    }

    /// A new database with nothing in it.
    pub fn empty_database(&self) -> String {
        let name = new_name();
        self.administer(&format!("CREATE DATABASE {name}"));
        name
    }

    /// A new database with the schema in it.
    pub fn database(&self) -> String {
        let template = self.template.get_or_init(|| {
            let name = self.empty_database();
            let address = Address::parse(&self.url(&name)).expect("an address");
            let settings = StoreSettings { address, connections: 1, unsafe_durability: true };
            Store::open(settings, Clock::system(), Randomness::system()).expect("a store");
            name
        });
        let name = new_name();
        self.administer(&format!("CREATE DATABASE {name} TEMPLATE {template}"));
        name
    }

    /// Throws a database away.
    pub fn drop_database(&self, name: &str) {
        self.administer(&format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)"));
    }

    fn administer(&self, statement: &str) {
        let mut connection =
            PgConnection::establish(&self.url("postgres")).expect("a connection to PostgreSQL");
        connection.batch_execute(statement).expect("to administer databases");
    }
}

fn new_name() -> String {
    let number = DATABASES.fetch_add(1, Ordering::SeqCst);
    format!("quietbeam_test_{}_{number}", std::process::id())
}

/// Whether a server of its own can be started here.
pub fn is_at_hand() -> bool {
    look_for_programs().is_some()
}

fn find_programs() -> PathBuf {
    look_for_programs().expect(
        "these tests need PostgreSQL 15 or newer: install it (Debian: apt-get install postgresql), \
         name the folder of initdb and pg_ctl in QUIETBEAM_TEST_POSTGRES_BIN, \
         or a running server in QUIETBEAM_TEST_POSTGRES",
    )
}

fn look_for_programs() -> Option<PathBuf> {
    let named = env::var_os("QUIETBEAM_TEST_POSTGRES_BIN").map(PathBuf::from);
    let installed = fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
    let installed = installed.map(|version| version.path().join("bin"));
    let on_path = env::var_os("PATH").unwrap_or_default();
    let on_path: Vec<PathBuf> = env::split_paths(&on_path).collect();
    let has_programs = |folder: &Path| folder.join("initdb").exists() && folder.join("pg_ctl").exists();
    named.into_iter().chain(installed).chain(on_path).find(|folder| has_programs(folder))
}

/// User and group of `postgres`, or of `nobody` where that user is missing.
fn unprivileged_user() -> (u32, u32) {
    let accounts = fs::read_to_string("/etc/passwd").expect("the list of accounts");
    let find = |name: &str| {
        let line = accounts.lines().find(|line| line.split(':').next() == Some(name))?;
        let mut fields = line.split(':').skip(2).map(|field| field.parse().ok());
        Some((fields.next()??, fields.next()??))
    };
    find("postgres").or_else(|| find("nobody")).expect("a user postgres or nobody")
}

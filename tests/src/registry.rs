//! A store for one test, on either engine.

use std::future::Future;

use diesel::connection::SimpleConnection;
use diesel::dsl::sql;
use diesel::prelude::*;
use diesel::sql_types::Text;
use quietbeam::access::Permit;
use quietbeam::access::action::{ImportFiles, IssueCaseCodes, ManageCentres, ReadAudit};
use quietbeam::clock::{Clock, Hand, Randomness};
use quietbeam::store::{
    Address, AuditFilter, AuditRow, CaseContent, CaseIndex, NewCase, PageRequest, Store, StoreError,
    StoreSettings,
};
use quietbeam_schema::centre::Centre;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::vocabulary::{AnnualVolume, CentreType};
use serde_json::json;
use tempfile::TempDir;

use crate::postgres;

/// Which engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Engine {
    /// A file.
    Sqlite,
    /// The server of this test program.
    Postgres,
}

/// A registry of its own for one test.
pub struct Registry {
    /// Its store.
    pub store: Store,
    /// Its clock.
    pub clock: Clock,
    /// Moves its clock.
    pub hand: Hand,
    /// Its engine.
    pub engine: Engine,
    place: Place,
}

enum Place {
    File(TempDir),
    Database(String),
}

impl Drop for Place {
    fn drop(&mut self) {
        if let Place::Database(name) = self {
            postgres::server().drop_database(name);
        }
    }
}

impl Place {
    fn address(&self) -> String {
        match self {
            Place::File(folder) => {
                folder.path().join("registry.sqlite").to_str().expect("a plain path").to_owned()
            }
            Place::Database(name) => postgres::server().url(name),
        }
    }
}

impl Registry {
    /// An empty registry on 25 November 2026, 09:00 UTC.
    pub fn new(engine: Engine) -> Self {
        let place = match engine {
            Engine::Sqlite => Place::File(tempfile::tempdir().expect("a folder")),
            Engine::Postgres => Place::Database(postgres::server().database()),
        };
        let start: Instant = "2026-11-25T09:00:00.000Z".parse().expect("a time");
        let (clock, hand) = Clock::by_hand(start);
        let store = open(&place.address(), clock.clone());
        Self { store, clock, hand, engine, place }
    }

    /// The registry of the demo with so many cases, as its command builds it.
    pub fn demo(cases: usize) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let data = folder.path().to_str().expect("a plain path");
        let words = ["demo", "--no-serve", "--cases", &cases.to_string(), "--data", data];
        quietbeam::cli::run_words(&words, &mut std::io::sink()).expect("the demo");
        let place = Place::File(folder);
        let (clock, hand) = Clock::by_hand(Clock::system().now());
        let store = open(&place.address(), clock.clone());
        Self { store, clock, hand, engine: Engine::Sqlite, place }
    }

    /// The same database opened a second time, as after a restart.
    pub fn reopen(&self) -> Store {
        open(&self.place.address(), self.clock.clone())
    }

    /// The address of the database.
    pub fn address(&self) -> String {
        self.place.address()
    }

    /// A connection past the store, to try what the store would never do.
    pub fn raw(&self) -> Raw {
        Raw::open(self.engine, &self.place.address())
    }

    /// Waits for a future.
    pub fn wait<F: Future>(&self, future: F) -> F::Output {
        tokio::runtime::Builder::new_current_thread().build().expect("a runtime").block_on(future)
    }

    /// Creates a centre.
    pub fn centre(&self, code: &str) -> CentreCode {
        let code: CentreCode = code.parse().expect("a centre code");
        let centre = Centre {
            code,
            name: format!("Hospital {code}"),
            region: None,
            kind: CentreType::Academic,
            annual_volume: AnnualVolume::From200To499,
            zero_fluoroscopy_since: None,
        };
        let permit = Permit::<ManageCentres>::for_operator("test");
        self.store.write_blocking(permit, move |session| session.create_centre(&centre)).expect("a centre");
        code
    }

    /// Issues case codes to a centre.
    pub fn codes(&self, centre: CentreCode, number: usize) -> Vec<CaseCode> {
        let permit = Permit::<IssueCaseCodes>::for_operator("test");
        self.store
            .write_blocking(permit, move |session| session.issue_case_codes(centre, number))
            .expect("codes")
    }

    /// Issues codes and submits as many cases.
    pub fn cases(&self, centre: CentreCode, number: usize) -> Vec<CaseCode> {
        let codes = self.codes(centre, number);
        let new: Vec<NewCase> = codes
            .iter()
            .enumerate()
            .map(|(at, code)| NewCase { code: *code, content: content(at) })
            .collect();
        let permit = Permit::<ImportFiles>::for_operator("test");
        self.store.write_blocking(permit, move |session| session.save_new_cases(new)).expect("cases");
        codes
    }

    /// The newest lines of the audit trail.
    pub fn audit(&self) -> Vec<AuditRow> {
        let page = PageRequest { after: None, limit: 200 };
        let permit = Permit::<ReadAudit>::for_operator("test");
        let read = self
            .store
            .read_blocking(permit, move |session| session.list_audit(&AuditFilter::default(), page));
        let read: Result<_, StoreError> = read;
        read.expect("the trail").rows
    }
}

fn open(address: &str, clock: Clock) -> Store {
    let address = Address::parse(address).expect("an address");
    let settings = StoreSettings { address, connections: 8, unsafe_durability: true };
    Store::open(settings, clock, Randomness::system()).expect("a store")
}

/// A record that differs from one number to the next. The store looks into the index only.
pub fn content(number: usize) -> CaseContent {
    CaseContent {
        form_version: "1".to_owned(),
        record: json!({ "number": number, "strategy_intended": "zero" }).to_string(),
        index: CaseIndex {
            period: format!("2025Q{}", number % 4 + 1),
            procedure_group: if number.is_multiple_of(2) { "svt" } else { "af_first" }.to_owned(),
            procedure: if number.is_multiple_of(2) { "avnrt" } else { "af_parox_first" }.to_owned(),
            strategy_intended: "zero".to_owned(),
            fluoro_used: "none".to_owned(),
            air_kerma_mgy: Some(number as f64 / 4.0),
            kap_gycm2: None,
            fluoro_time_s: Some(0.0),
        },
    }
}

/// A connection without any of the store's care.
pub enum Raw {
    /// To a file.
    Sqlite(SqliteConnection),
    /// To the server.
    Postgres(PgConnection),
}

impl Raw {
    /// Opens one.
    pub fn open(engine: Engine, address: &str) -> Self {
        match engine {
            Engine::Sqlite => {
                let mut connection = SqliteConnection::establish(address).expect("a connection");
                connection.batch_execute("PRAGMA busy_timeout = 5000").expect("a setting");
                Raw::Sqlite(connection)
            }
            Engine::Postgres => Raw::Postgres(PgConnection::establish(address).expect("a connection")),
        }
    }

    /// Runs a statement.
    pub fn run(&mut self, statement: &str) -> Result<(), String> {
        match self {
            Raw::Sqlite(connection) => connection.batch_execute(statement),
            Raw::Postgres(connection) => connection.batch_execute(statement),
        }
        .map_err(|error| error.to_string())
    }

    /// The first column of the rows, which must be text.
    pub fn texts(&mut self, query: &str) -> Vec<String> {
        match self {
            Raw::Sqlite(connection) => sql::<Text>(query).load(connection),
            Raw::Postgres(connection) => sql::<Text>(query).load(connection),
        }
        .expect("a query that works")
    }

    /// All that is stored, as one text to search in.
    pub fn everything(&mut self) -> String {
        if matches!(self, Raw::Postgres(_)) {
            return self.texts("SELECT CAST(database_to_xml(true, true, '') AS TEXT)").concat();
        }
        let mut all = String::new();
        for table in self.texts("SELECT name FROM sqlite_master WHERE type = 'table'") {
            let row = format!(
                "SELECT group_concat('quote(\"' || name || '\")', '||') FROM pragma_table_info('{table}')"
            );
            let row = self.texts(&row).concat();
            all.extend(self.texts(&format!("SELECT {row} FROM \"{table}\"")));
        }
        all
    }

    /// A single number.
    pub fn count(&mut self, table: &str) -> u64 {
        let texts = self.texts(&format!("SELECT CAST(count(*) AS TEXT) FROM {table}"));
        texts[0].parse().expect("a number")
    }
}

/// Runs a test once on each engine: `on_both_stores!(fn name(registry) { … })`.
#[macro_export]
macro_rules! on_both_stores {
    ($($(#[doc = $doc:literal])* fn $name:ident($registry:ident) $body:block)+) => {$(
        $(#[doc = $doc])*
        mod $name {
            #[allow(unused_imports)]
            use super::*;

            fn on($registry: &$crate::registry::Registry) $body

            #[test]
            fn sqlite() {
                on(&$crate::registry::Registry::new($crate::registry::Engine::Sqlite));
            }

            #[test]
            fn postgres() {
                on(&$crate::registry::Registry::new($crate::registry::Engine::Postgres));
            }
        }
    )+};
}

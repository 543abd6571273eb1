//! The schema: alike on both engines, never taken back, safe settings or none.

use quietbeam::clock::{Clock, Randomness};
use quietbeam::store::{Address, OpenError, Store, StoreSettings};
use quietbeam_tests::on_both_stores;
use quietbeam_tests::postgres::Server;
use quietbeam_tests::registry::{Engine, Registry};

/// Each column as "table.column kind nullable", with the engines' names for a kind made one.
fn columns(registry: &Registry) -> Vec<String> {
    let query = match registry.engine {
        Engine::Sqlite => {
            "SELECT t.name || '.' || c.name || ' ' ||
                CASE c.type WHEN 'INTEGER' THEN 'integer' WHEN 'REAL' THEN 'number' ELSE lower(c.type) END || ' ' ||
                CASE WHEN c.\"notnull\" = 1 THEN 'required' ELSE 'optional' END
             FROM pragma_table_list AS t JOIN pragma_table_info(t.name) AS c
             WHERE t.schema = 'main' AND t.type = 'table' AND t.name NOT LIKE 'sqlite_%'
                AND t.name <> '__diesel_schema_migrations' ORDER BY 1"
        }
        Engine::Postgres => {
            "SELECT table_name || '.' || column_name || ' ' ||
                CASE data_type WHEN 'bigint' THEN 'integer' WHEN 'double precision' THEN 'number' ELSE data_type END
                || ' ' || CASE is_nullable WHEN 'NO' THEN 'required' ELSE 'optional' END COLLATE \"C\"
             FROM information_schema.columns
             WHERE table_schema = 'public' AND table_name <> '__diesel_schema_migrations' ORDER BY 1"
        }
    };
    registry.raw().texts(query)
}

fn unique_keys(registry: &Registry) -> usize {
    let query = match registry.engine {
        Engine::Sqlite => {
            "SELECT t.name FROM pragma_table_list AS t JOIN pragma_index_list(t.name) AS i
             WHERE t.schema = 'main' AND t.name <> '__diesel_schema_migrations' AND i.\"unique\" = 1
             UNION ALL SELECT t.name FROM pragma_table_list AS t JOIN pragma_table_info(t.name) AS c
             WHERE t.schema = 'main' AND c.name = 'seq' AND c.pk = 1 AND t.name NOT LIKE 'sqlite_%'"
        }
        Engine::Postgres => {
            "SELECT tablename::text FROM pg_indexes WHERE schemaname = 'public'
             AND tablename <> '__diesel_schema_migrations' AND indexdef LIKE 'CREATE UNIQUE%'"
        }
    };
    registry.raw().texts(query).len()
}

#[test]
fn both_engines_have_the_same_tables_columns_and_keys() {
    let (sqlite, postgres) = (Registry::new(Engine::Sqlite), Registry::new(Engine::Postgres));
    assert_eq!(columns(&sqlite), columns(&postgres));
    assert!(columns(&sqlite).len() > 100);
    assert_eq!(unique_keys(&sqlite), unique_keys(&postgres));
}

on_both_stores! {
    fn a_newer_schema_is_refused(registry) {
        registry.raw().run("INSERT INTO __diesel_schema_migrations (version) VALUES ('99999999999999')").unwrap();
        let address = Address::parse(&registry.address()).unwrap();
        let settings = StoreSettings { address, connections: 1, unsafe_durability: true };
        let error = Store::open(settings, Clock::system(), Randomness::system()).err().unwrap();
        assert!(matches!(error, OpenError::NewerSchema { .. }), "{error}");
    }

    fn the_store_says_when_it_is_ready(registry) {
        assert!(registry.wait(registry.store.is_ready()));
    }
}

#[test]
fn two_programs_may_start_on_the_same_new_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("registry.sqlite");
    std::thread::scope(|scope| {
        let starts: Vec<_> = (0..4)
            .map(|_| {
                scope.spawn(|| {
                    let address = Address::parse(path.to_str().unwrap()).unwrap();
                    let settings = StoreSettings { address, connections: 1, unsafe_durability: false };
                    Store::open(settings, Clock::system(), Randomness::system()).map(|_| ())
                })
            })
            .collect();
        for start in starts {
            start.join().unwrap().unwrap();
        }
    });
}

/// A server that may forget what it confirmed is refused unless that was asked for.
#[test]
fn a_server_without_durability_is_refused() {
    let server = Server::start("-c fsync=off");
    let open = |unsafe_durability| {
        let address = Address::parse(&server.url("postgres")).unwrap();
        let settings = StoreSettings { address, connections: 1, unsafe_durability };
        Store::open(settings, Clock::system(), Randomness::system()).map(|_| ())
    };
    let error = open(false).unwrap_err();
    assert!(matches!(error, OpenError::UnsafeSetting { setting: "fsync", .. }), "{error}");
    open(true).unwrap();
}

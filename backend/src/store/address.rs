//! Where the database is. The address is taken apart here and never handed to a generic
//! "connect": that would quietly create a SQLite file named like a mistyped PostgreSQL one.

use std::path::PathBuf;

use super::error::OpenError;

/// The address of a database. It may contain a password: no `Debug`.
#[derive(Clone)]
pub enum Address {
    /// A file.
    Sqlite(PathBuf),
    /// A server.
    Postgres(String),
}

impl Address {
    /// Reads a file path, `sqlite:PATH` or `postgres://…`.
    pub fn parse(text: &str) -> Result<Self, OpenError> {
        let text = text.trim();
        if text.starts_with("postgres://") || text.starts_with("postgresql://") {
            refuse_missing_tls(text)?;
            return Ok(Address::Postgres(text.to_owned()));
        }
        let path = text.strip_prefix("sqlite://").or_else(|| text.strip_prefix("sqlite:")).unwrap_or(text);
        if path.contains(":memory:") || path.contains("mode=memory") {
            return Err(OpenError::InMemory);
        }
        // `host=… dbname=…` is libpq's other way to write an address; a colon would be a
        // scheme that nobody here knows, or SQLite's own `file:` addresses.
        if path.is_empty() || path.contains('=') || path.contains(':') || path.contains('?') {
            return Err(OpenError::UnknownAddress);
        }
        Ok(Address::Sqlite(PathBuf::from(path)))
    }
}

fn refuse_missing_tls(address: &str) -> Result<(), OpenError> {
    if cfg!(feature = "postgres-tls") {
        return Ok(());
    }
    let query = address.split_once('?').map_or("", |(_, query)| query);
    let mode = query.split('&').find_map(|pair| pair.strip_prefix("sslmode="));
    match mode {
        Some(mode @ ("require" | "verify-ca" | "verify-full")) => {
            Err(OpenError::NoTls { mode: mode.to_owned() })
        }
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic)]

    use super::*;

    #[test]
    fn tells_the_engines_apart_by_scheme() {
        for text in ["sqlite:data/registry.db", "sqlite://data/registry.db", "data/registry.db"] {
            let Address::Sqlite(path) = Address::parse(text).unwrap() else { panic!("{text}") };
            assert_eq!(path, PathBuf::from("data/registry.db"));
        }
        for text in ["postgres://a@b/c", "postgresql:///c?host=/run/postgresql"] {
            assert!(matches!(Address::parse(text), Ok(Address::Postgres(_))), "{text}");
        }
    }

    #[test]
    fn refuses_what_would_become_a_file_by_accident() {
        for text in [
            "",
            "host=localhost dbname=registry",
            "mysql://a@b/c",
            "file:registry.db?mode=rw",
            "postgress://a@b/c",
        ] {
            assert!(matches!(Address::parse(text), Err(OpenError::UnknownAddress)), "{text}");
        }
        for text in [":memory:", "sqlite::memory:", "sqlite:x?mode=memory"] {
            assert!(matches!(Address::parse(text), Err(OpenError::InMemory)), "{text}");
        }
    }

    #[cfg(not(feature = "postgres-tls"))]
    #[test]
    fn says_that_tls_is_missing() {
        let error = Address::parse("postgres://a@b/c?application_name=x&sslmode=verify-full").err().unwrap();
        assert!(error.to_string().contains("--features postgres-tls"), "{error}");
        assert!(Address::parse("postgres://a@b/c?sslmode=prefer").is_ok());
    }
}

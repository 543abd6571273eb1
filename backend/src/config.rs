//! The settings of the registry: read once, checked once, one struct a concern.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::{fs, io};

use clap::Args;

use crate::store::{Address, OpenError, StoreSettings};

/// What can be set on the command line or in the environment.
#[derive(Args, Clone)]
pub struct Options {
    /// Folder for the embedded database and the token key.
    #[arg(long, env = "QUIETBEAM_DATA", default_value = "quietbeam-data", value_name = "FOLDER")]
    pub data: PathBuf,
    /// Database: a file path, sqlite:PATH or postgres://USER@HOST/NAME [default: a file in the data folder].
    #[arg(long, env = "QUIETBEAM_DATABASE", value_name = "ADDRESS", hide_env_values = true)]
    pub database: Option<String>,
    /// File that holds the address of the database, for addresses with a password.
    #[arg(long, env = "QUIETBEAM_DATABASE_FILE", value_name = "FILE", conflicts_with = "database")]
    pub database_file: Option<PathBuf>,
    /// Most connections to the database.
    #[arg(long, env = "QUIETBEAM_CONNECTIONS", default_value_t = 8, value_name = "NUMBER")]
    pub connections: u32,
    /// File with the keys for access tokens [default: token.key in the data folder, made when missing].
    #[arg(long, env = "QUIETBEAM_TOKEN_KEY_FILE", value_name = "FILE")]
    pub token_key_file: Option<PathBuf>,
    /// Where to listen.
    #[arg(long, env = "QUIETBEAM_LISTEN", default_value = "127.0.0.1:8080", value_name = "ADDRESS:PORT")]
    pub listen: SocketAddr,
    /// The address people use, when a proxy with TLS stands in front: https://….
    #[arg(long, env = "QUIETBEAM_PUBLIC_URL", value_name = "URL")]
    pub public_url: Option<String>,
    /// What the network calls itself where something is published.
    #[arg(
        long = "network-name",
        env = "QUIETBEAM_NETWORK_NAME",
        default_value = "A research network",
        value_name = "NAME"
    )]
    pub network: String,
}

/// Checked settings.
#[derive(Clone)]
pub struct Settings {
    /// The database.
    pub store: StoreSettings,
    /// Sign-in.
    pub access: AccessSettings,
    /// The server.
    pub serve: ServeSettings,
    /// Who publishes.
    pub network: Network,
}

/// Who publishes, and where it is read.
#[derive(Debug, Clone)]
pub struct Network {
    /// What the network calls itself.
    pub name: String,
    /// The address people use, without a stroke at its end.
    pub address: String,
}

/// Settings of sign-in.
#[derive(Clone)]
pub struct AccessSettings {
    /// The file with the keys for access tokens.
    pub token_key_file: PathBuf,
    /// Who issues the tokens, and for whom they are meant: this registry.
    pub issuer: String,
}

/// Settings of the server.
#[derive(Clone)]
pub struct ServeSettings {
    /// Where to listen.
    pub listen: SocketAddr,
    /// The address people use.
    pub public_url: String,
    /// Whether people reach the registry through TLS, so that cookies can insist on it.
    pub https: bool,
}

/// What is wrong with the settings.
#[derive(Debug, thiserror::Error)]
pub enum SettingsError {
    /// The address of the database.
    #[error("--database: {0}")]
    Database(#[from] OpenError),
    /// The file with the address of the database.
    #[error("--database-file {path}: {error}")]
    DatabaseFile {
        /// The file.
        path: PathBuf,
        /// What the system said.
        error: io::Error,
    },
    /// The data folder.
    #[error("--data {path}: {error}")]
    DataFolder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        error: io::Error,
    },
    /// Neither http nor https.
    #[error("--public-url: write the address people use, such as https://registry.example")]
    PublicUrl,
    /// Passwords would cross the network in the clear.
    #[error(
        "--listen {listen}: other machines can reach this address without TLS; listen on 127.0.0.1, or put a proxy with TLS in front and give its address as --public-url https://…"
    )]
    PlainHttp {
        /// Where it would listen.
        listen: SocketAddr,
    },
    /// No connection at all.
    #[error("--connections: at least 1 is needed")]
    NoConnections,
}

impl Options {
    /// Checks the options.
    pub fn settings(&self) -> Result<Settings, SettingsError> {
        if self.connections == 0 {
            return Err(SettingsError::NoConnections);
        }
        let serve = self.serve_settings()?;
        Ok(Settings {
            store: StoreSettings {
                address: self.address()?,
                connections: self.connections,
                unsafe_durability: false,
            },
            access: AccessSettings {
                token_key_file: self.token_key_file.clone().unwrap_or_else(|| self.data.join("token.key")),
                issuer: serve.public_url.clone(),
            },
            network: Network { name: self.network.trim().to_owned(), address: serve.public_url.clone() },
            serve,
        })
    }

    fn address(&self) -> Result<Address, SettingsError> {
        if let Some(path) = &self.database_file {
            let text = fs::read_to_string(path)
                .map_err(|error| SettingsError::DatabaseFile { path: path.clone(), error })?;
            return Ok(Address::parse(&text)?);
        }
        match &self.database {
            Some(text) => Ok(Address::parse(text)?),
            None => Ok(Address::Sqlite(self.data.join("registry.sqlite"))),
        }
    }

    fn serve_settings(&self) -> Result<ServeSettings, SettingsError> {
        let listen = self.listen;
        let public_url = match &self.public_url {
            Some(url) => url.trim_end_matches('/').to_owned(),
            None => format!("http://{listen}"),
        };
        let https = public_url.starts_with("https://");
        let host = public_url.split_once("://").map_or("", |(_, host)| host);
        if !(https || public_url.starts_with("http://")) || host.is_empty() {
            return Err(SettingsError::PublicUrl);
        }
        if !https && !listen.ip().is_loopback() {
            return Err(SettingsError::PlainHttp { listen });
        }
        Ok(ServeSettings { listen, public_url, https })
    }
}

/// Makes the data folder, for its owner only, unless it is there.
pub fn prepare_data_folder(path: &Path) -> Result<(), SettingsError> {
    use std::os::unix::fs::DirBuilderExt;
    fs::DirBuilder::new()
        .recursive(true)
        .mode(0o700)
        .create(path)
        .map_err(|error| SettingsError::DataFolder { path: path.to_owned(), error })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use clap::Parser;

    use super::*;

    #[derive(Parser)]
    struct Command {
        #[command(flatten)]
        options: Options,
    }

    fn settings(arguments: &[&str]) -> Result<Settings, SettingsError> {
        let all = std::iter::once(&"quietbeam").chain(arguments);
        Command::try_parse_from(all).expect("the options are known").options.settings()
    }

    #[test]
    fn without_options_everything_lies_in_the_data_folder() {
        let settings = settings(&["--data", "here"]).unwrap();
        let Address::Sqlite(path) = settings.store.address else { panic!("not a file") };
        assert_eq!(path, Path::new("here/registry.sqlite"));
        assert_eq!(settings.access.token_key_file, Path::new("here/token.key"));
        assert!(!settings.store.unsafe_durability && !settings.serve.https);
    }

    #[test]
    fn passwords_do_not_cross_the_network_in_the_clear() {
        assert!(matches!(settings(&["--listen", "0.0.0.0:80"]), Err(SettingsError::PlainHttp { .. })));
        let behind_proxy =
            settings(&["--listen", "0.0.0.0:80", "--public-url", "https://registry.example/"]).unwrap();
        assert!(behind_proxy.serve.https);
        assert_eq!(behind_proxy.serve.public_url, "https://registry.example");
        for wrong in ["registry.example", "ftp://x", "https://"] {
            assert!(matches!(settings(&["--public-url", wrong]), Err(SettingsError::PublicUrl)), "{wrong}");
        }
    }

    #[test]
    fn reads_the_address_from_a_file() {
        let file = std::env::temp_dir().join(format!("quietbeam-address-{}", std::process::id()));
        fs::write(&file, "postgres://registry:secret@db/registry\n").unwrap();
        let settings = settings(&["--database-file", file.to_str().unwrap()]).unwrap();
        fs::remove_file(&file).unwrap();
        assert!(matches!(settings.store.address, Address::Postgres(_)));
    }

    #[test]
    fn no_connections_no_registry() {
        assert!(matches!(settings(&["--connections", "0"]), Err(SettingsError::NoConnections)));
    }
}

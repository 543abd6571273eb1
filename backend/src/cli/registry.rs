//! Opens the registry for a command, and signs a person in where a step must
//! be a person's.

use super::Failure;
use crate::access::password::Password;
use crate::access::session::{Caller, SignInDesk};
use crate::access::token::{KeyRing, Tokens};
use crate::clock::{Clock, Randomness};
use crate::config::{Options, Settings, SettingsError, prepare_data_folder};
use crate::registry::RegistryError;
use crate::store::{OpenError, Store, StoreError};
use clap::Args;
use std::io::{self, BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// A registry that is open.
pub(super) struct Registry {
    pub(super) settings: Settings,
    pub(super) store: Store,
    pub(super) clock: Clock,
    pub(super) randomness: Randomness,
}

impl Registry {
    /// Opens the registry that the options name, and makes it if there is none.
    pub(super) fn open(options: &Options) -> Result<Self, Failure> {
        let settings = options.settings()?;
        // With PostgreSQL the folder still holds the key for access tokens.
        prepare_data_folder(&options.data)?;
        let (clock, randomness) = (Clock::system(), Randomness::system());
        let store = Store::open(settings.store.clone(), clock.clone(), randomness.clone())?;
        Ok(Self { settings, store, clock, randomness })
    }

    /// Where people sign in.
    pub(super) fn desk(&self) -> Result<SignInDesk, Failure> {
        let broken = |error: &dyn std::fmt::Display| Failure::Broken(error.to_string());
        let access = &self.settings.access;
        let keys = KeyRing::load_or_create(&access.token_key_file, &self.randomness)
            .map_err(|error| broken(&error))?;
        let tokens = Tokens::new(keys, access.issuer.clone(), access.issuer.clone());
        SignInDesk::new(self.store.clone(), self.clock.clone(), self.randomness.clone(), tokens)
            .map_err(|error| broken(&error))
    }
}

/// What every step on a registry takes.
#[derive(Args)]
pub(super) struct Common {
    /// Print as JSON.
    #[arg(long)]
    pub(super) json: bool,
    #[command(flatten)]
    pub(super) options: Options,
}

/// Who acts, for steps that must be a person's.
#[derive(Args)]
pub(super) struct Person {
    /// The sign-in name of whoever acts.
    #[arg(long = "as", value_name = "SIGN_IN_NAME")]
    pub(super) sign_in_name: String,
    /// File that holds the password; without it the password is asked for.
    #[arg(long, value_name = "FILE")]
    pub(super) password_file: Option<PathBuf>,
}

impl Person {
    /// Signs in and acts, then signs out.
    pub(super) fn act<T>(
        &self,
        registry: &Registry,
        work: impl FnOnce(&Caller) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        let password = password(self.password_file.as_deref(), "Password: ")?;
        let desk = registry.desk()?;
        let caller = wait(async {
            let granted = desk.sign_in(&self.sign_in_name, password, "command line").await?;
            Ok(desk.caller(&granted.access_token, "command line").await?)
        })?;
        // The work waits for the store itself, which it may not do inside a runtime.
        let done = work(&caller);
        wait(async { Ok(desk.sign_out(&caller).await?) })?;
        done
    }
}

/// Waits for a future outside the server.
pub(super) fn wait<T>(future: impl Future<Output = Result<T, Failure>>) -> Result<T, Failure> {
    actix_web::rt::Runtime::new()?.block_on(future)
}

/// A password from a file, or as typed.
pub(super) fn password(file: Option<&Path>, prompt: &str) -> Result<String, Failure> {
    let text = match file {
        Some(path) => std::fs::read_to_string(path)
            .map_err(|error| Failure::Broken(format!("the password file {}: {error}", path.display())))?,
        None => {
            if io::stdin().is_terminal() {
                write!(io::stderr(), "{prompt}")?;
                io::stderr().flush()?;
            }
            let mut line = String::new();
            io::stdin().lock().read_line(&mut line)?;
            line
        }
    };
    Ok(text.trim_end_matches(['\r', '\n']).to_owned())
}

/// A new password, held to the rules.
pub(super) fn new_password(file: Option<&Path>, sign_in_name: &str) -> Result<Password, Failure> {
    let text = password(file, "New password (15 characters or more): ")?;
    Password::new(&text, sign_in_name).map_err(|error| Failure::Refused(error.to_string()))
}

impl From<SettingsError> for Failure {
    fn from(error: SettingsError) -> Self {
        Self::Refused(error.to_string())
    }
}

impl From<OpenError> for Failure {
    fn from(error: OpenError) -> Self {
        Self::Broken(error.to_string())
    }
}

impl From<StoreError> for Failure {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Broken(_) => Self::Broken(error.to_string()),
            StoreError::Absent(what) => Self::Refused(format!("there is no such {what}")),
            _ => Self::Refused(error.to_string()),
        }
    }
}

impl From<crate::access::session::SignInError> for Failure {
    fn from(error: crate::access::session::SignInError) -> Self {
        Self::Refused(error.to_string())
    }
}

impl From<crate::access::permit::NotAllowed> for Failure {
    fn from(error: crate::access::permit::NotAllowed) -> Self {
        Self::Refused(error.to_string())
    }
}

impl From<RegistryError> for Failure {
    fn from(error: RegistryError) -> Self {
        match error {
            RegistryError::Store(error) => error.into(),
            RegistryError::SignIn(error) => error.into(),
            RegistryError::Unreadable(_) => Self::Broken(error.to_string()),
            _ => Self::Refused(error.to_string()),
        }
    }
}

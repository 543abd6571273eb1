//! The log of a test program, kept to be searched for what must never be in it.

use std::io::{Result, Write};
use std::sync::{Arc, Mutex};

use tracing_subscriber::fmt;

/// Everything that was logged. Copies hold the same.
#[derive(Clone, Default)]
pub struct KeptLog(Arc<Mutex<Vec<u8>>>);

impl Write for KeptLog {
    fn write(&mut self, bytes: &[u8]) -> Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<()> {
        Ok(())
    }
}

impl KeptLog {
    /// A subscriber at its most talkative that writes here.
    pub fn subscriber(&self) -> impl tracing::Subscriber + Send + Sync + 'static {
        let writer = self.clone();
        fmt().with_max_level(tracing::Level::TRACE).with_writer(move || writer.clone()).finish()
    }

    /// What was logged.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.0.lock().unwrap()).into_owned()
    }
}

//! The one writer of the embedded store. It takes every submission that is waiting, gives
//! each its savepoint, makes all of them durable with one commit, and answers only then: a
//! disk that syncs 300 times a second still confirms thousands of writes, and one bad
//! submission does not hurt its neighbours.

use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread;

use diesel::connection::TransactionManager;

use super::address::Address;
use super::connection::{AnyConnection, Purpose, connect};
use super::dialect;
use super::error::{Broken, OpenError, StoreError};
use super::transaction::in_savepoint;

/// How many submissions may wait before new ones are turned away.
const LONGEST_QUEUE: usize = 1024;
/// How many submissions one commit takes at most, so that the first does not wait for ever.
const LARGEST_BATCH: usize = 256;

/// Does the work and returns how to tell its author, once it is known whether the batch
/// was committed.
type Submission = Box<dyn FnOnce(&mut AnyConnection) -> Answer + Send>;
type Answer = Box<dyn FnOnce(Result<(), Broken>) + Send>;

pub(super) struct Writer {
    queue: SyncSender<Submission>,
}

impl Writer {
    /// Starts the writer's thread; it ends when the store is dropped.
    pub(super) fn start(address: Address) -> Result<Self, OpenError> {
        let connection = connect(&address, Purpose::Write)?;
        let (queue, submissions) = sync_channel(LONGEST_QUEUE);
        thread::Builder::new()
            .name("store-writer".to_owned())
            .spawn(move || write_for_ever(&address, Some(connection), &submissions))
            .map_err(|error| OpenError::Database(error.to_string()))?;
        Ok(Self { queue })
    }

    /// Hands in work; `answer` is called once the outcome is durable.
    pub(super) fn submit<T, E>(
        &self,
        work: impl FnOnce(&mut AnyConnection) -> Result<T, E> + Send + 'static,
        answer: impl FnOnce(Result<T, E>) + Send + 'static,
    ) -> Result<(), StoreError>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
    {
        let submission: Submission = Box::new(move |connection| {
            let outcome = in_savepoint(connection, work);
            Box::new(move |commit| {
                answer(match (outcome, commit) {
                    (Ok(_), Err(broken)) => Err(StoreError::from(broken).into()),
                    (outcome, _) => outcome,
                });
            })
        });
        self.queue.try_send(submission).map_err(|error| match error {
            TrySendError::Full(_) => Broken::Busy.into(),
            TrySendError::Disconnected(_) => Broken::Closed.into(),
        })
    }
}

fn write_for_ever(
    address: &Address,
    mut connection: Option<AnyConnection>,
    submissions: &Receiver<Submission>,
) {
    while let Ok(first) = submissions.recv() {
        let mut batch = vec![first];
        batch.extend(submissions.try_iter().take(LARGEST_BATCH - 1));
        let open = match connection.take() {
            Some(open) => Ok(open),
            None => connect(address, Purpose::Write),
        };
        connection = match open {
            Ok(open) => write_batch(open, batch),
            Err(error) => {
                refuse(batch, &error.to_string());
                None
            }
        };
    }
}

/// Writes a batch and gives the connection back unless it is of no more use.
fn write_batch(mut connection: AnyConnection, batch: Vec<Submission>) -> Option<AnyConnection> {
    if let Err(error) = dialect::begin_writing(&mut connection) {
        refuse(batch, &error.to_string());
        return None;
    }
    let answers: Vec<Answer> = batch.into_iter().map(|submission| submission(&mut connection)).collect();
    match AnyConnection::commit_transaction(&mut connection) {
        Ok(()) => {
            answers.into_iter().for_each(|answer| answer(Ok(())));
            Some(connection)
        }
        Err(error) => {
            let message = error.to_string();
            answers.into_iter().for_each(|answer| answer(Err(Broken::Commit(message.clone()))));
            None
        }
    }
}

/// Dropping a submission closes its author's channel, which reads as "closed"; the reason
/// goes to the log.
fn refuse(batch: Vec<Submission>, reason: &str) {
    tracing::error!(waiting = batch.len(), reason, "the writer could not begin a transaction");
}

//! The one writer of a process, and the commit that many changes share.
//!
//! Changes that wait for each other go into one transaction of the store, each
//! between a savepoint and its release, and the disk is asked once for all of
//! them. Each is answered after that. A change that is given up is rolled back
//! to its savepoint and leaves the others as they are.

use std::ops::{Deref, DerefMut};
use std::sync::{Arc, OnceLock};

use tokio::sync::{Mutex, OwnedMutexGuard};

use super::connection::{Connection, Kind, Pool};
use super::shared_error::{given_up, shared};
use super::{postgres, sqlite};

/// How a group of changes ended; empty until it has.
type Outcome = Arc<OnceLock<Result<(), Arc<sqlx::Error>>>>;

/// Changes in one transaction that has not been committed yet.
struct Group {
    connection: Connection,
    outcome: Outcome,
    /// Changes that are whole and wait for the commit.
    n_whole: usize,
    /// True where a change was dropped and is still to be rolled back.
    is_torn: bool,
    /// True where the last whole change still has its savepoint, which ends
    /// when the next begins: that asks the store once instead of twice.
    is_held: bool,
    /// True where the store was found to be of the newest shape.
    is_newest: bool,
}

impl Group {
    /// Which of the two names the savepoint of the change at work has.
    const fn is_odd(&self) -> bool {
        self.n_whole % 2 == 1
    }
}

struct State {
    pool: Pool,
    group: Option<Group>,
}

/// The one writer of this process; clones are the same writer.
#[derive(Clone)]
pub(crate) struct Writer {
    state: Arc<Mutex<State>>,
}

impl std::fmt::Debug for Writer {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("Writer")
    }
}

impl Writer {
    pub(crate) fn new(pool: Pool) -> Self {
        Self { state: Arc::new(Mutex::new(State { pool, group: None })) }
    }

    /// Begins a change, which holds the write lock of the store. It joins the
    /// group that is open, or begins one.
    pub(crate) async fn begin(&self) -> Result<OpenChange, sqlx::Error> {
        let mut state = Arc::clone(&self.state).lock_owned().await;
        state.mend().await;
        if state.group.is_none() {
            let mut connection = state.pool.acquire().await?;
            let begun = match connection.kind() {
                Kind::Sqlite => sqlite::begin_to_write(&mut connection).await,
                Kind::Postgres => postgres::begin_to_write(&mut connection).await,
            };
            if let Err(error) = begun {
                // It may hold a transaction or not: it is not used again.
                let _ = connection.close().await;
                return Err(error);
            }
            let outcome = Arc::default();
            state.group = Some(Group {
                connection,
                outcome,
                n_whole: 0,
                is_torn: false,
                is_held: false,
                is_newest: false,
            });
        }
        let mut change = OpenChange { state: Some(state), writer: self.clone() };
        let is_held = change.group().is_some_and(|group| std::mem::take(&mut group.is_held));
        let is_odd = change.group().is_some_and(|group| group.is_odd());
        // Two names in turn: were the first half of this not done, going back
        // to the second name fails, and never takes the change before with it.
        let begin = match (is_held, is_odd) {
            (true, true) => "RELEASE SAVEPOINT even; SAVEPOINT odd",
            (true, false) => "RELEASE SAVEPOINT odd; SAVEPOINT even",
            (false, true) => "SAVEPOINT odd",
            (false, false) => "SAVEPOINT even",
        };
        change.run(begin).await?;
        Ok(change)
    }

    /// Ends the group, unless it has ended. Those who came before in the queue
    /// have put their changes into it by now.
    async fn end(self, outcome: Outcome) {
        let mut state = self.state.lock().await;
        if outcome.get().is_none() {
            state.end().await;
        }
    }

    /// Ends what is open and closes the connection.
    pub(crate) async fn close(&self) {
        let mut state = self.state.lock().await;
        state.mend().await;
        state.end().await;
        state.pool.close().await;
    }
}

impl State {
    /// Rolls back the change that was dropped. Where that fails, the store has
    /// given up the whole transaction, as SQLite does when the disk fails.
    async fn mend(&mut self) {
        let Some(group) = self.group.as_mut().filter(|group| group.is_torn) else { return };
        let mended = match group.n_whole {
            0 => Ok(false),
            _ => {
                let back = match group.is_odd() {
                    true => "ROLLBACK TO SAVEPOINT odd; RELEASE SAVEPOINT odd",
                    false => "ROLLBACK TO SAVEPOINT even; RELEASE SAVEPOINT even",
                };
                group.connection.run(back).await.map(|()| true)
            }
        };
        group.is_torn = false;
        if !matches!(mended, Ok(true)) {
            self.give_up(mended.err().map(|error| given_up(&error))).await;
        }
    }

    /// Ends the group without keeping it.
    async fn give_up(&mut self, why: Option<sqlx::Error>) {
        let Some(mut group) = self.group.take() else { return };
        if group.connection.run("ROLLBACK").await.is_err() || why.is_some() {
            let _ = group.connection.close().await;
        }
        let why = why.unwrap_or(sqlx::Error::WorkerCrashed);
        let _ = group.outcome.set(Err(Arc::new(why)));
    }

    /// Commits the group.
    async fn end(&mut self) {
        let Some(mut group) = self.group.take() else { return };
        let committed = group.connection.run("COMMIT").await;
        if committed.is_err() {
            let _ = group.connection.run("ROLLBACK").await;
            let _ = group.connection.close().await;
        }
        let _ = group.outcome.set(committed.map_err(Arc::new));
    }
}

/// A change that is being made. Dropped without [`OpenChange::commit`], it is
/// rolled back.
pub(crate) struct OpenChange {
    /// Taken when the change ends.
    state: Option<OwnedMutexGuard<State>>,
    writer: Writer,
}

impl OpenChange {
    fn group(&mut self) -> Option<&mut Group> {
        self.state.as_mut().and_then(|state| state.group.as_mut())
    }

    /// True where [`OpenChange::note_newest_shape`] was called in this group.
    pub(crate) fn is_of_newest_shape(&mut self) -> bool {
        self.group().is_some_and(|group| group.is_newest)
    }

    /// The store is of the newest shape and stays so: asked once in a group.
    pub(crate) fn note_newest_shape(&mut self) {
        if let Some(group) = self.group() {
            group.is_newest = true;
        }
    }

    /// Keeps the change; it has reached the disk when this returns.
    pub(crate) async fn commit(mut self) -> Result<(), sqlx::Error> {
        let Some(group) = self.group() else { return Err(sqlx::Error::WorkerCrashed) };
        group.n_whole += 1;
        group.is_held = true;
        let outcome = Arc::clone(&group.outcome);
        drop(self.state.take());
        // A task of its own: whoever waits may go away, the commit may not.
        let ended = tokio::spawn(self.writer.clone().end(Arc::clone(&outcome)));
        ended.await.map_err(|_| sqlx::Error::WorkerCrashed)?;
        match outcome.get() {
            Some(Ok(())) => Ok(()),
            Some(Err(error)) => Err(shared(error)),
            None => Err(sqlx::Error::WorkerCrashed),
        }
    }
}

impl Drop for OpenChange {
    fn drop(&mut self) {
        let Some(mut state) = self.state.take() else { return };
        if let Some(group) = state.group.as_mut() {
            group.is_torn = true;
        }
        // Now where that is possible, else before the next change: the store
        // is not to be held meanwhile.
        if let Ok(runtime) = tokio::runtime::Handle::try_current() {
            runtime.spawn(async move { state.mend().await });
        }
    }
}

impl Deref for OpenChange {
    type Target = Connection;

    #[allow(clippy::expect_used)] // it holds its group until it ends
    fn deref(&self) -> &Connection {
        let group = self.state.as_ref().and_then(|state| state.group.as_ref());
        &group.expect("an open change has its group").connection
    }
}

impl DerefMut for OpenChange {
    #[allow(clippy::expect_used)] // it holds its group until it ends
    fn deref_mut(&mut self) -> &mut Connection {
        &mut self.group().expect("an open change has its group").connection
    }
}

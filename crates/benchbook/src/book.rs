//! The benchbook itself: made, opened, closed, and what it is for ever.

use crate::boxed;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, OnceLock};
use std::time::Duration;

use crate::cases::CaseSummary;
use crate::digest::{hex, sha256};
use crate::errors::BenchbookError;
use crate::history::{self, Change, Hand, HistoryEvent};
use crate::log::checkpoint::Checkpoint;
use crate::log::key::{self, LogKey};
use crate::log::merkle::{self, Hash};
use crate::log::proof::EventProof;
use crate::moment::Moment;
use crate::people::{Acting, Action, BenchbookOrStore, NewAccount, Refusal, first_account};
use crate::store::beginning::Beginning;
use crate::store::connection::{Connection, Kind};
use crate::store::query::query;
use crate::store::sqlite::{self, BUSY_TIMEOUT};
use crate::store::writer::Writer;
use crate::store::{Connections, file_header, migrations, network_file_system, place, postgres};
use crate::verify::verify;
use crate::writing::Writing;

/// A handle on an open benchbook; clones share its connections.
#[derive(Debug, Clone)]
pub struct Benchbook {
    path: Arc<PathBuf>,
    connections: Connections,
    busy_timeout: Duration,
    acting: Option<Arc<Acting>>,
    reason: Option<Arc<str>>,
    /// What [`Benchbook::has_accounts`] has read: the character never changes.
    with_accounts: Arc<OnceLock<bool>>,
    /// What [`Benchbook::cases`] has read, each with the number of the newest
    /// event of its case.
    pub(crate) summaries: Arc<Mutex<BTreeMap<String, (i64, CaseSummary)>>>,
}

/// What a benchbook with accounts begins with.
struct People<'a> {
    owner: &'a NewAccount,
    password: &'a str,
    log_key: &'a LogKey,
}

impl Benchbook {
    /// Makes a new benchbook without accounts. It is marked 'not for regulated
    /// use' for ever, because nobody's identity has been established.
    ///
    /// # Errors
    /// [`BenchbookError::Exists`] where the name is taken, which is never
    /// written over; otherwise where the folder is missing, may not be
    /// written, or is full. Nothing half-made is left.
    #[boxed]
    pub async fn create(path: &Path, at: &Moment) -> Result<Self, BenchbookError> {
        Self::create_for(path, None, at).await
    }

    /// Makes a new benchbook with accounts, of which the first is that of its
    /// owner, and with the key that signs its checkpoints. The identity of the
    /// benchbook is that of the key.
    ///
    /// # Errors
    /// As [`Benchbook::create`]; also where account or password is not taken.
    #[boxed]
    pub async fn create_with_accounts(
        path: &Path,
        owner: &NewAccount,
        password: &str,
        log_key: &LogKey,
        at: &Moment,
    ) -> Result<Self, BenchbookError> {
        Self::create_for(path, Some(People { owner, password, log_key }), at).await
    }

    async fn create_for(
        path: &Path,
        people: Option<People<'_>>,
        at: &Moment,
    ) -> Result<Self, BenchbookError> {
        at.check()?;
        if let Some(address) = place::database(path) {
            return Self::create_in_database(address, people.as_ref(), at).await;
        }
        network_file_system::refuse(path)?;
        let beginning = Beginning::of(path)?;
        let made = async {
            let writer = beginning.connect().await?;
            let begun = begin(&writer, people.as_ref(), at).await;
            writer.close().await;
            begun.map_err(|error| match error {
                BenchbookOrStore::Refused(refusal) => refusal.into(),
                BenchbookOrStore::Store(error) => sqlite::from_sqlx(path, BUSY_TIMEOUT, &error),
            })?;
            let found = verify(&beginning.temporary, None).await?;
            if let Some(first) = found.findings.first() {
                let what = format!("{}: {}", first.place, first.problem);
                return Err(BenchbookError::Damaged { path: path.to_path_buf(), what });
            }
            beginning.finish()
        }
        .await;
        if let Err(error) = made {
            beginning.abandon();
            return Err(match error {
                // A file that was empty a moment ago has no past to be
                // damaged in: the disk did not keep what it was given.
                BenchbookError::Damaged { path, what } => {
                    BenchbookError::DiskFailed { path, reason: what }
                }
                other => other,
            });
        }
        let opened = Self::open(path).await;
        if opened.is_err() {
            // All or nothing: the next try must find the name free.
            beginning.take_back();
        }
        opened
    }

    /// Makes the schema of a benchbook in a database, all of it or nothing.
    async fn create_in_database(
        address: &str,
        people: Option<&People<'_>>,
        at: &Moment,
    ) -> Result<Self, BenchbookError> {
        let path = PathBuf::from(place::without_password(address));
        let writer = postgres::beginner(address, BUSY_TIMEOUT).await?;
        let begun = begin(&writer, people, at).await;
        writer.close().await;
        begun.map_err(|error| match error {
            BenchbookOrStore::Refused(refusal) => refusal.into(),
            BenchbookOrStore::Store(error) => postgres::from_sqlx(&path, BUSY_TIMEOUT, &error),
        })?;
        Self::open(Path::new(address)).await
    }

    /// Opens a benchbook to read and write it.
    ///
    /// # Errors
    /// Where the file is missing, no benchbook, of a newer version, damaged,
    /// held by another program, or may not be read or written.
    #[boxed]
    pub async fn open(path: &Path) -> Result<Self, BenchbookError> {
        Self::open_within(path, false, BUSY_TIMEOUT).await
    }

    /// Opens a benchbook to read it only; every change is refused.
    ///
    /// # Errors
    /// As [`Benchbook::open`].
    #[boxed]
    pub async fn open_read_only(path: &Path) -> Result<Self, BenchbookError> {
        Self::open_within(path, true, BUSY_TIMEOUT).await
    }

    /// Opens a benchbook and waits at most `busy_timeout` for another program
    /// that holds it.
    ///
    /// # Errors
    /// As [`Benchbook::open`].
    #[boxed]
    pub async fn open_within(
        path: &Path,
        read_only: bool,
        busy_timeout: Duration,
    ) -> Result<Self, BenchbookError> {
        if let Some(address) = place::database(path) {
            let connections = Box::pin(postgres::connect(address, read_only, busy_timeout)).await?;
            let path = PathBuf::from(place::without_password(address));
            return Ok(Self::new(path, connections, busy_timeout));
        }
        file_header::check(path, migrations::NEWEST)?;
        if !read_only {
            network_file_system::refuse(path)?;
        }
        let connections = sqlite::connect(path, read_only, busy_timeout).await?;
        Ok(Self::new(path.to_path_buf(), connections, busy_timeout))
    }

    fn new(path: PathBuf, connections: Connections, busy_timeout: Duration) -> Self {
        Self {
            path: Arc::new(path),
            connections,
            busy_timeout,
            acting: None,
            reason: None,
            with_accounts: Arc::default(),
            summaries: Arc::default(),
        }
    }

    /// The same benchbook with a reason for the next changes, which is
    /// written down with each.
    #[must_use]
    pub fn because(&self, reason: &str) -> Self {
        let reason = Some(reason.trim()).filter(|reason| !reason.is_empty()).map(Arc::from);
        Self { reason, ..self.clone() }
    }

    /// The account in whose hands it is.
    #[must_use]
    pub fn account(&self) -> Option<&str> {
        self.acting.as_ref().map(|acting| acting.account.as_str())
    }

    pub(crate) fn in_hands_of(&self, acting: Option<Acting>) -> Self {
        Self { acting: acting.map(Arc::new), ..self.clone() }
    }

    /// The file, or the address of the database without its password.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Closes every connection. The last one to close folds the side file
    /// `-wal` into the benchbook; a program should wait for it before it ends.
    #[boxed]
    pub async fn close(&self) {
        self.connections.readers.close().await;
        if let Some(writer) = &self.connections.writer {
            writer.close().await;
        }
    }

    /// Why this benchbook may not be used for regulated work; `None` where it
    /// was begun with accounts.
    ///
    /// # Errors
    /// Where the file cannot be read.
    #[boxed]
    pub async fn not_for_regulated_use(&self) -> Result<Option<String>, BenchbookError> {
        self.character("not for regulated use").await
    }

    /// True where it was begun with accounts: then every change is made by
    /// one of them.
    ///
    /// # Errors
    /// Where the file cannot be read.
    #[boxed]
    pub async fn has_accounts(&self) -> Result<bool, BenchbookError> {
        if let Some(known) = self.with_accounts.get() {
            return Ok(*known);
        }
        let with_accounts = self.not_for_regulated_use().await?.is_none();
        Ok(*self.with_accounts.get_or_init(|| with_accounts))
    }

    /// Identity of the benchbook, 32 hexadecimal digits drawn when it was
    /// made; copies share it.
    ///
    /// # Errors
    /// Where the file cannot be read.
    #[boxed]
    pub async fn identity(&self) -> Result<String, BenchbookError> {
        self.character("identity")
            .await?
            .ok_or_else(|| self.damaged("it has no identity".to_owned()))
    }

    async fn character(&self, name: &str) -> Result<Option<String>, BenchbookError> {
        let row = query("SELECT value FROM character WHERE name = $1")
            .bind(name)
            .fetch_optional(&mut self.reader().await?)
            .await
            .map_err(|error| self.failed(&error))?;
        row.map(|row| row.try_get(0)).transpose().map_err(|error| self.failed(&error))
    }

    /// The history, oldest first: of one case, or of the whole benchbook.
    ///
    /// # Errors
    /// [`BenchbookError::UnknownCase`] where there is no such case; otherwise
    /// where the file cannot be read.
    #[boxed]
    pub async fn history(
        &self,
        case_id: Option<&str>,
    ) -> Result<Vec<HistoryEvent>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        if let Some(id) = case_id {
            self.require_case(&mut snapshot, id).await?;
        }
        let rows = match case_id {
            Some(id) => {
                query("SELECT event FROM history WHERE case_id = $1 ORDER BY number").bind(id)
            }
            None => query("SELECT event FROM history ORDER BY number"),
        }
        .fetch_all(&mut snapshot)
        .await
        .map_err(|error| self.failed(&error))?;
        rows.iter()
            .map(|row| {
                let text: &str = row.try_get(0).map_err(|error| self.failed(&error))?;
                history::from_text(text)
                    .map_err(|error| self.damaged(format!("an event cannot be read: {error}")))
            })
            .collect()
    }

    /// Size and root of the log as it stands: to be printed in reports and kept
    /// elsewhere, so that a later change of the past is seen.
    ///
    /// # Errors
    /// Where the file cannot be read or the log is damaged.
    #[boxed]
    pub async fn checkpoint(&self) -> Result<Checkpoint, BenchbookError> {
        let identity = self.identity().await?;
        let leaves = self.leaves().await?;
        Ok(Checkpoint::new(&identity, leaves.len() as u64, merkle::root(&leaves)))
    }

    /// The exact text of an event and the proof that it is in the log;
    /// `None` where there is no event of this number.
    ///
    /// # Errors
    /// Where the file cannot be read or the log is damaged.
    #[boxed]
    pub async fn proof_of_event(
        &self,
        number: u64,
    ) -> Result<Option<(String, EventProof)>, BenchbookError> {
        let identity = self.identity().await?;
        let leaves = self.leaves().await?;
        let Some(index) = number.checked_sub(1).filter(|&index| index < leaves.len() as u64) else {
            return Ok(None);
        };
        let row = query("SELECT event FROM history WHERE number = $1")
            .bind(i64::try_from(number).unwrap_or(i64::MAX))
            .fetch_one(&mut self.reader().await?)
            .await
            .map_err(|error| self.failed(&error))?;
        let event: String = row.try_get(0).map_err(|error| self.failed(&error))?;
        let place = usize::try_from(index).unwrap_or(usize::MAX);
        let proof = EventProof {
            index,
            hashes: merkle::inclusion_proof(&leaves, place),
            checkpoint: Checkpoint::new(&identity, leaves.len() as u64, merkle::root(&leaves)),
        };
        if !proof.holds_for(&event) {
            return Err(self.damaged(format!("event {number} does not have its hash")));
        }
        Ok(Some((event, proof)))
    }

    /// The hashes of the log in order.
    pub(crate) async fn leaves(&self) -> Result<Vec<Hash>, BenchbookError> {
        let rows = query("SELECT number, leaf FROM history ORDER BY number")
            .fetch_all(&mut self.reader().await?)
            .await
            .map_err(|error| self.failed(&error))?;
        rows.iter()
            .zip(1_i64..)
            .map(|(row, expected)| {
                let number: i64 = row.try_get(0).map_err(|error| self.failed(&error))?;
                let leaf: &[u8] = row.try_get(1).map_err(|error| self.failed(&error))?;
                leaf.try_into().ok().filter(|_| number == expected).ok_or_else(|| {
                    self.damaged(format!("event {expected} of the history is missing or damaged"))
                })
            })
            .collect()
    }

    async fn reader(&self) -> Result<Connection, BenchbookError> {
        self.connections.readers.acquire().await.map_err(|error| self.failed(&error))
    }

    /// A transaction that reads one state of the store.
    pub(crate) async fn snapshot(&self) -> Result<Connection, BenchbookError> {
        self.connections.readers.snapshot().await.map_err(|error| self.failed(&error))
    }

    /// Refuses, in a database, what is done with files.
    pub(crate) fn refuse_database(&self, what: &'static str) -> Result<(), BenchbookError> {
        match place::database(&self.path) {
            Some(_) => Err(BenchbookError::NotForDatabases { path: self.path.to_path_buf(), what }),
            None => Ok(()),
        }
    }

    /// A change that holds the write lock from its start, so that it never
    /// has to be repeated. In a benchbook with accounts the hands in which it
    /// is must be allowed to, as their account stands at this moment.
    pub(crate) async fn change(
        &self,
        at: &Moment,
        action: Action,
    ) -> Result<Writing, BenchbookError> {
        let with_accounts = self.has_accounts().await?;
        let account = self.account();
        if with_accounts && account.is_none() {
            return Err(Refusal::NeedsAccount.into());
        }
        if !with_accounts && action.is_for_accounts_only() {
            return Err(Refusal::WithoutAccounts.into());
        }
        let mut writing = self.change_unasked(at, account).await?;
        if let Some(acting) = &self.acting {
            writing.hand.moment.actor.clone_from(&acting.name);
        }
        if with_accounts {
            self.permit(&mut writing, action).await?;
        }
        Ok(writing)
    }

    /// A change that nobody is asked for: passwords and their refusal.
    pub(crate) async fn change_unasked(
        &self,
        at: &Moment,
        account: Option<&str>,
    ) -> Result<Writing, BenchbookError> {
        at.check()?;
        let Some(writer) = &self.connections.writer else {
            return Err(BenchbookError::ReadOnly { path: self.path.to_path_buf() });
        };
        let hand = Hand {
            moment: at.clone(),
            account: account.map(str::to_owned),
            reason: self.reason.as_deref().map(str::to_owned),
        };
        let begun = async {
            let transaction = writer.begin().await?;
            let mut writing = Writing { transaction, hand };
            if !writing.transaction.is_of_newest_shape() {
                bring_to_newest_shape(&mut writing).await?;
            }
            Ok(writing)
        };
        begun.await.map_err(|error| self.failed(&error))
    }

    /// Refuses what the account that makes this change may not do.
    pub(crate) async fn permit(
        &self,
        writing: &mut Writing,
        action: Action,
    ) -> Result<(), BenchbookError> {
        let Some(account) = writing.hand.account.clone() else {
            return match self.has_accounts().await? {
                true => Err(Refusal::NeedsAccount.into()),
                false => Ok(()),
            };
        };
        let shape = self.account_shape(&mut writing.transaction, &account).await?;
        let Some(shape) = shape else { return Err(Refusal::UnknownAccount { account }.into()) };
        if !shape.active {
            return Err(Refusal::Disabled { account }.into());
        }
        if shape.must_change_password {
            return Err(Refusal::PasswordMustChange { account }.into());
        }
        let roles = shape.roles();
        match action.is_for(&roles) {
            true => Ok(()),
            false => Err(Refusal::NotAllowed { account, roles, action }.into()),
        }
    }

    /// Refuses a name that no case has, and lists those there are.
    pub(crate) async fn require_case(
        &self,
        connection: &mut Connection,
        id: &str,
    ) -> Result<(), BenchbookError> {
        let found = query("SELECT 1 FROM cases WHERE id = $1")
            .bind(id)
            .fetch_optional(&mut *connection)
            .await
            .map_err(|error| self.failed(&error))?;
        if found.is_some() {
            return Ok(());
        }
        let rows = query("SELECT id FROM cases ORDER BY number")
            .fetch_all(&mut *connection)
            .await
            .map_err(|error| self.failed(&error))?;
        let there = rows
            .iter()
            .map(|row| row.try_get(0))
            .collect::<Result<_, _>>()
            .map_err(|error| self.failed(&error))?;
        Err(BenchbookError::UnknownCase { id: id.to_owned(), there })
    }

    /// What the store said, as an error of this room.
    pub(crate) fn failed(&self, error: &sqlx::Error) -> BenchbookError {
        match place::database(&self.path) {
            Some(_) => postgres::from_sqlx(&self.path, self.busy_timeout, error),
            None => sqlite::from_sqlx(&self.path, self.busy_timeout, error),
        }
    }

    /// Something in the file is not as it was written.
    pub(crate) fn damaged(&self, what: String) -> BenchbookError {
        BenchbookError::Damaged { path: self.path.to_path_buf(), what }
    }
}

/// Gives an empty file its tables, its first event and its character.
async fn begin(
    writer: &Writer,
    people: Option<&People<'_>>,
    at: &Moment,
) -> Result<(), BenchbookOrStore> {
    let mut transaction = writer.begin().await?;
    if transaction.kind() == Kind::Postgres {
        postgres::make_schema(&mut transaction).await?;
    }
    let account = people.map(|people| people.owner.id.clone());
    let mut moment = at.clone();
    if let Some(people) = people {
        moment.actor.clone_from(&people.owner.name);
    }
    let mut writing = Writing { transaction, hand: Hand { moment, account, reason: None } };
    let done = migrations::run(&mut writing.transaction, 0, migrations::NEWEST).await?;
    let identity: String = match people {
        Some(people) => people.log_key.identity().to_owned(),
        // Nothing is computed from this value.
        None => {
            let mut drawn = [0; 16];
            getrandom::fill(&mut drawn).map_err(|error| sqlx::Error::Encode(error.into()))?;
            hex(&drawn)
        }
    };
    let mut character = vec![("begun", at.utc.as_str()), ("identity", identity.as_str())];
    if people.is_none() {
        character.push((
            "not for regulated use",
            "begun without accounts, so nobody's identity has been established",
        ));
    }
    // The first event covers the character, so that no line of it can be
    // taken away later.
    let lines: String = character.iter().map(|(name, value)| format!("{name}={value}\n")).collect();
    let detail = match people {
        None => "without accounts: not for regulated use",
        Some(_) => "with accounts",
    };
    let begun = Change {
        what: "benchbook begun",
        record: Some("character"),
        version: Some(1),
        new_sha256: Some(hex(&sha256(lines.as_bytes()))),
        detail: detail.to_owned(),
        ..Change::default()
    };
    let event = writing.append(&begun).await?;
    migrations::register(&mut writing.transaction, &done, event).await?;
    for (name, value) in character {
        query("INSERT INTO character (name, value, event) VALUES ($1, $2, $3)")
            .bind(name)
            .bind(value)
            .bind(event)
            .execute(&mut writing.transaction)
            .await?;
    }
    if let Some(people) = people {
        key::put(&mut writing, people.log_key, None).await?;
        first_account(&mut writing, people.owner, people.password).await?;
    }
    writing.commit().await?;
    Ok(())
}

/// Brings a file of an older shape to the newest, under an event of its own.
/// No row of it is changed.
async fn bring_to_newest_shape(writing: &mut Writing) -> Result<(), sqlx::Error> {
    let shape = writing.transaction.shape().await?;
    let shape = u32::try_from(shape).unwrap_or(migrations::NEWEST);
    if shape >= migrations::NEWEST {
        writing.transaction.note_newest_shape();
        return Ok(());
    }
    let done = migrations::run(&mut writing.transaction, shape, migrations::NEWEST).await?;
    let change = Change {
        what: "benchbook migrated",
        record: Some("migrations"),
        new_sha256: Some(hex(&sha256(
            migrations::lines(&done, writing.transaction.kind()).as_bytes(),
        ))),
        detail: format!("from shape {shape} to shape {}", migrations::NEWEST),
        ..Change::default()
    };
    let event = writing.append(&change).await?;
    migrations::register(&mut writing.transaction, &done, event).await
}

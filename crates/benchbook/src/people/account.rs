//! Accounts: made, given roles, disabled, and proven by their password.

use crate::boxed;
use crate::store::connection::Connection;
use ed25519_dalek::SigningKey;
use serde::{Deserialize, Serialize};

use super::acting::Acting;
use super::lock_out::{self, Attempts};
use super::password::{self, WrappedKey};
use super::refusal::Refusal;
use super::role::{Action, Role};
use crate::book::Benchbook;
use crate::entries;
use crate::errors::BenchbookError;
use crate::history::Change;
use crate::log::base64;
use crate::moment::Moment;
use crate::stored::entry_from_text;
use crate::writing::{Draft, Writing};

const ACCOUNT: &str = "account";
const CREDENTIAL: &str = "credential";
const ATTEMPTS: &str = "attempts";

/// An account as others see it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    /// Short name, never used for anybody else.
    pub id: String,
    /// Printed name.
    pub name: String,
    /// Roles.
    pub roles: Vec<Role>,
    /// False once it has been disabled.
    pub active: bool,
    /// True until its owner has chosen a password.
    pub must_change_password: bool,
    /// Who saw to it that the person is who it is said to be, and how.
    pub identity_checked: String,
    /// Public key of its signatures in base64 (Ed25519).
    pub public_key: String,
}

/// An account that is to be made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewAccount {
    /// Short name: small letters, digits, `.`, `-`, `_`.
    pub id: String,
    /// Printed name.
    pub name: String,
    /// Roles.
    pub roles: Vec<Role>,
    /// Who saw to it that the person is who it is said to be, and how.
    pub identity_checked: String,
}

/// An account as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct AccountShape {
    pub(crate) id: String,
    pub(crate) name: String,
    pub(crate) roles: Vec<String>,
    pub(crate) active: bool,
    pub(crate) must_change_password: bool,
    pub(crate) identity_checked: String,
    pub(crate) public_key: String,
}

impl AccountShape {
    pub(crate) fn roles(&self) -> Vec<Role> {
        self.roles.iter().filter_map(|word| Role::from_word(word)).collect()
    }

    fn shown(self) -> Account {
        Account {
            roles: self.roles(),
            id: self.id,
            name: self.name,
            active: self.active,
            must_change_password: self.must_change_password,
            identity_checked: self.identity_checked,
            public_key: self.public_key,
        }
    }
}

fn public_key(key: &SigningKey) -> String {
    base64::encode(key.verifying_key().as_bytes())
}

/// Refuses a name or a set of roles that nobody may have.
fn check(account: &NewAccount) -> Result<(), Refusal> {
    let refuse = |reason: &str| {
        Err(Refusal::BadAccount { account: account.id.clone(), reason: reason.to_owned() })
    };
    let id = account.id.as_str();
    let letters = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || ".-_".contains(c);
    if !(2..=40).contains(&id.len()) || !id.chars().all(letters) {
        return refuse("its name must be 2 to 40 small letters, digits, `.`, `-` or `_`");
    }
    if !id.starts_with(|c: char| c.is_ascii_lowercase()) {
        return refuse("its name must begin with a small letter");
    }
    if account.name.trim().is_empty() || account.name.chars().count() > 200 {
        return refuse("the printed name must have 1 to 200 characters");
    }
    if account.name.chars().any(char::is_control) {
        return refuse("the printed name holds a control character");
    }
    check_roles(id, &account.roles)
}

fn check_roles(id: &str, roles: &[Role]) -> Result<(), Refusal> {
    let refuse = |reason: &str| {
        Err(Refusal::BadAccount { account: id.to_owned(), reason: reason.to_owned() })
    };
    if roles.is_empty() {
        return refuse("it needs a role");
    }
    let keeps = roles.iter().any(|role| role.keeps_accounts());
    if keeps && roles.iter().any(|role| role.touches_data()) {
        return refuse(
            "whoever keeps accounts may not make, review or approve data; give the person a \
             second account for that",
        );
    }
    Ok(())
}

/// Writes the first account of a benchbook that is being made.
pub(crate) async fn first_account(
    writing: &mut Writing,
    account: &NewAccount,
    password: &str,
) -> Result<(), BenchbookOrStore> {
    check(account)?;
    if !account.roles.contains(&Role::Owner) {
        let reason = "the first account must be that of the owner".to_owned();
        return Err(Refusal::BadAccount { account: account.id.clone(), reason }.into());
    }
    password::check(password, &account.id, &account.name)?;
    let key = password::new_key()?;
    let credential = WrappedKey::of(&key, password)?;
    write(writing, account, &key, &credential, false).await?;
    Ok(())
}

/// Either a refusal or something from the store, before a path is known.
pub(crate) enum BenchbookOrStore {
    Refused(Refusal),
    Store(sqlx::Error),
}

impl From<Refusal> for BenchbookOrStore {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

impl From<sqlx::Error> for BenchbookOrStore {
    fn from(error: sqlx::Error) -> Self {
        Self::Store(error)
    }
}

async fn write(
    writing: &mut Writing,
    account: &NewAccount,
    key: &SigningKey,
    credential: &WrappedKey,
    must_change_password: bool,
) -> Result<(), sqlx::Error> {
    let shape = AccountShape {
        id: account.id.clone(),
        name: account.name.clone(),
        roles: account.roles.iter().map(|role| role.word().to_owned()).collect(),
        active: true,
        must_change_password,
        identity_checked: account.identity_checked.clone(),
        public_key: public_key(key),
    };
    let detail = format!("{} ({})", shape.name, shape.roles.join(", "));
    put_account(writing, &shape, "account added", detail).await?;
    put_credential(writing, &account.id, credential, "set with the account").await
}

async fn put_account(
    writing: &mut Writing,
    shape: &AccountShape,
    what: &str,
    detail: String,
) -> Result<(), sqlx::Error> {
    let draft =
        Draft { kind: ACCOUNT, subject: &shape.id, case_id: None, record: shape, what, detail };
    writing.put(&draft).await.map(drop)
}

async fn put_credential(
    writing: &mut Writing,
    id: &str,
    credential: &WrappedKey,
    how: &str,
) -> Result<(), sqlx::Error> {
    let draft = Draft {
        kind: CREDENTIAL,
        subject: id,
        case_id: None,
        record: credential,
        what: "password set",
        detail: how.to_owned(),
    };
    writing.put(&draft).await.map(drop)
}

impl Benchbook {
    /// The accounts, in the order in which they were made.
    ///
    /// # Errors
    /// Where the file cannot be read or a record is damaged.
    #[boxed]
    pub async fn accounts(&self) -> Result<Vec<Account>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        Ok(self.account_shapes(&mut snapshot).await?.into_iter().map(AccountShape::shown).collect())
    }

    async fn account_shapes(
        &self,
        connection: &mut Connection,
    ) -> Result<Vec<AccountShape>, BenchbookError> {
        entries::newest_of_kind(connection, ACCOUNT, None)
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|entry| self.entry::<AccountShape>(ACCOUNT, &entry.body))
            .collect()
    }

    /// The account, as it stands.
    pub(crate) async fn account_shape(
        &self,
        connection: &mut Connection,
        id: &str,
    ) -> Result<Option<AccountShape>, BenchbookError> {
        entries::newest(connection, ACCOUNT, id)
            .await
            .map_err(|error| self.failed(&error))?
            .map(|entry| self.entry(ACCOUNT, &entry.body))
            .transpose()
    }

    /// An entry from its text.
    pub(crate) fn entry<S: serde::de::DeserializeOwned>(
        &self,
        kind: &str,
        text: &str,
    ) -> Result<S, BenchbookError> {
        entry_from_text(kind, text)
            .map_err(|error| self.damaged(format!("a record `{kind}` cannot be read: {}", error.0)))
    }

    /// This benchbook in the hands of an account whose password was given.
    /// Wrong passwords are counted, written down, and lock the account.
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where account or password is not right, the
    /// account is locked or disabled, or there are no accounts; otherwise
    /// where the file cannot be read or written.
    #[boxed]
    pub async fn acting_as(
        &self,
        account: &str,
        password: &str,
        at: &Moment,
    ) -> Result<Self, BenchbookError> {
        let (shape, _key) = self.prove(account, password, at).await?;
        let acting = Acting { account: shape.id, name: shape.name };
        Ok(self.in_hands_of(Some(acting)))
    }

    /// The account and its signing key, where the password is right.
    pub(crate) async fn prove(
        &self,
        account: &str,
        password: &str,
        at: &Moment,
    ) -> Result<(AccountShape, SigningKey), BenchbookError> {
        at.check()?;
        if !self.has_accounts().await? {
            return Err(Refusal::WithoutAccounts.into());
        }
        let mut snapshot = self.snapshot().await?;
        let shape = self.account_shape(&mut snapshot, account).await?;
        let Some(shape) = shape else {
            drop(snapshot);
            password::take_the_time(password);
            // What was typed is not written down: it may be a password.
            self.note_refusal(None, Attempts::default(), at).await?;
            return Err(Refusal::NotRecognised.into());
        };
        let mut attempts = self.attempts(&mut snapshot, account).await?;
        let is_last = self.is_last_keeper(&mut snapshot, account).await?;
        if let Some(until) = lock_out::locked_until(&attempts, &at.utc, is_last) {
            let (account, failed) = (account.to_owned(), attempts.failed);
            return Err(Refusal::LockedOut { account, until, failed }.into());
        }
        let credential: WrappedKey = self.credential(&mut snapshot, account).await?;
        drop(snapshot);
        let Some(key) = credential.open(password) else {
            attempts.failed += 1;
            attempts.at.clone_from(&at.utc);
            self.note_refusal(Some(account), attempts, at).await?;
            return Err(Refusal::NotRecognised.into());
        };
        if public_key(&key) != shape.public_key {
            return Err(self.damaged(format!("the key of account `{account}` is not its own")));
        }
        if !shape.active {
            return Err(Refusal::Disabled { account: account.to_owned() }.into());
        }
        if attempts.failed > 0 {
            let none = Attempts { failed: 0, at: at.utc.clone() };
            self.note_attempts(account, &none, "password accepted", at).await?;
        }
        Ok((shape, key))
    }

    async fn credential(
        &self,
        connection: &mut Connection,
        account: &str,
    ) -> Result<WrappedKey, BenchbookError> {
        let entry = entries::newest(connection, CREDENTIAL, account)
            .await
            .map_err(|error| self.failed(&error))?
            .ok_or_else(|| self.damaged(format!("account `{account}` has no password")))?;
        self.entry(CREDENTIAL, &entry.body)
    }

    async fn attempts(
        &self,
        connection: &mut Connection,
        account: &str,
    ) -> Result<Attempts, BenchbookError> {
        let entry = entries::newest(connection, ATTEMPTS, account)
            .await
            .map_err(|error| self.failed(&error))?;
        entry.map_or_else(|| Ok(Attempts::default()), |entry| self.entry(ATTEMPTS, &entry.body))
    }

    /// True where nobody else could reset this account.
    async fn is_last_keeper(
        &self,
        connection: &mut Connection,
        account: &str,
    ) -> Result<bool, BenchbookError> {
        let shapes = self.account_shapes(connection).await?;
        Ok(!shapes.iter().any(|shape| {
            shape.id != account && shape.active && Action::KeepAccounts.is_for(&shape.roles())
        }))
    }

    async fn note_refusal(
        &self,
        account: Option<&str>,
        attempts: Attempts,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        let Some(account) = account else {
            let mut writing = self.change_unasked(at, None).await?;
            let change = Change {
                what: "password refused",
                detail: "for an account that does not exist".to_owned(),
                ..Change::default()
            };
            let written = async {
                writing.append(&change).await?;
                writing.commit().await
            };
            return written.await.map_err(|error| self.failed(&error));
        };
        self.note_attempts(account, &attempts, "password refused", at).await
    }

    async fn note_attempts(
        &self,
        account: &str,
        attempts: &Attempts,
        what: &str,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        let mut writing = self.change_unasked(at, Some(account)).await?;
        let draft = Draft {
            kind: ATTEMPTS,
            subject: account,
            case_id: None,
            record: attempts,
            what,
            detail: format!("{} wrong in a row", attempts.failed),
        };
        let written = async {
            writing.put(&draft).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }

    /// Makes an account with a first password, which its owner must change
    /// before doing anything else.
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where the hands may not, the name was ever
    /// used, or name, roles or password are not taken.
    #[boxed]
    pub async fn add_account(
        &self,
        account: &NewAccount,
        password: &str,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        check(account)?;
        password::check(password, &account.id, &account.name)?;
        let key = password::new_key()?;
        let credential = WrappedKey::of(&key, password)?;
        let mut writing = self.change(at, Action::KeepAccounts).await?;
        self.permit_roles(&mut writing, &account.roles).await?;
        if self.account_shape(&mut writing.transaction, &account.id).await?.is_some() {
            return Err(Refusal::AccountExists { account: account.id.clone() }.into());
        }
        let written = async {
            write(&mut writing, account, &key, &credential, true).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }

    /// Only an owner gives or takes the roles that keep accounts.
    async fn permit_roles(
        &self,
        writing: &mut Writing,
        roles: &[Role],
    ) -> Result<(), BenchbookError> {
        if roles.iter().any(|role| role.keeps_accounts()) {
            self.permit(writing, Action::GiveKeepingRoles).await?;
        }
        Ok(())
    }

    /// Gives an account other roles, or disables and enables it. Needs a
    /// reason, see [`Benchbook::because`].
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where the hands may not, there is no such
    /// account, no reason was given, or nobody would be left to keep accounts.
    #[boxed]
    pub async fn change_account(
        &self,
        id: &str,
        roles: &[Role],
        active: bool,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        check_roles(id, roles)?;
        let mut writing = self.change(at, Action::KeepAccounts).await?;
        let Some(mut shape) = self.account_shape(&mut writing.transaction, id).await? else {
            return Err(Refusal::UnknownAccount { account: id.to_owned() }.into());
        };
        let mut touched = shape.roles();
        touched.extend_from_slice(roles);
        self.permit_roles(&mut writing, &touched).await?;
        if writing.hand.reason.is_none() {
            return Err(Refusal::NeedsReason { what: format!("a change of account `{id}`") }.into());
        }
        let stays = active && Action::KeepAccounts.is_for(roles);
        if !stays && self.is_last_keeper(&mut writing.transaction, id).await? {
            let reason = "nobody would be left to keep accounts".to_owned();
            return Err(Refusal::BadAccount { account: id.to_owned(), reason }.into());
        }
        let before = format!("{}{}", shape.roles.join(", "), state(shape.active));
        shape.roles = roles.iter().map(|role| role.word().to_owned()).collect();
        shape.active = active;
        let detail = format!("{before} becomes {}{}", shape.roles.join(", "), state(active));
        let written = async {
            put_account(&mut writing, &shape, "account changed", detail).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }

    /// Gives an account a new first password and a new key, and unlocks it.
    /// The old key is gone: signatures made with it stand and can be checked,
    /// none can be made any more. Needs a reason.
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where the hands may not, there is no such
    /// account, no reason was given, or the password is not taken.
    #[boxed]
    pub async fn reset_password(
        &self,
        id: &str,
        password: &str,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        let key = password::new_key()?;
        let credential = WrappedKey::of(&key, password)?;
        let mut writing = self.change(at, Action::KeepAccounts).await?;
        let Some(mut shape) = self.account_shape(&mut writing.transaction, id).await? else {
            return Err(Refusal::UnknownAccount { account: id.to_owned() }.into());
        };
        self.permit_roles(&mut writing, &shape.roles()).await?;
        if writing.hand.reason.is_none() {
            let what = format!("a reset of the password of `{id}`");
            return Err(Refusal::NeedsReason { what }.into());
        }
        password::check(password, id, &shape.name)?;
        shape.must_change_password = true;
        shape.public_key = public_key(&key);
        let none = Attempts { failed: 0, at: at.utc.clone() };
        let written = async {
            put_account(&mut writing, &shape, "account changed", "new key".to_owned()).await?;
            put_credential(&mut writing, id, &credential, "reset by somebody else").await?;
            let draft = Draft {
                kind: ATTEMPTS,
                subject: id,
                case_id: None,
                record: &none,
                what: "account unlocked",
                detail: "with the new password".to_owned(),
            };
            writing.put(&draft).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }

    /// Changes the password of an account by whoever knows the old one. After
    /// a first password the key is drawn anew: somebody else knew the first.
    ///
    /// # Errors
    /// As [`Benchbook::acting_as`]; also where the new password is not taken.
    #[boxed]
    pub async fn change_password(
        &self,
        id: &str,
        old: &str,
        new: &str,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        let (mut shape, mut key) = self.prove(id, old, at).await?;
        password::check(new, id, &shape.name)?;
        if password::normal(old) == password::normal(new) {
            let reason = "it is the old one".to_owned();
            return Err(Refusal::BadPassword { reason }.into());
        }
        let renewed = shape.must_change_password;
        if renewed {
            key = password::new_key()?;
            shape.must_change_password = false;
            shape.public_key = public_key(&key);
        }
        let credential = WrappedKey::of(&key, new)?;
        let mut writing = self.change_unasked(at, Some(id)).await?;
        let written = async {
            if renewed {
                let what = "first password changed".to_owned();
                put_account(&mut writing, &shape, "account changed", what).await?;
            }
            put_credential(&mut writing, id, &credential, "changed by its owner").await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }

    /// True where the stored settings of a password are older than today's, so
    /// that changing it would make it stronger.
    ///
    /// # Errors
    /// Where there is no such account or the file cannot be read.
    #[boxed]
    pub async fn password_is_dated(&self, id: &str) -> Result<bool, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        Ok(!self.credential(&mut snapshot, id).await?.is_current())
    }
}

const fn state(active: bool) -> &'static str {
    if active { "" } else { " (disabled)" }
}

//! Sessions: how long somebody who has given a password may work without
//! giving it again. A signature always asks for it.

use crate::boxed;
use std::collections::BTreeMap;
use std::sync::Mutex;

use super::password::random;
use crate::book::Benchbook;
use crate::digest::{hex, sha256};
use crate::errors::BenchbookError;
use crate::moment::{self, Moment};

/// How long a session lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SessionLimits {
    /// Seconds without a request after which it ends.
    pub idle_s: i64,
    /// Seconds after which it ends in any case.
    pub longest_s: i64,
    /// Most sessions of one account at once; the oldest gives way.
    pub per_account: usize,
}

impl Default for SessionLimits {
    /// 15 minutes idle, 12 hours in all, three at once (common practice).
    fn default() -> Self {
        Self { idle_s: 15 * 60, longest_s: 12 * 3_600, per_account: 3 }
    }
}

struct Session {
    book: Benchbook,
    account: String,
    begun_s: i64,
    last_s: i64,
}

/// The sessions of a server. Only a hash of each token is kept, and no
/// password.
#[derive(Default)]
pub struct Sessions {
    limits: SessionLimits,
    open: Mutex<BTreeMap<String, Session>>,
}

impl Sessions {
    /// No sessions yet.
    #[must_use]
    pub fn new(limits: SessionLimits) -> Self {
        Self { limits, open: Mutex::default() }
    }

    /// A token that nobody can guess: 128 bits from the random source of the
    /// system, in hexadecimal.
    ///
    /// # Errors
    /// Where the system gives no random numbers.
    pub fn draw_token() -> Result<String, BenchbookError> {
        Ok(hex(&random::<16>()?))
    }

    /// Begins a session for somebody who has given both components, and gives
    /// its token: 128 bits in hexadecimal, to be kept in a cookie.
    ///
    /// # Errors
    /// As [`Benchbook::acting_as`].
    #[boxed]
    pub async fn begin(
        &self,
        book: &Benchbook,
        account: &str,
        password: &str,
        at: &Moment,
    ) -> Result<String, BenchbookError> {
        let acting = book.acting_as(account, password, at).await?;
        let token = Self::draw_token()?;
        let now = moment::seconds(&at.utc).unwrap_or(i64::MAX);
        let mut open = self.open.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let mut own: Vec<(i64, String)> = open
            .iter()
            .filter(|(_, session)| session.account == account)
            .map(|(key, session)| (session.begun_s, key.clone()))
            .collect();
        own.sort();
        while own.len() >= self.limits.per_account.max(1) {
            open.remove(&own.remove(0).1);
        }
        open.insert(
            key_of(&token),
            Session { book: acting, account: account.to_owned(), begun_s: now, last_s: now },
        );
        Ok(token)
    }

    /// The benchbook in the hands of whoever holds the token; `None` where
    /// there is no such session or it has ended. Counts as a request.
    #[must_use]
    pub fn book_of(&self, token: &str, utc: &str) -> Option<Benchbook> {
        let now = moment::seconds(utc)?;
        let key = key_of(token);
        let mut open = self.open.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let session = open.get_mut(&key)?;
        let idle = now.saturating_sub(session.last_s);
        let old = now.saturating_sub(session.begun_s);
        if !(0..=self.limits.idle_s).contains(&idle) || old > self.limits.longest_s {
            open.remove(&key);
            return None;
        }
        session.last_s = now;
        Some(session.book.clone())
    }

    /// Ends a session.
    pub fn end(&self, token: &str) {
        let mut open = self.open.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        open.remove(&key_of(token));
    }

    /// Ends every session of an account, as after a change of its roles.
    pub fn end_all_of(&self, account: &str) {
        let mut open = self.open.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        open.retain(|_, session| session.account != account);
    }
}

fn key_of(token: &str) -> String {
    hex(&sha256(token.as_bytes()))
}

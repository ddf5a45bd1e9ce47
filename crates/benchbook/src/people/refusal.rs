//! What is refused to a person, with the reason and one thing to do next.

use super::role::{Action, Role};

/// Why somebody may not do something now.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Refusal {
    /// The benchbook has accounts, and nobody has said who works.
    #[error("this benchbook has accounts, and no account was given")]
    NeedsAccount,
    /// Account or password is wrong; which one is not said.
    #[error("account or password is not right")]
    NotRecognised,
    /// Too many wrong passwords.
    #[error("account `{account}` is locked {until} after {failed} wrong passwords in a row")]
    LockedOut {
        /// The account.
        account: String,
        /// "until 2026-…" or "until its password is reset".
        until: String,
        /// Wrong passwords in a row.
        failed: u32,
    },
    /// The account was disabled.
    #[error("account `{account}` is disabled")]
    Disabled {
        /// The account.
        account: String,
    },
    /// The password was set by somebody else and must be changed first.
    #[error("the password of `{account}` was given by somebody else and must be changed first")]
    PasswordMustChange {
        /// The account.
        account: String,
    },
    /// None of the roles of the account allows it.
    #[error(
        "account `{account}` ({}) may not {}", in_words(roles), action.words()
    )]
    NotAllowed {
        /// The account.
        account: String,
        /// Its roles.
        roles: Vec<Role>,
        /// What was tried.
        action: Action,
    },
    /// The benchbook was begun without accounts.
    #[error(
        "this benchbook was begun without accounts and is marked 'not for regulated use' for ever"
    )]
    WithoutAccounts,
    /// The name of an account is taken, perhaps by one that was disabled.
    #[error("account `{account}` exists or existed, and names of accounts are never used again")]
    AccountExists {
        /// The account.
        account: String,
    },
    /// There is no such account.
    #[error("there is no account `{account}`")]
    UnknownAccount {
        /// The name.
        account: String,
    },
    /// An account that cannot be made or changed so.
    #[error("account `{account}`: {reason}")]
    BadAccount {
        /// The account.
        account: String,
        /// Why.
        reason: String,
    },
    /// A password that is not taken.
    #[error("the password is not taken: {reason}")]
    BadPassword {
        /// Why.
        reason: String,
    },
    /// Signing is not possible yet.
    #[error("case `{case_id}` cannot be signed as {meaning}: {reason}")]
    CannotSign {
        /// The case.
        case_id: String,
        /// `authored`, `reviewed` or `approved`.
        meaning: &'static str,
        /// Why.
        reason: String,
        /// One thing to do next.
        next: String,
    },
    /// A rule asks for a reason, and none was given.
    #[error("{what} needs a reason")]
    NeedsReason {
        /// What was tried.
        what: String,
    },
    /// The key that signs checkpoints is not at hand.
    #[error("the log key is not at hand: {reason}")]
    NoLogKey {
        /// Why.
        reason: String,
    },
    /// Something in the register or among the records of units.
    #[error("{what}")]
    BadRecord {
        /// What, and why.
        what: String,
    },
}

/// "analyst, reviewer".
fn in_words(roles: &[Role]) -> String {
    roles.iter().map(|role| role.word()).collect::<Vec<_>>().join(", ")
}

impl Refusal {
    /// One thing to do next.
    #[must_use]
    pub fn next_step(&self) -> String {
        match self {
            Self::NeedsAccount => "name one with --account, and give its password".to_owned(),
            Self::NotRecognised => {
                "try again; an administrator can reset a password that is lost".to_owned()
            }
            Self::LockedOut { .. } => "wait, or let an administrator reset the password".to_owned(),
            Self::Disabled { .. } => "ask an administrator of this benchbook".to_owned(),
            Self::PasswordMustChange { account } => {
                format!("change it: isobar account password BENCHBOOK --account {account}")
            }
            Self::NotAllowed { action, .. } => {
                format!("ask somebody who is {}", in_words(action.roles()))
            }
            Self::WithoutAccounts => {
                "begin another with accounts: isobar account begin BENCHBOOK --id ID --name NAME"
                    .to_owned()
            }
            Self::AccountExists { .. } => "choose another name".to_owned(),
            Self::UnknownAccount { .. } => "isobar account list BENCHBOOK shows them".to_owned(),
            Self::BadAccount { .. } => "change what is named, then try again".to_owned(),
            Self::BadPassword { .. } => {
                "choose a longer one, such as four or five words without a connection".to_owned()
            }
            Self::CannotSign { next, .. } => next.clone(),
            Self::NeedsReason { .. } => "give one with --reason".to_owned(),
            Self::NoLogKey { .. } => {
                "set ISOBAR_KEYS to the folder that holds it, or begin a new one: isobar \
                 checkpoint BENCHBOOK --new-key --reason WHY"
                    .to_owned()
            }
            Self::BadRecord { .. } => "change what is named, then try again".to_owned(),
        }
    }
}

//! Signatures of cases, and what must be done before one is given.
//!
//! A signature is over the state of a case: the newest version of each of its
//! records and every batch of its runs. Any later change gives another state,
//! so it stands on the old one and no longer on the new.

mod checkpoints;
mod open_items;
mod review;
mod sign;
pub(crate) mod state;

use serde::{Deserialize, Serialize};

pub(crate) use checkpoints::{CHECKPOINT, CheckpointShape};
pub use open_items::OpenItem;
pub use review::AuditChange;
pub use sign::ToSign;

/// Kind of the entries of signatures.
pub(crate) const SIGNATURE: &str = "signature";

/// What a signature says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meaning {
    /// The work is mine.
    Authored,
    /// I have reviewed it.
    Reviewed,
    /// I approve it.
    Approved,
}

impl Meaning {
    /// Every meaning, in the order of the work.
    pub const ALL: [Self; 3] = [Self::Authored, Self::Reviewed, Self::Approved];

    /// The word that people type and read.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Authored => "authored",
            Self::Reviewed => "reviewed",
            Self::Approved => "approved",
        }
    }

    /// The meaning of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|meaning| meaning.word() == word)
    }
}

/// A signature on a case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signature {
    /// Number of its event.
    pub event: u64,
    /// The case.
    pub case_id: String,
    /// What it says.
    pub meaning: Meaning,
    /// Account of the signer.
    pub account: String,
    /// Printed name of the signer.
    pub name: String,
    /// When, UTC in RFC 3339.
    pub at: String,
    /// SHA-256 of the state of the case that was signed, hexadecimal.
    pub state_sha256: String,
    /// SHA-256 of the report that the signer had before him, hexadecimal.
    pub report_sha256: String,
    /// True while the case is in the state that was signed.
    pub stands: bool,
    /// The exact text that was signed.
    pub statement: String,
}

/// A signature as it is stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SignatureShape {
    /// What was signed, see [`Statement`].
    pub(crate) statement: String,
    /// Lines of the state, whose SHA-256 stands in the statement.
    pub(crate) state: String,
    /// Public key of the signer in base64.
    pub(crate) public_key: String,
    /// Ed25519 signature over the statement in base64.
    pub(crate) signature: String,
}

/// What is signed, as lines `key value` in this order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Statement {
    pub(crate) origin: String,
    pub(crate) case_id: String,
    pub(crate) state: String,
    pub(crate) report: String,
    pub(crate) meaning: Meaning,
    pub(crate) account: String,
    pub(crate) name: String,
    pub(crate) roles: String,
    pub(crate) at: String,
    pub(crate) software: String,
    pub(crate) log_size: u64,
    pub(crate) log_root: String,
}

const HEADING: &str = "isobar signature v1";
const KEYS: [&str; 11] = [
    "origin", "case", "state", "report", "meaning", "account", "name", "roles", "at", "software",
    "log",
];

impl Statement {
    /// The text. No value holds a line feed: names are checked when they are
    /// given, the others have forms of their own.
    pub(crate) fn text(&self) -> String {
        let log = format!("{} {}", self.log_size, self.log_root);
        let values: [&str; 11] = [
            &self.origin,
            &self.case_id,
            &self.state,
            &self.report,
            self.meaning.word(),
            &self.account,
            &self.name,
            &self.roles,
            &self.at,
            &self.software,
            &log,
        ];
        let mut text = format!("{HEADING}\n");
        for (key, value) in KEYS.iter().zip(values) {
            text.push_str(&format!("{key} {value}\n"));
        }
        text
    }

    /// Reads a statement; `None` where the text is not exactly one.
    pub(crate) fn from_text(text: &str) -> Option<Self> {
        let mut lines = text.strip_suffix('\n')?.split('\n');
        if lines.next()? != HEADING {
            return None;
        }
        let mut values = Vec::with_capacity(KEYS.len());
        for key in KEYS {
            values.push(lines.next()?.strip_prefix(key)?.strip_prefix(' ')?);
        }
        if lines.next().is_some() {
            return None;
        }
        let owned = |index: usize| values[index].to_owned();
        let (size, root) = values[10].split_once(' ')?;
        let statement = Self {
            origin: owned(0),
            case_id: owned(1),
            state: owned(2),
            report: owned(3),
            meaning: Meaning::from_word(values[4])?,
            account: owned(5),
            name: owned(6),
            roles: owned(7),
            at: owned(8),
            software: owned(9),
            log_size: size.parse().ok()?,
            log_root: root.to_owned(),
        };
        (statement.text() == text).then_some(statement)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn statements_come_back(name in "[^\\x00-\\x1f\u{7f}]{1,40}", size: u64) {
            let statement = Statement {
                origin: "isobar/benchbook/00".into(),
                case_id: "lyo-2r".into(),
                state: "ab".into(),
                report: "cd".into(),
                meaning: Meaning::Approved,
                account: "a.approver".into(),
                name,
                roles: "approver, reviewer".into(),
                at: "2026-11-25T08:00:00Z".into(),
                software: "isobar 0.1.0".into(),
                log_size: size,
                log_root: "AA==".into(),
            };
            prop_assert_eq!(Statement::from_text(&statement.text()), Some(statement));
        }

        #[test]
        fn hostile_text_is_no_statement(text in "\\PC*") {
            prop_assert_eq!(Statement::from_text(&text), None);
        }
    }
}

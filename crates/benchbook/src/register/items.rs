//! The register of positive controls and flow standards: what each is, its
//! certificate, its checks, how often it was used, and whether it may be.

use crate::boxed;
use crate::store::connection::Connection;
use serde::{Deserialize, Serialize};

use super::attachments::keep_file;
use crate::book::Benchbook;
use crate::digest::{hex, sha256};
use crate::entries;
use crate::errors::BenchbookError;
use crate::moment::Moment;
use crate::people::{Action, Refusal};
use crate::writing::{Draft, Writing};

const REGISTER: &str = "register";

/// What is registered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ItemKind {
    /// A unit with a known leak.
    PositiveControl,
    /// A leak of certified flow.
    FlowStandard,
}

/// Whether an item may be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ItemState {
    /// It came in and was not checked yet.
    Arrived,
    /// It may be used.
    InUse,
    /// It may be clogged; only a passed re-verification brings it back.
    SuspectedClogged,
    /// It is used no more.
    Retired,
}

impl ItemState {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Arrived => "arrived, not checked",
            Self::InUse => "in use",
            Self::SuspectedClogged => "suspected clogged",
            Self::Retired => "retired",
        }
    }
}

/// What a certificate says. Quantities are kept as they are printed on it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    /// Its number.
    pub number: String,
    /// Who issued it.
    pub issued_by: String,
    /// Last day on which it holds, `YYYY-MM-DD`.
    pub valid_until: String,
    /// The certified value with unit and reference state.
    pub value: String,
    /// Its expanded uncertainty, with unit and coverage factor.
    pub uncertainty: String,
}

/// Why an item is checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckKind {
    /// It came in.
    Arrival,
    /// Its time had come, or it was suspected.
    Reverification,
}

/// The last check of an item.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LastCheck {
    /// Why.
    pub kind: CheckKind,
    /// True where it is what its certificate says.
    pub passed: bool,
    /// What was read, with unit.
    pub reading: String,
    /// When, UTC in RFC 3339.
    pub at: String,
}

/// A positive control or flow standard as it stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RegisterItem {
    /// Its name in the laboratory.
    pub id: String,
    /// What it is.
    pub kind: ItemKind,
    /// In words: container, place and kind of the leak.
    pub description: String,
    /// Its certificate; none where it has none.
    pub certificate: Option<Certificate>,
    /// Whether it may be used.
    pub state: ItemState,
    /// How often it was used.
    pub uses: u32,
    /// Its last check.
    pub last_check: Option<LastCheck>,
    /// SHA-256 of the certificate's file, hexadecimal, where it is kept.
    pub file_sha256: Option<String>,
}

/// A day `YYYY-MM-DD` that compares as text.
fn is_day(text: &str) -> bool {
    let digits = text.bytes().enumerate().all(|(index, byte)| match index {
        4 | 7 => byte == b'-',
        _ => byte.is_ascii_digit(),
    });
    text.len() == 10 && digits
}

impl RegisterItem {
    /// Why it may not be used on a day; `None` where it may.
    #[must_use]
    pub fn hindrance(&self, utc: &str) -> Option<String> {
        if self.state != ItemState::InUse {
            return Some(format!("it is {}", self.state.words()));
        }
        let certificate = self.certificate.as_ref()?;
        let day = utc.get(..10).unwrap_or_default();
        (certificate.valid_until.as_str() < day)
            .then(|| format!("its certificate held until {}", certificate.valid_until))
    }
}

impl Benchbook {
    /// The register, in the order in which items came in.
    ///
    /// # Errors
    /// Where the file cannot be read or a record is damaged.
    #[boxed]
    pub async fn register(&self) -> Result<Vec<RegisterItem>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        entries::newest_of_kind(&mut snapshot, REGISTER, None)
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|entry| self.entry(REGISTER, &entry.body))
            .collect()
    }

    async fn item(
        &self,
        connection: &mut Connection,
        id: &str,
    ) -> Result<RegisterItem, BenchbookError> {
        let entry =
            entries::newest(connection, REGISTER, id).await.map_err(|error| self.failed(&error))?;
        match entry {
            Some(entry) => self.entry(REGISTER, &entry.body),
            None => Err(bad(format!("the register has no `{id}`"))),
        }
    }

    async fn put_item(
        &self,
        mut writing: Writing,
        item: &RegisterItem,
        what: &str,
        detail: String,
        certificate: Option<&[u8]>,
    ) -> Result<RegisterItem, BenchbookError> {
        let draft =
            Draft { kind: REGISTER, subject: &item.id, case_id: None, record: item, what, detail };
        let written = async {
            let event = writing.put(&draft).await?;
            if let Some(bytes) = certificate {
                keep_file(&mut writing, bytes, event).await?;
            }
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))?;
        Ok(item.clone())
    }

    /// Registers an item that came in. It is used after its arrival check.
    ///
    /// # Errors
    /// Where the name is taken or cannot be one, the certificate has no day,
    /// the hands may not, or the file cannot be written.
    #[boxed]
    pub async fn register_item(
        &self,
        id: &str,
        kind: ItemKind,
        description: &str,
        certificate: Option<(&Certificate, Option<&[u8]>)>,
        at: &Moment,
    ) -> Result<RegisterItem, BenchbookError> {
        let named = !id.is_empty() && id.chars().all(|c| c.is_alphanumeric() || "-_.".contains(c));
        if !named || id.chars().count() > 80 {
            return Err(bad(format!("`{id}` cannot name an item: use letters, digits, - _ .")));
        }
        check_certificate(certificate.map(|(certificate, _)| certificate))?;
        let mut writing = self.change(at, Action::KeepRegister).await?;
        if self.item(&mut writing.transaction, id).await.is_ok() {
            return Err(bad(format!("the register has a `{id}` already")));
        }
        let file = certificate.and_then(|(_, file)| file);
        let item = RegisterItem {
            id: id.to_owned(),
            kind,
            description: description.to_owned(),
            certificate: certificate.map(|(certificate, _)| certificate.clone()),
            state: ItemState::Arrived,
            uses: 0,
            last_check: None,
            file_sha256: file.map(|bytes| hex(&sha256(bytes))),
        };
        let detail = format!("{id}: {description}");
        self.put_item(writing, &item, "item registered", detail, file).await
    }

    /// Records a check of an item. Passed, it may be used; failed, it is
    /// suspected clogged.
    ///
    /// # Errors
    /// Where there is no such item, it is retired, an arrival check comes
    /// twice, the hands may not, or the file cannot be written.
    #[boxed]
    pub async fn check_item(
        &self,
        id: &str,
        kind: CheckKind,
        passed: bool,
        reading: &str,
        at: &Moment,
    ) -> Result<RegisterItem, BenchbookError> {
        let mut writing = self.change(at, Action::KeepRegister).await?;
        let mut item = self.item(&mut writing.transaction, id).await?;
        let arrival = kind == CheckKind::Arrival;
        if item.state == ItemState::Retired {
            return Err(bad(format!("`{id}` is retired")));
        }
        if arrival != (item.state == ItemState::Arrived) {
            let what = format!("`{id}` is {}: this is no time for that check", item.state.words());
            return Err(bad(what));
        }
        if reading.trim().is_empty() {
            return Err(bad(format!("the check of `{id}` needs its reading")));
        }
        item.state = if passed { ItemState::InUse } else { ItemState::SuspectedClogged };
        item.last_check =
            Some(LastCheck { kind, passed, reading: reading.to_owned(), at: at.utc.clone() });
        let detail = format!("{id}: {reading}, {}", if passed { "passed" } else { "failed" });
        let what = if arrival { "arrival check" } else { "re-verification" };
        self.put_item(writing, &item, what, detail, None).await
    }

    /// Counts uses of an item.
    ///
    /// # Errors
    /// [`BenchbookError::Refused`] where it may not be used: not checked,
    /// suspected, retired, or its certificate has run out.
    #[boxed]
    pub async fn use_item(
        &self,
        id: &str,
        times: u32,
        at: &Moment,
    ) -> Result<RegisterItem, BenchbookError> {
        let mut writing = self.change(at, Action::KeepRegister).await?;
        let mut item = self.item(&mut writing.transaction, id).await?;
        if let Some(hindrance) = item.hindrance(&at.utc) {
            return Err(bad(format!("`{id}` may not be used: {hindrance}")));
        }
        item.uses = item.uses.saturating_add(times);
        let detail = format!("{id}: {times} more, {} in all", item.uses);
        self.put_item(writing, &item, "item used", detail, None).await
    }

    /// Marks an item as suspected clogged, or retires it. Needs a reason.
    ///
    /// # Errors
    /// Where there is no such item, it is retired, no reason was given, the
    /// hands may not, or the file cannot be written.
    #[boxed]
    pub async fn withdraw_item(
        &self,
        id: &str,
        state: ItemState,
        at: &Moment,
    ) -> Result<RegisterItem, BenchbookError> {
        let (state, what) = match state {
            ItemState::Retired => (state, "item retired"),
            _ => (ItemState::SuspectedClogged, "clogging suspected"),
        };
        let mut writing = self.change(at, Action::KeepRegister).await?;
        let mut item = self.item(&mut writing.transaction, id).await?;
        if item.state == ItemState::Retired {
            return Err(bad(format!("`{id}` is retired")));
        }
        let Some(reason) = writing.hand.reason.clone() else {
            return Err(Refusal::NeedsReason { what: format!("withdrawing `{id}`") }.into());
        };
        item.state = state;
        let detail = format!("{id}, after {} uses: {reason}", item.uses);
        self.put_item(writing, &item, what, detail, None).await
    }

    /// Gives an item another certificate. Needs a reason.
    ///
    /// # Errors
    /// Where there is no such item, it is retired, no reason was given, the
    /// certificate has no day, the hands may not, or the file cannot be
    /// written.
    #[boxed]
    pub async fn renew_certificate(
        &self,
        id: &str,
        certificate: &Certificate,
        file: Option<&[u8]>,
        at: &Moment,
    ) -> Result<RegisterItem, BenchbookError> {
        check_certificate(Some(certificate))?;
        let mut writing = self.change(at, Action::KeepRegister).await?;
        let mut item = self.item(&mut writing.transaction, id).await?;
        if item.state == ItemState::Retired {
            return Err(bad(format!("`{id}` is retired")));
        }
        if writing.hand.reason.is_none() {
            return Err(Refusal::NeedsReason { what: format!("a certificate of `{id}`") }.into());
        }
        item.certificate = Some(certificate.clone());
        item.file_sha256 = file.map(|bytes| hex(&sha256(bytes)));
        let detail = format!("{id}: {}, until {}", certificate.number, certificate.valid_until);
        self.put_item(writing, &item, "certificate renewed", detail, file).await
    }
}

fn check_certificate(certificate: Option<&Certificate>) -> Result<(), BenchbookError> {
    match certificate {
        Some(certificate) if !is_day(&certificate.valid_until) => {
            Err(bad(format!("`{}` is no day such as 2027-05-31", certificate.valid_until)))
        }
        Some(certificate) if certificate.number.trim().is_empty() => {
            Err(bad("the certificate needs its number".to_owned()))
        }
        _ => Ok(()),
    }
}

fn bad(what: String) -> BenchbookError {
    Refusal::BadRecord { what }.into()
}

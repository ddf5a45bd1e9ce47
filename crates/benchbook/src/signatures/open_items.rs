//! Open items: what is not settled yet. While one is open, nothing is signed.

use crate::boxed;
use crate::store::connection::Connection;
use serde::{Deserialize, Serialize};

use crate::book::Benchbook;
use crate::entries;
use crate::errors::BenchbookError;
use crate::moment::Moment;
use crate::people::{Action, Refusal};
use crate::writing::{Draft, Writing};

const OPEN_ITEM: &str = "open_item";

/// Something that must be settled before a case is signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenItem {
    /// Number within the case, counted from 1.
    pub number: u32,
    /// What is open.
    pub text: String,
    /// How it was settled; none while it is open.
    pub settled: Option<String>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct OpenItemShape {
    number: u32,
    text: String,
    settled: Option<String>,
}

impl Benchbook {
    /// The open items of a case, settled ones too.
    ///
    /// # Errors
    /// Where there is no such case or the file cannot be read.
    #[boxed]
    pub async fn open_items(&self, case_id: &str) -> Result<Vec<OpenItem>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.require_case(&mut snapshot, case_id).await?;
        self.read_open_items(&mut snapshot, case_id).await
    }

    pub(super) async fn read_open_items(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<Vec<OpenItem>, BenchbookError> {
        entries::newest_of_kind(connection, OPEN_ITEM, Some(case_id))
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|entry| {
                let OpenItemShape { number, text, settled } = self.entry(OPEN_ITEM, &entry.body)?;
                Ok(OpenItem { number, text, settled })
            })
            .collect()
    }

    /// Notes an open item of a case and gives its number. The same text is
    /// not noted twice while it is open.
    ///
    /// # Errors
    /// Where there is no such case, the hands may not, or the file cannot be
    /// written.
    #[boxed]
    pub async fn note_open_item(
        &self,
        case_id: &str,
        text: &str,
        at: &Moment,
    ) -> Result<u32, BenchbookError> {
        let mut writing = self.change(at, Action::KeepOpenItems).await?;
        self.require_case(&mut writing.transaction, case_id).await?;
        let number = self.note_within(&mut writing, case_id, text).await?;
        writing.commit().await.map_err(|error| self.failed(&error))?;
        Ok(number)
    }

    /// Notes an open item within a change that is being made.
    pub(crate) async fn note_within(
        &self,
        writing: &mut Writing,
        case_id: &str,
        text: &str,
    ) -> Result<u32, BenchbookError> {
        let there = self.read_open_items(&mut writing.transaction, case_id).await?;
        if let Some(same) = there.iter().find(|item| item.settled.is_none() && item.text == text) {
            return Ok(same.number);
        }
        if text.trim().is_empty() {
            return Err(Refusal::BadRecord { what: "an open item needs a text".to_owned() }.into());
        }
        let number = there.iter().map(|item| item.number).max().unwrap_or(0) + 1;
        let shape = OpenItemShape { number, text: text.to_owned(), settled: None };
        let draft = Draft {
            kind: OPEN_ITEM,
            subject: &format!("{case_id}/{number}"),
            case_id: Some(case_id),
            record: &shape,
            what: "open item noted",
            detail: text.to_owned(),
        };
        writing.put(&draft).await.map_err(|error| self.failed(&error))?;
        Ok(number)
    }

    /// Settles an open item; how is written down.
    ///
    /// # Errors
    /// Where there is no such open item, no words say how it was settled, the
    /// hands may not, or the file cannot be written.
    #[boxed]
    pub async fn settle_open_item(
        &self,
        case_id: &str,
        number: u32,
        how: &str,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        let mut writing = self.change(at, Action::KeepOpenItems).await?;
        self.require_case(&mut writing.transaction, case_id).await?;
        if how.trim().is_empty() {
            return Err(
                Refusal::NeedsReason { what: format!("settling open item {number}") }.into()
            );
        }
        let there = self.read_open_items(&mut writing.transaction, case_id).await?;
        let open = there.iter().find(|item| item.number == number && item.settled.is_none());
        let Some(item) = open else {
            let what = format!("case `{case_id}` has no open item {number}");
            return Err(Refusal::BadRecord { what }.into());
        };
        let settled = Some(how.to_owned());
        let shape = OpenItemShape { number, text: item.text.clone(), settled };
        let draft = Draft {
            kind: OPEN_ITEM,
            subject: &format!("{case_id}/{number}"),
            case_id: Some(case_id),
            record: &shape,
            what: "open item settled",
            detail: how.to_owned(),
        };
        let written = async {
            writing.put(&draft).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }
}

//! Records of units under test: receipt, custody, conditioning, and the rule
//! for a retest, which is written before it is needed.

use crate::boxed;
use crate::store::connection::Connection;
use crate::store::query::query;
use serde::{Deserialize, Serialize};

use super::as_subject;
use crate::book::Benchbook;
use crate::entries;
use crate::errors::BenchbookError;
use crate::moment::Moment;
use crate::people::{Action, Refusal};
use crate::writing::Draft;

const UNIT: &str = "unit";

/// What a record of a unit is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitRecordKind {
    /// It came in: when, from whom, in which state.
    Receipt,
    /// Who has it, and where.
    Custody,
    /// How it was brought to the conditions of the test.
    Conditioning,
    /// When and how it is tested again.
    RetestRule,
}

impl UnitRecordKind {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Receipt, Self::Custody, Self::Conditioning, Self::RetestRule];

    /// The word that people type and read.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Receipt => "receipt",
            Self::Custody => "custody",
            Self::Conditioning => "conditioning",
            Self::RetestRule => "retest-rule",
        }
    }

    /// The kind of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// A record of a unit, or of all units of a case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitRecord {
    /// The unit; `*` for all of them.
    pub unit: String,
    /// What it is about.
    pub kind: UnitRecordKind,
    /// The record in words.
    pub text: String,
    /// Number of its event in the history.
    pub event: u64,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct UnitShape {
    unit: String,
    about: String,
    text: String,
}

impl Benchbook {
    /// Records something about a unit, or with `*` about all units of a case.
    /// A rule for retests that comes after runs of the unit needs a reason.
    ///
    /// # Errors
    /// Where there is no such case, a reason is missing, the hands may not, or
    /// the file cannot be written.
    #[boxed]
    pub async fn record_unit(
        &self,
        case_id: &str,
        unit: &str,
        kind: UnitRecordKind,
        text: &str,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        if unit.trim().is_empty() || text.trim().is_empty() {
            let what = "a record of a unit needs the unit and a text".to_owned();
            return Err(Refusal::BadRecord { what }.into());
        }
        let mut writing = self.change(at, Action::AddRuns).await?;
        self.require_case(&mut writing.transaction, case_id).await?;
        let fallen = self.signatures_that_fall(&mut writing, case_id).await?;
        if kind == UnitRecordKind::RetestRule && writing.hand.reason.is_none() {
            let runs = self.runs_there(&mut writing.transaction, case_id).await?;
            if runs > 0 {
                let what = format!("a retest rule after {runs} runs of case `{case_id}`");
                return Err(Refusal::NeedsReason { what }.into());
            }
        }
        let shape = UnitShape {
            unit: unit.to_owned(),
            about: kind.word().to_owned(),
            text: text.to_owned(),
        };
        let subject = format!("{}/{}/{}", as_subject(case_id), as_subject(unit), kind.word());
        let draft = Draft {
            kind: UNIT,
            subject: &subject,
            case_id: Some(case_id),
            record: &shape,
            what: "unit recorded",
            detail: format!("{} of unit {unit}: {text}{fallen}", kind.word()),
        };
        let written = async {
            writing.put(&draft).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }

    async fn runs_there(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<i64, BenchbookError> {
        query("SELECT count(*) FROM runs WHERE case_id = $1")
            .bind(case_id)
            .fetch_one(connection)
            .await
            .and_then(|row| row.try_get(0))
            .map_err(|error| self.failed(&error))
    }

    /// The records of the units of a case, every version, oldest first.
    ///
    /// # Errors
    /// Where there is no such case or the file cannot be read.
    #[boxed]
    pub async fn unit_records(&self, case_id: &str) -> Result<Vec<UnitRecord>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.require_case(&mut snapshot, case_id).await?;
        entries::of_kind(&mut snapshot, UNIT, Some(case_id))
            .await
            .map_err(|error| self.failed(&error))?
            .iter()
            .map(|entry| {
                let shape: UnitShape = self.entry(UNIT, &entry.body)?;
                let kind = UnitRecordKind::from_word(&shape.about)
                    .ok_or_else(|| self.damaged(format!("`{}` is no record", shape.about)))?;
                let event = u64::try_from(entry.event).unwrap_or(0);
                Ok(UnitRecord { unit: shape.unit, kind, text: shape.text, event })
            })
            .collect()
    }
}

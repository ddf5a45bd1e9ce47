//! Everything that a benchbook holds of a case, as the exact texts that are
//! stored: what an archive keeps.

use crate::book::Benchbook;
use crate::boxed;
use crate::entries;
use crate::errors::BenchbookError;
use crate::log::checkpoint::Checkpoint;
use crate::log::merkle;
use crate::log::proof::EventProof;
use crate::store::query::query;

/// The stored texts of a case, with the proof that its events stand in the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaseTexts {
    /// Name `kind-version` and JSON text of each version of each record.
    pub records: Vec<(String, String)>,
    /// Number and JSON text of each run, without its samples.
    pub runs: Vec<(u32, String)>,
    /// Name and JSON text of each version of each other entry of the case.
    pub entries: Vec<(String, String)>,
    /// Exact text of each event of the case, and its proof.
    pub events: Vec<(String, EventProof)>,
    /// Head of the log that all proofs lead to.
    pub checkpoint: Checkpoint,
}

impl Benchbook {
    /// The stored texts of a case.
    ///
    /// # Errors
    /// Where there is no such case, or something is damaged.
    #[boxed]
    pub async fn case_texts(&self, case_id: &str) -> Result<CaseTexts, BenchbookError> {
        // Reading the whole case compares every text and sample with its hash.
        self.case(case_id).await?;
        let failed = |error: sqlx::Error| self.failed(&error);
        let identity = self.identity().await?;
        let leaves = self.leaves().await?;
        let mut snapshot = self.snapshot().await?;
        let rows = query(
            "SELECT kind, version, body FROM records WHERE case_id = $1 ORDER BY kind, version",
        )
        .bind(case_id)
        .fetch_all(&mut snapshot)
        .await
        .map_err(failed)?;
        let mut records = Vec::new();
        for row in &rows {
            let (kind, version): (String, i64) = (self.field(row, 0)?, self.field(row, 1)?);
            records.push((format!("{kind}-{version}"), self.field(row, 2)?));
        }
        let rows = query("SELECT number, body FROM runs WHERE case_id = $1 ORDER BY number")
            .bind(case_id)
            .fetch_all(&mut snapshot)
            .await
            .map_err(failed)?;
        let mut runs = Vec::new();
        for row in &rows {
            runs.push((self.field(row, 0)?, self.field(row, 1)?));
        }
        let mut texts = Vec::new();
        if entries::are_there(&mut snapshot).await.map_err(failed)? {
            let rows = query("SELECT kind, id, body FROM entries WHERE case_id = $1 ORDER BY id")
                .bind(case_id)
                .fetch_all(&mut snapshot)
                .await
                .map_err(failed)?;
            for (row, number) in rows.iter().zip(1..) {
                let kind: String = self.field(row, 0)?;
                texts.push((format!("{number:04}-{kind}"), self.field(row, 2)?));
            }
        }
        let checkpoint = Checkpoint::new(&identity, leaves.len() as u64, merkle::root(&leaves));
        let rows = query("SELECT number, event FROM history WHERE case_id = $1 ORDER BY number")
            .bind(case_id)
            .fetch_all(&mut snapshot)
            .await
            .map_err(failed)?;
        let mut events = Vec::new();
        for row in &rows {
            let number: i64 = row.try_get(0).map_err(failed)?;
            let event: String = self.field(row, 1)?;
            let index = usize::try_from(number - 1).unwrap_or(usize::MAX);
            let proof = EventProof {
                index: index as u64,
                hashes: merkle::inclusion_proof(&leaves, index),
                checkpoint: checkpoint.clone(),
            };
            if !proof.holds_for(&event) {
                return Err(self.damaged(format!("event {number} does not have its hash")));
            }
            events.push((event, proof));
        }
        Ok(CaseTexts { records, runs, entries: texts, events, checkpoint })
    }
}

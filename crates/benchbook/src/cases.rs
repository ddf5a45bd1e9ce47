//! Reading: cases, whole or without their samples, and single runs. What is
//! read is compared with the hash under which it was written.

use crate::boxed;
use crate::store::connection::Connection;
use crate::store::query::{Field, Row, query};
use study::{Case, CaseInput, Run, Step};

use crate::book::Benchbook;
use crate::digest::sha256;
use crate::errors::BenchbookError;
use crate::history;
use crate::samples::Samples;
use crate::stored::{self, Kept, RunShape, Unreadable};

/// A case as a list shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaseSummary {
    /// Short name.
    pub id: String,
    /// One line that a reader recognises.
    pub title: String,
    /// True for a scenario that was made up.
    pub invented: bool,
    /// Number of runs.
    pub n_runs: u64,
    /// The first step that still lacks its outcome.
    pub next_step: Step,
    /// Answer of the forecast in a word or two; absent before there is one.
    pub verdict: Option<String>,
    /// Time of the last change, UTC in RFC 3339.
    pub changed_at: String,
}

/// How much of the runs is read.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Depth {
    Whole,
    WithoutSamples,
    /// One run, which is enough to know that there are some.
    FirstRunOnly,
}

impl Benchbook {
    /// Every case, in the order in which they were added.
    ///
    /// # Errors
    /// Where the file cannot be read or a record is damaged.
    #[boxed]
    pub async fn cases(&self) -> Result<Vec<CaseSummary>, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        let rows = query("SELECT id FROM cases ORDER BY number")
            .fetch_all(&mut snapshot)
            .await
            .map_err(|error| self.failed(&error))?;
        let mut summaries = Vec::with_capacity(rows.len());
        for row in rows {
            let id: String = self.field(&row, 0)?;
            let (newest, changed_at) = self.changed_at(&mut snapshot, &id).await?;
            // Whatever a summary says changes by an event of its case.
            let kept = self.summaries.lock().ok().and_then(|kept| kept.get(&id).cloned());
            if let Some((_, summary)) = kept.filter(|(event, _)| *event == newest) {
                summaries.push(summary);
                continue;
            }
            let case = self.read_case(&mut snapshot, &id, Depth::FirstRunOnly).await?;
            let summary = CaseSummary {
                n_runs: self.count_runs(&mut snapshot, &id).await?,
                next_step: case.next_step(),
                verdict: case
                    .forecast
                    .as_ref()
                    .map(|forecast| forecast.verdict.answer.word().to_owned()),
                changed_at,
                title: case.input.title,
                invented: case.input.invented,
                id: id.clone(),
            };
            if let Ok(mut kept) = self.summaries.lock() {
                kept.insert(id, (newest, summary.clone()));
            }
            summaries.push(summary);
        }
        Ok(summaries)
    }

    /// Number of the newest event of a case: whatever is read of a case stays as
    /// it is while this stays.
    ///
    /// # Errors
    /// Where the file cannot be read, or the case has no history.
    #[boxed]
    pub async fn newest_event(&self, id: &str) -> Result<i64, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.require_case(&mut snapshot, id).await?;
        Ok(self.changed_at(&mut snapshot, id).await?.0)
    }

    /// A case with everything that has been done for it, samples included.
    ///
    /// # Errors
    /// [`BenchbookError::UnknownCase`] where there is no such case;
    /// [`BenchbookError::Damaged`] where a record is not as it was written.
    #[boxed]
    pub async fn case(&self, id: &str) -> Result<Case, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.read_case(&mut snapshot, id, Depth::Whole).await
    }

    /// A case whose runs carry their stages but no samples: quick, for lists.
    ///
    /// # Errors
    /// As [`Benchbook::case`].
    #[boxed]
    pub async fn case_without_traces(&self, id: &str) -> Result<Case, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.read_case(&mut snapshot, id, Depth::WithoutSamples).await
    }

    /// One run with its samples.
    ///
    /// # Errors
    /// [`BenchbookError::UnknownCase`] or [`BenchbookError::UnknownRun`] where
    /// there is none; [`BenchbookError::Damaged`] where it is not as it was
    /// written.
    #[boxed]
    pub async fn run(&self, case_id: &str, number: u32) -> Result<Run, BenchbookError> {
        let mut snapshot = self.snapshot().await?;
        self.require_case(&mut snapshot, case_id).await?;
        let row = query("SELECT number, body, sha256 FROM runs WHERE case_id = $1 AND number = $2")
            .bind(case_id)
            .bind(number)
            .fetch_optional(&mut snapshot)
            .await
            .map_err(|error| self.failed(&error))?;
        let Some(row) = row else {
            let n_runs = self.count_runs(&mut snapshot, case_id).await?;
            let case_id = case_id.to_owned();
            return Err(BenchbookError::UnknownRun { case_id, number, n_runs });
        };
        let (number, shape) = self.run_shape(case_id, &row)?;
        let mut samples = self.samples(&mut snapshot, case_id, Some(number)).await?;
        self.run_with_samples(case_id, number, shape, &mut samples)
    }

    /// As [`Benchbook::case`], through a connection that is at work.
    pub(crate) async fn read_whole(
        &self,
        connection: &mut Connection,
        id: &str,
    ) -> Result<Case, BenchbookError> {
        self.read_case(connection, id, Depth::Whole).await
    }

    async fn read_case(
        &self,
        connection: &mut Connection,
        id: &str,
        depth: Depth,
    ) -> Result<Case, BenchbookError> {
        self.require_case(connection, id).await?;
        let input = self
            .latest::<CaseInput>(connection, id)
            .await?
            .ok_or_else(|| self.damaged(format!("case `{id}` has no beginning")))?;
        Ok(Case {
            input,
            forecast: self.latest(connection, id).await?,
            method: self.latest(connection, id).await?,
            plan: self.latest(connection, id).await?,
            runs: self.read_runs(connection, id, depth).await?,
            results: self.latest(connection, id).await?,
        })
    }

    /// The version in force of a record.
    async fn latest<T: Kept>(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<Option<T>, BenchbookError> {
        let kind = T::KIND.word();
        let row = query(
            "SELECT body, sha256 FROM records WHERE case_id = $1 AND kind = $2 ORDER BY version \
             DESC LIMIT 1",
        )
        .bind(case_id)
        .bind(kind)
        .fetch_optional(connection)
        .await
        .map_err(|error| self.failed(&error))?;
        let Some(row) = row else { return Ok(None) };
        let what = || format!("{kind} of case `{case_id}`");
        let body: &str = self.field(&row, 0)?;
        self.check_hash(&what, body.as_bytes(), self.field(&row, 1)?)?;
        T::from_text(body).map(Some).map_err(|reason| self.unreadable(&what(), &reason))
    }

    async fn read_runs(
        &self,
        connection: &mut Connection,
        case_id: &str,
        depth: Depth,
    ) -> Result<Vec<Run>, BenchbookError> {
        let limit = if depth == Depth::FirstRunOnly { 1 } else { i64::MAX };
        let rows = query(
            "SELECT number, body, sha256 FROM runs WHERE case_id = $1 ORDER BY number LIMIT $2",
        )
        .bind(case_id)
        .bind(limit)
        .fetch_all(&mut *connection)
        .await
        .map_err(|error| self.failed(&error))?;
        let mut samples = match depth {
            Depth::Whole => self.samples(connection, case_id, None).await?,
            _ => Samples::default(),
        };
        let mut runs = Vec::with_capacity(rows.len());
        for row in &rows {
            let (number, shape) = self.run_shape(case_id, row)?;
            runs.push(if depth == Depth::Whole {
                self.run_with_samples(case_id, number, shape, &mut samples)?
            } else {
                stored::run_without_samples(shape)
                    .map_err(|reason| self.unreadable(&run_in_words(case_id, number), &reason))?
            });
        }
        Ok(runs)
    }

    fn run_shape(&self, case_id: &str, row: &Row) -> Result<(u32, RunShape), BenchbookError> {
        let number: u32 = self.field(row, 0)?;
        let body: &str = self.field(row, 1)?;
        let what = || run_in_words(case_id, number);
        self.check_hash(&what, body.as_bytes(), self.field(row, 2)?)?;
        let shape =
            stored::run_from_text(body).map_err(|reason| self.unreadable(&what(), &reason))?;
        Ok((number, shape))
    }

    async fn count_runs(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<u64, BenchbookError> {
        let row = query("SELECT count(*) FROM runs WHERE case_id = $1")
            .bind(case_id)
            .fetch_one(connection)
            .await
            .map_err(|error| self.failed(&error))?;
        Ok(u64::try_from(self.field::<i64>(&row, 0)?).unwrap_or(0))
    }

    async fn changed_at(
        &self,
        connection: &mut Connection,
        case_id: &str,
    ) -> Result<(i64, String), BenchbookError> {
        let row = query(
            "SELECT event, number FROM history WHERE case_id = $1 ORDER BY number DESC LIMIT 1",
        )
        .bind(case_id)
        .fetch_optional(connection)
        .await
        .map_err(|error| self.failed(&error))?;
        let Some(row) = row else {
            return Err(self.damaged(format!("case `{case_id}` has no history")));
        };
        let number = self.field(&row, 1)?;
        history::from_text(self.field(&row, 0)?)
            .map(|event| (number, event.at))
            .map_err(|error| self.damaged(format!("an event cannot be read: {error}")))
    }

    pub(crate) fn field<'r, T: Field<'r>>(
        &self,
        row: &'r Row,
        index: usize,
    ) -> Result<T, BenchbookError> {
        row.try_get(index).map_err(|error| self.failed(&error))
    }

    pub(crate) fn check_hash(
        &self,
        what: &dyn Fn() -> String,
        bytes: &[u8],
        expected: &[u8],
    ) -> Result<(), BenchbookError> {
        if sha256(bytes) == expected {
            return Ok(());
        }
        Err(self
            .damaged(format!("{}: the bytes do not have the hash they were written with", what())))
    }

    pub(crate) fn unreadable(&self, what: &str, reason: &Unreadable) -> BenchbookError {
        self.damaged(format!("{what}: {}", reason.0))
    }
}

pub(crate) fn run_in_words(case_id: &str, number: u32) -> String {
    format!("run {number} of case `{case_id}`")
}

//! Samples of runs as they are read: packed into one row for each run, or, in
//! benchbooks of the first shape, a row for each column.

use crate::store::query::{Row, query};
use std::collections::BTreeMap;

use crate::store::connection::Connection;
use study::Run;

use crate::book::Benchbook;
use crate::cases::run_in_words;
use crate::columns;
use crate::digest::{hex, sha256};
use crate::entries;
use crate::errors::BenchbookError;
use crate::stored::{self, RunShape, Unreadable};

/// Samples that were read and not yet put into their runs.
#[derive(Default)]
pub(crate) struct Samples {
    /// By run and name: hash of the stored bytes, and the samples.
    columns: BTreeMap<(u32, String), (String, Vec<f64>)>,
    /// Packed columns by run.
    packed: BTreeMap<u32, Vec<u8>>,
}

impl Benchbook {
    /// Samples of one run of a case, or of all.
    pub(crate) async fn samples(
        &self,
        connection: &mut Connection,
        case_id: &str,
        run: Option<u32>,
    ) -> Result<Samples, BenchbookError> {
        let failed = |error: sqlx::Error| self.failed(&error);
        // SQLite's largest number is beyond any run's.
        let (first, last) = run.map_or((0, i64::MAX), |run| (i64::from(run), i64::from(run)));
        let rows = query(
            "SELECT run, name, n, encoding, bytes, sha256 FROM channels WHERE case_id = $1 AND \
             run BETWEEN $2 AND $3",
        )
        .bind(case_id)
        .bind(first)
        .bind(last)
        .fetch_all(&mut *connection)
        .await
        .map_err(failed)?;
        let mut samples =
            Samples { columns: self.columns_by_run(case_id, &rows)?, packed: BTreeMap::new() };
        if !entries::are_there(connection).await.map_err(failed)? {
            return Ok(samples);
        }
        let rows = query(
            "SELECT run, encoding, bytes FROM samples WHERE case_id = $1 AND run BETWEEN $2 AND $3",
        )
        .bind(case_id)
        .bind(first)
        .bind(last)
        .fetch_all(&mut *connection)
        .await
        .map_err(failed)?;
        for row in &rows {
            let run: u32 = self.field(row, 0)?;
            let encoding: &str = self.field(row, 1)?;
            if encoding != "packed1" {
                let what = format!("samples of {}", run_in_words(case_id, run));
                let reason = Unreadable(format!("encoding `{encoding}` is unknown"));
                return Err(self.unreadable(&what, &reason));
            }
            samples.packed.insert(run, self.field(row, 2)?);
        }
        Ok(samples)
    }

    /// Decoded columns by run and name, each with the hash of its bytes.
    fn columns_by_run(&self, case_id: &str, rows: &[Row]) -> Result<Columns, BenchbookError> {
        let mut columns = Columns::new();
        for row in rows {
            let (run, name): (u32, String) = (self.field(row, 0)?, self.field(row, 1)?);
            let what = || format!("{name} of {}", run_in_words(case_id, run));
            let encoding: &str = self.field(row, 3)?;
            if encoding != "f64le" {
                let reason = Unreadable(format!("encoding `{encoding}` is unknown"));
                return Err(self.unreadable(&what(), &reason));
            }
            let bytes: &[u8] = self.field(row, 4)?;
            let hash: &[u8] = self.field(row, 5)?;
            self.check_hash(&what, bytes, hash)?;
            let n: i64 = self.field(row, 2)?;
            let samples = columns::from_bytes(bytes, u64::try_from(n).unwrap_or(u64::MAX))
                .map_err(|reason| self.unreadable(&what(), &reason))?;
            columns.insert((run, name), (hex(hash), samples));
        }
        Ok(columns)
    }

    /// Puts the samples back into a run; each column must be the one that the
    /// record of the run names, by hash.
    pub(crate) fn run_with_samples(
        &self,
        case_id: &str,
        number: u32,
        shape: RunShape,
        samples: &mut Samples,
    ) -> Result<Run, BenchbookError> {
        let entries = shape.channels.clone();
        let what = || run_in_words(case_id, number);
        let mut run = stored::run_without_samples(shape)
            .map_err(|reason| self.unreadable(&what(), &reason))?;
        if let Some(packed) = samples.packed.remove(&number) {
            let ns: Vec<u64> = entries.iter().map(|entry| entry.n).collect();
            let columns = columns::unpack(&packed, &ns)
                .map_err(|reason| self.unreadable(&what(), &reason))?;
            for (entry, bytes) in entries.iter().zip(columns) {
                let column = columns::from_bytes(&bytes, entry.n)
                    .map_err(|reason| self.unreadable(&what(), &reason))?;
                let key = (number, entry.name.clone());
                samples.columns.insert(key, (hex(&sha256(&bytes)), column));
            }
        }
        for entry in entries {
            let what = format!("{} of {}", entry.name, what());
            let column = match samples.columns.remove(&(number, entry.name.clone())) {
                Some((hash, column)) if hash == entry.sha256 => column,
                Some(_) => return Err(self.damaged(format!("{what} are not those of the run"))),
                None => return Err(self.damaged(format!("{what} are missing"))),
            };
            match entry.name.as_str() {
                "times_s" => run.trace.times_s = column,
                "pressures_pa" => run.trace.pressures_pa = column,
                "temperatures_k" => run.trace.temperatures_k = column,
                _ => return Err(self.damaged(format!("{what}: no such column is known"))),
            }
        }
        Ok(run)
    }
}

type Columns = BTreeMap<(u32, String), (String, Vec<f64>)>;

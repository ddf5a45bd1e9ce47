//! Writing: each call is one transaction with one event. It returns after the
//! change has reached the disk.

use crate::boxed;
use crate::store::connection::Connection;
use rayon::prelude::*;
use study::{CaseInput, Forecast, Method, Plan, Results, Run};

use crate::book::Benchbook;
use crate::columns;
use crate::digest::{hex, sha256};
use crate::errors::BenchbookError;
use crate::history::Change;
use crate::moment::Moment;
use crate::people::Action;
use crate::register::NewFile;
use crate::store::query::{Value, insert_rows, query};
use crate::stored::{self, ChannelEntry, Kept, Kind};

/// Rows of one insert: 6 values a row stay far below SQLite's limit of 32,766
/// values, and larger batches gain nothing.
const ROWS_PER_INSERT: usize = 500;

/// Longest name of a case, in characters.
const LONGEST_CASE_ID: usize = 80;

/// Runs with the files from which they came.
#[derive(Debug, Clone, Copy, Default)]
pub struct Import<'a> {
    /// The runs, numbered.
    pub runs: &'a [Run],
    /// Files to attach: originals, reading plans, what was read from them.
    pub files: &'a [NewFile<'a>],
    /// What must be explained before the case is signed.
    pub open_items: &'a [String],
}

/// A record as it goes into the file.
struct NewRecord {
    kind: Kind,
    body: String,
    sha256: [u8; 32],
}

impl Benchbook {
    /// Adds a case.
    ///
    /// # Errors
    /// [`BenchbookError::CaseExists`] where its name is taken,
    /// [`BenchbookError::BadCaseId`] where it cannot be one.
    #[boxed]
    pub async fn add_case(&self, input: &CaseInput, at: &Moment) -> Result<(), BenchbookError> {
        at.check()?;
        check_case_id(&input.id)?;
        let record = self.new_record(&input.id, input)?;
        let mut writing = self.change(at, Action::Work).await?;
        let taken = query("SELECT 1 FROM cases WHERE id = $1")
            .bind(&input.id)
            .fetch_optional(&mut writing.transaction)
            .await
            .map_err(|error| self.failed(&error))?;
        if taken.is_some() {
            return Err(BenchbookError::CaseExists { id: input.id.clone() });
        }
        let change = Change {
            what: "case added",
            case_id: Some(&input.id),
            record: Some(Kind::Input.word()),
            version: Some(1),
            new_sha256: Some(hex(&record.sha256)),
            detail: input.title.clone(),
            ..Change::default()
        };
        let stored = async {
            let event = writing.append(&change).await?;
            query("INSERT INTO cases (id, event) VALUES ($1, $2)")
                .bind(&input.id)
                .bind(event)
                .execute(&mut writing.transaction)
                .await?;
            insert_record(&mut writing.transaction, &input.id, 1, &record, event).await?;
            writing.commit().await
        };
        stored.await.map_err(|error| self.failed(&error))
    }

    /// Records a new version of what a case begins with.
    ///
    /// # Errors
    /// Where there is no such case, or the file cannot be written.
    #[boxed]
    pub async fn record_input(&self, input: &CaseInput, at: &Moment) -> Result<(), BenchbookError> {
        self.record(&input.id, input, None, at).await
    }

    /// Records a forecast; it is in force from now on.
    ///
    /// # Errors
    /// Where there is no such case, or the file cannot be written.
    #[boxed]
    pub async fn record_forecast(
        &self,
        case_id: &str,
        forecast: &Forecast,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        self.record(case_id, forecast, None, at).await
    }

    /// Records a method; it is in force from now on. Its version must follow
    /// the one in force, counted from 1.
    ///
    /// # Errors
    /// [`BenchbookError::MethodVersion`] where it does not; otherwise where
    /// there is no such case, or the file cannot be written.
    #[boxed]
    pub async fn record_method(
        &self,
        case_id: &str,
        method: &Method,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        self.record(case_id, method, Some(method.version), at).await
    }

    /// Records a plan; it is in force from now on.
    ///
    /// # Errors
    /// Where there is no such case, or the file cannot be written.
    #[boxed]
    pub async fn record_plan(
        &self,
        case_id: &str,
        plan: &Plan,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        self.record(case_id, plan, None, at).await
    }

    /// Records results; they are in force from now on.
    ///
    /// # Errors
    /// Where there is no such case, or the file cannot be written.
    #[boxed]
    pub async fn record_results(
        &self,
        case_id: &str,
        results: &Results,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        self.record(case_id, results, None, at).await
    }

    /// Adds runs with their samples: all of them, or none.
    ///
    /// The event carries the SHA-256 of the lines `number hash` of the runs in
    /// the order given, where `hash` is the SHA-256 of the stored run in
    /// hexadecimal and each line ends with a line feed.
    ///
    /// # Errors
    /// [`BenchbookError::RunExists`] where a number is taken; otherwise where
    /// there is no such case, a sample is not a finite number, or the file
    /// cannot be written.
    #[boxed]
    pub async fn add_runs(
        &self,
        case_id: &str,
        runs: &[Run],
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        self.import(case_id, &Import { runs, ..Import::default() }, at).await
    }

    /// Adds runs with the files from which they came and what their counters
    /// leave open: all of it, or nothing.
    ///
    /// A file that is attached already stays as it is; an item that is open
    /// with the same text is not noted twice.
    ///
    /// # Errors
    /// As [`Benchbook::add_runs`], and where a file is larger than 1 GiB.
    #[boxed]
    pub async fn import(
        &self,
        case_id: &str,
        import: &Import<'_>,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        at.check()?;
        let runs = import.runs;
        let stored = runs.par_iter().map(StoredRun::of).collect::<Result<Vec<_>, _>>().map_err(
            |(number, reason)| BenchbookError::NotStorable {
                case_id: case_id.to_owned(),
                what: format!("run {number}"),
                reason,
            },
        )?;
        let mut writing = self.change(at, Action::AddRuns).await?;
        self.require_case(&mut writing.transaction, case_id).await?;
        if stored.is_empty() && import.files.is_empty() && import.open_items.is_empty() {
            return Ok(());
        }
        self.refuse_taken_numbers(&mut writing.transaction, case_id, &stored).await?;
        let fallen = self.signatures_that_fall(&mut writing, case_id).await?;
        if !stored.is_empty() {
            let lines: String =
                stored.iter().map(|run| format!("{} {}\n", run.number, hex(&run.sha256))).collect();
            let change = Change {
                what: "runs added",
                case_id: Some(case_id),
                record: Some(Kind::Run.word()),
                new_sha256: Some(hex(&sha256(lines.as_bytes()))),
                detail: runs_in_words(&stored) + &fallen,
                ..Change::default()
            };
            let written = async {
                let event = writing.append(&change).await?;
                insert_runs(&mut writing.transaction, case_id, &stored, event).await
            };
            written.await.map_err(|error| self.failed(&error))?;
        }
        for file in import.files {
            self.attach_within(&mut writing, case_id, file, "").await?;
        }
        for item in import.open_items {
            self.note_within(&mut writing, case_id, item).await?;
        }
        writing.commit().await.map_err(|error| self.failed(&error))
    }

    async fn refuse_taken_numbers(
        &self,
        connection: &mut Connection,
        case_id: &str,
        runs: &[StoredRun],
    ) -> Result<(), BenchbookError> {
        // The stretch of the new numbers only: a case may have many runs.
        let numbers = || runs.iter().map(|run| run.number);
        let rows = query("SELECT number FROM runs WHERE case_id = $1 AND number BETWEEN $2 AND $3")
            .bind(case_id)
            .bind(numbers().min())
            .bind(numbers().max())
            .fetch_all(connection)
            .await
            .map_err(|error| self.failed(&error))?;
        let mut taken = std::collections::BTreeSet::new();
        for row in rows {
            taken.insert(row.try_get::<u32>(0).map_err(|error| self.failed(&error))?);
        }
        match runs.iter().find(|run| !taken.insert(run.number)) {
            Some(run) => {
                Err(BenchbookError::RunExists { case_id: case_id.to_owned(), number: run.number })
            }
            None => Ok(()),
        }
    }

    fn new_record<T: Kept>(&self, case_id: &str, value: &T) -> Result<NewRecord, BenchbookError> {
        let body = value.to_text().map_err(|reason| BenchbookError::NotStorable {
            case_id: case_id.to_owned(),
            what: T::KIND.word().to_owned(),
            reason: reason.0,
        })?;
        let sha256 = sha256(body.as_bytes());
        Ok(NewRecord { kind: T::KIND, body, sha256 })
    }

    /// Appends the next version of a record of a case.
    async fn record<T: Kept>(
        &self,
        case_id: &str,
        value: &T,
        own_version: Option<u32>,
        at: &Moment,
    ) -> Result<(), BenchbookError> {
        at.check()?;
        let record = self.new_record(case_id, value)?;
        let kind = T::KIND.word();
        let mut writing = self.change(at, Action::Work).await?;
        self.require_case(&mut writing.transaction, case_id).await?;
        let fallen = self.signatures_that_fall(&mut writing, case_id).await?;
        let before = query(
            "SELECT version, sha256 FROM records WHERE case_id = $1 AND kind = $2 ORDER BY \
             version DESC LIMIT 1",
        )
        .bind(case_id)
        .bind(kind)
        .fetch_optional(&mut writing.transaction)
        .await
        .map_err(|error| self.failed(&error))?;
        let (old_version, old_sha256) = match before {
            None => (0, None),
            Some(row) => {
                let version: u32 = row.try_get(0).map_err(|error| self.failed(&error))?;
                let sha256: Vec<u8> = row.try_get(1).map_err(|error| self.failed(&error))?;
                (version, Some(hex(&sha256)))
            }
        };
        let version = old_version + 1;
        if let Some(given) = own_version
            && given != version
        {
            let case_id = case_id.to_owned();
            return Err(BenchbookError::MethodVersion { case_id, given, expected: version });
        }
        let change = Change {
            what: recorded(T::KIND),
            case_id: Some(case_id),
            record: Some(kind),
            version: Some(version),
            old_sha256,
            new_sha256: Some(hex(&record.sha256)),
            detail: match old_version {
                0 => format!("{kind} version 1{fallen}"),
                old => format!("{kind} version {version} after version {old}{fallen}"),
            },
            ..Change::default()
        };
        let written = async {
            let event = writing.append(&change).await?;
            insert_record(&mut writing.transaction, case_id, version, &record, event).await?;
            writing.commit().await
        };
        written.await.map_err(|error| self.failed(&error))
    }
}

/// Words of the event.
const fn recorded(kind: Kind) -> &'static str {
    match kind {
        Kind::Input => "case changed",
        Kind::Forecast => "forecast recorded",
        Kind::Method => "method recorded",
        Kind::Plan => "plan recorded",
        Kind::Results => "results recorded",
        Kind::Run => "runs added",
    }
}

/// A name that can be typed, stand in an address and name a file.
fn check_case_id(id: &str) -> Result<(), BenchbookError> {
    let reason = if id.is_empty() {
        "it is empty"
    } else if id.chars().count() > LONGEST_CASE_ID {
        "it is longer than 80 characters"
    } else if !id.chars().all(|c| c.is_alphanumeric() || "-_.".contains(c)) {
        "it holds something other than letters, digits, `-`, `_` and `.`"
    } else if !id.starts_with(char::is_alphanumeric) {
        "it does not begin with a letter or digit"
    } else {
        return Ok(());
    };
    Err(BenchbookError::BadCaseId { id: id.to_owned(), reason })
}

async fn insert_record(
    connection: &mut Connection,
    case_id: &str,
    version: u32,
    record: &NewRecord,
    event: i64,
) -> Result<(), sqlx::Error> {
    query(
        "INSERT INTO records (case_id, kind, version, body, sha256, event) VALUES ($1, $2, $3, \
         $4, $5, $6)",
    )
    .bind(case_id)
    .bind(record.kind.word())
    .bind(version)
    .bind(&record.body)
    .bind(record.sha256.as_slice())
    .bind(event)
    .execute(connection)
    .await?;
    Ok(())
}

/// A run as it goes into the file.
struct StoredRun {
    number: u32,
    body: String,
    sha256: [u8; 32],
    /// Packed columns; none where nothing was recorded.
    samples: Option<Vec<u8>>,
}

impl StoredRun {
    fn of(run: &Run) -> Result<Self, (u32, String)> {
        let trace = &run.trace;
        let (mut entries, mut columns) = (Vec::new(), Vec::new());
        for (name, samples) in [
            ("times_s", &trace.times_s),
            ("pressures_pa", &trace.pressures_pa),
            ("temperatures_k", &trace.temperatures_k),
        ] {
            // An empty column means that nothing was recorded; it is not named.
            if samples.is_empty() {
                continue;
            }
            let bytes = columns::to_bytes(samples)
                .map_err(|reason| (run.number, format!("{name}: {}", reason.0)))?;
            entries.push(ChannelEntry {
                name: name.to_owned(),
                n: samples.len() as u64,
                sha256: hex(&sha256(&bytes)),
            });
            columns.push(samples.as_slice());
        }
        let samples = match columns.is_empty() {
            true => None,
            false => {
                Some(columns::pack(&columns).map_err(|error| (run.number, error.to_string()))?)
            }
        };
        let body = stored::run_to_text(run, entries).map_err(|reason| (run.number, reason.0))?;
        let sha256 = sha256(body.as_bytes());
        Ok(Self { number: run.number, body, sha256, samples })
    }
}

async fn insert_runs(
    connection: &mut Connection,
    case_id: &str,
    runs: &[StoredRun],
    event: i64,
) -> Result<(), sqlx::Error> {
    for batch in runs.chunks(ROWS_PER_INSERT) {
        let into = "INSERT INTO runs (case_id, number, body, sha256, event)";
        let mut values: Vec<Value<'_>> = Vec::with_capacity(5 * batch.len());
        for run in batch {
            let (body, sha256) = (run.body.as_str(), run.sha256.as_slice());
            let row: [Value<'_>; 5] =
                [case_id.into(), run.number.into(), body.into(), sha256.into(), event.into()];
            values.extend(row);
        }
        insert_rows(connection.kind(), into, 5, values).execute(&mut *connection).await?;
    }
    let samples: Vec<(u32, &[u8])> = runs
        .iter()
        .filter_map(|run| run.samples.as_deref().map(|samples| (run.number, samples)))
        .collect();
    for batch in samples.chunks(ROWS_PER_INSERT) {
        let into = "INSERT INTO samples (case_id, run, encoding, bytes)";
        let mut values: Vec<Value<'_>> = Vec::with_capacity(4 * batch.len());
        for (run, samples) in batch {
            let row: [Value<'_>; 4] =
                [case_id.into(), (*run).into(), "packed1".into(), (*samples).into()];
            values.extend(row);
        }
        insert_rows(connection.kind(), into, 4, values).execute(&mut *connection).await?;
    }
    Ok(())
}

/// "runs 1 to 133 (133)".
fn runs_in_words(runs: &[StoredRun]) -> String {
    let numbers = || runs.iter().map(|run| run.number);
    match (numbers().min(), numbers().max()) {
        (Some(only), Some(last)) if only == last => format!("run {only}"),
        (Some(first), Some(last)) => format!("{} runs, numbers {first} to {last}", runs.len()),
        _ => "no runs".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_cases() {
        for good in ["lyo-2r", "a", "2R_vial.3", "Gefäß-1"] {
            assert!(check_case_id(good).is_ok(), "{good}");
        }
        for bad in ["", "a b", "../x", ".hidden", "-x", "a/b", "a\nb", &"x".repeat(81)] {
            assert!(check_case_id(bad).is_err(), "{bad}");
        }
    }
}

//! Runs and their samples: each batch is the one that its event names, each
//! column the one that its run names.

use crate::store::query::query;
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use crate::store::connection::Connection;
use rayon::prelude::*;
use serde::Deserialize;
use sha2::{Digest, Sha256};

use super::Verification;
use super::events::Events;
use super::pages;
use crate::columns;
use crate::digest::{hex, sha256};

/// Rows of runs that are read at once.
const PAGE: i64 = 4_096;
/// Rows of samples that are read at once: few, because they may be long.
const PAGE_OF_SAMPLES: i64 = 512;

#[derive(Deserialize)]
struct Stored<'t> {
    #[serde(borrow)]
    kind: Cow<'t, str>,
    #[serde(borrow)]
    record: Run<'t>,
}

#[derive(Deserialize)]
struct Run<'t> {
    number: i64,
    #[serde(borrow)]
    channels: Vec<Channel<'t>>,
}

#[derive(Deserialize)]
struct Channel<'t> {
    #[serde(borrow)]
    name: Cow<'t, str>,
    n: u64,
    #[serde(borrow)]
    sha256: Cow<'t, str>,
}

/// A column that a run names.
#[derive(Clone)]
struct NamedColumn {
    name: Arc<str>,
    n: u64,
    sha256: [u8; 32],
}

/// Columns that the runs name, by case and run, in the order of the record.
type Named = HashMap<(Arc<str>, i64), Vec<NamedColumn>>;

/// Checks the tables `runs`, `channels` and `samples`.
pub(super) async fn check(
    connection: &mut Connection,
    shape: u32,
    events: &mut Events,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let mut named = check_runs(connection, events, found).await?;
    if shape >= 2 {
        named = check_samples(connection, named, found).await?;
    }
    check_channels(connection, named, found).await
}

/// Rows of runs, joined by columns.
struct Page {
    last: i64,
    n: usize,
    cases: String,
    numbers: String,
    bodies: String,
    hashes: String,
    events: String,
}

async fn page(connection: &mut Connection, after: i64) -> Result<Option<Page>, sqlx::Error> {
    let sql = format!(
        "SELECT max(id), count(*), string_agg(case_id, '\n'), string_agg(CAST(number AS TEXT), \
         '\n'), string_agg(body, '\n'), string_agg({}, ''), string_agg(CAST(event AS TEXT), '\n') \
         FROM (SELECT id, case_id, number, body, sha256, event FROM runs WHERE id > $1 ORDER BY id \
         LIMIT $2) AS page",
        connection.hexadecimal("sha256")
    );
    let row = query(sqlx::AssertSqlSafe(sql)).bind(after).bind(PAGE).fetch_one(connection).await?;
    let n: i64 = row.try_get(1)?;
    if n == 0 {
        return Ok(None);
    }
    let text = |index: usize| row.try_get::<Option<String>>(index).map(Option::unwrap_or_default);
    Ok(Some(Page {
        last: pages::later(after, row.try_get(0)?)?,
        n: usize::try_from(n).unwrap_or(0),
        cases: text(2)?,
        numbers: text(3)?,
        bodies: text(4)?,
        hashes: text(5)?,
        events: text(6)?,
    }))
}

/// A batch of runs as its event covers it: the hash of the lines `number
/// hash`, in the order in which they came in.
struct Batch {
    case: Arc<str>,
    lines: Sha256,
}

#[derive(Default)]
struct Walk {
    named: Named,
    batches: BTreeMap<i64, Batch>,
    words: HashMap<String, Arc<str>>,
}

impl Walk {
    fn word(&mut self, word: &str) -> Arc<str> {
        if let Some(known) = self.words.get(word) {
            return Arc::clone(known);
        }
        let new: Arc<str> = Arc::from(word);
        self.words.insert(word.to_owned(), Arc::clone(&new));
        new
    }

    fn take(&mut self, page: &Page, found: &mut Verification) {
        let pieces = (
            pages::pieces(&page.cases, page.n),
            pages::numbers(&page.numbers, page.n),
            pages::pieces(&page.bodies, page.n),
            pages::hashes(&page.hashes, page.n),
            pages::numbers(&page.events, page.n),
        );
        let (Some(cases), Some(numbers), Some(bodies), Some(hashes), Some(events)) = pieces else {
            found.find(
                format!("runs up to row {}", page.last),
                "one of them holds a line feed or lacks a part",
            );
            return;
        };
        let read: Vec<([u8; 32], Result<Stored<'_>, String>)> = bodies
            .par_iter()
            .with_min_len(64)
            .map(|body| {
                let stored = serde_json::from_str(body).map_err(|error| error.to_string());
                (sha256(body.as_bytes()), stored)
            })
            .collect();
        for (index, (hash, stored)) in read.into_iter().enumerate() {
            found.n_runs += 1;
            let (case, number, event) = (self.word(cases[index]), numbers[index], events[index]);
            let place = || format!("run {number} of case `{case}`");
            if hashes[index] != hash {
                found.find(place(), "its text does not have its hash");
            }
            let batch = self
                .batches
                .entry(event)
                .or_insert_with(|| Batch { case: Arc::clone(&case), lines: Sha256::new() });
            if batch.case != case {
                found.find(place(), format!("event {event} added runs of another case"));
            }
            batch.lines.update(format!("{number} {}\n", hex(&hash)).as_bytes());
            match stored {
                Ok(stored) if stored.kind == "run" && stored.record.number == number => {
                    let columns = stored
                        .record
                        .channels
                        .iter()
                        .map(|channel| NamedColumn {
                            name: self.word(&channel.name),
                            n: channel.n,
                            // A hash that is none equals none.
                            sha256: pages::hash(&channel.sha256).unwrap_or([0; 32]),
                        })
                        .collect::<Vec<_>>();
                    if !columns.is_empty() {
                        self.named.insert((case, number), columns);
                    }
                }
                Ok(_) => found.find(place(), "its text is that of another record"),
                Err(error) => found.find(place(), format!("its text is no run: {error}")),
            }
        }
    }
}

/// The next page is read while one is hashed.
async fn check_runs(
    connection: &mut Connection,
    events: &mut Events,
    found: &mut Verification,
) -> Result<Named, sqlx::Error> {
    let mut walk = Walk::default();
    let mut present = page(connection, i64::MIN).await?;
    while let Some(this) = present {
        let last = this.last;
        let mut carried = (walk, std::mem::take(found));
        let hashing = tokio::task::spawn_blocking(move || {
            carried.0.take(&this, &mut carried.1);
            carried
        });
        let (next, hashed) = tokio::join!(page(connection, last), hashing);
        (walk, *found) = hashed.map_err(stopped)?;
        present = next?;
    }
    for (event, batch) in std::mem::take(&mut walk.batches) {
        let hash: [u8; 32] = batch.lines.finalize().into();
        match events.get(event) {
            Some(naming)
                if &*naming.record == "run"
                    && naming.case.as_ref() == Some(&batch.case)
                    && naming.new_sha256 == Some(hash) =>
            {
                naming.seen = true;
            }
            _ => found.find(
                format!("runs of case `{}` under event {event}", batch.case),
                "they are not the runs that the event names",
            ),
        }
    }
    Ok(walk.named)
}

fn stopped(error: tokio::task::JoinError) -> sqlx::Error {
    sqlx::Error::Protocol(format!("the verification was stopped: {error}"))
}

/// Rows of packed samples, joined by columns.
struct PageOfSamples {
    last: i64,
    n: usize,
    cases: String,
    runs: String,
    encodings: String,
    blocks: String,
}

async fn page_of_samples(
    connection: &mut Connection,
    after: i64,
) -> Result<Option<PageOfSamples>, sqlx::Error> {
    let sql = format!(
        "SELECT max(id), count(*), string_agg(case_id, '\n'), string_agg(CAST(run AS TEXT), '\n'), \
         string_agg(encoding, '\n'), string_agg({}, '\n') FROM (SELECT id, case_id, run, encoding, \
         bytes FROM samples WHERE id > $1 ORDER BY id LIMIT $2) AS page",
        connection.hexadecimal("bytes")
    );
    let row = query(sqlx::AssertSqlSafe(sql))
        .bind(after)
        .bind(PAGE_OF_SAMPLES)
        .fetch_one(connection)
        .await?;
    let n: i64 = row.try_get(1)?;
    if n == 0 {
        return Ok(None);
    }
    let text = |index: usize| row.try_get::<Option<String>>(index).map(Option::unwrap_or_default);
    Ok(Some(PageOfSamples {
        last: pages::later(after, row.try_get(0)?)?,
        n: usize::try_from(n).unwrap_or(0),
        cases: text(2)?,
        runs: text(3)?,
        encodings: text(4)?,
        blocks: text(5)?,
    }))
}

/// What is wrong with the packed samples of a run; `None` where nothing is.
fn problem_of_block(block: &str, columns: &[NamedColumn]) -> Option<String> {
    let Some(packed) = pages::bytes(block) else { return Some("they cannot be read".to_owned()) };
    let ns: Vec<u64> = columns.iter().map(|column| column.n).collect();
    match columns::unpack(&packed, &ns) {
        Err(error) => Some(error.0),
        Ok(unpacked) => columns
            .iter()
            .zip(&unpacked)
            .find(|(column, bytes)| sha256(bytes) != column.sha256)
            .map(|(column, _)| format!("{} does not have the hash in the run", column.name)),
    }
}

fn take_samples(page: &PageOfSamples, named: &mut Named, found: &mut Verification) {
    let pieces = (
        pages::pieces(&page.cases, page.n),
        pages::numbers(&page.runs, page.n),
        pages::pieces(&page.encodings, page.n),
        pages::pieces(&page.blocks, page.n),
    );
    let (Some(cases), Some(runs), Some(encodings), Some(blocks)) = pieces else {
        found.find(format!("samples up to row {}", page.last), "one of them lacks a part");
        return;
    };
    let columns: Vec<Option<Vec<NamedColumn>>> = cases
        .iter()
        .zip(&runs)
        .map(|(case, run)| named.remove(&(Arc::from(*case), *run)))
        .collect();
    let problems: Vec<Option<String>> = columns
        .par_iter()
        .zip(&blocks)
        .map(|(columns, block)| match columns {
            None => Some("no run names them".to_owned()),
            Some(columns) => problem_of_block(block, columns),
        })
        .collect();
    for (index, problem) in problems.into_iter().enumerate() {
        found.n_channels += columns[index].as_ref().map_or(0, |columns| columns.len() as u64);
        let place = || format!("samples of run {} of case `{}`", runs[index], cases[index]);
        if encodings[index] != "packed1" {
            found.find(place(), "they are packed in an unknown way");
        }
        if let Some(problem) = problem {
            found.find(place(), problem);
        }
    }
}

async fn check_samples(
    connection: &mut Connection,
    named: Named,
    found: &mut Verification,
) -> Result<Named, sqlx::Error> {
    let mut named = named;
    let mut present = page_of_samples(connection, i64::MIN).await?;
    while let Some(this) = present {
        let last = this.last;
        let mut carried = (named, std::mem::take(found));
        let hashing = tokio::task::spawn_blocking(move || {
            take_samples(&this, &mut carried.0, &mut carried.1);
            carried
        });
        let (next, hashed) = tokio::join!(page_of_samples(connection, last), hashing);
        (named, *found) = hashed.map_err(stopped)?;
        present = next?;
    }
    Ok(named)
}

/// Columns of the first shape, a row each.
async fn check_channels(
    connection: &mut Connection,
    mut named: Named,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let mut last_id = i64::MIN;
    loop {
        let rows = query(
            "SELECT id, case_id, run, name, n, encoding, bytes, sha256 FROM channels WHERE id > \
             $1 ORDER BY id LIMIT $2",
        )
        .bind(last_id)
        .bind(PAGE_OF_SAMPLES)
        .fetch_all(&mut *connection)
        .await?;
        if rows.is_empty() {
            break;
        }
        for row in &rows {
            found.n_channels += 1;
            last_id = pages::later(last_id, row.try_get(0)?)?;
            let (case, name): (String, String) = (row.try_get(1)?, row.try_get(3)?);
            let (run, n): (i64, i64) = (row.try_get(2)?, row.try_get(4)?);
            let bytes: &[u8] = row.try_get(6)?;
            let place = format!("{name} of run {run} of case `{case}`");
            let hash = sha256(bytes);
            if row.try_get::<&[u8]>(7)? != hash {
                found.find(&place, "its bytes do not have their hash");
            }
            let samples = i64::try_from(bytes.len() / 8).unwrap_or(i64::MAX);
            if !bytes.len().is_multiple_of(8) || samples != n || row.try_get::<&str>(5)? != "f64le"
            {
                found.find(&place, "its bytes are not as many as its samples need");
            }
            let columns = named.get_mut(&(Arc::from(case), run));
            let at = columns
                .as_ref()
                .and_then(|columns| columns.iter().position(|column| *column.name == *name));
            match (columns, at) {
                (Some(columns), Some(at)) => {
                    let column = columns.remove(at);
                    if i64::try_from(column.n) != Ok(n) || column.sha256 != hash {
                        found.find(&place, "it is not the column that the run names");
                    }
                }
                _ => found.find(&place, "no run names it"),
            }
        }
    }
    let mut missing: Vec<_> = named
        .iter()
        .flat_map(|((case, run), columns)| {
            columns
                .iter()
                .map(move |column| format!("{} of run {run} of case `{case}`", column.name))
        })
        .collect();
    missing.sort();
    for place in missing {
        found.find(place, "it is missing");
    }
    Ok(())
}

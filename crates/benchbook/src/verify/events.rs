//! The history: no gap, every leaf the hash of its event, the cases and the
//! character as the events name them.

use crate::store::query::{Field, query};
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use crate::store::connection::Connection;
use crate::store::query::Row;
use rayon::prelude::*;

use super::Verification;
use super::event_text::{self, Event};
use super::pages;
use super::roots::Claims;
use crate::digest::{hex, sha256};
use crate::log::merkle::{GrowingTree, Hash, leaf_hash};
use crate::signatures::state;

/// Rows that are read at once.
const PAGE: i64 = 8_192;

/// An event that names a record.
pub(super) struct NamingEvent {
    pub(super) at: Box<str>,
    pub(super) account: Option<Arc<str>>,
    pub(super) case: Option<Arc<str>>,
    pub(super) record: Arc<str>,
    pub(super) subject: Option<Box<str>>,
    pub(super) version: Option<i64>,
    pub(super) old_sha256: Option<Hash>,
    pub(super) new_sha256: Option<Hash>,
    /// True once the record has been met.
    pub(super) seen: bool,
}

/// The events that name records, by number.
#[derive(Default)]
pub(super) struct Events {
    naming: Vec<(i64, NamingEvent)>,
    /// Words that come again and again, each kept once.
    words: HashMap<String, Arc<str>>,
}

impl Events {
    fn place_of(&self, number: i64) -> Option<usize> {
        self.naming.binary_search_by_key(&number, |(number, _)| *number).ok()
    }

    pub(super) fn get(&mut self, number: i64) -> Option<&mut NamingEvent> {
        let place = self.place_of(number)?;
        self.naming.get_mut(place).map(|(_, event)| event)
    }

    pub(super) fn peek(&self, number: i64) -> Option<&NamingEvent> {
        self.naming.get(self.place_of(number)?).map(|(_, event)| event)
    }

    pub(super) fn naming_records(&self) -> impl Iterator<Item = &(i64, NamingEvent)> {
        self.naming.iter()
    }

    fn word(&mut self, word: &str) -> Arc<str> {
        if let Some(known) = self.words.get(word) {
            return Arc::clone(known);
        }
        let new: Arc<str> = Arc::from(word);
        self.words.insert(word.to_owned(), Arc::clone(&new));
        new
    }

    fn keep(&mut self, number: i64, event: &Event<'_>, record: &str) {
        // A hash that is none never equals one.
        let hash = |text: &Option<Cow<'_, str>>| {
            text.as_deref().map(|text| pages::hash(text).unwrap_or([0; 32]))
        };
        let naming = NamingEvent {
            at: event.at.as_ref().into(),
            account: event.account.as_deref().map(|word| self.word(word)),
            case: event.case.as_deref().map(|word| self.word(word)),
            record: self.word(record),
            subject: event.subject.as_deref().map(Into::into),
            version: event.version,
            old_sha256: hash(&event.old_sha256),
            new_sha256: hash(&event.new_sha256),
            seen: false,
        };
        // Numbers that do not rise were found already; they are not kept.
        if self.naming.last().is_none_or(|(last, _)| *last < number) {
            self.naming.push((number, naming));
        }
    }

    /// State of a case before an event, as a signature names it: lines `event
    /// record subject version hash` of the newest records and all batches.
    pub(super) fn state_before(&self, case_id: &str, before: i64) -> String {
        let mut newest: BTreeMap<(&str, &str, i64), (i64, &NamingEvent)> = BTreeMap::new();
        for (number, event) in &self.naming {
            let of_case = event.case.as_deref() == Some(case_id);
            if *number >= before || !of_case || state::BESIDE.contains(&&*event.record) {
                continue;
            }
            let batch = if &*event.record == "run" { *number } else { 0 };
            let subject = event.subject.as_deref().unwrap_or("-");
            newest.insert((&event.record, subject, batch), (*number, event));
        }
        let mut lines: Vec<(i64, String)> = newest
            .into_iter()
            .map(|((record, subject, _), (number, event))| {
                let hash = event.new_sha256.map_or_else(|| "-".to_owned(), |hash| hex(&hash));
                let version = event.version.unwrap_or(0);
                (number, format!("{number} {record} {subject} {version} {hash}\n"))
            })
            .collect();
        lines.sort();
        lines.into_iter().map(|(_, line)| line).collect()
    }
}

/// Rows of the history, joined by columns.
struct Page {
    last: i64,
    n: usize,
    /// Their numbers, where these are not in a row without a gap.
    numbers: Option<String>,
    /// Columns 3 to 5: texts, hashes, cases.
    row: Row,
}

impl Page {
    /// A column; empty where no row has a value.
    fn column<'p, T: Default>(&'p self, index: usize) -> Result<T, sqlx::Error>
    where
        Option<T>: Field<'p>,
    {
        self.row.try_get::<Option<T>>(index).map(Option::unwrap_or_default)
    }
}

/// Reads the page after an event. A file that was made to hold a line feed in
/// a text, or no text at all, gives a page of other lengths, which is found.
async fn page(connection: &mut Connection, after: i64) -> Result<Option<Page>, sqlx::Error> {
    let sql = format!(
        "SELECT min(number), max(number), count(*), string_agg(event, '\n'), {}, \
         string_agg(case_id, '\n') FROM (SELECT number, event, leaf, coalesce(case_id, '') AS \
         case_id FROM history WHERE number > $1 ORDER BY number LIMIT $2) AS page",
        connection.joined_bytes("leaf")
    );
    let row = query(sqlx::AssertSqlSafe(sql)).bind(after).bind(PAGE).fetch_one(connection).await?;
    let n: i64 = row.try_get(2)?;
    if n == 0 {
        return Ok(None);
    }
    let (first, last): (i64, i64) = (row.try_get(0)?, pages::later(after, row.try_get(1)?)?);
    // They rise and differ: these many in such a stretch leave no gap.
    let numbers = match first.checked_add(n - 1) == Some(last) {
        true => None,
        false => Some(numbers_of(connection, after).await?),
    };
    Ok(Some(Page { last, n: usize::try_from(n).unwrap_or(0), numbers, row }))
}

/// Numbers of the page after an event, one on each line.
async fn numbers_of(connection: &mut Connection, after: i64) -> Result<String, sqlx::Error> {
    query(
        "SELECT string_agg(CAST(number AS TEXT), '\n') FROM (SELECT number FROM history WHERE \
         number > $1 ORDER BY number LIMIT $2) AS page",
    )
    .bind(after)
    .bind(PAGE)
    .fetch_one(connection)
    .await?
    .try_get(0)
}

/// An event with the hash of its text.
type Hashed<'t> = (Hash, Result<Event<'t>, String>);

fn hashed<'t>(texts: &[&'t str]) -> Vec<Hashed<'t>> {
    texts
        .par_iter()
        .with_min_len(256)
        .map(|text| (leaf_hash(text.as_bytes()), event_text::read(text)))
        .collect()
}

/// What is carried from page to page.
#[derive(Default)]
struct Walk {
    events: Events,
    tree: GrowingTree,
    cases_added: Vec<(i64, String)>,
    cases_named: BTreeMap<String, i64>,
    /// Time of the event before: as it was written, and to be compared.
    before: (String, (u64, u32)),
}

impl Walk {
    fn take(&mut self, page: &Page, claims: &mut Claims, found: &mut Verification) {
        let numbers = match &page.numbers {
            Some(lines) => pages::numbers(lines, page.n),
            None => i64::try_from(page.n).ok().map(|n| (page.last - n + 1..=page.last).collect()),
        };
        // What is no text is no page either.
        let text = |index| page.column::<&str>(index).ok();
        let pieces = (
            numbers,
            text(3).and_then(|joined| pages::pieces(joined, page.n)),
            page.column::<&[u8]>(4).ok().filter(|bytes| bytes.len() == 32 * page.n),
            text(5).and_then(|joined| pages::pieces(joined, page.n)),
        );
        let (Some(numbers), Some(texts), Some(leaves), Some(cases)) = pieces else {
            found.find(
                format!("events up to {}", page.last),
                "one of them holds a line feed or lacks a part",
            );
            return;
        };
        let hashed = hashed(&texts);
        for (index, (leaf, event)) in hashed.into_iter().enumerate() {
            let expected = i64::try_from(self.tree.size()).unwrap_or(i64::MAX - 1) + 1;
            let place = || format!("event {expected}");
            let number = numbers[index];
            if number != expected {
                found.find(place(), format!("number {number} stands in its place"));
            }
            if leaves[32 * index..32 * (index + 1)] != leaf {
                found.find(place(), "its text does not have the hash in the log");
            }
            // The tree is built from the text, never from the stored hash.
            self.tree.push(leaf);
            claims.compare(&self.tree, found);
            let event = match event {
                Ok(event) => event,
                Err(error) => {
                    found.find(place(), format!("its text is no event: {error}"));
                    continue;
                }
            };
            if event.number != number {
                found.find(place(), format!("its text says number {}", event.number));
            }
            if event.case.as_deref().unwrap_or("") != cases[index]
                || event.case.as_deref() == Some("")
            {
                found.find(place(), "its case differs from the one in its text");
            }
            self.compare_times(&event, &place, found);
            if let Some(case) = event.case.as_deref() {
                if event.what == "case added" {
                    self.cases_added.push((number, case.to_owned()));
                }
                if !self.cases_named.contains_key(case) {
                    self.cases_named.insert(case.to_owned(), number);
                }
            }
            if let Some(record) = event.record.as_deref() {
                self.events.keep(number, &event, record);
            }
        }
    }

    fn compare_times(
        &mut self,
        event: &Event<'_>,
        place: &dyn Fn() -> String,
        found: &mut Verification,
    ) {
        if !event.at.is_empty() && *event.at == *self.before.0 {
            return;
        }
        let Some(at) = time_key(&event.at) else {
            found.find(place(), "its time is not one in UTC");
            return;
        };
        if at < self.before.1 && event.what != "clock went back" {
            found.find(place(), "it is earlier than the one before, and no event says why");
        }
        self.before.0.clear();
        self.before.0.push_str(&event.at);
        self.before.1 = at;
    }
}

/// A time in UTC as numbers that sort as times do: its fourteen digits and
/// nine of its fraction.
fn time_key(at: &str) -> Option<(u64, u32)> {
    let rest = at.strip_suffix('Z')?;
    let (whole, fraction) = rest.split_once('.').unwrap_or((rest, ""));
    if whole.len() != 19 || fraction.len() > 9 {
        return None;
    }
    let digit = |byte: u8| byte.checked_sub(b'0').filter(|digit| *digit < 10);
    let mut key = 0_u64;
    for (index, byte) in whole.bytes().enumerate() {
        match (index, byte) {
            (4 | 7, b'-') | (10, b'T') | (13 | 16, b':') => {}
            (4 | 7 | 10 | 13 | 16, _) => return None,
            (_, byte) => key = key * 10 + u64::from(digit(byte)?),
        }
    }
    let mut parts = 0_u32;
    for index in 0..9 {
        let byte = fraction.as_bytes().get(index).copied().unwrap_or(b'0');
        parts = parts * 10 + u32::from(digit(byte)?);
    }
    Some((key, parts))
}

/// Reads the history and computes its root. The next page is read while one
/// is hashed.
pub(super) async fn check(
    connection: &mut Connection,
    claims: &mut Claims,
    found: &mut Verification,
) -> Result<Events, sqlx::Error> {
    let mut walk = Walk::default();
    // The empty tree is the beginning of every other.
    claims.compare(&walk.tree, found);
    let mut present = page(connection, i64::MIN).await?;
    while let Some(this) = present {
        let last = this.last;
        let mut carried = (walk, std::mem::replace(claims, Claims::none()), std::mem::take(found));
        let hashing = tokio::task::spawn_blocking(move || {
            carried.0.take(&this, &mut carried.1, &mut carried.2);
            carried
        });
        let (next, hashed) = tokio::join!(page(connection, last), hashing);
        let Ok(back) = hashed else {
            return Err(sqlx::Error::Protocol("the verification was stopped".to_owned()));
        };
        (walk, *claims, *found) = back;
        present = next?;
    }
    found.n_events = walk.tree.size();
    found.root = walk.tree.root();
    claims.end(walk.tree.size(), found);
    check_cases(connection, &walk.cases_added, &walk.cases_named, found).await?;
    check_character(connection, &mut walk.events, found).await?;
    Ok(walk.events)
}

/// The table of cases must say what the events say, in their order.
async fn check_cases(
    connection: &mut Connection,
    added: &[(i64, String)],
    named: &BTreeMap<String, i64>,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = query("SELECT event, id FROM cases ORDER BY number")
        .fetch_all(connection)
        .await?
        .iter()
        .map(|row| Ok((row.try_get(0)?, row.try_get(1)?)))
        .collect::<Result<Vec<(i64, String)>, sqlx::Error>>()?;
    if rows != added {
        found.find("cases", "the list of cases is not the one in the history");
    }
    for (case, event) in named {
        if !added.iter().any(|(_, id)| id == case) {
            found.find(format!("event {event}"), format!("case `{case}` was never added"));
        }
    }
    Ok(())
}

/// The first event covers what the benchbook is for ever.
async fn check_character(
    connection: &mut Connection,
    events: &mut Events,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    let rows = query("SELECT name, value, event FROM character ORDER BY name")
        .fetch_all(connection)
        .await?;
    let mut lines = String::new();
    let mut first = true;
    for row in &rows {
        let (name, value): (&str, &str) = (row.try_get(0)?, row.try_get(1)?);
        lines.push_str(&format!("{name}={value}\n"));
        first &= row.try_get::<i64>(2)? == 1;
        if name == "identity" {
            found.identity = value.to_owned();
        }
    }
    let hash = Some(sha256(lines.as_bytes()));
    match events.get(1) {
        Some(event) if &*event.record == "character" && event.new_sha256 == hash && first => {
            event.seen = true;
        }
        _ => found.find("character", "it is not what the first event says"),
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_sort_as_times() {
        let key = |at: &str| time_key(at).unwrap();
        assert!(key("2026-11-25T01:02:03Z") < key("2026-11-25T01:02:03.5Z"));
        assert!(key("2026-11-25T01:02:03.12Z") < key("2026-11-25T01:02:03.5Z"));
        assert!(key("2026-11-25T01:02:03.9Z") < key("2026-11-25T01:02:04Z"));
        for wrong in
            ["", "Z", "2026-11-25T01:02:03", "2026-11-25 01:02:03Z", "2026-1x-25T01:02:03Z"]
        {
            assert_eq!(time_key(wrong), None, "{wrong}");
        }
    }
}

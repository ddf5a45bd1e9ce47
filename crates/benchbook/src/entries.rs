//! Entries: everything with versions and a name of its own that is not part
//! of a case's own chain from profile to results.

use crate::store::connection::Connection;
use crate::store::query::{Row, query};

/// One version of an entry.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    pub(crate) subject: String,
    pub(crate) version: i64,
    pub(crate) body: String,
    /// Event under which it was written.
    pub(crate) event: i64,
}

const COLUMNS: &str = "SELECT subject, version, body, event FROM entries";

/// The newest version of an entry.
pub(crate) async fn newest(
    connection: &mut Connection,
    kind: &str,
    subject: &str,
) -> Result<Option<Entry>, sqlx::Error> {
    if !are_there(connection).await? {
        return Ok(None);
    }
    let sql = format!("{COLUMNS} WHERE kind = $1 AND subject = $2 ORDER BY version DESC LIMIT 1");
    query(sqlx::AssertSqlSafe(sql))
        .bind(kind)
        .bind(subject)
        .fetch_optional(connection)
        .await?
        .map(|row| entry(&row))
        .transpose()
}

/// Every version of every entry of a kind, in the order of writing; of one
/// case, or of all.
pub(crate) async fn of_kind(
    connection: &mut Connection,
    kind: &str,
    case_id: Option<&str>,
) -> Result<Vec<Entry>, sqlx::Error> {
    if !are_there(connection).await? {
        return Ok(Vec::new());
    }
    let sql = match case_id {
        Some(_) => format!("{COLUMNS} WHERE kind = $1 AND case_id = $2 ORDER BY id"),
        None => format!("{COLUMNS} WHERE kind = $1 ORDER BY id"),
    };
    let mut query = query(sqlx::AssertSqlSafe(sql)).bind(kind);
    if let Some(id) = case_id {
        query = query.bind(id);
    }
    query.fetch_all(connection).await?.iter().map(entry).collect()
}

/// The newest version of each entry of a kind, by the order of their first.
pub(crate) async fn newest_of_kind(
    connection: &mut Connection,
    kind: &str,
    case_id: Option<&str>,
) -> Result<Vec<Entry>, sqlx::Error> {
    let mut newest: Vec<Entry> = Vec::new();
    for entry in of_kind(connection, kind, case_id).await? {
        match newest.iter_mut().find(|known| known.subject == entry.subject) {
            Some(known) => *known = entry,
            None => newest.push(entry),
        }
    }
    Ok(newest)
}

fn entry(row: &Row) -> Result<Entry, sqlx::Error> {
    Ok(Entry {
        subject: row.try_get(0)?,
        version: row.try_get(1)?,
        body: row.try_get(2)?,
        event: row.try_get(3)?,
    })
}

/// False in a file of the first shape that has not been changed since.
pub(crate) async fn are_there(connection: &mut Connection) -> Result<bool, sqlx::Error> {
    Ok(connection.shape().await? >= 2)
}

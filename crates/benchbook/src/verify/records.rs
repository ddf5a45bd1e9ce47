//! Records: every version is there, has its hash, and is the one that its
//! event names.

use crate::store::connection::Connection;
use crate::store::query::query;

use super::Verification;
use super::events::Events;
use crate::digest::sha256;

/// Rows that are read at once; a forecast has some hundred kilobytes.
const PAGE: i64 = 100;

/// Checks the table `records`.
pub(super) async fn check(
    connection: &mut Connection,
    events: &mut Events,
    found: &mut Verification,
) -> Result<(), sqlx::Error> {
    // Case, kind, version and hash of the row before.
    let mut before: (String, String, i64, [u8; 32]) = Default::default();
    let mut offset = 0;
    loop {
        let rows = query(
            "SELECT case_id, kind, version, body, sha256, event FROM records ORDER BY case_id, \
             kind, version LIMIT $1 OFFSET $2",
        )
        .bind(PAGE)
        .bind(offset)
        .fetch_all(&mut *connection)
        .await?;
        if rows.is_empty() {
            return Ok(());
        }
        offset += PAGE;
        for row in &rows {
            found.n_records += 1;
            let (case, kind): (String, String) = (row.try_get(0)?, row.try_get(1)?);
            let (version, event): (i64, i64) = (row.try_get(2)?, row.try_get(5)?);
            let body: &str = row.try_get(3)?;
            let place = || format!("{kind} version {version} of case `{case}`");
            let hash = sha256(body.as_bytes());
            if row.try_get::<&[u8]>(4)? != hash {
                found.find(place(), "its text does not have its hash");
            }
            let follows = before.0 == case && before.1 == kind;
            let (last, old) = match follows {
                true => (before.2, Some(before.3)),
                false => (0, None),
            };
            if version != last + 1 {
                found.find(place(), format!("version {} is missing before it", last + 1));
            }
            match events.get(event) {
                Some(naming)
                    if naming.case.as_deref() == Some(case.as_str())
                        && *naming.record == *kind
                        && naming.version == Some(version)
                        && naming.old_sha256 == old
                        && naming.new_sha256 == Some(hash)
                        && !naming.seen =>
                {
                    naming.seen = true;
                }
                _ => found.find(place(), format!("event {event} does not name this record")),
            }
            before = (case, kind, version, hash);
        }
    }
}

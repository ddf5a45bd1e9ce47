//! Append-only, with controls that the guard is what refuses.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use crate::invented;

use invented::{bare_connection, book_with_syringe};
use sqlx::{Connection, Row, SqliteConnection};

/// Every table with the columns of its key and one column to change.
const TABLES: [(&str, &str); 8] = [
    ("history", "event"),
    ("character", "value"),
    ("migrations", "name"),
    ("cases", "event"),
    ("records", "body"),
    ("runs", "body"),
    ("samples", "bytes"),
    ("entries", "body"),
];

async fn fails_with(connection: &mut SqliteConnection, sql: String, words: &str) {
    let error = sqlx::raw_sql(sqlx::AssertSqlSafe(sql.clone())).execute(connection).await;
    let error = error.expect_err(&sql).to_string();
    assert!(error.contains(words), "{sql}: {error}");
}

/// Number of rows and a digest-like text of a table.
async fn content(connection: &mut SqliteConnection, table: &str) -> Vec<String> {
    let sql = format!("SELECT * FROM {table} ORDER BY 1");
    sqlx::query(sqlx::AssertSqlSafe(sql))
        .fetch_all(connection)
        .await
        .unwrap()
        .iter()
        .map(|row| {
            (0..row.len())
                .map(|column| {
                    row.try_get_unchecked::<Vec<u8>, _>(column)
                        .map_or_else(|_| "?".to_owned(), |bytes| format!("{bytes:?}"))
                })
                .collect::<Vec<_>>()
                .join("|")
        })
        .collect()
}

#[tokio::test]
async fn no_statement_changes_or_removes_a_row() {
    let (_folder, path, _checkpoint, _key) = invented::signed_book().await;
    // A bare connection: recursive_triggers is off, as it is by default.
    for recursive in ["OFF", "ON"] {
        let mut bare = bare_connection(&path).await;
        let pragma = format!("PRAGMA recursive_triggers = {recursive}");
        sqlx::raw_sql(sqlx::AssertSqlSafe(pragma)).execute(&mut bare).await.unwrap();
        for (table, column) in TABLES.into_iter().filter(|row| row.0 != "channels") {
            let before = content(&mut bare, table).await;
            assert!(!before.is_empty(), "{table} has rows to lose");
            let words = "append-only";
            fails_with(&mut bare, format!("UPDATE {table} SET {column} = {column}"), words).await;
            fails_with(&mut bare, format!("DELETE FROM {table}"), words).await;
            for verb in ["INSERT OR REPLACE", "REPLACE"] {
                fails_with(
                    &mut bare,
                    format!("{verb} INTO {table} SELECT * FROM {table} LIMIT 1"),
                    if table == "history" { "history:" } else { words },
                )
                .await;
            }
            fails_with(
                &mut bare,
                format!(
                    "INSERT INTO {table} SELECT * FROM {table} WHERE true LIMIT 1 ON CONFLICT DO \
                     UPDATE SET {column} = {column}"
                ),
                if table == "history" { "history:" } else { words },
            )
            .await;
            fails_with(
                &mut bare,
                format!("UPDATE OR REPLACE {table} SET {column} = {column}"),
                words,
            )
            .await;
            assert_eq!(content(&mut bare, table).await, before, "{table}");
        }
        bare.close().await.unwrap();
    }
}

/// REPLACE on the other unique key, with a fresh row id, must not slip by.
#[tokio::test]
async fn replace_by_the_second_key_is_refused() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let mut bare = bare_connection(&path).await;
    for sql in [
        "INSERT OR REPLACE INTO runs (case_id, number, body, sha256, event) SELECT case_id, \
         number, 'forged', sha256, event FROM runs LIMIT 1",
        "INSERT OR REPLACE INTO records (case_id, kind, version, body, sha256, event) SELECT \
         case_id, kind, version, 'forged', sha256, event FROM records LIMIT 1",
        "INSERT OR REPLACE INTO samples (case_id, run, encoding, bytes) SELECT case_id, run, \
         encoding, bytes FROM samples LIMIT 1",
        "INSERT OR REPLACE INTO cases (id, event) SELECT id, event FROM cases",
        "INSERT OR REPLACE INTO character (name, value, event) VALUES ('not for regulated use', \
         'no', 1)",
        // A fresh business key on a taken row id would remove that row.
        "INSERT OR REPLACE INTO runs (id, case_id, number, body, sha256, event) SELECT id, \
         case_id, 9999, 'forged', sha256, event FROM runs LIMIT 1",
        "INSERT OR REPLACE INTO cases (rowid, id, event) VALUES (1, 'other', 1)",
    ] {
        fails_with(&mut bare, sql.to_owned(), "append-only").await;
    }
}

#[tokio::test]
async fn the_history_takes_no_number_but_the_next() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let mut bare = bare_connection(&path).await;
    for number in [0, 1, 7, 9, 100] {
        let sql = format!(
            "INSERT INTO history (number, event, leaf) VALUES ({number}, '{{}}', zeroblob(32))"
        );
        fails_with(&mut bare, sql, "history:").await;
    }
    // Control: the next number is taken, so the guard refuses for its reason.
    sqlx::raw_sql("INSERT INTO history (number, event, leaf) VALUES (8, '{}', zeroblob(32))")
        .execute(&mut bare)
        .await
        .unwrap();
}

/// Positive control: without the guard the same statements go through, so the
/// tests above can fail.
#[tokio::test]
async fn without_the_guard_a_row_is_lost() {
    let (_folder, path, book, case) = book_with_syringe().await;
    book.close().await;
    let mut bare = bare_connection(&path).await;
    sqlx::raw_sql(
        "DROP TRIGGER runs_no_replace; INSERT OR REPLACE INTO runs (case_id, number, body, \
         sha256, event) SELECT case_id, number, 'forged', sha256, event FROM runs LIMIT 1",
    )
    .execute(&mut bare)
    .await
    .unwrap();
    let forged: i64 = sqlx::query("SELECT count(*) FROM runs WHERE body = 'forged'")
        .fetch_one(&mut bare)
        .await
        .unwrap()
        .get(0);
    assert_eq!(forged, 1);
    bare.close().await.unwrap();
    // What the guard would have stopped is seen when the case is read.
    let book = benchbook::Benchbook::open(&path).await.unwrap();
    let error = book.case(&case.input.id).await.unwrap_err();
    assert!(error.to_string().contains("run 1 of case"), "{error}");
}

#[tokio::test]
async fn loose_rows_and_wrong_types_are_refused() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let mut bare = bare_connection(&path).await;
    sqlx::raw_sql("PRAGMA foreign_keys = ON").execute(&mut bare).await.unwrap();
    for (sql, words) in [
        ("INSERT INTO cases (id, event) VALUES ('loose', 999)", "FOREIGN KEY"),
        ("INSERT INTO cases (id, event) VALUES ('typed', 'one')", "cannot store TEXT"),
        (
            "INSERT INTO records (case_id, kind, version, body, sha256, event) VALUES \
             ('syringe-1ml', 'gossip', 1, '', zeroblob(32), 1)",
            "CHECK",
        ),
        (
            "INSERT INTO records (case_id, kind, version, body, sha256, event) VALUES \
             ('syringe-1ml', 'plan', 2, '', zeroblob(31), 1)",
            "CHECK",
        ),
    ] {
        fails_with(&mut bare, sql.to_owned(), words).await;
    }
}

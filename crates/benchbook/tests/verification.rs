//! Two verifiers that share no code find every edit; each has controls.
// A test fails by panicking and prints what it skipped or counted.
#![allow(clippy::unwrap_used, clippy::print_stdout)]

mod invented;

use std::path::{Path, PathBuf};
use std::process::Command;

use benchbook::{Benchbook, Checkpoint, EventProof, Verification, verify};
use invented::{bare_connection, moment, walked};
use sqlx::{Connection, Row, SqliteConnection};

const TABLES: [&str; 7] =
    ["cases", "channels", "character", "history", "migrations", "records", "runs"];

/// Row numbers of SQLite: they order rows and mean nothing else.
const ROW_NUMBERS: [(&str, &str); 5] = [
    ("cases", "number"),
    ("channels", "id"),
    ("character", "id"),
    ("records", "id"),
    ("runs", "id"),
];

/// A closed benchbook with two cases, five runs and two versions of a plan,
/// with few samples so that a test can afford thousands of copies.
async fn small_book(folder: &Path) -> (PathBuf, Checkpoint) {
    let path = folder.join("small.benchbook");
    let book = Benchbook::create(&path, &moment(0)).await.unwrap();
    let mut case = walked(study::worked_cases::syringe());
    case.runs.truncate(5);
    for run in &mut case.runs {
        run.trace.times_s.truncate(12);
        run.trace.pressures_pa.truncate(12);
        run.trace.temperatures_k.truncate(12);
    }
    case.forecast.as_mut().unwrap().traces.truncate(1);
    for trace in &mut case.forecast.as_mut().unwrap().traces {
        trace.trace.times_s.truncate(12);
        trace.trace.pressures_pa.truncate(12);
        trace.trace.temperatures_k.truncate(12);
    }
    invented::store(&book, &case).await;
    let mut plan = case.plan.clone().unwrap();
    plan.seed += 1;
    book.record_plan("syringe-1ml", &plan, &moment(7)).await.unwrap();
    book.add_case(&study::worked_cases::liquid_vial(), &moment(8)).await.unwrap();
    let checkpoint = book.checkpoint().await.unwrap();
    book.close().await;
    (path, checkpoint)
}

/// Exit status and output of the second verifier; `None` without Python.
fn second_verifier(path: &Path, against: Option<&Checkpoint>) -> Option<(i32, String)> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tools/verify_benchbook.py");
    let mut command = Command::new("python3");
    command.arg(script).arg(path);
    if let Some(checkpoint) = against {
        let file = path.with_extension("checkpoint");
        std::fs::write(&file, checkpoint.text()).unwrap();
        command.arg("--against").arg(file);
    }
    match command.output() {
        Ok(output) => {
            let text = String::from_utf8_lossy(&output.stdout).into_owned();
            assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
            Some((output.status.code().unwrap(), text))
        }
        Err(_) => {
            println!("skipped: no python3 here, so the second verifier does not run");
            None
        }
    }
}

fn findings(verification: &Verification) -> String {
    verification.findings.iter().map(|f| format!("{}: {}\n", f.place, f.problem)).collect()
}

#[tokio::test]
async fn a_sound_file_is_valid_for_both() {
    let folder = tempfile::tempdir().unwrap();
    let (path, checkpoint) = small_book(folder.path()).await;
    for against in [None, Some(&checkpoint)] {
        let verification = verify(&path, against).await.unwrap();
        assert!(verification.is_valid(), "{}", findings(&verification));
        assert_eq!(verification.checkpoint(), checkpoint);
        let counted = (
            verification.n_events,
            verification.n_records,
            verification.n_runs,
            verification.n_channels,
        );
        assert_eq!(counted, (9, 7, 5, 15));
        if let Some((status, text)) = second_verifier(&path, against) {
            assert_eq!(text, format!("valid\n{}", checkpoint.text()));
            assert_eq!(status, 0);
        }
    }
}

#[tokio::test]
async fn a_benchbook_in_use_is_valid_too() {
    let folder = tempfile::tempdir().unwrap();
    let (path, _) = small_book(folder.path()).await;
    let book = Benchbook::open(&path).await.unwrap();
    book.add_case(&study::worked_cases::lyophilised_vial(), &moment(20)).await.unwrap();
    assert!(path.with_extension("benchbook-wal").exists(), "the change stands in the WAL");
    let checkpoint = book.checkpoint().await.unwrap();
    assert_eq!(checkpoint.size, 10);
    let verification = verify(&path, Some(&checkpoint)).await.unwrap();
    assert!(verification.is_valid(), "{}", findings(&verification));
    if let Some((status, text)) = second_verifier(&path, Some(&checkpoint)) {
        assert_eq!(status, 0, "{text}");
    }
}

/// The guards of a table, to be taken away and put back unchanged.
async fn guards(connection: &mut SqliteConnection) -> Vec<(String, String)> {
    sqlx::query("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .fetch_all(connection)
        .await
        .unwrap()
        .iter()
        .map(|row| (row.get(0), row.get(1)))
        .collect()
}

async fn run_sql(connection: &mut SqliteConnection, sql: &str) -> Result<u64, sqlx::Error> {
    sqlx::raw_sql(sqlx::AssertSqlSafe(sql.to_owned()))
        .execute(connection)
        .await
        .map(|done| done.rows_affected())
}

/// Edits a copy as somebody with the file and a database program could: the
/// guards are taken away and put back. False where the database itself refuses
/// the edit.
async fn edited(original: &Path, copy: &Path, sql: &str) -> bool {
    std::fs::copy(original, copy).unwrap();
    let mut bare = bare_connection(copy).await;
    let guards = guards(&mut bare).await;
    run_sql(&mut bare, "PRAGMA synchronous = OFF; PRAGMA ignore_check_constraints = ON; BEGIN")
        .await
        .unwrap();
    for (name, _) in &guards {
        run_sql(&mut bare, &format!("DROP TRIGGER {name}")).await.unwrap();
    }
    let done = run_sql(&mut bare, sql).await;
    for (_, text) in &guards {
        run_sql(&mut bare, text).await.unwrap();
    }
    run_sql(&mut bare, "COMMIT").await.unwrap();
    bare.close().await.unwrap();
    matches!(done, Ok(rows) if rows > 0)
}

/// Edits of every column of every table, of up to five rows each; removals of
/// single rows; and some that a person would try.
async fn edits(path: &Path) -> Vec<String> {
    let mut bare = bare_connection(path).await;
    let mut edits = Vec::new();
    for table in TABLES {
        let sql = format!("PRAGMA table_info({table})");
        let columns = sqlx::query(sqlx::AssertSqlSafe(sql)).fetch_all(&mut bare).await.unwrap();
        for row in 1..=5 {
            let at = format!("WHERE rowid = (SELECT rowid FROM {table} LIMIT 1 OFFSET {row} - 1)");
            edits.push(format!("DELETE FROM {table} {at}"));
            for column in &columns {
                let (name, kind): (String, String) = (column.get(1), column.get(2));
                if ROW_NUMBERS.contains(&(table, name.as_str())) {
                    continue;
                }
                let changes: &[&str] = match kind.as_str() {
                    "INTEGER" => &["{c} + 1", "{c} + 100"],
                    "TEXT" => &["{c} || ' '", "replace({c}, '1', '2')", "substr({c}, 2)"],
                    _ => &["zeroblob(length({c}))", "substr({c}, 2) || x'00'"],
                };
                for change in changes {
                    let change = change.replace("{c}", &name);
                    edits.push(format!(
                        "UPDATE {table} SET {name} = {change} {at} AND {name} IS NOT ({change})"
                    ));
                }
            }
        }
    }
    edits.extend(
        [
            "UPDATE runs SET (body, sha256) = (SELECT o.body, o.sha256 FROM runs o WHERE o.number \
             = 3 - runs.number) WHERE number IN (1, 2)",
            "UPDATE channels SET (bytes, sha256) = (SELECT o.bytes, o.sha256 FROM channels o WHERE \
             o.run = 3 - channels.run AND o.name = channels.name) WHERE run IN (1, 2)",
            "UPDATE runs SET number = 9 - number WHERE number IN (4, 5)",
            "INSERT INTO records (case_id, kind, version, body, sha256, event) SELECT case_id, \
             kind, version + 1, body, sha256, event FROM records WHERE kind = 'results'",
            "INSERT INTO channels (case_id, run, name, n, encoding, bytes, sha256) SELECT case_id, \
             run, 'temperatures_k', n, encoding, bytes, sha256 FROM channels LIMIT 1",
            "INSERT INTO runs (case_id, number, body, sha256, event) SELECT case_id, 99, body, \
             sha256, event FROM runs LIMIT 1",
            "INSERT INTO history (number, event, leaf) VALUES (10, 'nothing', zeroblob(32))",
            "INSERT INTO history (number, event, leaf) SELECT 10, event, leaf FROM history WHERE \
             number = 9",
            "INSERT INTO cases (id, event) VALUES ('smuggled', 9)",
            "INSERT INTO character (name, value, event) VALUES ('regulated use', 'yes', 1)",
            "DELETE FROM character WHERE name = 'not for regulated use'",
            "DELETE FROM runs",
            "DELETE FROM channels",
            "DELETE FROM records WHERE kind = 'plan' AND version = 1",
            "CREATE VIEW gossip AS SELECT * FROM runs; UPDATE cases SET id = id",
            "CREATE TABLE notes (text TEXT); INSERT INTO notes VALUES ('a')",
            "UPDATE cases SET number = 10 - number",
            "PRAGMA user_version = 0; UPDATE cases SET id = id",
        ]
        .map(str::to_owned),
    );
    edits
}

/// Tries every edit; the second verifier takes each `stride`-th.
async fn every_edit_is_found(stride: usize) {
    let folder = tempfile::tempdir().unwrap();
    let (path, _) = small_book(folder.path()).await;
    let copy = folder.path().join("edited.benchbook");
    let (mut tried, mut missed) = (0, Vec::new());
    for (number, edit) in edits(&path).await.iter().enumerate() {
        if !edited(&path, &copy, edit).await {
            continue;
        }
        tried += 1;
        // A refusal to open is a detection too.
        if verify(&copy, None).await.is_ok_and(|found| found.is_valid()) {
            missed.push(format!("first verifier: {edit}"));
        }
        if number % stride == 0
            && let Some((0, _)) = second_verifier(&copy, None)
        {
            missed.push(format!("second verifier: {edit}"));
        }
    }
    println!("{tried} edits");
    assert!(tried >= 200, "only {tried} edits went through");
    assert_eq!(missed, Vec::<String>::new());
}

#[tokio::test]
async fn scripted_edits_are_found() {
    every_edit_is_found(8).await;
}

#[tokio::test]
#[ignore = "half a minute; run by name"]
async fn scripted_edits_are_found_by_the_second_verifier_too() {
    every_edit_is_found(1).await;
}

/// Control: the machinery of the edits alone leaves a valid file.
#[tokio::test]
async fn an_edit_that_changes_nothing_is_not_found() {
    let folder = tempfile::tempdir().unwrap();
    let (path, checkpoint) = small_book(folder.path()).await;
    let copy = folder.path().join("edited.benchbook");
    assert!(edited(&path, &copy, "UPDATE cases SET id = id").await);
    let found = verify(&copy, Some(&checkpoint)).await.unwrap();
    assert!(found.is_valid(), "{}", findings(&found));
    if let Some((status, text)) = second_verifier(&copy, Some(&checkpoint)) {
        assert_eq!(status, 0, "{text}");
    }
}

/// Everything that a reader of the file can see, as text.
async fn content(path: &Path) -> Result<String, sqlx::Error> {
    let mut bare = bare_connection(path).await;
    let mut all = String::new();
    for table in TABLES.into_iter().chain(["sqlite_schema"]) {
        // Where a root page lies is no content.
        let sql = match table {
            "sqlite_schema" => "SELECT type, name, tbl_name, sql FROM sqlite_schema".to_owned(),
            _ => format!("SELECT * FROM {table} ORDER BY rowid"),
        };
        for row in sqlx::query(sqlx::AssertSqlSafe(sql)).fetch_all(&mut bare).await? {
            for column in 0..row.len() {
                let bytes: Option<Vec<u8>> = row.try_get_unchecked(column)?;
                all.push_str(&format!("{bytes:?}|"));
            }
        }
    }
    bare.close().await?;
    Ok(all)
}

/// Flips one bit of `n` bytes spread over the file. Each is found, or lies
/// where nothing is stored: then every row reads as before.
async fn byte_flips(n: usize) {
    let folder = tempfile::tempdir().unwrap();
    let (path, _) = small_book(folder.path()).await;
    let sound = std::fs::read(&path).unwrap();
    let original = content(&path).await.unwrap();
    let copy = folder.path().join("flipped.benchbook");
    let mut stream = digits_of(n as u64);
    let (mut found, mut slack) = (0, 0);
    for _ in 0..n {
        let at = usize::try_from(stream() % sound.len() as u64).unwrap();
        let mut bytes = sound.clone();
        bytes[at] ^= 1 << (stream() % 8);
        std::fs::write(&copy, &bytes).unwrap();
        match verify(&copy, None).await {
            Ok(verification) if verification.is_valid() => {
                let now = content(&copy).await;
                assert!(now.is_ok_and(|now| now == original), "byte {at} was changed unseen");
                slack += 1;
            }
            _ => found += 1,
        }
        for side in ["-wal", "-shm"] {
            let _ = std::fs::remove_file(folder.path().join(format!("flipped.benchbook{side}")));
        }
    }
    println!("{n} flips in {} bytes: {found} found, {slack} where nothing is stored", sound.len());
    assert!(found > n / 4, "{found} of {n}");
}

/// Numbers without a pattern (splitmix64), the same in every run.
fn digits_of(seed: u64) -> impl FnMut() -> u64 {
    let mut state = seed;
    move || {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

#[tokio::test]
async fn flipped_bytes_are_found() {
    byte_flips(300).await;
}

#[tokio::test]
#[ignore = "minutes; run by name"]
async fn ten_thousand_flipped_bytes_are_found() {
    byte_flips(10_000).await;
}

/// Somebody who recomputes every hash is seen only from outside.
#[tokio::test]
async fn a_rewritten_history_is_found_by_the_checkpoint_alone() {
    let folder = tempfile::tempdir().unwrap();
    let (path, checkpoint) = small_book(folder.path()).await;
    // The same work again in a new file with the old identity: one actor less.
    let forged = folder.path().join("forged.benchbook");
    std::fs::copy(&path, &forged).unwrap();
    let mut bare = bare_connection(&forged).await;
    let saved = guards(&mut bare).await;
    for (name, _) in &saved {
        run_sql(&mut bare, &format!("DROP TRIGGER {name}")).await.unwrap();
    }
    let text: String = sqlx::query("SELECT event FROM history WHERE number = 4")
        .fetch_one(&mut bare)
        .await
        .unwrap()
        .get(0);
    let text = text.replace("A. Analyst", "B. Nobody");
    let leaf: [u8; 32] = {
        use sha2::Digest;
        sha2::Sha256::new().chain_update([0]).chain_update(&text).finalize().into()
    };
    sqlx::query("UPDATE history SET event = $1, leaf = $2 WHERE number = 4")
        .bind(&text)
        .bind(leaf.as_slice())
        .execute(&mut bare)
        .await
        .unwrap();
    for (_, text) in &saved {
        run_sql(&mut bare, text).await.unwrap();
    }
    bare.close().await.unwrap();

    // Inside, everything agrees: this is what a file cannot show by itself.
    assert!(verify(&forged, None).await.unwrap().is_valid());
    let found = verify(&forged, Some(&checkpoint)).await.unwrap();
    assert_eq!(
        findings(&found),
        "checkpoint: the first 9 events are not those of the checkpoint\n"
    );
    if let Some((status, text)) = second_verifier(&forged, Some(&checkpoint)) {
        assert_eq!(status, 1, "{text}");
    }
}

#[tokio::test]
async fn an_older_copy_and_another_benchbook_are_found_by_the_checkpoint() {
    let folder = tempfile::tempdir().unwrap();
    let (path, first) = small_book(folder.path()).await;
    let older = folder.path().join("older.benchbook");
    std::fs::copy(&path, &older).unwrap();
    let book = Benchbook::open(&path).await.unwrap();
    book.add_case(&study::worked_cases::lyophilised_vial(), &moment(20)).await.unwrap();
    let second = book.checkpoint().await.unwrap();
    book.close().await;

    // The grown file still begins with what the first checkpoint stands for.
    assert!(verify(&path, Some(&first)).await.unwrap().is_valid());
    assert!(verify(&path, Some(&second)).await.unwrap().is_valid());
    let found = verify(&older, Some(&second)).await.unwrap();
    assert!(findings(&found).contains("records are missing after event 9"), "{}", findings(&found));
    let mut other = first.clone();
    other.origin = "isobar/benchbook/00000000000000000000000000000000".to_owned();
    let found = verify(&path, Some(&other)).await.unwrap();
    assert!(findings(&found).contains("it is of `isobar/benchbook/0000"), "{}", findings(&found));
    for (file, checkpoint, expected) in
        [(&path, &first, 0), (&path, &second, 0), (&older, &second, 1), (&path, &other, 1)]
    {
        if let Some((status, text)) = second_verifier(file, Some(checkpoint)) {
            assert_eq!(status, expected, "{text}");
        }
    }
}

#[tokio::test]
async fn an_event_is_proven_without_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let (path, checkpoint) = small_book(folder.path()).await;
    let book = Benchbook::open_read_only(&path).await.unwrap();
    for number in 1..=checkpoint.size {
        let (event, proof) = book.proof_of_event(number).await.unwrap().unwrap();
        assert_eq!(proof.checkpoint, checkpoint);
        let sent = EventProof::from_text(&proof.text()).unwrap();
        assert!(sent.holds_for(&event));
        assert!(!sent.holds_for(&event.replace("A. Analyst", "B. Nobody")));
    }
    assert_eq!(book.proof_of_event(0).await.unwrap(), None);
    assert_eq!(book.proof_of_event(checkpoint.size + 1).await.unwrap(), None);
}

#[tokio::test]
async fn what_is_no_benchbook_cannot_be_decided() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("text");
    std::fs::write(&path, "words").unwrap();
    assert!(verify(&path, None).await.is_err());
    assert!(verify(&folder.path().join("missing"), None).await.is_err());
    if let Some((status, text)) = second_verifier(&folder.path().join("missing"), None) {
        assert_eq!(status, 2, "{text}");
    }
}

//! Every way in which a file can be the wrong one has its own words.

use crate::invented;

use std::path::Path;
use std::time::Duration;

use benchbook::{Benchbook, BenchbookError};
use invented::{bare_connection, book_with_syringe, moment};
use sqlx::Connection;

/// Opens both ways; both must refuse alike.
async fn refused(path: &Path) -> BenchbookError {
    let read = Benchbook::open_read_only(path).await.expect_err("refused to read");
    let write = Benchbook::open(path).await.expect_err("refused to write");
    assert_eq!(read.to_string(), write.to_string());
    assert!(write.is_users(), "{write}");
    assert!(!write.next_step().is_empty());
    write
}

#[tokio::test]
async fn files_that_are_no_benchbook() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);

    let error = refused(&at("missing")).await;
    assert!(matches!(&error, BenchbookError::Missing { path } if path == &at("missing")));

    std::fs::write(at("text.toml"), "title = \"a case\"\n").unwrap();
    let error = refused(&at("text.toml")).await;
    assert!(error.to_string().ends_with("is not a benchbook: it is a text file"), "{error}");

    std::fs::write(at("empty"), "").unwrap();
    let error = refused(&at("empty")).await;
    assert!(error.to_string().ends_with("it is an empty file"), "{error}");

    std::fs::write(at("bytes"), [0xff, 0xd8, 0xff, 0xe0, 0, 1, 2]).unwrap();
    let error = refused(&at("bytes")).await;
    assert!(error.to_string().ends_with("it is a file of another kind"), "{error}");

    std::fs::write(at("torn"), b"SQLite format 3\0\x10\0").unwrap();
    let error = refused(&at("torn")).await;
    assert!(error.to_string().ends_with("it is the torn beginning of a database"), "{error}");

    let error = refused(folder.path()).await;
    assert!(error.to_string().ends_with("it is a folder"), "{error}");
}

#[tokio::test]
async fn a_database_of_another_program_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.sqlite");
    std::fs::write(&path, "").unwrap();
    let mut other = bare_connection(&path).await;
    sqlx::raw_sql("PRAGMA journal_mode = WAL; CREATE TABLE t (a)")
        .execute(&mut other)
        .await
        .unwrap();
    other.close().await.unwrap();
    let before = std::fs::read(&path).unwrap();
    let error = refused(&path).await;
    assert!(error.to_string().ends_with("it is a database of another program"), "{error}");
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "no side files");
}

#[tokio::test]
async fn a_newer_shape_is_refused() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let mut bare = bare_connection(&path).await;
    sqlx::raw_sql("PRAGMA user_version = 4711").execute(&mut bare).await.unwrap();
    bare.close().await.unwrap();
    let error = refused(&path).await;
    assert!(matches!(error, BenchbookError::Newer { found: 4711, .. }), "{error}");
    assert!(error.to_string().contains("4711"));
}

#[tokio::test]
async fn a_newer_shape_that_still_stands_in_the_wal_is_refused() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    // While the benchbook is open its last connection does not fold the WAL.
    let mut bare = bare_connection(&path).await;
    sqlx::raw_sql("PRAGMA wal_autocheckpoint = 0; PRAGMA user_version = 4711")
        .execute(&mut bare)
        .await
        .unwrap();
    let error = Benchbook::open(&path).await.unwrap_err();
    assert!(matches!(error, BenchbookError::Newer { found: 4711, .. }), "{error}");
    drop(book);
}

#[tokio::test]
async fn a_taken_name_is_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("letter.txt");
    std::fs::write(&path, "keep me").unwrap();
    let error = Benchbook::create(&path, &moment(0)).await.unwrap_err();
    assert!(matches!(error, BenchbookError::Exists { .. }), "{error}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "keep me");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);

    let nowhere = folder.path().join("no/such/folder/a.benchbook");
    let error = Benchbook::create(&nowhere, &moment(0)).await.unwrap_err();
    assert!(matches!(error, BenchbookError::NoFolder { .. }), "{error}");
}

#[tokio::test]
async fn two_that_begin_the_same_name_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("one.benchbook");
    let (zero, one) = (moment(0), moment(1));
    let (a, b) = tokio::join!(Benchbook::create(&path, &zero), Benchbook::create(&path, &one));
    assert_eq!(u8::from(a.is_ok()) + u8::from(b.is_ok()), 1);
    for book in [a, b].into_iter().flatten() {
        assert_eq!(book.history(None).await.unwrap().len(), 1);
        book.close().await;
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing half-made is left");
}

#[tokio::test]
async fn a_held_file_is_named_as_held() {
    let (_folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let mut other = bare_connection(&path).await;
    sqlx::raw_sql("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE")
        .execute(&mut other)
        .await
        .unwrap();
    for read_only in [false, true] {
        let error = Benchbook::open_within(&path, read_only, Duration::from_millis(50)).await;
        let error = error.unwrap_err();
        assert!(matches!(error, BenchbookError::Locked { waited_ms: 50, .. }), "{error}");
    }
    other.close().await.unwrap();
    assert!(Benchbook::open(&path).await.is_ok());
}

#[tokio::test]
async fn what_is_opened_to_be_read_is_not_written() {
    let (folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let before = std::fs::read(&path).unwrap();
    let book = Benchbook::open_read_only(&path).await.unwrap();
    let error = book.add_case(&study::worked_cases::liquid_vial(), &moment(9)).await.unwrap_err();
    assert!(matches!(error, BenchbookError::ReadOnly { .. }), "{error}");
    book.close().await;
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert!(benchbook::verify(&path, None).await.unwrap().is_valid());
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "no side files are left");
}

/// Root may read and write everything, so there is nothing to see as root.
#[cfg(unix)]
#[tokio::test]
async fn permissions_are_named() {
    use std::os::unix::fs::PermissionsExt;
    let (folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let set = |path: &Path, mode| {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    };
    set(&path, 0o000);
    if std::fs::File::open(&path).is_ok() {
        println!("skipped: this user may read everything");
        return;
    }
    // A fresh copy, because a file that was looked at stays open.
    let copy = folder.path().join("copy.benchbook");
    set(&path, 0o600);
    std::fs::copy(&path, &copy).unwrap();
    set(&copy, 0o000);
    let error = Benchbook::open(&copy).await.unwrap_err();
    assert!(matches!(error, BenchbookError::NotPermitted { wanted: "read", .. }), "{error}");
    set(&copy, 0o400);
    let error = Benchbook::open(&copy).await.unwrap_err();
    assert!(matches!(error, BenchbookError::NotPermitted { wanted: "written", .. }), "{error}");
    assert!(Benchbook::open_read_only(&copy).await.is_ok());
}

//! Backups: equal to the benchbook, made while it is written, refused from a
//! damaged one.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use crate::invented;

use benchbook::{Benchbook, BenchbookError, verify};
use invented::{bare_connection, book_with_syringe, moment};
use sqlx::Connection;

#[tokio::test]
async fn a_backup_is_equal_and_an_event() {
    let (folder, path, book, case) = book_with_syringe().await;
    let copy = folder.path().join("copy 'of it'.benchbook");
    let checkpoint = book.back_up(&copy, &moment(20)).await.unwrap();
    assert_eq!(checkpoint, book.checkpoint().await.unwrap());
    let last = book.history(None).await.unwrap().pop().unwrap();
    assert_eq!(last.what, "backup begun");
    assert!(last.detail.contains("copy 'of it'"), "{}", last.detail);

    let restored = Benchbook::open(&copy).await.unwrap();
    assert_eq!(restored.case("syringe-1ml").await.unwrap(), case);
    assert_eq!(restored.identity().await.unwrap(), book.identity().await.unwrap());
    assert!(restored.not_for_regulated_use().await.unwrap().is_some());
    // Work goes on in the copy.
    restored.add_case(&study::worked_cases::liquid_vial(), &moment(21)).await.unwrap();
    restored.close().await;
    assert!(verify(&copy, Some(&checkpoint)).await.unwrap().is_valid());
    book.close().await;
    assert!(verify(&path, Some(&checkpoint)).await.unwrap().is_valid());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2, "two files, no litter");
}

#[tokio::test]
async fn a_backup_never_writes_over() {
    let (folder, path, book, _case) = book_with_syringe().await;
    let letter = folder.path().join("letter");
    std::fs::write(&letter, "keep me").unwrap();
    for taken in [&letter, &path] {
        let error = book.back_up(taken, &moment(20)).await.unwrap_err();
        assert!(matches!(error, BenchbookError::Exists { .. }), "{error}");
    }
    assert_eq!(std::fs::read_to_string(&letter).unwrap(), "keep me");
    assert_eq!(book.history(None).await.unwrap().len(), 7, "no event for what was not done");
}

#[tokio::test]
async fn a_damaged_benchbook_gives_no_backup() {
    let (folder, path, book, _case) = book_with_syringe().await;
    book.close().await;
    let mut bare = bare_connection(&path).await;
    sqlx::raw_sql(
        "DROP TRIGGER runs_no_delete; DELETE FROM samples; DELETE FROM runs WHERE number = 2",
    )
    .execute(&mut bare)
    .await
    .expect_err("samples are guarded still");
    sqlx::raw_sql("DELETE FROM runs WHERE number = 2").execute(&mut bare).await.unwrap();
    bare.close().await.unwrap();
    let book = Benchbook::open(&path).await.unwrap();
    let copy = folder.path().join("copy.benchbook");
    let error = book.back_up(&copy, &moment(20)).await.unwrap_err();
    assert!(matches!(error, BenchbookError::Damaged { .. }), "{error}");
    assert!(!copy.exists());
    book.close().await;
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing half-made is left");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn backups_during_writing_are_whole() {
    let (folder, _path, book, case) = book_with_syringe().await;
    let writer = {
        let (book, plan) = (book.clone(), case.plan.clone().unwrap());
        tokio::spawn(async move {
            for seed in 0..60 {
                let mut plan = plan.clone();
                plan.seed = seed;
                book.record_plan("syringe-1ml", &plan, &moment(30)).await.unwrap();
            }
        })
    };
    let mut sizes = Vec::new();
    for number in 0..5 {
        let copy = folder.path().join(format!("{number}.benchbook"));
        let checkpoint = book.back_up(&copy, &moment(30)).await.unwrap();
        let found = verify(&copy, Some(&checkpoint)).await.unwrap();
        assert!(found.is_valid(), "{:?}", found.findings);
        sizes.push(checkpoint.size);
    }
    writer.await.unwrap();
    assert!(sizes.windows(2).all(|pair| pair[0] < pair[1]), "{sizes:?}");
}

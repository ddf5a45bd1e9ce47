//! Runs that come in with their files: all of it, or nothing.
#![allow(clippy::unwrap_used)] // a test fails by panicking

use crate::invented;

use benchbook::{Benchbook, BenchbookError, Import, NewFile, verify};
use invented::{moment, small_case};

async fn counts(book: &Benchbook, id: &str) -> (usize, usize, usize) {
    (
        book.case_without_traces(id).await.unwrap().runs.len(),
        book.attachments(id).await.unwrap().len(),
        book.open_items(id).await.unwrap().len(),
    )
}

#[tokio::test]
async fn nothing_is_half_imported() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("b.benchbook");
    let book = Benchbook::create(&path, &moment(0)).await.unwrap();
    let case = small_case();
    let id = case.input.id.clone();
    book.add_case(&case.input, &moment(1)).await.unwrap();
    let runs = &case.runs[..2];
    let file = NewFile { name: "a.csv", note: "original", bytes: b"time_s,p [Pa]\n" };
    let items = ["rig R7: cycle 4 is missing, between a.csv and b.csv".to_owned()];
    let import = Import { runs, files: &[file], open_items: &items };
    book.import(&id, &import, &moment(2)).await.unwrap();
    assert_eq!(counts(&book, &id).await, (2, 1, 1));
    let stored = book.attachments(&id).await.unwrap()[0].clone();
    let bytes = book.stored_file(&stored.file_sha256).await.unwrap().unwrap();
    assert_eq!(bytes, file.bytes);
    // The same numbers again: refused, and nothing of the rest is kept.
    let other = NewFile { name: "c.csv", note: "original", bytes: b"other" };
    let more = ["another".to_owned()];
    let again = Import { runs, files: &[other], open_items: &more };
    let refused = book.import(&id, &again, &moment(3)).await;
    assert!(matches!(refused, Err(BenchbookError::RunExists { .. })), "{refused:?}");
    // An item without a text fails last of all, after runs and files.
    let empty = [String::new()];
    let last = Import { runs: &case.runs[2..3], files: &[other], open_items: &empty };
    assert!(book.import(&id, &last, &moment(4)).await.is_err());
    assert_eq!(counts(&book, &id).await, (2, 1, 1));
    // The same file with a further run: kept once.
    let next = Import { runs: &case.runs[2..3], files: &[file], open_items: &[] };
    book.import(&id, &next, &moment(5)).await.unwrap();
    assert_eq!(counts(&book, &id).await, (3, 1, 1));
    book.close().await;
    assert!(verify(&path, None).await.unwrap().findings.is_empty());
}

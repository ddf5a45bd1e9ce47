//! Every document of a case from the command line.

use super::{isobar, json};

const DOCUMENTS: [&str; 7] =
    ["study", "claim", "protocol", "limit", "profile", "method", "fixture"];

#[test]
fn every_document_is_written_twice_the_same_and_unknown_names_are_refused_with_the_list() {
    let folder = tempfile::tempdir().unwrap();
    let demo = folder.path().join("demo");
    super::demo_into(&demo);
    let book = demo.join("demo.benchbook");
    let book = book.to_str().unwrap();
    let file = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    for document in DOCUMENTS {
        let pdf = file(&format!("{document}.pdf"));
        let write = |output: &str, sheet: &str| {
            json(&[
                "report",
                book,
                "--case",
                "lyo-2r",
                "--document",
                document,
                "--paper",
                sheet,
                "-o",
                output,
            ])
        };
        let first = write(&pdf, "a4");
        assert_eq!(first["digest"], write(&file("again.pdf"), "a4")["digest"], "{document}");
        assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF-"));
        if document == "claim" {
            assert_ne!(first["digest"], write(&file("letter.pdf"), "letter")["digest"]);
        }
        let page = file(&format!("{document}.html"));
        write(&page, "a4");
        let page = std::fs::read_to_string(page).unwrap();
        assert!(page.starts_with("<!doctype html>") && page.contains("lyo-2r"), "{document}");
        assert!(!page.contains("<script"), "{document}");
    }
    let unknown = ["report", book, "--case", "lyo-2r", "--document", "memo", "-o", "memo.pdf"];
    let output = isobar(&unknown);
    assert_eq!(output.status.code(), Some(2));
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    for document in DOCUMENTS {
        assert!(words.contains(document), "{words}");
    }
}

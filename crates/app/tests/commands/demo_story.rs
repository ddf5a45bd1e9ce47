//! The whole story: the demo walks its cases and writes what it promises.

use super::{json, number};

#[test]
fn the_demo_writes_what_it_promises() {
    let scratch = tempfile::tempdir().unwrap();
    let into = scratch.path().join("demo");
    let into_text = into.to_str().unwrap();
    let answer = json(&["demo", "--into", into_text, "--no-serve"]);
    let cases = answer["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 3);
    for case in cases {
        assert_eq!(case["invented"], true);
        assert!(number(case, "/reject_limit_pa") > 0.0);
        assert!(number(case, "/a90_flow_equivalent_um") > 0.0);
        assert!(case["claim"].as_str().unwrap().contains("invented"));
    }
    for file in answer["files"].as_array().unwrap() {
        let path = std::path::Path::new(file.as_str().unwrap());
        assert!(path.metadata().unwrap().len() > 500, "{}", path.display());
    }
    let pdfs = answer["files"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|file| file.as_str().unwrap().ends_with(".pdf"))
        .count();
    assert_eq!(pdfs, 3, "one report for each case");

    // The same demo again is not written over, and gives the same figures.
    let again = json(&["demo", "--into", into_text, "--no-serve"]);
    assert_eq!(again["cases"], answer["cases"]);
    assert!(into.join("demo-2.benchbook").exists());

    // The report is made from the stored case.
    let pdf = scratch.path().join("again.pdf");
    let book = into.join("demo.benchbook");
    let report =
        json(&["report", book.to_str().unwrap(), "--case", "lyo-2r", "-o", pdf.to_str().unwrap()]);
    assert_eq!(report["digest"].as_str().unwrap().len(), 64);
    assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF"));

    // The case files that the demo writes can be forecast.
    let toml = into.join("lyo-2r.toml");
    let forecast = json(&["forecast", toml.to_str().unwrap(), "--draws", "16"]);
    assert_eq!(forecast["case"], "lyo-2r");
    assert!(number(&forecast, "/window/smallest_flow_equivalent_um") > 0.0);
}

#[test]
fn tampering_is_found() {
    let scratch = tempfile::tempdir().unwrap();
    let into = scratch.path().join("demo");
    super::demo_into(&into);
    let book = into.join("demo.benchbook");
    let book = book.to_str().unwrap();
    let sound = json(&["verify", book]);
    assert_eq!(sound["intact"], true);
    let checkpoint = scratch.path().join("checkpoint");
    std::fs::write(&checkpoint, sound["checkpoint"].as_str().unwrap()).unwrap();
    json(&["verify", book, "--against", checkpoint.to_str().unwrap()]);

    // Positive control: change one letter of a stored title, wherever it lies
    // (pages that were split keep dead copies, which are no records).
    let mut bytes = std::fs::read(book).unwrap();
    let words = b"freeze-dried";
    let places: Vec<usize> =
        (0..bytes.len() - words.len()).filter(|&at| bytes[at..].starts_with(words)).collect();
    assert!(!places.is_empty());
    for at in places {
        bytes[at] = b'F';
    }
    let changed = scratch.path().join("changed.benchbook");
    std::fs::write(&changed, bytes).unwrap();
    let (code, text) = super::fault(&["verify", changed.to_str().unwrap()]);
    assert_eq!(code, 3, "{text}");
    assert!(text.contains("not as it was written"), "{text}");
}

#[test]
fn the_example_case_is_the_worked_case() {
    let answer = json(&["forecast", "examples/lyophilised_vial.toml", "--draws", "16"]);
    assert_eq!(answer["case"], "lyo-2r");
    assert_eq!(answer["invented"], true);
}

//! The twins of the pages against `docs/pages.md`: every page has a section, and
//! every first key that a twin prints is named there.

use std::collections::BTreeSet;

use super::tests::get;

/// Address and words in backquotes of every section.
fn sections() -> Vec<(String, BTreeSet<String>)> {
    let text = include_str!("../../../../docs/pages.md");
    text.split("\n## ")
        .skip(1)
        .map(|section| {
            let (address, body) = section.split_once('\n').unwrap();
            let words = body.split('`').skip(1).step_by(2);
            let words = words.map(|word| word.trim_end_matches("[]").to_owned()).collect();
            (address.to_owned(), words)
        })
        .collect()
}

#[tokio::test]
async fn every_twin_prints_what_is_written_of_it() {
    let sections = sections();
    assert!(sections.len() > 20, "{}", sections.len());
    let mut wrong = Vec::new();
    for (address, words) in &sections {
        let path = address.replace("ID", "syringe-1ml").replace("NUMBER", "5");
        let twin = get(&format!("{path}.json")).await;
        assert_eq!(twin.status, 200, "{path}: {}", twin.body);
        let value: serde_json::Value = serde_json::from_str(&twin.body).unwrap();
        for key in value.as_object().unwrap().keys().filter(|key| !words.contains(*key)) {
            wrong.push(format!("{address} prints `{key}`, which is not written"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// A page that is served and has no section would not be missed above.
#[test]
fn every_page_has_a_section() {
    let written: Vec<String> = sections().into_iter().map(|(address, _)| address).collect();
    let of_cases = ["plan", "files", "design", "import", "units", "sign", "review", "edit"];
    let steps = ["profile", "forecast", "method", "runs", "results", "report", "upkeep"];
    for part in of_cases.into_iter().chain(steps) {
        assert!(written.contains(&format!("/case/ID/{part}")), "{part}");
    }
    for page in ["benchbook", "new", "bring-in", "history", "safekeeping", "register", "people"] {
        assert!(written.contains(&format!("/{page}")), "{page}");
    }
}

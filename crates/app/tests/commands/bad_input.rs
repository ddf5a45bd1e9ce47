//! Bad input: one clear error with a hint, exit code 2, nothing half-written.

use super::fault;

/// Asserts exit code 2, a hint, and words in the message.
fn refused(arguments: &[&str], words: &[&str]) {
    let (code, text) = fault(arguments);
    assert_eq!(code, 2, "isobar {arguments:?}: {text}");
    for word in words {
        assert!(text.contains(word), "isobar {arguments:?} does not say `{word}`: {text}");
    }
    assert!(text.contains("hint:"), "no hint: {text}");
    assert!(!text.contains("panicked"), "{text}");
}

fn case_with(change: impl Fn(String) -> String) -> tempfile::NamedTempFile {
    let text =
        std::fs::read_to_string(super::root().join("examples/lyophilised_vial.toml")).unwrap();
    let file = tempfile::Builder::new().suffix(".toml").tempfile().unwrap();
    std::fs::write(file.path(), change(text)).unwrap();
    file
}

#[test]
fn a_bare_sccm_is_refused_and_the_hint_shows_how() {
    refused(&["convert", "1 sccm", "--to", "mol/s"], &["sccm", "@0C"]);
    refused(&["convert", "1 mol/s", "--to", "sccm"], &["sccm", "@0C"]);
}

#[test]
fn a_missing_unit_is_named() {
    refused(&["leak", "--bore", "5", "--wall", "1mm"], &["`5`", "unit"]);
    let file = case_with(|text| text.replace("\"12 mL\"", "\"12\""));
    refused(&["forecast", file.path().to_str().unwrap()], &["unit", "line"]);
}

#[test]
fn a_negative_size_is_refused() {
    refused(&["leak", "--bore=-5um", "--wall", "1mm"], &["-5um", "negative"]);
    let file = case_with(|text| text.replace("\"12 mL\"", "\"-12 mL\""));
    refused(&["forecast", file.path().to_str().unwrap()], &["negative", "line"]);
}

#[test]
fn an_unknown_key_is_named_with_the_nearest_and_its_line() {
    let file = case_with(|text| text.replacen("free_volume", "free_volum", 1));
    refused(&["forecast", file.path().to_str().unwrap()], &["free_volum", "free_volume", "line"]);
}

#[test]
fn files_that_are_no_benchbook() {
    refused(&["serve", "README.md"], &["README.md"]);
    refused(&["serve", "no-such-file.benchbook"], &["no-such-file.benchbook"]);
    refused(&["report", "README.md", "--case", "x", "-o", "x.pdf"], &["README.md"]);
    assert!(!super::root().join("x.pdf").exists(), "nothing half-written");
}

#[test]
fn a_port_in_use_is_named() {
    let scratch = tempfile::tempdir().unwrap();
    let into = scratch.path().join("demo");
    super::demo_into(&into);
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let book = into.join("demo.benchbook");
    refused(&["serve", book.to_str().unwrap(), "--port", &port], &[&port, "in use", "--port"]);
    refused(&["serve", book.to_str().unwrap(), "--listen", "0.0.0.0"], &["0.0.0.0", "accounts"]);
    let front = ["serve", book.to_str().unwrap(), "--front", "https://isobar.lab.example"];
    refused(&front, &["has no accounts", "account begin"]);
    // An unknown case lists those there are.
    let pdf = scratch.path().join("x.pdf");
    refused(
        &["report", book.to_str().unwrap(), "--case", "nobody", "-o", pdf.to_str().unwrap()],
        &["nobody", "lyo-2r"],
    );
    assert!(!pdf.exists());
}

#[test]
fn a_benchbook_from_a_newer_version_is_refused() {
    let scratch = tempfile::tempdir().unwrap();
    let into = scratch.path().join("demo");
    super::demo_into(&into);
    let book = into.join("demo.benchbook");
    // The version stands at byte 60 of the file, big-endian (SQLite file
    // format, "user version number").
    let mut bytes = std::fs::read(&book).unwrap();
    bytes[60..64].copy_from_slice(&9999_u32.to_be_bytes());
    let newer = scratch.path().join("newer.benchbook");
    std::fs::write(&newer, &bytes).unwrap();
    refused(&["serve", newer.to_str().unwrap()], &["newer"]);
    assert_eq!(std::fs::read(&newer).unwrap(), bytes, "the file must not change");
}

#[test]
fn unreadable_tables_are_refused_with_their_line() {
    let scratch = tempfile::tempdir().unwrap();
    let path = scratch.path().join("bad.csv");
    std::fs::write(&path, "unit,rise_pa\nA,1.0\nB,two\n").unwrap();
    refused(
        &["assess", "limit", path.to_str().unwrap(), "--column", "rise_pa"],
        &["two", "line 3", "rise_pa"],
    );
    refused(&["assess", "limit", path.to_str().unwrap(), "--column", "rise"], &["rise_pa"]);
    std::fs::write(&path, "").unwrap();
    refused(&["assess", "limit", path.to_str().unwrap(), "--column", "x"], &["empty"]);
    std::fs::write(&path, [0xff, 0xfe, 0x00, 0xd8, 0x41]).unwrap();
    let (code, text) = fault(&["examine", path.to_str().unwrap()]);
    assert_eq!(code, 2, "{text}");
}

#[test]
fn what_cannot_be_said_is_refused() {
    refused(&["assess", "limit", "--mean", "1", "--sd", "1", "--n", "1"], &["cannot be said"]);
    refused(&["assess", "proportion", "--hits", "5", "--of", "4"], &["cannot be said"]);
    refused(&["leak", "--bore", "5um", "--orifice", "--upstream=-1Pa"], &["-1Pa"]);
}

//! The glossary is checked against the code: every place it names exists.

use super::{read, root};

#[test]
fn every_place_in_the_glossary_exists() {
    let text = read(&root().join("GLOSSARY.md"));
    let mut terms = 0;
    for line in text.lines().filter(|line| line.starts_with("| **")) {
        terms += 1;
        let place =
            line.rsplit('|').nth(1).map(str::trim).unwrap_or_else(|| panic!("no place in: {line}"));
        let place = place.trim_matches('`');
        let (file, item) = place
            .split_once("::")
            .unwrap_or_else(|| panic!("a place is `file::item`, not `{place}`"));
        let path = root().join("crates").join(file);
        assert!(path.exists(), "{place}: there is no crates/{file}");
        assert!(read(&path).contains(item), "{place}: the file does not say `{item}`");
    }
    assert!(terms >= 20, "only {terms} terms were found");
}

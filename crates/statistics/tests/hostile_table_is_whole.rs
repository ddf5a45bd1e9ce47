//! No public function is missing from the table of hostile samples.

// A test may stop at the first surprise.
#![allow(clippy::unwrap_used)]

/// A public function of the library that no table asks is a hole in it.
#[test]
fn every_public_function_is_asked() {
    fn files(folder: &std::path::Path, found: &mut Vec<std::path::PathBuf>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                files(&path, found);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                found.push(path);
            }
        }
    }
    let own = include_str!("hostile_table.rs");
    let mut found = Vec::new();
    files(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut found);
    let mut missing = Vec::new();
    let mut seen = 0;
    for path in found {
        // Distributions are functions of numbers with a range of their own;
        // they have tests of their edges. Notes and accounts hold words.
        if path.to_string_lossy().contains("distributions")
            || path.ends_with("note.rs")
            || path.ends_with("account.rs")
        {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let text = text.split("#[cfg(test)]\nmod tests").next().unwrap_or("");
        for part in text.split("pub fn ").skip(1) {
            let name = part.split(['(', '<']).next().unwrap_or("");
            seen += 1;
            let plain = ["word", "line", "next_step"];
            if !plain.contains(&name) && !own.contains(&format!("{name}(")) {
                missing.push(name.to_owned());
            }
        }
    }
    assert!(seen > 120, "{seen}");
    assert!(missing.is_empty(), "{missing:?}");
}

//! Files stay small enough to read.

use super::{read, root, rust_files};

#[test]
fn no_file_is_longer_than_800_lines() {
    let mut lengths = Vec::new();
    for file in rust_files(&root().join("crates")) {
        let n = read(&file).lines().count();
        assert!(n <= 800, "{} has {n} lines: split it", file.display());
        lengths.push(n);
    }
    lengths.sort_unstable();
    let median = lengths[lengths.len() / 2];
    assert!(median <= 200, "the median file has {median} lines");
    let ninth = lengths[lengths.len() * 9 / 10];
    assert!(ninth <= 500, "one file in ten has more than {ninth} lines");
}

#[test]
fn no_drawer_where_everything_lands() {
    for file in rust_files(&root().join("crates")) {
        let stem = file.file_stem().unwrap().to_string_lossy().into_owned();
        let forbidden = ["utils", "util", "common", "helpers", "manager", "engine", "misc"];
        assert!(!forbidden.contains(&stem.as_str()), "{}", file.display());
    }
}

#[test]
fn every_file_says_what_it_is_for() {
    for file in rust_files(&root().join("crates")) {
        if file.components().any(|part| part.as_os_str() == "src") {
            let text = read(&file);
            assert!(text.starts_with("//!"), "{} has no first line that says so", file.display());
        }
    }
}

//! One file per rule.

mod accounts;
mod evidence;
mod glossary;
mod imports;
mod map;
mod pure_rooms;
mod records_table;
mod sizes;
mod study_order;

use std::path::{Path, PathBuf};

/// The folder of the whole project.
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}

/// Every Rust file below a folder, in order.
pub fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let Ok(entries) = std::fs::read_dir(folder) else { return found };
    for entry in entries.flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// The part of a file before its tests.
pub fn without_tests(text: &str) -> &str {
    text.find("#[cfg(test)]").map_or(text, |at| &text[..at])
}

pub fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Whether a file is a module that only tests build.
pub fn is_test_module(file: &Path) -> bool {
    let stem = file.file_stem().unwrap().to_string_lossy();
    let folder = file.parent().unwrap();
    let parents = [folder.join("mod.rs"), folder.join("lib.rs"), folder.with_extension("rs")];
    parents.iter().filter(|parent| parent.exists()).any(|parent| {
        let text = read(parent);
        let declared = format!("mod {stem};");
        text.split("#[cfg(test)]").skip(1).any(|rest| rest.trim_start().starts_with(&declared))
    })
}

//! Which files are meant: names, folders and simple patterns.

use std::path::{Path, PathBuf};

use crate::fault::Fault;

/// Files of loggers by their ending; others in a folder are passed over and
/// counted.
const ENDINGS: [&str; 9] = ["csv", "tsv", "txt", "log", "dat", "asc", "xlsx", "parquet", "prn"];

/// What was named.
#[derive(Debug, Default, PartialEq)]
pub struct Named {
    /// The files, in order, each once.
    pub files: Vec<PathBuf>,
    /// Files of folders that were passed over because of their ending.
    pub passed_over: usize,
}

/// The files behind names, folders (with everything below them) and patterns
/// with `*` and `?` in the last part.
pub fn named(paths: &[PathBuf]) -> Result<Named, Fault> {
    let mut found = Named::default();
    for path in paths {
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
        let is_pattern = name.as_ref().is_some_and(|name| name.contains(['*', '?']));
        if path.is_dir() {
            folder(path, &mut found, 0)?;
        } else if path.exists() {
            found.files.push(path.clone());
        } else if is_pattern {
            let before = found.files.len();
            let parent = path.parent().filter(|parent| !parent.as_os_str().is_empty());
            let pattern = name.unwrap_or_default();
            for entry in entries(parent.unwrap_or(Path::new(".")))? {
                let text = entry.file_name().unwrap_or_default().to_string_lossy().into_owned();
                if entry.is_file() && matches(pattern.as_bytes(), text.as_bytes()) {
                    found.files.push(entry);
                }
            }
            if found.files.len() == before {
                return Err(Fault::users(
                    format!("no file fits the pattern `{}`", path.display()),
                    "check the folder and the ending",
                ));
            }
        } else {
            return Err(Fault::cannot_read(path, &std::io::ErrorKind::NotFound.into()));
        }
    }
    let mut seen = std::collections::BTreeSet::new();
    found.files.retain(|file| seen.insert(file.clone()));
    if found.files.is_empty() {
        return Err(Fault::users(
            "there is no file to import",
            format!("files that end in {} are read from folders", ENDINGS.join(", ")),
        ));
    }
    Ok(found)
}

fn entries(folder: &Path) -> Result<Vec<PathBuf>, Fault> {
    let read = std::fs::read_dir(folder).map_err(|error| Fault::cannot_read(folder, &error))?;
    let mut paths: Vec<PathBuf> = read.flatten().map(|entry| entry.path()).collect();
    paths.sort();
    Ok(paths)
}

/// Folders deeper than this are taken for a loop of links.
const DEEPEST: usize = 32;

fn folder(path: &Path, found: &mut Named, depth: usize) -> Result<(), Fault> {
    if depth > DEEPEST {
        return Ok(());
    }
    for entry in entries(path)? {
        let hidden = entry.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
        if hidden {
            continue;
        }
        if entry.is_dir() {
            folder(&entry, found, depth + 1)?;
            continue;
        }
        let ending = entry
            .extension()
            .map(|ending| ending.to_string_lossy().to_lowercase())
            .unwrap_or_default();
        if ENDINGS.contains(&ending.as_str()) {
            found.files.push(entry);
        } else {
            found.passed_over += 1;
        }
    }
    Ok(())
}

/// `*` stands for any characters, `?` for one.
fn matches(pattern: &[u8], text: &[u8]) -> bool {
    match (pattern.split_first(), text.split_first()) {
        (None, None) => true,
        (Some((b'*', rest)), _) => (0..=text.len()).any(|skip| matches(rest, &text[skip..])),
        (Some((b'?', pattern)), Some((_, text))) => matches(pattern, text),
        (Some((one, pattern)), Some((other, text))) => one == other && matches(pattern, text),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns() {
        assert!(matches(b"*.csv", b"a.csv") && matches(b"run_?.log", b"run_7.log"));
        assert!(!matches(b"*.csv", b"a.csv.bak") && !matches(b"?", b""));
    }

    #[test]
    fn a_folder_is_read_with_its_folders_and_other_files_are_counted() {
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("day 2");
        std::fs::create_dir(&inner).unwrap();
        for name in ["b.csv", "a.CSV", "notes.docx", ".hidden.csv"] {
            std::fs::write(folder.path().join(name), "x").unwrap();
        }
        std::fs::write(inner.join("c.log"), "x").unwrap();
        let found = named(&[folder.path().to_path_buf()]).unwrap();
        let names: Vec<String> = found
            .files
            .iter()
            .map(|file| file.file_name().unwrap().to_string_lossy().into_owned())
            .collect();
        assert_eq!(
            (names, found.passed_over),
            (vec!["a.CSV".into(), "b.csv".into(), "c.log".into()], 1)
        );
        assert!(named(&[folder.path().join("*.xyz")]).is_err());
        assert_eq!(named(&[folder.path().join("?.csv")]).unwrap().files.len(), 1);
    }
}

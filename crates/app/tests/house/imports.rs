//! Who may import whom. Changing this list needs a decision record.

use super::{read, root};

const ALLOWED: &[(&str, &[&str])] = &[
    ("digits", &[]),
    ("physics", &["digits"]),
    ("statistics", &["digits"]),
    ("study", &["digits", "physics", "statistics"]),
    ("intake", &["digits", "study"]),
    ("benchbook", &["study"]),
    ("report", &["study"]),
    ("app", &["benchbook", "digits", "intake", "physics", "report", "statistics", "study"]),
];

/// Names of our rooms in a section of a manifest.
fn rooms_in(manifest: &toml::Table, section: &str) -> Vec<String> {
    let names: Vec<&str> = ALLOWED.iter().map(|row| row.0).collect();
    manifest
        .get(section)
        .and_then(toml::Value::as_table)
        .map(|table| table.keys().filter(|key| names.contains(&key.as_str())).cloned().collect())
        .unwrap_or_default()
}

#[test]
fn arrows_point_downward_only() {
    let crates = root().join("crates");
    let mut rooms: Vec<String> = std::fs::read_dir(&crates)
        .unwrap()
        .flatten()
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    rooms.sort();
    let mut expected: Vec<&str> = ALLOWED.iter().map(|row| row.0).collect();
    expected.sort_unstable();
    assert_eq!(rooms, expected, "a new room needs a forbidden import as its reason");
    for (room, allowed) in ALLOWED {
        let manifest: toml::Table = read(&crates.join(room).join("Cargo.toml")).parse().unwrap();
        for section in ["dependencies", "build-dependencies"] {
            for import in rooms_in(&manifest, section) {
                assert!(
                    allowed.contains(&import.as_str()),
                    "`{room}` may not import `{import}`; see ARCHITECTURE.md"
                );
            }
        }
    }
}

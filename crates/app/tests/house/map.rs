//! The map in ARCHITECTURE.md equals the folders.

use super::{read, root};

/// Places named in the map: lines of the code block after `<!-- map -->`.
fn mapped() -> Vec<String> {
    let text = read(&root().join("ARCHITECTURE.md"));
    let block = text
        .split("<!-- map -->")
        .nth(1)
        .and_then(|rest| rest.split("```").nth(1))
        .expect("ARCHITECTURE.md has a map");
    let mut places: Vec<String> = block
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .filter(|word| word.contains('/'))
        .map(str::to_owned)
        .collect();
    places.sort();
    places
}

/// Rooms and their modules as they lie in the folders.
fn actual() -> Vec<String> {
    let crates = root().join("crates");
    let mut places = Vec::new();
    for room in std::fs::read_dir(&crates).unwrap().flatten() {
        let room_name = room.file_name().to_string_lossy().into_owned();
        for entry in std::fs::read_dir(room.path().join("src")).unwrap().flatten() {
            let name = entry.file_name().to_string_lossy().into_owned();
            if name == "lib.rs" {
                continue;
            }
            let slash = if entry.path().is_dir() { "/" } else { "" };
            places.push(format!("{room_name}/{name}{slash}"));
        }
    }
    places.sort();
    places
}

#[test]
fn the_map_equals_the_folders() {
    let (mapped, actual) = (mapped(), actual());
    let missing: Vec<&String> = actual.iter().filter(|place| !mapped.contains(place)).collect();
    let gone: Vec<&String> = mapped.iter().filter(|place| !actual.contains(place)).collect();
    assert!(
        missing.is_empty() && gone.is_empty(),
        "not in the map: {missing:#?}\nin the map only: {gone:#?}\nrun tools/draw_map.py"
    );
}

#[test]
fn the_page_stays_short() {
    // The map grows with the project; what has to be read does not.
    let text = read(&root().join("ARCHITECTURE.md"));
    let n = text.lines().count() - mapped().len();
    assert!(n <= 100, "ARCHITECTURE.md has {n} lines outside its map");
}

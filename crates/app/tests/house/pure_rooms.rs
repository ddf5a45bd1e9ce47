//! What the pure rooms may not say: files, clock, environment, network,
//! terminal and unseeded chance. The platform's transcendental functions are
//! forbidden by `clippy.toml`, which sees types and not only words.

use super::{is_test_module, read, root, rust_files, without_tests};

const PURE: &[&str] = &["digits", "physics", "statistics", "study", "intake", "report"];

const FORBIDDEN: &[&str] = &[
    "std::fs",
    "std::net",
    "std::env",
    "std::process",
    "std::io::stdout",
    "std::io::stderr",
    "std::io::stdin",
    "SystemTime",
    "Instant::now",
    "println!",
    "eprintln!",
    "thread_rng",
    "HashMap::new",
    "HashSet::new",
    ".mul_add(",
    ".powi(",
    ".powf(",
];

/// Lines of code of a file: comments and documentation are left out.
fn code_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    without_tests(text)
        .lines()
        .enumerate()
        .filter(|(_, line)| !line.trim_start().starts_with("//"))
        .map(|(index, line)| (index + 1, line))
}

fn offences(name: &str, text: &str) -> Vec<String> {
    code_lines(text)
        .flat_map(|(number, line)| {
            FORBIDDEN
                .iter()
                .filter(move |word| line.contains(*word))
                .map(move |word| format!("{name}:{number} says `{word}`"))
        })
        .collect()
}

#[test]
fn pure_rooms_touch_nothing_outside() {
    let mut found = Vec::new();
    for room in PURE {
        for file in rust_files(&root().join("crates").join(room).join("src")) {
            if is_test_module(&file) {
                continue;
            }
            found.extend(offences(&file.display().to_string(), &read(&file)));
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn the_search_finds_a_planted_offence() {
    assert_eq!(offences("x.rs", "fn f() { std::fs::read(\"a\"); }").len(), 1);
    assert_eq!(offences("x.rs", "let y = x.powi(2);").len(), 1);
    assert!(offences("x.rs", "// std::fs is forbidden").is_empty());
}

#[test]
fn unsafe_code_has_two_audited_places() {
    let mut places = Vec::new();
    for file in rust_files(&root().join("crates")) {
        let text = read(&file);
        if file.components().all(|part| part.as_os_str() != "src") {
            continue;
        }
        if code_lines(&text).any(|(_, line)| line.contains("allow(unsafe_code)")) {
            places.push(file.display().to_string());
        }
    }
    let known = [
        "crates/digits/src/lanes/register_512.rs",
        "crates/digits/src/lanes/registers.rs",
        "crates/physics/src/cycle/wide.rs",
    ];
    places.retain(|place| !known.iter().any(|known| place.ends_with(known)));
    assert!(places.is_empty(), "unsafe code outside its two places (decisions/0004): {places:?}");
}

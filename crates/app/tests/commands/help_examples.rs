//! Every command's help has an example, and the examples run.

use super::{isobar, isobar_with, root};

/// Names of the subcommands that a help page lists.
fn subcommands(path: &[&str]) -> Vec<String> {
    let mut arguments = path.to_vec();
    arguments.push("--help");
    let text = String::from_utf8(isobar(&arguments).stdout).unwrap();
    let Some((_, rest)) = text.split_once("Commands:\n") else { return Vec::new() };
    rest.lines()
        .take_while(|line| line.starts_with("  "))
        .filter(|line| !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .map(str::to_owned)
        .collect()
}

/// Example lines of a help page, joined where they continue.
fn examples(path: &[&str]) -> Vec<String> {
    let mut arguments = path.to_vec();
    arguments.push("--help");
    let text = String::from_utf8(isobar(&arguments).stdout).unwrap().replace("\\\n", " ");
    text.lines().filter_map(|line| line.trim().strip_prefix("isobar ")).map(str::to_owned).collect()
}

/// Words of a shell line with double quotes.
fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            other => words.last_mut().unwrap().push(other),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// Files that examples write, and later ones read.
const WRITTEN: [&str; 12] = [
    "lyo-2r.pdf",
    "lyo-2r-claim.pdf",
    "lyo-2r.bag",
    "lyo-2r.xlsx",
    "tables",
    "copy.benchbook",
    "restored.benchbook",
    "lab.benchbook",
    "demo.checkpoint",
    "my_vial.toml",
    "tray.toml",
    "lyo-sheets",
];

/// Lines that a person types at an example.
fn passwords(example: &str) -> &'static str {
    const STEPS: [(&str, &str); 5] = [
        ("account begin", "harbour lantern seven\n"),
        ("account add", "harbour lantern seven\na first word of passage\n"),
        ("account role", "harbour lantern seven\n"),
        ("account password", "a first word of passage\ncopper kettle morning\n"),
        ("", "copper kettle morning\n"),
    ];
    STEPS.iter().find(|(step, _)| example.starts_with(step)).map_or("", |(_, lines)| lines)
}

#[test]
fn every_example_runs() {
    let scratch = tempfile::tempdir().unwrap();
    let (demo, keys) = (scratch.path().join("demo"), scratch.path().join("keys"));
    // The demo comes first: other examples open the benchbook that it makes.
    super::demo_into(&demo);
    let mut paths: Vec<Vec<String>> = Vec::new();
    for command in subcommands(&[]) {
        let below = subcommands(&[&command]);
        if below.is_empty() {
            paths.push(vec![command]);
        } else {
            paths.extend(below.into_iter().map(|name| vec![command.clone(), name]));
        }
    }
    assert!(paths.len() >= 13, "{paths:?}");
    for path in paths {
        let path: Vec<&str> = path.iter().map(String::as_str).collect();
        let examples = examples(&path);
        assert!(!examples.is_empty(), "the help of {path:?} has no example");
        for example in examples {
            // Serving does not end, the demo has run, and LOG stands for a
            // file of the user's own (the real logs have a test of their own,
            // as the database has).
            if path[0] == "serve"
                || path[0] == "demo"
                || example.contains("LOG.")
                || example.contains("postgres://")
            {
                continue;
            }
            let arguments: Vec<String> = words(&example)
                .into_iter()
                .map(|word| match word.as_str() {
                    "demo/demo.benchbook" => {
                        demo.join("demo.benchbook").to_string_lossy().into_owned()
                    }
                    name if WRITTEN.contains(&name) || name.ends_with(".svg") => {
                        scratch.path().join(name).to_string_lossy().into_owned()
                    }
                    _ => word,
                })
                .collect();
            let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
            let output = isobar_with(&arguments, passwords(&example), &keys);
            assert!(
                output.status.success(),
                "isobar {example}\n{}",
                String::from_utf8_lossy(&output.stderr)
            );
        }
    }
}

#[test]
fn commands_named_in_the_readme_exist() {
    let readme = std::fs::read_to_string(root().join("README.md")).unwrap();
    let known = subcommands(&[]);
    for line in readme.lines().filter_map(|line| line.strip_prefix("isobar ")) {
        let command = line.split_whitespace().next().unwrap();
        assert!(known.iter().any(|name| name == command), "README names `isobar {command}`");
    }
}

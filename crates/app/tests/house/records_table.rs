//! The regulation table names tests that exist, and says nothing it may not.

use super::{read, root};

/// What is wrong with a table of rows `clause | does | test | site`.
fn faults(text: &str, test_exists: &dyn Fn(&str, &str) -> bool) -> Vec<String> {
    let mut found = Vec::new();
    let mut rows = 0;
    for line in text.lines().filter(|line| line.starts_with("| ") && !line.starts_with("|--")) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        if cells.len() != 4 {
            found.push(format!("not four cells: {line}"));
            continue;
        }
        if cells[2] == "test" {
            continue;
        }
        rows += 1;
        let named: Vec<&str> = cells[2].split('`').skip(1).step_by(2).collect();
        if named.is_empty() && cells[2] != "site procedure" {
            found.push(format!("no test: {line}"));
        }
        for name in named {
            let known = name.split_once("::").is_some_and(|(file, test)| test_exists(file, test));
            if !known {
                found.push(format!("there is no test `{name}`"));
            }
        }
    }
    if rows < 40 {
        found.push(format!("only {rows} rows"));
    }
    for word in ["compliant", "complies", "validated", "tamper-proof", "cannot be altered"] {
        if text.to_lowercase().contains(word) {
            found.push(format!("it says `{word}`"));
        }
    }
    found
}

fn test_exists(file: &str, test: &str) -> bool {
    let path = root().join("crates").join(file);
    path.exists() && read(&path).contains(&format!("fn {test}("))
}

#[test]
fn every_named_test_exists() {
    let text = read(&root().join("docs/records.md"));
    assert_eq!(faults(&text, &test_exists), Vec::<String>::new());
}

/// Control: a test that is gone, a row without one and a forbidden word are
/// found.
#[test]
fn a_wrong_table_is_found() {
    let text = read(&root().join("docs/records.md"));
    assert_eq!(faults(&text, &|_, test| test != "sessions_end_by_themselves").len(), 1);
    let bare = format!("{text}\n| 99 | much | | nothing |\n");
    assert_eq!(faults(&bare, &test_exists).len(), 1);
    assert_eq!(faults(&format!("{text}\nIt complies."), &test_exists).len(), 1);
}

//! Every result of the room `statistics` gives its account: a public struct
//! returned by a public function implements `Account`, or is named here as a
//! part with the reason why it is no result by itself.

use std::collections::BTreeSet;

use super::{read, root, rust_files, without_tests};

/// Structs that are parts of a result or its inputs, each with the reason.
const PARTS: [(&str, &str); 7] = [
    ("Assumption", "a line of an account"),
    ("Counted", "a line of an account"),
    ("Note", "a line of an account"),
    ("Factors", "constants of a sample size; no data and no inference"),
    ("Place", "a size on a fitted line of signals; the line has the account"),
    ("Prediction", "a place on a fitted line; the line has the account"),
    ("Signal", "a place on a chart; the chart has the account"),
];

/// Names in a piece of a type, such as `Result<Option<Kappa>, CannotSay>`.
fn names(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !(c.is_alphanumeric() || c == '_')).filter(|word| !word.is_empty())
}

/// What follows a keyword at the start of a line, up to the end of the name.
fn named<'a>(line: &'a str, keyword: &str) -> Option<&'a str> {
    line.strip_prefix(keyword).and_then(|rest| names(rest).next())
}

/// What one source says: structs, accounts given, names of types returned.
#[derive(Default)]
struct Said {
    structs: BTreeSet<String>,
    accounts: BTreeSet<String>,
    returned: BTreeSet<String>,
}

impl Said {
    fn hear(&mut self, source: &str) {
        let text = without_tests(source);
        let mut own = String::new();
        let mut at = 0;
        for line in text.split_inclusive('\n') {
            let start = at;
            at += line.len();
            if let Some(name) = named(line, "pub struct ") {
                self.structs.insert(name.to_owned());
            }
            if let Some(name) = line.strip_prefix("impl Account for ").and_then(|r| names(r).next())
            {
                self.accounts.insert(name.to_owned());
            }
            if line.starts_with("impl") {
                let of = line.rsplit(" for ").next().unwrap_or(line);
                own = named(of, "impl ").or_else(|| names(of).next()).unwrap_or("").to_owned();
            }
            let word = line.trim_start();
            if word.starts_with("pub fn ") || word.starts_with("pub const fn ") {
                let body = &text[start..];
                let head = &body[..body.find('{').unwrap_or(body.len())];
                if let Some((_, result)) = head.rsplit_once("->") {
                    self.returned.extend(
                        names(result).map(|n| if n == "Self" { own.clone() } else { n.to_owned() }),
                    );
                }
            }
        }
    }

    /// Results without an account, and accounts of parts.
    fn faults(&self) -> Vec<String> {
        let part = |name: &str| PARTS.iter().any(|(part, _)| *part == name);
        let mut faults: Vec<String> = self
            .structs
            .intersection(&self.returned)
            .filter(|name| !self.accounts.contains(*name) && !part(name))
            .map(|name| format!("`{name}` is returned by a public function and has no account"))
            .collect();
        faults.extend(
            self.accounts
                .iter()
                .filter(|name| part(name))
                .map(|name| format!("`{name}` has an account and need not stand among the parts")),
        );
        faults
    }
}

#[test]
fn every_result_of_statistics_gives_its_account() {
    let mut said = Said::default();
    for file in rust_files(&root().join("crates/statistics/src")) {
        said.hear(&read(&file));
    }
    assert!(said.accounts.len() > 40, "only {} accounts were seen", said.accounts.len());
    for (part, reason) in PARTS {
        assert!(said.structs.contains(part), "the part `{part}` is gone");
        assert!(!reason.is_empty());
    }
    let faults = said.faults();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn a_result_without_an_account_is_noticed() {
    let source = "pub struct Slope {\n}\npub struct Input {\n}\n\
                  pub fn slope(input: &Input) -> Result<Option<Slope>, CannotSay> {\n}\n";
    let hear = |source: &str| {
        let mut said = Said::default();
        said.hear(source);
        said.faults()
    };
    assert_eq!(hear(source).len(), 1, "{:?}", hear(source));
    let through_self =
        "pub struct Slope {\n}\nimpl Slope {\n    pub fn new() -> Self {\n    }\n}\n";
    assert_eq!(hear(through_self).len(), 1);
    assert!(hear(&format!("{source}impl Account for Slope {{\n}}\n")).is_empty());
    assert_eq!(hear("pub struct Note {\n}\nimpl Account for Note {\n}\n").len(), 1);
    // What only tests return is no result.
    assert!(hear(&format!("#[cfg(test)]\nmod tests {{\n{source}}}\n")).is_empty());
}

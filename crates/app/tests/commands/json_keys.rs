//! Every key that a command prints is documented in `docs/json.md`, and every
//! documented key is printed.

use std::collections::BTreeSet;

use serde_json::Value;

use super::{json, root};

/// Words in backquotes under the heading of a command.
pub(super) fn documented(heading: &str) -> BTreeSet<String> {
    let text = std::fs::read_to_string(root().join("docs/json.md")).unwrap();
    let section = text
        .split("\n## ")
        .find(|section| section.lines().next() == Some(heading))
        .unwrap_or_else(|| panic!("docs/json.md has no section `{heading}`"));
    let body = section.split_once('\n').unwrap().1;
    body.split('`')
        .skip(1)
        .step_by(2)
        .map(|word| word.trim_end_matches("[]").to_owned())
        .filter(|word| !word.contains(' '))
        .collect()
}

/// Every key in an answer, except those inside notes.
pub(super) fn printed(value: &Value, keys: &mut BTreeSet<String>) {
    match value {
        Value::Object(object) => {
            for (key, inner) in object {
                keys.insert(key.clone());
                if key != "notes" {
                    printed(inner, keys);
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| printed(item, keys)),
        Value::Number(number) => {
            assert!(number.as_f64().is_some_and(f64::is_finite), "{number}");
        }
        _ => {}
    }
}

#[test]
fn keys_and_documentation_agree() {
    // Words that are values or conditions in the text, not keys.
    let values = [
        "yes",
        "no",
        "docs/forensics.md",
        "docs/stages.md",
        "read",
        "refused",
        "none",
        "quasi",
        "complete",
        "null",
        "remark",
        "caution",
        "refusal",
    ];
    for (heading, arguments) in [
        ("convert", vec!["convert", "1 sccm@0C", "--to", "Pa.m3/s@20C"]),
        (
            "leak",
            vec![
                "leak",
                "--certificate",
                "1e-4 mbar.L/s@20C, helium, 1atm to vacuum",
                "--wall",
                "1mm",
                "--also-for",
                "helium",
                "--headspace",
                "2mL",
                "--chamber",
                "50mL",
                "--fill-volume",
                "10mL",
            ],
        ),
        (
            "leak --membrane",
            vec![
                "leak",
                "--membrane",
                "1cm2,2mm",
                "--permeability",
                "30 Barrer",
                "--diffusion",
                "1e-9 m2/s",
                "--after",
                "1h",
            ],
        ),
        ("leak --liquid", vec!["leak", "--bore", "10um", "--wall", "1mm", "--liquid", "water"]),
        ("begin", vec!["begin"]),
        ("begin NAME", vec!["begin", "vial-10r", "--fill", "10mL", "--liquid"]),
        (
            "mall",
            vec![
                "mall",
                "examples/lyophilised_vial.toml",
                "--shelf-life",
                "730d",
                "--pressure",
                "500mbar",
            ],
        ),
        ("forecast", vec!["forecast", "examples/syringe.toml", "--draws", "16", "--trials", "200"]),
        ("design", vec!["design", "examples/lyophilised_vial.toml", "--draws", "16"]),
        ("plan", vec!["plan", "examples/syringe.toml"]),
        ("rehearse", vec!["rehearse", "examples/syringe.toml", "--rehearsals", "100"]),
        ("examine", vec!["examine", "examples/trace.csv"]),
        ("import", vec!["import", "examples/trace.csv", "examples/unit_results.csv"]),
    ] {
        let mut keys = BTreeSet::new();
        printed(&json(&arguments), &mut keys);
        let mut known = documented(heading);
        for value in values {
            known.remove(value);
        }
        let undocumented: Vec<&String> = keys.difference(&known).collect();
        assert!(undocumented.is_empty(), "{heading}: not documented: {undocumented:?}");
        let gone: Vec<&String> = known.difference(&keys).filter(|key| *key != "reason").collect();
        assert!(gone.is_empty(), "{heading}: documented but not printed: {gone:?}");
    }
}

//! Which effects share a column, said with the names of the factors.

use serde_json::{Value, json};
use statistics::experiments::aliasing::Aliases;

use super::factor::Factor;
use crate::table_text::table;

/// `AC` as the names of the factors.
pub fn named(letters: &str, factors: &[Factor]) -> String {
    let names: Vec<&str> = letters
        .chars()
        .filter(char::is_ascii_uppercase)
        .filter_map(|letter| factors.get(letter as usize - 'A' as usize))
        .map(|factor| factor.name.as_str())
        .collect();
    names.join(":")
}

/// As text.
pub fn text(aliased: &Aliases, factors: &[Factor]) -> String {
    let rows: Vec<Vec<String>> = aliased
        .table
        .iter()
        .filter(|(_, others)| !others.is_empty())
        .map(|(effect, others)| {
            let others: Vec<String> = others.iter().map(|word| named(word, factors)).collect();
            vec![named(effect, factors), others.join(", ")]
        })
        .collect();
    let mut text = format!(
        "\naliasing: I = {}, resolution {}\n",
        aliased.defining_relation.join(" = "),
        aliased.resolution
    );
    if rows.is_empty() {
        text.push_str(
            "  no two of the main effects and interactions of two factors share a column\n",
        );
    } else {
        text.push_str(&table(&["effect", "cannot be told from"], &rows));
    }
    text
}

/// As JSON.
pub fn json(aliased: &Aliases, factors: &[Factor]) -> Value {
    json!({
        "defining_relation": aliased.defining_relation,
        "resolution": aliased.resolution,
        "shared": aliased
            .table
            .iter()
            .filter(|(_, others)| !others.is_empty())
            .map(|(effect, others)| json!({
                "effect": named(effect, factors),
                "with": others.iter().map(|word| named(word, factors)).collect::<Vec<_>>(),
            }))
            .collect::<Value>(),
    })
}

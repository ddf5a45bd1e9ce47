//! Components of variance as rows, whatever analysis they come from.

use serde_json::{Value, json};

use crate::answer::number;
use crate::table_text::{digits, plain, table};

/// One component.
pub struct Component {
    /// Stable key.
    pub key: &'static str,
    /// Name for people.
    pub name: String,
    /// Variance as estimated; may be negative.
    pub variance: f64,
}

/// Sum of the components that are not negative.
fn total(components: &[Component]) -> f64 {
    digits::sums::sum(components.iter().map(|component| component.variance.max(0.0)))
}

/// Components as a table with their share.
pub fn text(components: &[Component]) -> String {
    let total = total(components);
    let rows: Vec<Vec<String>> = components
        .iter()
        .map(|component| {
            let share = component.variance.max(0.0) / total;
            vec![
                component.name.clone(),
                digits(component.variance, 5),
                if component.variance < 0.0 {
                    "negative".to_owned()
                } else {
                    digits(component.variance.sqrt(), 4)
                },
                format!("{} %", plain(share * 100.0, 3)),
            ]
        })
        .collect();
    table(&["component", "variance", "standard deviation", "of the variance"], &rows)
}

/// Components as JSON: key and variance.
pub fn json(components: &[Component]) -> Value {
    let rows = components.iter().map(|c| (c.key.to_owned(), number(c.variance)));
    json!(rows.collect::<serde_json::Map<String, Value>>())
}

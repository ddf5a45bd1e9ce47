//! The budget as a person writes it, in TOML.

use std::path::Path;

use statistics::uncertainty::{Distribution, Input};
use toml::{Table, Value};

use super::formula::{Formula, read};
use crate::fault::Fault;

/// A budget ready to be worked out.
pub struct BudgetFile {
    /// Name of the result.
    pub quantity: String,
    /// Unit of the result; empty where none is written.
    pub unit: String,
    /// The model as written.
    pub model_text: String,
    /// The model.
    pub model: Formula,
    /// Inputs.
    pub inputs: Vec<Input>,
    /// Distribution of each input.
    pub distributions: Vec<Distribution>,
    /// Word for each distribution.
    pub distribution_names: Vec<String>,
    /// Correlation coefficients, where any are given.
    pub correlation: Option<Vec<Vec<f64>>>,
    /// Coverage of the intervals.
    pub coverage: Option<f64>,
    /// Draws of the simulation.
    pub draws: Option<usize>,
}

const TOP: [&str; 7] = ["quantity", "unit", "model", "coverage", "draws", "input", "correlation"];
const INPUT: [&str; 6] =
    ["value", "uncertainty", "half_width", "degrees_of_freedom", "distribution", "source"];

fn known(table: &Table, keys: &[&str], place: &str) -> Result<(), Fault> {
    match table.keys().find(|key| !keys.contains(&key.as_str())) {
        None => Ok(()),
        Some(key) => Err(Fault::users(
            format!("{place} has a key `{key}` that a budget does not know"),
            format!("it knows: {}", keys.join(", ")),
        )),
    }
}

fn number(table: &Table, key: &str, place: &str) -> Result<Option<f64>, Fault> {
    let Some(value) = table.get(key) else { return Ok(None) };
    let found = match value {
        Value::Float(number) => Some(*number),
        Value::Integer(number) => Some(*number as f64),
        _ => None,
    };
    match found.filter(|number| number.is_finite()) {
        Some(number) => Ok(Some(number)),
        None => Err(Fault::users(
            format!("{place}: `{key}` is {value}, which is not a finite number"),
            "write it as a plain number, in the units of the model",
        )),
    }
}

fn word<'a>(table: &'a Table, key: &str) -> Result<Option<&'a str>, Fault> {
    match table.get(key) {
        None => Ok(None),
        Some(Value::String(text)) => Ok(Some(text)),
        Some(other) => Err(Fault::users(
            format!("`{key}` is {other}, which is no text"),
            "write it in double quotes",
        )),
    }
}

/// Reads a budget from its text.
pub fn parse(path: &Path, text: &str) -> Result<BudgetFile, Fault> {
    let name = path.display();
    let table: Table = text.parse().map_err(|error: toml::de::Error| {
        Fault::users(format!("`{name}` cannot be read"), "mend the line that is named")
            .with_details(error.to_string().trim().lines().map(str::to_owned).collect())
    })?;
    known(&table, &TOP, &format!("`{name}`"))?;
    let Some(Value::Table(list)) = table.get("input") else {
        return Err(Fault::users(
            format!("`{name}` has no inputs"),
            "write a section [input.NAME] with value and uncertainty for each input of the model",
        ));
    };
    let (mut inputs, mut distributions, mut distribution_names) = (vec![], vec![], vec![]);
    for (key, value) in list {
        let Value::Table(section) = value else {
            return Err(Fault::users(
                format!("`{name}`: the input `{key}` is no section"),
                format!("write [input.{key}] and below it value and uncertainty"),
            ));
        };
        let (input, distribution, kind) = input(key, section)?;
        inputs.push(input);
        distributions.push(distribution);
        distribution_names.push(kind);
    }
    let names: Vec<String> = inputs.iter().map(|input| input.name.clone()).collect();
    let Some(model_text) = word(&table, "model")? else {
        return Err(Fault::users(
            format!("`{name}` has no model"),
            format!("write model = \"...\" with the inputs {}", names.join(", ")),
        ));
    };
    Ok(BudgetFile {
        quantity: word(&table, "quantity")?.unwrap_or("result").to_owned(),
        unit: word(&table, "unit")?.unwrap_or_default().to_owned(),
        model_text: model_text.to_owned(),
        model: read(model_text, &names)?,
        correlation: correlation(&table, &names)?,
        coverage: number(&table, "coverage", "the budget")?,
        draws: number(&table, "draws", "the budget")?.map(|draws| draws.max(0.0) as usize),
        inputs,
        distributions,
        distribution_names,
    })
}

fn input(name: &str, section: &Table) -> Result<(Input, Distribution, String), Fault> {
    let place = format!("input `{name}`");
    known(section, &INPUT, &place)?;
    let missing = |what: &str| {
        Fault::users(
            format!("{place} has no {what}"),
            "give value and uncertainty (standard), or value, half_width and distribution",
        )
    };
    let value = number(section, "value", &place)?.ok_or_else(|| missing("value"))?;
    let standard = number(section, "uncertainty", &place)?;
    let half = number(section, "half_width", &place)?;
    let degrees = number(section, "degrees_of_freedom", &place)?.unwrap_or(f64::INFINITY);
    if standard.is_some_and(|u| u < 0.0) || half.is_some_and(|w| w < 0.0) {
        return Err(Fault::users(format!("{place}: an uncertainty is negative"), "drop the sign"));
    }
    // A normal input known from few values is drawn as Student's t (JCGM 101,
    // 6.4.9), unless a distribution is named.
    let default = if degrees.is_finite() { "t" } else { "normal" };
    let kind = word(section, "distribution")?.unwrap_or(default);
    let either = || match (standard, half) {
        (Some(_), Some(_)) => Err(Fault::users(
            format!("{place} has both uncertainty and half_width"),
            "keep one of them",
        )),
        (None, None) => Err(missing("uncertainty")),
        (standard, half) => Ok((standard, half)),
    };
    let (standard, half) = either()?;
    let bounded = |root: f64| {
        let half = half.or(standard.map(|u| u * root)).unwrap_or(0.0);
        (half / root, value - half, value + half)
    };
    let needs_standard = || {
        standard.ok_or_else(|| {
            Fault::users(
                format!("{place}: a {kind} distribution has no half_width"),
                "give its standard uncertainty, or distribution = \"rectangular\" or \"triangular\"",
            )
        })
    };
    let (uncertainty, distribution) = match kind {
        "normal" => {
            let u = needs_standard()?;
            (u, Distribution::Normal(value, u))
        }
        "t" => {
            let u = needs_standard()?;
            if !(degrees > 0.0 && degrees.is_finite()) {
                return Err(Fault::users(
                    format!("{place}: a t distribution needs degrees of freedom above zero"),
                    "write degrees_of_freedom = number of values less one",
                ));
            }
            (u, Distribution::StudentT(value, u, degrees))
        }
        "rectangular" => {
            let (u, low, high) = bounded(3.0_f64.sqrt());
            (u, Distribution::Rectangular(low, high))
        }
        "triangular" => {
            let (u, low, high) = bounded(6.0_f64.sqrt());
            (u, Distribution::Triangular(low, high))
        }
        other => {
            return Err(Fault::users(
                format!("{place}: the distribution `{other}` is not known"),
                "write normal, rectangular, triangular or t",
            ));
        }
    };
    let input = Input { name: name.to_owned(), value, uncertainty, degrees_of_freedom: degrees };
    Ok((input, distribution, kind.to_owned()))
}

fn correlation(table: &Table, names: &[String]) -> Result<Option<Vec<Vec<f64>>>, Fault> {
    let Some(value) = table.get("correlation") else { return Ok(None) };
    let example = "write [[correlation]] with between = [\"a\", \"b\"] and coefficient = 0.5";
    let Value::Array(list) = value else {
        return Err(Fault::users("`correlation` is no list of sections", example));
    };
    let n = names.len();
    let mut matrix: Vec<Vec<f64>> =
        (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    for entry in list {
        let Value::Table(section) = entry else {
            return Err(Fault::users("a correlation is no section", example));
        };
        known(section, &["between", "coefficient"], "a correlation")?;
        let coefficient = number(section, "coefficient", "a correlation")?
            .ok_or_else(|| Fault::users("a correlation has no coefficient", example))?;
        let pair: Vec<usize> = match section.get("between") {
            Some(Value::Array(pair)) => pair
                .iter()
                .filter_map(|name| names.iter().position(|n| Some(n.as_str()) == name.as_str()))
                .collect(),
            _ => Vec::new(),
        };
        match pair[..] {
            [a, b] if a != b => {
                matrix[a][b] = coefficient;
                matrix[b][a] = coefficient;
            }
            _ => {
                return Err(Fault::users(
                    "a correlation does not stand between two different inputs",
                    format!("{example}; the inputs are {}", names.join(", ")),
                ));
            }
        }
    }
    Ok(Some(matrix))
}

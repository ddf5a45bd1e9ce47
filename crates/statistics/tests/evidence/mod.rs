//! Reads the reference rows of `reference/*.csv` and the public data sets.

#![allow(dead_code)]

use std::collections::BTreeMap;
use std::path::PathBuf;

/// One row of a reference file.
#[derive(Debug, Clone)]
pub struct Row {
    pub quantity: String,
    pub inputs: BTreeMap<String, String>,
    pub value: f64,
    pub tolerance: String,
    pub evidence: String,
    pub source: String,
}

impl Row {
    /// A numeric input; fails the test when it is missing.
    pub fn number(&self, name: &str) -> f64 {
        self.text(name)
            .parse()
            .unwrap_or_else(|_| panic!("{name} of {} is no number", self.quantity))
    }

    pub fn text(&self, name: &str) -> &str {
        self.inputs.get(name).unwrap_or_else(|| panic!("{} lacks {name}", self.quantity))
    }

    /// Fails unless `computed` agrees with the row within its tolerance.
    pub fn check(&self, computed: f64) {
        let (size, kind) = self.tolerance.split_once(' ').expect("a tolerance and its kind");
        let size: f64 = size.parse().expect("a tolerance");
        let allowed = match kind {
            "rel" => size * self.value.abs(),
            "abs" => size,
            other => panic!("tolerance {other} of {}", self.quantity),
        };
        let error = (computed - self.value).abs();
        assert!(
            error <= allowed,
            "{} {:?}: computed {computed}, reference {} ({}), off by {error:e}, allowed {allowed:e}",
            self.quantity,
            self.inputs,
            self.value,
            self.source
        );
    }
}

/// All rows of one reference file; fails on a row without evidence.
pub fn rows(file: &str) -> Vec<Row> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../reference").join(file);
    let mut reader =
        csv::Reader::from_path(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let header: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    assert_eq!(
        header,
        ["quantity", "inputs", "value", "unit", "tolerance", "evidence", "source", "where"]
    );
    let rows: Vec<Row> = reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            assert!(
                record.iter().enumerate().all(|(i, cell)| i == 1 || !cell.is_empty()),
                "{record:?}"
            );
            Row {
                quantity: record[0].to_owned(),
                inputs: record[1]
                    .split(';')
                    .filter(|part| !part.trim().is_empty())
                    .map(|part| {
                        let (name, value) = part.split_once('=').unwrap_or((part, ""));
                        (name.trim().to_owned(), value.trim().to_owned())
                    })
                    .collect(),
                value: record[2].parse().unwrap(),
                tolerance: record[4].to_owned(),
                evidence: record[5].to_owned(),
                source: record[6].to_owned(),
            }
        })
        .collect();
    assert!(!rows.is_empty(), "{file} is empty");
    rows
}

/// A public data set, column by column as text; `None` with a printed notice
/// where the folder of public data is absent.
pub fn table(relative: &str) -> Option<BTreeMap<String, Vec<String>>> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared").join(relative);
    if !path.exists() {
        println!("skipped: {relative} is not on this machine");
        return None;
    }
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(&path).unwrap();
    let names: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let mut columns: BTreeMap<String, Vec<String>> =
        names.iter().map(|name| (name.clone(), Vec::new())).collect();
    for record in reader.records() {
        let record = record.unwrap();
        for (name, cell) in names.iter().zip(record.iter()) {
            columns.get_mut(name).unwrap().push(cell.trim().to_owned());
        }
    }
    Some(columns)
}

/// A data set of the method notes.
pub fn data(name: &str) -> Option<BTreeMap<String, Vec<String>>> {
    table(&format!("reference/statistics/data/{name}.csv"))
}

/// A column as numbers.
pub fn numbers(columns: &BTreeMap<String, Vec<String>>, name: &str) -> Vec<f64> {
    columns[name]
        .iter()
        .map(|cell| cell.parse().unwrap_or_else(|_| panic!("{name}: {cell}")))
        .collect()
}

/// Mean, standard deviation and number of some values.
pub fn summary(values: &[f64]) -> statistics::summaries::GroupSummary {
    statistics::summaries::GroupSummary {
        label: "group".into(),
        mean: digits::sums::mean(values).expect("values"),
        standard_deviation: digits::sums::standard_deviation(values).expect("values"),
        n: values.len(),
    }
}

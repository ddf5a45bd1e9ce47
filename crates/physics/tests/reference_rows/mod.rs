//! Reads the project's reference files and computes their rows anew.

mod chambers;
mod flows;
mod liquids;

use std::collections::BTreeMap;
use std::path::PathBuf;

/// One check value with its source.
#[derive(Debug, Clone)]
pub struct ReferenceRow {
    pub file: String,
    pub quantity: String,
    pub inputs: String,
    pub value: f64,
    pub unit: String,
    pub tolerance: String,
    pub evidence: String,
    pub source: String,
    pub place: String,
}

/// Inputs of a row by name.
pub struct Inputs(BTreeMap<String, String>);

impl ReferenceRow {
    pub fn inputs(&self) -> Inputs {
        Inputs(
            self.inputs
                .split(';')
                .filter_map(|pair| pair.split_once('='))
                .map(|(key, value)| (key.trim().to_owned(), value.trim().to_owned()))
                .collect(),
        )
    }

    /// Largest difference that the row allows.
    pub fn allowed(&self) -> f64 {
        let (number, kind) = self.tolerance.split_once(' ').expect("tolerance with its kind");
        let number: f64 = number.parse().expect("tolerance is a number");
        match kind {
            "rel" => number * self.value.abs(),
            "abs" => number,
            other => panic!("{}: tolerance kind {other}", self.quantity),
        }
    }
}

impl Inputs {
    pub fn text(&self, name: &str) -> &str {
        self.0.get(name).unwrap_or_else(|| panic!("input {name} is missing"))
    }

    pub fn number(&self, name: &str) -> f64 {
        self.text(name).parse().unwrap_or_else(|_| panic!("input {name} is not a number"))
    }

    pub fn number_or(&self, name: &str, otherwise: f64) -> f64 {
        if self.0.contains_key(name) { self.number(name) } else { otherwise }
    }
}

/// Every row of every reference file of the physics, in order of the files.
pub fn all_rows() -> Vec<ReferenceRow> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../reference");
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .expect("the folder reference exists")
        .filter_map(Result::ok)
        .map(|entry| entry.path())
        .filter(|path| {
            let name = path.file_name().and_then(|name| name.to_str()).unwrap_or("");
            name.starts_with("physics_") && name.ends_with(".csv")
        })
        .collect();
    files.sort();
    let mut rows = Vec::new();
    for path in files {
        let file = path.file_name().and_then(|name| name.to_str()).unwrap_or("").to_owned();
        let mut reader = csv::Reader::from_path(&path).expect("readable reference file");
        for record in reader.records() {
            let record = record.expect("a full row");
            let cell = |index: usize| record.get(index).unwrap_or("").trim().to_owned();
            rows.push(ReferenceRow {
                file: file.clone(),
                quantity: cell(0),
                inputs: cell(1),
                value: cell(2).parse().unwrap_or_else(|_| panic!("{file}: value {}", cell(2))),
                unit: cell(3),
                tolerance: cell(4),
                evidence: cell(5),
                source: cell(6),
                place: cell(7),
            });
        }
    }
    rows
}

/// Value of the row's quantity, in the row's unit; `None` for an unknown name.
pub fn compute(row: &ReferenceRow) -> Option<f64> {
    flows::flows(row).or_else(|| liquids::liquids(row)).or_else(|| chambers::chambers(row))
}

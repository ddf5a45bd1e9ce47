//! Rows of the project's evidence files.

#![allow(dead_code)] // Each test file uses what it needs.

/// One row.
pub struct Row {
    pub quantity: String,
    inputs: String,
    value: f64,
    tolerance: String,
}

/// Every row of a file of the folder `reference`.
pub fn rows(file: &str) -> Vec<Row> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../reference").join(file);
    let mut reader =
        csv::Reader::from_path(&path).unwrap_or_else(|error| panic!("{file}: {error}"));
    let rows: Vec<Row> = reader
        .records()
        .map(|record| record.unwrap_or_else(|error| panic!("{file}: {error}")))
        .map(|record| Row {
            quantity: record[0].to_owned(),
            inputs: record[1].to_owned(),
            value: record[2].parse().unwrap_or_else(|_| panic!("{file}: {record:?}")),
            tolerance: record[4].to_owned(),
        })
        .collect();
    assert!(!rows.is_empty(), "{file} has no rows");
    rows
}

impl Row {
    /// An input by its name.
    pub fn input(&self, name: &str) -> String {
        self.inputs
            .split("; ")
            .find_map(|part| part.strip_prefix(name)?.strip_prefix('='))
            .unwrap_or_else(|| panic!("no input {name} in {}", self.inputs))
            .to_owned()
    }

    pub fn number(&self, name: &str) -> f64 {
        self.input(name).parse().unwrap_or_else(|_| panic!("{name} is no number"))
    }

    pub fn count(&self, name: &str) -> usize {
        self.input(name).parse().unwrap_or_else(|_| panic!("{name} is no count"))
    }

    /// True where a value is within the tolerance of the row.
    pub fn agrees(&self, found: f64) -> bool {
        let (size, kind) = self
            .tolerance
            .split_once(' ')
            .unwrap_or_else(|| panic!("tolerance {}", self.tolerance));
        let size: f64 = size.parse().unwrap_or_else(|_| panic!("tolerance {size}"));
        let limit = match kind {
            "rel" => size * self.value.abs(),
            "abs" => size,
            other => panic!("tolerance {other}"),
        };
        (found - self.value).abs() <= limit
    }
}

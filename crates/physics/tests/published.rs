//! Every row of `reference/physics_*.csv` computed anew and compared.

mod reference_rows;

use reference_rows::{all_rows, compute};

#[test]
fn every_reference_value_is_met() {
    let rows = all_rows();
    assert!(rows.len() > 100, "the reference files are there");
    let mut failures = Vec::new();
    for row in &rows {
        let name = format!("{}: {} [{}]", row.file, row.quantity, row.inputs);
        match compute(row) {
            None => failures.push(format!("{name}: nothing computes it")),
            Some(value) => {
                let difference = (value - row.value).abs();
                // Written so that a value that is not a number fails.
                let met = difference <= row.allowed();
                if !met {
                    failures.push(format!(
                        "{name}: {value:e} against {:e}, allowed {}",
                        row.value, row.tolerance
                    ));
                }
            }
        }
    }
    assert!(failures.is_empty(), "{} of {}:\n{}", failures.len(), rows.len(), failures.join("\n"));
}

#[test]
fn every_row_says_where_it_comes_from() {
    const EVIDENCE: [&str; 5] =
        ["published", "independent program", "hand calculation", "common practice", "from memory"];
    for row in all_rows() {
        assert!(EVIDENCE.contains(&row.evidence.as_str()), "{}: {}", row.file, row.evidence);
        assert!(!row.unit.is_empty() && !row.source.is_empty() && !row.place.is_empty());
        assert!(row.allowed() > 0.0, "{}: {}", row.quantity, row.tolerance);
    }
}

#[test]
fn a_wrong_value_would_be_caught() {
    let mut row = all_rows().into_iter().find(|row| row.quantity == "orifice_flow").expect("row");
    row.value *= 1.01;
    let value = compute(&row).expect("computed");
    assert!((value - row.value).abs() > row.allowed());
}

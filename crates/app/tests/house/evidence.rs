//! Every published number has its birth certificate.

use super::root;

const COLUMNS: [&str; 8] =
    ["quantity", "inputs", "value", "unit", "tolerance", "evidence", "source", "where"];
const GRADES: [&str; 5] =
    ["published", "independent program", "hand calculation", "common practice", "from memory"];

/// What is wrong with one evidence file.
fn faults(name: &str, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let header: Vec<String> =
        reader.headers().map(|row| row.iter().map(str::to_owned).collect()).unwrap_or_default();
    if header != COLUMNS {
        return vec![format!("{name}: columns are {header:?}")];
    }
    let mut rows = 0;
    for record in reader.records() {
        let Ok(record) = record else {
            found.push(format!("{name}: a row cannot be read: {record:?}"));
            continue;
        };
        rows += 1;
        let line = record.position().map_or(0, csv::Position::line);
        for (index, column) in
            [(0, "quantity"), (2, "value"), (3, "unit"), (4, "tolerance"), (6, "source")]
        {
            if record[index].trim().is_empty() {
                found.push(format!("{name}, line {line}: no {column}"));
            }
        }
        if !GRADES.contains(&&record[5]) {
            found.push(format!("{name}, line {line}: `{}` is not a grade of evidence", &record[5]));
        }
    }
    if rows == 0 {
        found.push(format!("{name}: no rows"));
    }
    found
}

#[test]
fn every_reference_row_is_complete() {
    let folder = root().join("reference");
    let mut files = 0;
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        if path.extension().is_some_and(|extension| extension == "csv") {
            files += 1;
            found.extend(faults(&path.display().to_string(), &super::read(&path)));
        }
    }
    assert!(files >= 5, "only {files} reference files");
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn a_row_without_a_source_is_noticed() {
    let head = COLUMNS.join(",");
    let good = format!("{head}\nk,n=30,3.06,1,1e-3 abs,published,ISO 16269-6,table\n");
    assert!(faults("x", &good).is_empty());
    let no_source = format!("{head}\nk,n=30,3.06,1,1e-3 abs,published,,\n");
    assert_eq!(faults("x", &no_source).len(), 1);
    let own = format!("{head}\nk,n=30,3.06,1,1e-3 abs,our earlier output,us,\n");
    assert_eq!(faults("x", &own).len(), 1);
}

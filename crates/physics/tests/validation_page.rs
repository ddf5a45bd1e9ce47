//! The page `docs/validation.md` says what the reference files and the code say
//! today.
//!
//! To write it anew: `ISOBAR_WRITE_VALIDATION=1 cargo test -p physics --release
//! --test validation_page`.

mod reference_rows;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::PathBuf;

use reference_rows::{ReferenceRow, all_rows, compute};

fn number(value: f64) -> String {
    let size = value.abs();
    if value == 0.0 {
        "0".to_owned()
    } else if (1e-3..1e5).contains(&size) {
        let text = format!("{value:.6}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        format!("{value:.5e}")
    }
}

fn title(file: &str) -> String {
    let name = file.trim_start_matches("physics_").trim_end_matches(".csv").replace('_', " ");
    let mut letters = name.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn line(row: &ReferenceRow) -> String {
    let computed = compute(row).unwrap_or(f64::NAN);
    let deviation = (computed - row.value).abs();
    let result = if deviation <= row.allowed() { "met" } else { "MISSED" };
    let shown = if row.tolerance.ends_with("rel") {
        // Two digits say enough, and the last digits of a deviation that is
        // mostly rounding of the reference say nothing.
        format!("{:.1e} rel", deviation / row.value.abs())
    } else {
        format!("{deviation:.1e} abs")
    };
    format!(
        "| {} | {} | {} {} | {} | {shown} | {} | {} | {}, {} | {result} |\n",
        row.quantity.replace('_', " "),
        row.inputs,
        number(row.value),
        row.unit,
        number(computed),
        row.tolerance,
        row.evidence,
        row.source.replace('|', "/"),
        row.place,
    )
}

fn page() -> String {
    let rows = all_rows();
    let mut grades: BTreeMap<&str, usize> = BTreeMap::new();
    for row in &rows {
        *grades.entry(row.evidence.as_str()).or_default() += 1;
    }
    let mut out = String::from(
        "# Validation of the physics\n\n\
         Every value below comes from outside the code: a publication, an independent program, a\n\
         calculation by hand, common practice, or memory (and then it says so). A test computes each\n\
         anew, compares it within its tolerance, and fails where this page is not up to date.\n\
         \"Where\" is the section of the project's reference note, or the place in the source.\n\n",
    );
    let _ = writeln!(out, "{} checks:", rows.len());
    for (grade, count) in grades {
        let _ = writeln!(out, "- {grade}: {count}");
    }
    out.push_str(
        "\nNot in this table: identities over all leak paths, conservation of gas, digits of lanes and\n\
         single runs, and the solver against four independent solutions of a test problem (chamber\n\
         pressure within 2e-8). Those are the other tests of the crate `physics`.\n",
    );
    let mut file = "";
    for row in &rows {
        if row.file != file {
            file = &row.file;
            let _ = write!(
                out,
                "\n## {}\n\nFrom `reference/{file}`.\n\n\
                 | quantity | inputs | reference | computed | deviation | tolerance | evidence | \
                 source, where | result |\n|---|---|---|---|---|---|---|---|---|\n",
                title(file)
            );
        }
        out.push_str(&line(row));
    }
    out
}

#[test]
fn the_page_is_current() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../docs/validation.md");
    let page = page();
    assert!(!page.contains("MISSED") && !page.contains("NaN"));
    if std::env::var_os("ISOBAR_WRITE_VALIDATION").is_some() {
        std::fs::write(&path, &page).expect("the page can be written");
        return;
    }
    let stored = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        stored == page,
        "docs/validation.md is not current; write it anew as the head of this test says"
    );
}

//! Typeset documents: literal text, whole tables, attachments, same bytes.

use std::io::Write as _;
use std::process::{Command, Stdio};

use super::*;
use crate::sample::{MARKUP, document};
use crate::visible::printable;

/// Output of an outside program fed with the PDF, or a printed notice.
fn outside(program: &str, arguments: &[&str], pdf: &[u8]) -> Option<String> {
    let spawned = Command::new(program)
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn();
    let Ok(mut child) = spawned else {
        println!("skipped: {program} is not installed here");
        return None;
    };
    let mut stdin = child.stdin.take()?;
    let bytes = pdf.to_vec();
    let feeder = std::thread::spawn(move || stdin.write_all(&bytes));
    let output = child.wait_with_output().ok()?;
    let _ = feeder.join();
    assert!(output.status.success(), "{program}: {}", String::from_utf8_lossy(&output.stderr));
    Some(String::from_utf8_lossy(&output.stdout).into_owned())
}

/// The words of a PDF as an outside program reads them, or a printed notice.
pub(crate) fn text_layer(pdf: &[u8]) -> Option<String> {
    outside("pdftotext", &["-layout", "-", "-"], pdf)
}

/// Output of an outside program that wants a file, or a printed notice.
fn outside_file(program: &str, before: &[&str], name: &str, pdf: &[u8]) -> Option<String> {
    let path = std::env::temp_dir().join(format!("report-test-{}-{name}", std::process::id()));
    std::fs::write(&path, pdf).expect("temporary folder");
    let output = Command::new(program).args(before).arg(&path).output();
    let _ = std::fs::remove_file(&path);
    let Ok(output) = output else {
        println!("skipped: {program} is not installed here");
        return None;
    };
    let text = format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(output.status.success(), "{program}: {text}");
    Some(text)
}

/// Letters and digits alone: line breaks and ligatures of a text layer drop
/// out of the comparison.
fn letters(text: &str) -> String {
    text.chars().filter(|character| character.is_alphanumeric()).collect()
}

#[test]
fn a_table_of_400_rows_keeps_400_rows() {
    let pdf = typeset(&document(400), Paper::A4).expect("set");
    let Some(text) = outside("pdftotext", &["-layout", "-", "-"], &pdf) else { return };
    for row in 1..=400 {
        assert!(text.contains(&format!("UNIT{row:04}X")), "row {row} is missing");
    }
}

#[test]
fn rows_become_pages_without_an_outside_program() {
    let pages = |rows| count_pages(&typeset(&document(rows), Paper::A4).expect("set"));
    let (short, long) = (pages(1), pages(400));
    // At most 60 rows fit on a page of 250 mm at 4 mm a row.
    assert!(long >= short + 400 / 60, "{short} and {long} pages");
}

/// Pages by their objects; object streams are not compressed away because the
/// page objects are found in the page tree's count.
pub(crate) fn count_pages(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    let counts = text.match_indices("/Count ").filter_map(|(at, key)| {
        let digits: String =
            text[at + key.len()..].chars().take_while(char::is_ascii_digit).collect();
        digits.parse::<usize>().ok()
    });
    counts.max().expect("a page tree")
}

#[test]
fn markup_is_printed_as_it_was_typed() {
    let pdf = typeset(&document(1), Paper::A4).expect("set");
    let Some(text) = outside("pdftotext", &["-raw", "-", "-"], &pdf) else { return };
    assert!(!text.contains("root:"), "a file of the machine was read");
    let text = letters(&text);
    for typed in MARKUP.iter().filter(|typed| typed.is_ascii()) {
        let wanted = letters(&printable(typed));
        assert!(text.contains(&wanted), "{typed} -> {wanted}");
    }
    assert!(text.contains("U202E") && text.contains("U200B") && text.contains("U0007"));
}

#[test]
fn codes_for_signs_that_cannot_be_set_are_explained_where_they_stand() {
    let mut plain = document(1);
    plain.sections.retain(|section| section.id != "texts");
    let mut foreign = plain.clone();
    foreign.sections[1] = foreign.sections[1].clone().paragraph("lot \u{4e2d}");
    let words = |document| {
        let pdf = typeset(document, Paper::A4).expect("set");
        outside("pdftotext", &["-raw", "-", "-"], &pdf).map(|text| letters(&text))
    };
    let explained = letters("stands for a sign that is hidden");
    let (Some(plain), Some(foreign)) = (words(&plain), words(&foreign)) else { return };
    assert!(foreign.contains("U4E2D") && foreign.contains(&explained));
    assert!(!plain.contains(&explained));
}

#[test]
fn the_same_document_gives_the_same_bytes() {
    let first = typeset(&document(30), Paper::A4).expect("set");
    let second = typeset(&document(30), Paper::A4).expect("set");
    assert!(first == second);
    let letter = typeset(&document(30), Paper::Letter).expect("set");
    assert!(first != letter);
}

#[test]
fn the_file_is_sound_archival_and_tagged_with_its_data_inside() {
    let pdf = typeset(&document(30), Paper::A4).expect("set");
    let text = String::from_utf8_lossy(&pdf);
    assert!(text.contains("pdfaid:part>3<") && text.contains("pdfaid:conformance>A<"));
    assert!(text.contains("pdfuaid:part>1<"));
    outside_file("qpdf", &["--check"], "check.pdf", &pdf);
    if let Some(list) = outside_file("qpdf", &["--list-attachments"], "list.pdf", &pdf) {
        assert!(list.contains("case.json"), "{list}");
    }
    if let Some(content) = outside_file("qpdf", &["--show-attachment=case.json"], "show.pdf", &pdf)
    {
        assert!(content.contains("{\"invented\": true}"), "{content}");
    }
    if let Some(facts) = outside("pdfinfo", &["-"], &pdf) {
        assert!(facts.contains("Tagged:") && facts.contains("yes"), "{facts}");
        assert!(facts.contains("A4"), "{facts}");
    }
}

#[test]
fn every_font_is_embedded() {
    let pdf = typeset(&document(3), Paper::A4).expect("set");
    let Some(list) = outside("pdffonts", &["-"], &pdf) else { return };
    for line in list.lines().skip(2) {
        assert!(line.contains("yes yes"), "{line}");
    }
}

#[test]
fn a_date_that_does_not_exist_is_refused() {
    let mut wrong = document(1);
    wrong.moment.day = 31;
    assert!(matches!(typeset(&wrong, Paper::A4), Err(TypesetError::Date { .. })));
}

#[test]
fn a_row_with_too_many_cells_is_refused() {
    let mut wrong = document(1);
    for section in &mut wrong.sections {
        for block in &mut section.blocks {
            if let crate::document::Block::Table(table) = block {
                table.push(["x"; 20]);
            }
        }
    }
    assert!(matches!(typeset(&wrong, Paper::A4), Err(TypesetError::Cells { cells: 20, .. })));
}

#[test]
fn two_parts_of_one_name_are_refused() {
    let mut wrong = document(1);
    wrong.sections[1].id = "figures".to_string();
    assert!(matches!(typeset(&wrong, Paper::A4), Err(TypesetError::Name { .. })));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(12))]
    #[test]
    fn any_text_can_be_set(text in "(\\PC|\\p{C}){0,60}", label in "\\PC{0,20}") {
        let mut any = document(1);
        any.title = text.clone();
        any.case_label = label.clone();
        any.sections[1].heading = text.clone();
        any.cautions.push(text);
        any.sections[1].blocks.push(crate::document::Block::Subheading(label));
        typeset(&any, Paper::Letter).expect("any text");
    }
}

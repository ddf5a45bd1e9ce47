//! Signatures and the state of the history, or plainly that there are none.

use super::Edition;
use crate::document::{
    Block, Column, DataTable, KeyValue, NoteBlock, NoteWeight, Section, SignatureLine, Style, Words,
};

/// Lines to sign on, for a document with its own meanings.
pub(super) fn lines(of: [(&str, &str); 3]) -> Block {
    Block::Signatures(
        of.into_iter()
            .map(|(role, meaning)| SignatureLine {
                role: role.to_string(),
                meaning: meaning.to_string(),
            })
            .collect(),
    )
}

/// Whether the case is signed, by whom, and where the history stood.
pub(super) fn section(edition: &Edition) -> Section {
    let records = &edition.records;
    let mut section = Section::new("signing", "Signatures in the benchbook");
    let state = match &edition.checkpoint {
        Some(checkpoint) => {
            Words::from(format!("{} entries, root ", crate::number::count(checkpoint.entries)))
                .and(checkpoint.digest.clone(), Style::Literal)
        }
        None => Words::from("not made from a benchbook"),
    };
    let mut rows = vec![KeyValue::new("History at this printing", state)];
    // Counted with the verification, which is made where something was signed.
    if !records.signatures.is_empty() {
        let kept = match records.signed_checkpoints {
            0 => "none".to_string(),
            n => n.to_string(),
        };
        rows.push(KeyValue::new("Signed checkpoints kept", kept));
    }
    section = section.with(Block::KeyValues(rows));
    if let Some(first) = records.findings.first() {
        return section.paragraph(Words::default().strong("Not signed.")).with(Block::Notes(vec![
            NoteBlock {
                weight: NoteWeight::Refusal,
                text: format!(
                    "The benchbook is not as it was written: {first}. No signature is printed."
                ),
                next_step: "Run “isobar verify” on it, and go back to a copy that is intact."
                    .to_string(),
            },
        ]));
    }
    if records.signatures.is_empty() {
        return section.paragraph(
            Words::default()
                .strong("Not signed. ")
                .plain("No signature on this case stands in the benchbook."),
        );
    }
    if records.standing() == 0 {
        section = section.paragraph(
            Words::default()
                .strong("Not signed in this state. ")
                .plain("The case was changed after the signatures below were given."),
        );
    }
    let mut table = DataTable::new(
        "given-signatures",
        "Electronic signatures on this case",
        vec![
            Column::short("Meaning"),
            Column::words("Name", 1.0),
            Column::short("At (UTC)"),
            Column::short("Stands"),
            Column::short("Report signed (SHA-256)"),
        ],
    )
    .with_footnote(
        "A signature is over the state of the case and names the report file that its signer had \
         before them, which is not this printing.",
    );
    for signature in &records.signatures {
        table.rows.push(vec![
            signature.meaning.clone().into(),
            signature.name.clone().into(),
            signature.at.clone().into(),
            if signature.stands { "yes" } else { "no, changed since" }.into(),
            Words::default()
                .and(signature.report_sha256.chars().take(16).collect::<String>(), Style::Literal),
        ]);
    }
    section.with(Block::Table(table))
}

//! The claim as the study compiled it, with what it leaves out.

use study::Case;

use super::note;
use super::wording::sentence;
use crate::document::{Block, Section, Words};

pub(super) fn section(case: &Case) -> Section {
    let claim = case.claim();
    let mut section = Section::new("claim", "Claim");
    section = match &claim.sentence {
        Some(text) => section.with(Block::Paragraph(Words::default().strong(text.clone()))),
        None => section.paragraph("Nothing is claimed."),
    };
    if !claim.not_covered.is_empty() {
        section =
            section.paragraph(sentence(&format!("not covered: {}", claim.not_covered.join("; "))));
    }
    if claim.refusals.is_empty() {
        section
    } else {
        section.with(Block::Notes(claim.refusals.iter().map(note).collect()))
    }
}

//! The claim as the study compiled it, with what it leaves out.

use study::Case;
use study::claim::{ClaimPart, RestsOn};

use super::note;
use super::wording::sentence;
use crate::document::{Block, Section, Words};

/// The sentence, each number leading to the place that `target` names for what
/// it rests on.
pub(super) fn linked(parts: &[ClaimPart], target: fn(RestsOn) -> &'static str) -> Words {
    parts.iter().fold(Words::default(), |words, part| match part.rests_on {
        None => words.strong(part.text.clone()),
        Some(rests_on) => words.leading_to(part.text.clone(), target(rests_on)),
    })
}

/// Where the report shows what a number of the claim rests on.
const fn place_in_report(rests_on: RestsOn) -> &'static str {
    match rests_on {
        RestsOn::Method => "method",
        RestsOn::Readings => crate::signal_figure::NAME,
        RestsOn::HitsAndMisses => "detection-by-size",
        RestsOn::NegativeControls => "negative-controls-by-day",
        RestsOn::Rig => "profile",
    }
}

pub(super) fn section(case: &Case) -> Section {
    let claim = case.claim();
    let mut section = Section::new("claim", "Claim");
    section = if claim.parts.is_empty() {
        section.paragraph("Nothing is claimed.")
    } else {
        section.with(Block::Paragraph(linked(&claim.parts, place_in_report)))
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

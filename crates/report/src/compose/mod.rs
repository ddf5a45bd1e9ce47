//! From a case to a document: what was decided in `study`, put in order.
//!
//! Every number printed here comes from the case; nothing is judged here.

mod answer;
mod claim;
mod data;
mod detection_figure;
mod forecast;
mod forecast_figures;
mod method;
mod profile;
mod results;
mod runs;
mod runs_figure;
mod wording;

use sha2::{Digest, Sha256};
use study::Case;

use crate::document::{
    Attachment, Block, Checkpoint, Document, DocumentKind, Moment, NoteBlock, NoteWeight, Section,
    SignatureLine, Source,
};
use crate::figure::FigureError;

pub use wording::{CAUTIONS, FORBIDDEN_WORDS};

/// What the caller knows and the case does not: version, moment, program.
#[derive(Debug, Clone, PartialEq)]
pub struct Edition {
    /// Version of the document.
    pub version: String,
    /// When it is made; the paper has no clock.
    pub moment: Moment,
    /// Program and version that make it.
    pub software: String,
    /// State of the benchbook's history, where there is one.
    pub checkpoint: Option<Checkpoint>,
}

/// The feasibility report of a case without results, the study report of a
/// case with them. The data behind it travel inside as JSON, and the digest
/// is of those bytes.
///
/// # Errors
/// [`FigureError`] where the numbers of a figure cannot be drawn.
pub fn compose(case: &Case, edition: &Edition) -> Result<Document, FigureError> {
    let input = &case.input;
    let kind = if case.results.is_some() { DocumentKind::Study } else { DocumentKind::Feasibility };
    let bytes = data::bytes(case);
    let digest = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let mut sections = vec![answer::section(case), profile::section(case)];
    sections.extend(forecast::section(case)?);
    sections.extend(method::section(case));
    sections.extend(runs::section(case)?);
    sections.extend(results::section(case)?);
    sections.push(claim::section(case));
    sections.extend(notes(case));
    sections.push(signatures());
    let name = match kind {
        DocumentKind::Feasibility => "feasibility-report",
        DocumentKind::Study => "study-report",
    };
    Ok(Document {
        kind,
        title: input.title.clone(),
        identification: format!("{}/{name}", input.id),
        version: edition.version.clone(),
        case_label: input.id.clone(),
        invented: input.invented,
        date_text: edition.moment.text(),
        moment: edition.moment,
        sections,
        cautions: CAUTIONS.iter().map(|text| (*text).to_string()).collect(),
        sources: sources(case),
        checkpoint: edition.checkpoint.clone(),
        digest,
        software: edition.software.clone(),
        attachments: vec![Attachment {
            name: format!("{}.json", input.id),
            mime_type: "application/json".to_string(),
            description: "the numbers behind this document".to_string(),
            bytes,
        }],
    })
}

fn notes(case: &Case) -> Option<Section> {
    let notes: Vec<NoteBlock> = case.notes().iter().map(note).collect();
    (!notes.is_empty()).then(|| Section::new("notes", "Notes").with(Block::Notes(notes)))
}

fn note(note: &study::Note) -> NoteBlock {
    NoteBlock {
        weight: match note.weight {
            study::Weight::Remark => NoteWeight::Remark,
            study::Weight::Caution => NoteWeight::Caution,
            study::Weight::Refusal => NoteWeight::Refusal,
        },
        text: wording::sentence(&note.text),
        next_step: wording::sentence(&note.next_step),
    }
}

fn signatures() -> Section {
    let line = |role: &str, meaning: &str| SignatureLine {
        role: role.to_string(),
        meaning: meaning.to_string(),
    };
    Section::new("signatures", "Signatures").with(Block::Signatures(vec![
        line("Author", "wrote this report from the runs it names"),
        line("Reviewer", "checked the runs, the numbers and the reasons"),
        line("Quality unit", "agrees to its use for the stated purpose"),
    ]))
}

/// Sources of the methods that the case has used.
fn sources(case: &Case) -> Vec<Source> {
    let mut texts = Vec::new();
    if case.forecast.is_some() {
        texts.push(
            "Leak flow: choked and subsonic flow through a thin hole, blended into molecular \
             flow; checked in the project's reference tables against particle simulations and \
             integral equations.",
        );
    }
    if case.results.as_ref().is_some_and(|results| results.reject_limit.is_some()) {
        texts.push(
            "Reject limit: one-sided tolerance limit of a normal population from the noncentral t \
             distribution (ISO 16269-6 treats the same limit; the edition was not opened for this \
             report).",
        );
    }
    if case.results.as_ref().is_some_and(|results| results.detection.is_some()) {
        texts.push(
            "Detection: logistic curve on the logarithm of size, with bounds; exact binomial \
             bounds by size after Clopper and Pearson, Biometrika 26 (1934) 404.",
        );
    }
    texts
        .into_iter()
        .enumerate()
        .map(|(index, text)| Source { mark: format!("[{}]", index + 1), text: text.to_string() })
        .collect()
}

#[cfg(test)]
mod tests;

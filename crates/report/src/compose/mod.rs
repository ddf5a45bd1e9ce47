//! From a case to a document: what was decided in `study`, put in order.
//!
//! Every number printed here comes from the case; nothing is judged here.

mod account;
mod answer;
mod blank_chart;
mod claim;
mod claim_evidence;
mod claim_page;
mod control_register;
mod criteria_outcome;
mod data;
mod detection_figure;
mod document_name;
mod fixture;
mod flow_figure;
mod flow_record;
mod forecast;
mod forecast_figures;
mod limit_rationale;
mod mall_memo;
mod method;
mod method_record;
mod profile;
mod profile_record;
mod protocol;
mod records;
mod residual_figures;
mod results;
mod runs;
mod runs_figure;
mod signing;
mod standards_table;
mod trace_figures;
mod wording;

use sha2::{Digest, Sha256};
use study::Case;

use crate::document::{
    Attachment, Block, Checkpoint, Document, DocumentKind, Moment, NoteBlock, NoteWeight, Section,
    Source,
};
use crate::figure::FigureError;

pub use document_name::DocumentName;
pub use records::{GivenSignature, KeptFile, Records, RegisteredItem};
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
    /// What the benchbook keeps beside the case.
    pub records: Records,
}

/// The feasibility report of a case without results, the study report of a
/// case with them. The data behind it travel inside as JSON, and the digest
/// is of those bytes.
///
/// # Errors
/// [`FigureError`] where the numbers of a figure cannot be drawn.
pub fn compose(case: &Case, edition: &Edition) -> Result<Document, FigureError> {
    compose_document(case, DocumentName::Study, edition)
}

/// A document of a case. Where the case lacks what the document needs, the
/// document says so.
///
/// # Errors
/// [`FigureError`] where the numbers of a figure cannot be drawn.
pub fn compose_document(
    case: &Case,
    name: DocumentName,
    edition: &Edition,
) -> Result<Document, FigureError> {
    // A protocol must not depend on what came after it.
    let before;
    let done = case.runs.len();
    let case = if name == DocumentName::Protocol {
        before = protocol::before_the_first_run(case);
        &before
    } else {
        case
    };
    let input = &case.input;
    let kind = name.kind(case.results.is_some());
    let bytes = match name {
        DocumentName::Protocol => data::protocol_bytes(case),
        _ => data::bytes(case),
    };
    let digest = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let sections = match name {
        DocumentName::Study => study_sections(case, edition)?,
        DocumentName::Claim => claim_page::sections(case, edition),
        DocumentName::Protocol => protocol::sections(case, done),
        DocumentName::Limit => limit_rationale::sections(case)?,
        DocumentName::Profile => profile_record::sections(case),
        DocumentName::Method => method_record::sections(case)?,
        DocumentName::Fixture => fixture::sections(case, edition),
        DocumentName::Mall => mall_memo::sections(case),
        DocumentName::Flow => flow_record::sections(case, edition)?,
        DocumentName::Register => control_register::sections(case, edition),
    };
    let suffix = match kind {
        DocumentKind::Feasibility => "feasibility-report",
        DocumentKind::Study => "study-report",
        _ => name.word(),
    };
    Ok(Document {
        kind,
        title: input.title.clone(),
        identification: format!("{}/{suffix}", input.id),
        version: edition.version.clone(),
        case_label: input.id.clone(),
        invented: input.invented,
        date_text: edition.moment.text(),
        moment: edition.moment,
        sections,
        cautions: CAUTIONS.iter().map(|text| (*text).to_string()).collect(),
        sources: sources(case, name),
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

fn study_sections(case: &Case, edition: &Edition) -> Result<Vec<Section>, FigureError> {
    let mut sections = vec![answer::section(case), profile::section(case)];
    sections.extend(forecast::section(case)?);
    sections.extend(method::section(case));
    sections.extend(account::section(case));
    sections.extend(runs::section(case)?);
    sections.extend(results::section(case)?);
    sections.extend(criteria_outcome::section(case));
    sections.push(claim::section(case));
    sections.extend(notes(case));
    sections.push(signing::section(edition));
    sections.push(signatures());
    let kept = edition.records.kept(edition.checkpoint.as_ref());
    sections.extend(standards_table::sections(case, &kept));
    sections.extend(trace_figures::section(case)?);
    Ok(sections)
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
    Section::new("signatures", "Signatures").with(signing::lines([
        ("Author", "wrote this report from the runs it names"),
        ("Reviewer", "checked the runs, the numbers and the reasons"),
        ("Quality unit", "agrees to its use for the stated purpose"),
    ]))
}

/// Sources of the methods that the document leans on.
fn sources(case: &Case, name: DocumentName) -> Vec<Source> {
    use DocumentName::{Claim, Limit, Protocol, Study};
    let mut texts = Vec::new();
    if case.forecast.is_some() && name != Limit {
        texts.push(
            "Leak flow: choked and subsonic flow through a thin hole, blended into molecular \
             flow; checked in the project's reference tables against particle simulations and \
             integral equations.",
        );
    }
    let results = case.results.as_ref();
    let planned = name == Protocol && case.plan.is_some();
    if planned
        || results.is_some_and(|results| results.reject_limit.is_some())
            && matches!(name, Study | Claim | Limit)
    {
        texts.push(
            "Reject limit: one-sided tolerance limit of a normal population from the noncentral t \
             distribution (ISO 16269-6 treats the same limit; the edition was not opened for this \
             report).",
        );
    }
    if planned
        || results.is_some_and(|results| results.detection.is_some())
            && matches!(name, Study | Claim)
    {
        texts.push(
            "Detection: logistic curve on the logarithm of size, with bounds; exact binomial \
             bounds by size after Clopper and Pearson, Biometrika 26 (1934) 404.",
        );
    }
    if results.is_some_and(|results| results.flow_calibration.is_some())
        && matches!(name, Study | DocumentName::Flow)
    {
        texts.push(
            "Flow calibration: ISO 11843-2 for the critical value and the detection limit of a \
             straight line; Fieller, J. R. Stat. Soc. B 16 (1954) 175 (from memory) for the flow \
             behind a reading.",
        );
    }
    if name == Limit {
        texts.push(
            "Mean + 3 s: expected share above it from Student's t distribution at 3/√(1 + 1/n) (hand \
             calculation); its bound from the noncentral t distribution.",
        );
    }
    if matches!(
        name,
        DocumentName::Profile | DocumentName::Method | DocumentName::Fixture | DocumentName::Mall
    ) {
        texts.push("Values of the case: each with the origin printed beside it.");
    }
    texts
        .into_iter()
        .enumerate()
        .map(|(index, text)| Source { mark: format!("[{}]", index + 1), text: text.to_string() })
        .collect()
}

#[cfg(test)]
mod document_tests;
#[cfg(test)]
mod tests;

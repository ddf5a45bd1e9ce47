//! Every document of issue 9, from the worked cases: structure, missing
//! evidence, words, numbers, bytes, pages.

use super::tests::{all_words, edition, forecast_only, whole};
use super::*;
use crate::document::Block;
use crate::{Paper, typeset};

fn letters(text: &str) -> String {
    text.chars().filter(|character| character.is_alphanumeric()).collect()
}

/// Headings and blocks of a document, without their words.
fn structure(document: &Document) -> Vec<String> {
    let mut lines = vec![document.kind.word().to_string()];
    for section in &document.sections {
        lines.push(format!("# {}", section.heading));
        lines.extend(section.blocks.iter().map(|block| match block {
            Block::Paragraph(_) => "text".to_string(),
            Block::Subheading(_) => "subheading".to_string(),
            Block::KeyValues(pairs) => format!("{} values", pairs.len()),
            Block::Table(table) => format!("table {}", table.id),
            Block::Figure(figure) => format!("figure {}", figure.id),
            Block::Notes(_) => "notes".to_string(),
            Block::Verdict(verdict) => format!("verdict {}", verdict.word),
            Block::Signatures(lines) => format!("{} lines to sign", lines.len()),
        }));
    }
    lines
}

#[test]
fn structures_of_the_documents_of_a_worked_case() {
    let case = whole(study::worked_cases::lyophilised_vial());
    let mut all = String::new();
    for name in DocumentName::ALL {
        let document = compose_document(&case, name, &edition()).expect("composed");
        all.push_str(&format!("== {}\n{}\n", name.word(), structure(&document).join("\n")));
    }
    let kept = include_str!("structures.txt");
    assert_eq!(all, kept, "the structure changed; look at the pages, then keep:\n{all}");
}

#[test]
fn every_document_is_typeset_and_claims_no_more_than_it_may() {
    for input in study::worked_cases::walked() {
        for case in [whole(input.clone()), forecast_only(input.clone()), Case::begin(input.clone())]
        {
            for name in DocumentName::ALL {
                let document = compose_document(&case, name, &edition()).expect("composed");
                let words = all_words(&document).to_lowercase();
                for word in FORBIDDEN_WORDS {
                    assert!(!words.contains(word), "{} {}: '{word}'", case.input.id, name.word());
                }
                assert!(!words.contains(" nan"), "{} {}", case.input.id, name.word());
                assert!(words.contains("judgement of qualified"));
                let claims = words.contains("detects gas-side leaks");
                assert!(!claims || case.results.is_some(), "{}", name.word());
            }
        }
    }
}

#[test]
fn documents_are_set_on_both_papers_and_the_claim_fits_on_one_page() {
    for input in study::worked_cases::walked() {
        let case = whole(input);
        for name in DocumentName::ALL {
            let document = compose_document(&case, name, &edition()).expect("composed");
            for paper in [Paper::A4, Paper::Letter] {
                let pdf = typeset(&document, paper).expect("set");
                if name == DocumentName::Claim {
                    assert_eq!(crate::typeset::count_pages(&pdf), 1, "{} {paper:?}", case.input.id);
                    assert!(pdf == typeset(&document, paper).expect("set"));
                }
            }
        }
    }
}

#[test]
fn a_protocol_is_the_same_before_and_after_the_runs_and_keeps_its_key() {
    let mut case = whole(study::worked_cases::lyophilised_vial());
    let after = compose_document(&case, DocumentName::Protocol, &edition()).expect("composed");
    case.runs.clear();
    case.results = None;
    let before = compose_document(&case, DocumentName::Protocol, &edition()).expect("composed");
    assert_eq!(before.digest, after.digest);
    assert_eq!(before.sections.len(), after.sections.len());
    // The key: neither marks of units nor a seed.
    let plan = case.plan.as_ref().expect("a plan");
    let words = all_words(&after);
    let data = String::from_utf8(after.attachments[0].bytes.clone()).expect("text");
    for run in &plan.runs {
        assert!(!words.contains(&format!("{} ", run.unit)), "{}", run.unit);
        assert!(!data.contains(&run.unit), "{}", run.unit);
    }
    assert!(!data.contains("seed"));
    for code in study::plan::blinding_codes(plan) {
        assert!(words.contains(&code) && data.contains(&code));
    }
    for criterion in protocol::planned_criteria(&case) {
        assert!(letters(&words).contains(&letters(&criterion.sentence)));
    }
}

#[test]
fn an_aborted_and_a_missing_run_stand_in_the_study_report() {
    let mut case = whole(study::worked_cases::lyophilised_vial());
    case.runs[3].ended = study::runs::Ended::Aborted { cause: "#strong[door opened]".to_string() };
    case.runs[3].features = None;
    let lost = case.runs.pop().expect("a run");
    let document = compose(&case, &edition()).expect("composed");
    let words = all_words(&document);
    assert!(words.contains("#strong[door opened]"), "the cause stands literally");
    let account = document.sections.iter().find(|section| section.id == "account");
    let table = account.and_then(|section| {
        section.blocks.iter().find_map(|block| match block {
            Block::Table(table) => Some(table),
            _ => None,
        })
    });
    let rows = &table.expect("exceptions").rows;
    assert!(rows.iter().any(|row| row[2].text() == lost.unit && row[4].text() == "Not done."));
    assert!(words.contains("Not signed."));
    typeset(&document, Paper::A4).expect("set");
}

#[test]
fn signatures_are_printed_and_an_altered_benchbook_prints_none() {
    let case = whole(study::worked_cases::syringe());
    let mut edition = edition();
    edition.records.signatures = vec![GivenSignature {
        meaning: "approved".to_string(),
        name: "A. Approver (invented)".to_string(),
        at: "2026-11-25T09:00:00Z".to_string(),
        stands: true,
        report_sha256: "ab".repeat(32),
    }];
    for name in [DocumentName::Study, DocumentName::Claim] {
        let words = all_words(&compose_document(&case, name, &edition).expect("composed"));
        assert!(words.contains("A. Approver (invented)"), "{}", name.word());
    }
    edition.records.findings = vec!["event 7: hash differs".to_string()];
    for name in [DocumentName::Study, DocumentName::Claim] {
        let words = all_words(&compose_document(&case, name, &edition).expect("composed"));
        assert!(!words.contains("A. Approver (invented)"), "{}", name.word());
        assert!(words.to_lowercase().contains("not signed"), "{}", name.word());
        assert!(words.contains("event 7: hash differs"));
    }
}

#[test]
fn numbers_of_the_limit_rationale_are_those_of_the_results() {
    let case = whole(study::worked_cases::lyophilised_vial());
    let document = compose_document(&case, DocumentName::Limit, &edition()).expect("composed");
    let words = all_words(&document);
    let limit = case.results.as_ref().and_then(|r| r.reject_limit.as_ref()).expect("a limit");
    let cost = study::limit_cost::three_sigma_cost(limit).expect("a cost");
    for number in [
        crate::number::quantity(limit.limit_pa, 4, "Pa"),
        crate::number::quantity(limit.mean_pa, 4, "Pa"),
        crate::number::significant(limit.factor, 4),
        crate::number::quantity(cost.limit_pa, 4, "Pa"),
    ] {
        assert!(words.contains(&number), "{number}");
    }
    let pdf = typeset(&document, Paper::A4).expect("set");
    let Some(text) = crate::typeset::text_layer(&pdf) else { return };
    let number = crate::number::quantity(limit.limit_pa, 4, "Pa");
    assert!(letters(&text).contains(&letters(&number)), "{number}");
}

#[test]
fn user_text_is_literal_in_every_document() {
    let mut case = whole(study::worked_cases::liquid_vial());
    let markup = "#panic() <script>alert(1)</script> *x* $y$".to_string();
    case.input.question.clone_from(&markup);
    case.input.title.clone_from(&markup);
    case.input.rig.name.clone_from(&markup);
    case.input.profile.product.name.clone_from(&markup);
    case.input.profile.container.description.clone_from(&markup);
    for name in DocumentName::ALL {
        let document = compose_document(&case, name, &edition()).expect("composed");
        assert!(!crate::html::html(&document).contains("<script"), "{}", name.word());
        typeset(&document, Paper::Letter).expect("set");
    }
}

/// Writes every document where a person can look at it.
#[test]
#[ignore = "writes samples to look at"]
fn document_samples() {
    let Ok(folder) = std::env::var("REPORT_SAMPLES") else { return };
    for input in study::worked_cases::walked() {
        let case = whole(input);
        for name in DocumentName::ALL {
            let document = compose_document(&case, name, &edition()).expect("composed");
            let path = format!("{folder}/{}-{}.pdf", case.input.id, name.word());
            std::fs::write(path, typeset(&document, Paper::A4).expect("set")).expect("folder");
        }
    }
}

//! Documents composed from the worked cases.

use study::forecast::ForecastSettings;
use study::plan::PlanSettings;

use super::*;
use crate::document::Words;
use crate::{Paper, typeset};

pub(super) fn edition() -> Edition {
    Edition {
        version: "1".to_string(),
        moment: Moment::from_text("2026-11-25T01:00:00Z").expect("a moment"),
        software: "Isobar 0.1.0".to_string(),
        checkpoint: None,
        records: Records::default(),
    }
}

/// A worked case after its forecast.
pub(super) fn forecast_only(input: study::CaseInput) -> Case {
    let settings = ForecastSettings { n_draws: 16, n_sizes: 31, ..ForecastSettings::default() };
    let mut case = Case::begin(input);
    case.forecast = Some(study::forecast(&case.input, &settings, &|_, _| {}).expect("forecast"));
    case.method =
        case.forecast.as_ref().map(|forecast| study::design_method(&case.input, forecast));
    case
}

/// A worked case with simulated runs and results.
pub(super) fn whole(input: study::CaseInput) -> Case {
    let mut case = forecast_only(input);
    let forecast = case.forecast.clone().expect("forecast");
    let method = case.method.clone().expect("method");
    let plan = study::plan_runs(&case.input, &forecast, &PlanSettings::default());
    case.runs = study::simulate_runs(&case.input, &method, &plan, 1, &|_, _| {}).expect("runs");
    case.plan = Some(plan);
    case.results = Some(study::evaluate(&case.input, &method, &case.runs));
    case
}

/// Every word that the document prints.
pub(super) fn all_words(document: &Document) -> String {
    let page = crate::html::html(document);
    let mut words = String::new();
    let mut inside = false;
    for character in page.chars() {
        match character {
            '<' => inside = true,
            '>' => {
                inside = false;
                words.push(' ');
            }
            _ if !inside => words.push(character),
            _ => {}
        }
    }
    words
}

#[test]
fn worked_cases_become_documents_without_overclaiming() {
    for input in study::worked_cases::walked() {
        for case in [forecast_only(input.clone()), whole(input.clone()), Case::begin(input.clone())]
        {
            let document = compose(&case, &edition()).expect("composed");
            assert!(document.invented);
            let words = all_words(&document).to_lowercase();
            for word in FORBIDDEN_WORDS {
                assert!(!words.contains(word), "{}: '{word}'", case.input.id);
            }
            assert!(words.contains("judgement of qualified"), "cautions stand in every report");
            assert!(!words.contains("nan") || !words.contains(" nan "), "{}", case.input.id);
            typeset(&document, Paper::A4).expect("set");
        }
    }
}

/// A claim for 90 % where 95 % is asked for is not "reached": the opening, the
/// headline and the claim say so; where 90 % is asked for it is.
#[test]
fn less_detection_than_asked_is_not_reached() {
    let case = whole(study::worked_cases::lyophilised_vial());
    let claim = case.claim();
    assert!(claim.probability.is_some_and(|found| found < 0.95), "{:?}", claim.probability);
    let (_, word) = super::answer::outcome(&case, &case.ladder());
    assert_eq!(word, "reached with less detection than asked");
    assert!(case.ladder().headline.contains("not with the 95 % asked for"));
    let mut modest = case;
    modest.input.profile.purpose.required_detection =
        study::quantities::Probability::new(0.9).expect("a fraction");
    let modest_words = modest.ladder().headline;
    assert!(!modest_words.contains("asked for"), "{modest_words}");
    assert!(super::answer::outcome(&modest, &modest.ladder()).1.starts_with("reached, with a gap"));
}

/// The bound carries the confidence at which it was taken.
#[test]
fn a_bound_at_another_confidence_is_not_called_95() {
    let mut input = study::worked_cases::lyophilised_vial();
    input.profile.purpose.confidence =
        study::quantities::Probability::new(0.9).expect("a fraction");
    let case = whole(input);
    let document = compose(&case, &edition()).expect("composed");
    let words = all_words(&document);
    assert!(words.contains("a90/90") && !words.contains("a90/95"));
    assert!(words.contains("Upper 90 % bound") && !words.contains("Upper 95 % bound"));
}

#[test]
fn every_run_stands_in_the_list() {
    let case = whole(study::worked_cases::lyophilised_vial());
    let document = compose(&case, &edition()).expect("composed");
    let list = document
        .sections
        .iter()
        .flat_map(|section| &section.blocks)
        .find_map(|block| match block {
            Block::Table(table) if table.id == "run-list" => Some(table),
            _ => None,
        })
        .expect("a list of runs");
    assert_eq!(list.rows.len(), case.runs.len());
    for (row, run) in list.rows.iter().zip(&case.runs) {
        assert_eq!(row[0].text(), run.number.to_string());
        assert_eq!(row[2].text(), run.unit);
    }
}

/// Every number of the claim leads to its evidence, that to its runs, and
/// nothing leads nowhere.
#[test]
fn numbers_lead_to_their_evidence_and_that_to_its_runs() {
    let case = whole(study::worked_cases::lyophilised_vial());
    let document = compose(&case, &edition()).expect("composed");
    let page = crate::html::html(&document);
    let goals: Vec<&str> =
        page.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    for goal in &goals {
        let marks = page.matches(&format!("id=\"{goal}\"")).count();
        assert_eq!(marks, 1, "{goal}");
    }
    let claim = case.claim();
    let linked = |part: &&study::claim::ClaimPart| part.rests_on.is_some();
    assert!(claim.parts.iter().filter(linked).count() >= 6);
    for number in claim.parts.iter().filter(|part| part.rests_on.is_none()) {
        // What leads nowhere has no number but the reference conditions.
        let words = number.text.replace("1 atm", "").replace("20 °C", "");
        assert!(!words.contains(|letter: char| letter.is_ascii_digit()), "{}", number.text);
    }
    let counted = case.results.as_ref().and_then(|results| results.detection.as_ref());
    let tested: u64 = counted.expect("detection").by_size.iter().map(|row| row.of).sum();
    let to_runs = goals.iter().filter(|goal| goal.starts_with("doc-run-")).count() as u64;
    assert!(to_runs >= tested, "{to_runs} of {tested}");
    // The same in the PDF: the typesetter refuses a label that does not exist.
    let pdf = typeset(&document, Paper::A4).expect("set");
    let links =
        pdf.windows(13).filter(|bytes| bytes == b"/Subtype/Link" || bytes == b"/Subtype /Lin");
    assert!(links.count() as u64 >= tested);
}

/// On the claim, every number leads to the row that says what it rests on;
/// no row stands there for nothing, and all runs behind it are named.
#[test]
fn numbers_of_the_claim_lead_to_what_they_rest_on() {
    let case = whole(study::worked_cases::lyophilised_vial());
    let document = compose_document(&case, DocumentName::Claim, &edition()).expect("composed");
    let page = crate::html::html(&document);
    let goals: Vec<&str> =
        page.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let linked = case.claim().parts.iter().filter(|part| part.rests_on.is_some()).count();
    assert_eq!(goals.len(), linked);
    for goal in &goals {
        assert_eq!(page.matches(&format!("id=\"{goal}\"")).count(), 1, "{goal}");
    }
    let rows = page.matches("id=\"doc-rests-on-").count();
    let different: std::collections::BTreeSet<&&str> = goals.iter().collect();
    assert_eq!(rows, different.len());
    let negative = case.results.as_ref().and_then(|found| found.reject_limit.as_ref());
    let n = negative.expect("a limit").n;
    assert!(page.contains(&format!("{n} units")), "{n} negative controls");
}

/// The age of the last checks stands on the claim, and that of an item that
/// may not be used does not count.
#[test]
fn the_claim_says_how_old_the_last_checks_are() {
    let case = whole(study::worked_cases::lyophilised_vial());
    let item = |id: &str, age_days: i64, hindrance: Option<&str>| RegisteredItem {
        id: id.to_owned(),
        description: "positive control: invented".to_owned(),
        is_flow_standard: false,
        certificate: String::new(),
        last_check: format!("{age_days} days before"),
        check_age_days: Some(age_days),
        check_passed: true,
        hindrance: hindrance.map(str::to_owned),
    };
    let mut edition = edition();
    edition.records.register =
        vec![item("C-1", 5, None), item("C-2", 12, None), item("C-3", 693, Some("it is retired"))];
    let document = compose_document(&case, DocumentName::Claim, &edition).expect("composed");
    let words = all_words(&document);
    assert!(words.contains("3 registered, 2 of them checked and usable"));
    assert!(words.contains("last checks up to 12 days old"), "{words}");
}

#[test]
fn printed_numbers_are_those_of_the_results() {
    let case = whole(study::worked_cases::lyophilised_vial());
    let document = compose(&case, &edition()).expect("composed");
    let words = all_words(&document);
    let results = case.results.as_ref().expect("results");
    let limit = results.reject_limit.as_ref().expect("a limit");
    assert!(words.contains(&crate::number::quantity(limit.limit_pa, 4, "Pa")));
    let detection = results.detection.as_ref().expect("detection");
    for row in &detection.by_size {
        assert!(words.contains(&crate::number::significant(row.lower, 3)));
    }
}

#[test]
fn the_same_case_gives_the_same_bytes_and_digest() {
    let case = whole(study::worked_cases::syringe());
    let first = compose(&case, &edition()).expect("composed");
    let second = compose(&case, &edition()).expect("composed");
    assert_eq!(first, second);
    assert_eq!(first.digest.len(), 64);
    assert!(typeset(&first, Paper::A4) == typeset(&second, Paper::A4));
    let mut other = case;
    other.runs.pop();
    assert_ne!(compose(&other, &edition()).expect("composed").digest, first.digest);
}

#[test]
fn user_text_of_a_case_is_literal() {
    let mut case = forecast_only(study::worked_cases::liquid_vial());
    case.input.question = "#read(\"/etc/passwd\") <script>alert(1)</script> *x*".to_string();
    case.input.title = "= $x$ \u{202e}".to_string();
    let document = compose(&case, &edition()).expect("composed");
    let page = crate::html::html(&document);
    assert!(!page.contains("<script"));
    assert!(page.contains("[U+202E]"));
    typeset(&document, Paper::Letter).expect("set");
}

#[test]
fn missing_evidence_shows_as_missing() {
    let case = Case::begin(study::worked_cases::liquid_vial());
    let document = compose(&case, &edition()).expect("composed");
    assert_eq!(document.kind, DocumentKind::Feasibility);
    assert!(all_words(&document).contains("Nothing is claimed."));
    assert!(!Words::from("x").is_empty());
}

/// Writes the reports of the worked cases where a person can look at them.
#[test]
#[ignore = "writes samples to look at"]
fn samples() {
    let Ok(folder) = std::env::var("REPORT_SAMPLES") else { return };
    for input in study::worked_cases::walked() {
        let case = whole(input);
        let document = compose(&case, &edition()).expect("composed");
        let name = format!("{folder}/{}", case.input.id);
        std::fs::write(format!("{name}.pdf"), typeset(&document, Paper::A4).expect("set"))
            .expect("folder");
        std::fs::write(format!("{name}.html"), crate::html::html(&document)).expect("folder");
        std::fs::write(format!("{name}.txt"), crate::ladder_text::ladder_text(&case.ladder(), 90))
            .expect("folder");
    }
    let case = forecast_only(study::worked_cases::lyophilised_vial());
    let document = compose(&case, &edition()).expect("composed");
    std::fs::write(
        format!("{folder}/forecast.pdf"),
        typeset(&document, Paper::Letter).expect("set"),
    )
    .expect("folder");
}

#[test]
fn a_gap_above_the_need_stands_in_the_verdict() {
    for input in study::worked_cases::walked() {
        let case = whole(input);
        let document = compose(&case, &edition()).expect("composed");
        let verdict = document.sections[0].blocks.iter().find_map(|block| match block {
            Block::Verdict(verdict) => Some(verdict),
            _ => None,
        });
        let verdict = verdict.expect("a verdict first");
        let gap = case.forecast.as_ref().and_then(|forecast| forecast.blind_gap_um);
        if gap.is_some() {
            assert_ne!(verdict.kind, crate::document::VerdictKind::Reached, "{}", case.input.id);
            assert!(verdict.details.iter().any(|words| words.text().contains("Missed")));
        }
    }
}

//! Questions that an auditor asks (common practice), answered from the case or
//! named as open.

use crate::case::Case;
use crate::kept_records::KeptRecords;
use crate::run_account::{Fate, account_for_runs};
use crate::runs::{RunClass, RunOrigin};
use crate::wording::rounded;

/// A question with its answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AuditorQuestion {
    /// The question.
    pub question: &'static str,
    /// The answer from the case; `None` where it is open.
    pub answer: Option<String>,
    /// What would answer it, where it is open.
    pub would_answer: &'static str,
}

/// The questions with the answers of a case.
#[must_use]
pub fn auditor_questions(case: &Case, kept: &KeptRecords) -> Vec<AuditorQuestion> {
    let profile = &case.input.profile;
    let results = case.results.as_ref();
    let limit = results.and_then(|results| results.reject_limit.as_ref());
    let detection = results.and_then(|results| results.detection.as_ref());
    let account = account_for_runs(
        case.plan.as_ref(),
        &case.runs,
        results.and_then(crate::Results::limit_in_force_pa),
    );
    let aborted = account.count(|row| matches!(row.fate, Fate::Aborted { .. }));
    let ask = |question, answer, would_answer| AuditorQuestion { question, answer, would_answer };
    let has_runs = !case.runs.is_empty();
    vec![
        ask(
            "Why this allowable leak?",
            profile.mall.as_ref().map(|mall| mall.reasoning.clone()),
            "state the leak that matters with its reasoning",
        ),
        ask(
            "Why this kind of defect, and why there?",
            None,
            "describe in the register where each leak sits and how it was made",
        ),
        ask(
            "Are the controls filled with product, and aged?",
            None,
            "record filling and age of each control in the register",
        ),
        ask(
            "Who verified the leaks, and when?",
            (kept.checked_items > 0).then(|| {
                format!(
                    "{} of {} registered items have a passed check and may be used; dates stand in \
                     the register",
                    kept.checked_items, kept.registered_items
                )
            }),
            "measure every control on arrival and enter it in the register",
        ),
        ask(
            "How is the limit derived, and from which units?",
            limit.map(|limit| {
                format!(
                    "{}: {} Pa from {} product-filled units on {} days, at most {} % of good units \
                     above it at {} % confidence; {}",
                    limit.method,
                    rounded(limit.limit_pa),
                    limit.n,
                    limit.by_day.len(),
                    rounded(100.0 * (1.0 - limit.content)),
                    rounded(100.0 * limit.confidence),
                    if limit.by_lot.is_empty() {
                        "lots are not recorded".to_owned()
                    } else {
                        let of = |lot: &crate::results::LotFigures| format!("{} of {}", lot.n, lot.lot);
                        let lots: Vec<String> = limit.by_lot.iter().map(of).collect();
                        format!("by lot: {}", lots.join(", "))
                    }
                )
            }),
            "run negative controls and evaluate them",
        ),
        ask(
            "What became of aborted cycles?",
            has_runs.then(|| {
                format!("{aborted} aborted; each stands in the account of runs with its cause")
            }),
            "do the runs of the plan",
        ),
        ask(
            "What of leaks that plug?",
            Some(if profile.product.may_plug {
                "the product may close a leak; such leaks are not covered by the claim".to_owned()
            } else {
                "the product is not expected to close a leak, which is an assumption of the \
                 profile; closed leaks are not covered by the claim"
                    .to_owned()
            }),
            "",
        ),
        ask(
            "What of large leaks?",
            case.forecast.as_ref().map(|forecast| match forecast.blind_gap_um {
                Some((from, to)) => format!(
                    "forecast: leaks from {} to {} µm flow-equivalent empty the headspace and are \
                     missed",
                    rounded(from),
                    rounded(to)
                ),
                None => "forecast: no gap below the largest size that was looked at; the claim \
                         ends at the largest size tested"
                    .to_owned(),
            }),
            "forecast the case",
        ),
        ask(
            "Is the software shown to be fit for this use?",
            None,
            "the site's own record; “isobar verify” and the published reference values help",
        ),
        ask(
            "Who can change the limit?",
            (kept.history_entries > 0).then(|| {
                format!(
                    "a change makes a new entry in the history ({} so far) and ends the standing \
                     of signatures; who may do so is set by the roles of the benchbook",
                    kept.history_entries
                )
            }),
            "keep the case in a benchbook with accounts",
        ),
        ask(
            "Can the raw trace of this reading be shown?",
            has_runs.then(|| {
                let imported = case
                    .runs
                    .iter()
                    .filter(|run| matches!(run.origin, RunOrigin::Imported { .. }))
                    .count();
                format!(
                    "{} runs in the case, {imported} of them imported and named by file and SHA-256",
                    case.runs.len()
                )
            }),
            "import the traces",
        ),
        ask(
            "Why are these units enough?",
            detection.zip(limit).map(|(detection, limit)| {
                format!(
                    "the bounds carry the numbers: {} negative and {} positive control units; \
                     fewer units would have given a higher limit and a wider bound",
                    limit.n, detection.n_units
                )
            }),
            "plan and rehearse the study",
        ),
        ask(
            "What has changed since?",
            (kept.standing_signatures > 0).then(|| {
                format!("nothing in the case: {} signatures stand", kept.standing_signatures)
            }),
            "sign the case; a later change is then seen",
        ),
        ask(
            "How often does a known leak pass?",
            detection.map(|detection| {
                let (found, of) = detection
                    .by_size
                    .iter()
                    .fold((0, 0), |sum, row| (sum.0 + row.hits, sum.1 + row.of));
                format!("{} of {of} positive control runs were not found, all sizes", of - found)
            }),
            "run positive controls",
        ),
        ask(
            "Were blanks used to set the limit?",
            has_runs.then(|| {
                let blanks = case.runs.iter().filter(|run| run.class == RunClass::Blank).count();
                format!("no: {blanks} blanks diagnose the rig and enter no limit")
            }),
            "do the runs of the plan",
        ),
    ]
}

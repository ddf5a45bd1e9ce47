//! Runs into a benchbook: all of them, or none.

use benchbook::{Benchbook, Import, NewFile};
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use study::cycle_counters::CycleStamp;
use study::runs::RunOrigin;
use study::{Case, Run};

use super::runs::Candidate;
use super::work::Imported;
use crate::clock;
use crate::fault::Fault;

/// Gives the runs their numbers: the planned one where the plan names the unit
/// and the number is free, otherwise the next after the last.
pub fn number(case: &Case, candidates: &mut [Candidate]) {
    let mut taken: BTreeSet<u32> = case.runs.iter().map(|run| run.number).collect();
    let planned_last = case.plan.iter().flat_map(|plan| &plan.runs).map(|run| run.number).max();
    let mut next = taken.last().copied().max(planned_last).unwrap_or(0) + 1;
    for candidate in candidates {
        let planned =
            case.plan.iter().flat_map(|plan| &plan.runs).find(|planned| {
                planned.unit == candidate.run.unit && !taken.contains(&planned.number)
            });
        candidate.run.number = planned.map_or(next, |planned| planned.number);
        if !taken.insert(candidate.run.number) || candidate.run.number >= next {
            next = next.max(candidate.run.number) + 1;
        }
    }
}

/// Files of earlier imports into a case by the hash of their bytes: from the
/// records of the imports, because runs of an export keep their own origin, and
/// from the origins of the runs.
pub async fn files_before(
    book: &Benchbook,
    case: &Case,
) -> Result<BTreeMap<String, String>, Fault> {
    let mut files = BTreeMap::new();
    for record in records_before(book, &case.input.id).await? {
        for file in record["files"].as_array().into_iter().flatten() {
            if let (Some(hash), Some(name)) = (file["sha256"].as_str(), file["file"].as_str()) {
                files.entry(hash.to_owned()).or_insert_with(|| name.to_owned());
            }
        }
    }
    for run in &case.runs {
        if let RunOrigin::Imported { file, sha256 } = &run.origin {
            files.entry(sha256.clone()).or_insert_with(|| file.clone());
        }
    }
    Ok(files)
}

/// The run of a case that a run of an export is, where it is one: what was
/// tested, how it ended, what was read and where it came from are all the same.
pub fn same_run<'a>(case: &'a Case, run: &Run) -> Option<&'a Run> {
    case.runs.iter().find(|stored| {
        let same = (&stored.unit, &stored.class, &stored.origin, &stored.ended);
        same == (&run.unit, &run.class, &run.origin, &run.ended)
            && (stored.day, &stored.features) == (run.day, &run.features)
    })
}

/// Runs of the case, with their samples, that could be those of a new trace:
/// their rise is that of the trace, give or take a fiftieth, or is not known.
pub async fn alike(book: &Benchbook, case: &Case, new: &Run) -> Result<Vec<Run>, Fault> {
    let mut found = Vec::new();
    for stored in &case.runs {
        let is_near = match (&stored.features, &new.features) {
            (Some(one), Some(other)) => {
                let scale = one.rise_pa.abs().max(other.rise_pa.abs());
                (one.rise_pa - other.rise_pa).abs() <= 0.02 * scale
            }
            _ => true,
        };
        let is_trace = stored.features.as_ref().is_none_or(|features| features.n_samples > 0);
        if is_near && is_trace {
            found.push(book.run(&case.input.id, stored.number).await?);
        }
    }
    Ok(found)
}

/// Note of the attachment that says which run came from which cycle of which
/// rig.
const RECORD_NOTE: &str = "import record: rig, cycle, operator and verdict of each run";

/// The records of earlier imports into a case, oldest first.
async fn records_before(book: &Benchbook, case_id: &str) -> Result<Vec<Value>, Fault> {
    let mut records = Vec::new();
    for attached in book.attachments(case_id).await? {
        if attached.note != RECORD_NOTE {
            continue;
        }
        let Some(bytes) = book.stored_file(&attached.file_sha256).await? else { continue };
        records.push(
            serde_json::from_slice(&bytes).map_err(|error| {
                Fault::ours(format!("an import record cannot be read: {error}"))
            })?,
        );
    }
    Ok(records)
}

/// A reading plan of an earlier import.
pub struct EarlierPlan {
    /// When it was agreed on, UTC.
    pub at: String,
    /// The first file that was read by it.
    pub file: String,
    /// The plan, TOML.
    pub text: String,
}

impl EarlierPlan {
    /// How it is named among others.
    pub fn name(&self) -> String {
        format!("{}, {}", self.file, self.at)
    }
}

/// The different reading plans of earlier imports into a case, newest first.
pub async fn plans_before(book: &Benchbook, case_id: &str) -> Result<Vec<EarlierPlan>, Fault> {
    let mut plans: Vec<EarlierPlan> = Vec::new();
    for record in records_before(book, case_id).await?.iter().rev() {
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        for file in record["files"].as_array().into_iter().flatten() {
            let plan = text(&file["reading_plan"]);
            if !plan.is_empty() && plans.iter().all(|known| known.text != plan) {
                let (at, file) = (text(&record["imported_at"]), text(&file["file"]));
                plans.push(EarlierPlan { at, file, text: plan });
            }
        }
    }
    Ok(plans)
}

/// Cycles that were imported before, from the records of earlier imports.
pub async fn stamps_before(book: &Benchbook, case_id: &str) -> Result<Vec<CycleStamp>, Fault> {
    let mut stamps = Vec::new();
    for record in records_before(book, case_id).await? {
        for run in record["runs"].as_array().into_iter().flatten() {
            let (Some(rig), Some(counter)) = (run["rig"].as_str(), run["cycle_counter"].as_u64())
            else {
                continue;
            };
            let file = run["file"].as_str().unwrap_or_default().to_owned();
            let stamp = CycleStamp { rig: rig.to_owned(), counter, file };
            if stamps.last() != Some(&stamp) {
                stamps.push(stamp);
            }
        }
    }
    Ok(stamps)
}

/// Stores runs, original files, the plans by which they were read, the record
/// of the import and its open items, in one transaction.
pub async fn store(
    book: &Benchbook,
    case_id: &str,
    imported: &[&Imported],
    candidates: &[Candidate],
    open_items: &[String],
) -> Result<(), Fault> {
    let at = clock::moment();
    let record = json!({
        "imported_at": at.utc,
        "runs": candidates.iter().map(|candidate| json!({
            "number": candidate.run.number,
            "unit": candidate.run.unit,
            "file": candidate.file.file_name().unwrap_or_default().to_string_lossy(),
            "rig": candidate.stamp.as_ref().map(|(rig, _)| rig.clone()),
            "cycle_counter": candidate.stamp.as_ref().map(|(_, counter)| *counter),
            "operator": candidate.run.factors.operator,
            "verdict_of_file": candidate.verdict,
        })).collect::<Value>(),
        "files": imported.iter().map(|one| json!({
            "file": one.path.display().to_string(),
            "sha256": one.file.sha256,
            "reading_plan": one.file.plan,
            "messages": one.file.messages.iter().map(ToString::to_string).collect::<Vec<_>>(),
        })).collect::<Value>(),
    });
    let record = format!("{record:#}\n");
    let names: Vec<String> = imported
        .iter()
        .map(|one| one.path.file_name().unwrap_or_default().to_string_lossy().into_owned())
        .collect();
    let mut files: Vec<NewFile<'_>> = imported
        .iter()
        .zip(&names)
        .map(|(one, name)| NewFile {
            name,
            note: "original of imported runs",
            bytes: &one.file.bytes,
        })
        .collect();
    files.push(NewFile { name: "import.json", note: RECORD_NOTE, bytes: record.as_bytes() });
    let runs: Vec<Run> = candidates.iter().map(|candidate| candidate.run.clone()).collect();
    book.import(case_id, &Import { runs: &runs, files: &files, open_items }, &at).await?;
    Ok(())
}

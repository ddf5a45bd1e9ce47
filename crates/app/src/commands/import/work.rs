//! The work of an import, the same for the command line and for the pages: files
//! read, checked against each other and against the case, and stored as a whole
//! or not at all.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use benchbook::Benchbook;
use clap::Args;
use intake::codes;
use intake::message::Message;
use intake::shown_names::{look, name_messages};
use rayon::prelude::*;
use serde_json::{Value, json};
use study::cycle_counters::{CycleStamp, open_items};
use study::runs::{Ended, RunClass};
use study::{Case, Note};

use super::read::{Content, ReadFile, read_file_among};
use super::runs::{Candidate, Said, candidates, class_of, known_of};
use super::{long, store};
use crate::answer::optional;
use crate::commands::examine::coded::clock_ahead;
use crate::commands::examine::reading::Reading;
use crate::commands::{examine, files};
use crate::fault::Fault;
use crate::later_runs::Waiting;

/// How files are read, and what of it is taken: the same choices on the command
/// line and on the page.
#[derive(Args, Clone, Default)]
pub struct Choices {
    #[command(flatten)]
    pub reading: Reading,
    /// What the units are, where neither file nor plan says: blank, negative, positive, flow or aged.
    #[arg(long)]
    pub class: Option<String>,
    /// Size of positive controls, and of aged ones with a leak, flow-equivalent, such as 5um.
    #[arg(long)]
    pub size: Option<String>,
    /// Flow of flow challenges, such as 2e-5Pa.m3/s.
    #[arg(long)]
    pub flow: Option<String>,
    /// Flow standard that gave the flow challenges, by its name in the register.
    #[arg(long, value_name = "NAME")]
    pub standard: Option<String>,
    /// Age of aged controls, days since filling.
    #[arg(long, value_name = "DAYS")]
    pub age_days: Option<u32>,
    /// Store what was read although other files were refused.
    #[arg(long)]
    pub skip_refused: bool,
    /// Take files that are dated ahead of this computer's clock.
    #[arg(long)]
    pub accept_clock: bool,
}

impl Choices {
    /// What all units are, where it was said.
    ///
    /// # Errors
    /// Where class, size, flow and age do not go together.
    pub fn given(&self) -> Result<Option<RunClass>, Fault> {
        let said = Said {
            size: self.size.as_deref(),
            flow: self.flow.as_deref(),
            age_days: self.age_days,
        };
        self.class.as_deref().map(|word| class_of(word, said)).transpose()
    }
}

/// A file to read.
#[derive(Clone)]
pub enum Source {
    /// It lies on this machine.
    Disk(PathBuf),
    /// It was sent, under a name that is data and never a path.
    Sent {
        /// The name.
        name: PathBuf,
        /// What was sent.
        bytes: Arc<[u8]>,
    },
}

impl Source {
    /// Its name.
    pub fn path(&self) -> &Path {
        match self {
            Self::Disk(path) => path,
            Self::Sent { name, .. } => name,
        }
    }
}

/// A file with what came of it.
pub struct Imported {
    /// Its name.
    pub path: PathBuf,
    /// What was read.
    pub file: ReadFile,
    /// Runs beyond those that are held.
    pub later: Option<Waiting>,
    /// Its runs.
    pub runs: Vec<Candidate>,
}

/// Reads every file, several at once; the order stays. `each` is told of every
/// file that is done, and says whether to go on.
///
/// # Errors
/// Where a file is not there, a choice means nothing, or somebody stopped it.
pub fn read_all(
    sources: &[Source],
    choices: &Choices,
    case: Option<&Case>,
    each: &(dyn Fn() -> bool + Sync),
) -> Result<Vec<Imported>, Fault> {
    let given = choices.given()?;
    let plan = choices.reading.plan()?;
    let known = known_of(case.map(|case| &case.input));
    let run_plan = case.and_then(|case| case.plan.as_ref());
    let mut imported: Vec<Imported> = sources
        .par_iter()
        .map(|source| {
            let path = source.path();
            let file = match source {
                Source::Disk(path) if long::is_long(path, case.is_some()) => {
                    return long::read_long(path, &plan, &known, run_plan, given);
                }
                Source::Disk(path) => {
                    let beside = |other: &Path| std::fs::read(other).ok();
                    read_file_among(files::read_bytes(path)?, path, &plan, &beside)
                }
                // Only what was sent with it: never a file of this machine.
                Source::Sent { name, bytes } => {
                    read_file_among(bytes.to_vec(), name, &plan, &|other| sent(sources, other))
                }
            };
            let runs = candidates(path, &file, &known, run_plan, given);
            if !each() {
                return Err(Fault::users("the import was stopped", "nothing was stored"));
            }
            Ok(Imported { path: path.to_path_buf(), file, later: None, runs })
        })
        .collect::<Result<_, Fault>>()?;
    if let Some(standard) = choices.standard.as_deref() {
        name_standard(&mut imported, standard)?;
    }
    Ok(imported)
}

/// Names the standard of every flow challenge that names none.
fn name_standard(imported: &mut [Imported], standard: &str) -> Result<(), Fault> {
    let mut challenges = 0;
    for candidate in imported.iter_mut().flat_map(|one| &mut one.runs) {
        if candidate.class.is_some_and(|class| class.flow_pa_m3_per_s().is_some()) {
            challenges += 1;
            let named = &mut candidate.run.factors.standard;
            if named.is_empty() {
                standard.clone_into(named);
            }
        }
    }
    let any_refused = imported.iter().any(|one| one.file.is_refused());
    if challenges == 0 && !any_refused {
        return Err(Fault::users(
            "only a flow challenge has a flow standard, and none of the runs is one",
            "leave out --standard, or say --class flow with --flow",
        ));
    }
    Ok(())
}

fn sent(sources: &[Source], wanted: &Path) -> Option<Vec<u8>> {
    sources.iter().find_map(|source| match source {
        Source::Sent { name, bytes } if name == wanted => Some(bytes.to_vec()),
        _ => None,
    })
}

/// Files that were read and checked; nothing of them is stored yet.
pub struct Checked {
    /// The files, without their runs.
    pub imported: Vec<Imported>,
    /// The runs of all of them.
    pub runs: Vec<Candidate>,
    /// Runs of long files, which wait outside of memory.
    pub later: Vec<Waiting>,
    /// What their counters leave open.
    pub items: Vec<String>,
    /// What was noticed.
    pub notes: Vec<Note>,
    /// Files that are refused.
    pub n_refused: usize,
    /// True where nothing is taken because of them.
    pub is_refused: bool,
}

/// Checks files against each other, the clock, and the case they are for.
///
/// # Errors
/// Where the benchbook cannot be read.
pub async fn check(
    mut imported: Vec<Imported>,
    choices: &Choices,
    passed_over: usize,
    stored: Option<(&Benchbook, &Case)>,
) -> Result<Checked, Fault> {
    if !choices.accept_clock {
        refuse_clocks_ahead(&mut imported);
    }
    let files_before = match stored {
        Some((book, case)) => store::files_before(book, case).await?,
        None => BTreeMap::new(),
    };
    refuse_doubles(&files_before, &mut imported);
    if let Some((_, case)) = stored {
        refuse_runs_of_the_case(case, &mut imported);
    }
    let mut before = Vec::new();
    if let Some((_, case)) = stored
        && choices.reading.plan()?.pressures.is_empty()
    {
        refuse_open_channels(case, &mut imported);
    }
    if let Some((book, case)) = stored {
        note_stored_copies(book, case, &mut imported).await?;
        refuse_long(&mut imported);
        before = store::stamps_before(book, &case.input.id).await?;
    }
    let items = open_items(&before, &stamps_of(&imported));
    let n_refused = imported.iter().filter(|one| one.file.is_refused()).count();
    let skips = choices.skip_refused && n_refused < imported.len();
    let mut notes = notes_of(&imported, passed_over);
    notes.extend(items.iter().map(|item| {
        Note::caution(
            "open-item",
            item.clone(),
            "explain it before the case is signed; a missing cycle may be a missing run",
        )
    }));
    if n_refused > 0 && imported.len() > 1 {
        notes.push(refused_among_others(&imported, n_refused, skips));
    }
    let mut runs: Vec<Candidate> = imported.iter_mut().flat_map(|one| one.runs.drain(..)).collect();
    for (candidate, number) in runs.iter_mut().zip(1..) {
        candidate.run.number = number;
    }
    let later = imported.iter_mut().filter_map(|one| one.later.take()).collect();
    let is_refused = n_refused > 0 && !skips;
    Ok(Checked { imported, runs, later, items, notes, n_refused, is_refused })
}

/// Stores what was checked: all of it, or nothing.
///
/// # Errors
/// Where it is not known what a unit is, or the benchbook refuses.
pub async fn keep(book: &Benchbook, case: &Case, checked: &mut Checked) -> Result<(), Fault> {
    require_class(&checked.runs)?;
    store::number(case, &mut checked.runs);
    let kept: Vec<&Imported> =
        checked.imported.iter().filter(|one| !one.file.is_refused()).collect();
    store::store(book, &case.input.id, &kept, &checked.runs, &checked.items).await
}

/// A file from the future is asked about: its clock, or this one, is wrong.
fn refuse_clocks_ahead(imported: &mut [Imported]) {
    for one in imported {
        let ahead = one.file.parts.iter().find_map(|part| match &part.content {
            Content::Traces(traces) => traces
                .iter()
                .find_map(clock_ahead)
                .map(|message| message.placed(|place| part.places.of(place))),
            _ => None,
        });
        if let Some(message) = ahead {
            one.file.messages.push(Message {
                severity: intake::Severity::Refused,
                ..message.done("Nothing was read.").next(
                    "Set the clock that is wrong, or accept the file as it is (--accept-clock).",
                )
            });
            one.runs.clear();
        }
    }
}

/// Says so where a trace is nearly that of a run of the case.
async fn note_stored_copies(
    book: &Benchbook,
    case: &Case,
    imported: &mut [Imported],
) -> Result<(), Fault> {
    for one in imported {
        for candidate in one.runs.iter().filter(|candidate| candidate.run.trace.n_samples() > 0) {
            for stored in store::alike(book, case, &candidate.run).await? {
                let name = format!("run {} of the case ({})", stored.number, stored.unit);
                one.file.messages.extend(intake::same_samples::copy_warning(
                    &candidate.run.trace,
                    &stored.trace,
                    &name,
                ));
            }
        }
    }
    Ok(())
}

/// An export that comes back to the case it was made from brings no new run.
fn refuse_runs_of_the_case(case: &Case, imported: &mut [Imported]) {
    for one in imported {
        let of_export = one.file.parts.iter().any(|part| matches!(part.content, Content::Runs(_)));
        if !of_export {
            continue;
        }
        let known: Vec<u32> = one
            .runs
            .iter()
            .filter_map(|candidate| store::same_run(case, &candidate.run))
            .map(|run| run.number)
            .collect();
        if let Some(first) = known.first() {
            one.file.messages.push(
                Message::refused(
                    codes::SAME_FILE,
                    format!(
                        "{} of its {} runs are in the case already, the first as run {first}",
                        known.len(),
                        one.runs.len()
                    ),
                )
                .done("Nothing was read.")
                .next("Leave it out: a copy is no second unit."),
            );
            one.runs.clear();
        }
    }
}

/// Several columns of pressure are units side by side, or gauges of one chamber:
/// what becomes runs of a case is asked, unless the plan of the case names them
/// all as units.
fn refuse_open_channels(case: &Case, imported: &mut [Imported]) {
    let planned: BTreeSet<&str> =
        case.plan.iter().flat_map(|plan| &plan.runs).map(|run| run.unit.as_str()).collect();
    for one in imported {
        let open = one.file.parts.iter().find_map(|part| {
            let Content::Traces(traces) = &part.content else { return None };
            let mut names: Vec<&str> = Vec::new();
            for trace in traces {
                if !names.contains(&trace.name.as_str()) {
                    names.push(&trace.name);
                }
            }
            let is_open = names.len() > 1 && !names.iter().all(|name| planned.contains(name));
            is_open.then(|| names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>())
        });
        if let Some(names) = open {
            let message = Message::refused(
                codes::SEVERAL_TRACES,
                format!(
                    "{} are all pressures: gauges of one chamber, or units side by side",
                    names.join(", ")
                ),
            )
            .done("Nothing was read.")
            .next("Name every column that is a run of its own (--pressure COLUMN=UNIT).");
            one.file.messages.push(message);
            one.runs.clear();
        }
    }
}

/// A file that was read piece by piece has no samples left to store.
fn refuse_long(imported: &mut [Imported]) {
    for one in imported.iter_mut().filter(|one| one.file.is_long()) {
        one.file.messages.push(
            Message::refused(codes::TOO_LARGE, "The file is too long to be stored with its runs")
                .done("Its runs were read and not stored.")
                .next("Part the file by run, or leave out --benchbook."),
        );
        one.runs.clear();
    }
}

/// What becomes of the others where some files are refused.
fn refused_among_others(imported: &[Imported], n_refused: usize, skips: bool) -> Note {
    let names: Vec<String> = imported
        .iter()
        .filter(|one| one.file.is_refused())
        .take(5)
        .map(|one| one.path.display().to_string())
        .collect();
    Note::caution(
        codes::ARCHIVE,
        format!("{n_refused} of {} files are refused: {}", imported.len(), names.join(", ")),
        if skips {
            "the others were taken; mend these and import them"
        } else {
            "nothing was taken; mend these, or leave them out (--skip-refused)"
        },
    )
}

/// The same bytes count once: in the case, and among the files themselves.
fn refuse_doubles(before: &BTreeMap<String, String>, imported: &mut [Imported]) {
    let mut seen: BTreeMap<String, String> = before.clone();
    for one in imported.iter_mut() {
        let hash = one.file.sha256.clone();
        if let Some(before) = seen.get(&hash).cloned() {
            one.file.messages.push(
                Message::refused(
                    codes::SAME_FILE,
                    format!("The same bytes were imported before, as {before}"),
                )
                .done("Nothing was read.")
                .next("Leave it out: a copy is no second unit."),
            );
            one.runs.clear();
        } else {
            seen.insert(hash, one.path.display().to_string());
        }
    }
    // Traces that are nearly one and the same, and units that only look it.
    let mut warnings = Vec::new();
    let all: Vec<(usize, &Candidate)> = imported
        .iter()
        .enumerate()
        .flat_map(|(file, one)| one.runs.iter().map(move |run| (file, run)))
        .collect();
    // Only traces that begin alike, and units that look alike, are compared.
    let mut begun: BTreeMap<u64, Vec<&Candidate>> = BTreeMap::new();
    let mut looks: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for (file, candidate) in &all {
        let one = &candidate.run;
        if let Some(first) = one.trace.pressures_pa.first() {
            let earlier = begun.entry(first.to_bits()).or_default();
            for other in earlier.iter().map(|other| &other.run) {
                let warning =
                    intake::same_samples::copy_warning(&one.trace, &other.trace, &other.unit);
                warnings.extend(warning.map(|message| (*file, message)));
            }
            earlier.push(candidate);
        }
        let same = looks.entry(look(&one.unit)).or_default();
        if !same.contains(&one.unit.as_str()) {
            if let Some(other) = same.first() {
                warnings.push((
                    *file,
                    Message::warning(
                        codes::HOSTILE_NAME,
                        format!("The units `{}` and `{other}` look the same", one.unit),
                    )
                    .done("They were kept apart.")
                    .next("Check that they are two units."),
                ));
            }
            same.push(&one.unit);
        }
        warnings.extend(name_messages(&one.unit).into_iter().map(|m| (*file, m)));
    }
    for (file, message) in warnings {
        imported[file].file.messages.push(message);
    }
}

fn stamps_of(imported: &[Imported]) -> Vec<CycleStamp> {
    let mut stamps = Vec::new();
    for one in imported {
        for candidate in &one.runs {
            let Some((rig, counter)) = candidate.stamp.clone() else { continue };
            let file = one.path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let stamp = CycleStamp { rig, counter, file };
            // Several channels of one trace are one cycle; rows of a table are not.
            if candidate.n_samples == 0 || stamps.last() != Some(&stamp) {
                stamps.push(stamp);
            }
        }
    }
    stamps
}

/// Units of which neither file nor plan says what they are.
pub fn without_class(candidates: &[Candidate]) -> Vec<String> {
    candidates
        .iter()
        .filter(|candidate| candidate.class.is_none())
        .map(|candidate| format!("{} ({})", candidate.run.unit, candidate.file.display()))
        .collect()
}

fn require_class(candidates: &[Candidate]) -> Result<(), Fault> {
    let mut open = without_class(candidates);
    open.truncate(10);
    if open.is_empty() {
        return Ok(());
    }
    Err(Fault::users(
        "what some units are is not known: neither the file nor the plan of the case says it",
        "say it (--class blank, negative, positive, flow or aged), or name the units as the plan does",
    )
    .with_details(open))
}

fn notes_of(imported: &[Imported], passed_over: usize) -> Vec<Note> {
    let mut notes = Vec::new();
    for one in imported {
        notes.extend(one.file.messages.iter().map(|message| examine::note(&one.path, message)));
        notes.extend(one.runs.iter().flat_map(|candidate| candidate.notes.iter().cloned()));
    }
    if passed_over > 0 {
        notes.push(Note::remark(
            "passed-over",
            format!("{passed_over} files of the folders have another ending and were passed over"),
            "name them one by one if they are data",
        ));
    }
    notes
}

/// What became of a file, in one word.
pub fn outcome(one: &Imported) -> &'static str {
    if one.file.is_refused() { "refused" } else { "read" }
}

/// A file as JSON.
pub fn file_json(one: &Imported) -> Value {
    json!({
        "file": one.path.display().to_string(),
        "outcome": outcome(one),
        "bytes": one.file.n_bytes,
        "sha256": one.file.sha256,
        "reading_plan": one.file.plan,
        "messages": one.file.messages.iter().map(|message| json!({
            "code": message.code,
            "severity": message.severity.word(),
            "text": message.to_string(),
            "line": message.place.line,
            "column": message.place.column,
            "sheet": message.place.sheet,
            "row": message.place.row,
            "row_group": message.place.row_group,
        })).collect::<Value>(),
    })
}

/// A run as JSON.
pub fn run_json(candidate: &Candidate) -> Value {
    let run = &candidate.run;
    json!({
        "number": run.number,
        "file": candidate.file.display().to_string(),
        "unit": run.unit,
        "class": candidate.class.map(RunClass::word),
        "size_um": optional(candidate.class.and_then(RunClass::size_um)),
        "flow_pa_m3_per_s": optional(candidate.class.and_then(RunClass::flow_pa_m3_per_s)),
        "age_days": candidate.class.and_then(RunClass::age_days),
        "day": run.day,
        "ended": run.ended.words(),
        "censored": run.ended.by_limit() || matches!(run.ended, Ended::GaugeFull { .. }),
        "samples": candidate.n_samples,
        "rise_pa": optional(run.features.as_ref().map(|features| features.rise_pa)),
        "slope_pa_per_s": optional(candidate.slope_pa_per_s),
        "flags": candidate.flags.iter().map(|flag| flag.word()).collect::<Vec<_>>(),
        "rig": (!run.factors.rig.is_empty()).then_some(&run.factors.rig),
        "cycle_counter": candidate.stamp.as_ref().map(|(_, counter)| *counter),
        "operator": run.factors.operator,
        "lot": run.factors.lot,
        "side": run.factors.side.map(study::run_factors::LeakSide::word),
        "defect": run.factors.defect,
        "standard": run.factors.standard,
        "verdict_of_file": candidate.verdict,
    })
}

/// What came of the files as JSON; without the runs of long ones.
pub fn answer(checked: &Checked, is_stored: bool) -> Value {
    let runs = if checked.is_refused { &[] } else { checked.runs.as_slice() };
    json!({
        "stored": is_stored,
        "files": checked.imported.iter().map(file_json).collect::<Value>(),
        "runs": runs.iter().map(run_json).collect::<Vec<Value>>(),
        "open_items": checked.items,
    })
}

//! `isobar import`: traces and results of any laboratory, shown or stored.

mod ask;
mod exported;
mod long;
mod paths;
pub mod read;
mod runs;
mod store;

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::Args;
use intake::codes;
use intake::message::Message;
use intake::reading_plan::ReadingPlan;
use intake::shown_names::{look, name_messages};
use rayon::prelude::*;
use serde_json::{Value, json};
use study::cycle_counters::{CycleStamp, open_items};
use study::runs::{Ended, RunClass};
use study::{Case, Note};

use self::read::{ReadFile, read_file};
use self::runs::{Candidate, candidates, class_of, known_of};
use super::examine::coded::clock_ahead;
use super::examine::reading::Reading;
use super::records::acting::Acting;
use super::{files, serve};
use crate::answer::{Answer, optional};
use crate::fault::Fault;
use crate::later_runs::{MARK, Waiting};
use crate::progress;
use crate::table_text::{digits_or_dash, table};

/// Read traces or tables of results; with a benchbook, store them as runs.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar import examples/trace.csv
  isobar import examples/unit_results.csv
  isobar import LOG.d --reading PLAN.toml --benchbook B.benchbook --case ID --class negative
  isobar import LOG.d --class flow --flow 2e-5Pa.m3/s
  isobar import \"LOG.d/*.csv\" --pressure CH2=mbar --temperature T1=C

Files of a folder are read with everything below it. One file that is refused refuses all, and
nothing is stored (exit code 3), unless --skip-refused leaves it out. What is open is asked for on
a terminal; elsewhere it is an error that names the option. Files beyond 256 MiB, and pipes, are
read piece by piece in flat memory: their runs are shown with their features and not stored. Rig serial and cycle counter are taken from `key: value` lines before the
data, or from columns of a table of results; gaps, doubles and late files become open items.")]
pub struct Import {
    /// Files, folders, or patterns with * and ?.
    #[arg(required = true)]
    paths: Vec<PathBuf>,
    #[command(flatten)]
    reading: Reading,
    /// Benchbook to store the runs in.
    #[arg(long, requires = "case")]
    benchbook: Option<PathBuf>,
    /// Case to which the runs belong.
    #[arg(long, requires = "benchbook")]
    case: Option<String>,
    /// What the units are, where neither file nor plan says: blank, negative, positive or flow.
    #[arg(long)]
    class: Option<String>,
    /// Size of positive controls, flow-equivalent, such as 5um.
    #[arg(long)]
    size: Option<String>,
    /// Flow of flow challenges, such as 2e-5Pa.m3/s.
    #[arg(long)]
    flow: Option<String>,
    /// Store what was read although other files were refused.
    #[arg(long)]
    skip_refused: bool,
    /// Take files that are dated ahead of this computer's clock.
    #[arg(long)]
    accept_clock: bool,
    #[command(flatten)]
    acting: Acting,
}

/// A file with what came of it.
struct Imported {
    path: PathBuf,
    file: ReadFile,
    /// Runs beyond those that are held.
    later: Option<Waiting>,
    runs: Vec<Candidate>,
}

/// Runs the command.
pub fn run(command: &Import, json: bool) -> Result<Answer, Fault> {
    let given = command
        .class
        .as_deref()
        .map(|word| class_of(word, command.size.as_deref(), command.flow.as_deref()))
        .transpose()?;
    let named = paths::named(&command.paths)?;
    let mut reading = command.reading.clone();
    let runtime = serve::runtime()?;
    let stored = match (&command.benchbook, &command.case) {
        (Some(path), Some(id)) => Some(runtime.block_on(async {
            let book = command.acting.open(path).await?;
            let case = book.case_without_traces(id).await?;
            Ok::<_, Fault>((book, case))
        })?),
        _ => None,
    };
    let case = stored.as_ref().map(|(_, case)| case);
    let mut imported = loop {
        let plan = reading.plan()?;
        let imported = read_all(&named.files, &plan, case, given)?;
        let refused = imported.iter().find(|one| one.file.is_refused());
        let Some(refused) = refused.filter(|_| !json && ask::can_ask()) else { break imported };
        let name = refused.path.display().to_string();
        if !ask::ask(&name, &refused.file.messages, &mut reading) {
            break imported;
        }
    };
    if !command.accept_clock {
        refuse_clocks_ahead(&mut imported);
    }
    refuse_doubles(case, &mut imported);
    if let Some((book, case)) = &stored {
        runtime.block_on(note_stored_copies(book, case, &mut imported))?;
        refuse_long(&mut imported);
    }
    let stamps = stamps_of(&imported);
    let before = match &stored {
        Some((book, case)) => runtime.block_on(store::stamps_before(book, &case.input.id))?,
        None => Vec::new(),
    };
    let items = open_items(&before, &stamps);
    let n_refused = imported.iter().filter(|one| one.file.is_refused()).count();
    let skips = command.skip_refused && n_refused < imported.len();
    let is_refused = n_refused > 0 && !skips;
    let mut notes = notes_of(&imported, named.passed_over);
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
    let mut all: Vec<Candidate> = imported.iter_mut().flat_map(|one| one.runs.drain(..)).collect();
    if let (Some((book, case)), false) = (&stored, is_refused) {
        require_class(&all)?;
        store::number(case, &mut all);
        runtime.block_on(async {
            let kept: Vec<&Imported> =
                imported.iter().filter(|one| !one.file.is_refused()).collect();
            store::store(book, &case.input.id, &kept, &all, &items).await?;
            book.close().await;
            Ok::<(), Fault>(())
        })?;
    } else {
        for (candidate, number) in all.iter_mut().zip(1..) {
            candidate.run.number = number;
        }
    }
    let is_stored = stored.is_some() && !is_refused;
    let later: Vec<Waiting> = imported.iter_mut().filter_map(|one| one.later.take()).collect();
    let text = text_of(&imported, &all, is_refused, is_stored, !later.is_empty());
    let mut runs: Vec<Value> = Vec::new();
    if !is_refused {
        runs.extend(all.iter().map(run_json));
        runs.extend((!later.is_empty()).then(|| json!(MARK)));
    }
    let answer = json!({
        "stored": is_stored,
        "files": imported.iter().map(file_json).collect::<Value>(),
        "runs": runs,
        "open_items": items,
    });
    let mut answer = Answer::new(text, answer, notes);
    if !is_refused && !later.is_empty() {
        let first = all.last().map_or(1, |last| u64::from(last.run.number) + 1);
        answer = answer.with_later_runs(later, first);
    }
    Ok(if n_refused > 0 { answer.with_answer_no() } else { answer })
}

/// Reads every file, several at once; the order stays.
fn read_all(
    paths: &[PathBuf],
    plan: &ReadingPlan,
    case: Option<&Case>,
    given: Option<RunClass>,
) -> Result<Vec<Imported>, Fault> {
    let known = known_of(case.map(|case| &case.input));
    let run_plan = case.and_then(|case| case.plan.as_ref());
    let bar = progress::bar("files", paths.len());
    let imported: Result<Vec<Imported>, Fault> = paths
        .par_iter()
        .map(|path| {
            if long::is_long(path, case.is_some()) {
                return long::read_long(path, plan, &known, run_plan, given);
            }
            let file = read_file(files::read_bytes(path)?, path, plan);
            let runs = candidates(path, &file, &known, run_plan, given);
            bar.inc(1);
            Ok(Imported { path: path.clone(), file, later: None, runs })
        })
        .collect();
    bar.finish_and_clear();
    imported
}

/// A file from the future is asked about: its clock, or this one, is wrong.
fn refuse_clocks_ahead(imported: &mut [Imported]) {
    for one in imported {
        let ahead = one.file.parts.iter().find_map(|part| match &part.content {
            read::Content::Traces(traces) => traces
                .iter()
                .find_map(clock_ahead)
                .map(|message| message.placed(|place| part.places.of(place))),
            _ => None,
        });
        if let Some(message) = ahead {
            one.file.messages.push(Message {
                severity: intake::Severity::Refused,
                ..message
                    .done("Nothing was read.")
                    .next("Set the clock that is wrong, or say --accept-clock.")
            });
            one.runs.clear();
        }
    }
}

/// Says so where a trace is nearly that of a run of the case.
async fn note_stored_copies(
    book: &benchbook::Benchbook,
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
            "nothing was taken; mend these, or leave them out with --skip-refused"
        },
    )
}

/// The same bytes count once: in the case, and among the files themselves.
fn refuse_doubles(case: Option<&Case>, imported: &mut [Imported]) {
    let mut seen: BTreeMap<String, String> = BTreeMap::new();
    for one in imported.iter_mut() {
        let hash = one.file.sha256.clone();
        let before = case
            .and_then(|case| store::imported_before(case, &hash))
            .map(str::to_owned)
            .or_else(|| seen.get(&hash).cloned());
        if let Some(before) = before {
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
            // Several channels of one file are one cycle.
            if stamps.last() != Some(&stamp) {
                stamps.push(stamp);
            }
        }
    }
    stamps
}

fn require_class(candidates: &[Candidate]) -> Result<(), Fault> {
    let open: Vec<String> = candidates
        .iter()
        .filter(|candidate| candidate.class.is_none())
        .map(|candidate| format!("{} ({})", candidate.run.unit, candidate.file.display()))
        .take(10)
        .collect();
    if open.is_empty() {
        return Ok(());
    }
    Err(Fault::users(
        "what some units are is not known: neither the file nor the plan of the case says it",
        "say --class blank, negative or positive (with --size), or name the units as the plan does",
    )
    .with_details(open))
}

fn notes_of(imported: &[Imported], passed_over: usize) -> Vec<Note> {
    let mut notes = Vec::new();
    for one in imported {
        notes.extend(
            one.file.messages.iter().map(|message| super::examine::note(&one.path, message)),
        );
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

fn text_of(
    imported: &[Imported],
    runs: &[Candidate],
    is_refused: bool,
    is_stored: bool,
    has_later: bool,
) -> String {
    let rows: Vec<Vec<String>> = imported
        .iter()
        .map(|one| {
            vec![
                one.path.display().to_string(),
                outcome(one).to_owned(),
                one.file.n_bytes.to_string(),
                one.file.sha256[..12].to_owned(),
            ]
        })
        .collect();
    let mut text = table(&["file", "outcome", "bytes", "SHA-256"], &rows);
    for one in imported.iter().filter(|one| one.file.is_refused()) {
        for message in one.file.messages.iter().filter(|message| message.is_refusal()) {
            text.push_str(&format!("{}: {message}\n", one.path.display()));
        }
    }
    if is_refused {
        text.push_str("\nNothing was stored: one refused file refuses all (see --skip-refused).\n");
        return text;
    }
    let rows: Vec<Vec<String>> = runs
        .iter()
        .map(|candidate| {
            let run = &candidate.run;
            vec![
                run.number.to_string(),
                run.unit.clone(),
                candidate.class.map_or("not known", RunClass::word).to_owned(),
                run.ended.words(),
                candidate.n_samples.to_string(),
                digits_or_dash(run.features.as_ref().map(|features| features.rise_pa), 4),
                digits_or_dash(candidate.slope_pa_per_s, 3),
                candidate.flags.iter().map(|flag| flag.word()).collect::<Vec<_>>().join(", "),
            ]
        })
        .collect();
    text.push('\n');
    text.push_str(&table(
        &["run", "unit", "class", "ended", "samples", "rise Pa", "slope Pa/s", "flags"],
        &rows,
    ));
    if has_later {
        text.push_str(MARK);
    }
    text.push_str(if is_stored {
        "\nStored.\n"
    } else {
        "\nShown only: give --benchbook and --case to store the runs.\n"
    });
    text
}

fn outcome(one: &Imported) -> &'static str {
    if one.file.is_refused() { "refused" } else { "read" }
}

fn file_json(one: &Imported) -> Value {
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

fn run_json(candidate: &Candidate) -> Value {
    let run = &candidate.run;
    json!({
        "number": run.number,
        "file": candidate.file.display().to_string(),
        "unit": run.unit,
        "class": candidate.class.map(RunClass::word),
        "size_um": optional(candidate.class.and_then(RunClass::size_um)),
        "flow_pa_m3_per_s": optional(candidate.class.and_then(RunClass::flow_pa_m3_per_s)),
        "day": run.day,
        "ended": run.ended.words(),
        "censored": matches!(run.ended, Ended::ReachLimit { .. }),
        "samples": candidate.n_samples,
        "rise_pa": optional(run.features.as_ref().map(|features| features.rise_pa)),
        "slope_pa_per_s": optional(candidate.slope_pa_per_s),
        "flags": candidate.flags.iter().map(|flag| flag.word()).collect::<Vec<_>>(),
        "rig": candidate.stamp.as_ref().map(|(rig, _)| rig.clone()),
        "cycle_counter": candidate.stamp.as_ref().map(|(_, counter)| *counter),
        "operator": candidate.operator,
        "verdict_of_file": candidate.verdict,
    })
}

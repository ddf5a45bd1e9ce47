//! `isobar import`: traces and results of any laboratory, shown or stored.

pub mod ask;
mod exported;
mod long;
mod paths;
pub mod preview;
pub mod read;
mod runs;
pub mod store;
pub mod work;

use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use study::runs::RunClass;

use self::work::{Checked, Choices, Source, outcome};
use super::records::acting::Acting;
use super::serve;
use crate::answer::Answer;
use crate::fault::Fault;
use crate::later_runs::MARK;
use crate::progress;
use crate::table_text::{digits_or_dash, table};

/// Read traces or tables of results; with a benchbook, store them as runs.
#[derive(Args)]
#[command(after_help = "Examples:
  isobar import examples/trace.csv
  isobar import examples/unit_results.csv
  isobar import LOG.d --reading PLAN.toml --benchbook B.benchbook --case ID --class negative
  isobar import LOG.d --class flow --flow 2e-5Pa.m3/s --standard FS-1
  isobar import LOG.d --class aged --age-days 30 --size 10um
  isobar import \"LOG.d/*.csv\" --pressure CH2=mbar --temperature T1=C

A table of results says of an aged control its age in a column `age days`, and its size only where it
has a leak. Files of a folder are read with everything below it. One file that is refused refuses all, and
nothing is stored (exit code 3), unless --skip-refused leaves it out. What is open is asked for on
a terminal; elsewhere it is an error that names the option. Files beyond 256 MiB, and pipes, are
read piece by piece in flat memory: their runs are shown with their features and not stored. Rig serial and cycle counter are taken from `key: value` lines before the
data, or from columns of a table of results; gaps, doubles and late files become open items.")]
pub struct Import {
    /// Files, folders, or patterns with * and ?.
    #[arg(required = true)]
    paths: Vec<PathBuf>,
    #[command(flatten)]
    choices: Choices,
    /// Benchbook to store the runs in.
    #[arg(long, requires = "case")]
    benchbook: Option<PathBuf>,
    /// Case to which the runs belong.
    #[arg(long, requires = "benchbook")]
    case: Option<String>,
    #[command(flatten)]
    acting: Acting,
}

/// Runs the command.
pub fn run(command: &Import, json: bool) -> Result<Answer, Fault> {
    let named = paths::named(&command.paths)?;
    let sources: Vec<Source> = named.files.into_iter().map(Source::Disk).collect();
    let mut choices = command.choices.clone();
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
    let imported = loop {
        let bar = progress::bar("files", sources.len());
        let imported = work::read_all(&sources, &choices, case, &|| {
            bar.inc(1);
            true
        });
        bar.finish_and_clear();
        let imported = imported?;
        let refused = imported.iter().find(|one| one.file.is_refused());
        let Some(refused) = refused.filter(|_| !json && ask::can_ask()) else { break imported };
        let name = refused.path.display().to_string();
        if !ask::ask(&name, &refused.file.messages, &mut choices.reading) {
            break imported;
        }
    };
    let in_book = stored.as_ref().map(|(book, case)| (book, case));
    let mut checked =
        runtime.block_on(work::check(imported, &choices, named.passed_over, in_book))?;
    let is_stored = stored.is_some() && !checked.is_refused;
    if let (Some((book, case)), true) = (&stored, is_stored) {
        runtime.block_on(async {
            work::keep(book, case, &mut checked).await?;
            book.close().await;
            Ok::<(), Fault>(())
        })?;
    }
    let text = text_of(&checked, is_stored);
    let has_later = !checked.is_refused && !checked.later.is_empty();
    let mut answer = work::answer(&checked, is_stored);
    if has_later && let Some(runs) = answer["runs"].as_array_mut() {
        runs.push(json!(MARK));
    }
    let mut answer = Answer::new(text, answer, std::mem::take(&mut checked.notes));
    if has_later {
        let first = checked.runs.last().map_or(1, |last| u64::from(last.run.number) + 1);
        answer = answer.with_later_runs(checked.later, first);
    }
    Ok(if checked.n_refused > 0 { answer.with_answer_no() } else { answer })
}

fn text_of(checked: &Checked, is_stored: bool) -> String {
    let (imported, runs) = (&checked.imported, &checked.runs);
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
    if checked.is_refused {
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
    if !checked.later.is_empty() {
        text.push_str(MARK);
    }
    text.push_str(if is_stored {
        "\nStored.\n"
    } else {
        "\nShown only: give --benchbook and --case to store the runs.\n"
    });
    text
}

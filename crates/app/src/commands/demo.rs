//! `isobar demo`: the main job on three invented cases, end to end.

use std::path::{Path, PathBuf};

use benchbook::{Benchbook, Certificate, CheckKind, ItemKind};
use clap::Args;
use serde_json::json;
use study::forecast::ForecastSettings;
use study::plan::PlanSettings;
use study::runs::RunClass;
use study::{Case, CaseInput};

use super::forecast::forecast_with_bar;
use super::{files, serve};
use crate::answer::{Answer, optional};
use crate::fault::Fault;
use crate::{clock, paper, progress};

/// The main job on invented cases.
#[derive(Args)]
#[command(after_help = "Example:
  isobar demo --into demo --no-serve")]
pub struct Demo {
    /// Folder for the benchbook, the case files and the reports.
    #[arg(long, default_value = "demo")]
    into: PathBuf,
    /// End after the files are written.
    #[arg(long)]
    no_serve: bool,
    /// Port of the workbench on this machine; 0 takes a free one.
    #[arg(long, default_value_t = 8338)]
    port: u16,
}

/// Seed of the simulated runs: fixed, so that everyone sees the same demo.
const SEED: u64 = 20_261_125;

/// Runs the demo.
pub fn run(command: &Demo, json: bool) -> Result<Option<Answer>, Fault> {
    let runtime = super::serve::runtime()?;
    std::fs::create_dir_all(&command.into)
        .map_err(|error| Fault::cannot_write(&command.into, &error))?;
    let path = free_name(&command.into);
    let (answer, book) = runtime.block_on(build(&command.into, &path))?;
    if command.no_serve {
        // Closing folds everything into the one file.
        runtime.block_on(book.close());
        return Ok(Some(answer));
    }
    answer.print(json);
    runtime.block_on(serve::serve_book(book, &path, command.port, serve::Door::default()))?;
    Ok(None)
}

/// A name for the benchbook that is not taken: an older demo is never
/// written over.
fn free_name(folder: &Path) -> PathBuf {
    let plain = folder.join("demo.benchbook");
    if !plain.exists() {
        return plain;
    }
    (2..)
        .map(|number| folder.join(format!("demo-{number}.benchbook")))
        .find(|path| !path.exists())
        .unwrap_or(plain)
}

async fn build(folder: &Path, path: &Path) -> Result<(Answer, Benchbook), Fault> {
    let book = Benchbook::create(path, &clock::moment()).await?;
    fill_register(&book).await?;
    let mut text = String::from(
        "Three invented cases: no figure is of a real product, instrument or laboratory.\n",
    );
    let mut cases = Vec::new();
    let mut written = vec![path.display().to_string()];
    for input in study::worked_cases::walked() {
        let case = walk(input, &book).await?;
        let case_file = folder.join(format!("{}.toml", case.input.id));
        files::write_whole(&case_file, intake::case_file::write_case(&case.input).as_bytes())?;
        let pdf = folder.join(format!("{}-study.pdf", case.input.id));
        let edition = paper::edition(&book, &case.input.id).await?;
        files::write_whole(&pdf, &paper::pdf_of(&case, &edition)?)?;
        text.push_str(&format!("\n{}\n", "=".repeat(96)));
        text.push_str(&summary(&case));
        for file in [&case_file, &pdf] {
            written.push(file.display().to_string());
        }
        cases.push(case_json(&case));
    }
    text.push_str("\nFiles:\n");
    for file in &written {
        text.push_str(&format!("  {file}\n"));
    }
    Ok((Answer::new(text, json!({ "cases": cases, "files": written }), Vec::new()), book))
}

/// Name of the invented flow standard in the register.
const STANDARD: &str = "invented-flow-1";

/// An invented flow standard and an invented set of positive controls, so that
/// the runs have something to name.
async fn fill_register(book: &Benchbook) -> Result<(), Fault> {
    let at = clock::moment();
    let valid_until = format!("{}-12-31", year_after(&at.utc));
    let certificate = Certificate {
        number: "invented, no certificate".to_owned(),
        issued_by: "nobody: an invented scenario".to_owned(),
        valid_until,
        value: "flows up to 5e-4 Pa·m³/s of air at 20 °C".to_owned(),
        uncertainty: "2 % (k = 2), invented".to_owned(),
    };
    let standard = "adjustable flow standard (invented)";
    book.register_item(STANDARD, ItemKind::FlowStandard, standard, Some((&certificate, None)), &at)
        .await?;
    let controls = "positive controls of all cases, sizes verified by flow (invented)";
    let set = "invented-controls-1";
    book.register_item(set, ItemKind::PositiveControl, controls, None, &at).await?;
    for id in [STANDARD, set] {
        book.check_item(id, CheckKind::Arrival, true, "as stated (invented)", &at).await?;
    }
    Ok(())
}

/// The year after that of a moment, whose text begins with its year.
fn year_after(utc: &str) -> u32 {
    utc.get(..4).and_then(|year| year.parse::<u32>().ok()).map_or(9999, |year| year + 1)
}

/// Walks one case from its profile to its results.
async fn walk(input: CaseInput, book: &Benchbook) -> Result<Case, Fault> {
    let settings = ForecastSettings { seed: SEED, ..Default::default() };
    let id = input.id.clone();
    book.add_case(&input, &clock::moment()).await?;
    let mut case = Case::begin(input);

    let forecast = forecast_with_bar(&case.input, &settings)?;
    book.record_forecast(&id, &forecast, &clock::moment()).await?;
    let method = study::design_method(&case.input, &forecast);
    book.record_method(&id, &method, &clock::moment()).await?;
    let plan = study::plan_runs(
        &case.input,
        &forecast,
        &PlanSettings { seed: SEED, ..Default::default() },
    );
    book.record_plan(&id, &plan, &clock::moment()).await?;

    let bar = progress::bar(&format!("runs {id}"), plan.runs.len());
    let runs = study::simulate_runs(&case.input, &method, &plan, SEED, &|done, _| {
        bar.set_position(done as u64);
    })
    .map_err(|error| Fault::ours(format!("case `{id}`: {error}")));
    bar.finish_and_clear();
    let mut runs = runs?;
    for run in &mut runs {
        if matches!(run.class, RunClass::FlowChallenge { .. }) {
            run.factors.standard = STANDARD.to_owned();
        }
    }
    book.add_runs(&id, &runs, &clock::moment()).await?;
    let results = study::evaluate(&case.input, &method, &runs);
    book.record_results(&id, &results, &clock::moment()).await?;

    case.forecast = Some(forecast);
    case.method = Some(method);
    case.plan = Some(plan);
    case.runs = runs;
    case.results = Some(results);
    Ok(case)
}

fn summary(case: &Case) -> String {
    let mut text = format!("{} ({})\n{}\n\n", case.input.title, case.input.id, case.input.question);
    if let Some(forecast) = &case.forecast {
        text.push_str(&format!(
            "Forecast: {}: {}.\n",
            forecast.verdict.answer.word(),
            forecast.verdict.because
        ));
    }
    if let Some(results) = &case.results {
        if let Some(limit) = &results.reject_limit {
            text.push_str(&format!(
                "Limit: {} Pa from {} negative controls (content {}, confidence {}).\n",
                crate::table_text::digits(limit.limit_pa, 3),
                limit.n,
                limit.content,
                limit.confidence
            ));
        }
        if let Some(detection) = &results.detection {
            text.push_str(&format!(
                "Detection: {} units, a90 {} µm, {} {} µm, separation {}.\n",
                detection.n_units,
                crate::table_text::digits_or_dash(detection.a90_um, 3),
                results.bound_name(),
                crate::table_text::digits_or_dash(detection.a90_95_um, 3),
                detection.separation
            ));
        }
    }
    let claim = case.claim();
    match &claim.sentence {
        Some(sentence) => text.push_str(&format!("Claim: {sentence}\n")),
        None => text.push_str("Claim: none is carried by the evidence.\n"),
    }
    text.push('\n');
    text.push_str(&report::ladder_text::ladder_text(&case.ladder(), 96));
    text
}

fn case_json(case: &Case) -> serde_json::Value {
    let detection = case.results.as_ref().and_then(|results| results.detection.as_ref());
    let limit = case.results.as_ref().and_then(|results| results.reject_limit.as_ref());
    let window = case.forecast.as_ref().map(|forecast| &forecast.window);
    json!({
        "id": case.input.id,
        "title": case.input.title,
        "invented": case.input.invented,
        "verdict": case.forecast.as_ref().map(|forecast| forecast.verdict.answer.word()),
        "smallest_flow_equivalent_um":
            optional(window.and_then(|window| window.smallest).map(|edge| edge.um)),
        "largest_flow_equivalent_um":
            optional(window.and_then(|window| window.largest).map(|edge| edge.um)),
        "runs": case.runs.len(),
        "reject_limit_pa": optional(limit.map(|limit| limit.limit_pa)),
        "a90_flow_equivalent_um": optional(detection.and_then(|d| d.a90_um)),
        "a90_95_flow_equivalent_um": optional(detection.and_then(|d| d.a90_95_um)),
        "claim": case.claim().sentence,
    })
}

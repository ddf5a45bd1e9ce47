//! Pages: one file each. Every page has a twin in JSON.

pub mod benchbook;
pub mod bring_in;
pub mod design;
pub mod edit;
pub mod files;
mod flow_view;
pub mod forecast;
pub mod history;
pub mod import;
pub mod method;
pub mod new_case;
pub mod password;
pub mod people;
pub mod plan;
pub mod profile;
pub mod register;
pub mod report;
pub mod results;
pub mod results_settings;
pub mod review;
pub mod run;
pub mod runs;
pub mod safekeeping;
pub mod sign;
pub mod sign_in;
pub mod units;
pub mod upkeep;
pub mod work;

use ::benchbook::BenchbookError;
use study::{Case, Step};

use super::reply::{Answer, Reply};
use super::workbench::Workbench;
use super::{address, bench, figures, path_view, traces};

/// Answers for something of a case.
pub async fn case_part(
    workbench: &Workbench,
    id: &str,
    part: &str,
    json: bool,
    query: &[(String, String)],
) -> Answer {
    known_case(workbench, id).await?;
    if part.is_empty() && !json {
        return Ok(Reply::Elsewhere(where_it_stands(workbench, id).await?));
    }
    if json && part == "traces" {
        return traces::reply(workbench, id, query).await;
    }
    if json && part == "bench" {
        return bench::reply(without_traces(workbench, id).await?, query).await;
    }
    if json && let Some(name) = part.strip_prefix("figures/") {
        return figures::reply(&without_traces(workbench, id).await?, name);
    }
    match part {
        "sign" => return sign::reply(workbench, id, json, query).await,
        "items" if !json => {
            return Ok(Reply::Elsewhere(format!("{}#items", address::of_case(id, "sign"))));
        }
        "items" => return sign::reply(workbench, id, json, query).await,
        "review" => return review::reply(workbench, id, json).await,
        "edit" => return edit::reply(workbench, id, json, query).await,
        "case.toml" if !json => return edit::case_file(workbench, id).await,
        "plan" => return plan::reply(workbench, id, json, query).await,
        "run_sheet.csv" | "labels.html" | "key.csv" | "criteria.txt" if !json => {
            return plan::sheet(workbench, id, part).await;
        }
        "files" => return files::reply(workbench, id, json, query).await,
        "runs.xlsx" if !json => return files::workbook(workbench, id).await,
        "archive.zip" if !json => return files::archive(workbench, id).await,
        "copy.benchbook" if !json => return bring_in::alone(workbench, id).await,
        "design" => return design::reply(workbench, id, json, query).await,
        "import" => return import::reply(workbench, id, json, query).await,
        "units" => return units::reply(workbench, id, json, query).await,
        _ => {}
    }
    if let Some(sha256) = part.strip_prefix("files/").filter(|_| !json) {
        return files::file(workbench, id, sha256).await;
    }
    if let Some(number) = part.strip_prefix("run/") {
        return run::reply(workbench, id, number, json).await;
    }
    let shown = part.strip_prefix("shown/").and_then(|name| name.strip_suffix(".pdf"));
    if let Some(sha256) = shown.filter(|_| !json) {
        return sign::shown_report(workbench, id, sha256);
    }
    if !json && part == "report.pdf" {
        return report::pdf(workbench, id, query).await;
    }
    let named = part.strip_suffix(".pdf").and_then(::report::DocumentName::from_word);
    if !json && let Some(name) = named {
        return report::document(workbench, id, name, query).await;
    }
    let Some(step) = path_view::step_of(part) else {
        return Err(Reply::missing(
            format!("case `{id}` has no page `{part}`"),
            "open the step where the case stands",
            where_it_stands(workbench, id).await?,
        ));
    };
    step_reply(workbench, id, step, json, query).await
}

/// Goes on where there is a case of this name, or gives a page that says there
/// is none.
pub async fn known_case(workbench: &Workbench, id: &str) -> Result<(), Reply> {
    match workbench.benchbook.newest_event(id).await {
        Ok(_) => Ok(()),
        Err(BenchbookError::UnknownCase { .. }) => Err(Reply::missing(
            format!("this benchbook has no case `{id}`"),
            "choose one of the cases it has",
            "/",
        )),
        Err(error) => Err(Reply::failed(&error)),
    }
}

/// Address of the step where a case stands.
async fn where_it_stands(workbench: &Workbench, id: &str) -> Result<String, Reply> {
    let next = without_traces(workbench, id).await?.next_step();
    Ok(address::of_case(id, path_view::part(next)))
}

async fn step_reply(
    workbench: &Workbench,
    id: &str,
    step: Step,
    json: bool,
    query: &[(String, String)],
) -> Answer {
    // The report composes figures from traces; the other pages need none.
    let case = if step == Step::Report {
        with_traces(workbench, id).await?
    } else {
        without_traces(workbench, id).await?
    };
    if json {
        return Ok(Reply::Json(match step {
            Step::Profile => profile::twin(&case),
            Step::Forecast => forecast::twin(&case),
            Step::Method => method::twin(&case),
            Step::Runs => runs::twin(&case),
            Step::Results => results::twin(&case),
            Step::Report => report::twin(workbench, &case).await?,
            Step::Upkeep => upkeep::twin(&case),
        }));
    }
    let head = work::head(workbench, id, step, query).await?;
    Ok(Reply::Page(match step {
        Step::Profile => profile::page(workbench, &case, head),
        Step::Forecast => forecast::page(workbench, &case, head),
        Step::Method => method::page(workbench, &case, head),
        Step::Runs => {
            let shown = traces::chosen_or_first(&case, query);
            let runs = traces::load(workbench, id, &shown).await?;
            runs::page(workbench, &case, query, &runs, head)
        }
        Step::Results => results::page(workbench, &case, head),
        Step::Report => report::page(workbench, &case, head).await?,
        Step::Upkeep => upkeep::page(workbench, &case),
    }))
}

/// A case whose runs carry no samples.
async fn without_traces(workbench: &Workbench, id: &str) -> Result<Case, Reply> {
    let read = workbench.case_without_traces(id).await.map_err(|error| Reply::failed(&error))?;
    Ok(read.as_ref().clone())
}

/// A case with everything.
pub async fn with_traces(workbench: &Workbench, id: &str) -> Result<Case, Reply> {
    workbench.benchbook.case(id).await.map_err(|error| Reply::failed(&error))
}

//! One run: its trace, what is read from it, and the causes of its rise stacked
//! on each other with what they leave.

use maud::{Markup, PreEscaped, html};
use serde_json::json;
use study::forensics::{Circumstances, Findings, RiseSpan, explain};
use study::runs::{Run, RunOrigin};
use study::{Case, Step};

use super::report::apart;
use super::{runs, without_traces};
use crate::commands::examine::answer::findings_json;
use crate::commands::examine::figure::panels_of;
use crate::web::frame::{self, CasePage};
use crate::web::notes_view::notes;
use crate::web::reply::{Answer, Reply};
use crate::web::sheet::{Line, sheet, table};
use crate::web::wording::{shown, three, three_or};
use crate::web::workbench::Workbench;
use crate::web::{address, traces};

/// Where a run is shown.
pub fn link(id: &str, number: u32) -> String {
    address::of_case(id, &format!("run/{number}"))
}

/// The page of a run, or its twin.
pub async fn reply(workbench: &Workbench, id: &str, number: &str, is_json: bool) -> Answer {
    let case = without_traces(workbench, id).await?;
    let place = case.runs.iter().position(|run| run.number.to_string() == number);
    let Some(place) = place else {
        return Err(Reply::missing(
            format!("case `{id}` has no run {number}"),
            "choose one of its list",
            address::of_case(id, "runs"),
        ));
    };
    let of_run = traces::load(workbench, id, &[case.runs[place].number]).await?;
    let Some(run) = of_run.into_iter().next() else {
        return Err(Reply::Failed(format!("run {number} was lost")));
    };
    let about = Circumstances::of(&case.input);
    let (run, found) = apart(move || {
        let found = causes(&run, &about);
        (run, found)
    })
    .await?;
    if is_json {
        let mut twin = runs::run_twin(&run);
        twin["case"] = json!(id);
        twin["causes"] = findings_json(found.as_ref().ok());
        twin["no_causes_because"] = json!(found.as_ref().err());
        return Ok(Reply::Json(twin));
    }
    Ok(Reply::Page(page(workbench, &case, place, &run, &found)))
}

/// Why the pressure rose, or why that cannot be said.
fn causes(run: &Run, about: &Circumstances) -> Result<Findings, String> {
    let tier = run.features.as_ref().map_or(1, |features| features.tier);
    let span = RiseSpan::of_tier(&run.trace, tier)
        .ok_or_else(|| "the run has no trace with a measure stage".to_owned())?;
    explain(&run.trace, &span, about).map_err(|reason| reason.to_string())
}

fn page(
    workbench: &Workbench,
    case: &Case,
    place: usize,
    run: &Run,
    found: &Result<Findings, String>,
) -> Markup {
    let id = &case.input.id;
    let this = CasePage { case, step: Step::Runs, has_plots: true, ladder_beside: false };
    let beside = |at: Option<usize>| at.and_then(|at| case.runs.get(at)).map(|run| run.number);
    let content = html! {
        p.bar {
            a href={ (address::of_case(id, "runs")) "#list" } { "Every run" }
            @if let Some(before) = beside(place.checked_sub(1)) {
                a href=(link(id, before)) { "Run before" }
            }
            @if let Some(after) = beside(Some(place + 1)) {
                a href=(link(id, after)) { "Run after" }
            }
        }
        h2 { "Run " (shown(&traces::label(run))) }
        @match found {
            Ok(findings) => { (causes_view(run, findings)) }
            Err(why) => {
                section.answer aria-label="Causes" {
                    p.label { "Why did the pressure rise?" }
                    p.big { "cannot be said" }
                    p { (shown(why)) "." }
                }
            }
        }
        @if run.trace.n_samples() > 0 { (traces::view(case, std::slice::from_ref(run))) }
        (facts(run))
    };
    frame::case_page(workbench, &this, content)
}

fn causes_view(run: &Run, findings: &Findings) -> Markup {
    let rows: Vec<Vec<String>> = findings
        .terms
        .iter()
        .map(|term| {
            let others: Vec<&str> = term.could_also_be.iter().map(|cause| cause.word()).collect();
            vec![
                term.cause.word().to_owned(),
                three(term.rise_pa),
                term.share.map(|share| three(100.0 * share)).unwrap_or_default(),
                three_or(term.time_s, ""),
                others.join(", "),
            ]
        })
        .collect();
    html! {
        section.answer aria-label="Causes" {
            p.label { "Why did the pressure rise?" }
            p.big { (findings.verdict.words()) }
            p { (shown(&findings.sentence)) }
            @if !findings.next_step.is_empty() {
                p.next { span { "Next" } " " (shown(findings.next_step.trim_end_matches('.'))) "." }
            }
        }
        @for panel in panels_of(&traces::label(run), findings, 1) {
            figure.plot {
                div.plot-still {
                    @match report::figure::svg(&panel) {
                        Ok(svg) => (PreEscaped(svg)),
                        Err(error) => p { "This figure cannot be drawn: " (error.to_string()) "." },
                    }
                }
                figcaption { strong { (shown(&panel.title)) "." } " " (shown(&panel.caption)) }
            }
        }
        @if !rows.is_empty() {
            (table(
                "Causes of the rise, the largest first",
                &["Cause", "#Rise (Pa)", "#Share (%)", "#Time (s)", "Could also be"],
                &rows,
            ))
        }
        (notes("Notes", &findings.notes))
    }
}

fn facts(run: &Run) -> Markup {
    let features = run.features.as_ref();
    let or_none = |name: &'static str, value: Option<f64>, unit: &'static str| match value {
        Some(value) => Line::number(name, value, unit),
        None => Line::words(name, "not read"),
    };
    let or_dash = |text: &str| if text.is_empty() { "-".to_owned() } else { shown(text) };
    let origin = match &run.origin {
        RunOrigin::Imported { file, .. } => format!("imported from {}", shown(file)),
        RunOrigin::Simulated { seed } => format!("simulated with seed {seed}"),
    };
    html! {
        (sheet("What is read from this run", &[
            Line::words("Unit", &shown(&run.unit)),
            Line::words("Class", run.class.word()),
            Line::words("Size", &runs::size(run.class)),
            Line::words("Day", &run.day.to_string()),
            Line::words("Operator", &or_dash(&run.factors.operator)),
            Line::words("Rig", &or_dash(&run.factors.rig)),
            Line::words("Lot", &or_dash(&run.factors.lot)),
            Line::words("Leak", &or_dash(&run.factors.leak_words())),
            Line::words("Ended", &shown(&run.ended.words())),
            or_none("Reached", features.and_then(|f| f.reach_pa), "Pa"),
            or_none("Rise", features.map(|f| f.rise_pa), "Pa"),
            or_none("Slope", features.and_then(|f| f.slope_pa_per_s), "Pa/s"),
            or_none("Noise", features.and_then(|f| f.noise_pa), "Pa"),
            Line::words("Origin", &origin),
        ]))
    }
}

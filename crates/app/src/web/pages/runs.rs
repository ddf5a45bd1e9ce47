//! Runs: which units, how many, in which order, and what happened. The trace
//! view overlays any of them.

use benchbook::Action;
use maud::{Markup, html};
use serde_json::{Value, json};
use study::runs::{Run, RunClass, RunOrigin};
use study::{Case, Step};

use super::{import, run};
use crate::answer::{number, optional};
use crate::web::frame::{self, CasePage};
use crate::web::wording::{counted, shown, three, three_or};
use crate::web::workbench::Workbench;
use crate::web::{address, traces};

/// Rows on one page.
const ON_ONE_PAGE: usize = 300;

/// The page; `loaded` are the runs of the trace view with their samples.
pub fn page(
    workbench: &Workbench,
    case: &Case,
    query: &[(String, String)],
    loaded: &[Run],
    head: Markup,
) -> Markup {
    let this =
        CasePage { case, step: Step::Runs, has_plots: !case.runs.is_empty(), ladder_beside: false };
    let content = if case.runs.is_empty() {
        html! {
            (frame::not_yet(
                "No runs yet",
                "Runs are tests of blanks, negative controls and positive controls in the order \
                 of the plan.",
                None,
            ))
            (import_form(workbench, case))
        }
    } else {
        html! {
            (content(case, query, loaded))
            (import_form(workbench, case))
        }
    };
    let content = html! {
        (head)
        p.bar { (plan_link(case)) a href="#import" { "Import runs" }
            a href=(address::of_case(&case.input.id, "units")) { "Records of units" }
            a href=(address::of_case(&case.input.id, "files")) { "Files" }
        }
        (content)
    };
    frame::case_page(workbench, &this, content)
}

fn plan_link(case: &Case) -> Markup {
    let link = address::of_case(&case.input.id, "plan");
    html! {
        a href=(link) {
            @match &case.plan {
                Some(plan) => { "The plan: " (counted(plan.runs.len(), "run")) }
                None => { "Plan the study" }
            }
        }
    }
}

fn import_form(workbench: &Workbench, case: &Case) -> Markup {
    html! {
        @if workbench.may(Action::AddRuns) { (import::send_form(workbench, &case.input.id)) }
    }
}

fn content(case: &Case, query: &[(String, String)], loaded: &[Run]) -> Markup {
    let filter = Filter::of(query);
    let kept: Vec<&Run> = case.runs.iter().filter(|run| filter.keeps(run)).collect();
    let from = address::number(query, "from").map_or(0, |from| from.max(0.0) as usize);
    let rows: Vec<&Run> = kept.iter().skip(from).take(ON_ONE_PAGE).copied().collect();
    let link = address::of_case(&case.input.id, "runs");
    html! {
        (summary(case))
        (traces::view(case, loaded))
        section #list {
            h2 { "Every run" }
            (filter.form(&link, &days(case)))
            form method="get" action=(link) {
                (filter.hidden())
                p.bar {
                    span.quiet role="status" { (counted(kept.len(), "run")) " of " (case.runs.len()) "." }
                    " "
                    button type="submit" { "Show the ticked traces" }
                    button.plain.needs-script type="button" data-tick="none" { "Untick all" }
                    button.plain.needs-script type="button" data-tick="all" { "Tick all in the list" }
                }
                div.scroll.tall tabindex="0" role="region" aria-label="Runs" {
                    (list(&case.input.id, &rows, loaded))
                }
                @if kept.len() > from + ON_ONE_PAGE {
                    p.next { a href={ (link) "?from=" (from + ON_ONE_PAGE) (filter.as_query()) "#list" } { "Further runs" } }
                }
            }
        }
    }
}

fn summary(case: &Case) -> Markup {
    let of = |word: &str| case.runs.iter().filter(|run| run.class.word() == word).count();
    let simulated = case.runs.iter().find_map(|run| match run.origin {
        RunOrigin::Simulated { seed } => Some(seed),
        _ => None,
    });
    html! {
        p.lead {
            (counted(case.runs.len(), "run")) " on " (counted(days(case).len(), "day")) ": "
            (counted(of("blank"), "blank")) ", "
            (counted(of("flow challenge"), "flow challenge")) ", "
            (counted(of("negative control"), "negative control")) ", "
            (counted(of("positive control"), "positive control")) "."
            @if let Some(seed) = simulated { " Simulated with seed " (seed) "." }
        }
    }
}

fn days(case: &Case) -> Vec<u32> {
    let days: std::collections::BTreeSet<u32> = case.runs.iter().map(|run| run.day).collect();
    days.into_iter().collect()
}

fn list(id: &str, rows: &[&Run], loaded: &[Run]) -> Markup {
    html! {
        table.list.runs {
            caption { "Runs in the order of the plan" }
            thead { tr {
                th scope="col" { "Trace" }
                th.num scope="col" { "No." }
                th scope="col" { "Unit" }
                th scope="col" { "Class" }
                th.num scope="col" { "Size (µm)" }
                th.num scope="col" { "Day" }
                th scope="col" { "Lot" }
                th scope="col" { "Rig" }
                th.num scope="col" { "Reached (Pa)" }
                th.num scope="col" { "Rise (Pa)" }
                th.num scope="col" { "Slope (Pa/s)" }
                th.num scope="col" { "Noise (Pa)" }
                th scope="col" { "Ended" }
            } }
            tbody {
                @for run in rows {
                    @let features = run.features.as_ref();
                    tr {
                        td {
                            input type="checkbox" name="run" value=(run.number)
                                aria-label={ "Trace of run " (run.number) }
                                checked[loaded.iter().any(|shown| shown.number == run.number)];
                        }
                        th.num scope="row" {
                            a href=(run::link(id, run.number)) aria-label={ "Run " (run.number) ", causes of its rise" } { (run.number) }
                        }
                        td { (shown(&run.unit)) }
                        td { (run.class.word()) }
                        td.num { (size(run.class)) }
                        td.num { (run.day) }
                        td { (shown(&run.factors.lot)) }
                        td { (shown(&run.factors.rig)) }
                        td.num { (three_or(features.and_then(|f| f.reach_pa), "")) }
                        td.num { (three_or(features.map(|f| f.rise_pa), "")) }
                        td.num { (three_or(features.and_then(|f| f.slope_pa_per_s), "")) }
                        td.num { (three_or(features.and_then(|f| f.noise_pa), "")) }
                        td { (shown(&run.ended.words())) }
                    }
                }
            }
        }
    }
}

/// The size of what a run holds, with a unit where it is no diameter.
pub fn size(class: RunClass) -> String {
    match class.flow_pa_m3_per_s() {
        Some(flow) => format!("{} Pa·m³/s", three(flow)),
        None => class.size_um().map(three).unwrap_or_default(),
    }
}

/// Which runs are listed.
struct Filter {
    class: String,
    day: Option<u32>,
}

impl Filter {
    fn of(query: &[(String, String)]) -> Self {
        Self {
            class: address::value(query, "class").unwrap_or_default().to_owned(),
            day: address::value(query, "day").and_then(|day| day.parse().ok()),
        }
    }

    fn keeps(&self, run: &Run) -> bool {
        (self.class.is_empty() || run.class.word() == self.class)
            && self.day.is_none_or(|day| run.day == day)
    }

    fn form(&self, link: &str, days: &[u32]) -> Markup {
        html! {
            form.filter method="get" action={ (link) "#list" } {
                label for="class" { "Class" }
                select #class name="class" {
                    option value="" { "every class" }
                    @for class in ["blank", "flow challenge", "negative control", "positive control", "aged control"] {
                        option value=(class) selected[self.class == class] { (class) }
                    }
                }
                label for="day" { "Day" }
                select #day name="day" {
                    option value="" { "every day" }
                    @for day in days {
                        option value=(day) selected[self.day == Some(*day)] { (day) }
                    }
                }
                button type="submit" { "List these" }
            }
        }
    }

    fn hidden(&self) -> Markup {
        html! {
            input type="hidden" name="class" value=(shown(&self.class));
            @if let Some(day) = self.day { input type="hidden" name="day" value=(day); }
        }
    }

    fn as_query(&self) -> String {
        let day = self.day.map(|day| format!("&day={day}")).unwrap_or_default();
        format!("&class={}{day}", address::encoded(&self.class))
    }
}

/// Its twin.
pub fn twin(case: &Case) -> Value {
    json!({
        "case": case.input.id,
        "runs": case.runs.iter().map(run_twin).collect::<Value>(),
        "traces": address::of_case(&case.input.id, "traces.json"),
    })
}

/// A run as data.
pub fn run_twin(run: &Run) -> Value {
    let (nominal, verified) = match run.class {
        RunClass::PositiveControl { nominal_um, verified_um } => (Some(nominal_um), verified_um),
        RunClass::AgedControl { nominal_um, .. } => (nominal_um, None),
        _ => (None, None),
    };
    json!({
        "number": run.number,
        "unit": run.unit,
        "class": run.class.word(),
        "nominal_flow_equivalent_um": optional(nominal),
        "verified_flow_equivalent_um": optional(verified),
        "flow_pa_m3_per_s": optional(run.class.flow_pa_m3_per_s()),
        "day": run.day,
        "operator": run.factors.operator,
        "rig": run.factors.rig,
        "lot": run.factors.lot,
        "side": run.factors.side.map(study::run_factors::LeakSide::word),
        "defect": run.factors.defect,
        "standard": run.factors.standard,
        "ended": run.ended.words(),
        "features": run.features.as_ref().map(|f| json!({
            "tier": f.tier,
            "reach_pa": optional(f.reach_pa),
            "rise_pa": number(f.rise_pa),
            "slope_pa_per_s": optional(f.slope_pa_per_s),
            "slope_standard_error_pa_per_s": optional(f.slope_standard_error),
            "noise_pa": optional(f.noise_pa),
            "samples": f.n_samples,
        })),
        "simulated": matches!(run.origin, RunOrigin::Simulated { .. }),
    })
}

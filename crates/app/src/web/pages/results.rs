//! Results: what the runs prove, and the claim they carry.

use benchbook::Action;
use maud::{Markup, html};
use serde_json::{Value, json};
use study::claim::{Claim, ClaimPart, RestsOn};
use study::results::{Detection, KindRow, RejectLimit, SignalDetection};
use study::run_factors::LeakSide;
use study::runs::Run;
use study::{Case, Results, Step};

use super::{flow_view, results_settings, work};
use crate::answer::{notes_json, number, optional};
use crate::web::figures::{self, placed};
use crate::web::frame::{self, CasePage};
use crate::web::sheet::{Line, sheet, table};
use crate::web::wording::{counted, plain, shown, three, three_or};
use crate::web::workbench::Workbench;
use crate::web::{address, ladder_view, notes_view};

/// The page.
pub fn page(workbench: &Workbench, case: &Case, head: Markup) -> Markup {
    let this = CasePage {
        case,
        step: Step::Results,
        has_plots: case.results.is_some(),
        ladder_beside: true,
    };
    let content = match &case.results {
        None => frame::not_yet(
            "No results yet",
            "Results come from the runs: the reject limit from negative controls, detection from \
             positive controls, each with its bound.",
            None,
        ),
        Some(results) => content(case, results),
    };
    let content = html! {
        (head)
        (content)
        @if workbench.may(Action::Work) { (results_settings::form(workbench, case)) }
        (work::form_of_step(workbench, case, Step::Results))
    };
    frame::case_page(workbench, &this, content)
}

fn content(case: &Case, results: &Results) -> Markup {
    let accounting = &results.accounting;
    html! {
        (claim(case, &case.claim()))
        section {
            h2 #limit { "Reject limit" }
            @match &results.reject_limit {
                Some(limit) => (reject_limit(case, limit)),
                None => { p { "No reject limit can be said from these runs; the notes below name \
                               what is missing." } }
            }
        }
        section {
            h2 #detection { "Detection" }
            @if let Some(found) = &results.signal { (signal(case, found)) }
            @match &results.detection {
                Some(detection) => (self::detection(case, detection)),
                None => { p { "Detection cannot be said from these runs; the notes below name what \
                               is missing." } }
            }
            (by_kind(case, &results.by_kind))
        }
        (flow_view::section(results))
        section {
            h2 { "Every run accounted for" }
            (sheet("Runs behind these results", &[
                Line::words("Method version", &results.method_version.to_string()),
                Line::count("Runs", accounting.runs),
                Line::count("Blanks (never set the limit)", accounting.blanks),
                Line::count("Flow challenges (calibrate the reading)", accounting.flow_challenges),
                Line::count("Negative controls", accounting.negative_controls),
                Line::count("Positive controls", accounting.positive_controls),
                Line::count("Runs of aged controls", accounting.aged_controls),
                Line::count("Ended by a reach limit (censored)", accounting.ended_by_limit),
                Line::count("Aborted (missing)", accounting.aborted),
            ]))
        }
        (notes_view::notes("Notes", &results.notes))
        p.next {
            span { "Next" } " "
            a href=(address::of_case(&case.input.id, "report")) { "read the report" }
        }
    }
}

/// The sentence, each number leading to what it rests on.
fn linked(case: &Case, parts: &[ClaimPart]) -> Markup {
    let target = |rests_on| match rests_on {
        RestsOn::Method => address::of_case(&case.input.id, "method"),
        RestsOn::Readings | RestsOn::HitsAndMisses => "#detection".to_owned(),
        RestsOn::NegativeControls => "#limit".to_owned(),
        RestsOn::Rig => address::of_case(&case.input.id, "profile"),
    };
    html! {
        @for part in parts {
            @match part.rests_on {
                Some(rests_on) => a href=(target(rests_on)) { (shown(&part.text)) },
                None => (shown(&part.text)),
            }
        }
    }
}

/// The runs behind a figure, each leading to its trace.
fn runs_behind(case: &Case, what: &str, of: &[(String, Vec<u32>)]) -> Markup {
    html! {
        details {
            summary { (what) }
            table.list {
                tbody {
                    @for (name, numbers) in of {
                        tr {
                            th scope="row" { (name) }
                            td {
                                @for (place, number) in numbers.iter().enumerate() {
                                    @if place > 0 { ", " }
                                    a href=(address::of_case(&case.input.id, &format!("run/{number}"))) {
                                        (number)
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Numbers of the runs of which this holds.
fn numbers(case: &Case, holds: impl Fn(&Run) -> bool) -> Vec<u32> {
    case.runs.iter().filter(|run| holds(run)).map(|run| run.number).collect()
}

fn claim(case: &Case, claim: &Claim) -> Markup {
    html! {
        section.answer aria-label="Claim" {
            p.label { "What these results let you claim" }
            @if claim.parts.is_empty() {
                p.big { "nothing yet" }
            } @else {
                p.claim { (linked(case, &claim.parts)) }
            }
            @if !claim.not_covered.is_empty() {
                p.label { "Not covered" }
                ul { @for item in &claim.not_covered { li { (shown(item)) } } }
            }
            (notes_view::notes("Refusals", &claim.refusals))
        }
    }
}

fn reject_limit(case: &Case, limit: &RejectLimit) -> Markup {
    let days: Vec<Vec<String>> = limit
        .by_day
        .iter()
        .map(|day| {
            vec![
                day.day.to_string(),
                day.n.to_string(),
                three(day.mean_pa),
                three_or(day.standard_deviation_pa, "one unit"),
            ]
        })
        .collect();
    let lots: Vec<Vec<String>> = limit
        .by_lot
        .iter()
        .map(|lot| {
            vec![
                shown(&lot.lot),
                lot.n.to_string(),
                three(lot.mean_pa),
                three_or(lot.standard_deviation_pa, "one unit"),
            ]
        })
        .collect();
    html! {
        p {
            "A unit whose pressure rises by more than "
            strong { (three(limit.limit_pa)) " Pa" }
            " in the measure stage is rejected. At " (plain(limit.confidence * 100.0))
            " % confidence, at least " (plain(limit.content * 100.0))
            " % of good units stay below it."
        }
        (placed(case, figures::RESULTS_RISES))
        (sheet("How the limit was set", &[
            Line::number("Reject limit", limit.limit_pa, "Pa"),
            Line::words("Method", &limit.method),
            Line::count("Negative controls", limit.n),
            Line::number("Mean rise", limit.mean_pa, "Pa"),
            Line::number("Standard deviation", limit.standard_deviation_pa, "Pa"),
            Line::number("Tolerance factor", limit.factor, ""),
            Line::set("Content", limit.content * 100.0, "%"),
            Line::set("Confidence", limit.confidence * 100.0, "%"),
        ]))
        (table("Negative controls by day", &["#Day", "#Units", "#Mean rise (Pa)", "#SD (Pa)"], &days))
        (runs_behind(case, "The runs behind each day", &limit.by_day.iter().map(|day| {
            (format!("day {}", day.day), numbers(case, |run| run.is_behind_day(day.day)))
        }).collect::<Vec<_>>()))
        @if !lots.is_empty() {
            (table("Negative controls by lot", &["Lot", "#Units", "#Mean rise (Pa)", "#SD (Pa)"], &lots))
        }
    }
}

fn detection(case: &Case, detection: &Detection) -> Markup {
    let rows: Vec<Vec<String>> = detection
        .by_size
        .iter()
        .map(|row| {
            vec![
                three(row.nominal_um),
                format!("{} of {}", row.hits, row.of),
                report::number::percent(row.lower, 1),
            ]
        })
        .collect();
    let confidence = plain(case.input.profile.purpose.confidence.percent());
    let exact = format!("#At least, exact, {confidence} % one-sided");
    let micrometres = |name: &str, value: Option<f64>| match value {
        Some(value) => Line::number(name, value, "µm"),
        None => Line::words(name, "not estimable from these units"),
    };
    html! {
        (placed(case, figures::RESULTS_DETECTION))
        (sheet("Sizes found (flow-equivalent diameter)", &[
            micrometres("Found with probability 0.5 (a50)", detection.a50_um),
            micrometres("Found with probability 0.9 (a90)", detection.a90_um),
            micrometres(&bound_words(case), detection.a90_95_um),
            Line::words(
                "Method of that bound",
                detection.a90_95_method.as_deref().unwrap_or("not stated in this record"),
            ),
            Line::words("Largest missed, smallest found", &detection.bracket_um.map_or_else(
                || "not defined".to_owned(),
                |(missed, found)| format!("{} µm missed, {} µm found", three(missed), three(found)),
            )),
            Line::words("Units", &counted(detection.n_units, "positive control")),
            Line::words("Link", &detection.link),
            Line::words("Separation", &detection.separation),
            Line::number("Judged with the limit", detection.limit_pa, "Pa"),
        ]))
        (table("Hits by nominal size", &["#Size (µm)", "#Found", &exact], &rows))
        (runs_behind(case, "The runs behind each size", &detection.by_size.iter().map(|row| {
            let behind = numbers(case, |run| run.is_behind_size(row.nominal_um));
            (format!("{} µm", three(row.nominal_um)), behind)
        }).collect::<Vec<_>>()))
    }
}

/// Positive controls by side and type of their leak; nothing where all are of
/// one kind.
fn by_kind(case: &Case, rows: &[KindRow]) -> Markup {
    let confidence = plain(case.input.profile.purpose.confidence.percent());
    let exact = format!("#At least, exact, {confidence} % one-sided");
    let or_not = |text: &str| if text.is_empty() { "not said".to_owned() } else { shown(text) };
    let rows: Vec<Vec<String>> = rows
        .iter()
        .map(|row| {
            vec![
                or_not(row.side.map_or("", LeakSide::word)),
                or_not(&row.defect),
                three(row.nominal_um),
                format!("{} of {}", row.hits, row.of),
                report::number::percent(row.lower, 1),
            ]
        })
        .collect();
    html! {
        @if !rows.is_empty() {
            (table(
                "Positive controls by side and type of their leak",
                &["Side", "Type", "#Size (µm)", "#Found", &exact],
                &rows,
            ))
            p.quiet {
                "Leaks under the liquid are sized by the flow of the dry hole; they enter no curve \
                 and no criterion."
            }
        }
    }
}

/// The bound with the confidence at which it was taken.
fn bound_words(case: &Case) -> String {
    case.results.as_ref().map_or_else(String::new, Results::bound_words)
}

fn signal(case: &Case, signal: &SignalDetection) -> Markup {
    let size = |name: &str, value: Option<f64>| match value {
        Some(value) => Line::number(name, value, "µm"),
        None => Line::words(name, "not estimable from these units"),
    };
    let (read, below, above) = signal.read_below_above;
    html! {
        (placed(case, report::signal_figure::NAME))
        (sheet("Readings against size (flow-equivalent diameter)", &[
            size("Found with probability 0.5 (a50)", signal.a50_um),
            size("Found with probability 0.9 (a90)", signal.a90_um),
            size(&bound_words(case), signal.a90_95_um),
            Line::words("Method of that bound", &signal.a90_95_method),
            Line::words("Units", &counted(signal.units, "positive control")),
            Line::words(
                "Readings",
                &format!(
                    "{read} read, {below} below the floor, {above} only known to lie above"
                ),
            ),
            Line::number("Floor of a reading, over the blank", signal.floor_pa, "Pa"),
            Line::number("Blank taken off", signal.blank_pa, "Pa"),
            Line::number("Threshold over the blank", signal.threshold_pa, "Pa"),
            Line::number("ln net rise at 1 µm", signal.intercept, ""),
            Line::number("Growth of ln net rise with ln size", signal.slope, ""),
            Line::number("Scatter of ln net rise, middle of the sizes", signal.scatter, ""),
            Line::words("What was checked", if signal.line_holds {
                "nothing speaks against the line"
            } else {
                "the line is doubtful; see the notes"
            }),
        ]))
    }
}

fn signal_twin(signal: &SignalDetection) -> Value {
    let (read, below, above) = signal.read_below_above;
    json!({
        "blank_pa": number(signal.blank_pa),
        "threshold_pa": number(signal.threshold_pa),
        "floor_pa": number(signal.floor_pa),
        "intercept": number(signal.intercept),
        "slope": number(signal.slope),
        "scatter": number(signal.scatter),
        "a50_um": optional(signal.a50_um),
        "a90_um": optional(signal.a90_um),
        "a90_95_um": optional(signal.a90_95_um),
        "a90_95_method": signal.a90_95_method,
        "units": signal.units,
        "read": read, "below": below, "above": above,
        "line_holds": signal.line_holds,
        "curve": signal.curve.iter().map(|&(um, p)| json!({
            "um": number(um), "probability": number(p),
        })).collect::<Value>(),
    })
}

/// Its twin.
pub fn twin(case: &Case) -> Value {
    let claim = case.claim();
    let claim = json!({
        "sentence": claim.sentence,
        "size_flow_equivalent_um": optional(claim.size_um),
        "probability": optional(claim.probability),
        "not_covered": claim.not_covered,
        "refusals": notes_json(&claim.refusals),
    });
    let Some(results) = &case.results else {
        return json!({ "case": case.input.id, "results": null, "claim": claim });
    };
    let accounting = &results.accounting;
    json!({
        "case": case.input.id,
        "method_version": results.method_version,
        "runs": {
            "all": accounting.runs, "blanks": accounting.blanks,
            "negative_controls": accounting.negative_controls,
            "positive_controls": accounting.positive_controls,
            "flow_challenges": accounting.flow_challenges,
            "aged_controls": accounting.aged_controls,
            "ended_by_limit": accounting.ended_by_limit, "aborted": accounting.aborted,
        },
        "reject_limit": results.reject_limit.as_ref().map(limit_twin),
        "detection": results.detection.as_ref().map(detection_twin),
        "signal": results.signal.as_ref().map(signal_twin),
        "by_kind": results.by_kind.iter().map(|row| json!({
            "side": row.side.map(LeakSide::word), "defect": row.defect,
            "nominal_um": number(row.nominal_um), "hits": row.hits, "of": row.of,
            "one_sided_lower": number(row.lower),
        })).collect::<Value>(),
        "flow_calibration": results.flow_calibration.as_ref().map(flow_view::twin),
        "claim": claim,
        "notes": notes_json(&results.notes),
        "ladder": ladder_view::twin(&case.ladder()),
    })
}

fn limit_twin(limit: &RejectLimit) -> Value {
    json!({
        "limit_pa": number(limit.limit_pa),
        "method": limit.method,
        "n": limit.n,
        "mean_pa": number(limit.mean_pa),
        "standard_deviation_pa": number(limit.standard_deviation_pa),
        "factor": number(limit.factor),
        "content": number(limit.content),
        "confidence": number(limit.confidence),
        "by_day": limit.by_day.iter().map(|day| json!({
            "day": day.day, "n": day.n, "mean_pa": number(day.mean_pa),
            "standard_deviation_pa": optional(day.standard_deviation_pa),
        })).collect::<Value>(),
        "by_lot": limit.by_lot.iter().map(|lot| json!({
            "lot": lot.lot, "n": lot.n, "mean_pa": number(lot.mean_pa),
            "standard_deviation_pa": optional(lot.standard_deviation_pa),
        })).collect::<Value>(),
    })
}

fn detection_twin(detection: &Detection) -> Value {
    json!({
        "limit_pa": number(detection.limit_pa),
        "link": detection.link,
        "separation": detection.separation,
        "a50_um": optional(detection.a50_um),
        "a90_um": optional(detection.a90_um),
        "a90_95_um": optional(detection.a90_95_um),
        "a90_95_method": detection.a90_95_method,
        "n_units": detection.n_units,
        "by_size": detection.by_size.iter().map(|row| json!({
            "nominal_um": number(row.nominal_um), "hits": row.hits, "of": row.of,
            "one_sided_lower": number(row.lower),
        })).collect::<Value>(),
        "curve": detection.curve.iter().map(|&(um, p, lower)| json!({
            "um": number(um), "probability": number(p), "lower": optional(lower),
        })).collect::<Value>(),
    })
}

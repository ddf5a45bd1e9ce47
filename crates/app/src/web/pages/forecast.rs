//! Forecast: can vacuum decay see the leak, from how small to how large, and
//! why not?

use maud::{Markup, PreEscaped, html};
use serde_json::Value;
use study::forecast::{Answer, Edge, FalseRejects, Forecast};
use study::{Case, Step};

use super::work;
use crate::web::figures::{self, placed};
use crate::web::frame::{self, CasePage};
use crate::web::sheet::table;
use crate::web::wording::{plain, range, sentence, shown, three, three_or};
use crate::web::workbench::Workbench;
use crate::web::{address, bench, ladder_view, notes_view};

/// The page.
pub fn page(workbench: &Workbench, case: &Case, head: Markup) -> Markup {
    let this = CasePage {
        case,
        step: Step::Forecast,
        has_plots: case.forecast.is_some(),
        ladder_beside: true,
    };
    let content = match &case.forecast {
        None => frame::not_yet(
            "No forecast yet",
            "A forecast simulates leaks of every size on this rig with this headspace and \
             compares the rise with the spread of tight units.",
            None,
        ),
        Some(forecast) => content(case, forecast),
    };
    let content = html! {
        (head)
        (content)
        (work::form_of_step(workbench, case, Step::Forecast))
    };
    frame::case_page(workbench, &this, content)
}

fn content(case: &Case, forecast: &Forecast) -> Markup {
    html! {
        (verdict(forecast))
        (pass(case, forecast))
        (window(case, forecast))
        (placed(case, figures::FORECAST_DETECTION))
        (placed(case, figures::FORECAST_TRACES))
        (placed(case, figures::FORECAST_RISE))
        (limited_by(forecast))
        (unknowns(forecast))
        (headspace(forecast))
        (liquid_side(forecast))
        (notes_view::notes("Notes", &case.forecast_notes()))
        (bench::panel(case))
        p.quiet {
            "Seed " (forecast.seed) ", " (forecast.n_draws) " draws over the uncertain inputs. The \
             same inputs give the same digits."
        }
        p.next {
            span { "Next" } " "
            a href=(address::of_case(&case.input.id, "method")) { "read the method with its reasons" }
        }
    }
}

/// The answer in a word and a sentence.
fn verdict(forecast: &Forecast) -> Markup {
    let verdict = &forecast.verdict;
    let class = match verdict.answer {
        Answer::Yes => "answer answer-yes",
        Answer::YesIf => "answer answer-if",
        Answer::No => "answer answer-no",
        Answer::NotAsked => "answer answer-open",
    };
    html! {
        section class=(class) aria-label="Answer" {
            p.label { "Can vacuum decay see it?" }
            p.big { (verdict.answer.word()) }
            p { (sentence(&shown(&verdict.because))) }
        }
    }
}

/// What a unit that passes may be said to be.
fn pass(case: &Case, forecast: &Forecast) -> Markup {
    let said = forecast.pass_statement(&case.input);
    html! {
        section aria-label="What a pass says" {
            h2 { "What a pass says" }
            p { (sentence(&shown(&said.says))) }
            @if !said.leaves_open.is_empty() {
                p { "It leaves open:" }
                ul { @for open in &said.leaves_open { li { (sentence(&shown(open))) } } }
            }
        }
    }
}

fn edge(edge: Option<Edge>) -> (String, String) {
    match edge {
        None => ("none".to_owned(), "no size reaches the required detection".to_owned()),
        Some(edge) if edge.beyond_range => (
            format!("at least {}", three(edge.um)),
            "the forecast ends here, the window does not".to_owned(),
        ),
        Some(edge) => {
            (three(edge.um), format!("90 % interval {}", range(edge.low_um, edge.high_um)))
        }
    }
}

fn window(case: &Case, forecast: &Forecast) -> Markup {
    let asked = plain(case.input.profile.purpose.required_detection.percent());
    let figure = |name: &str, (value, interval): (String, String), unit: &str| {
        html! {
            div.figure-card {
                dt { (name) }
                dd {
                    span.value { (value) } " " span.unit { (unit) }
                    span.quiet { (interval) }
                }
            }
        }
    };
    let gap = match forecast.blind_gap_um {
        None if forecast.window.smallest.is_none() => {
            ("-".to_owned(), "there is no window".to_owned())
        }
        None => ("none".to_owned(), "no size inside the window is missed".to_owned()),
        Some((from, to)) => (range(from, to), "emptied before the measure stage".to_owned()),
    };
    let gap_unit = if forecast.blind_gap_um.is_some() { "µm" } else { "" };
    let unit = |edge: Option<Edge>| if edge.is_some() { "µm" } else { "" };
    html! {
        section aria-label="Window" {
            h2 { "Window" }
            dl.figures {
                (figure("Smallest detectable", edge(forecast.window.smallest), unit(forecast.window.smallest)))
                (figure("Largest detectable", edge(forecast.window.largest), unit(forecast.window.largest)))
                (figure("Missed in between", gap, gap_unit))
                (figure("Rise of a tight unit", (three(forecast.tight_rise_pa), format!("SD {} Pa", three(forecast.tight_rise_sd_pa))), "Pa"))
                @if let Some(rejects) = &forecast.false_rejects {
                    (figure("Tight units rejected", rejected(rejects), "%"))
                }
                (figure("Rise limit", (three(forecast.rise_limit_pa), "a rise above it rejects".to_owned()), "Pa"))
                (figure("Reach limit", (three(forecast.reach_limit_pa), format!("tight units reach {} Pa", three(forecast.tight_reach_pa))), "Pa"))
            }
            p.next.needs-script { span { "Try" } " " a href="#bench" { "turn the numbers and see the window move" } }
            p.quiet {
                "Detectable is what is found with at least " (asked) " % probability, as the profile \
                 asks. Diameters are flow-equivalent: of an ideal nozzle that passes the same air, 1 atm \
                 to vacuum, at 20 °C. A window of any width was found in "
                (report::number::percent(forecast.window.share_of_draws_with_window, 0))
                " of the draws."
            }
        }
    }
}

/// How many tight units are rejected, in percent, with its interval.
fn rejected(rejects: &FalseRejects) -> (String, String) {
    let percent = |share: f64| three(100.0 * share);
    let beside = format!(
        "90 % interval {} to {} %; tolerable {} %",
        percent(rejects.low),
        percent(rejects.high),
        percent(rejects.tolerable)
    );
    (percent(rejects.probability), beside)
}

/// What makes up the rise of a tight unit, as bars with their numbers.
fn limited_by(forecast: &Forecast) -> Markup {
    html! {
        section {
            h2 { "What limits it" }
            p { "The rise of a tight unit in the measure stage, and the noise on it, by cause. The \
                 longest bar is the first thing to measure or to lower." }
            div.scroll tabindex="0" role="region" aria-label="What limits it" {
                table.list.bars {
                    caption { "Causes of the rise of a tight unit" }
                    thead { tr {
                        th scope="col" { "Cause" }
                        th.num scope="col" { "Rise (Pa)" }
                        th.num scope="col" { "Share" }
                        td {}
                    } }
                    tbody {
                        @for share in &forecast.limited_by {
                            tr {
                                th scope="row" { (shown(&share.cause)) }
                                td.num { (three(share.pa)) }
                                td.num { (report::number::percent(share.share, 0)) }
                                td.bar { (bar(share.share)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Which unknown is worth knowing better.
fn unknowns(forecast: &Forecast) -> Markup {
    let weighty = || forecast.unknowns.iter().filter(|unknown| unknown.share.abs() >= 0.005);
    let Some(first) = weighty().next() else { return html! {} };
    let whole = |share: f64| report::number::percent(share, 0);
    html! {
        section {
            h2 { "Which unknown widens the window most" }
            p {
                "With the " strong { (shown(&first.input)) } " known, the interval of the smallest \
                 detectable leak would be " (whole(first.width_if_known)) " as wide as it is: \
                 measure that first."
            }
            div.scroll tabindex="0" role="region" aria-label="Which unknown widens the window" {
                table.list.bars {
                    caption { "Uncertain inputs by their share of the spread of the smallest \
                               detectable leak" }
                    thead { tr {
                        th scope="col" { "Input" }
                        th.num scope="col" { "Left if known" }
                        th.num scope="col" { "Share" }
                        td {}
                    } }
                    tbody {
                        @for unknown in weighty() {
                            tr {
                                th scope="row" {
                                    (shown(&unknown.input)) " "
                                    span.quiet {
                                        (unknown.origin.word()) ", "
                                        (report::number::percent(unknown.relative_sd, 1))
                                        @if !unknown.uncertainty_stated { " not stated" }
                                    }
                                }
                                td.num { (whole(unknown.width_if_known)) }
                                td.num { (whole(unknown.share)) }
                                td.bar { (bar(unknown.share)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn bar(share: f64) -> Markup {
    let width = (share.clamp(0.0, 1.0) * 1000.0).round() / 10.0;
    PreEscaped(format!(
        "<svg viewBox=\"0 0 100 8\" width=\"100%\" height=\"12\" preserveAspectRatio=\"none\" \
         aria-hidden=\"true\"><rect class=\"bar-fill\" width=\"{width}\" height=\"8\"/></svg>"
    ))
}

fn headspace(forecast: &Forecast) -> Markup {
    let rows: Vec<Vec<String>> = forecast
        .headspace
        .emptying
        .iter()
        .map(|&(um, seconds)| vec![three(um), three(seconds)])
        .collect();
    html! {
        section {
            h2 { "What the headspace allows" }
            p {
                "Emptied into the chamber as a whole, the headspace would raise the pressure by "
                strong { (three(forecast.headspace.ceiling_pa)) " Pa" }
                ": no leak can rise further. A leak that empties it before the measure stage \
                 begins looks like a tight unit."
            }
            (table("Time constant of emptying", &["#Leak (µm)", "#Time constant (s)"], &rows))
            details {
                summary { "Detection by size, as numbers" }
                p.quiet { "The flow challenge is the constant flow that gives the same reading, at \
                     20 °C: the challenge that stands for this leak. None stands for a leak that \
                     reads no more than a tight unit, or ended the cycle before." }
                (detection_table(forecast))
            }
        }
    }
}

fn interval_of(interval: Option<(f64, f64)>) -> String {
    interval
        .map_or_else(String::new, |(low, high)| format!(" (90 % interval {})", range(low, high)))
}

/// Leaks under the liquid, where there is one.
fn liquid_side(forecast: &Forecast) -> Markup {
    let Some(found) = &forecast.liquid_side else { return html! {} };
    let rows: Vec<Vec<String>> = found
        .points
        .iter()
        .map(|point| {
            vec![
                three(point.bore_um),
                if point.runs { "liquid runs" } else { "holds" }.to_owned(),
                three_or(point.rise_pa, "none"),
                report::number::decimals_of(point.probability, 3),
            ]
        })
        .collect();
    let chamber = three(found.chamber_pa);
    let vapour = three(found.vapour_pressure_pa);
    html! {
        section {
            h2 { "Under the liquid" }
            p {
                "For " (shown(&found.liquid)) ": a hole under the product holds it back up to a bore of "
                strong { (three(found.opens_um)) " µm" }
                @if let Some(spread) = &found.spread { (interval_of(Some(spread.opens_um))) }
                ", and passes nothing then. "
                @if found.points.is_empty() {
                    "The chamber stays at " (chamber) " Pa, above the vapour pressure of " (vapour)
                    " Pa: no leak under the liquid is claimed."
                } @else {
                    "Wider holes let it run into the chamber, which fills with vapour up to " (vapour)
                    " Pa. True bores through the stated wall are found from "
                    strong { (three_or(found.smallest_um, "no size")) " µm" }
                    @if let Some(spread) = &found.spread { (interval_of(spread.smallest_um)) }
                    " on."
                }
            }
            @if let Some(spread) = &found.spread {
                p {
                    "The chamber lies at " (chamber) " Pa, "
                    (report::number::percent(found.chamber_pa / found.vapour_pressure_pa, 0))
                    " of the vapour pressure; liquid that comes out boils in "
                    (report::number::percent(spread.share_that_boils, 0))
                    " of the draws over the uncertain inputs."
                    @if let Some(first) = spread.unknowns.first() {
                        " What moves the smallest bore most: " (first.input) " ("
                        (first.origin.word()) ", "
                        (report::number::percent(first.share, 0)) " of its spread)."
                    }
                }
            }
            @if !rows.is_empty() {
                details {
                    summary { "By bore, as numbers" }
                    (table(
                        "Detection by bore under the liquid",
                        &["#Bore (µm)", "State", "#Rise (Pa)", "#Found"],
                        &rows,
                    ))
                }
            }
        }
    }
}

fn detection_table(forecast: &Forecast) -> Markup {
    let probability = |p: f64| report::number::decimals_of(p, 3);
    let rows: Vec<Vec<String>> = forecast
        .detection
        .iter()
        .map(|point| {
            vec![
                three(point.flow_equivalent_um),
                three(point.reference_throughput_pa_m3_per_s),
                three_or(point.rise_pa, "ended before"),
                three_or(point.challenge_pa_m3_per_s, "none"),
                three(point.reach_pa),
                probability(point.by_rise),
                probability(point.by_reach),
                probability(point.probability),
            ]
        })
        .collect();
    let headings = [
        "#Leak (µm)",
        "#Flow (Pa·m³/s)",
        "#Rise (Pa)",
        "#Flow challenge (Pa·m³/s)",
        "#Reached (Pa)",
        "#By rise",
        "#By reach",
        "#Found",
    ];
    table("Probability of detection by size of leak", &headings, &rows)
}

/// Its twin: the same answer as the command `isobar forecast --json`.
pub fn twin(case: &Case) -> Value {
    let mut value = match &case.forecast {
        Some(forecast) => crate::forecast_answer::forecast_json(case, forecast),
        None => serde_json::json!({ "case": case.input.id, "verdict": null }),
    };
    if let Value::Object(object) = &mut value {
        object.insert("ladder".to_owned(), ladder_view::twin(&case.ladder()));
    }
    value
}

//! The forecast bench: a few numbers to turn, and the window that follows.
//! The answer is a forecast of the same kind as the stored one, with fewer
//! draws so that it comes at once; nothing is stored.

use maud::{Markup, html};
use physics::quantities::{AbsolutePressure, Duration, PressureDifference, Volume};
use serde_json::{Value, json};
use study::forecast::{Edge, Forecast, ForecastSettings};
use study::profile::Fill;
use study::{Case, CaseInput};

use super::pages::report::apart;
use super::reply::{Answer, Reply};
use super::wording::{plain, range, three};
use super::{address, figures};
use crate::answer::{number, optional};

/// A number that can be turned.
struct Knob {
    name: &'static str,
    label: &'static str,
    unit: &'static str,
    /// Turns from this share of the case's value to this multiple of it.
    reach: (f64, f64),
    get: fn(&CaseInput) -> f64,
    set: fn(&mut CaseInput, f64),
}

const KNOBS: [Knob; 7] = [
    Knob {
        name: "free_volume_ml",
        label: "Free volume",
        unit: "mL",
        reach: (0.2, 5.0),
        get: |input| input.rig.free_volume.value.ml(),
        set: |input, value| input.rig.free_volume.value = Volume::from_ml(value),
    },
    Knob {
        name: "headspace_ml",
        label: "Headspace",
        unit: "mL",
        reach: (0.1, 10.0),
        get: |input| input.profile.headspace.volume.value.ml(),
        set: |input, value| input.profile.headspace.volume.value = Volume::from_ml(value),
    },
    Knob {
        name: "evacuate_to_pa",
        label: "Evacuate to",
        unit: "Pa",
        reach: (0.3, 30.0),
        get: |input| input.cycle.tiers.last().map_or(f64::NAN, |t| t.tier.evacuate_to.pa()),
        set: |input, value| {
            if let Some(last) = input.cycle.tiers.last_mut() {
                last.tier.evacuate_to = AbsolutePressure::from_pa(value);
            }
        },
    },
    Knob {
        name: "settle_s",
        label: "Settle",
        unit: "s",
        reach: (0.1, 5.0),
        get: |input| input.cycle.tiers.last().map_or(f64::NAN, |t| t.tier.settle.s()),
        set: |input, value| {
            if let Some(last) = input.cycle.tiers.last_mut() {
                last.tier.settle = Duration::from_s(value);
            }
        },
    },
    Knob {
        name: "measure_s",
        label: "Measure",
        unit: "s",
        reach: (0.2, 5.0),
        get: |input| input.cycle.tiers.last().map_or(f64::NAN, |t| t.tier.measure.s()),
        set: |input, value| {
            if let Some(last) = input.cycle.tiers.last_mut() {
                last.tier.measure = Duration::from_s(value);
            }
        },
    },
    Knob {
        name: "background_spread_percent",
        label: "Spread of background",
        unit: "%",
        reach: (0.1, 4.0),
        get: |input| input.rig.background_spread * 100.0,
        set: |input, value| input.rig.background_spread = value / 100.0,
    },
    Knob {
        name: "white_noise_pa",
        label: "Sensor noise",
        unit: "Pa",
        reach: (0.1, 10.0),
        get: |input| input.rig.sensor.white_noise.pa(),
        set: |input, value| input.rig.sensor.white_noise = PressureDifference::from_pa(value),
    },
];

/// The sizes of a stored forecast, and draws few enough to come at once; leaks under
/// the liquid are in it, for the answer speaks of them.
const QUICK: ForecastSettings =
    ForecastSettings { seed: 1, n_draws: 16, n_sizes: 61, liquid_side: true };

/// The panel; it needs the script, and the stored forecast stands without it.
pub fn panel(case: &Case) -> Markup {
    html! {
        section.bench.needs-script #bench data-bench=(address::of_case(&case.input.id, "bench.json")) {
            h2 { "Bench: what if" }
            p { "Turn a number and see the window move. Nothing here is stored; the case stays as \
                 it is. The sliders run on a logarithmic scale." }
            div.bench-columns {
                form {
                    @for knob in &KNOBS {
                        @let value = (knob.get)(&case.input);
                        @if value.is_finite() && value > 0.0 {
                            div.knob data-name=(knob.name) data-value=(value)
                                data-low=(value * knob.reach.0) data-high=(value * knob.reach.1) {
                                label for=(knob.name) { (knob.label) }
                                input id=(knob.name) type="range" min="0" max="200"
                                    aria-describedby={ (knob.name) "-case" };
                                span.number-field {
                                    input type="number" step="any" name=(knob.name) value=(value)
                                        aria-label={ (knob.label) " in " (knob.unit) };
                                    " " span.unit { (knob.unit) }
                                }
                                span.quiet id={ (knob.name) "-case" } {
                                    "case " (plain(value)) " " (knob.unit)
                                }
                            }
                        }
                    }
                    button.plain type="reset" { "Back to the case" }
                }
                div.bench-answer {
                    div role="status" aria-live="polite" {
                        dl.figures.compact {
                            div.figure-card { dt { "Answer" } dd data-out="verdict" { "as above" } }
                            div.figure-card { dt { "Smallest detectable" } dd data-out="smallest" { "as above" } }
                            div.figure-card { dt { "Largest detectable" } dd data-out="largest" { "as above" } }
                            div.figure-card { dt { "Rise limit" } dd data-out="limit" { "as above" } }
                            @if case.input.profile.product.fill == Fill::Liquid {
                                div.figure-card {
                                    dt { "Under the liquid, bores" }
                                    dd data-out="liquid" { "as above" }
                                }
                            }
                        }
                    }
                    figure.plot {
                        div.plot-live data-plot="detection" role="group" aria-label="Detection by size, case and this design" {}
                        div.plot-live data-plot="rise" role="group" aria-label="Rise in the measure stage, this design" {}
                        figcaption data-out="because" {}
                    }
                }
            }
        }
    }
}

/// Answers `bench.json?settle_s=2&...`: numbers that are not named stay as in
/// the case.
pub async fn reply(case: Case, query: &[(String, String)]) -> Answer {
    let mut input = case.input.clone();
    for knob in &KNOBS {
        let Some(text) = address::value(query, knob.name) else { continue };
        let value = address::number(query, knob.name).filter(|value| *value > 0.0);
        let of_case = (knob.get)(&case.input);
        let (Some(value), true) = (value, of_case.is_finite()) else {
            return Err(refused(knob, &format!("`{text}`")));
        };
        let within = value >= 0.99e-2 * of_case && value <= 1.01e2 * of_case;
        if !within {
            return Err(refused(knob, &three(value)));
        }
        (knob.set)(&mut input, value);
    }
    let started = std::time::Instant::now();
    let forecast = apart({
        let input = input.clone();
        move || study::forecast(&input, &QUICK, &|_, _| {})
    })
    .await?
    .map_err(|error| Reply::Refused {
        why: error.to_string(),
        next_step: "turn the numbers back towards the case".to_owned(),
    })?;
    let elapsed_ms = started.elapsed().as_secs_f64() * 1000.0;
    Ok(Reply::Json(json!({
        "case": case.input.id,
        "verdict": forecast.verdict.answer.word(),
        "because": forecast.verdict.because,
        "smallest_um": optional(forecast.window.smallest.map(|edge| edge.um)),
        "largest_um": optional(forecast.window.largest.map(|edge| edge.um)),
        "rise_limit_pa": number(forecast.rise_limit_pa),
        "words": {
            "smallest": edge_words(forecast.window.smallest),
            "largest": edge_words(forecast.window.largest),
            "limit": format!("{} Pa", three(forecast.rise_limit_pa)),
            "liquid": liquid_words(&forecast),
        },
        "liquid_smallest_bore_um":
            optional(forecast.liquid_side.as_ref().and_then(|found| found.smallest_um)),
        "elapsed_ms": number(elapsed_ms),
        "detection": detection_plot(&case, &forecast),
        "rise": report::figure::plot_json(&figures::forecast_rise(&forecast)).unwrap_or(Value::Null),
    })))
}

fn detection_plot(case: &Case, forecast: &Forecast) -> Value {
    let profile = &case.input.profile;
    let figure = match &case.forecast {
        Some(stored) => figures::forecast_detection(profile, stored, Some(forecast)),
        None => figures::forecast_detection(profile, forecast, None),
    };
    report::figure::plot_json(&figure).unwrap_or(Value::Null)
}

/// True bores found under the liquid; empty for a dry product, and where too little is
/// stated of the liquid.
fn liquid_words(forecast: &Forecast) -> String {
    let Some(found) = &forecast.liquid_side else { return String::new() };
    match (found.smallest_um, found.largest_um) {
        (Some(smallest), Some(_)) if found.largest_is_at_least => {
            format!("from {} µm", three(smallest))
        }
        (Some(smallest), Some(largest)) => {
            format!("{} to {} µm", three(smallest), three(largest))
        }
        _ => "none found".to_owned(),
    }
}

fn edge_words(edge: Option<Edge>) -> String {
    match edge {
        None => "none".to_owned(),
        Some(edge) if edge.beyond_range => format!("at least {} µm", three(edge.um)),
        Some(edge) => format!("{} µm ({})", three(edge.um), range(edge.low_um, edge.high_um)),
    }
}

fn refused(knob: &Knob, given: &str) -> Reply {
    Reply::Refused {
        why: format!("{} {given} {} is not a value the bench takes", knob.label, knob.unit),
        next_step: "give a number above zero, within a hundredth and a hundred times the case's"
            .to_owned(),
    }
}

//! The part of the results that stands on flow challenges.

use maud::{Markup, html};
use serde_json::{Value, json};
use study::results::{FlowCalibration, Interval, Results};

use crate::answer::{number, optional};
use crate::web::sheet::{Line, sheet, table};
use crate::web::wording::{three, three_or};

const FLOW: &str = "Pa·m³/s";

/// What the flow challenges say; nothing where there are none.
pub fn section(results: &Results) -> Markup {
    let Some(found) = &results.flow_calibration else { return html! {} };
    let levels: Vec<Vec<String>> = found
        .levels
        .iter()
        .map(|level| {
            vec![
                three(level.flow_pa_m3_per_s),
                level.n.to_string(),
                three(level.mean_pa),
                three_or(level.standard_deviation_pa, "one challenge"),
            ]
        })
        .collect();
    let flow = |name: &str, value: Option<f64>| match value {
        Some(value) => Line::number(name, value, FLOW),
        None => Line::words(name, "cannot be said"),
    };
    let ends = |name: &str, value: Option<Interval>, factor: f64, unit: &str| {
        let words = value.map_or_else(
            || "cannot be said".to_owned(),
            |value| {
                format!(
                    "{} ({} to {}) {unit}",
                    three(factor * value.value),
                    three(factor * value.lower),
                    three(factor * value.upper)
                )
            },
        );
        Line::words(name, &words)
    };
    html! {
        section {
            h2 { "Flow calibration" }
            p {
                "A constant flow into the chamber is not a leak: it calibrates the reading, and \
                 says nothing of a container."
            }
            (sheet("What a reading says of a flow (at 20 °C)", &[
                flow("Told from none in 19 of 20 readings", found.detection_limit),
                flow("Called a flow from", found.critical_flow),
                ends("Flow behind the reject limit", found.flow_at_limit, 1.0, FLOW),
                ends("Rise per flow", Some(found.slope), 1.0, "s/m³"),
                Line::number("Rise without a flow", found.intercept_pa, "Pa"),
                Line::number("Scatter about the line", found.residual_sd_pa, "Pa"),
                Line::words("Lack of fit", &found.lack_of_fit_p.map_or_else(
                    || "not checked: it needs repeats at three flows".to_owned(),
                    |p| format!("p = {}", three(p)),
                )),
                ends("Free volume that the flows see", found.free_volume_m3, 1e6, "mL"),
                Line::count("Challenges that count", found.n),
                Line::words("Method", &found.method),
            ]))
            (table(
                "Challenges by flow",
                &["#Flow (Pa·m³/s)", "#Challenges", "#Mean rise (Pa)", "#SD (Pa)"],
                &levels,
            ))
        }
    }
}

/// Its twin.
pub fn twin(found: &FlowCalibration) -> Value {
    let ends = |value: Interval| {
        json!({ "value": number(value.value), "lower": number(value.lower),
            "upper": number(value.upper) })
    };
    json!({
        "n": found.n,
        "confidence": number(found.confidence),
        "method": found.method,
        "intercept_pa": number(found.intercept_pa),
        "slope_pa_per_pa_m3_per_s": ends(found.slope),
        "residual_sd_pa": number(found.residual_sd_pa),
        "lack_of_fit_p": optional(found.lack_of_fit_p),
        "critical_flow_pa_m3_per_s": optional(found.critical_flow),
        "detection_limit_pa_m3_per_s": optional(found.detection_limit),
        "flow_at_limit_pa_m3_per_s": found.flow_at_limit.map(ends),
        "free_volume_m3": found.free_volume_m3.map(ends),
        "levels": found.levels.iter().map(|level| json!({
            "flow_pa_m3_per_s": number(level.flow_pa_m3_per_s),
            "n": level.n,
            "mean_rise_pa": number(level.mean_pa),
            "standard_deviation_pa": optional(level.standard_deviation_pa),
        })).collect::<Value>(),
    })
}

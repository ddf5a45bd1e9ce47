//! A forecast as JSON, the same for the command line and for the pages.

use serde_json::{Value, json};
use study::Case;
use study::forecast::{Edge, Forecast, LiquidSpread, Unknown};

use crate::answer::{notes_json, number, optional};

/// The forecast as JSON.
pub fn forecast_json(case: &Case, forecast: &Forecast) -> Value {
    let input = &case.input;
    let edge = |edge: Option<Edge>| edge.map(|edge| edge.um);
    let interval = |edge: Option<Edge>| {
        edge.map_or(Value::Null, |edge| json!([number(edge.low_um), number(edge.high_um)]))
    };
    let pass = forecast.pass_statement(input);
    json!({
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "verdict": forecast.verdict.answer.word(),
        "because": forecast.verdict.because,
        "required_detection": number(input.profile.purpose.required_detection.fraction()),
        "window": {
            "smallest_flow_equivalent_um": optional(edge(forecast.window.smallest)),
            "smallest_interval_90_um": interval(forecast.window.smallest),
            "largest_flow_equivalent_um": optional(edge(forecast.window.largest)),
            "largest_interval_90_um": interval(forecast.window.largest),
            "largest_is_at_least":
                forecast.window.largest.is_some_and(|edge| edge.beyond_range),
        },
        "pass": { "says": pass.says, "leaves_open": pass.leaves_open },
        "blind_gap_um": forecast.blind_gap_um
            .map_or(Value::Null, |(from, to)| json!([number(from), number(to)])),
        "tight_rise_pa": number(forecast.tight_rise_pa),
        "tight_rise_sd_pa": number(forecast.tight_rise_sd_pa),
        "false_rejects": forecast.false_rejects.as_ref().map(|rejects| json!({
            "probability": number(rejects.probability),
            "low": number(rejects.low),
            "high": number(rejects.high),
            "tolerable": number(rejects.tolerable),
            "tiers": rejects.tiers.iter().map(|tier| json!({
                "by_reach": number(tier.by_reach),
                "by_rise": number(tier.by_rise),
            })).collect::<Value>(),
        })),
        "rise_limit_pa": number(forecast.rise_limit_pa),
        "reach_limit_pa": number(forecast.reach_limit_pa),
        "headspace_ceiling_pa": number(forecast.headspace.ceiling_pa),
        "headspace_time_constants": forecast.headspace.emptying.iter()
            .map(|(um, s)| json!({ "flow_equivalent_um": number(*um), "time_s": number(*s) }))
            .collect::<Value>(),
        "limited_by": forecast.limited_by.iter()
            .map(|share| json!({
                "cause": share.cause,
                "rise_pa": number(share.pa),
                "share": number(share.share),
            }))
            .collect::<Value>(),
        "unknowns": unknowns_json(&forecast.unknowns),
        "detection": forecast.detection.iter()
            .map(|point| json!({
                "flow_equivalent_um": number(point.flow_equivalent_um),
                "throughput_pa_m3_per_s": number(point.reference_throughput_pa_m3_per_s),
                "rise_pa": optional(point.rise_pa),
                "challenge_pa_m3_per_s": optional(point.challenge_pa_m3_per_s),
                "by_rise": number(point.by_rise),
                "by_reach": number(point.by_reach),
                "probability": number(point.probability),
            }))
            .collect::<Value>(),
        "liquid_side": forecast.liquid_side.as_ref().map(|found| json!({
            "liquid": found.liquid,
            "vapour_pressure_pa": number(found.vapour_pressure_pa),
            "chamber_pa": number(found.chamber_pa),
            "opens_um": number(found.opens_um),
            "smallest_bore_um": optional(found.smallest_um),
            "largest_bore_um": optional(found.largest_um),
            "largest_is_at_least": found.largest_is_at_least,
            "detection": found.points.iter().map(|point| json!({
                "bore_um": number(point.bore_um),
                "runs": point.runs,
                "rise_pa": optional(point.rise_pa),
                "probability": number(point.probability),
            })).collect::<Value>(),
            "spread": found.spread.as_ref().map(spread_json),
        })),
        "seed": forecast.seed,
        "draws": forecast.n_draws,
        "notes": notes_json(&case.forecast_notes()),
    })
}

fn unknowns_json(unknowns: &[Unknown]) -> Value {
    unknowns
        .iter()
        .map(|unknown| {
            json!({
                "input": unknown.input,
                "relative_sd": number(unknown.relative_sd),
                "origin": unknown.origin.word(),
                "uncertainty_stated": unknown.uncertainty_stated,
                "change_of_smallest": number(unknown.change_of_smallest),
                "share": number(unknown.share),
                "width_if_known": number(unknown.width_if_known),
            })
        })
        .collect()
}

fn spread_json(spread: &LiquidSpread) -> Value {
    let pair = |(low, high): (f64, f64)| json!([number(low), number(high)]);
    json!({
        "opens_interval_90_um": pair(spread.opens_um),
        "smallest_interval_90_um": spread.smallest_um.map(pair),
        "largest_interval_90_um": spread.largest_um.map(pair),
        "chamber_over_vapour_interval_90": pair(spread.chamber_over_vapour),
        "share_that_boils": number(spread.share_that_boils),
        "share_with_window": number(spread.share_with_window),
        "unknowns": unknowns_json(&spread.unknowns),
    })
}

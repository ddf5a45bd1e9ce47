//! The numbers behind the document, as JSON: keys carry units, a missing
//! number is `null`, nothing is rounded.

use serde_json::{Value, json};
use study::Case;
use study::runs::{Run, RunClass, RunOrigin};

/// The attached file, the same bytes for the same case.
pub(super) fn bytes(case: &Case) -> Vec<u8> {
    let input = &case.input;
    let value = json!({
        "format": "isobar-report-data",
        "format_version": 1,
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "question": input.question,
        "headline": case.ladder().headline,
        "claim": case.claim().sentence,
        "ladder": ladder(case),
        "forecast": case.forecast.as_ref().map(forecast),
        "results": case.results.as_ref().map(results),
        "runs": case.runs.iter().map(run).collect::<Vec<_>>(),
    });
    // Writing to memory has no way to fail; an empty file would still be seen,
    // because the digest is printed.
    serde_json::to_vec_pretty(&value).unwrap_or_default()
}

/// The attached file of a protocol: what is fixed beforehand, without the key
/// and without any seed from which it could be made again.
pub(super) fn protocol_bytes(case: &Case) -> Vec<u8> {
    let input = &case.input;
    let sheet: Vec<Value> = case
        .plan
        .iter()
        .flat_map(|plan| plan.runs.iter().zip(study::plan::blinding_codes(plan)))
        .map(|(run, code)| {
            json!({ "number": run.number, "day": run.day, "code": code,
                "rig": run.factors.rig, "operator": run.factors.operator, "lot": run.factors.lot })
        })
        .collect();
    let criteria: Vec<Value> = super::protocol::planned_criteria(case)
        .into_iter()
        .map(|criterion| json!({ "code": criterion.code, "sentence": criterion.sentence }))
        .collect();
    let method: Vec<Value> = case
        .method
        .iter()
        .flat_map(|method| &method.reasons)
        .map(|reason| json!({ "parameter": reason.parameter, "value": reason.value }))
        .collect();
    let value = json!({
        "format": "isobar-protocol-data",
        "format_version": 1,
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "question": input.question,
        "criteria": criteria,
        "method": method,
        "run_sheet": sheet,
    });
    serde_json::to_vec_pretty(&value).unwrap_or_default()
}

fn ladder(case: &Case) -> Value {
    let ladder = case.ladder();
    let marks: Vec<Value> = ladder
        .marks
        .iter()
        .map(|mark| {
            json!({ "kind": mark.kind.word(), "track": mark.track.word(), "label": mark.label,
                "evidence": mark.evidence, "low_pa_m3_per_s": mark.low,
                "value_pa_m3_per_s": mark.value, "high_pa_m3_per_s": mark.high })
        })
        .collect();
    let off_axis: Vec<Value> = ladder
        .off_axis
        .iter()
        .map(|mark| json!({ "label": mark.label, "reason": mark.reason }))
        .collect();
    json!({ "reference_state": ladder.reference_state, "marks": marks, "off_axis": off_axis })
}

fn forecast(forecast: &study::Forecast) -> Value {
    let edge = |edge: Option<study::forecast::Edge>| {
        edge.map(|edge| {
            json!({ "um": edge.um, "low_um": edge.low_um, "high_um": edge.high_um,
                "beyond_range": edge.beyond_range })
        })
    };
    let detection: Vec<Value> = forecast
        .detection
        .iter()
        .map(|point| {
            json!({ "flow_equivalent_um": point.flow_equivalent_um,
                "reference_throughput_pa_m3_per_s": point.reference_throughput_pa_m3_per_s,
                "rise_pa": point.rise_pa, "reach_pa": point.reach_pa, "by_rise": point.by_rise,
                "by_reach": point.by_reach, "probability": point.probability })
        })
        .collect();
    json!({ "seed": forecast.seed, "draws": forecast.n_draws,
        "tight_rise_pa": forecast.tight_rise_pa, "tight_rise_sd_pa": forecast.tight_rise_sd_pa,
        "rise_limit_pa": forecast.rise_limit_pa, "reach_limit_pa": forecast.reach_limit_pa,
        "smallest": edge(forecast.window.smallest), "largest": edge(forecast.window.largest),
        "answer": forecast.verdict.answer.word(), "because": forecast.verdict.because,
        "detection": detection })
}

fn results(results: &study::Results) -> Value {
    let limit = results.reject_limit.as_ref().map(|limit| {
        json!({ "limit_pa": limit.limit_pa, "method": limit.method, "n": limit.n,
            "mean_pa": limit.mean_pa, "standard_deviation_pa": limit.standard_deviation_pa,
            "factor": limit.factor, "content": limit.content, "confidence": limit.confidence,
            "by_lot": limit.by_lot.iter().map(|lot| json!({ "lot": lot.lot, "n": lot.n,
                "mean_pa": lot.mean_pa, "standard_deviation_pa": lot.standard_deviation_pa,
            })).collect::<Vec<Value>>() })
    });
    let detection = results.detection.as_ref().map(|detection| {
        let rows: Vec<Value> = detection
            .by_size
            .iter()
            .map(|row| {
                json!({ "label_um": row.nominal_um, "found": row.hits, "tested": row.of,
                    "lower_bound": row.lower })
            })
            .collect();
        json!({ "limit_pa": detection.limit_pa, "separation": detection.separation,
            "a50_um": detection.a50_um, "a90_um": detection.a90_um,
            "a90_95_um": detection.a90_95_um,
            "a90_95_method": detection.a90_95_method, "units": detection.n_units, "by_size": rows })
    });
    let calibration = results.flow_calibration.as_ref().map(|found| {
        let ends = |found: study::results::Interval| {
            json!({ "value": found.value, "lower": found.lower, "upper": found.upper })
        };
        json!({ "n": found.n, "confidence": found.confidence, "method": found.method,
            "intercept_pa": found.intercept_pa, "slope_pa_per_pa_m3_per_s": ends(found.slope),
            "residual_sd_pa": found.residual_sd_pa, "lack_of_fit_p": found.lack_of_fit_p,
            "critical_flow_pa_m3_per_s": found.critical_flow,
            "detection_limit_pa_m3_per_s": found.detection_limit,
            "flow_at_limit_pa_m3_per_s": found.flow_at_limit.map(ends),
            "free_volume_m3": found.free_volume_m3.map(ends) })
    });
    let signal = results.signal.as_ref().map(|signal| {
        let (read, below, above) = signal.read_below_above;
        json!({ "blank_pa": signal.blank_pa, "threshold_pa": signal.threshold_pa,
            "floor_pa": signal.floor_pa, "intercept": signal.intercept, "slope": signal.slope,
            "scatter": signal.scatter, "a50_um": signal.a50_um, "a90_um": signal.a90_um,
            "a90_95_um": signal.a90_95_um, "a90_95_method": signal.a90_95_method,
            "units": signal.units, "read": read, "below": below, "above": above,
            "line_holds": signal.line_holds })
    });
    let by_kind: Vec<Value> = results
        .by_kind
        .iter()
        .map(|row| {
            json!({ "side": row.side.map(study::run_factors::LeakSide::word),
                "defect": row.defect, "label_um": row.nominal_um, "found": row.hits,
                "tested": row.of, "lower_bound": row.lower })
        })
        .collect();
    json!({ "method_version": results.method_version, "reject_limit": limit,
        "detection": detection, "signal": signal, "by_kind": by_kind,
        "flow_calibration": calibration })
}

fn run(run: &Run) -> Value {
    let (nominal, verified) = match run.class {
        RunClass::PositiveControl { nominal_um, verified_um } => (Some(nominal_um), verified_um),
        RunClass::AgedControl { nominal_um, .. } => (nominal_um, None),
        _ => (None, None),
    };
    let origin = match &run.origin {
        // Seeds are written as text: readers of JSON lose digits above 2^53.
        RunOrigin::Simulated { seed } => json!({ "simulated_seed": seed.to_string() }),
        RunOrigin::Imported { file, sha256 } => json!({ "file": file, "sha256": sha256 }),
    };
    let features = run.features.as_ref();
    json!({ "number": run.number, "day": run.day, "unit": run.unit, "class": run.class.word(),
        "label_um": nominal, "verified_um": verified, "age_days": run.class.age_days(),
        "operator": run.factors.operator, "rig": run.factors.rig, "lot": run.factors.lot,
        "side": run.factors.side.map(study::run_factors::LeakSide::word),
        "defect": run.factors.defect, "standard": run.factors.standard,
        "flow_pa_m3_per_s": run.class.flow_pa_m3_per_s(), "ended": run.ended.words(),
        "reach_pa": features.and_then(|features| features.reach_pa),
        "rise_pa": features.map(|features| features.rise_pa),
        "slope_pa_per_s": features.and_then(|features| features.slope_pa_per_s),
        "noise_pa": features.and_then(|features| features.noise_pa), "origin": origin })
}

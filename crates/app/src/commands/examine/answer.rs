//! An examined run as text and as JSON.

use std::path::Path;

use intake::trace_file::ImportedTrace;
use serde_json::{Value, json};
use study::forensics::{Findings, FoundTerm, Residuals};
use study::run_features::RunFeatures;
use study::segments::Segment;
use study::stages::{FoundStages, NoStages};

use super::examined::Examined;
use crate::answer::{number, optional};
use crate::table_text::{digits, digits_or_dash, pairs, table};

/// Text of a run.
pub fn text(trace: &ImportedTrace, run: &Examined) -> String {
    let times = &run.trace.times_s;
    let span = times.last().copied().unwrap_or(0.0) - times.first().copied().unwrap_or(0.0);
    let mut text = format!(
        "\n{}{}: {} samples over {} s{}\n",
        trace.name,
        if run.cycle > 0 { format!(", cycle {}", run.cycle) } else { String::new() },
        times.len(),
        digits(span, 5),
        trace.vented_from.map_or_else(String::new, |index| format!(
            ", vented from sample {} on: left out",
            index + 1
        ))
    );
    text.push_str(&segments_text(&run.segments));
    match &run.stages {
        Err(reason) => text.push_str(&format!("no measure stage: {reason}\n")),
        Ok(stages) => {
            text.push_str(&stages_text(stages));
            text.push_str(&format!("run: {}\n", run.ended.words()));
        }
    }
    if let Some(features) = &run.features {
        text.push_str(&features_text(features));
    }
    match &run.findings {
        Some(Ok(findings)) => text.push_str(&findings_text(findings)),
        Some(Err(reason)) => text.push_str(&format!("causes: {reason}\n")),
        None => {}
    }
    text
}

fn segments_text(found: &[Segment]) -> String {
    let rows: Vec<Vec<String>> = found
        .iter()
        .map(|segment| {
            vec![
                segment.direction.word().to_owned(),
                digits(segment.start_s, 5),
                digits(segment.end_s, 5),
                digits(segment.start_pa, 5),
                digits(segment.end_pa, 5),
                digits_or_dash(segment.slope_pa_per_s, 3),
                digits_or_dash(segment.slope_standard_error, 2),
                digits_or_dash(segment.noise_pa, 3),
                segment.n_samples.to_string(),
            ]
        })
        .collect();
    table(
        &["segment", "from s", "to s", "from Pa", "to Pa", "slope Pa/s", "± 1 s", "noise Pa", "n"],
        &rows,
    )
}

fn stages_text(stages: &FoundStages) -> String {
    let rows: Vec<Vec<String>> = stages
        .spans
        .iter()
        .map(|span| {
            vec![
                span.stage.word().to_owned(),
                span.tier.to_string(),
                digits(span.start_s, 5),
                digits(span.end_s, 5),
            ]
        })
        .collect();
    let doubts: String =
        stages.doubts.iter().map(|doubt| format!("  not sure: {doubt}\n")).collect();
    format!(
        "\nstages from the {} ({}): {}\n{doubts}{}",
        stages.source.word(),
        stages.sureness.word(),
        stages.how,
        table(&["stage", "tier", "from s", "to s"], &rows)
    )
}

fn features_text(features: &RunFeatures) -> String {
    let window = &features.window;
    let interval = features.slope_interval.map_or_else(String::new, |(low, high)| {
        format!(" ({} to {} at 95 %)", digits(low, 3), digits(high, 3))
    });
    let flags: Vec<&str> = features.flags.iter().map(|flag| flag.word()).collect();
    let rows = [
        ("time to reach", format!("{} s", digits_or_dash(features.time_to_reach_s, 4))),
        ("level at start", format!("{} Pa", digits(window.level_start_pa, 5))),
        ("level at end", format!("{} Pa", digits(window.level_end_pa, 5))),
        ("rise", format!("{} Pa", digits(window.rise_pa, 4))),
        ("slope", format!("{} Pa/s{interval}", digits_or_dash(window.slope_pa_per_s, 4))),
        ("curvature", format!("{} Pa/s2", digits_or_dash(features.curvature_pa_per_s2, 3))),
        ("noise", format!("{} Pa", digits_or_dash(window.noise_pa, 3))),
        ("temperature change", format!("{} K", digits_or_dash(features.temperature_change_k, 3))),
        ("flags", if flags.is_empty() { "none".to_owned() } else { flags.join(", ") }),
    ];
    format!("\n{}", pairs(&rows))
}

fn findings_text(findings: &Findings) -> String {
    let rows: Vec<Vec<String>> = findings
        .terms
        .iter()
        .map(|term| {
            let others: Vec<&str> = term.could_also_be.iter().map(|cause| cause.word()).collect();
            vec![
                term.cause.word().to_owned(),
                digits(term.rise_pa, 3),
                term.share.map_or_else(|| "-".to_owned(), |share| digits(100.0 * share, 3)),
                digits_or_dash(term.time_s, 3),
                digits_or_dash(term.evidence, 2),
                others.join(", "),
            ]
        })
        .collect();
    let mut text = format!("\n{}: {}\n", findings.verdict.words(), findings.sentence);
    if !rows.is_empty() {
        let head = ["cause", "rise Pa", "share %", "time s", "evidence", "could also be"];
        text.push_str(&table(&head, &rows));
    }
    text.push_str(&format!("next: {}\n", findings.next_step));
    text
}

/// JSON of a run.
pub fn json(path: &Path, trace: &ImportedTrace, run: &Examined) -> Value {
    let mut flags: Vec<&str> = trace.messages.iter().map(|message| message.code).collect();
    let window = run.features.as_ref().map(|features| &features.window);
    flags.extend(run.features.iter().flat_map(|f| f.flags.iter().map(|flag| flag.word())));
    let mut answer = json!({
        "file": path.display().to_string(),
        "channel": trace.name,
        "run": trace.run,
        "cycle": if run.cycle > 0 { json!(run.cycle) } else { Value::Null },
        "samples": run.trace.times_s.len(),
        "vented_from_sample": trace.vented_from.map(|index| index + 1),
        "stages": run.segments.iter().map(segment_json).collect::<Value>(),
        "cycle_stages": cycle_json(&run.stages),
        "ended": run.ended.words(),
        "time_to_reach_s": optional(run.features.as_ref().and_then(|f| f.time_to_reach_s)),
        "level_start_pa": optional(window.map(|window| window.level_start_pa)),
        "level_end_pa": optional(window.map(|window| window.level_end_pa)),
        "rise_pa": optional(window.map(|window| window.rise_pa)),
        "slope_pa_per_s": optional(
            window
                .and_then(|window| window.slope_pa_per_s)
                .or_else(|| run.segments.last().and_then(|segment| segment.slope_pa_per_s))
        ),
        "slope_lower_pa_per_s": optional(
            run.features.as_ref().and_then(|f| f.slope_interval).map(|(low, _)| low)
        ),
        "slope_upper_pa_per_s": optional(
            run.features.as_ref().and_then(|f| f.slope_interval).map(|(_, high)| high)
        ),
        "curvature_pa_per_s2": optional(
            run.features.as_ref().and_then(|f| f.curvature_pa_per_s2)
        ),
        "noise_pa": optional(window.and_then(|window| window.noise_pa)),
        "temperature_change_k": optional(
            run.features.as_ref().and_then(|f| f.temperature_change_k)
        ),
        "flags": flags,
    });
    let findings = run.findings.as_ref().and_then(|findings| findings.as_ref().ok());
    if let (Value::Object(all), Value::Object(found)) = (&mut answer, findings_json(findings)) {
        all.extend(found);
    }
    answer
}

/// JSON of the causes of a rise, the same keys whether or not they were found.
pub fn findings_json(findings: Option<&Findings>) -> Value {
    json!({
        "verdict": findings.map(|findings| findings.verdict.words()),
        "terms": findings
            .map(|findings| findings.terms.iter().map(term_json).collect::<Value>())
            .unwrap_or_else(|| json!([])),
        "residuals": residuals_json(findings),
        "leak_rate": leak_rate_json(findings),
        "leak_size": leak_size_json(findings),
        "excludes": excludes_json(findings),
        "sentence": findings.map(|findings| findings.sentence.clone()),
        "next_step": findings.map(|findings| findings.next_step.clone()),
    })
}

/// What the fit leaves, at its points: the record averaged to 200 at most.
fn residuals_json(findings: Option<&Findings>) -> Value {
    let residuals = findings.and_then(|findings| findings.residuals.as_ref());
    let list = |of: fn(&Residuals) -> &Vec<f64>| {
        residuals.map(|found| of(found).iter().map(|value| number(*value)).collect::<Value>())
    };
    json!({
        "times_s": list(|found| &found.times_s),
        "fitted_pa": list(|found| &found.fitted_pa),
        "values_pa": list(|found| &found.values_pa),
        "sd_pa": optional(residuals.map(|found| found.sd_pa)),
        "autocorrelation": optional(residuals.map(|found| found.autocorrelation)),
        "look_random": residuals.map(|found| found.look_random),
    })
}

fn leak_rate_json(findings: Option<&Findings>) -> Value {
    let rate = findings.and_then(|findings| findings.leak_rate);
    json!({
        "estimate_pa_per_s": optional(rate.map(|rate| rate.estimate_pa_per_s)),
        "lower_pa_per_s": optional(rate.map(|rate| rate.lower_pa_per_s)),
        "upper_pa_per_s": optional(rate.map(|rate| rate.upper_pa_per_s)),
        "confidence": optional(rate.map(|rate| rate.confidence)),
        "one_sided": rate.map(|rate| rate.one_sided),
        "with_drift_lower_pa_per_s": optional(rate.map(|rate| rate.rise_lower_pa_per_s)),
        "with_drift_upper_pa_per_s": optional(rate.map(|rate| rate.rise_upper_pa_per_s)),
    })
}

fn leak_size_json(findings: Option<&Findings>) -> Value {
    let size = findings.and_then(|findings| findings.leak_size);
    json!({
        "flow_equivalent_um": optional(size.map(|size| size.estimate_um)),
        "lower_um": optional(size.map(|size| size.lower_um)),
        "upper_um": optional(size.and_then(|size| size.upper_um)),
    })
}

fn excludes_json(findings: Option<&Findings>) -> Value {
    let two = findings.and_then(|findings| findings.excludes);
    json!({
        "smallest_um": optional(two.map(|two| two.smallest_um)),
        "largest_um": optional(two.and_then(|two| two.largest_um)),
    })
}

fn segment_json(segment: &Segment) -> Value {
    json!({
        "direction": segment.direction.word(),
        "start_s": number(segment.start_s),
        "end_s": number(segment.end_s),
        "start_pa": number(segment.start_pa),
        "end_pa": number(segment.end_pa),
        "mean_pa": number(segment.mean_pa),
        "slope_pa_per_s": optional(segment.slope_pa_per_s),
        "slope_standard_error_pa_per_s": optional(segment.slope_standard_error),
        "noise_pa": optional(segment.noise_pa),
        "samples": segment.n_samples,
    })
}

fn cycle_json(stages: &Result<FoundStages, NoStages>) -> Value {
    match stages {
        Err(reason) => {
            json!({ "reason": reason.to_string(), "source": null, "sureness": null, "doubts": [],
                "spans": [] })
        }
        Ok(found) => json!({
            "reason": found.how,
            "source": found.source.word(),
            "sureness": found.sureness.word(),
            "doubts": found.doubts,
            "spans": found.spans.iter().map(|span| json!({
                "stage": span.stage.word(),
                "tier": span.tier,
                "start_s": number(span.start_s),
                "end_s": number(span.end_s),
            })).collect::<Value>(),
        }),
    }
}

fn term_json(term: &FoundTerm) -> Value {
    json!({
        "cause": term.cause.word(),
        "could_also_be": term.could_also_be.iter().map(|cause| cause.word()).collect::<Vec<_>>(),
        "rise_pa": number(term.rise_pa),
        "share": optional(term.share),
        "time_s": optional(term.time_s),
        "exponent": optional(term.exponent),
        "evidence": optional(term.evidence),
        "curve_pa": term.curve_pa.iter().map(|value| number(*value)).collect::<Value>(),
    })
}

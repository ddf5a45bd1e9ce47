//! The calibration as text, JSON and words.

use serde_json::{Value, json};
use statistics::Assumption;
use statistics::assumptions::order::runs_about_median;
use statistics::assumptions::shapiro_wilk::shapiro_wilk;
use statistics::regression::{LackOfFit, lack_of_fit};

use super::fit::{Fitted, Other};
use super::limits::{self, Inverse, Limits};
use super::volume::{EffectiveVolume, effective_volume};
use super::{Flow, figure};
use crate::answer::{Answer, number, optional};
use crate::commands::assess::checks;
use crate::commands::assess::statement::Statement;
use crate::commands::assess::told::{Told, told};
use crate::fault::Fault;
use crate::table_text::{digits, digits_or_dash, pairs};

/// Turns the line into the answer.
pub fn answer(
    command: &Flow,
    flows: &[f64],
    readings: &[f64],
    fitted: Fitted,
    repeats: Vec<study::Note>,
) -> Result<Answer, Fault> {
    let mut notes = fitted.notes();
    notes.extend(repeats);
    let fit_check = lack_of_fit(flows, readings, 1).ok();
    let limits = limits::limits(command, &fitted, &mut notes);
    let inverse = command.invert.and_then(|reading| {
        limits::inverse(command, &fitted, reading, (flows, readings), &mut notes)
    });
    let volume = effective_volume(command, &fitted.plain, &mut notes)?;
    let assumptions = assumptions(&fitted, flows, readings, fit_check.as_ref());
    if fit_check.as_ref().is_some_and(|check| check.p_value < 0.05) {
        notes.push(study::Note::caution(
            "lack-of-fit",
            "the repeats scatter less than the levels stray from the line: the line is not the law",
            "use a narrower range of flows, or weights if only the scatter changes",
        ));
    }
    let statement = Statement {
        told: accounts(command, &fitted, &limits, fit_check.as_ref()),
        text: text(command, &fitted, &limits, inverse, volume),
        json: json(command, &fitted, &limits, inverse, volume, fit_check.as_ref()),
        assumptions,
        wording: wording(command, &fitted, &limits, inverse),
        notes,
    };
    statement.finish(&command.figure, || {
        figure::panels(command, (flows, readings), &fitted, &limits, inverse)
    })
}

fn accounts(
    command: &Flow,
    fitted: &Fitted,
    limits: &Limits,
    fit: Option<&LackOfFit>,
) -> Vec<Told> {
    let mut list = vec![match &fitted.other {
        None => told("line", &fitted.plain),
        Some(Other::Weighted(line, _)) => told("line", line),
        Some(Other::Both(line)) => told("line", line),
    }];
    list.extend(limits.detection.as_ref().map(|limit| told("detection limit", limit)));
    list.extend(limits.conventional.as_ref().map(|limit| told("conventional limits", limit)));
    if let (Some(reading), None) = (command.invert, &fitted.other) {
        let inverse =
            fitted.plain.inverse(reading, command.readings_per_result, command.confidence);
        list.extend(inverse.iter().map(|inverse| told("flow for the reading", inverse)));
    }
    list.extend(fit.map(|check| told("lack of fit", check)));
    list
}

fn assumptions(
    fitted: &Fitted,
    flows: &[f64],
    readings: &[f64],
    fit: Option<&LackOfFit>,
) -> Vec<Assumption> {
    let mut list = vec![match fit {
        Some(check) => Assumption {
            name: "straight line",
            test: "lack of fit against repeats",
            p_value: Some(check.p_value),
            held: Some(check.p_value >= 0.05),
            finding: format!(
                "F({}, {}) = {:.4}, p = {:.4}.",
                check.numerator_df, check.denominator_df, check.f, check.p_value
            ),
        },
        None => Assumption {
            name: "straight line",
            test: "lack of fit against repeats",
            p_value: None,
            held: None,
            finding: "Not checked: it needs three flows and repeats at some of them.".into(),
        },
    }];
    let (intercept, slope) = fitted.line();
    let mut order: Vec<usize> = (0..flows.len()).collect();
    order.sort_by(|a, b| flows[*a].total_cmp(&flows[*b]));
    let residuals: Vec<f64> =
        order.iter().map(|i| readings[*i] - intercept - slope * flows[*i]).collect();
    if let Ok(shape) = shapiro_wilk(&residuals) {
        let outcome = Ok((shape.p_value, format!("W = {:.4}", shape.w)));
        list.push(checks::one("normal residuals", "Shapiro-Wilk of residuals", 0.05, outcome));
    }
    if let Ok(runs) = runs_about_median(&residuals) {
        let outcome = Ok((runs.p_value, format!("{} runs", runs.runs)));
        let test = "runs of residuals along the flow";
        list.push(checks::one("residuals without pattern", test, 0.05, outcome));
    }
    list
}

fn interval(value: f64, lower: f64, upper: f64, significant: usize) -> String {
    if lower.is_finite() && upper.is_finite() {
        format!(
            "{} ({} to {})",
            digits(value, significant),
            digits(lower, significant),
            digits(upper, significant)
        )
    } else {
        digits(value, significant)
    }
}

fn text(
    command: &Flow,
    fitted: &Fitted,
    limits: &Limits,
    inverse: Option<Inverse>,
    volume: Option<EffectiveVolume>,
) -> String {
    let (intercept, slope) = fitted.line();
    let errors = fitted.standard_errors();
    let detection = limits.detection.as_ref();
    let slope = match (&fitted.other, fitted.plain.slope_interval(command.confidence)) {
        (None, Ok(ends)) => interval(slope, ends.lower, ends.upper, 6),
        _ => digits(slope, 6),
    };
    let mut rows = vec![
        ("slope", slope),
        ("its standard error", digits(errors.1, 4)),
        ("intercept", digits(intercept, 6)),
        ("its standard error", digits(errors.0, 4)),
        ("residual standard deviation", digits(fitted.plain.residual_sd, 5)),
        ("challenges", fitted.plain.n.to_string()),
        ("critical value of flow", digits_or_dash(detection.map(|l| l.critical_value), 4)),
        (
            "minimum detectable flow",
            digits_or_dash(detection.map(|l| l.minimum_detectable_value), 4),
        ),
        (
            "conventional limits 3.3 s/b, 10 s/b",
            limits.conventional.as_ref().map_or_else(
                || "-".to_owned(),
                |l| format!("{}, {}", digits(l.detection, 4), digits(l.quantitation, 4)),
            ),
        ),
        ("smallest flow known to a third", digits_or_dash(limits.quantitation, 4)),
        ("method", fitted.method().to_owned()),
    ];
    if let Some(reading) = command.invert {
        rows.push((
            "flow for the reading",
            inverse.map_or_else(
                || format!("not defined for {reading}"),
                |i| interval(i.estimate, i.lower, i.upper, 5),
            ),
        ));
    }
    if let Some(volume) = volume {
        let ml = |m3: f64| m3 * 1e6;
        rows.push((
            "effective volume, mL",
            interval(ml(volume.m3), ml(volume.lower), ml(volume.upper), 4),
        ));
    }
    pairs(&rows)
}

fn json(
    command: &Flow,
    fitted: &Fitted,
    limits: &Limits,
    inverse: Option<Inverse>,
    volume: Option<EffectiveVolume>,
    fit: Option<&LackOfFit>,
) -> Value {
    let (intercept, slope) = fitted.line();
    let errors = fitted.standard_errors();
    let detection = limits.detection.as_ref();
    let conventional = limits.conventional.as_ref();
    json!({
        "slope": number(slope),
        "intercept": number(intercept),
        "slope_standard_error": number(errors.1),
        "intercept_standard_error": number(errors.0),
        "residual_sd": number(fitted.plain.residual_sd),
        "n": fitted.plain.n,
        "critical_value": optional(detection.map(|l| l.critical_value)),
        "detection_limit": optional(detection.map(|l| l.minimum_detectable_value)),
        "conventional_detection_limit": optional(conventional.map(|l| l.detection)),
        "conventional_quantitation_limit": optional(conventional.map(|l| l.quantitation)),
        "quantitation_limit": optional(limits.quantitation),
        "lack_of_fit": fit.map_or(Value::Null, |fit| json!({
            "f": number(fit.f),
            "numerator_df": number(fit.numerator_df),
            "denominator_df": number(fit.denominator_df),
            "p_value": number(fit.p_value),
        })),
        "inverse": command.invert.map_or(Value::Null, |reading| json!({
            "reading": number(reading),
            "estimate": optional(inverse.map(|i| i.estimate)),
            "lower": optional(inverse.map(|i| i.lower)),
            "upper": optional(inverse.map(|i| i.upper)),
        })),
        "effective_volume": volume.map_or(Value::Null, |volume| json!({
            "volume_m3": number(volume.m3),
            "lower": number(volume.lower),
            "upper": number(volume.upper),
        })),
        "confidence": number(command.confidence),
        "method": fitted.method(),
    })
}

fn wording(command: &Flow, fitted: &Fitted, limits: &Limits, inverse: Option<Inverse>) -> String {
    let (intercept, slope) = fitted.line();
    let mut text = format!(
        "{} flow challenges gave the line reading = {} + {} × flow ({}; residual standard \
         deviation {}).",
        fitted.plain.n,
        digits(intercept, 4),
        digits(slope, 5),
        fitted.method(),
        digits(fitted.plain.residual_sd, 3)
    );
    if let Some(limit) = &limits.detection {
        text.push_str(&format!(
            " A reading is called a flow from {} on; a flow of {} is so called with probability \
             {} (ISO 11843-2, {} reading(s) for a result).",
            digits(limit.critical_reading, 4),
            digits(limit.minimum_detectable_value, 3),
            1.0 - limit.beta,
            command.readings_per_result,
        ));
    }
    if let (Some(reading), Some(inverse)) = (command.invert, inverse)
        && inverse.lower.is_finite()
    {
        text.push_str(&format!(
            " A reading of {reading} stands for a flow of {} with {} % confidence.",
            interval(inverse.estimate, inverse.lower, inverse.upper, 4),
            command.confidence * 100.0
        ));
    }
    text
}

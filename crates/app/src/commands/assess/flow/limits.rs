//! Smallest flows: critical and minimum detectable value, conventional and
//! quantitation limits; and a reading turned into a flow.

use statistics::CannotSay;
use statistics::regression::quantitation::{
    ConventionalLimits, conventional_limits, quantitation_limit,
};
use statistics::regression::{DetectionLimit, detection_limit};
use study::Note;

use super::Flow;
use super::fit::{Fitted, Other};
use crate::answer::from_statistics;
use crate::table_text::digits;

/// Smallest flows, where they can be said.
#[derive(Default)]
pub struct Limits {
    /// ISO 11843-2.
    pub detection: Option<DetectionLimit>,
    /// 3.3 s/b and 10 s/b.
    pub conventional: Option<ConventionalLimits>,
    /// Smallest flow known to a third, either way.
    pub quantitation: Option<f64>,
}

/// A flow from a reading.
#[derive(Clone, Copy)]
pub struct Inverse {
    /// Estimate.
    pub estimate: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

fn kept<T>(result: Result<T, CannotSay>, code: &'static str, notes: &mut Vec<Note>) -> Option<T> {
    match result {
        Ok(value) => Some(value),
        Err(refusal) => {
            notes.push(Note::refusal(code, refusal.to_string(), refusal.next_step()));
            None
        }
    }
}

/// The limits of the plain line.
pub fn limits(command: &Flow, fitted: &Fitted, notes: &mut Vec<Note>) -> Limits {
    if fitted.other.is_some() {
        notes.push(Note::refusal(
            "no-detection-limit",
            "detection limits are given for the plain line only: with weights they hang on the \
             scatter at zero flow, which the weights do not state",
            "run again without weights on the flows near zero (--where)",
        ));
        return Limits::default();
    }
    let line = &fitted.plain;
    let error = 1.0 - command.confidence;
    let k = command.readings_per_result;
    let detection = kept(detection_limit(line, k, error, error), "no-detection-limit", notes);
    let conventional = kept(conventional_limits(line), "no-conventional-limit", notes);
    let quantitation =
        kept(quantitation_limit(line, k, 3.0, error), "no-quantitation-limit", notes);
    if let Some(limit) = &detection {
        notes.extend(from_statistics(limit.notes.clone()));
    }
    if let Some(limits) = &conventional {
        notes.extend(from_statistics(limits.notes.clone()));
    }
    Limits { detection, conventional, quantitation }
}

/// The flow behind a reading.
pub fn inverse(
    command: &Flow,
    fitted: &Fitted,
    reading: f64,
    (flows, readings): (&[f64], &[f64]),
    notes: &mut Vec<Note>,
) -> Option<Inverse> {
    let found = of_reading(command, fitted, reading, readings, notes)?;
    // The plain line says so by itself.
    if fitted.other.is_some() {
        let low = flows.iter().copied().fold(f64::INFINITY, f64::min);
        let high = flows.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !(low..=high).contains(&found.estimate) {
            notes.push(Note::caution(
                "extrapolated",
                format!(
                    "the flow {} lies outside the calibrated range {low} to {high}",
                    digits(found.estimate, 5)
                ),
                "calibrate at that flow",
            ));
        }
    }
    Some(found)
}

fn of_reading(
    command: &Flow,
    fitted: &Fitted,
    reading: f64,
    readings: &[f64],
    notes: &mut Vec<Note>,
) -> Option<Inverse> {
    match &fitted.other {
        None => {
            let result =
                fitted.plain.inverse(reading, command.readings_per_result, command.confidence);
            kept(result, "no-inverse", notes).map(|inverse| {
                notes.extend(from_statistics(inverse.notes.clone()));
                Inverse { estimate: inverse.x, lower: inverse.lower, upper: inverse.upper }
            })
        }
        Some(Other::Weighted(line, weights)) => {
            // The reading's own weight is that of the nearest calibration reading.
            let nearest = readings
                .iter()
                .zip(weights)
                .min_by(|a, b| (a.0 - reading).abs().total_cmp(&(b.0 - reading).abs()));
            let weight = nearest.map_or(1.0, |(_, weight)| *weight)
                * command.readings_per_result.max(1) as f64;
            kept(line.inverse(reading, weight, command.confidence), "no-inverse", notes)
                .map(|(estimate, lower, upper)| Inverse { estimate, lower, upper })
        }
        Some(Other::Both(line)) => {
            notes.push(Note::refusal(
                "no-inverse-interval",
                "with uncertainty on both axes a reading is turned into a flow without an interval",
                "use the plain or the weighted line for an interval, and add the uncertainty of \
                 the flow standard, which is common to all points",
            ));
            let estimate = (reading - line.intercept) / line.slope;
            estimate.is_finite().then_some(Inverse { estimate, lower: f64::NAN, upper: f64::NAN })
        }
    }
}

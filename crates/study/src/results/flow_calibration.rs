//! Flow calibration: what the reading says of a known flow, which flow stands
//! behind the reject limit, and which free volume the flows see.

use statistics::regression::quantitation::reciprocal_slope;
use statistics::regression::{StraightLine, detection_limit, lack_of_fit, straight_line};

use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::runs::Run;
use crate::wording::rounded;

/// What the flow challenges say. Flows are Pa·m³/s at 20 °C.
#[derive(Debug, Clone, PartialEq)]
pub struct FlowCalibration {
    /// The challenges by flow, from the smallest on.
    pub levels: Vec<FlowLevel>,
    /// Challenges that count.
    pub n: usize,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Rise without a flow, Pa.
    pub intercept_pa: f64,
    /// Rise per flow, Pa/(Pa·m³/s), with its interval.
    pub slope: Interval,
    /// Scatter of the rises about the line, Pa.
    pub residual_sd_pa: f64,
    /// Probability of such a lack of fit if the line is straight; `None`
    /// without repeats at three flows.
    pub lack_of_fit_p: Option<f64>,
    /// Flow above which a reading is called a flow.
    pub critical_flow: Option<f64>,
    /// Flow that is so called in 19 of 20 readings (ISO 11843-2).
    pub detection_limit: Option<f64>,
    /// Flow behind the reject limit, with its interval; `None` where there is
    /// no limit.
    pub flow_at_limit: Option<Interval>,
    /// Free volume that the slopes of the pressure see, m³; `None` where a run
    /// has no slope.
    pub free_volume_m3: Option<Interval>,
    /// Name of the method.
    pub method: String,
}

/// A value with the ends of its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// The value.
    pub value: f64,
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

/// Challenges of one flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowLevel {
    /// The flow.
    pub flow_pa_m3_per_s: f64,
    /// Challenges with a rise.
    pub n: usize,
    /// Mean rise, Pa.
    pub mean_pa: f64,
    /// Standard deviation, Pa; `None` for one challenge.
    pub standard_deviation_pa: Option<f64>,
}

/// Probability of each of the two errors of a detection limit.
const ERROR: f64 = 0.05;

/// One challenge: flow, rise, and rate of the pressure.
struct Challenge {
    flow: f64,
    rise_pa: f64,
    rate_pa_per_s: Option<f64>,
}

pub(super) fn from_flow_challenges(
    input: &CaseInput,
    runs: &[Run],
    limit_pa: Option<f64>,
    notes: &mut Vec<Note>,
) -> Option<FlowCalibration> {
    let all = runs.iter().filter(|run| run.class.flow_pa_m3_per_s().is_some()).count();
    if all == 0 {
        return None;
    }
    let challenges: Vec<Challenge> = runs.iter().filter_map(challenge).collect();
    if challenges.len() < all {
        notes.push(Note::caution(
            "flow-challenge-without-rise",
            format!("{} flow challenges have no rise", all - challenges.len()),
            "read the list of runs: a flow that ends a run is too large for this cycle",
        ));
    }
    let flows: Vec<f64> = challenges.iter().map(|one| one.flow).collect();
    let rises: Vec<f64> = challenges.iter().map(|one| one.rise_pa).collect();
    let confidence = input.profile.purpose.confidence.fraction();
    let fitted =
        straight_line(&flows, &rises).and_then(|line| Ok((line.slope_interval(confidence)?, line)));
    let (slope, line) = match fitted {
        Ok(fitted) => fitted,
        Err(error) => {
            notes.push(refused(&error));
            return None;
        }
    };
    if line.slope_p_value() > ERROR {
        notes.push(Note::refusal(
            "no-flow-calibration",
            "no flow calibration can be said: the rise cannot be told from one without a flow",
            "repeat with larger flows, or more challenges of each",
        ));
        return None;
    }
    let fit = lack_of_fit(&flows, &rises, 1).ok().map(|fit| fit.p_value);
    if fit.is_some_and(|p| p < ERROR) {
        notes.push(Note::caution(
            "flow-line-bent",
            format!("the rise is not in proportion to the flow (p = {})", rounded(fit.unwrap_or(0.0))),
            "keep to a narrower range of flows, and look for a saturated gauge or a drifting standard",
        ));
    }
    let limits = detection_limit(&line, 1, ERROR, ERROR);
    match &limits {
        Ok(limits) => notes.extend(limits.notes.iter().cloned().map(Note::from)),
        Err(error) => notes.push(refused(error)),
    }
    let flow_at_limit = limit_pa.and_then(|limit| at_limit(&line, limit, confidence, notes));
    let free_volume_m3 = free_volume(input, &challenges, confidence);
    if let Some(volume) = free_volume_m3 {
        compare_volume(input, &volume, notes);
    }
    Some(FlowCalibration {
        levels: levels(&challenges),
        n: line.n,
        confidence,
        intercept_pa: line.intercept,
        slope: Interval { value: slope.value, lower: slope.lower, upper: slope.upper },
        residual_sd_pa: line.residual_sd,
        lack_of_fit_p: fit,
        critical_flow: limits.as_ref().ok().map(|limits| limits.critical_value),
        detection_limit: limits.as_ref().ok().map(|limits| limits.minimum_detectable_value),
        flow_at_limit,
        free_volume_m3,
        method: "straight line of rise on flow; detection limit by ISO 11843-2, flow behind the \
                 limit by Fieller"
            .to_owned(),
    })
}

fn challenge(run: &Run) -> Option<Challenge> {
    let flow = run.class.flow_pa_m3_per_s()?;
    let features = run.measured()?;
    Some(Challenge { flow, rise_pa: features.rise_pa, rate_pa_per_s: features.slope_pa_per_s })
}

/// Detection limit of the line through flows and rises and the probability of
/// its lack of fit, where there are enough of them: what the criterion on the
/// flow calibration asks. `None` where no line can be said.
pub(crate) fn limit_and_fit(flows: &[f64], rises: &[f64]) -> Option<(f64, Option<f64>)> {
    let line = straight_line(flows, rises).ok().filter(|line| line.slope_p_value() <= ERROR)?;
    let limits = detection_limit(&line, 1, ERROR, ERROR).ok()?;
    let fit = lack_of_fit(flows, rises, 1).ok().map(|fit| fit.p_value);
    Some((limits.minimum_detectable_value, fit))
}

fn refused(error: &statistics::CannotSay) -> Note {
    Note::refusal(
        "no-flow-calibration",
        format!("no flow calibration can be said: {error}"),
        "run at least three flows with repeats, one of them with the standard shut",
    )
}

fn at_limit(
    line: &StraightLine,
    limit_pa: f64,
    confidence: f64,
    notes: &mut Vec<Note>,
) -> Option<Interval> {
    let inverse = line.inverse(limit_pa, 1, confidence).ok()?;
    if inverse.x > line.range_x.1 {
        notes.push(Note::caution(
            "limit-beyond-flows",
            "the reject limit lies above the largest flow challenge",
            "add a flow beyond the limit: the line is not known there",
        ));
    }
    // A flow below nothing is no flow: the unit may also be tight.
    let floor = |flow: f64| flow.max(0.0);
    Some(Interval {
        value: floor(inverse.x),
        lower: floor(inverse.lower),
        upper: floor(inverse.upper),
    })
}

/// `V = (T / 293.15 K) / b`, with `b` the slope of the pressure's rate on the
/// flow at 20 °C: the gas law for a constant flow into a closed volume.
fn free_volume(input: &CaseInput, challenges: &[Challenge], confidence: f64) -> Option<Interval> {
    let rates: Option<Vec<f64>> = challenges.iter().map(|one| one.rate_pa_per_s).collect();
    let flows: Vec<f64> = challenges.iter().map(|one| one.flow).collect();
    let line = straight_line(&flows, &rates?).ok()?;
    let reciprocal = reciprocal_slope(&line, confidence).ok().filter(|found| found.value > 0.0)?;
    Some(Interval {
        value: input.rig.at_wall(reciprocal.value),
        lower: input.rig.at_wall(reciprocal.lower),
        upper: input.rig.at_wall(reciprocal.upper),
    })
}

fn compare_volume(input: &CaseInput, found: &Interval, notes: &mut Vec<Note>) {
    let stated = &input.rig.free_volume;
    let Some(uncertainty) = stated.standard_uncertainty_si else { return };
    let (low, high) =
        (stated.value.m3() - 2.0 * uncertainty, stated.value.m3() + 2.0 * uncertainty);
    if found.upper < low || found.lower > high {
        notes.push(Note::caution(
            "free-volume-differs",
            format!(
                "the flows see a free volume of {} mL, and {} mL are stated for the rig",
                rounded(found.value * 1e6),
                rounded(stated.value.m3() * 1e6)
            ),
            "measure the free volume anew with this container in the chamber, and check the \
             certificate of the flow standard",
        ));
    }
}

fn levels(challenges: &[Challenge]) -> Vec<FlowLevel> {
    let mut flows: Vec<f64> = challenges.iter().map(|one| one.flow).collect();
    flows.sort_by(f64::total_cmp);
    flows.dedup();
    flows
        .into_iter()
        .filter_map(|flow| {
            let rises: Vec<f64> = challenges
                .iter()
                .filter(|one| one.flow.total_cmp(&flow).is_eq())
                .map(|one| one.rise_pa)
                .collect();
            Some(FlowLevel {
                flow_pa_m3_per_s: flow,
                n: rises.len(),
                mean_pa: digits::sums::mean(&rises)?,
                standard_deviation_pa: digits::sums::standard_deviation(&rises),
            })
        })
        .collect()
}

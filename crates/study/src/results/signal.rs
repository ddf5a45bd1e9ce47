//! Probability of detection from the readings of positive controls against
//! their size: every reading tells how far it lies from the limit, where a hit
//! or a miss only tells the side. It is the route that needs fewest units, and
//! the one that stands where hits and misses do not overlap.
//!
//! `ln(rise - blank) = intercept + slope ln(size) + unit + reading`, the blank
//! being the mean of the negative controls. A rise within the noise is known
//! only to lie below it; one that a limit ended, or that lies far above the
//! threshold, only to lie above.

use digits::scalar::{exp, ln};
use std::collections::BTreeMap;

use super::RejectLimit;
use super::signal_line::{Axes, NetRise, ReadLine, Scale};
use crate::case_input::CaseInput;
use crate::criteria::BOUND_PROBABILITY;
use crate::notes::Note;
use crate::runs::{Ended, Run};
use crate::wording::rounded;

/// What readings against size say of detection. Sizes are flow-equivalent µm.
#[derive(Debug, Clone, PartialEq)]
pub struct SignalDetection {
    /// Mean rise of the negative controls, taken off every rise, Pa.
    pub blank_pa: f64,
    /// Limit less that blank: what a net rise has to exceed, Pa.
    pub threshold_pa: f64,
    /// Net rise below which a reading is only known to lie below it, Pa.
    pub floor_pa: f64,
    /// ln of the net rise in Pa at 1 µm.
    pub intercept: f64,
    /// Growth of ln net rise with ln size.
    pub slope: f64,
    /// Standard deviation of ln net rise of one reading of a new unit, in the
    /// middle of the sizes.
    pub scatter: f64,
    /// Size found with probability one half.
    pub a50_um: Option<f64>,
    /// Size found with probability 0.9.
    pub a90_um: Option<f64>,
    /// Upper bound on it at the confidence of the purpose.
    pub a90_95_um: Option<f64>,
    /// How that bound was found.
    pub a90_95_method: String,
    /// Units.
    pub units: usize,
    /// Readings read, below the floor, and above a limit.
    pub read_below_above: (usize, usize, usize),
    /// Whether nothing that was checked speaks against the line, so that the
    /// bound may be claimed.
    pub line_holds: bool,
    /// The curve: (µm, probability).
    pub curve: Vec<(f64, f64)>,
}

/// Share of its range from which on a gauge is taken to be at its end.
const FULL_SCALE: f64 = 0.999;

impl SignalDetection {
    /// Rise over the blank at which half of the units of a size lie, Pa.
    #[must_use]
    pub fn middle_rise_pa(&self, um: f64) -> f64 {
        exp(self.intercept + self.slope * ln(um))
    }

    /// What a positive control says of its rise over the blank; `None` for a
    /// run without a result. `range_pa` is the range of the gauge.
    #[must_use]
    pub fn net_rise(&self, run: &Run, range_pa: f64) -> Option<NetRise> {
        let &Self { blank_pa, floor_pa, threshold_pa, .. } = self;
        net_rise(run, &Scale { blank_pa, floor_pa, threshold_pa }, range_pa)
    }

    /// Size of a positive control that was read, and its reading as a multiple
    /// of the line there; `None` for one that is only known to lie below or
    /// above something.
    #[must_use]
    pub fn over_line(&self, run: &Run, range_pa: f64) -> Option<(f64, f64)> {
        let um = run.detection_size_um()?;
        let NetRise::Read(pa) = self.net_rise(run, range_pa)? else { return None };
        Some((um, pa / self.middle_rise_pa(um)))
    }
}

fn net_rise(run: &Run, scale: &Scale, range_pa: f64) -> Option<NetRise> {
    match run.ended {
        Ended::ReachLimit { .. } | Ended::RiseLimit { .. } => Some(scale.rejected()),
        // One that is not known to exceed the limit tells of no side.
        Ended::GaugeFull { at_least_pa } => {
            run.found(scale.blank_pa + scale.threshold_pa).map(|_| scale.read(at_least_pa, true))
        }
        Ended::Completed => run.measured().and_then(|features| {
            let full = features.level_end_pa >= FULL_SCALE * range_pa;
            (!full || features.rise_pa > scale.blank_pa + scale.threshold_pa)
                .then(|| scale.read(features.rise_pa, full))
        }),
        Ended::Aborted { .. } => None,
    }
}

fn axes(runs: &[Run], scale: &Scale, range_pa: f64) -> Axes {
    let mut names: BTreeMap<&str, usize> = BTreeMap::new();
    let mut axes = Axes::default();
    for (place, run) in runs.iter().enumerate() {
        let (Some(size), Some(net)) = (run.detection_size_um(), net_rise(run, scale, range_pa))
        else {
            continue;
        };
        let next = names.len();
        let unit = if run.unit.is_empty() {
            // Without a mark a run is a unit of its own.
            runs.len() + place
        } else {
            *names.entry(run.unit.as_str()).or_insert(next)
        };
        axes.push(size, net, unit);
    }
    axes
}

/// Evaluates the positive controls by their readings.
pub(super) fn from_positive_controls(
    input: &CaseInput,
    runs: &[Run],
    limit: &RejectLimit,
    notes: &mut Vec<Note>,
) -> Option<SignalDetection> {
    let scale = Scale::of(limit.mean_pa, limit.standard_deviation_pa, limit.limit_pa)?;
    let axes = axes(runs, &scale, input.rig.sensor.range.pa());
    if axes.x.is_empty() {
        return None;
    }
    let confidence = input.profile.purpose.confidence.fraction();
    let found = match ReadLine::of(&axes, &scale) {
        Ok(found) => found,
        Err(error) => {
            notes.push(Note::refusal(
                "no-signal-line",
                format!("no line of readings against size can be said: {error}"),
                "test positive controls whose rises lie between the noise and the limits that end \
                 a run",
            ));
            return None;
        }
    };
    let (half, most) =
        match (found.place(0.5, confidence), found.place(BOUND_PROBABILITY, confidence)) {
            (Ok(half), Ok(most)) => (half, most),
            (Err(error), _) | (_, Err(error)) => {
                notes.push(Note::refusal(
                    "no-signal-a90",
                    format!(
                        "readings against size give no size found with probability 0.9: {error}"
                    ),
                    "test positive controls of sizes around the limit",
                ));
                return None;
            }
        };
    let ReadLine { line, at, against } = found;
    if !against.is_empty() {
        notes.push(Note::caution(
            "signal-line-doubtful",
            format!("the line of readings against size is doubtful: {}", against.join("; ")),
            "claim by hits and misses, or find out why the readings leave the line",
        ));
    }
    let (low, high) =
        axes.x.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(*x), b.max(*x)));
    let curve = crate::forecast::log_grid(0.7 * exp(low), 1.3 * exp(high), 60)
        .into_iter()
        .filter_map(|um| Some((um, line.probability_above(ln(um), at)?)))
        .collect();
    Some(SignalDetection {
        blank_pa: scale.blank_pa,
        threshold_pa: scale.threshold_pa,
        floor_pa: scale.floor_pa,
        intercept: line.intercept,
        slope: line.slope,
        scatter: line.total,
        a50_um: Some(exp(half.estimate)).filter(|um| um.is_finite()),
        a90_um: Some(exp(most.estimate)).filter(|um| um.is_finite()),
        a90_95_um: most.upper.map(exp).filter(|um| um.is_finite()),
        a90_95_method: most.method.to_owned(),
        units: line.units,
        read_below_above: line.read_below_above,
        line_holds: against.is_empty(),
        curve,
    })
}

/// Both routes side by side, where they contradict each other.
pub(super) fn contradiction(
    signal: &SignalDetection,
    bracket_um: Option<(f64, f64)>,
) -> Option<Note> {
    let (a50, (missed, found)) = (signal.a50_um?, bracket_um?);
    // Half are found at a50: a factor of two outside the bracket of hits and
    // misses is more than a line through the same units can explain.
    (a50 > 2.0 * found.max(missed) || 2.0 * a50 < found.min(missed)).then(|| {
        Note::caution(
            "routes-disagree",
            format!(
                "readings put the size found in half of the units at {} µm, hits and misses between \
                 {} and {} µm",
                rounded(a50),
                rounded(found.min(missed)),
                rounded(found.max(missed))
            ),
            "look at the traces of the units between before either is claimed",
        )
    })
}

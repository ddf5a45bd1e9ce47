//! How a recorded run ended, by the limits of its method: what the rig itself
//! decided is not in a trace, but the pressures it decided by are.

use physics::cycle::Tier;
use physics::trace::{PressureTrace, Stage};

use crate::runs::Ended;
use crate::trace_features::{self, lowest_reached_pa};

/// How a run with these stages ended by the limits of the tiers of its method, in
/// their order. A tier of which the trace shows nothing, before one that it does
/// show, is passed over.
///
/// The limit of the rise of the last tier is not asked here: it is the reading of
/// the run, and the method judges it.
///
/// # Example
/// ```
/// use physics::cycle::Tier;
/// use physics::quantities::{AbsolutePressure, Duration, PressureDifference};
/// use study::run_ending::ended_by_limits;
/// use study::runs::Ended;
/// use study::trace::{PressureTrace, Stage, StageSpan};
/// let tier = |to_pa| Tier {
///     evacuate_to: AbsolutePressure::from_pa(to_pa),
///     evacuate_limit: Duration::from_s(20.0),
///     reach_limit: None,
///     settle: Duration::from_s(0.0),
///     measure: Duration::from_s(10.0),
///     rise_limit: Some(PressureDifference::from_pa(50.0)),
/// };
/// // The first of two tiers rises by 100 Pa, and the record ends.
/// let span = |stage, start_s, end_s| StageSpan { stage, tier: 1, start_s, end_s };
/// let trace = PressureTrace {
///     times_s: (0..=20).map(f64::from).collect(),
///     pressures_pa: (0..=20).map(|i| 1000.0 + 10.0 * f64::from((i - 10).max(0))).collect(),
///     temperatures_k: Vec::new(),
///     stages: vec![span(Stage::Evacuate, 0.0, 10.0), span(Stage::Measure, 10.0, 20.0)],
/// };
/// assert_eq!(ended_by_limits(&trace, &[tier(1000.0), tier(100.0)]), Ended::RiseLimit { tier: 1 });
/// ```
#[must_use]
pub fn ended_by_limits(trace: &PressureTrace, tiers: &[Tier]) -> Ended {
    let last_seen = trace.stages.iter().map(|span| span.tier).max().unwrap_or(0);
    if usize::from(last_seen) > tiers.len() && !tiers.is_empty() {
        return Ended::Aborted {
            cause: format!(
                "the record has {last_seen} tiers, and the method has {}: it is not of this method",
                tiers.len()
            ),
        };
    }
    for (tier, number) in tiers.iter().zip(1_u16..) {
        let reach = tier.reach_limit.zip(lowest_reached_pa(trace, number));
        if reach.is_some_and(|(limit, reached)| reached > limit.pa()) {
            return Ended::ReachLimit { tier: number };
        }
        let is_last = usize::from(number) == tiers.len();
        let read = trace_features::read(trace, number);
        if let (Some(limit), Some(read), false) = (tier.rise_limit, read, is_last)
            && (read.rise_pa > limit.pa()
                || number == last_seen && rise_end_to_end(trace, number) > limit.pa())
        {
            return Ended::RiseLimit { tier: number };
        }
        if read.is_none() && number >= last_seen {
            return missing(number);
        }
    }
    let measured = trace.stages.iter().any(|span| span.stage == Stage::Measure);
    if measured { Ended::Completed } else { missing(1) }
}

/// A run whose record holds no measure stage of a tier, and none of a later one.
fn missing(tier: u16) -> Ended {
    Ended::Aborted {
        cause: if tier > 1 {
            format!("the record ends before tier {tier} was measured, and no limit was exceeded")
        } else {
            "the measure stage has no samples".to_owned()
        },
    }
}

/// Rise of a measure stage from its first samples to its last, Pa. A rig may read its
/// early tiers so; the levels of [`trace_features::read`] are means over a tenth of the
/// stage at each end and show a tenth less. Asked only where the run went no further,
/// so that something ended it.
fn rise_end_to_end(trace: &PressureTrace, number: u16) -> f64 {
    /// Samples whose mean stands for an end.
    const FEW: usize = 3;
    let Some(span) = trace.span(Stage::Measure, number) else { return 0.0 };
    let range = trace.samples_between(span.start_s, span.end_s);
    let pressures = trace.pressures_pa.get(range).unwrap_or_default();
    let few = FEW.min(pressures.len() / 2);
    let ends = (
        digits::sums::mean(&pressures[..few]),
        digits::sums::mean(&pressures[pressures.len() - few..]),
    );
    if let (Some(first), Some(last)) = ends { last - first } else { 0.0 }
}

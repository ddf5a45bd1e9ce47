//! The same study with positive controls chosen one after the other: each
//! next size from the results so far, and an end as soon as the bound is
//! reached.

use digits::RandomStream;
use statistics::adaptive_study::next_size;
use statistics::detection::Link;

use super::BoundCalibration;
use super::study::{Readings, Truth, noise_of, seen};
use crate::plan::{Plan, PlannedRun};
use crate::run_factors::LeakSide;
use crate::runs::{ARRIVAL_LOG_SD, BORE_LOG_SD};
use crate::unit_class::RunClass;

/// Fewest units before the study may end: fewer give curves that move.
const FEWEST: usize = 20;
/// Units between two looks at the bound. Each look is one more chance to be
/// wrong, so that they are few.
const BETWEEN_LOOKS: usize = 5;

/// What the adaptive study came to over the rehearsals.
#[derive(Debug, Clone, PartialEq)]
pub struct AdaptiveArm {
    /// Number of rehearsals in which it was played.
    pub n: usize,
    /// Bound that it has to reach, µm.
    pub at_most_um: f64,
    /// Share in which the bound was reached.
    pub probability_met: f64,
    /// Share of the same rehearsals in which the plan as it is reached it.
    pub planned_probability_met: f64,
    /// Mean number of positive controls used.
    pub mean_units: f64,
    /// Number that the plan uses.
    pub planned_units: usize,
}

/// Sizes that a plan orders, µm, rising, and how many positive controls in all.
pub(super) fn sizes_of(plan: &Plan) -> (Vec<f64>, usize) {
    let mut sizes: Vec<f64> = Vec::new();
    let mut units = 0;
    let gas_side = |run: &&PlannedRun| run.factors.side != Some(LeakSide::Liquid);
    for run in plan.runs.iter().filter(gas_side) {
        if let RunClass::PositiveControl { nominal_um, .. } = run.class {
            units += 1;
            if !sizes.contains(&nominal_um) {
                sizes.push(nominal_um);
            }
        }
    }
    sizes.sort_by(f64::total_cmp);
    (sizes, units)
}

/// One adaptive study: whether the bound was reached, and with how many units.
/// `so_far` holds the negative controls and the limit of the study.
pub(super) fn play(
    truth: &Truth,
    mut so_far: Readings,
    (sizes, most): (&[f64], usize),
    at_most_um: f64,
    calibration: &BoundCalibration,
    (seed, number): (u64, u64),
) -> (bool, usize) {
    // Streams of the plan as it is come first.
    let mut stream = RandomStream::new(seed, (1 << 41) + number);
    let Some((background_pa, noise_pa)) = noise_of(truth) else { return (false, 0) };
    so_far.positive.clear();
    while so_far.positive.len() < most {
        let Ok(next) = next_size(&so_far.hits(), sizes, Link::Logit, 0.9) else {
            return (false, so_far.positive.len());
        };
        let true_um = next.size * digits::scalar::exp(BORE_LOG_SD * stream.normal());
        let verified_um = true_um * digits::scalar::exp(ARRIVAL_LOG_SD * stream.normal());
        let (rise_pa, otherwise) = seen(&truth.response, true_um);
        let offset_pa = background_pa * stream.normal() + noise_pa * stream.normal();
        let by_limit = stream.uniform() < otherwise;
        let rise_pa = if by_limit { f64::INFINITY } else { rise_pa + offset_pa };
        so_far.positive.push((next.size, verified_um, rise_pa));
        let done = so_far.positive.len();
        let looks =
            done >= FEWEST.min(most) && (done.is_multiple_of(BETWEEN_LOOKS) || done == most);
        if looks && calibration.meets(&so_far, at_most_um) {
            return (true, done);
        }
    }
    (false, so_far.positive.len())
}

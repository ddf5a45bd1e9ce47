//! Stages of a cycle of several tiers: the chamber is pumped, closed and read, and
//! pumped on from there.
//!
//! The record is cut where the pressure falls again from a closed chamber, and
//! each part is read with the times of its tier.

use physics::cycle::Tier;
use physics::trace::{PressureTrace, Stage, StageSpan};

use super::isolation::floor;
use super::onset::pumping_from;
use super::record::Record;
use super::{
    FALL_OVER_NOISE, FEWEST, FoundStages, LEAST_FALL, NoStages, StageSource, Sureness, find_part,
    find_stages,
};
use crate::wording::rounded;

/// A closed stretch lasts at least this share of the shortest settle and measure of
/// the method: a pump that hesitates is no tier.
const CLOSED_SHARE: f64 = 0.5;
/// Pumping stops at its target, so that a chamber that stands below this share of it
/// belongs to a later tier.
const BELOW_TARGET: f64 = 0.7;
/// The fall to the next tier has begun so many deviations of a sample below what the
/// closed chamber stood at.
const LEAVES: f64 = 5.0;

/// Finds the stages of a cycle of one tier or several. A cycle that ended by the
/// limit of an early tier shows fewer than the method has; what was not run has no
/// stages.
///
/// # Errors
/// As [`find_stages`], with the tier; and where more tiers are seen than the method
/// has.
///
/// # Example
/// ```
/// use physics::cycle::Tier;
/// use physics::quantities::{AbsolutePressure, Duration};
/// use study::stages::find_tiers;
/// use study::trace::{PressureTrace, Stage};
/// let tier = |to_pa| Tier {
///     evacuate_to: AbsolutePressure::from_pa(to_pa),
///     evacuate_limit: Duration::from_s(20.0),
///     reach_limit: None,
///     settle: Duration::from_s(4.0),
///     measure: Duration::from_s(10.0),
///     rise_limit: None,
/// };
/// // 5 s to 30 kPa, closed for 14 s, 6 s to 500 Pa, closed for 14 s.
/// let pressure = |t: f64| match t {
///     t if t < 5.0 => 1e5 - 14_000.0 * t,
///     t if t < 19.0 => 30_000.0 + 20.0 * (t - 5.0),
///     t if t < 25.0 => 30_280.0 - 4960.0 * (t - 19.0),
///     t => 520.0 + 2.0 * (t - 25.0),
/// };
/// let times_s: Vec<f64> = (0..390).map(|i| f64::from(i) * 0.1).collect();
/// let pressures_pa = times_s.iter().map(|&t| pressure(t)).collect();
/// let trace = PressureTrace { times_s, pressures_pa, ..Default::default() };
/// let found = find_tiers(&trace, &[tier(30_000.0), tier(500.0)])?;
/// let measured: Vec<_> = found.spans.iter().filter(|span| span.stage == Stage::Measure).collect();
/// assert_eq!(measured.len(), 2);
/// assert!((measured[0].start_s - 9.0).abs() < 0.3 && (measured[1].start_s - 29.0).abs() < 0.3);
/// # Ok::<(), study::stages::NoStages>(())
/// ```
pub fn find_tiers(trace: &PressureTrace, tiers: &[Tier]) -> Result<FoundStages, NoStages> {
    let named = trace.stages.iter().any(|span| span.stage == Stage::Measure);
    if named || tiers.is_empty() {
        return find_stages(trace, None);
    }
    let ranges = parts(trace, tiers);
    let (seen, most) = (ranges.len(), tiers.len());
    let more_tiers = |seen| NoStages::MoreTiers { seen, tiers: most };
    if seen > most {
        return Err(more_tiers(seen));
    }
    let mut all: Option<FoundStages> = None;
    let mut next = 0;
    for (index, range) in ranges.into_iter().enumerate() {
        let part = PressureTrace {
            times_s: trace.times_s[range.clone()].to_vec(),
            pressures_pa: trace.pressures_pa[range].to_vec(),
            ..PressureTrace::default()
        };
        // One before it belongs to a later tier than its place.
        if next == most {
            return Err(more_tiers(most + 1));
        }
        let place = tier_of(&part, &tiers[next..]) + next;
        let number = u16::try_from(place + 1).unwrap_or(u16::MAX);
        let mut found = match find_part(&part, Some(&tiers[place]), index + 1 < seen) {
            Ok(found) => found,
            Err(reason) => match in_vain(&part, &tiers[place]) {
                Some(found) => found,
                None if most == 1 => return Err(reason),
                None => return Err(NoStages::InTier { tier: number, reason: Box::new(reason) }),
            },
        };
        for span in &mut found.spans {
            span.tier = number;
        }
        if place > next {
            found.doubts.push(format!(
                "the chamber comes down to the pressure of this tier, and tier {} is not in the record",
                next + 1
            ));
            found.sureness = Sureness::Unsure;
        }
        next = place + 1;
        if most > 1 {
            found = named_by_tier(found, number);
        }
        all = Some(match all {
            None => found,
            Some(all) => joined(all, found),
        });
    }
    all.ok_or(NoStages::NoEvacuation)
}

/// The evacuation of a part that was pumped for as long as its tier allows and did
/// not come down to what it must reach: no measure stage follows.
fn in_vain(part: &PressureTrace, tier: &Tier) -> Option<FoundStages> {
    let limit_pa = tier.reach_limit?.pa();
    let record = Record::of(&part.times_s, &part.pressures_pa)?;
    if !(record.fall > FALL_OVER_NOISE * record.cut.noise) {
        return None;
    }
    let onset = pumping_from(&part.pressures_pa, record.fall, record.sample_noise);
    let lowest_pa = floor(&record.cut.pieces);
    let near = lowest_pa + LEAVES * record.sample_noise;
    let end = record.offset + record.values.iter().rposition(|&value| value <= near)?;
    let (from_s, to_s) = (part.times_s[onset], part.times_s[end]);
    let interval_s = (to_s - from_s) / (end.saturating_sub(onset).max(1)) as f64;
    let pumped_s = to_s - from_s;
    let in_vain = lowest_pa > limit_pa
        && pumped_s >= tier.evacuate_limit.s() - (1.5 * interval_s).max(0.02 * pumped_s);
    in_vain.then(|| FoundStages {
        spans: vec![StageSpan { stage: Stage::Evacuate, tier: 1, start_s: from_s, end_s: to_s }],
        source: StageSource::Method,
        sureness: Sureness::Likely,
        how: format!(
            "pumped for {} s, as long as the method allows, down to {} Pa, where {} Pa must be reached",
            rounded(pumped_s),
            rounded(lowest_pa),
            rounded(limit_pa)
        ),
        doubts: Vec::new(),
        pumping_begins: true,
    })
}

/// The tier to which a part belongs, counted from the first that it may be: its
/// chamber does not stand far below what the tier pumps to.
fn tier_of(part: &PressureTrace, tiers: &[Tier]) -> usize {
    let low = part.pressures_pa.iter().copied().fold(f64::INFINITY, f64::min);
    tiers
        .iter()
        .position(|tier| low >= BELOW_TARGET * tier.evacuate_to.pa())
        .unwrap_or(tiers.len().saturating_sub(1))
}

fn named_by_tier(mut found: FoundStages, number: u16) -> FoundStages {
    found.how = format!("tier {number}: {}", found.how);
    for doubt in &mut found.doubts {
        *doubt = format!("tier {number}: {doubt}");
    }
    found
}

fn joined(mut all: FoundStages, later: FoundStages) -> FoundStages {
    all.spans.extend(later.spans);
    all.doubts.extend(later.doubts);
    all.how = format!("{}; {}", all.how, later.how);
    all.sureness = all.sureness.max(later.sureness);
    all
}

/// The parts of a record, each from where the pressure begins to fall: from the
/// start, and from each closed stretch that is pumped on.
fn parts(trace: &PressureTrace, tiers: &[Tier]) -> Vec<core::ops::Range<usize>> {
    let n = trace.n_samples().min(trace.pressures_pa.len());
    let whole = || core::iter::once(0..n).collect();
    if n < 2 * FEWEST {
        return whole();
    }
    let (times, pressures) = (&trace.times_s[..n], &trace.pressures_pa[..n]);
    let Some(record) = Record::of(times, pressures) else { return whole() };
    let shortest_s =
        tiers.iter().map(|tier| tier.settle.s() + tier.measure.s()).fold(f64::INFINITY, f64::min);
    let time =
        |block: usize| record.blocks.times[block.min(record.blocks.times.len().saturating_sub(1))];
    let noise = record.cut.noise;
    let mut starts = vec![0];
    // The closed stretch that is being looked at: its first block, and its level at
    // the end so far.
    let mut closed: Option<(usize, usize, f64)> = None;
    // The room before the first fall is no closed chamber.
    let mut has_fallen = false;
    for piece in &record.cut.pieces {
        let drop = |level: f64| (LEAST_FALL * level.abs()).max(FALL_OVER_NOISE * noise);
        has_fallen = has_fallen || piece.first.min(piece.last) < record.start - drop(record.start);
        if !has_fallen {
            continue;
        }
        if let Some((from, to, level)) = closed
            && piece.last < level - drop(level)
        {
            if time(to) - time(from) >= CLOSED_SHARE * shortest_s {
                let search = record.sample(from)..record.sample(piece.to);
                let stands = level - LEAVES * record.sample_noise;
                let last = search.clone().rfind(|&at| record.values[at] >= stands);
                starts.push(record.offset + last.unwrap_or(search.start));
            }
            closed = None;
        }
        let falls =
            piece.first - piece.last > 2.0 * noise && piece.slope < -4.0 * piece.slope_error;
        closed = match closed {
            _ if falls => closed.filter(|(.., level)| piece.last >= level - drop(*level)),
            Some((from, ..)) => Some((from, piece.to - 1, piece.last)),
            None => Some((piece.from, piece.to - 1, piece.last)),
        };
    }
    let ends = starts.iter().skip(1).map(|start| start + 1).chain([n]);
    starts.iter().zip(ends).map(|(&start, end)| start..end).collect()
}

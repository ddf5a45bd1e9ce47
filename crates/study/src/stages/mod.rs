//! Stages of a cycle in a trace: from the file that names them, from the
//! times of the method, or from the trace itself.
//!
//! Nothing is asked of the level of the pressures: a fall from whatever stands at
//! the start, a bend into a rise, and a second bend where the chamber is vented.
//! A bend is placed by a curve through what follows (or comes before) it, carried
//! on until the samples leave it by more than their noise.

mod cycles;
mod decided;
mod isolation;
mod knot;
mod onset;
mod pieces;
mod record;
mod tiers;
mod vent;

pub use cycles::split_cycles;
pub use tiers::find_tiers;

use physics::cycle::Tier;
use physics::trace::{PressureTrace, Stage, StageSpan};

use decided::Seen;
use record::Record;

/// What told the stages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StageSource {
    /// A column of the file.
    File,
    /// The isolation from the trace, the rest from the times of the method.
    Method,
    /// The trace alone.
    Trace,
}

impl StageSource {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::File => "file",
            Self::Method => "method",
            Self::Trace => "trace",
        }
    }
}

/// How sure the stages are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sureness {
    /// Said by the file.
    Certain,
    /// A fall far beyond the noise, and a rise after it that is not chance.
    Likely,
    /// Something that could be a cycle.
    Unsure,
}

impl Sureness {
    /// The word that is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Certain => "certain",
            Self::Likely => "likely",
            Self::Unsure => "unsure",
        }
    }
}

/// Stages with where they came from.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundStages {
    /// The stages, in order.
    pub spans: Vec<StageSpan>,
    /// What told them.
    pub source: StageSource,
    /// How sure they are.
    pub sureness: Sureness,
    /// What was decided, in a sentence.
    pub how: String,
    /// Why the stages are not sure; empty where they are.
    pub doubts: Vec<String>,
    /// Whether the record shows the start of pumping: one that begins below the
    /// pressure of any room does not, and tells no time of evacuation.
    pub pumping_begins: bool,
}

/// Why no measure stage was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoStages {
    /// Too short.
    #[error("{n} samples are too few to find stages in")]
    TooFewSamples {
        /// Samples.
        n: usize,
    },
    /// The pressure never falls: no evacuation.
    #[error(
        "the pressure never falls by a twentieth of its start and far beyond its noise: there is no \
         evacuation in it"
    )]
    NoEvacuation,
    /// The record ends at its lowest pressure.
    #[error(
        "the record ends at its lowest pressure: the chamber was never isolated, or nothing rose"
    )]
    NoIsolation,
    /// The pressure goes back from its lowest at once.
    #[error(
        "the pressure goes back to the room from its lowest at once: the pumping was given up, or the \
         chamber was vented before it was isolated"
    )]
    GivenUp,
    /// The closed chamber does not last as long as the method settles and
    /// measures.
    #[error(
        "the closed chamber is recorded for {there_s:.3} s, and the method settles and measures for \
         {needed_s:.3} s: its window does not lie within the record"
    )]
    TooShortForMethod {
        /// Recorded time of the closed chamber, s.
        there_s: f64,
        /// Settle and measure of the method, s.
        needed_s: f64,
    },
    /// The chamber is pumped on more often than the method has tiers.
    #[error("the chamber is pumped down and closed {seen} times, and the method has {tiers} tiers")]
    MoreTiers {
        /// Closed chambers seen.
        seen: usize,
        /// Tiers of the method.
        tiers: usize,
    },
    /// In one tier of several.
    #[error("in tier {tier}: {reason}")]
    InTier {
        /// Which, counted from 1.
        tier: u16,
        /// What is missing there.
        reason: Box<NoStages>,
    },
}

/// Fewest samples in a measure stage.
const FEWEST: usize = 8;
/// An evacuation takes at least this share of the pressure at the start away: a
/// room whose pressure wanders with the weather does not.
const LEAST_FALL: f64 = 0.05;
/// And so many times the noise of a sample.
const FALL_OVER_NOISE: f64 = 20.0;

/// A level that takes less than one part in so many of the record is the end of
/// its pumping.
const ENDS_PUMPING: usize = 20;
/// A record that comes back by this share of its fall was opened again.
const GIVEN_UP: f64 = 0.5;

/// Finds the stages of one cycle. A stage column of the file goes before
/// everything; a tier of the method gives the lengths of settle and measure.
///
/// # Errors
/// Where no isolated stage can be found; the error says which is missing.
///
/// # Example
/// ```
/// use study::stages::{StageSource, find_stages};
/// use study::trace::{PressureTrace, Stage};
/// let times_s: Vec<f64> = (0..60).map(f64::from).collect();
/// let pressures_pa = times_s
///     .iter()
///     .map(|&t| if t < 20.0 { 1e5 * digits::scalar::exp(-0.4 * t) + 30.0 } else { 64.0 + 2.0 * (t - 20.0) })
///     .collect();
/// let trace = PressureTrace { times_s, pressures_pa, ..Default::default() };
/// let found = find_stages(&trace, None)?;
/// assert_eq!(found.source, StageSource::Trace);
/// let measure = found.spans.iter().find(|span| span.stage == Stage::Measure).expect("a stage");
/// assert!((measure.start_s - 20.0).abs() <= 2.0);
/// # Ok::<(), study::stages::NoStages>(())
/// ```
pub fn find_stages(trace: &PressureTrace, tier: Option<&Tier>) -> Result<FoundStages, NoStages> {
    find_part(trace, tier, false)
}

/// As [`find_stages`], of a part of a trace that may end where it is pumped on.
fn find_part(
    trace: &PressureTrace,
    tier: Option<&Tier>,
    is_pumped_on: bool,
) -> Result<FoundStages, NoStages> {
    if trace.stages.iter().any(|span| span.stage == Stage::Measure) {
        return Ok(FoundStages {
            spans: trace.stages.clone(),
            source: StageSource::File,
            sureness: Sureness::Certain,
            how: "the file names the stages".to_owned(),
            doubts: Vec::new(),
            pumping_begins: true,
        });
    }
    let n = trace.n_samples().min(trace.pressures_pa.len());
    if n < 2 * FEWEST {
        return Err(NoStages::TooFewSamples { n });
    }
    let (times, pressures) = (&trace.times_s[..n], &trace.pressures_pa[..n]);
    let record = Record::of(times, pressures).ok_or(NoStages::NoEvacuation)?;
    if !(record.fall > LEAST_FALL * record.start.abs()
        && record.fall > FALL_OVER_NOISE * record.cut.noise)
    {
        return Err(NoStages::NoEvacuation);
    }
    let down = isolation::came_down(&record);
    let vent = vent::vent(&record, down);
    let end_block = vent.map_or(record.blocks.values.len(), |vent| vent.block);
    let bend = isolation::isolated_at(
        &record,
        down,
        end_block,
        vent.map_or(record.values.len(), |vent| vent.at),
    );
    // One past the last sample of the closed chamber.
    let end = vent.map_or(n, |vent| record.offset + vent.at);
    let isolated = record.offset + bend.at;
    let lowest_pa = isolation::floor(&record.cut.pieces);
    if end < isolated + FEWEST {
        let comes_back = pressures[n - 1] > lowest_pa + GIVEN_UP * record.fall;
        return Err(if comes_back { NoStages::GivenUp } else { NoStages::NoIsolation });
    }
    // A pump that runs on to the end comes to its lowest just before it.
    let ends_pumping = vent.is_none() && (end - isolated) * ENDS_PUMPING < end;
    if !bend.rises && ends_pumping {
        return Err(NoStages::NoIsolation);
    }
    let onset = onset::pumping_from(pressures, record.fall, record.sample_noise);
    let seen = Seen {
        onset_s: times[onset.min(isolated)],
        isolated_s: times[isolated],
        isolated_within_s: (
            times[record.offset + bend.from],
            times[(record.offset + bend.to).min(n - 1)],
        ),
        rises: bend.rises,
        falls_within: isolation::falls_within(&record, bend.at, end_block),
        peak_s: record
            .peaks
            .iter()
            .map(|at| record.offset + at)
            .find(|at| (isolated..end).contains(at))
            .map(|at| times[at]),
        end_s: times[end - 1],
        vent_s: (end < n).then(|| (times[end], times[n - 1])),
        ends_sharply: end < n || is_pumped_on,
        interval_s: (times[n - 1] - times[0]) / (n - 1) as f64,
        start_pa: pressures[onset],
        lowest_pa,
        end_pa: digits::sums::mean(&pressures[end.saturating_sub(3).max(isolated)..end])
            .unwrap_or(0.0),
    };
    decided::decide(&seen, tier)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(pressures_pa: Vec<f64>) -> PressureTrace {
        let times_s = (0..pressures_pa.len()).map(|i| i as f64 * 0.1).collect();
        PressureTrace { times_s, pressures_pa, ..Default::default() }
    }

    fn cycle(stream: &mut digits::RandomStream) -> Vec<f64> {
        (0..400)
            .map(|i| {
                let t = f64::from(i) * 0.1;
                let clean = if t < 10.0 {
                    100.0 + 1.0e5 * digits::scalar::exp(-1.2 * t)
                } else {
                    100.0 + 3.0 * (t - 10.0)
                };
                clean + 0.5 * stream.normal()
            })
            .collect()
    }

    #[test]
    fn a_cycle_is_found_and_a_vent_is_cut_off() {
        let mut stream = digits::RandomStream::new(8, 1);
        let mut values = cycle(&mut stream);
        let found = find_stages(&trace(values.clone()), None).unwrap();
        assert_eq!(found.sureness, Sureness::Likely);
        assert!((found.spans[1].start_s - 10.0).abs() < 1.5, "{found:?}");
        values.extend([101_325.0; 50]);
        let found = find_stages(&trace(values), None).unwrap();
        let measure = found.spans.iter().find(|span| span.stage == Stage::Measure).unwrap();
        assert!((measure.end_s - 39.9).abs() < 0.3, "{found:?}");
        assert_eq!(found.spans.last().unwrap().stage, Stage::Vent);
    }

    #[test]
    fn what_is_no_cycle_has_no_stages() {
        let level = trace(vec![97_000.0; 100]);
        assert_eq!(find_stages(&level, None), Err(NoStages::NoEvacuation));
        let pumped = trace((1..200).map(|i| 1e5 / f64::from(i)).collect());
        assert_eq!(find_stages(&pumped, None), Err(NoStages::NoIsolation));
        assert!(matches!(
            find_stages(&trace(vec![1.0; 5]), None),
            Err(NoStages::TooFewSamples { n: 5 })
        ));
    }
}

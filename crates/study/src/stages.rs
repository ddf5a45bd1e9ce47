//! Stages of a cycle in a trace: from the file that names them, from the
//! times of the method, or from the trace itself.

use physics::cycle::Tier;
use physics::trace::{PressureTrace, Stage, StageSpan};

use crate::trace_features::noise_from_successive_differences;
use crate::wording::rounded;

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
    /// A pump-down of a factor of ten and a rise after it.
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
    #[error("the pressure never falls to a third of its start: there is no evacuation in it")]
    NoEvacuation,
    /// The record ends at its lowest pressure.
    #[error(
        "the record ends at its lowest pressure: the chamber was never isolated, or nothing rose"
    )]
    NoIsolation,
}

/// Fewest samples in a measure stage.
const FEWEST: usize = 8;

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
    if trace.stages.iter().any(|span| span.stage == Stage::Measure) {
        return Ok(FoundStages {
            spans: trace.stages.clone(),
            source: StageSource::File,
            sureness: Sureness::Certain,
            how: "the file names the stages".to_owned(),
        });
    }
    let n = trace.n_samples().min(trace.pressures_pa.len());
    if n < 2 * FEWEST {
        return Err(NoStages::TooFewSamples { n });
    }
    let pressures = &trace.pressures_pa[..n];
    let end = vented_from(pressures);
    let smooth = running_means(&pressures[..end]);
    let lowest_at = first_index_of_least(&smooth);
    let lowest = smooth[lowest_at];
    let start = pressures[0];
    if !(start > 3.0 * lowest.max(0.0)) {
        return Err(NoStages::NoEvacuation);
    }
    let noise = noise_from_successive_differences(&pressures[lowest_at..end]).unwrap_or(0.0);
    // Isolated where the pressure last stood at its lowest.
    let near = lowest + (1.5 * noise).max(0.02 * lowest.abs());
    let isolated = smooth.iter().rposition(|&value| value <= near).unwrap_or(lowest_at);
    if end - isolated < FEWEST {
        return Err(NoStages::NoIsolation);
    }
    let time = |index: usize| trace.times_s[index];
    let isolated_s = time(isolated);
    let last_s = time(end - 1);
    let (measure_from_s, measure_to_s, source) = match tier {
        Some(tier) => {
            let from = isolated_s + tier.settle.s();
            ((from), (from + tier.measure.s()).min(last_s), StageSource::Method)
        }
        None => (isolated_s, last_s, StageSource::Trace),
    };
    if !(measure_to_s > measure_from_s) {
        return Err(NoStages::NoIsolation);
    }
    let mut spans = vec![span(Stage::Evacuate, time(0), isolated_s)];
    if measure_from_s > isolated_s {
        spans.push(span(Stage::Settle, isolated_s, measure_from_s));
    }
    spans.push(span(Stage::Measure, measure_from_s, measure_to_s));
    if end < n {
        spans.push(span(Stage::Vent, time(end), time(n - 1)));
    }
    let fell = start / lowest.max(f64::MIN_POSITIVE);
    let rise = smooth[smooth.len() - 1] - lowest;
    let sureness =
        if fell >= 10.0 && rise > 5.0 * noise { Sureness::Likely } else { Sureness::Unsure };
    let how = format!(
        "pumped from {} to {} Pa; isolated at {} s, where the pressure last stood at its lowest; {}",
        rounded(start),
        rounded(lowest),
        rounded(isolated_s),
        match source {
            StageSource::Method => "settle and measure as the method times them",
            _ => "everything after it counts as measured, because nothing tells settling apart",
        }
    );
    Ok(FoundStages { spans, source, sureness, how })
}

const fn span(stage: Stage, start_s: f64, end_s: f64) -> StageSpan {
    StageSpan { stage, tier: 1, start_s, end_s }
}

/// Index from which on the chamber is open again: a jump by more than a third
/// of an atmosphere within three samples, to more than half of one, that holds
/// to the end.
fn vented_from(pressures: &[f64]) -> usize {
    const JUMP_PA: f64 = 33_000.0;
    const OPEN_PA: f64 = 50_000.0;
    let n = pressures.len();
    // Walk back over the open end, then look for the jump into it.
    let first_open = pressures.iter().rposition(|&value| value < OPEN_PA).map_or(0, |at| at + 1);
    if first_open >= n || first_open < 3 {
        return n;
    }
    let before = pressures[first_open.saturating_sub(3)];
    if pressures[first_open] - before > JUMP_PA { first_open } else { n }
}

/// Index ranges of the cycles of a long log: each begins with the last samples
/// near the pressure of the room before a fall. One range where there is one
/// cycle, or none that can be told.
///
/// # Example
/// ```
/// use study::stages::split_cycles;
/// let one = [1e5, 1e5, 900.0, 100.0, 120.0, 140.0, 160.0, 1e5];
/// let log: Vec<f64> = one.iter().chain(&one).copied().collect();
/// assert_eq!(split_cycles(&log), [0..9, 9..16]);
/// assert_eq!(split_cycles(&one), [0..8]);
/// ```
#[must_use]
pub fn split_cycles(pressures_pa: &[f64]) -> Vec<core::ops::Range<usize>> {
    /// Above this the chamber is open, below the other it is pumped.
    const OPEN_PA: f64 = 80_000.0;
    const PUMPED_PA: f64 = 50_000.0;
    let mut starts = Vec::new();
    let mut last_open = None;
    let mut pumped = false;
    for (index, &value) in pressures_pa.iter().enumerate() {
        if value >= OPEN_PA {
            last_open = Some(index);
            pumped = false;
        } else if value < PUMPED_PA && !pumped {
            pumped = true;
            starts.extend(last_open);
        }
    }
    let n = pressures_pa.len();
    if starts.len() < 2 {
        return core::iter::once(0..n).collect();
    }
    // The first keeps whatever stands before it.
    starts[0] = 0;
    let ends = starts.iter().skip(1).copied().chain([n]);
    starts.iter().zip(ends).map(|(&start, end)| start..end).collect()
}

/// Means over five samples, fewer at the ends.
fn running_means(values: &[f64]) -> Vec<f64> {
    const HALF: usize = 2;
    (0..values.len())
        .map(|index| {
            let around = &values[index.saturating_sub(HALF)..(index + HALF + 1).min(values.len())];
            digits::sums::mean(around).unwrap_or(values[index])
        })
        .collect()
}

fn first_index_of_least(values: &[f64]) -> usize {
    let mut least = 0;
    for (index, value) in values.iter().enumerate() {
        if *value < values[least] {
            least = index;
        }
    }
    least
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

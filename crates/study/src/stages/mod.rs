//! Stages of a cycle in a trace: from the file that names them, from the
//! times of the method, or from the trace itself.
//!
//! Nothing is asked of the level of the pressures: a fall from whatever stands at
//! the start, a bend into a rise, and a second bend where the chamber is vented.
//! A bend is placed by a curve through what follows (or comes before) it, carried
//! on until the samples leave it by more than their noise.

mod curve;
mod cycles;
mod isolation;
mod vent;

pub use cycles::split_cycles;

use physics::cycle::Tier;
use physics::trace::{PressureTrace, Stage, StageSpan};

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
}

/// Fewest samples in a measure stage.
const FEWEST: usize = 8;
/// An evacuation takes at least this share of the pressure at the start away: a
/// room whose pressure wanders with the weather does not.
const LEAST_FALL: f64 = 0.05;
/// And so many times the noise of a sample.
const FALL_OVER_NOISE: f64 = 20.0;

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
    let (times, pressures) = (&trace.times_s[..n], &trace.pressures_pa[..n]);
    let end = vent::vented_from(times, pressures);
    let smooth = running_means(&pressures[..end]);
    let lowest_at = first_index_of_least(&smooth);
    let lowest = smooth[lowest_at];
    // The first sample may be the odd one out; the room is steady before pumping.
    let start = pressures[0];
    let noise = noise_of(&pressures[lowest_at..end]);
    let fall = start - lowest;
    if !(fall > LEAST_FALL * start.abs() && fall > FALL_OVER_NOISE * noise) {
        return Err(NoStages::NoEvacuation);
    }
    let bend = isolation::isolated_at(&times[..end], &pressures[..end], &smooth, lowest_at, noise);
    if end - bend.at < FEWEST {
        return Err(NoStages::NoIsolation);
    }
    let last_s = times[end - 1];
    let timed = tier.map(|tier| stages_by_method(tier, times[bend.at], bend.rises, last_s));
    let (isolated_s, measure_from_s, measure_to_s) =
        timed.unwrap_or((times[bend.at], times[bend.at], last_s));
    if !(measure_to_s > measure_from_s) {
        return Err(NoStages::NoIsolation);
    }
    let mut spans = vec![span(Stage::Evacuate, times[0], isolated_s)];
    if measure_from_s > isolated_s {
        spans.push(span(Stage::Settle, isolated_s, measure_from_s));
    }
    spans.push(span(Stage::Measure, measure_from_s, measure_to_s));
    if end < n {
        spans.push(span(Stage::Vent, times[end], times[n - 1]));
    }
    let source = if tier.is_some() { StageSource::Method } else { StageSource::Trace };
    Ok(FoundStages {
        spans,
        source,
        sureness: if bend.rises { Sureness::Likely } else { Sureness::Unsure },
        how: words(start, lowest, isolated_s, bend.rises, source),
    })
}

/// Isolation, start and end of measuring by the times of a method: from the bend
/// where there is one; where nothing rises the bend cannot be seen, and the
/// stages are counted back from the end of the record.
fn stages_by_method(tier: &Tier, bend_s: f64, rises: bool, last_s: f64) -> (f64, f64, f64) {
    let (settle_s, measure_s) = (tier.settle.s(), tier.measure.s());
    let isolated_s = if rises { bend_s } else { (last_s - settle_s - measure_s).max(bend_s) };
    let from_s = isolated_s + settle_s;
    (isolated_s, from_s, (from_s + measure_s).min(last_s))
}

/// What was decided, in a sentence.
fn words(start: f64, lowest: f64, isolated_s: f64, rises: bool, source: StageSource) -> String {
    let bend = match (rises, source) {
        (true, _) => {
            format!("isolated at {} s, where the pressure bends into its rise", rounded(isolated_s))
        }
        (false, StageSource::Method) => format!(
            "nothing rises beyond chance, so that the isolation cannot be seen: taken at {} s, \
             counted back from the end of the record",
            rounded(isolated_s)
        ),
        (false, _) => format!(
            "nothing rises beyond chance, so that the isolation cannot be seen: taken at {} s, where \
             the pressure had come down",
            rounded(isolated_s)
        ),
    };
    let rest = match source {
        StageSource::Method => "settle and measure as the method times them",
        _ => "everything after it counts as measured, because nothing tells settling apart",
    };
    format!("pumped from {} to {} Pa; {bend}; {rest}", rounded(start), rounded(lowest))
}

const fn span(stage: Stage, start_s: f64, end_s: f64) -> StageSpan {
    StageSpan { stage, tier: 1, start_s, end_s }
}

/// Noise of a sample, Pa: from second differences, which a bent rise hardly enters
/// (`sqrt(mean(d²)/6)` for independent noise); zero where there are too few.
fn noise_of(pressures: &[f64]) -> f64 {
    if pressures.len() < 5 {
        return 0.0;
    }
    let squares = digits::sums::sum(pressures.windows(3).map(|three| {
        let bend = three[0] - 2.0 * three[1] + three[2];
        bend * bend
    }));
    (squares / (6.0 * (pressures.len() - 2) as f64)).sqrt()
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

//! Charts of means of small samples.

use super::constants::factors;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::sums;

/// From what the spread within samples is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// Ranges.
    Range,
    /// Standard deviations.
    StandardDeviation,
}

/// Frozen limits of a chart of means.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Means {
    /// Centre line of the means.
    pub centre: f64,
    /// Limits of the means.
    pub limits: (f64, f64),
    /// Mean range or standard deviation.
    pub mean_spread: f64,
    /// Limits of the range or standard deviation.
    pub spread_limits: (f64, f64),
    /// Number of samples.
    pub samples: usize,
    /// Values in each sample.
    pub size: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with the outcome of their checks.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Means {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.samples, format!("samples of {} values", self.size))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        if self.samples < 20 {
            notes.push(Note::new(
                "short-first-phase",
                format!("{} samples fix the limits poorly.", self.samples),
                "Keep the limits provisional until at least 20 samples are in.",
            ));
        }
        notes
    }
}

/// Chart of means from first-phase samples of equal size.
///
/// # Errors
/// Fewer than five samples, samples of unequal size or of fewer than two
/// values, values that are not finite, no spread within samples.
pub fn means(samples: &[Vec<f64>], spread: Spread) -> Result<Means, CannotSay> {
    cannot_say::at_least("samples", 5, samples.len())?;
    let size = samples[0].len();
    cannot_say::at_least("values of a sample", 2, size)?;
    let (mut centres, mut spreads) = (Vec::new(), Vec::new());
    for (i, sample) in samples.iter().enumerate() {
        if sample.len() != size {
            return Err(CannotSay::LengthsDiffer {
                left: "values of the first sample".into(),
                left_count: size,
                right: format!("values of sample {}", i + 1),
                right_count: sample.len(),
            });
        }
        cannot_say::all_finite(&format!("values of sample {}", i + 1), sample)?;
        centres.push(sums::mean(sample).unwrap_or(0.0));
        spreads.push(match spread {
            Spread::Range => {
                sample.iter().fold(f64::MIN, |m, v| m.max(*v))
                    - sample.iter().fold(f64::MAX, |m, v| m.min(*v))
            }
            Spread::StandardDeviation => sums::standard_deviation(sample).unwrap_or(0.0),
        });
    }
    let centre = cannot_say::computed("the centre line", sums::mean(&centres).unwrap_or(f64::NAN))?;
    let mean_spread =
        cannot_say::computed("the mean spread", sums::mean(&spreads).unwrap_or(f64::NAN))?;
    if mean_spread == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values within the samples".into() });
    }
    let f = factors(size)?;
    let (a, low, high) = match spread {
        Spread::Range => (f.a2, f.d3_lower, f.d4),
        Spread::StandardDeviation => (f.a3, f.b3, f.b4),
    };
    let between = sums::standard_deviation(&centres).unwrap_or(0.0);
    let expected = a * mean_spread / 3.0;
    let mut notes = Vec::new();
    if between > 1.5 * expected {
        notes.push(Note::new(
            "between-sample-scatter",
            format!(
                "The means scatter {:.1} times as much as the values within samples explain; limits \
                 from within samples alone will alarm often.",
                between / expected
            ),
            "Find the cause between samples, or chart the means as individuals.",
        ));
    }
    Ok(Means {
        centre,
        limits: (centre - a * mean_spread, centre + a * mean_spread),
        mean_spread,
        spread_limits: (low * mean_spread, high * mean_spread),
        samples: samples.len(),
        size,
        method: match spread {
            Spread::Range => "means and ranges, 3-sigma limits",
            Spread::StandardDeviation => "means and standard deviations, 3-sigma limits",
        },

        assumptions: vec![
            crate::assumptions::normal("normal means in the first phase", &centres),
            crate::assumptions::independent("means independent of their neighbours", &centres),
            crate::assumptions::no_trend("no trend in the first phase", &centres),
            Assumption::looked_at(
                "means scatter as the values within samples say",
                "deviation of the means",
                between <= 1.5 * expected,
                format!("{:.2} times as much.", between / expected),
            ),
        ],
        notes,
    })
}

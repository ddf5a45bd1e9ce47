//! Deviations over averaging time: when noise stops falling and drift begins.
//!
//! Source: W. J. Riley, Handbook of Frequency Stability Analysis, NIST SP 1065
//! (2008). Readings are taken as the rate, their running sum as the phase.

use crate::cannot_say::{self, CannotSay};
use digits::sums;

/// Kind of deviation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Plain: averages side by side.
    Plain,
    /// Overlapping averages: the same meaning, less scatter.
    Overlapping,
    /// Modified: tells white from flicker phase noise.
    Modified,
    /// Third differences, insensitive to linear drift.
    Hadamard,
    /// Record continued by reflection, for long averages.
    Total,
}

/// Deviation of evenly spaced readings averaged over `span` of them.
///
/// # Errors
/// A span of zero, too few readings for the span, values that are not finite.
pub fn deviation(readings: &[f64], span: usize, kind: Kind) -> Result<f64, CannotSay> {
    cannot_say::at_least("readings in a span", 1, span)?;
    let spans = match kind {
        Kind::Hadamard | Kind::Modified => 3,
        Kind::Plain | Kind::Overlapping => 2,
        Kind::Total => 1,
    };
    let needed = span.saturating_mul(spans).max(2);
    cannot_say::at_least("readings", needed, readings.len())?;
    cannot_say::all_finite("readings", readings)?;
    // Centring changes no second or third difference and keeps the digits.
    let mean = cannot_say::computed("the mean", sums::mean(readings).unwrap_or(f64::NAN))?;
    let mut phase = Vec::with_capacity(readings.len() + 1);
    let (mut total, mut carried) = (0.0_f64, 0.0_f64);
    phase.push(0.0);
    for value in readings {
        // Neumaier's sum, so that long records keep their digits.
        let part = value - mean;
        let next = total + part;
        carried +=
            if total.abs() >= part.abs() { (total - next) + part } else { (part - next) + total };
        total = next;
        phase.push(total + carried);
    }
    let width = span as f64;
    let value = match kind {
        Kind::Plain | Kind::Overlapping => {
            let stride = if kind == Kind::Plain { span } else { 1 };
            let squares: Vec<f64> = (0..phase.len() - 2 * span)
                .step_by(stride)
                .map(|i| phase[i + 2 * span] - 2.0 * phase[i + span] + phase[i])
                .map(|d| d * d)
                .collect();
            let count = squares.len() as f64;
            (sums::sum(squares) / (2.0 * count)).sqrt() / width
        }
        Kind::Hadamard => {
            let squares: Vec<f64> = (0..phase.len() - 3 * span)
                .step_by(span)
                .map(|i| {
                    phase[i + 3 * span] - 3.0 * phase[i + 2 * span] + 3.0 * phase[i + span]
                        - phase[i]
                })
                .map(|d| d * d)
                .collect();
            let count = squares.len() as f64;
            (sums::sum(squares) / (6.0 * count)).sqrt() / width
        }
        Kind::Modified => {
            let second: Vec<f64> = (0..phase.len() - 2 * span)
                .map(|i| phase[i + 2 * span] - 2.0 * phase[i + span] + phase[i])
                .collect();
            let squares: Vec<f64> = second
                .windows(span)
                .map(|w| sums::sum(w.iter().copied()) / width)
                .map(|d| d * d)
                .collect();
            let count = squares.len() as f64;
            (sums::sum(squares) / (2.0 * count)).sqrt() / width
        }
        Kind::Total => {
            let n = phase.len();
            // The phase continued beyond both ends by reflection.
            let at = |i: i64| -> f64 {
                let last = n as i64 - 1;
                if i < 0 {
                    2.0 * phase[0] - phase[(-i).min(last) as usize]
                } else if i > last {
                    2.0 * phase[n - 1] - phase[(2 * last - i).max(0) as usize]
                } else {
                    phase[i as usize]
                }
            };
            let m = span as i64;
            let squares = (1..n as i64 - 1).map(|i| {
                let d = at(i - m) - 2.0 * at(i) + at(i + m);
                d * d
            });
            (sums::sum(squares) / (2.0 * (n as f64 - 2.0))).sqrt() / width
        }
    };
    cannot_say::computed("the deviation", value)
}

/// Span, in readings, at which the overlapping deviation is smallest: beyond
/// it, averaging longer adds drift instead of removing noise.
///
/// Spans double from 1 to a quarter of the record.
///
/// # Errors
/// Fewer than eight readings, values that are not finite.
pub fn best_span(readings: &[f64]) -> Result<(usize, f64), CannotSay> {
    cannot_say::at_least("readings", 8, readings.len())?;
    let mut best = (1, deviation(readings, 1, Kind::Overlapping)?);
    let mut span = 2;
    while span <= readings.len() / 4 {
        let value = deviation(readings, span, Kind::Overlapping)?;
        if value < best.1 {
            best = (span, value);
        }
        span *= 2;
    }
    Ok(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drift_ends_the_gain_of_averaging() {
        let readings: Vec<f64> = (0..4096)
            .map(|i| digits::RandomStream::new(6, i).normal() + 0.002 * i as f64)
            .collect();
        let (span, _) = best_span(&readings).unwrap();
        assert!((8..=256).contains(&span), "{span}");
        // Third differences do not see a linear drift.
        let ramp: Vec<f64> = (0..64).map(f64::from).collect();
        assert!(deviation(&ramp, 4, Kind::Hadamard).unwrap() < 1e-12);
        assert!(deviation(&ramp, 4, Kind::Plain).unwrap() > 1.0);
        assert!(deviation(&ramp, 0, Kind::Plain).is_err());
        assert!(deviation(&ramp, 40, Kind::Plain).is_err());
    }
}

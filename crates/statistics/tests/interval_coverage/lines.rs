//! Straight lines, exponents and slopes.

use super::{Case, summary, within};
use digits::RandomStream;
use statistics::autocorrelation::slope_with_autocorrelation;
use statistics::comparison::passing_bablok;
use statistics::distributions::student_t;
use statistics::regression::errors_in_both::{deming, york};
use statistics::regression::quantitation::reciprocal_slope;
use statistics::regression::{StraightLine, straight_line, weighted_line};
use statistics::size_exponent::{SizeReading, size_exponent};

fn line(stream: &mut RandomStream) -> StraightLine {
    let x: Vec<f64> = (0..10).map(f64::from).collect();
    let y: Vec<f64> = x.iter().map(|v| 1.0 + 0.5 * v + stream.normal()).collect();
    straight_line(&x, &y).unwrap()
}

/// Interval of a slope from its standard error and Student's t.
fn student(slope: f64, error: f64, df: f64) -> (f64, f64) {
    let half = student_t::quantile(0.975, df) * error;
    (slope - half, slope + half)
}

/// Points with errors in both axes about `y = 1 + 2 x`.
fn both(stream: &mut RandomStream, n: usize, sx: f64, sy: f64) -> (Vec<f64>, Vec<f64>) {
    (0..n)
        .map(|i| {
            let x = 10.0 * i as f64 / (n - 1) as f64;
            (x + sx * stream.normal(), 1.0 + 2.0 * x + sy * stream.normal())
        })
        .unzip()
}

/// Nets of a law of the second power, 15 units of each size, 45 blanks.
fn exponent(stream: &mut RandomStream, sizes: &[f64]) -> super::Outcome {
    let blank = summary(stream, 45, 10.0, 3.0);
    let readings: Vec<SizeReading> = sizes
        .iter()
        .map(|size| {
            let net = 2.0 * size * size;
            let (mean, standard_deviation) = summary(stream, 15, 10.0 + net, 3.0 + 0.25 * net);
            SizeReading { size: *size, mean, standard_deviation, n: 15, censored: false }
        })
        .collect();
    let found = size_exponent(&readings, Some((blank.0, blank.1, 45)), 0.95).ok()?;
    within((found.lower, found.upper.unwrap()), 2.0)
}

pub(super) fn cases() -> Vec<Case> {
    vec![
        Case::new("slope, 10 points", |stream| {
            let found = line(stream).slope_interval(0.95).unwrap();
            within((found.lower, found.upper), 0.5)
        }),
        Case::new("height of the line, 10 points", |stream| {
            let found = line(stream).mean_at(7.0, 0.95).unwrap();
            within((found.lower, found.upper), 4.5)
        }),
        Case::new("next reading, 10 points", |stream| {
            let found = line(stream).reading_at(7.0, 1, 0.95).unwrap();
            within((found.lower, found.upper), 4.5 + stream.normal())
        }),
        Case::new("inverse prediction, 10 points", |stream| {
            let line = line(stream);
            let found = line.inverse(4.0 + stream.normal(), 1, 0.95).ok()?;
            within((found.lower, found.upper), 6.0)
        }),
        Case::new("reciprocal of the slope (effective volume), 10 points", |stream| {
            let found = reciprocal_slope(&line(stream), 0.95).ok()?;
            within((found.lower, found.upper), 2.0)
        }),
        Case::new("weighted line, slope, 12 points", |stream| {
            let x: Vec<f64> = (0..12).map(f64::from).collect();
            let sd: Vec<f64> = x.iter().map(|v| 0.2 + 0.1 * v).collect();
            let y: Vec<f64> =
                x.iter().zip(&sd).map(|(v, s)| 1.0 + 0.5 * v + s * stream.normal()).collect();
            let weights: Vec<f64> = sd.iter().map(|s| 1.0 / (s * s)).collect();
            let found = weighted_line(&x, &y, &weights).unwrap();
            within(student(found.slope, found.standard_errors.1, found.degrees_of_freedom), 0.5)
        }),
        Case::new("weighted line, inverse prediction, 12 points", |stream| {
            let x: Vec<f64> = (0..12).map(f64::from).collect();
            let sd: Vec<f64> = x.iter().map(|v| 0.2 + 0.1 * v).collect();
            let y: Vec<f64> =
                x.iter().zip(&sd).map(|(v, s)| 1.0 + 0.5 * v + s * stream.normal()).collect();
            let weights: Vec<f64> = sd.iter().map(|s| 1.0 / (s * s)).collect();
            let line = weighted_line(&x, &y, &weights).unwrap();
            let reading = 1.0 + 0.5 * 6.0 + 0.8 * stream.normal();
            let (_, low, high) = line.inverse(reading, 1.0 / 0.64, 0.95).ok()?;
            within((low, high), 6.0)
        }),
        Case::new("errors in both axes, known, slope, 15 points", |stream| {
            let (x, y) = both(stream, 15, 0.2, 0.4);
            let found = york(&x, &y, &[25.0; 15], &[6.25; 15]).unwrap();
            // The errors are known, so the normal quantile holds.
            let half = 1.959_963_984_540_054 * found.standard_errors.1;
            within((found.slope - half, found.slope + half), 2.0)
        }),
        Case::new("Deming's line, slope, jackknife, 30 points", |stream| {
            let (x, y) = both(stream, 30, 0.2, 0.4);
            let found = deming(&x, &y, 0.25).unwrap();
            within(student(found.slope, found.standard_errors.1, 28.0), 2.0)
        }),
        Case::new("Passing and Bablok's line, slope, 40 points", |stream| {
            let (x, y): (Vec<f64>, Vec<f64>) = (0..40)
                .map(|i| {
                    let x = f64::from(i) / 4.0;
                    (x + 0.3 * stream.normal(), x + 0.3 * stream.normal())
                })
                .unzip();
            let found = passing_bablok(&x, &y, 0.95).ok()?;
            within(found.slope_interval, 1.0)
        }),
        // Student's t at the smaller group alone: on the wide side.
        Case::promising("size exponent, two sizes of 15", (0.945, 0.96), |stream| {
            exponent(stream, &[5.0, 10.0])
        }),
        Case::new("size exponent, four sizes of 15", |stream| {
            exponent(stream, &[4.0, 6.0, 9.0, 13.0])
        }),
        // The prior of each length was set for correlations from -0.6 to 0.9; the
        // lengths of 17 and 80 lie between those at which it was.
        Case::promising("slope in independent noise, 10 values", (0.935, 0.96), |stream| {
            slope(stream, 10, 0.0)
        }),
        Case::promising("slope in noise of lag-1 correlation 0.4, 10 values", (0.945, 0.97), |s| {
            slope(s, 10, 0.4)
        }),
        Case::promising("slope in noise of lag-1 correlation 0.8, 10 values", (0.93, 0.955), |s| {
            slope(s, 10, 0.8)
        }),
        Case::promising("slope in noise of lag-1 correlation 0.9, 10 values", (0.9, 0.935), |s| {
            slope(s, 10, 0.9)
        }),
        Case::promising("slope in independent noise, 17 values", (0.93, 0.955), |stream| {
            slope(stream, 17, 0.0)
        }),
        Case::new("slope in independent noise, 20 values", |stream| slope(stream, 20, 0.0)),
        Case::promising(
            "slope in noise of lag-1 correlation 0.4, 20 values",
            (0.935, 0.955),
            |s| slope(s, 20, 0.4),
        ),
        Case::promising(
            "slope in noise of lag-1 correlation 0.8, 20 values",
            (0.945, 0.965),
            |s| slope(s, 20, 0.8),
        ),
        Case::promising("slope in noise of lag-1 correlation 0.9, 20 values", (0.925, 0.95), |s| {
            slope(s, 20, 0.9)
        }),
        Case::new("slope in independent noise, 50 values", |stream| slope(stream, 50, 0.0)),
        Case::promising("slope in noise of lag-1 correlation 0.6, 50 values", (0.94, 0.957), |s| {
            slope(s, 50, 0.6)
        }),
        Case::promising("slope in noise of lag-1 correlation 0.8, 80 values", (0.94, 0.96), |s| {
            slope(s, 80, 0.8)
        }),
        Case::new("slope in independent noise, 100 values", |stream| slope(stream, 100, 0.0)),
        Case::new("slope in noise of lag-1 correlation -0.3, 100 values", |stream| {
            slope(stream, 100, -0.3)
        }),
        Case::promising("slope in independent noise, 200 values", (0.942, 0.96), |stream| {
            slope(stream, 200, 0.0)
        }),
        Case::new("slope in noise of lag-1 correlation 0.6, 200 values", |stream| {
            slope(stream, 200, 0.6)
        }),
        Case::new("slope in noise of lag-1 correlation 0.9, 1000 values", |stream| {
            slope(stream, 1000, 0.9)
        }),
    ]
}

/// Slope of a record with first-order autoregressive noise; Student's t on the
/// values that count.
fn slope(stream: &mut RandomStream, n: usize, rho: f64) -> super::Outcome {
    let times: Vec<f64> = (0..n).map(|i| i as f64).collect();
    let mut noise = stream.normal();
    let values: Vec<f64> = times
        .iter()
        .map(|t| {
            let here = 0.01 * t + noise;
            noise = rho * noise + (1.0 - rho * rho).sqrt() * stream.normal();
            here
        })
        .collect();
    let found = slope_with_autocorrelation(&times, &values).unwrap();
    within(found.interval(0.95).unwrap(), 0.01)
}

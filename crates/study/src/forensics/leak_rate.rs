//! Leak rate with an interval over every sum that the record allows.

use super::choice::Choice;
use super::circumstances::Circumstances;
use super::findings::LeakRate;
use super::fit::{self, Fit, Noise, Problem};
use super::outgassing;
use super::term::{Cause, GAS, TREND};
use super::window::Window;
use statistics::distributions::student_t;

/// Confidence of the interval.
const CONFIDENCE: f64 = 0.95;

/// One sum's answer.
struct Part {
    weight: f64,
    rate: f64,
    standard_error: f64,
    freedom: f64,
}

/// Mean leak rate over the measure stage.
///
/// Each sum that holds a leak gives an estimate and a standard error, the
/// errors of its constants included (delta method on the whitened problem).
/// They are mixed with the weights `e^(-AICc/2)` (K. P. Burnham and D. R.
/// Anderson, Model Selection, 2002, from memory), and the interval has equal
/// tails of the mixture. The sign of the leak is left free for that; a rate
/// below zero is then cut at zero.
pub(super) fn leak_rate(
    choice: &Choice,
    window: &Window,
    about: &Circumstances,
) -> Option<LeakRate> {
    let with_leak: Vec<Fit> = choice
        .fits
        .iter()
        .filter(|fit| fit.at(TREND).is_some() && !has_sibling_with_gas(fit, &choice.fits))
        .flat_map(|fit| [Some(fit.clone()), with_free_gas(fit, window, choice.noise)])
        .flatten()
        .collect();
    let least = with_leak.iter().map(|fit| fit.aicc).min_by(f64::total_cmp)?;
    let parts: Vec<Part> = with_leak
        .iter()
        .filter_map(|fit| part(fit, window, about, choice.noise, least))
        .filter(|part| part.weight > 1e-6)
        .collect();
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    if !(total > 0.0) {
        return None;
    }
    let below = |rate: f64| -> f64 {
        parts
            .iter()
            .map(|part| {
                let t = (rate - part.rate) / part.standard_error;
                part.weight * student_t::cumulative(t, part.freedom)
            })
            .sum::<f64>()
            / total
    };
    let quantile = |p: f64| -> f64 {
        let reach = |part: &Part, sign: f64| part.rate + sign * 60.0 * part.standard_error;
        let mut low = parts.iter().map(|part| reach(part, -1.0)).fold(f64::INFINITY, f64::min);
        let mut high = parts.iter().map(|part| reach(part, 1.0)).fold(f64::NEG_INFINITY, f64::max);
        for _ in 0..70 {
            let middle = 0.5 * (low + high);
            if below(middle) < p {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    };
    let tail = 0.5 * (1.0 - CONFIDENCE);
    Some(LeakRate {
        estimate_pa_per_s: quantile(0.5).max(0.0),
        lower_pa_per_s: quantile(tail).max(0.0),
        upper_pa_per_s: quantile(1.0 - tail).max(0.0),
        confidence: CONFIDENCE,
    })
}

/// Every chamber gives off gas: where the same sum with outgassing could be
/// fitted, the one without says nothing of its own.
fn has_sibling_with_gas(fit: &Fit, fits: &[Fit]) -> bool {
    let mut wanted = fit.pattern();
    if wanted[GAS].is_some() {
        return false;
    }
    wanted[GAS] = Some(Cause::Outgassing);
    fits.iter().any(|other| other.pattern() == wanted)
}

/// The same sum with 1/t outgassing whose sign is free, where it has none: a
/// coefficient that noise has put below zero is still one that is not known,
/// and the leak must not look better known for it. It counts no parameter.
fn with_free_gas(fit: &Fit, window: &Window, noise: Noise) -> Option<Fit> {
    let age_s = window.age_s?.max(window.interval_s).max(0.1);
    if fit.at(GAS).is_some() {
        return None;
    }
    let mut shapes = fit.shapes.clone();
    // After the trend, which stands first.
    shapes.insert(1, outgassing::at(window, age_s, 1.0));
    let problem = Problem::new(window, &shapes, noise.rho);
    let all: Vec<usize> = (0..shapes.len()).collect();
    let solved = problem.solve(&all)?;
    Some(Fit {
        coefficients: solved.coefficients[..shapes.len()].to_vec(),
        squares: solved.squares,
        aicc: fit::aicc(window.n(), noise, solved.squares, fit.n_parameters),
        n_parameters: fit.n_parameters,
        shapes,
    })
}

fn part(
    fit: &Fit,
    window: &Window,
    about: &Circumstances,
    noise: Noise,
    least: f64,
) -> Option<Part> {
    let (shape, coefficient) = fit.at(TREND)?;
    let place = fit.shapes.iter().position(|other| core::ptr::eq(other, shape))?;
    let columns = fit::gradients(fit, window, about);
    let prepared = fit::Prepared::new(window, noise.rho);
    let whitened: Vec<Vec<f64>> = columns.iter().map(|column| prepared.column(column)).collect();
    let problem = Problem::of_columns(window, prepared.values(), &whitened);
    let mean_rate = |column: &[f64]| mean_rate(window, column);
    let mut gradient = vec![0.0; columns.len()];
    gradient[place] = mean_rate(&columns[place]);
    // The constant of the trend, where it has one, is the first that follows
    // the shapes in their order: the trend stands first of all.
    if shape.constant.is_some() && columns.len() > fit.shapes.len() {
        gradient[fit.shapes.len()] = mean_rate(&columns[fit.shapes.len()]);
    }
    let all: Vec<usize> = (0..columns.len()).collect();
    let shapes_only: Vec<usize> = (0..fit.shapes.len()).collect();
    let variance = problem
        .variance_of(&all, &gradient)
        .or_else(|| problem.variance_of(&shapes_only, &gradient[..fit.shapes.len()]))?;
    let k = fit.n_parameters as f64;
    let freedom = (window.n() as f64 / noise.excess - k).max(2.0);
    let left = (window.n() as f64 - k).max(2.0);
    let standard_error = (variance * noise.excess * fit.squares / left).sqrt();
    (standard_error > 0.0 && standard_error.is_finite()).then(|| Part {
        weight: digits::scalar::exp(-0.5 * (fit.aicc - least)),
        rate: coefficient * mean_rate(&shape.column),
        standard_error,
        freedom,
    })
}

/// What a column rises by over the measure stage, per second.
pub(super) fn mean_rate(window: &Window, column: &[f64]) -> f64 {
    let (from, to) = window.measure_s;
    let at = |time: f64| value_at(&window.times_s, column, time);
    if to > from { (at(to) - at(from)) / (to - from) } else { 0.0 }
}

/// A column at a time, straight between its points and beyond the last ones.
pub(super) fn value_at(times_s: &[f64], column: &[f64], time: f64) -> f64 {
    if times_s.len() < 2 {
        return column.first().copied().unwrap_or(0.0);
    }
    let after = times_s.partition_point(|&t| t < time).clamp(1, times_s.len() - 1);
    let (t0, t1) = (times_s[after - 1], times_s[after]);
    let (v0, v1) = (column[after - 1], column[after]);
    if t1 > t0 { v0 + (v1 - v0) * (time - t0) / (t1 - t0) } else { v1 }
}

/// Standard error of the logarithm of the trend's constant.
pub(super) fn constant_error(
    fit: &Fit,
    window: &Window,
    about: &Circumstances,
    noise: Noise,
) -> Option<f64> {
    let columns = fit::gradients(fit, window, about);
    let place = fit.shapes.len();
    if columns.len() <= place {
        return None;
    }
    let prepared = fit::Prepared::new(window, noise.rho);
    let whitened: Vec<Vec<f64>> = columns.iter().map(|column| prepared.column(column)).collect();
    let problem = Problem::of_columns(window, prepared.values(), &whitened);
    let mut gradient = vec![0.0; columns.len()];
    gradient[place] = 1.0;
    let all: Vec<usize> = (0..columns.len()).collect();
    let variance = problem.variance_of(&all, &gradient)?;
    let left = (window.n() as f64 - fit.n_parameters as f64).max(2.0);
    Some((variance * noise.excess * fit.squares / left).sqrt())
}

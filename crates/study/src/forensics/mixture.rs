//! Sums that hold a leak, weighted by what the record says for each.

use super::choice::Choice;
use super::circumstances::Circumstances;
use super::emptied;
use super::fit::{self, Fit, Noise, Problem};
use super::leak_rate::mean_rate;
use super::outgassing;
use super::term::{Cause, GAS, SLOW, TREND};
use super::window::Window;
use statistics::distributions::student_t;

/// One sum's answer.
pub(super) struct Part {
    /// Weight, the parts' together 1.
    pub(super) weight: f64,
    /// Mean rate of its leak over the measure stage, Pa/s.
    pub(super) rate: f64,
    /// Its standard error, errors of the sum's constants included.
    pub(super) standard_error: f64,
    /// Degrees of freedom.
    pub(super) freedom: f64,
    /// The emptying leak's bore, m, and the standard error of its logarithm.
    pub(super) bore: Option<(f64, f64)>,
}

/// A record that a steady leak explains this nearly (AICc) shows no fall of the
/// flow: the evidence ratio is then below `e^(6/2) = 20`, the usual one in
/// twenty.
const STRAIGHT: f64 = 6.0;
/// Lighter parts move no quantile.
const LIGHTEST: f64 = 1e-6;

/// What every sum says together.
pub(super) struct Mixture {
    /// The sums with a leak; their weights are 1 together.
    pub(super) parts: Vec<Part>,
    /// Weight of the sums without a leak, of all.
    pub(super) without: f64,
}

/// The parts of a record, weighted by `e^(-AICc/2)` (K. P. Burnham and D. R.
/// Anderson, Model Selection, 2002, from memory).
///
/// Every chamber gives off gas, so each sum gets outgassing whose sign is free:
/// a coefficient that noise has put below zero is still one that is not
/// known, and the leak must not look better known for it. Where the record
/// shows a fall, its law is not known either: three exponents are mixed, and the
/// sums with a saturating shape stay. Where it shows none, these would only
/// take from the leak what nothing in the record asks for.
///
/// A sum whose headspace has emptied before measuring says nothing of a leak
/// that is still there, and is left out; [`super::emptied`] asks whether such a
/// sum explains the record. Sums without a leak have no rate; their weight is
/// kept, for the lower end of the rate.
pub(super) fn of(choice: &Choice, window: &Window, about: &Circumstances) -> Mixture {
    let noise = choice.noise;
    let best = choice.fits.first().map_or(0.0, |fit| fit.aicc);
    let is_steady = |fit: &Fit| fit.at(TREND).is_some_and(|(shape, _)| shape.cause == Cause::Leak);
    let straight = choice.fits.iter().any(|fit| {
        is_steady(fit)
            && fit.at(GAS).is_none()
            && fit.at(SLOW).is_none()
            && fit.aicc <= best + STRAIGHT
    });
    let base = choice.fits.iter().filter(|fit| {
        fit.at(TREND).is_some_and(|(shape, _)| !emptied::is_rest(shape, window, about))
            && !(straight && (!is_steady(fit) || fit.at(SLOW).is_some()))
    });
    let exponents: &[f64] =
        if straight { &outgassing::EXPONENTS[..1] } else { &outgassing::EXPONENTS };
    let mut sums: Vec<Fit> = Vec::new();
    for fit in base {
        let mut found = false;
        for &exponent in exponents {
            for age_s in outgassing::ages(window) {
                if let Some(sum) = with_free_gas(fit, window, noise, age_s, exponent) {
                    found = true;
                    keep_better(&mut sums, sum);
                }
            }
        }
        if !found {
            sums.push(fit.clone());
        }
    }
    let Some(least) = sums.iter().map(|fit| fit.aicc).min_by(f64::total_cmp) else {
        return Mixture { parts: Vec::new(), without: 1.0 };
    };
    let mut parts: Vec<Part> =
        sums.iter().filter_map(|fit| part(fit, window, about, noise, least)).collect();
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    for part in &mut parts {
        part.weight /= total;
    }
    let without: f64 = choice
        .fits
        .iter()
        .filter(|fit| fit.at(TREND).is_none())
        .map(|fit| digits::scalar::exp((-0.5 * (fit.aicc - least)).min(50.0)))
        .sum();
    Mixture { parts, without: without / (without + total) }
}

/// The same pattern with and without outgassing comes to the same sum here:
/// the better constants are kept.
fn keep_better(sums: &mut Vec<Fit>, sum: Fit) {
    let gas = |fit: &Fit| fit.at(GAS).map(|(shape, _)| (shape.constant, shape.age_s));
    let same =
        sums.iter_mut().find(|other| other.pattern() == sum.pattern() && gas(other) == gas(&sum));
    match same {
        Some(other) if sum.aicc < other.aicc => *other = sum,
        Some(_) => {}
        None => sums.push(sum),
    }
}

/// The sum with outgassing of a given law and free sign in its place.
fn with_free_gas(
    fit: &Fit,
    window: &Window,
    noise: Noise,
    age_s: f64,
    exponent: f64,
) -> Option<Fit> {
    let mut shapes = fit.shapes.clone();
    shapes.retain(|shape| shape.place != GAS);
    let mut gas = outgassing::at(window, age_s, exponent);
    // The mixture stands for the search of its law.
    gas.n_searched = 0;
    // After the trend, which stands first.
    shapes.insert(1, gas);
    let problem = Problem::new(window, &shapes, noise.rho);
    let all: Vec<usize> = (0..shapes.len()).collect();
    let solved = problem.solve(&all)?;
    let n_parameters = fit::n_parameters(&shapes);
    Some(Fit {
        coefficients: solved.coefficients[..shapes.len()].to_vec(),
        squares: solved.squares,
        aicc: fit::aicc(window.n(), noise, solved.squares, n_parameters),
        n_parameters,
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
    let weight = digits::scalar::exp(-0.5 * (fit.aicc - least));
    if !(weight > LIGHTEST) {
        return None;
    }
    let (shape, coefficient) = fit.at(TREND)?;
    let place = fit.shapes.iter().position(|other| core::ptr::eq(other, shape))?;
    let columns = fit::gradients(fit, window, about);
    let prepared = fit::Prepared::new(window, noise.rho);
    let whitened: Vec<Vec<f64>> = columns.iter().map(|column| prepared.column(column)).collect();
    let problem = Problem::of_columns(window, prepared.values(), &whitened);
    let mut gradient = vec![0.0; columns.len()];
    gradient[place] = mean_rate(window, &columns[place]);
    // The constant of the trend, where it has one, is the first that follows
    // the shapes in their order: the trend stands first of all.
    let of_bore = fit.shapes.len();
    let has_bore = shape.constant.is_some() && columns.len() > of_bore;
    if has_bore {
        gradient[of_bore] = mean_rate(window, &columns[of_bore]);
    }
    let all: Vec<usize> = (0..columns.len()).collect();
    let shapes_only: Vec<usize> = (0..of_bore).collect();
    let variance = problem
        .variance_of(&all, &gradient)
        .or_else(|| problem.variance_of(&shapes_only, &gradient[..of_bore]))?;
    let k = fit.n_parameters as f64;
    let freedom = (window.n() as f64 / noise.excess - k).max(2.0);
    let left = (window.n() as f64 - k).max(2.0);
    let error = |variance: f64| (variance * noise.excess * fit.squares / left).sqrt();
    let standard_error = error(variance);
    let bore = shape.constant.filter(|_| has_bore).and_then(|bore_m| {
        let mut of_log = vec![0.0; columns.len()];
        of_log[of_bore] = 1.0;
        Some((bore_m, error(problem.variance_of(&all, &of_log)?)))
    });
    (standard_error > 0.0 && standard_error.is_finite()).then(|| Part {
        weight,
        rate: coefficient * mean_rate(window, &shape.column),
        standard_error,
        freedom,
        bore,
    })
}

/// The rate below which a share `p` of the mixture lies; `moved` shifts the
/// rate of each part.
pub(super) fn quantile(parts: &[Part], p: f64, moved: impl Fn(&Part) -> f64) -> f64 {
    let below = |rate: f64| -> f64 {
        parts
            .iter()
            .map(|part| {
                let t = (rate - moved(part)) / part.standard_error;
                part.weight * student_t::cumulative(t, part.freedom)
            })
            .sum::<f64>()
    };
    let reach = |part: &Part, sign: f64| moved(part) + sign * 60.0 * part.standard_error;
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
}

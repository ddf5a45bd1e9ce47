//! Fast logistic curve of single trials, for large sets and for resampling.

use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use digits::RandomStream;
use digits::scalar::exp;

/// Curve of single trials with the place of one probability.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct SingleTrials {
    /// Intercept of the logit.
    pub intercept: f64,
    /// Slope of the logit.
    pub slope: f64,
    /// Standard errors of both.
    pub standard_errors: (f64, f64),
    /// Logarithm of the likelihood.
    pub log_likelihood: f64,
    /// Place at which the curve reaches the probability asked for.
    pub place: f64,
    /// Its one-sided upper bound by the profile likelihood; `None` where open.
    pub upper: Option<f64>,
    /// Number of trials.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
}

/// Gradient and information at a line, and the place sums need.
struct Sums {
    gradient: [f64; 2],
    information: [f64; 3],
}

/// One exponential per trial: the probability gives gradient and information.
fn sums_at(x: &[f64], hits: (f64, f64), b0: f64, b1: f64) -> Sums {
    let (mut p0, mut p1, mut w0, mut w1, mut w2) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for x in x {
        let p = 1.0 / (1.0 + exp(-(b0 + b1 * x)));
        let w = p * (1.0 - p);
        p0 += p;
        p1 += p * x;
        w0 += w;
        w1 += w * x;
        w2 += w * x * x;
    }
    Sums { gradient: [hits.0 - p0, hits.1 - p1], information: [w0, w1, w2] }
}

fn value_at(x: &[f64], hits: (f64, f64), b0: f64, b1: f64) -> f64 {
    // Sum of hits times line, less ln(1 + e^line); the logarithms of blocks of
    // factors are taken together.
    let (mut linear, mut product, mut logs) = (0.0, 1.0_f64, 0.0);
    for x in x {
        let eta = b0 + b1 * x;
        linear += eta.max(0.0);
        product *= 1.0 + exp(-eta.abs());
        if product > 1e280 {
            logs += digits::scalar::ln(product);
            product = 1.0;
        }
    }
    hits.0 * b0 + hits.1 * b1 - linear - logs - digits::scalar::ln(product)
}

/// Newton's method from a start; `None` without convergence.
///
/// Ends when the promised gain of the likelihood is below `gain_left`; the
/// step taken last leaves an error of its square.
fn maximise(
    x: &[f64],
    hits: (f64, f64),
    start: (f64, f64),
    gain_left: f64,
) -> Option<(f64, f64, Sums)> {
    let (mut b0, mut b1) = start;
    let mut last = f64::INFINITY;
    for _ in 0..40 {
        let here = sums_at(x, hits, b0, b1);
        let [a, b, c] = here.information;
        let determinant = a * c - b * b;
        if !(determinant > 0.0) {
            return None;
        }
        let [g, h] = here.gradient;
        let (s0, s1) = ((c * g - b * h) / determinant, (a * h - b * g) / determinant);
        let gain = g * s0 + h * s1;
        // The likelihood is concave: a gain that grows means too long a step.
        let share = if gain > 4.0 * last { 0.5 } else { 1.0 };
        last = gain;
        b0 += share * s0;
        b1 += share * s1;
        if gain < gain_left {
            return (b0.is_finite() && b1.is_finite()).then_some((b0, b1, here));
        }
    }
    None
}

/// Largest log-likelihood of a curve pinned at `(place, eta)`, and its slope.
fn pinned(x: &[f64], hits: (f64, f64), place: f64, eta: f64, start: f64) -> (f64, f64) {
    let mut slope = start;
    for _ in 0..40 {
        let here = sums_at(x, hits, eta - slope * place, slope);
        let [a, b, c] = here.information;
        let bend = c - 2.0 * place * b + place * place * a;
        let step = (here.gradient[1] - place * here.gradient[0]) / bend;
        if !step.is_finite() {
            break;
        }
        let limited = step.clamp(-2.0 - slope.abs(), 2.0 + slope.abs());
        slope += limited;
        if limited.abs() < 1e-7 * (1.0 + slope.abs()) {
            break;
        }
    }
    (value_at(x, hits, eta - slope * place, slope), slope)
}

fn check(trials: &[(f64, bool)], probability: f64) -> Result<(), CannotSay> {
    cannot_say::at_least("trials", 4, trials.len())?;
    cannot_say::open_probability("the probability", probability)?;
    if let Some(i) = trials.iter().position(|t| !t.0.is_finite()) {
        return Err(CannotSay::NotFinite {
            what: "places".into(),
            position: i + 1,
            value: trials[i].0,
        });
    }
    // Separation, in one pass over the extremes.
    let mut ends = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
    for (x, hit) in trials {
        let k = if *hit { 0 } else { 2 };
        ends[k] = ends[k].min(*x);
        ends[k + 1] = ends[k + 1].max(*x);
    }
    if ends[3] <= ends[0] || ends[1] <= ends[2] {
        return Err(CannotSay::not_determined(
            "hits and misses are separated by size",
            "Test more units where they could overlap.",
        ));
    }
    Ok(())
}

/// Middle and half range, for an axis from -1 to 1.
fn axis(trials: &[(f64, bool)]) -> (f64, f64) {
    let low = trials.iter().map(|t| t.0).fold(f64::INFINITY, f64::min);
    let high = trials.iter().map(|t| t.0).fold(f64::NEG_INFINITY, f64::max);
    (0.5 * low + 0.5 * high, 0.5 * high - 0.5 * low)
}

/// Fits a logistic curve of single trials `(x, hit)` and bounds the place at
/// which it reaches `probability` from above, by the profile likelihood.
///
/// The same fit as [`super::fit_hit_miss`] with the logit link, without its
/// grouping and notes.
///
/// # Errors
/// Fewer than four trials, places that are not finite, separation, a
/// probability or confidence outside 0 to 1.
pub fn fit_single_trials(
    trials: &[(f64, bool)],
    probability: f64,
    confidence: f64,
) -> Result<SingleTrials, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    check(trials, probability)?;
    let (centre, scale) = axis(trials);
    let x: Vec<f64> = trials.iter().map(|t| (t.0 - centre) / scale).collect();
    let hits = trials
        .iter()
        .zip(&x)
        .filter(|(t, _)| t.1)
        .fold((0.0, 0.0), |(n, s), (_, x)| (n + 1.0, s + x));
    let open = || {
        CannotSay::not_determined(
            "the likelihood of the curve has no maximum that double arithmetic can reach",
            "Test more units where hits and misses overlap.",
        )
    };
    let (b0, b1, here) = maximise(&x, hits, (0.0, 0.0), 1e-9).ok_or_else(open)?;
    let best = value_at(&x, hits, b0, b1);
    let [a, b, c] = here.information;
    let determinant = a * c - b * b;
    let (v0, v01, v1) = (c / determinant, -b / determinant, a / determinant);
    let shift = centre / scale;
    let eta = super::Link::Logit.line(probability);
    let place = (eta - b0) / b1;
    let z = normal::quantile(confidence);
    let mut upper = None;
    if b1 > 0.0 && z > 0.0 {
        // From the delta-method bound outward, by the secant through the
        // signed root, which is nearly straight.
        let error = (v0 + 2.0 * place * v01 + place * place * v1).max(0.0).sqrt() / b1;
        let mut slope = b1;
        let mut root = |at: f64| {
            let (value, steep) = pinned(&x, hits, at, eta, slope);
            slope = steep;
            (2.0 * (best - value)).max(0.0).sqrt() - z
        };
        let (mut low, mut f_low) = (place, -z);
        let mut high = place + z * error;
        let mut f_high = root(high);
        for _ in 0..40 {
            if f_high >= 0.0 {
                break;
            }
            (low, f_low) = (high, f_high);
            high += (high - place).max(error);
            f_high = root(high);
        }
        for _ in 0..40 {
            if f_high < 0.0 || (high - low).abs() < 1e-10 * (1.0 + high.abs()) {
                break;
            }
            let share = (-f_low / (f_high - f_low)).clamp(0.01, 0.99);
            let middle = low + share * (high - low);
            let f_middle = root(middle);
            if f_middle.abs() < 1e-8 {
                (low, high) = (middle, middle);
            } else if f_middle < 0.0 {
                (low, f_low) = (middle, f_middle);
            } else {
                (high, f_high) = (middle, f_middle);
            }
        }
        upper = (f_high >= 0.0).then_some(centre + scale * high);
    }
    Ok(SingleTrials {
        intercept: cannot_say::computed("the intercept", b0 - b1 * shift)?,
        slope: cannot_say::computed("the slope", b1 / scale)?,
        standard_errors: (
            cannot_say::computed(
                "a standard error",
                (v0 - 2.0 * shift * v01 + shift * shift * v1).max(0.0).sqrt(),
            )?,
            cannot_say::computed("a standard error", v1.sqrt() / scale)?,
        ),
        log_likelihood: best,
        place: cannot_say::computed("the place", centre + scale * place)?,
        upper,
        n: trials.len(),
        method: "logistic curve of single trials, maximum likelihood",
    })
}

/// Places from resampled trials.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Bootstrap {
    /// Places of the resamples that had one, in rising order.
    pub places: Vec<f64>,
    /// Resamples that were separated, did not rise or did not converge.
    pub without_place: u64,
    /// Seed.
    pub seed: u64,
}

impl Bootstrap {
    /// Quantile over all resamples, those without a place counted as beyond
    /// every size; `None` where the quantile falls among them.
    #[must_use]
    pub fn quantile(&self, share: f64) -> Option<f64> {
        let all = self.places.len() as f64 + self.without_place as f64;
        if !(share > 0.0 && share < 1.0) {
            return None;
        }
        self.places.get((share * all).floor() as usize).copied()
    }
}

/// Resamples the trials and refits the place of `probability`.
///
/// # Errors
/// As [`fit_single_trials`]; no resample.
pub fn bootstrap_place(
    trials: &[(f64, bool)],
    probability: f64,
    resamples: u64,
    seed: u64,
) -> Result<Bootstrap, CannotSay> {
    cannot_say::at_least("resamples", 1, usize::try_from(resamples).unwrap_or(usize::MAX))?;
    check(trials, probability)?;
    let (centre, scale) = axis(trials);
    let all: Vec<f64> = trials.iter().map(|t| (t.0 - centre) / scale).collect();
    let hits = trials
        .iter()
        .zip(&all)
        .filter(|(t, _)| t.1)
        .fold((0.0, 0.0), |(n, s), (_, x)| (n + 1.0, s + x));
    let start = maximise(&all, hits, (0.0, 0.0), 1e-9).map_or((0.0, 1.0), |(a, b, _)| (a, b));
    let eta = super::Link::Logit.line(probability);
    let n = trials.len() as u64;
    let mut x = vec![0.0; trials.len()];
    let mut places = Vec::with_capacity(usize::try_from(resamples).unwrap_or(0));
    let mut without = 0;
    for resample in 0..resamples {
        let mut stream = RandomStream::new(seed, resample);
        let mut hits = (0.0, 0.0);
        let mut ends = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
        for slot in &mut x {
            let chosen = stream.below(n) as usize;
            *slot = all[chosen];
            let k = if trials[chosen].1 {
                hits.0 += 1.0;
                hits.1 += *slot;
                0
            } else {
                2
            };
            ends[k] = ends[k].min(*slot);
            ends[k + 1] = ends[k + 1].max(*slot);
        }
        let separated = ends[3] <= ends[0] || ends[1] <= ends[2];
        let fit = if separated { None } else { maximise(&x, hits, start, 1e-5) };
        match fit {
            Some((b0, b1, _)) if b1 > 0.0 => places.push(centre + scale * ((eta - b0) / b1)),
            _ => without += 1,
        }
    }
    places.sort_by(f64::total_cmp);
    Ok(Bootstrap { places, without_place: without, seed })
}

/// `ln(1 + e^x)`, kept for the check of [`value_at`].
#[cfg(test)]
fn soft_plus(x: f64) -> f64 {
    use digits::scalar::ln_1p;
    if x > 0.0 { x + ln_1p(exp(-x)) } else { ln_1p(exp(x)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::detection::{HitMiss, Link, fit_hit_miss};

    fn trials(n: u64) -> Vec<(f64, bool)> {
        (0..n)
            .map(|unit| {
                let mut stream = RandomStream::new(1, unit);
                let x = stream.normal();
                (x, stream.uniform() < Link::Logit.probability(-0.5 + 1.5 * x))
            })
            .collect()
    }

    #[test]
    fn both_fits_agree() {
        for n in [60, 1000] {
            let data = trials(n);
            let fast = fit_single_trials(&data, 0.9, 0.95).unwrap();
            let rows: Vec<HitMiss> = data
                .iter()
                .map(|(x, hit)| HitMiss { size: *x, hits: u64::from(*hit), of: 1 })
                .collect();
            let full = fit_hit_miss(&rows, Link::Logit, false, 0.95).unwrap();
            assert!((fast.slope - full.slope.unwrap()).abs() < 1e-8);
            assert!((fast.intercept - full.intercept.unwrap()).abs() < 1e-8);
            assert!((fast.place - full.a90.unwrap()).abs() < 1e-8);
            assert!((fast.upper.unwrap() - full.a90_95.unwrap()).abs() < 1e-6);
            assert!((fast.log_likelihood - full.log_likelihood.unwrap()).abs() < 1e-8);
        }
    }

    #[test]
    fn the_value_is_that_of_single_logarithms() {
        let x = [-1.0, 0.3, 0.9];
        let direct =
            -(soft_plus(0.5 - 2.0) + soft_plus(0.5 + 0.6) + soft_plus(0.5 + 1.8)) + 0.5 + 1.8;
        assert!((value_at(&x, (1.0, 0.9), 0.5, 2.0) - direct).abs() < 1e-13);
    }

    #[test]
    fn resamples_count_what_they_lose() {
        let boot = bootstrap_place(&trials(40), 0.9, 500, 3).unwrap();
        assert_eq!(boot.places.len() as u64 + boot.without_place, 500);
        assert!(boot.quantile(0.5).is_some());
        let separated = [(0.0, false), (1.0, false), (2.0, true), (3.0, true)];
        assert!(bootstrap_place(&separated, 0.9, 10, 1).is_err());
        assert!(fit_single_trials(&separated, 0.9, 0.95).is_err());
    }
}

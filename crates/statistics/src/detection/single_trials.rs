//! Fast logistic curve of single trials, for large sets and for resampling.

use super::trial_sums::{Bins, Hits, Sums, every_trial};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};
use digits::RandomStream;

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

impl Account for SingleTrials {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "trials, one for each unit")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "hits and misses overlap",
                "separation, exact",
                true,
                "They overlap; separated trials are refused.",
            ),
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
            Assumption::unchecked(
                "a logistic curve on the axis given",
                "deviance of grouped sizes",
                "single trials do not show it; group neighbouring sizes",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.upper.is_none() {
            notes.push(Note::new(
                "no-upper-bound",
                "The data allow a curve so flat that the place has no upper bound.",
                "Add units above the largest miss and below the smallest hit.",
            ));
        }
        if self.n < 120 {
            notes.push(Note::new(
                "bound-optimistic",
                format!(
                    "With {} trials the likelihood-ratio bound covers less than it states.",
                    self.n
                ),
                "Quote the simulated small-sample bound.",
            ));
        }
        notes
    }
}

/// Newton's method from a start; `None` without convergence.
///
/// Ends when the promised gain of the likelihood is below `gain_left`; the
/// step taken last leaves an error of its square.
fn maximise(
    at: impl Fn(f64, f64) -> Sums,
    start: (f64, f64),
    gain_left: f64,
) -> Option<(f64, f64, Sums)> {
    let (mut b0, mut b1) = start;
    let mut last = f64::INFINITY;
    for _ in 0..40 {
        let mut here = at(b0, b1);
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
            // Half the promised gain is what the last step brings.
            here.value += 0.5 * gain.max(0.0);
            return (b0.is_finite() && b1.is_finite()).then_some((b0, b1, here));
        }
    }
    None
}

/// Curve pinned at a point: its likelihood, its slope, and how fast the
/// likelihood falls as the point moves outward.
struct Pinned {
    value: f64,
    slope: f64,
    fall: f64,
}

fn pinned(at: impl Fn(f64, f64) -> Sums, place: f64, eta: f64, start: f64) -> Pinned {
    let mut slope = start;
    let mut result = Pinned { value: f64::NEG_INFINITY, slope, fall: 0.0 };
    for _ in 0..40 {
        let here = at(eta - slope * place, slope);
        let [a, b, c] = here.information;
        let bend = c - 2.0 * place * b + place * place * a;
        let along = here.gradient[1] - place * here.gradient[0];
        let step = along / bend;
        if !step.is_finite() {
            break;
        }
        let limited = step.clamp(-2.0 - slope.abs(), 2.0 + slope.abs());
        let gain = along * limited;
        slope += limited;
        result = Pinned {
            value: here.value + 0.5 * gain,
            slope,
            fall: slope * (here.gradient[0] - limited * (b - place * a)),
        };
        if gain < 1e-10 {
            break;
        }
    }
    result
}

/// Checks the trials; middle and half range of an axis from -1 to 1.
fn check(trials: &[(f64, bool)], probability: f64) -> Result<(f64, f64), CannotSay> {
    cannot_say::at_least("trials", 4, trials.len())?;
    cannot_say::open_probability("the probability", probability)?;
    // Separation, in one pass over the extremes of hits and of misses.
    let mut ends = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
    let mut finite = true;
    for (x, hit) in trials {
        let (of_hit, of_miss) = if *hit { (*x, f64::NAN) } else { (f64::NAN, *x) };
        finite &= x.is_finite();
        // A comparison with NaN keeps the end as it is.
        ends[0] = if of_hit < ends[0] { of_hit } else { ends[0] };
        ends[1] = if of_hit > ends[1] { of_hit } else { ends[1] };
        ends[2] = if of_miss < ends[2] { of_miss } else { ends[2] };
        ends[3] = if of_miss > ends[3] { of_miss } else { ends[3] };
    }
    if !finite && let Some(i) = trials.iter().position(|t| !t.0.is_finite()) {
        return Err(CannotSay::NotFinite {
            what: "places".into(),
            position: i + 1,
            value: trials[i].0,
        });
    }
    if ends[3] <= ends[0] || ends[1] <= ends[2] {
        return Err(CannotSay::not_determined(
            "hits and misses are separated by size",
            "Test more units where they could overlap.",
        ));
    }
    let (low, high) = (ends[0].min(ends[2]), ends[1].max(ends[3]));
    Ok((0.5 * low + 0.5 * high, 0.5 * high - 0.5 * low))
}

/// Number of hits and the sum of their places.
fn hits_of(trials: &[(f64, bool)], places: &[f64]) -> Hits {
    let (mut count, mut sum) = (0.0, 0.0);
    for (trial, x) in trials.iter().zip(places) {
        let hit = f64::from(u8::from(trial.1));
        count += hit;
        sum += hit * x;
    }
    (count, sum)
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
    let (centre, scale) = check(trials, probability)?;
    let x: Vec<f64> = trials.iter().map(|t| (t.0 - centre) / scale).collect();
    let hits = hits_of(trials, &x);
    let open = || {
        CannotSay::not_determined(
            "the likelihood of the curve has no maximum that double arithmetic can reach",
            "Test more units where hits and misses overlap.",
        )
    };
    let count = (x.len() / 64).next_power_of_two().clamp(32, 4096);
    let bins = Bins::new(x.iter().copied(), count);
    let by_bin = |b0: f64, b1: f64| bins.sums(hits, b0, b1);
    let by_trial = |b0: f64, b1: f64| every_trial(&x, hits, b0, b1);
    // The bins give the whole answer where their series reaches, else a start.
    let near = maximise(by_bin, (0.0, 0.0), 1e-9).filter(|fit| bins.reach(fit.1) < 0.7);
    let exact = near.as_ref().is_some_and(|fit| bins.reach(1.5 * fit.1) < 0.02);
    let sums = |b0: f64, b1: f64| {
        if exact && bins.reach(b1) < 0.02 { by_bin(b0, b1) } else { by_trial(b0, b1) }
    };
    let (b0, b1, here) = match near {
        Some(fit) if exact => fit,
        Some(fit) => maximise(by_trial, (fit.0, fit.1), 1e-9).ok_or_else(open)?,
        None => maximise(by_trial, (0.0, 0.0), 1e-9).ok_or_else(open)?,
    };
    let best = here.value;
    let [a, b, c] = here.information;
    let determinant = a * c - b * b;
    let (v0, v01, v1) = (c / determinant, -b / determinant, a / determinant);
    let shift = centre / scale;
    let eta = super::Link::Logit.line(probability);
    let place = (eta - b0) / b1;
    let z = normal::quantile(confidence);
    let mut upper = None;
    if b1 > 0.0 && z > 0.0 {
        let error = (v0 + 2.0 * place * v01 + place * place * v1).max(0.0).sqrt() / b1;
        let mut slope = b1;
        let root = |at: f64| {
            let found = pinned(sums, at, eta, slope);
            slope = found.slope;
            let root = (2.0 * (best - found.value)).max(0.0).sqrt();
            (root - z, found.fall / root)
        };
        upper =
            outward(root, place, z, error).map(|x| centre + scale * x).filter(|x| x.is_finite());
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

/// Place beyond `best` where the signed root reaches `z`: by Newton's method
/// from the delta-method bound, because the root is nearly straight; by a
/// bracket where that does not settle. `None` where the root stays below.
fn outward(mut root: impl FnMut(f64) -> (f64, f64), best: f64, z: f64, error: f64) -> Option<f64> {
    let mut x = best + z * error;
    for _ in 0..8 {
        let (f, slope) = root(x);
        if f.abs() < 1e-9 {
            return Some(x);
        }
        let step = -f / slope;
        if !(step.abs() < 4.0 * z * error) || x + step <= best {
            break;
        }
        x += step;
        // The step left is the square of this one, in units of the error.
        if f.abs() < 1e-5 {
            return Some(x);
        }
    }
    let (mut low, mut f_low) = (best, -z);
    let mut high = best + z * error;
    let mut f_high = root(high).0;
    for _ in 0..40 {
        if f_high >= 0.0 {
            break;
        }
        (low, f_low) = (high, f_high);
        high += (high - best).max(error);
        f_high = root(high).0;
    }
    for _ in 0..60 {
        if f_high < 0.0 || (high - low).abs() < 1e-10 * (1.0 + high.abs()) {
            break;
        }
        let share = (-f_low / (f_high - f_low)).clamp(0.01, 0.99);
        let middle = low + share * (high - low);
        let f_middle = root(middle).0;
        if f_middle.abs() < 1e-8 {
            (low, high) = (middle, middle);
        } else if f_middle < 0.0 {
            (low, f_low) = (middle, f_middle);
        } else {
            (high, f_high) = (middle, f_middle);
        }
    }
    (f_high >= 0.0).then_some(high)
}

/// Places from resampled trials.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Bootstrap {
    /// Places of the resamples that had one, in rising order.
    pub places: Vec<f64>,
    /// Resamples that were separated, did not rise, did not converge, or have
    /// their place outside double arithmetic.
    pub without_place: u64,
    /// Seed.
    pub seed: u64,
    /// Number of trials resampled.
    pub n: u64,
}

impl Account for Bootstrap {
    fn method(&self) -> &str {
        "places of a logistic curve of resampled trials"
    }

    fn counted(&self) -> Counted {
        Counted::effective(
            self.n as f64,
            format!("trials ({} resamples of them)", self.places.len() as u64 + self.without_place),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "every resample has a place",
                "resamples without one",
                self.without_place == 0,
                format!(
                    "{} resamples have none; they count as beyond every size.",
                    self.without_place
                ),
            ),
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        let all = self.places.len() as f64 + self.without_place as f64;
        let mut notes = Vec::new();
        if self.without_place as f64 > 0.05 * all {
            notes.push(Note::new(
        "resamples-without-place",
        format!(
            "{} of {all} resamples have no place, so an upper 95 % bound does not exist or hangs \
             on them.",
            self.without_place
        ),
        "Test more units where hits and misses overlap.",
    ));
        }
        notes
    }
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
    let (centre, scale) = check(trials, probability)?;
    let all: Vec<f64> = trials.iter().map(|t| (t.0 - centre) / scale).collect();
    let hits = hits_of(trials, &all);
    let whole = |b0: f64, b1: f64| every_trial(&all, hits, b0, b1);
    let start = maximise(whole, (0.0, 0.0), 1e-9).map_or((0.0, 1.0), |(a, b, _)| (a, b));
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
        let fit = if separated {
            None
        } else {
            maximise(|b0, b1| every_trial(&x, hits, b0, b1), start, 1e-5)
        };
        match fit {
            Some((b0, b1, _)) if b1 > 0.0 => {
                let place = centre + scale * ((eta - b0) / b1);
                if place.is_finite() {
                    places.push(place);
                } else {
                    without += 1;
                }
            }
            _ => without += 1,
        }
    }
    places.sort_by(f64::total_cmp);
    Ok(Bootstrap { places, without_place: without, seed, n })
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
    fn gathered_and_single_trials_agree() {
        // 60 000 trials are gathered in bins; the general fit takes each one.
        let data = trials(60_000);
        let fast = fit_single_trials(&data, 0.9, 0.95).unwrap();
        let rows: Vec<HitMiss> = data
            .iter()
            .map(|(x, hit)| HitMiss { size: *x, hits: u64::from(*hit), of: 1 })
            .collect();
        let full = fit_hit_miss(&rows, Link::Logit, false, 0.95).unwrap();
        assert!((fast.slope - full.slope.unwrap()).abs() < 1e-9);
        assert!((fast.standard_errors.1 / full.standard_errors.unwrap().1 - 1.0).abs() < 1e-9);
        assert!((fast.upper.unwrap() - full.a90_95.unwrap()).abs() < 1e-8);
        assert!((fast.log_likelihood - full.log_likelihood.unwrap()).abs() < 1e-6);
    }

    #[test]
    fn a_steep_curve_leaves_the_bins() {
        // Two outliers stretch the axis until the transition is one bin wide.
        let mut data: Vec<(f64, bool)> = trials(5000).iter().map(|t| (t.0 * 1e-3, t.1)).collect();
        data.push((-1.0, false));
        data.push((1.0, true));
        let fast = fit_single_trials(&data, 0.9, 0.95).unwrap();
        let rows: Vec<HitMiss> = data
            .iter()
            .map(|(x, hit)| HitMiss { size: *x, hits: u64::from(*hit), of: 1 })
            .collect();
        let full = fit_hit_miss(&rows, Link::Logit, false, 0.95).unwrap();
        assert!((fast.slope / full.slope.unwrap() - 1.0).abs() < 1e-7);
        assert!((fast.upper.unwrap() / full.a90_95.unwrap() - 1.0).abs() < 1e-6);
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

//! Which causes the record needs, and which it cannot tell apart.

use super::circumstances::Circumstances;
use super::fit::{self, Fit, Noise, Pattern};
use super::term::{Cause, PLACES, SLOW, Shape, TREND};
use super::window::Window;
use super::{creep, drift, leak, outgassing, step, thermal, vapour};

/// A sum is as good as the best while its criterion is within this: the
/// evidence ratio is then below `e^(4/2) = 7`.
pub(super) const AS_GOOD: f64 = 4.0;
/// Sums this far behind say nothing.
const HOPELESS: f64 = 40.0;
/// So many patterns of each kind of trend are refined, and the simple ones.
const MOST_REFINED: usize = 5;

/// Every sum worth looking at, and the one that is taken.
pub(super) struct Choice {
    /// The simplest sum that is as good as the best.
    pub(super) taken: Fit,
    /// The refined sums, best first.
    pub(super) fits: Vec<Fit>,
    /// The noise that was allowed for.
    pub(super) noise: Noise,
}

/// Fits every combination of causes and chooses.
pub(super) fn choose(window: &Window, about: &Circumstances) -> Option<Choice> {
    let mut candidates: Vec<Shape> = vec![leak::steady(window)];
    let least_pa = 2.0 * step_noise(&window.pressures_pa);
    candidates.extend(leak::emptying(window, about, least_pa));
    candidates.extend(outgassing::shapes(window));
    candidates.extend(vapour::shapes(window));
    candidates.extend(thermal::shapes(window));
    let smooth = [
        leak::steady(window),
        outgassing::at(window, window.age_s.unwrap_or(5.0).max(0.1), 1.0),
        vapour::at(window, window.length_s() / 5.0),
    ];
    candidates.extend(step::likeliest(window, &smooth));
    // First as if the noise were independent; the residuals of the best tell
    // how much it is not.
    let mut noise = Noise { rho: 0.0, excess: 1.0 };
    let mut fits = best_first(window, about, &candidates, noise);
    for _ in 0..2 {
        let seen = noise_of(fits.first()?, window);
        if (seen.rho - noise.rho).abs() < 0.05 && (seen.excess / noise.excess - 1.0).abs() < 0.1 {
            break;
        }
        noise = seen;
        fits = best_first(window, about, &candidates, noise);
    }
    let least = fits.first()?.aicc;
    let taken = fits
        .iter()
        .filter(|fit| fit.aicc <= least + AS_GOOD)
        .min_by(|a, b| a.shapes.len().cmp(&b.shapes.len()).then(a.aicc.total_cmp(&b.aicc)))?
        .clone();
    Some(Choice { taken, fits, noise })
}

fn best_first(
    window: &Window,
    about: &Circumstances,
    candidates: &[Shape],
    noise: Noise,
) -> Vec<Fit> {
    let mut fits = fit::every_pattern(window, candidates, noise);
    fits.sort_by(|a, b| a.aicc.total_cmp(&b.aicc));
    // The grids are coarse: a record of little noise puts every sum whose
    // constant lies between two points far behind. So each kind of trend keeps
    // its best until the constants have been moved.
    let mut kept = std::collections::BTreeMap::new();
    fits.retain(|fit| {
        let n = kept.entry(fit.pattern()[TREND]).or_insert(0_usize);
        *n += 1;
        fit.aicc.is_finite() && (*n <= MOST_REFINED || fit.shapes.len() <= 2)
    });
    let mut fits: Vec<Fit> =
        fits.iter().map(|fit| fit::refined(fit, window, about, noise)).collect();
    fits.sort_by(|a, b| a.aicc.total_cmp(&b.aicc));
    let least = fits.first().map_or(0.0, |fit| fit.aicc);
    fits.retain(|fit| fit.aicc < least + HOPELESS);
    fits
}

/// Noise of a point from the differences of neighbours, Pa.
fn step_noise(values: &[f64]) -> f64 {
    statistics::autocorrelation::noise_from_differences(values).unwrap_or(0.0)
}

/// Lags over which the excess of slow noise is summed.
const LAGS: usize = 8;

/// The noise that a fit leaves: first-order autocorrelation, and what the
/// whitened residuals still add up to over more lags (with Bartlett weights,
/// and raised for what fitting takes out).
fn noise_of(fit: &Fit, window: &Window) -> Noise {
    let residuals = fit::residuals(fit, window);
    let rho = autocorrelation(&residuals, fit.n_parameters);
    let white = fit::whitened(&residuals, rho);
    let n = white.len() as f64;
    let total = digits::sums::sum(white.iter().map(|r| r * r));
    if !(total > 0.0) || white.len() < 4 * LAGS {
        return Noise { rho, excess: 1.0 };
    }
    let taken_out = (fit.n_parameters as f64 - 2.0).max(0.0) / n;
    let excess = (1..=LAGS).fold(1.0, |sum, lag| {
        let products =
            digits::sums::sum(white.iter().zip(&white[lag..]).map(|(a, b)| a * b)) / total;
        let weight = 1.0 - lag as f64 / (LAGS + 1) as f64;
        sum + 2.0 * weight * (products + taken_out)
    });
    Noise { rho, excess: excess.clamp(1.0, 6.0) }
}

/// Lag-1 autocorrelation of residuals, raised for what fitting `k` parameters
/// takes out of it.
pub(super) fn autocorrelation(residuals: &[f64], k: usize) -> f64 {
    let n = residuals.len() as f64;
    let total = digits::sums::sum(residuals.iter().map(|r| r * r));
    if !(total > 0.0) || residuals.len() < 8 {
        return 0.0;
    }
    let products = digits::sums::sum(residuals.windows(2).map(|pair| pair[0] * pair[1]));
    let raw = products / total;
    (raw + (k as f64 - 1.0) / n).clamp(0.0, 0.95)
}

/// What a term of the sum can be, the likeliest first.
pub(super) fn possible_causes(
    shape: &Shape,
    coefficient: f64,
    window: &Window,
    about: &Circumstances,
) -> Vec<Cause> {
    let start_pa = window.pressures_pa.first().copied().unwrap_or(0.0);
    if shape.cause == Cause::Leak {
        let named = drift::name_of_trend(coefficient);
        // Upward, a drift of the gauge looks the same.
        if named == Cause::Leak {
            return vec![named, Cause::Drift];
        }
        let fall_pa = coefficient * (window.measure_s.1 - window.measure_s.0);
        let cools = thermal::can_follow_walls(fall_pa, window);
        return if cools { vec![named, Cause::Thermal] } else { vec![named] };
    }
    if shape.place != SLOW {
        return vec![shape.cause];
    }
    let mut causes = Vec::new();
    let tau_s = shape.constant.unwrap_or(f64::INFINITY);
    // Recovery that is not as quick as usual, or walls that change their
    // temperature.
    let recovers = thermal::can_recover(coefficient, tau_s, window);
    let (from, to) = window.measure_s;
    let left = |time: f64| digits::scalar::exp(-time / tau_s);
    let follows = thermal::can_follow_walls(coefficient * (left(from) - left(to)), window);
    if recovers && tau_s < 0.15 * window.length_s() {
        causes.push(Cause::Thermal);
    }
    if vapour::can_be(coefficient, start_pa, about) {
        causes.push(Cause::Vapour);
    }
    if creep::can_be(coefficient, start_pa, about) {
        causes.push(Cause::Creep);
    }
    // A container that is known to give way, and nothing wet, or the reverse.
    if about.yielding == Some(true) && about.wet != Some(true) {
        causes.sort_by_key(|cause| *cause != Cause::Creep);
    }
    if (recovers || follows) && !causes.contains(&Cause::Thermal) {
        causes.push(Cause::Thermal);
    }
    // A part so thin that it runs empty gives the same shape.
    causes.push(Cause::Outgassing);
    if about.headspace.is_none() || about.free_volume.is_none() || about.temperature.is_none() {
        causes.push(Cause::EmptyingLeak);
    }
    causes
}

/// Causes that stand in other sums as good as the one taken, in place of one
/// of its terms; a slow saturating shape stands for every cause that has it.
pub(super) fn rivals(
    choice: &Choice,
    place: usize,
    window: &Window,
    about: &Circumstances,
) -> Vec<Cause> {
    let least = choice.fits.first().map_or(0.0, |fit| fit.aicc);
    let taken = choice.taken.pattern();
    let mut causes = Vec::new();
    for fit in &choice.fits {
        let pattern = fit.pattern();
        if fit.aicc > least + AS_GOOD
            || fit.shapes.len() > choice.taken.shapes.len() + 1
            || pattern[place] == taken[place]
        {
            continue;
        }
        for other in 0..PLACES {
            for cause in instead(fit, &taken, other, window, about) {
                if !causes.contains(&cause) {
                    causes.push(cause);
                }
            }
        }
    }
    causes
}

/// What a sum has at a place where the one taken has something else.
fn instead(
    fit: &Fit,
    taken: &Pattern,
    place: usize,
    window: &Window,
    about: &Circumstances,
) -> Vec<Cause> {
    match fit.at(place) {
        Some((shape, _)) if taken[place] == Some(shape.cause) => Vec::new(),
        Some((shape, coefficient)) if place == SLOW => {
            possible_causes(shape, coefficient, window, about)
        }
        Some((shape, _)) => vec![shape.cause],
        None => Vec::new(),
    }
}

/// How much worse the best sum without a term of this place is.
pub(super) fn evidence(choice: &Choice, place: usize) -> Option<f64> {
    let least = choice.fits.first()?.aicc;
    let cause = choice.taken.pattern()[place];
    choice
        .fits
        .iter()
        .filter(|fit| fit.pattern()[place] != cause)
        .map(|fit| fit.aicc - least)
        .min_by(f64::total_cmp)
}

//! Whether a headspace that emptied before measuring explains a fall of the flow.

use super::choice::{AS_GOOD, Choice};
use super::circumstances::Circumstances;
use super::fit::Fit;
use super::leak::{emptying_at, emptying_time_s};
use super::leak_rate::mean_rate;
use super::term::{Cause, GAS, SLOW, Shape, TREND, logarithmic_grid};
use super::window::Window;

/// Bores that empty a headspace in the time of a test, µm.
const BORES_UM: (f64, f64, usize) = (20.0, 400.0, 40);
/// How far the rest of the gas may be from what was stated, as a factor: what
/// is left goes with the exponential of volume and flow.
const SLACK: f64 = 2.0;
/// Two falls are alike when they differ by less than this share of their size.
const ALIKE: f64 = 0.1;
/// A term that adds less to the measure stage, in standard deviations of what
/// the fit leaves, decides nothing.
const LEAST_SEEN: f64 = 2.0;
/// Time constants of emptying by which a headspace has emptied: a fifth of its
/// gas is left.
const EMPTIED_AFTER: f64 = 1.5;

/// True where the rest of an emptied headspace may stand behind a term of the
/// sum taken, or of one as good: its rate then says nothing of the leak.
///
/// A term that falls off (outgassing, a saturating shape) is held against what
/// bores that empty the headspace before measuring would leave: their falls
/// are one-parametric, since time and amount both follow from the bore.
/// Without headspace, volumes and time under vacuum nothing speaks against it
/// where the sum taken has such a term.
pub(super) fn explains(
    choice: &Choice,
    window: &Window,
    about: &Circumstances,
    sd_pa: f64,
) -> bool {
    let least = choice.fits.first().map_or(0.0, |fit| fit.aicc);
    let seen_pa = LEAST_SEEN * sd_pa;
    let (from, to) = window.measure_s;
    let seen = |column: &[f64]| mean_rate(window, column) * (to - from) > seen_pa;
    let mut falls: Vec<Vec<f64>> = Vec::new();
    let known = about.headspace.is_some()
        && about.free_volume.is_some()
        && about.temperature.is_some()
        && window.age_s.is_some();
    // With nothing to hold them against, only what the sum taken needs counts.
    let as_good = choice.fits.iter().filter(|fit| known && fit.aicc <= least + AS_GOOD);
    for fit in as_good.chain([&choice.taken]) {
        let trend = fit.at(TREND).filter(|(shape, _)| shape.cause == Cause::EmptyingLeak);
        if let Some((shape, coefficient)) = trend
            && coefficient * mean_rate(window, &shape.column) * (to - from) > seen_pa
            && is_rest(shape, window, about)
        {
            return true;
        }
        let slow = falling(fit, window, |shape| shape.place == SLOW);
        if seen(&slow) {
            falls.push(slow);
        }
        let both = falling(fit, window, |shape| matches!(shape.place, SLOW | GAS));
        if seen(&both) {
            falls.push(both);
        }
    }
    if falls.is_empty() {
        return false;
    }
    if !known {
        return true;
    }
    let (low, high, n) = BORES_UM;
    logarithmic_grid(low * 1e-6, high * 1e-6, n)
        .into_iter()
        .filter(|&bore| has_emptied(window, about, bore))
        .filter_map(|bore| emptying_at(window, about, bore))
        .any(|shape| falls.iter().any(|fall| alike(fall, &shape, sd_pa)))
}

/// True for the shape of a leak whose headspace has emptied before measuring.
pub(super) fn is_rest(shape: &Shape, window: &Window, about: &Circumstances) -> bool {
    shape.cause == Cause::EmptyingLeak
        && shape.constant.is_some_and(|bore| has_emptied(window, about, bore))
}

/// The headspace has emptied by the start of measuring.
fn has_emptied(window: &Window, about: &Circumstances, bore_m: f64) -> bool {
    let until_s = window.age_s.unwrap_or(0.0) + window.measure_s.0;
    emptying_time_s(about, bore_m).is_some_and(|time_s| EMPTIED_AFTER * time_s < until_s)
}

/// What some shapes of a sum add since isolation, Pa.
fn falling(fit: &Fit, window: &Window, wanted: impl Fn(&Shape) -> bool) -> Vec<f64> {
    let mut sum = vec![0.0; window.n()];
    for (shape, coefficient) in fit.shapes.iter().zip(&fit.coefficients) {
        if wanted(shape) {
            let first = shape.column.first().copied().unwrap_or(0.0);
            for (slot, value) in sum.iter_mut().zip(&shape.column) {
                *slot += coefficient * (value - first);
            }
        }
    }
    sum
}

fn alike(fall: &[f64], shape: &Shape, sd_pa: f64) -> bool {
    let first = shape.column.first().copied().unwrap_or(0.0);
    let rest: Vec<f64> = shape.column.iter().map(|value| value - first).collect();
    let dot = |a: &[f64], b: &[f64]| digits::sums::sum(a.iter().zip(b).map(|(x, y)| x * y));
    let square = dot(&rest, &rest);
    if !(square > 0.0) {
        return false;
    }
    let scale = dot(fall, &rest) / square;
    if !(1.0 / SLACK..=SLACK).contains(&scale) {
        return false;
    }
    let n = fall.len() as f64;
    let left = (dot(fall, fall) - scale * scale * square).max(0.0) / n;
    left.sqrt() < (ALIKE * (dot(fall, fall) / n).sqrt()).max(0.5 * sd_pa)
}

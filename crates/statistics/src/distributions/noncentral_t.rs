//! Noncentral t distribution: `(Z + delta) / S` with `Z` standard normal and
//! `S^2` an independent chi-squared value over its degrees of freedom `nu`.
//!
//! Method: the definition itself,
//! `P(T <= x) = E[ Phi(x S - delta) ]`, by the trapezoidal rule in
//! `u = ln S`. The integrand is analytic and dies away on both sides, so the
//! rule converges faster than any power of the step (J. A. C. Weideman and
//! L. N. Trefethen on the trapezoidal rule; rule known from memory). No series
//! in `delta` is used, because those lose their digits at large noncentrality.
//! Where `delta` is so large that the normal value hardly blurs the step of the
//! integrand, the same expectation is taken over the normal value instead.

use super::chi_lanes::{ChiLanes, scale};
use super::{chi_squared, normal, student_t};
use digits::scalar::{exp, exp_m1};

const TWO_PI: f64 = 2.0 * core::f64::consts::PI;

/// Noncentrality from which the expectation is taken over the normal value: a
/// rule over `S` would need steps of `1/delta` across the whole of `S`, and far
/// beyond this more of them than it takes.
fn far(nu: f64) -> f64 {
    300.0 + 2.0 * nu
}

/// Tail for `delta` above [`far`]: `E[P(S >= (Z + delta)/x)]` below `x`,
/// `E[P(S <= (Z + delta)/x)]` above. Over `Z` the chi-squared tail changes by no
/// more than a factor of about `e^2.4` a unit, so that the rule of step 0.4 over
/// 13 standard deviations leaves nothing out.
fn far_tail(x: f64, nu: f64, delta: f64, lower: bool) -> f64 {
    // `Z + delta` is positive: what contradicts it is below 1e-19000.
    if x <= 0.0 {
        return if lower { 0.0 } else { 1.0 };
    }
    const STEP: f64 = 0.4;
    let total: f64 = (-32..=32)
        .map(|i| {
            let z = STEP * f64::from(i);
            let ratio = (z + delta) / x;
            let square = nu * ratio * ratio;
            // Beyond what double arithmetic holds, above or below.
            let tail = match (square == f64::INFINITY, square == 0.0) {
                (true, _) => f64::from(u8::from(!lower)),
                (_, true) => f64::from(u8::from(lower)),
                _ if lower => chi_squared::survival(square, nu),
                _ => chi_squared::cumulative(square, nu),
            };
            normal::density(z) * tail
        })
        .sum();
    (STEP * total).clamp(0.0, 1.0)
}

/// Largest step that keeps the error of the rule below 1e-14 of the peak, for
/// a density of width `1 / sqrt(2 nu)` and a step function of width `1/delta`.
fn step(nu: f64, delta: f64) -> f64 {
    (0.62 / (2.0 * nu + delta * delta).sqrt()).min(0.1)
}

/// Logarithm of the density of `u`, without its constant: largest, zero, at
/// `u = 0`.
fn log_weight(u: f64, nu: f64) -> f64 {
    // nu (u - (e^{2u} - 1)/2), which is -nu u^2 near zero.
    nu * (u - 0.5 * exp_m1(2.0 * u))
}

/// Sum of `weight(u) * value(s)` over the line, outward from `centre`.
fn integrate(nu: f64, h: f64, centre: f64, value: impl Fn(f64) -> f64) -> f64 {
    let term = |u: f64| {
        let weight = exp(log_weight(u, nu));
        if weight == 0.0 { 0.0 } else { weight * value(exp(u)) }
    };
    let mut total = term(centre);
    for direction in [-1.0, 1.0] {
        let mut quiet = 0;
        for i in 1..200_000 {
            let part = term(centre + direction * f64::from(i) * h);
            total += part;
            // Three negligible terms in a row: the rest is smaller still.
            quiet = if part <= total * 1e-18 { quiet + 1 } else { 0 };
            if quiet == 3 {
                break;
            }
        }
    }
    total * h * scale(nu)
}

/// Where the integrand `weight(u) * value(e^u)` is largest, from a coarse
/// scan and halving.
fn peak(nu: f64, x: f64, delta: f64, lower: bool) -> f64 {
    let height = |u: f64| {
        let argument = x * exp(u) - delta;
        let z = if lower { argument } else { -argument };
        // ln Phi(z), with its asymptote where Phi underflows.
        let log_phi = if z > -35.0 {
            digits::scalar::ln(normal::cumulative(z))
        } else {
            -0.5 * z * z - digits::scalar::ln(-z * TWO_PI.sqrt())
        };
        log_weight(u, nu) + log_phi
    };
    // Candidates: the mode of S, and the place of the step.
    let mut best = 0.0;
    let mut value = height(0.0);
    if x != 0.0 && delta / x > 0.0 {
        let place = digits::scalar::ln(delta / x);
        let (mut low, mut high) = if place < 0.0 { (place, 0.0) } else { (0.0, place) };
        // The peak lies between the two; golden section.
        let golden = 0.618_033_988_749_894_9;
        for _ in 0..60 {
            let a = high - golden * (high - low);
            let b = low + golden * (high - low);
            if height(a) > height(b) {
                high = b;
            } else {
                low = a;
            }
        }
        let middle = 0.5 * (low + high);
        if height(middle) > value {
            best = middle;
            value = height(middle);
        }
    }
    // Climb outward in doubling steps, for tails where the step does not lie
    // between (x of the other sign than delta).
    let mut stride = step(nu, delta);
    for _ in 0..400 {
        let (left, right) = (height(best - stride), height(best + stride));
        if left > value && left >= right {
            best -= stride;
            value = left;
            stride *= 2.0;
        } else if right > value {
            best += stride;
            value = right;
            stride *= 2.0;
        } else if stride > 1e-3 * step(nu, delta) {
            stride *= 0.5;
        } else {
            break;
        }
    }
    best
}

fn tail(x: f64, nu: f64, delta: f64, lower: bool) -> f64 {
    if x.is_nan() || !(nu > 0.0 && nu.is_finite()) || !delta.is_finite() {
        return f64::NAN;
    }
    if x.is_infinite() {
        return if (x > 0.0) == lower { 1.0 } else { 0.0 };
    }
    if x == 0.0 {
        return if lower { normal::cumulative(-delta) } else { normal::cumulative(delta) };
    }
    if delta == 0.0 {
        return if lower { student_t::cumulative(x, nu) } else { student_t::survival(x, nu) };
    }
    if delta.abs() > far(nu) {
        // Mirrored to a positive noncentrality.
        return match delta > 0.0 {
            true => far_tail(x, nu, delta, lower),
            false => far_tail(-x, nu, -delta, !lower),
        };
    }
    let centre = peak(nu, x, delta, lower);
    // The steepness of the normal factor at the peak is x S there.
    let steep = (x * exp(centre)).abs().max(delta.abs());
    let value = |s: f64| {
        let z = x * s - delta;
        if lower { normal::cumulative(z) } else { normal::survival(z) }
    };
    integrate(nu, step(nu, steep), centre, value).clamp(0.0, 1.0)
}

/// Probability below `x`, for `nu` degrees of freedom and noncentrality
/// `delta`.
#[must_use]
pub fn cumulative(x: f64, nu: f64, delta: f64) -> f64 {
    tail(x, nu, delta, true)
}

/// Probability above `x`, without cancellation.
#[must_use]
pub fn survival(x: f64, nu: f64, delta: f64) -> f64 {
    tail(x, nu, delta, false)
}

/// Value below which the noncentral t value lies with probability `p`.
///
/// Accurate to about 1e-12 relative for `nu` to 1e7 and any noncentrality
/// that double arithmetic holds.
#[must_use]
pub fn quantile(p: f64, nu: f64, delta: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || !(nu > 0.0 && nu.is_finite()) || !delta.is_finite() {
        return f64::NAN;
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    if p == 1.0 {
        return f64::INFINITY;
    }
    if delta == 0.0 {
        return student_t::quantile(p, nu);
    }
    if delta < 0.0 {
        // Mirrored, and always from the smaller tail: the larger one is flat
        // in double arithmetic and the search would run far out.
        return if p <= 0.5 {
            -upper_quantile_positive(p, nu, -delta)
        } else {
            -lower_quantile_positive(1.0 - p, nu, -delta)
        };
    }
    if p <= 0.5 {
        lower_quantile_positive(p, nu, delta)
    } else {
        upper_quantile_positive(1.0 - p, nu, delta)
    }
}

fn upper_quantile_positive(q: f64, nu: f64, delta: f64) -> f64 {
    solve(q, nu, delta, false)
}

fn lower_quantile_positive(p: f64, nu: f64, delta: f64) -> f64 {
    solve(p, nu, delta, true)
}

/// Quantile for positive `delta`; `probability` is the smaller tail.
fn solve(probability: f64, nu: f64, delta: f64, lower: bool) -> f64 {
    let z = if lower { normal::quantile(probability) } else { -normal::quantile(probability) };
    // Normal approximation of Jennett and Welch for the start.
    let shrink = 1.0 - 0.25 / nu.max(0.5);
    let inside = shrink * shrink - z * z / (2.0 * nu);
    let start = if inside > 0.05 {
        let root = |square: f64| (1.0 + (square - z * z) / (2.0 * nu)).max(0.1).sqrt();
        // Where the shift is nothing the answer is Student's quantile, known
        // by the expansion of Cornish and Fisher; the same ratio corrects the
        // approximation elsewhere.
        let w = z * z;
        let student = 1.0
            + ((w + 1.0)
                + (((5.0 * w + 16.0) * w + 3.0)
                    + (((3.0 * w + 19.0) * w + 17.0) * w - 15.0) / (4.0 * nu))
                    / (24.0 * nu))
                / (4.0 * nu);
        let correction = (student * inside / root(0.0)).clamp(0.5, 1.5);
        (delta * shrink + z * root(delta * delta)) / inside * correction
    } else {
        delta + z
    };
    if probability > 1e-10
        && start > 0.2
        && delta <= far(nu)
        && let Some(x) = moderate(probability, nu, delta, lower, start)
    {
        return x;
    }
    // Far tails: bracket outward, then Brent on the logarithm.
    let target = digits::scalar::ln(probability);
    let f = |x: f64| {
        let value = if lower { cumulative(x, nu, delta) } else { survival(x, nu, delta) };
        let log = if value > 0.0 { digits::scalar::ln(value) } else { -1e4 };
        if lower { log - target } else { target - log }
    };
    let mut width = 1.0 + start.abs();
    let (mut low, mut high) = (start - width, start + width);
    for _ in 0..1000 {
        if f(low) <= 0.0 {
            break;
        }
        width *= 2.0;
        low -= width;
    }
    width = 1.0 + start.abs();
    for _ in 0..1000 {
        if f(high) >= 0.0 {
            break;
        }
        width *= 2.0;
        high += width;
    }
    digits::roots::between(low, high, 0.0, f).unwrap_or(f64::NAN)
}

/// Quantile at a moderate probability: the nodes are laid once, and the
/// logarithm of the tail is followed along the logarithm of `x` by
/// Householder's method of third order. `None` where it does not settle.
fn moderate(probability: f64, nu: f64, delta: f64, lower: bool, start: f64) -> Option<f64> {
    let lanes = ChiLanes::new(nu, delta + 4.0, 1e-14);
    let goal = digits::scalar::ln(probability);
    let mut x = start;
    for _ in 0..8 {
        let tail = lanes.tail(x, delta, lower);
        if !(tail.value > 0.0) {
            return None;
        }
        let g = digits::scalar::ln(tail.value) - goal;
        // Derivatives of g in ln x from those of the tail in x.
        let a = x * tail.first / tail.value;
        let b = x * x * tail.second / tail.value;
        let c = x * x * x * tail.third / tail.value;
        let a1 = a + b - a * a;
        let b1 = 2.0 * b + c - a * b;
        let a2 = a1 + b1 - 2.0 * a * a1;
        let newton = -g / a;
        let step = -(6.0 * g * a * a - 3.0 * g * g * a1)
            / (6.0 * a * a * a - 6.0 * g * a * a1 + g * g * a2);
        // Far from the goal the plain step is the safer one.
        let step = if (step - newton).abs() < 0.5 * newton.abs() { step } else { newton };
        if !step.is_finite() {
            return None;
        }
        x *= exp(step.clamp(-1.0, 1.0));
        // The error left is the fourth power of the step in units of the
        // spread 1/a.
        let size = (step * a).abs();
        if size * size * size * size < 1e-13 * a.abs() {
            return Some(x);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_zero_only_the_normal_counts() {
        assert_eq!(cumulative(0.0, 5.0, 1.0), normal::cumulative(-1.0));
    }

    #[test]
    fn reflection() {
        for (x, nu, delta) in [(1.5, 3.0, 0.7), (-2.0, 10.0, 1.0), (4.0, 200.0, 3.0)] {
            let one = cumulative(x, nu, delta);
            let other = survival(-x, nu, -delta);
            assert!((one - other).abs() < 1e-14, "{x}: {one} {other}");
            assert!((one + survival(x, nu, delta) - 1.0).abs() < 1e-13);
        }
    }

    #[test]
    fn no_shift_is_students_t() {
        let nearly = cumulative(1.3, 7.0, 1e-13);
        assert!((nearly - student_t::cumulative(1.3, 7.0)).abs() < 1e-13);
    }

    /// With two degrees of freedom `P(S >= s) = exp(-s^2)`, and the expectation
    /// over `Z` is a Gaussian integral: by hand.
    #[test]
    fn a_large_shift_by_hand() {
        for delta in [250.0, 299.0, 310.0, 1e3, 1e4, 1e6, 1e15, 1e100, 1e300] {
            for share in [0.2, 0.6, 1.0, 3.0, 40.0] {
                let x = share * delta;
                let narrowed = 1.0 + 2.0 / x / x;
                let expected = exp(-(1.0 / share / share) / narrowed) / narrowed.sqrt();
                let below = cumulative(x, 2.0, delta);
                assert!((below / expected - 1.0).abs() < 1e-11, "{delta} {share} {below}");
                let above = survival(-x, 2.0, -delta);
                assert!((above / expected - 1.0).abs() < 1e-11, "{delta} {share} {above}");
                let rest = survival(x, 2.0, delta);
                assert!((rest + below - 1.0).abs() < 1e-11, "{delta} {share} {rest}");
            }
            let (above, below) = (survival(-1.0, 2.0, delta), cumulative(-1.0, 2.0, delta));
            assert!((above - 1.0).abs() < 1e-13 && below < 1e-300, "{delta} {above} {below}");
        }
    }

    /// Both ways of taking the expectation meet where one takes over.
    #[test]
    fn the_two_expectations_agree() {
        for nu in [1.0, 3.0, 30.0, 1e3, 1e5] {
            let delta = far(nu) * (1.0 - 1e-12);
            for score in [-6.0, -2.0, 0.0, 3.0] {
                let x = delta * exp(score / f64::sqrt(2.0 * nu));
                for lower in [true, false] {
                    let (near, over) = (tail(x, nu, delta, lower), far_tail(x, nu, delta, lower));
                    let both_nothing = near < 1e-300 && over < 1e-300;
                    let agree = (near / over - 1.0).abs() < 1e-10;
                    assert!(both_nothing || agree, "{nu} {score}: {near} {over}");
                }
            }
        }
    }

    #[test]
    fn quantile_undoes_the_distribution_function() {
        for nu in [1.0, 2.0, 9.0, 200.0, 1e5] {
            for delta in [0.3, 7.4, 120.0, -5.0, 1e3, 1e7] {
                for p in [1e-12, 0.01, 0.5, 0.95] {
                    let x = quantile(p, nu, delta);
                    let back = cumulative(x, nu, delta);
                    assert!((back / p - 1.0).abs() < 1e-9, "{nu} {delta} {p} {x} {back}");
                }
            }
        }
    }
}

//! Root of a function on a bracket.

/// Root of `function` between `low` and `high`, where it changes sign.
///
/// Method: the bracketing method of R. P. Brent, Algorithms for Minimization
/// without Derivatives (1973), chapter 4. Stops when the bracket is within
/// four rounding steps of the root. `None` where the ends have one sign or a
/// value is not a number.
pub(crate) fn bracketed_root(
    mut function: impl FnMut(f64) -> f64,
    low: f64,
    high: f64,
) -> Option<f64> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (function(a), function(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if !(fa * fb < 0.0 || (fa > 0.0) != (fb > 0.0)) || fa.is_nan() || fb.is_nan() {
        return None;
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut last_step = step;
    for _ in 0..200 {
        if (fb > 0.0) == (fc > 0.0) {
            c = a;
            fc = fa;
            step = b - a;
            last_step = step;
        }
        if fc.abs() < fb.abs() {
            a = b;
            b = c;
            c = a;
            fa = fb;
            fb = fc;
            fc = fa;
        }
        let tolerance = 2.0 * f64::EPSILON * b.abs();
        let half = 0.5 * (c - b);
        if half.abs() <= tolerance || fb == 0.0 {
            return Some(b);
        }
        if last_step.abs() >= tolerance && fa.abs() > fb.abs() {
            let s = fb / fa;
            let (mut p, mut q);
            if a == c {
                p = 2.0 * half * s;
                q = 1.0 - s;
            } else {
                let r = fb / fc;
                let t = fa / fc;
                p = s * (2.0 * half * t * (t - r) - (b - a) * (r - 1.0));
                q = (t - 1.0) * (r - 1.0) * (s - 1.0);
            }
            if p > 0.0 {
                q = -q;
            }
            p = p.abs();
            if 2.0 * p < (3.0 * half * q - (tolerance * q).abs()).min((last_step * q).abs()) {
                last_step = step;
                step = p / q;
            } else {
                step = half;
                last_step = half;
            }
        } else {
            step = half;
            last_step = half;
        }
        a = b;
        fa = fb;
        b += if step.abs() > tolerance { step } else { tolerance.copysign(half) };
        fb = function(b);
        if fb.is_nan() {
            return None;
        }
    }
    Some(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn square_root_of_two() {
        let root = bracketed_root(|x| x * x - 2.0, 0.0, 2.0);
        assert!((root.unwrap_or(0.0) - 2.0_f64.sqrt()).abs() < 1e-15);
    }

    #[test]
    fn a_root_far_below_the_bracket_keeps_its_digits() {
        let root = bracketed_root(|x| x / (1.0 + x) - 1e-12, 0.0, 1.0).unwrap_or(0.0);
        assert!((root / 1.000_000_000_001e-12 - 1.0).abs() < 1e-14);
    }

    #[test]
    fn no_change_of_sign_no_root() {
        assert_eq!(bracketed_root(|x| x * x + 1.0, -1.0, 1.0), None);
        assert_eq!(bracketed_root(|_| f64::NAN, -1.0, 1.0), None);
    }
}

//! Roots of monotone functions, bracketed at every step.

/// Root of a rising function by Newton's method inside a bracket.
///
/// `step` returns the value and the slope at a point. Whenever the Newton
/// step leaves the bracket, or the slope is useless, the bracket is halved
/// instead, so the method cannot diverge. Ends when a step is below
/// `tolerance` times `1 + |x|`.
#[must_use]
pub fn newton_in_bracket(
    mut low: f64,
    mut high: f64,
    start: f64,
    tolerance: f64,
    step: impl Fn(f64) -> (f64, f64),
) -> f64 {
    let mut x = if start > low && start < high { start } else { 0.5 * (low + high) };
    for _ in 0..200 {
        let (value, slope) = step(x);
        if value == 0.0 {
            return x;
        }
        if value < 0.0 {
            low = x;
        } else {
            high = x;
        }
        let newton = x - value / slope;
        let next = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
        let moved = (next - x).abs();
        x = next;
        if moved <= tolerance * (1.0 + x.abs()) {
            break;
        }
    }
    x
}

/// Root of a function that changes sign between `low` and `high`, by the
/// method of Brent (1973, chapter 4; written from its description).
///
/// Returns `None` when the signs at the ends are equal or a value is not a
/// number.
#[must_use]
pub fn between(low: f64, high: f64, tolerance: f64, mut f: impl FnMut(f64) -> f64) -> Option<f64> {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return Some(a);
    }
    if fb == 0.0 {
        return Some(b);
    }
    if fa.is_nan() || fb.is_nan() || (fa > 0.0) == (fb > 0.0) {
        return None;
    }
    let (mut c, mut fc) = (a, fa);
    let mut last = b - a;
    let mut before_last = last;
    for _ in 0..300 {
        if (fb > 0.0) == (fc > 0.0) {
            c = a;
            fc = fa;
            last = b - a;
            before_last = last;
        }
        if fc.abs() < fb.abs() {
            a = b;
            b = c;
            c = a;
            fa = fb;
            fb = fc;
            fc = fa;
        }
        let accepted = 2.0 * f64::EPSILON * b.abs() + 0.5 * tolerance;
        let half = 0.5 * (c - b);
        if half.abs() <= accepted || fb == 0.0 {
            return Some(b);
        }
        if before_last.abs() >= accepted && fa.abs() > fb.abs() {
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
            if 2.0 * p < (3.0 * half * q - (accepted * q).abs()).min((before_last * q).abs()) {
                before_last = last;
                last = p / q;
            } else {
                last = half;
                before_last = half;
            }
        } else {
            last = half;
            before_last = half;
        }
        a = b;
        fa = fb;
        b += if last.abs() > accepted { last } else { accepted.copysign(half) };
        fb = f(b);
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
    fn root_of_a_cubic() {
        let root = between(0.0, 4.0, 1e-15, |x| x * x * x - 8.0).unwrap_or(0.0);
        assert!((root - 2.0).abs() < 1e-14);
        let root = newton_in_bracket(0.0, 4.0, 3.9, 1e-15, |x| (x * x * x - 8.0, 3.0 * x * x));
        assert!((root - 2.0).abs() < 1e-14);
    }

    #[test]
    fn equal_signs_are_refused() {
        assert_eq!(between(0.0, 1.0, 1e-9, |x| x + 1.0), None);
    }
}

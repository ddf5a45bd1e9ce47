//! Exponent of a reading against size: `net reading ~ size^exponent`.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};
use digits::scalar::ln;
use digits::sums;

/// Readings of units of one size, summarised.
#[derive(Debug, Clone, PartialEq)]
pub struct SizeReading {
    /// Size, in any one unit of length.
    pub size: f64,
    /// Mean reading.
    pub mean: f64,
    /// Standard deviation of the readings between units.
    pub standard_deviation: f64,
    /// Number of units.
    pub n: usize,
    /// Whether the readings were cut off at `mean` (an aborted run: the true
    /// reading is larger).
    pub censored: bool,
}

/// The exponent with its interval.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Exponent {
    /// Estimate.
    pub exponent: f64,
    /// Lower end of the two-sided interval.
    pub lower: f64,
    /// Upper end; `None` where a censored reading leaves it open.
    pub upper: Option<f64>,
    /// Whether `exponent` itself is a lower bound, because the larger size
    /// was cut off.
    pub is_lower_bound: bool,
    /// Confidence of the interval.
    pub confidence: f64,
    /// Number of sizes used.
    pub sizes_used: usize,
    /// Number of units in those sizes.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Exponent {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, format!("units of {} sizes", self.sizes_used))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "reading less blank grows as a power of size",
                "curvature of ln reading on ln size",
                "three sizes or more are needed, and a note speaks where they bend",
            ),
            Assumption::unchecked(
                "units independent of each other, a size truly known",
                "from the plan",
                "summaries do not show it",
            ),
            Assumption::looked_at(
                "no reading cut off",
                "readings marked as censored",
                !self.is_lower_bound && self.upper.is_some(),
                if self.upper.is_none() {
                    "A censored reading leaves the interval open.".to_owned()
                } else {
                    "None that bounds the result.".to_owned()
                },
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// The blank that nets share: variance of its mean, and number of values.
#[derive(Clone, Copy)]
struct Shared {
    variance: f64,
    n: usize,
}

/// A net reading with its standard error.
struct Net {
    size: f64,
    value: f64,
    variance: f64,
    n: usize,
}

/// Exponent of the net reading against size, from two or more sizes.
///
/// Two sizes: `ln(net2 / net1) / ln(size2 / size1)`. The interval is
/// Fieller's for the ratio of two means, with Student's t at the degrees of
/// freedom of the smaller group and the blank as a common part of both nets,
/// carried through the logarithm. It needs no symmetric error on the
/// logarithm, which 15 scattered units do not give. Source: E. C. Fieller, J.
/// R. Stat. Soc. B 16 (1954) 175 (from memory).
///
/// Three or more sizes: straight line of `ln net` on `ln size` by generalised
/// least squares, with the standard errors of the nets and the blank that they
/// share, and Student's t on the degrees of freedom of Welch (Biometrika 34
/// (1947) 28, from memory); where the points
/// scatter more than those errors allow (chi-squared, 0.05), the interval is
/// widened by the scatter and rests on the number of sizes.
///
/// Censored sizes are left out; if fewer than two remain, the cut-off value of
/// the smallest censored size gives a lower bound of the exponent.
///
/// `blank` is mean, standard deviation and number of the no-defect readings;
/// without it the readings are taken as net.
///
/// # Errors
/// Fewer than two different sizes, a size that is not positive, a net reading
/// that cannot be told from zero, or figures that are not finite.
pub fn size_exponent(
    readings: &[SizeReading],
    blank: Option<(f64, f64, usize)>,
    confidence: f64,
) -> Result<Exponent, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    cannot_say::at_least("sizes", 2, readings.len())?;
    for reading in readings {
        cannot_say::positive("a size", reading.size)?;
        cannot_say::finite("a mean reading", reading.mean)?;
        cannot_say::not_negative("a standard deviation", reading.standard_deviation)?;
        cannot_say::at_least("units of a size", 1, reading.n)?;
    }
    let mut notes = Vec::new();
    let (blank_mean, shared) = match blank {
        Some((mean, deviation, n)) => {
            cannot_say::finite("the mean of the blanks", mean)?;
            cannot_say::not_negative("the standard deviation of the blanks", deviation)?;
            cannot_say::at_least("blanks", 2, n)?;
            (mean, Shared { variance: deviation * deviation / n as f64, n })
        }
        None => {
            notes.push(Note::new(
                "no-blank",
                "No blank was given; the readings were taken as net.",
                "Give the mean, standard deviation and number of no-defect units.",
            ));
            (0.0, Shared { variance: 0.0, n: 2 })
        }
    };
    let mut sorted: Vec<&SizeReading> = readings.iter().collect();
    sorted.sort_by(|a, b| a.size.total_cmp(&b.size));
    let net = |reading: &SizeReading| Net {
        size: reading.size,
        value: reading.mean - blank_mean,
        variance: reading.standard_deviation * reading.standard_deviation / reading.n as f64,
        n: reading.n,
    };
    let open: Vec<Net> = sorted.iter().filter(|r| !r.censored).map(|r| net(r)).collect();
    let cut: Vec<Net> = sorted.iter().filter(|r| r.censored).map(|r| net(r)).collect();
    if !cut.is_empty() {
        notes.push(Note::new(
            "censored-size",
            format!(
                "{} size{} ended at a limit and {} not a reading; left out of the exponent. An \
                 exponent computed with the cut-off value would be a lower bound.",
                cut.len(),
                if cut.len() == 1 { "" } else { "s" },
                if cut.len() == 1 { "is" } else { "are" },
            ),
            "Repeat the size with a shorter measure time or a higher abort limit.",
        ));
    }
    for value in &open {
        if value.value <= 0.0 {
            return Err(not_above_blank(value.size));
        }
    }
    let mut result = if open.len() >= 3 {
        line(&open, shared, confidence)?
    } else if open.len() == 2 {
        ratio(&open[0], &open[1], shared, confidence)?
    } else {
        bound(&open, &cut, shared, confidence)?
    };
    if result.sizes_used == 2 && !result.is_lower_bound {
        notes.push(Note::new(
            "two-sizes",
            "Two sizes fix an exponent but cannot show whether one exponent holds.",
            "Add a third size to see curvature.",
        ));
    }
    notes.append(&mut result.notes);
    result.notes = notes;
    Ok(result)
}

fn not_above_blank(size: f64) -> CannotSay {
    CannotSay::not_determined(
        format!("the net reading at size {size} cannot be told from zero"),
        "Use a larger size or more units of this one.",
    )
}

/// Fieller limits of `b / a` for two nets that share a blank.
fn fieller(a: &Net, b: &Net, shared: f64, t: f64) -> Option<(f64, f64)> {
    let t2 = t * t;
    let leading = a.value * a.value - t2 * (a.variance + shared);
    let middle = a.value * b.value - t2 * shared;
    let last = b.value * b.value - t2 * (b.variance + shared);
    let inside = middle * middle - leading * last;
    if leading > 0.0 && last > 0.0 && inside >= 0.0 {
        let root = inside.sqrt();
        // The smaller root from the product, to keep its digits.
        let upper = (middle + root) / leading;
        let lower = last / (middle + root);
        return Some((lower, upper));
    }
    None
}

/// Degrees of freedom of a sum of variances of means, each from `n` values.
fn welch(parts: &[(f64, usize)]) -> f64 {
    let total: f64 = parts.iter().map(|part| part.0).sum();
    let squares: f64 =
        parts.iter().map(|(v, n)| (v / total) * (v / total) / (*n as f64 - 1.0).max(1.0)).sum();
    // Without scatter any number will do.
    if squares > 0.0 { 1.0 / squares } else { 1.0 }
}

fn two_size_parts(small: &Net, large: &Net) -> Result<f64, CannotSay> {
    let log_size = ln(large.size / small.size);
    if log_size > 0.0 {
        Ok(log_size)
    } else {
        Err(CannotSay::NoSpread { what: "the sizes".into() })
    }
}

fn ratio(small: &Net, large: &Net, shared: Shared, confidence: f64) -> Result<Exponent, CannotSay> {
    let log_size = two_size_parts(small, large)?;
    cannot_say::at_least("units of a size", 2, small.n.min(large.n))?;
    let t = student_t::quantile(0.5 + 0.5 * confidence, small.n.min(large.n) as f64 - 1.0);
    let (lower, upper) =
        fieller(small, large, shared.variance, t).ok_or_else(|| not_above_blank(small.size))?;
    Ok(Exponent {
        exponent: cannot_say::computed("the exponent", ln(large.value / small.value) / log_size)?,
        lower: cannot_say::computed("the lower limit", ln(lower) / log_size)?,
        upper: Some(cannot_say::computed("the upper limit", ln(upper) / log_size)?),
        is_lower_bound: false,
        confidence,
        sizes_used: 2,
        n: small.n + large.n,
        method: "ratio of two net means, Fieller interval with Student's t at the degrees of \
                 freedom of the smaller group, on the log scale",
        notes: Vec::new(),
    })
}

fn bound(
    open: &[Net],
    cut: &[Net],
    shared: Shared,
    confidence: f64,
) -> Result<Exponent, CannotSay> {
    let nothing = || {
        CannotSay::not_determined(
            "fewer than two sizes have readings that were not cut off",
            "Repeat the larger sizes with a shorter measure time or a higher abort limit.",
        )
    };
    let small = open.first().ok_or_else(nothing)?;
    let large = cut.iter().find(|c| c.size > small.size).ok_or_else(nothing)?;
    let log_size = two_size_parts(small, large)?;
    cannot_say::at_least("units of a size", 2, small.n)?;
    let t = student_t::quantile(0.5 + 0.5 * confidence, small.n as f64 - 1.0);
    let (lower, _) =
        fieller(small, large, shared.variance, t).ok_or_else(|| not_above_blank(small.size))?;
    Ok(Exponent {
        exponent: cannot_say::computed("the exponent", ln(large.value / small.value) / log_size)?,
        lower: cannot_say::computed("the lower limit", ln(lower) / log_size)?,
        upper: None,
        is_lower_bound: true,
        confidence,
        sizes_used: 2,
        n: small.n + large.n,
        method: "ratio of two net means, the larger cut off: lower bound only",
        notes: vec![Note::new(
            "lower-bound-only",
            "The larger size was cut off, so the exponent is at least the value given; no upper \
             limit exists.",
            "Do not use the value as the exponent.",
        )],
    })
}

/// Generalised line of `ln net` on `ln size`.
fn line(nets: &[Net], shared: Shared, confidence: f64) -> Result<Exponent, CannotSay> {
    let least = nets.iter().map(|net| net.n).min().unwrap_or(1);
    cannot_say::at_least("units of a size", 2, least)?;
    let x: Vec<f64> = nets.iter().map(|net| ln(net.size)).collect();
    let y: Vec<f64> = nets.iter().map(|net| ln(net.value)).collect();
    let mut weights = Vec::with_capacity(nets.len());
    for net in nets {
        let relative = net.variance / (net.value * net.value);
        if !(relative > 0.0) {
            return Err(CannotSay::NoSpread { what: format!("the readings at size {}", net.size) });
        }
        weights.push(1.0 / relative);
    }
    // How the shared blank moves each logarithm.
    let moved: Vec<f64> = nets.iter().map(|net| -1.0 / net.value).collect();
    let plain = |a: &[f64], b: &[f64]| {
        sums::sum(weights.iter().zip(a.iter().zip(b)).map(|(w, (u, v))| w * u * v))
    };
    // Inverse of `D + s m m^T` by Sherman and Morrison.
    let dampened = 1.0 + shared.variance * plain(&moved, &moved);
    let inner = |a: &[f64], b: &[f64]| {
        plain(a, b) - shared.variance * plain(a, &moved) * plain(&moved, b) / dampened
    };
    let ones = vec![1.0; nets.len()];
    let total = inner(&ones, &ones);
    let (mx, my) = (inner(&ones, &x) / total, inner(&ones, &y) / total);
    let away: Vec<f64> = x.iter().map(|v| v - mx).collect();
    let height: Vec<f64> = y.iter().map(|v| v - my).collect();
    let sxx = inner(&away, &away);
    if !(sxx > 0.0) {
        return Err(CannotSay::NoSpread { what: "the sizes".into() });
    }
    let exponent = inner(&away, &height) / sxx;
    let rest: Vec<f64> = height.iter().zip(&away).map(|(h, a)| h - exponent * a).collect();
    let misfit = inner(&rest, &rest).max(0.0);
    let df = nets.len() as f64 - 2.0;
    let mut notes = Vec::new();
    let curved = crate::distributions::chi_squared::survival(misfit, df) < 0.05;
    let (variance, t_df) = if curved {
        notes.push(Note::new(
            "curved",
            "The sizes do not lie on one power law within their errors.",
            "Give the exponent for each pair of neighbouring sizes.",
        ));
        ((misfit / df).max(1.0) / sxx, df)
    } else {
        // The exponent is a sum of the logarithms; each brings its own variance.
        let lean = shared.variance * plain(&away, &moved) / dampened;
        let parts_of = |i: usize| weights[i] * (away[i] - lean * moved[i]) / sxx;
        let mut parts: Vec<(f64, usize)> = nets
            .iter()
            .enumerate()
            .map(|(i, net)| (parts_of(i) * parts_of(i) / weights[i], net.n))
            .collect();
        let common = sums::sum((0..nets.len()).map(|i| parts_of(i) * moved[i]));
        parts.push((common * common * shared.variance, shared.n));
        (1.0 / sxx, welch(&parts))
    };
    let half = student_t::quantile(0.5 + 0.5 * confidence, t_df) * variance.sqrt();
    Ok(Exponent {
        exponent: cannot_say::computed("the exponent", exponent)?,
        lower: cannot_say::computed("the lower limit", exponent - half)?,
        upper: Some(cannot_say::computed("the upper limit", exponent + half)?),
        is_lower_bound: false,
        confidence,
        sizes_used: nets.len(),
        n: nets.iter().map(|net| net.n).sum(),
        method: "generalised straight line of ln net reading on ln size, the blank shared, with \
                 Student's t on Welch's degrees of freedom",
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(size: f64, mean: f64, standard_deviation: f64, n: usize) -> SizeReading {
        SizeReading { size, mean, standard_deviation, n, censored: false }
    }

    #[test]
    fn doubling_size_quadruples_the_reading() {
        let result = size_exponent(
            &[reading(5.0, 20.0, 1.0, 10), reading(10.0, 50.0, 1.0, 10)],
            Some((10.0, 1.0, 10)),
            0.95,
        )
        .unwrap();
        assert!((result.exponent - 2.0).abs() < 1e-14);
        assert!(result.lower < 2.0 && result.upper.unwrap() > 2.0);
    }

    #[test]
    fn three_sizes_on_a_law() {
        let all =
            [reading(1.0, 2.0, 0.1, 9), reading(2.0, 8.0, 0.4, 9), reading(4.0, 32.0, 2.0, 9)];
        let result = size_exponent(&all, None, 0.95).unwrap();
        assert!((result.exponent - 2.0).abs() < 1e-13);
        assert_eq!(result.sizes_used, 3);
    }

    #[test]
    fn a_cut_off_size_is_no_reading() {
        let mut large = reading(10.0, 599.0, 0.0, 15);
        large.censored = true;
        let result =
            size_exponent(&[reading(5.0, 63.0, 20.0, 15), large], Some((16.0, 4.3, 45)), 0.95)
                .unwrap();
        assert!(result.is_lower_bound && result.upper.is_none());
    }

    #[test]
    fn a_net_lost_in_the_blank_is_refused() {
        let all = [reading(5.0, 11.0, 9.0, 5), reading(10.0, 50.0, 1.0, 5)];
        assert!(size_exponent(&all, Some((10.0, 1.0, 10)), 0.95).is_err());
        assert!(size_exponent(&all[..1], None, 0.95).is_err());
    }
}

//! Capability indices with their intervals.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{chi_squared, noncentral_t, normal};
use crate::note::{Assumption, Note};

/// Capability of a process against specification limits.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Capability {
    /// `(upper - lower)/(6 s)`, with both limits.
    pub cp: Option<f64>,
    /// Interval of `cp`.
    pub cp_interval: Option<(f64, f64)>,
    /// Distance from the mean to the nearer limit over `3 s`.
    pub cpk: f64,
    /// One-sided lower bound of the distance to that limit, exact. With two
    /// limits it holds too often where the mean lies midway: 0.972 for 0.95 at
    /// 30 values and an index of 1.33, 0.95 from four standard errors on
    /// (`docs/coverage.md`).
    pub cpk_lower: f64,
    /// The same by the usual approximation, for comparison.
    pub cpk_lower_approximate: f64,
    /// Confidence.
    pub confidence: f64,
    /// Number of values.
    pub n: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for Capability {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.n, "values of one stable population")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "normal values",
                "Shapiro-Wilk",
                "only mean and standard deviation were given",
            ),
            Assumption::unchecked(
                "in statistical control",
                "control chart of the same values",
                "chart them first: an index of an unstable record foretells nothing",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Capability from a mean, a standard deviation and a number of values.
///
/// Interval of `cp` by chi-squared; lower bound of the one-sided index by the
/// noncentral t distribution.
///
/// # Errors
/// Fewer than two values, no limit, limits in the wrong order, figures that
/// are not finite, no spread.
pub fn capability(
    mean: f64,
    standard_deviation: f64,
    n: usize,
    lower: Option<f64>,
    upper: Option<f64>,
    confidence: f64,
) -> Result<Capability, CannotSay> {
    cannot_say::at_least("values", 2, n)?;
    cannot_say::finite("the mean", mean)?;
    cannot_say::positive("the standard deviation", standard_deviation)?;
    cannot_say::open_probability("confidence", confidence)?;
    for limit in [lower, upper].into_iter().flatten() {
        cannot_say::finite("a specification limit", limit)?;
    }
    let below = lower.map(|l| (mean - l) / (3.0 * standard_deviation));
    let above = upper.map(|u| (u - mean) / (3.0 * standard_deviation));
    let cpk = match (below, above) {
        (Some(a), Some(b)) => a.min(b),
        (Some(a), None) | (None, Some(a)) => a,
        (None, None) => {
            return Err(CannotSay::TooFew {
                what: "specification limits".into(),
                needed: 1,
                got: 0,
            });
        }
    };
    let (count, df) = (n as f64, n as f64 - 1.0);
    let (cp, cp_interval) = match (lower, upper) {
        (Some(l), Some(u)) => {
            cannot_say::positive("the distance of the limits", u - l)?;
            let cp = cannot_say::computed("cp", (u - l) / (6.0 * standard_deviation))?;
            let half = 0.5 * (1.0 - confidence);
            let at = |p: f64| cp * (chi_squared::quantile(p, df) / df).sqrt();
            (Some(cp), Some((at(half), at(1.0 - half))))
        }
        _ => (None, None),
    };
    let t = cannot_say::computed("cpk", 3.0 * cpk * count.sqrt())?;
    let spread = 10.0 + 10.0 * (1.0 + t * t / (2.0 * df)).sqrt();
    let delta = digits::roots::between(t - spread, t + spread, 1e-12, |d| {
        confidence - noncentral_t::cumulative(t, df, d)
    })
    .ok_or_else(|| CannotSay::Overflow { what: "the bound of cpk".into() })?;
    let z = normal::quantile(confidence);
    let mut notes = vec![Note::new(
        "normal-and-stable",
        "The index holds for a stable, normal process only.",
        "Show a chart in control and a normality check beside it.",
    )];
    if n < 50 {
        notes.push(Note::new(
            "few-values",
            format!("{n} values leave the index wide."),
            "Quote the lower bound, not the estimate.",
        ));
    }
    Ok(Capability {
        cp,
        cp_interval,
        cpk,
        cpk_lower: delta / (3.0 * count.sqrt()),
        cpk_lower_approximate: cpk - z * (1.0 / (9.0 * count) + cpk * cpk / (2.0 * df)).sqrt(),
        confidence,
        n,
        method: "capability, chi-squared and noncentral t limits",
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::distributions::chi_lanes::ChiLanes;

    /// Real confidence of the bound with two limits, by quadrature: the true
    /// mean lies `off` standard errors from the middle. The bound exceeds the
    /// true index where the estimate exceeds a quantile of noncentral t, which
    /// is `|Z + off| <= sqrt(n) (d - 3 t S)` with `d` half the distance of the
    /// limits over sigma.
    fn covered(n: usize, cpk: f64, off: f64) -> f64 {
        let (df, root) = (n as f64 - 1.0, (n as f64).sqrt());
        let estimate = noncentral_t::quantile(0.95, df, 3.0 * cpk * root) / (3.0 * root);
        let distance = 3.0 * cpk + off / root;
        let beyond: f64 = ChiLanes::new(df, 10.0 + 3.0 * estimate * root, 1e-16)
            .nodes()
            .map(|(s, weight)| {
                let room = root * (distance - 3.0 * estimate * s);
                if room > 0.0 {
                    weight * (normal::cumulative(room - off) - normal::cumulative(-room - off))
                } else {
                    0.0
                }
            })
            .sum();
        1.0 - beyond
    }

    /// The table of `docs/coverage.md`: never below nominal, exact away from
    /// the middle.
    #[test]
    fn with_two_limits_the_bound_holds_at_least_as_often_as_it_says() {
        for (n, cpk) in [(5, 1.0), (10, 1.33), (30, 1.0), (30, 1.33), (30, 2.0), (100, 1.33)] {
            let line = [0.0, 0.5, 1.0, 2.0, 4.0].map(|off| covered(n, cpk, off));
            println!("| {n} | {cpk} | {} |", line.map(|c| format!("{c:.4}")).join(" | "));
            assert!(line.iter().all(|c| (0.9499..0.98).contains(c)), "{n} {cpk} {line:?}");
            assert!(line[0] > 0.964 && (line[4] - 0.95).abs() < 2e-4, "{n} {cpk} {line:?}");
        }
    }

    #[test]
    fn by_hand() {
        let result = capability(16.0, 2.0, 50, Some(8.0), Some(20.0), 0.95).unwrap();
        assert_eq!(result.cp, Some(1.0));
        assert!((result.cpk - 2.0 / 3.0).abs() < 1e-15);
        assert!(result.cpk_lower < result.cpk);
        assert!(capability(1.0, 1.0, 50, None, None, 0.95).is_err());
    }
}

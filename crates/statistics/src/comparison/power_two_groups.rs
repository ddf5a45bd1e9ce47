//! Power of comparisons of two groups of units of their own, whose numbers and
//! spreads may differ.
//!
//! Welch's test takes its degrees of freedom from the two spreads found, so its
//! power is no single noncentral t. Given the share `b` of the first group in
//! the sum `s` of both scaled sums of squares the statistic is one, and `b` is
//! a beta variable independent of `s`: power is an integral over `b`, exact.
//! For equivalence both one-sided tests hold together, an integral over `b` and
//! `s`. Sources: B. L. Welch, Biometrika 29 (1938) 350; D. B. Owen, Biometrika
//! 52 (1965) 437 for the joint test (from memory).

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{beta, noncentral_t, normal, student_t};
use crate::note::{Assumption, Note};
use crate::quadrature::gauss_legendre;
use digits::scalar::{exp, ln, ln_gamma};

/// Two groups as planned: number and standard deviation of one unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoGroups {
    /// Units in the first group and in the second.
    pub units: (usize, usize),
    /// Standard deviation of units in the first group and in the second.
    pub standard_deviations: (f64, f64),
}

/// Largest number of units in a group that a plan goes up to.
const MOST: usize = 100_000;

/// Nodes of an integral over a normal score.
const NODES: usize = 64;

/// What is fixed once the share `b` is: weight, Welch's degrees of freedom, and
/// the estimated variance of the difference per unit of `s`.
struct Split {
    weight: f64,
    df: f64,
    variance_per_sum: f64,
}

impl TwoGroups {
    fn check(&self, difference: f64, alpha: f64) -> Result<(), CannotSay> {
        cannot_say::at_least("units in the first group", 2, self.units.0)?;
        cannot_say::at_least("units in the second group", 2, self.units.1)?;
        cannot_say::positive("the first standard deviation", self.standard_deviations.0)?;
        cannot_say::positive("the second standard deviation", self.standard_deviations.1)?;
        cannot_say::finite("the difference", difference)?;
        cannot_say::open_probability("alpha", alpha)
    }

    /// The same groups in units of the larger standard deviation, and that.
    fn in_own_units(&self) -> (Self, f64) {
        let (a, b) = self.standard_deviations;
        let unit = a.max(b);
        (Self { units: self.units, standard_deviations: (a / unit, b / unit) }, unit)
    }

    /// Standard deviation of the difference of the means.
    fn error(&self) -> f64 {
        let (n, m) = (self.units.0 as f64, self.units.1 as f64);
        let (a, b) = self.standard_deviations;
        (a * a / n + b * b / m).sqrt()
    }

    fn degrees(&self) -> (f64, f64) {
        (self.units.0 as f64 - 1.0, self.units.1 as f64 - 1.0)
    }

    fn splits(&self) -> Vec<Split> {
        let (f, g) = self.degrees();
        let (n, m) = (self.units.0 as f64, self.units.1 as f64);
        let (a, b) = self.standard_deviations;
        gauss_legendre(NODES, -7.5, 7.5)
            .into_iter()
            .map(|(z, weight)| {
                // The share at a normal score, and what is left of it, each
                // from its own tail.
                let tail = normal::cumulative(-z.abs());
                let (share, other) = if z < 0.0 {
                    let share = beta::quantile(tail, 0.5 * f, 0.5 * g);
                    (share, 1.0 - share)
                } else {
                    let other = beta::quantile(tail, 0.5 * g, 0.5 * f);
                    (1.0 - other, other)
                };
                let (first, second) = (a * a * share / (f * n), b * b * other / (g * m));
                let sum = first + second;
                let (own, rest) = (first / sum, second / sum);
                let df = 1.0 / (own * own / f + rest * rest / g);
                Split { weight: weight * normal::density(z), df, variance_per_sum: sum }
            })
            .collect()
    }
}

/// Power of Welch's two-sided test for a true difference of the means.
///
/// # Errors
/// Fewer than two units in a group, deviations that are not positive, a
/// difference that is not finite, `alpha` outside 0 to 1.
pub fn two_group_power(groups: &TwoGroups, difference: f64, alpha: f64) -> Result<f64, CannotSay> {
    groups.check(difference, alpha)?;
    let (groups, unit) = groups.in_own_units();
    let difference = cannot_say::computed("the difference over the scatter", difference / unit)?;
    let (f, g) = groups.degrees();
    let error = groups.error();
    let delta = cannot_say::computed("the difference over its error", difference.abs() / error)?;
    let both = f + g;
    let mut power = 0.0;
    for split in groups.splits() {
        // |d| > t sqrt(s v) is a noncentral t beyond t sqrt(v (f + g)) / error.
        let t = -student_t::quantile(0.5 * alpha, split.df);
        let cut = t * (split.variance_per_sum * both).sqrt() / error;
        let beyond =
            noncentral_t::survival(cut, both, delta) + noncentral_t::cumulative(-cut, both, delta);
        power += split.weight * beyond;
    }
    Ok(cannot_say::computed("the power", power)?.clamp(0.0, 1.0))
}

/// Power of Welch's two one-sided tests to show that two groups agree within a
/// margin, for a true difference of the means.
///
/// # Errors
/// As [`two_group_power`]; a margin that is not positive; `alpha` above 1/2.
pub fn two_group_equivalence_power(
    groups: &TwoGroups,
    difference: f64,
    margin: f64,
    alpha: f64,
) -> Result<f64, CannotSay> {
    groups.check(difference, alpha)?;
    cannot_say::positive("the margin", margin)?;
    if alpha > 0.5 {
        return Err(CannotSay::OutOfRange {
            what: "alpha of a one-sided test".into(),
            value: alpha,
            allowed: "a number up to 0.5".into(),
        });
    }
    let (groups, unit) = groups.in_own_units();
    let difference = cannot_say::computed("the difference over the scatter", difference / unit)?;
    let margin = cannot_say::computed("the margin over the scatter", margin / unit)?;
    let (f, g) = groups.degrees();
    let error = groups.error();
    // The root of the sum of squares has a chi distribution, which lies within
    // seven of the root of its degrees of freedom.
    let both = f + g;
    let constant = (1.0 - 0.5 * both) * ln(2.0) - ln_gamma(0.5 * both);
    let density = |root: f64| exp(constant + (both - 1.0) * ln(root) - 0.5 * root * root);
    let (low, high) = ((both.sqrt() - 7.0).max(0.0), both.sqrt() + 7.0);
    let unit = gauss_legendre(NODES, 0.0, 1.0);
    let mut power = 0.0;
    for split in groups.splits() {
        let t = -student_t::quantile(alpha, split.df);
        let per_root = t * split.variance_per_sum.sqrt();
        // Beyond this root the tests leave no room between them.
        let end = (margin / per_root).min(high);
        if !(end > low) {
            continue;
        }
        let given: f64 = unit
            .iter()
            .map(|(at, weight)| {
                let root = low + (end - low) * at;
                let room = margin - per_root * root;
                let (up, down) = ((room - difference) / error, (-room - difference) / error);
                weight * density(root) * (normal::cumulative(up) - normal::cumulative(down))
            })
            .sum();
        power += split.weight * given * (end - low);
    }
    Ok(cannot_say::computed("the power", power)?.clamp(0.0, 1.0))
}

/// Smallest groups, the second `ratio` times as large as the first (rounded
/// up), that reach a power.
///
/// With a margin: the power to show equivalence; without: the power to see the
/// difference.
///
/// # Errors
/// As [`two_group_power`]; a ratio that is not positive; a power outside 0 to
/// 1; a difference of zero to be seen, or at or beyond the margin; more than
/// 100 000 units needed.
pub fn two_group_sample_size(
    standard_deviations: (f64, f64),
    ratio: f64,
    difference: f64,
    margin: Option<f64>,
    alpha: f64,
    power: f64,
) -> Result<TwoGroups, CannotSay> {
    cannot_say::open_probability("power", power)?;
    cannot_say::positive("the ratio of the groups", ratio)?;
    cannot_say::finite("the difference", difference)?;
    match margin {
        Some(margin) if difference.abs() >= margin => {
            return Err(CannotSay::not_determined(
                "the true difference lies at or beyond the margin",
                "No number of units shows equivalence then.",
            ));
        }
        None if difference == 0.0 => {
            return Err(CannotSay::not_determined(
                "a difference of zero cannot be seen",
                "Give the smallest difference that matters.",
            ));
        }
        _ => {}
    }
    let plan = |n: usize| TwoGroups {
        units: (n, ((n as f64 * ratio - 1e-9).ceil().max(2.0)) as usize),
        standard_deviations,
    };
    let enough = |n: usize| -> Result<bool, CannotSay> {
        let groups = plan(n);
        Ok(match margin {
            Some(margin) => two_group_equivalence_power(&groups, difference, margin, alpha)?,
            None => two_group_power(&groups, difference, alpha)?,
        } >= power)
    };
    let mut high = 2;
    while !enough(high)? {
        high *= 2;
        if high > MOST || plan(high).units.1 > MOST {
            return Err(CannotSay::not_determined(
                format!("more than {MOST} units in a group would be needed"),
                "Reduce the scatter or reconsider the difference.",
            ));
        }
    }
    let mut low = high / 2;
    while low + 1 < high {
        let middle = low + (high - low) / 2;
        if enough(middle)? {
            high = middle;
        } else {
            low = middle;
        }
    }
    Ok(plan(high))
}

impl Account for TwoGroups {
    fn method(&self) -> &'static str {
        "Welch's test of two groups, exact power by quadrature"
    }

    fn counted(&self) -> Counted {
        Counted::stated(format!(
            "{} and {} units planned, standard deviations {} and {} as stated",
            self.units.0, self.units.1, self.standard_deviations.0, self.standard_deviations.1
        ))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![Assumption::unchecked(
            "normal values in both groups",
            "Shapiro-Wilk",
            "a plan has no data; check the pilot from which the standard deviations come",
        )]
    }

    fn notes(&self) -> Vec<Note> {
        vec![Note::new(
            "plan-on-stated-figures",
            "The power holds for the standard deviations and the difference that were stated.",
            "Take the standard deviations from a pilot, at their upper bounds.",
        )]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;

    fn groups(n: usize, m: usize, a: f64, b: f64) -> TwoGroups {
        TwoGroups { units: (n, m), standard_deviations: (a, b) }
    }

    /// Share of simulated studies in which each test succeeds.
    fn simulated(plan: &TwoGroups, difference: f64, margin: f64, runs: u64) -> (f64, f64) {
        let (mut seen, mut shown) = (0, 0);
        for run in 0..runs {
            let mut stream = RandomStream::new(29, run);
            let mut of = |n: usize, mean: f64, sd: f64| {
                let values: Vec<f64> = (0..n).map(|_| mean + sd * stream.normal()).collect();
                let sd = digits::sums::standard_deviation(&values).unwrap();
                (digits::sums::mean(&values).unwrap(), sd * sd / n as f64)
            };
            let (x, u) = of(plan.units.0, difference, plan.standard_deviations.0);
            let (y, v) = of(plan.units.1, 0.0, plan.standard_deviations.1);
            let (f, g) = plan.degrees();
            let df = (u + v) * (u + v) / (u * u / f + v * v / g);
            let error = (u + v).sqrt();
            seen += u32::from((x - y).abs() > -student_t::quantile(0.025, df) * error);
            let room = margin + student_t::quantile(0.05, df) * error;
            shown += u32::from((x - y).abs() < room);
        }
        (f64::from(seen) / runs as f64, f64::from(shown) / runs as f64)
    }

    #[test]
    fn simulated_studies_succeed_as_often() {
        for (plan, difference, margin) in
            [(groups(6, 14, 1.0, 2.5), 1.5, 2.4), (groups(10, 4, 0.5, 1.5), 0.3, 2.0)]
        {
            let runs = 20_000;
            let (seen, shown) = simulated(&plan, difference, margin, runs);
            let power = two_group_power(&plan, difference, 0.05).unwrap();
            let equivalence = two_group_equivalence_power(&plan, difference, margin, 0.05).unwrap();
            // Four standard errors.
            assert!((power - seen).abs() < 0.0142, "{power} {seen}");
            assert!((equivalence - shown).abs() < 0.0142, "{equivalence} {shown}");
        }
    }

    #[test]
    fn equal_groups_come_near_the_pooled_test() {
        // Pooled test, n 17 each, effect 1: 0.8070 (Cohen's tables, from memory).
        let power = two_group_power(&groups(17, 17, 1.0, 1.0), 1.0, 0.05).unwrap();
        assert!((power - 0.807).abs() < 3e-3, "{power}");
        // Without a difference Welch's test errs near alpha, not at it.
        let error = two_group_power(&groups(5, 12, 2.0, 1.0), 0.0, 0.05).unwrap();
        assert!((error - 0.05).abs() < 0.01, "{error}");
    }

    #[test]
    fn size_undoes_power() {
        let plan = two_group_sample_size((1.0, 2.0), 2.0, 0.0, Some(1.0), 0.05, 0.9).unwrap();
        assert_eq!(plan.units.1, 2 * plan.units.0);
        assert!(two_group_equivalence_power(&plan, 0.0, 1.0, 0.05).unwrap() >= 0.9);
        let less = groups(plan.units.0 - 1, plan.units.1 - 2, 1.0, 2.0);
        assert!(two_group_equivalence_power(&less, 0.0, 1.0, 0.05).unwrap() < 0.9);
        let plan = two_group_sample_size((1.0, 1.0), 1.0, 1.0, None, 0.05, 0.8).unwrap();
        assert_eq!(plan.units, (17, 17));
        assert!(two_group_sample_size((1.0, 1.0), 1.0, 0.0, None, 0.05, 0.8).is_err());
        assert!(two_group_sample_size((1.0, 1.0), 1.0, 1.0, Some(1.0), 0.05, 0.8).is_err());
        assert!(two_group_sample_size((1.0, 1.0), 1.0, 1e-4, None, 0.05, 0.8).is_err());
        assert!(two_group_power(&groups(1, 5, 1.0, 1.0), 1.0, 0.05).is_err());
        assert!(two_group_power(&groups(5, 5, 0.0, 1.0), 1.0, 0.05).is_err());
        assert!(two_group_equivalence_power(&groups(5, 5, 1.0, 1.0), 0.0, 1.0, 0.6).is_err());
    }
}

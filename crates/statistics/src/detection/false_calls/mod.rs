//! Hit/miss curve that starts from a floor of false calls.
//!
//! `POD = f + (1 - f) G(intercept + slope x)`: a share `f` of units is called
//! leaking whatever they are. Blanks (size zero or less) carry `f` alone. The
//! size found "with probability 0.9" is that of `G`, the detection owed to the
//! leak; a hit by chance is no detection. Sources: D. J. Finney, Probit
//! Analysis (1971) for natural response; S. G. Self and K.-Y. Liang, J. Am.
//! Stat. Assoc. 82 (1987) 605 for the test of zero (from memory).

mod axis;
#[cfg(test)]
mod coverage;
mod scoring;
mod small_sample;

use self::axis::{Axis, axis};
use super::fit::HitMiss;
use super::link::Link;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{binomial, chi_squared, normal};
use crate::note::{Assumption, Note};
use digits::scalar::ln;

/// How the floor of false calls is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Floor {
    /// It is estimated from blanks and from the curve.
    Estimated,
    /// It is known: a share from 0 up to, but not, 1.
    Fixed(f64),
}

/// Test of a floor of zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ZeroFloor {
    /// Twice the difference of the log-likelihoods; `None` where a false call
    /// was seen on a blank, which no floor of zero allows.
    pub ratio: Option<f64>,
    /// Its probability without false calls. Zero is the boundary of the floor:
    /// half a chance of exactly zero, half a chi-squared of one degree.
    pub p_value: f64,
}

/// A curve above its floor.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct FalseCallFit {
    /// Share of false calls.
    pub floor: f64,
    /// Two-sided interval of the floor by profile likelihood; `None` where it
    /// was given.
    pub floor_interval: Option<(f64, f64)>,
    /// Test of a floor of zero; `None` where the floor was given.
    pub zero_floor: Option<ZeroFloor>,
    /// Link of the curve above the floor.
    pub link: Link,
    /// Whether the line runs in the natural logarithm of size.
    pub log_size: bool,
    /// Intercept of the line.
    pub intercept: f64,
    /// Slope of the line.
    pub slope: f64,
    /// Logarithm of the likelihood of the single trials, blanks included.
    pub log_likelihood: f64,
    /// Deviance against one share for each size, blanks included.
    pub deviance: f64,
    /// Degrees of freedom of the deviance.
    pub residual_df: usize,
    /// Size of which half are detected for their leak.
    pub a50: Option<f64>,
    /// Size of which nine in ten are detected for their leak.
    pub a90: Option<f64>,
    /// Its one-sided upper bound by profile likelihood, which is optimistic in
    /// small samples; see [`FalseCallFit::upper_bound_small_sample`].
    pub a90_95: Option<f64>,
    /// Size of which nine in ten are called leaking, false calls included.
    pub a90_with_false_calls: Option<f64>,
    /// Units with a leak.
    pub n_units: u64,
    /// Units of size zero or less, which carry the floor alone.
    pub blank_units: u64,
    /// Those of them that were called leaking.
    pub blank_hits: u64,
    /// Confidence of bound and interval.
    pub confidence: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Assumptions with their outcome.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
    /// How the floor was known.
    given: Floor,
    axis: Axis,
}

/// Fits the curve above a floor of false calls by maximum likelihood.
///
/// # Errors
/// More hits than units, sizes that are not finite, fewer than two sizes with
/// a leak, a floor that is no share or that the blanks exclude, hits above the
/// floor that are separated from the misses (no slope exists), and a floor that
/// the data do not determine: no blanks and no sizes too small to be seen.
pub fn fit_with_false_calls(
    data: &[HitMiss],
    link: Link,
    log_size: bool,
    floor: Floor,
    confidence: f64,
) -> Result<FalseCallFit, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    if let Floor::Fixed(share) = floor
        && !(0.0..1.0).contains(&share)
    {
        return Err(CannotSay::OutOfRange {
            what: "the floor of false calls".into(),
            value: share,
            allowed: "a share from 0 up to, but not, 1".into(),
        });
    }
    let axis = axis(data, link, log_size)?;
    let (blank_hits, blank_misses) = axis.blanks;
    let (share, line, value) = best(&axis, floor)?;
    if let Floor::Fixed(share) = floor
        && share == 0.0
        && blank_hits > 0.0
    {
        return Err(CannotSay::not_determined(
            "a blank was called leaking, which a floor of zero does not allow",
            "Estimate the floor, or give the share that is known.",
        ));
    }
    let (b0, b1) = (line[0], line[1]);
    let leap = axis.leap(matches!(floor, Floor::Fixed(_)).then_some(share));
    if leap >= value - 1e-7 {
        return Err(CannotSay::not_determined(
            "above the floor of false calls hits and misses are separated, so the curve has no \
             finite slope",
            "Test more units between the largest miss and the smallest sure hit.",
        ));
    }
    if !(b1 > 0.0) {
        return Err(CannotSay::not_determined(
            "above the floor of false calls the probability does not rise with size",
            "Check whether sizes or results were mixed up.",
        ));
    }
    let two_sided = normal::quantile(0.5 + 0.5 * confidence);
    let floor_interval = match floor {
        Floor::Fixed(_) => None,
        Floor::Estimated => {
            Some(interval(&axis, (share, &line), value, 0.5 * two_sided * two_sided)?)
        }
    };
    let zero_floor = matches!(floor, Floor::Estimated).then(|| zero(&axis, value)).transpose()?;
    let z = normal::quantile(confidence);
    let eta = link.line(0.9);
    let place = |eta: f64| axis.size(log_size, (eta - b0) / b1);
    let upper = (z > 0.0)
        .then(|| axis.upper(floor, ((eta - b0) / b1, b1, share), eta, value, 0.5 * z * z))
        .flatten()
        .and_then(|x| axis.size(log_size, x));
    let with_floor = (0.9 - share) / (1.0 - share);
    let deviance = (2.0 * (axis.saturated() - value)).max(0.0);
    let groups = axis.rows.len() + usize::from(blank_hits + blank_misses > 0.0);
    let free = if matches!(floor, Floor::Estimated) { 3 } else { 2 };
    let mut fit = FalseCallFit {
        floor: share,
        floor_interval,
        zero_floor,
        link,
        log_size,
        intercept: cannot_say::computed("the intercept", b0 - b1 * axis.centre / axis.scale)?,
        slope: cannot_say::computed("the slope", b1 / axis.scale)?,
        log_likelihood: value,
        deviance,
        residual_df: groups.saturating_sub(free),
        a50: place(link.line(0.5)),
        a90: place(eta),
        a90_95: upper,
        a90_with_false_calls: (with_floor > 0.0).then(|| place(link.line(with_floor))).flatten(),
        n_units: axis.rows.iter().map(|row| (row.hits + row.misses) as u64).sum(),
        blank_units: (blank_hits + blank_misses) as u64,
        blank_hits: blank_hits as u64,
        confidence,
        method: match floor {
            Floor::Estimated => {
                "maximum likelihood of a binomial curve above an estimated floor of false calls"
            }
            Floor::Fixed(_) => {
                "maximum likelihood of a binomial curve above a given floor of false calls"
            }
        },
        assumptions: Vec::new(),
        notes: Vec::new(),
        given: floor,
        axis,
    };
    fit.assumptions = fit.checks(groups);
    fit.notes = fit.remarks(data);
    Ok(fit)
}

fn best(axis: &Axis, floor: Floor) -> Result<(f64, Vec<f64>, f64), CannotSay> {
    match floor {
        Floor::Fixed(share) => axis.at_floor(share).map(|(line, value)| (share, line, value)),
        Floor::Estimated => axis.free(),
    }
    .ok_or_else(|| {
        CannotSay::not_determined(
            "the likelihood of the curve above a floor has no maximum that could be reached",
            "Add blanks, or give the floor of false calls that is known.",
        )
    })
}

/// Interval of the floor; refused where it says next to nothing.
fn interval(
    axis: &Axis,
    (share, line): (f64, &[f64]),
    maximum: f64,
    drop: f64,
) -> Result<(f64, f64), CannotSay> {
    let excess = |floor: f64| {
        axis.height_at_floor(floor, line).map_or(f64::INFINITY, |value| maximum - value - drop)
    };
    // No more than half of all units called leaking by chance: beyond that no
    // method is under discussion.
    let most = 0.5;
    if share >= most || excess(most) < 0.0 {
        return Err(CannotSay::not_determined(
            "the floor of false calls is not determined by these units: it may lie anywhere up to \
             a half and beyond",
            "Test blanks, or units far too small to be seen, or give the floor that is known.",
        ));
    }
    let upper = digits::roots::between(share, most, 1e-7, excess).unwrap_or(most);
    let lower = if share <= 0.0 || excess(0.0) < 0.0 {
        0.0
    } else {
        digits::roots::between(1e-12, share, 1e-7, excess).unwrap_or(0.0)
    };
    Ok((lower, upper))
}

fn zero(axis: &Axis, value: f64) -> Result<ZeroFloor, CannotSay> {
    if axis.blanks.0 > 0.0 {
        return Ok(ZeroFloor { ratio: None, p_value: 0.0 });
    }
    // Where hits and misses are separated without a floor, its likelihood is
    // the one that a leap reaches.
    let without = axis.at_floor(0.0).map_or(f64::NEG_INFINITY, |found| found.1);
    let without = without.max(axis.leap(Some(0.0)));
    let ratio = cannot_say::computed("the likelihood ratio", (2.0 * (value - without)).max(0.0))?;
    let p_value = if ratio > 1e-9 { 0.5 * chi_squared::survival(ratio, 1.0) } else { 1.0 };
    Ok(ZeroFloor { ratio: Some(ratio), p_value })
}

impl FalseCallFit {
    /// Probability that a unit of this size is called leaking, false calls
    /// included.
    #[must_use]
    pub fn probability(&self, size: f64) -> Option<f64> {
        if size <= 0.0 {
            return Some(self.floor);
        }
        let x = if self.log_size { ln(size) } else { size };
        let eta = self.intercept + self.slope * x;
        eta.is_finite().then(|| self.floor + (1.0 - self.floor) * self.link.probability(eta))
    }

    fn checks(&self, groups: usize) -> Vec<Assumption> {
        let units = self.n_units + self.blank_units;
        let per_group = units as f64 / groups as f64;
        let (name, test) = ("the curve fits", "deviance against one share for each size");
        let mut list = vec![if self.residual_df == 0 || per_group < 5.0 {
            let reason =
                format!("{per_group:.1} units for each of {groups} sizes are too few to judge it");
            Assumption::unchecked(name, test, reason)
        } else {
            let p = chi_squared::survival(self.deviance, self.residual_df as f64);
            let finding = format!(
                "Deviance {:.3} on {} degrees of freedom, p = {p:.4}.",
                self.deviance, self.residual_df
            );
            Assumption::tested(name, test, p, 0.05, finding)
        }];
        if self.zero_floor.is_none() && self.blank_units > 0 {
            // Exact, two-sided by doubling.
            let (k, n, f) = (self.blank_hits, self.blank_units, self.floor);
            let above = if k == 0 { 1.0 } else { binomial::survival(k - 1, n, f) };
            let p = (2.0 * binomial::cumulative(k, n, f).min(above)).min(1.0);
            list.push(Assumption::tested(
                "blanks agree with the floor given",
                "exact binomial",
                p,
                0.05,
                format!("{k} of {n} blanks were called leaking, p = {p:.4}."),
            ));
        }
        list.push(Assumption::unchecked(
            "units independent of each other",
            "from the plan",
            "numbers do not show it; state how the units were drawn",
        ));
        list
    }

    fn remarks(&self, data: &[HitMiss]) -> Vec<Note> {
        let mut notes = vec![Note::new(
            "detection-without-false-calls",
            "a50, a90 and a90/95 speak of detection owed to the leak; hits by chance are taken off.",
            "Give the floor beside them.",
        )];
        if self.zero_floor.is_some_and(|zero| zero.p_value >= 0.05) {
            notes.push(Note::new(
                "floor-not-needed",
                "The data do not ask for a floor of false calls.",
                "A curve without one needs fewer units; report the bound of the false-call share.",
            ));
        }
        if self.blank_units == 0 {
            notes.push(Note::new(
                "no-blanks",
                "No blank was tested: the floor rests on the smallest leaks alone.",
                "Test blanks.",
            ));
        }
        if self.n_units < 120 {
            notes.push(Note::new(
                "bound-optimistic",
                format!(
                    "With {} units the likelihood-ratio bound really covers 0.89 to 0.94 where \
                     0.95 is stated.",
                    self.n_units
                ),
                "Quote the simulated small-sample bound instead.",
            ));
        }
        if self.a90_95.is_none() {
            notes.push(Note::new(
                "no-upper-bound",
                "The data allow a curve so flat that the upper bound does not exist.",
                "Add units above the largest miss and below the smallest hit.",
            ));
        }
        let largest = data.iter().map(|row| row.size).fold(0.0, f64::max);
        if self.a90_95.or(self.a90).is_some_and(|size| size > largest) {
            notes.push(Note::new(
                "extrapolated",
                format!("a90 or its bound lies above the largest size tested ({largest})."),
                "Test larger defects, or claim only the exact bound of a size tested.",
            ));
        }
        notes
    }
}

impl Account for FalseCallFit {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(
            self.n_units as usize,
            format!("units with a leak ({} blanks)", self.blank_units),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::detection::fit_hit_miss;

    fn row(size: f64, hits: u64, of: u64) -> HitMiss {
        HitMiss { size, hits, of }
    }

    /// Floor 0.1 on a logit curve, counts near their expectation.
    fn floored() -> Vec<HitMiss> {
        [(0.0, 4), (1.0, 5), (2.0, 9), (3.0, 18), (4.0, 31), (5.0, 37), (6.0, 39)]
            .map(|(size, hits)| row(size, hits, 40))
            .to_vec()
    }

    #[test]
    fn a_floor_is_found_and_the_plain_curve_is_misled() {
        let data = floored();
        let fit = fit_with_false_calls(&data, Link::Logit, false, Floor::Estimated, 0.95).unwrap();
        assert!((fit.floor - 0.1).abs() < 0.03, "{fit:?}");
        let (low, high) = fit.floor_interval.unwrap();
        assert!(low > 0.0 && low < fit.floor && high > fit.floor && high < 0.25);
        assert_eq!(fit.zero_floor.unwrap().ratio, None);
        assert!(fit.a90.unwrap() > fit.a90_with_false_calls.unwrap());
        assert!(fit.a90_95.unwrap() > fit.a90.unwrap());
        // Taken for detection, the false calls flatten the curve.
        let plain = fit_hit_miss(&data[1..], Link::Logit, false, 0.95).unwrap();
        assert!(plain.slope.unwrap() < 0.9 * fit.slope);
        // Without blanks the smallest leaks still show it.
        let fit =
            fit_with_false_calls(&data[1..], Link::Logit, false, Floor::Estimated, 0.95).unwrap();
        let zero = fit.zero_floor.unwrap();
        assert!(zero.p_value < 0.5 && zero.ratio.unwrap() > 0.0, "{zero:?}");
    }

    #[test]
    fn a_floor_of_zero_is_the_plain_curve() {
        let data =
            [row(0.0, 0, 30), row(1.0, 1, 20), row(2.0, 6, 20), row(3.0, 15, 20), row(4.0, 19, 20)];
        let plain = fit_hit_miss(&data[1..], Link::Probit, true, 0.95).unwrap();
        let fixed =
            fit_with_false_calls(&data, Link::Probit, true, Floor::Fixed(0.0), 0.95).unwrap();
        assert!((fixed.slope - plain.slope.unwrap()).abs() < 1e-6);
        assert!((fixed.a90_95.unwrap() - plain.a90_95.unwrap()).abs() < 1e-5);
        let free = fit_with_false_calls(&data, Link::Probit, true, Floor::Estimated, 0.95).unwrap();
        assert!(free.floor < 0.02, "{}", free.floor);
        assert!(free.zero_floor.unwrap().p_value > 0.2);
        assert!(free.notes.iter().any(|note| note.code == "floor-not-needed"));
    }

    #[test]
    fn refusals() {
        let ask =
            |data: &[HitMiss], floor| fit_with_false_calls(data, Link::Logit, true, floor, 0.95);
        // Two sizes without blanks determine no floor.
        let two = [row(2.0, 5, 20), row(4.0, 15, 20)];
        assert!(ask(&two, Floor::Estimated).is_err());
        // A leap from the floor to one has no slope.
        let leap = [row(0.0, 3, 30), row(1.0, 2, 20), row(2.0, 20, 20), row(3.0, 20, 20)];
        let refusal = ask(&leap, Floor::Estimated).unwrap_err();
        assert!(refusal.to_string().contains("separated"), "{refusal}");
        assert!(ask(&floored(), Floor::Fixed(1.0)).is_err());
        assert!(ask(&floored(), Floor::Fixed(0.0)).is_err());
        assert!(ask(&[row(1.0, 3, 2)], Floor::Estimated).is_err());
        let falling = [row(1.0, 18, 20), row(2.0, 10, 20), row(3.0, 4, 20)];
        assert!(ask(&falling, Floor::Fixed(0.02)).is_err());
    }
}

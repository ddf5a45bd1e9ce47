//! Fit of a detection curve to hits and misses, with its refusals.

use super::curve::{Fitted, Kept, penalised_bound};
use super::firth::{self, PenalisedFit};
use super::likelihood::{self, Row};
use super::link::Link;
use super::separation::{Extremes, Separation};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{chi_squared, normal};
use crate::note::{Assumption, Note};
use digits::scalar::ln;

/// Units per size from which on the deviance can be judged.
const UNITS_PER_SIZE: f64 = 5.0;

/// Units of one size, and how many of them were found.
#[derive(Debug, Clone, PartialEq)]
pub struct HitMiss {
    /// Size of the defect; zero for a blank.
    pub size: f64,
    /// Number found.
    pub hits: u64,
    /// Number tested.
    pub of: u64,
}

/// A detection curve, or the reason why there is none.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct HitMissFit {
    /// Separation of hits and misses by size.
    pub separation: Separation,
    /// Link of the curve.
    pub link: Link,
    /// Whether the line runs in the natural logarithm of size.
    pub log_size: bool,
    /// Intercept of the line; `None` where no fit exists.
    pub intercept: Option<f64>,
    /// Slope of the line.
    pub slope: Option<f64>,
    /// Standard errors of intercept and slope, from the expected information.
    pub standard_errors: Option<(f64, f64)>,
    /// Deviance against one share per size.
    pub deviance: Option<f64>,
    /// Logarithm of the likelihood of the single trials.
    pub log_likelihood: Option<f64>,
    /// Degrees of freedom of the deviance.
    pub residual_df: usize,
    /// Size found with probability one half.
    pub a50: Option<f64>,
    /// Size found with probability 0.9.
    pub a90: Option<f64>,
    /// One-sided upper bound of `a90` at the confidence asked for.
    pub a90_95: Option<f64>,
    /// Name of the method of that bound.
    pub a90_95_method: &'static str,
    /// The same bound by the delta method on the line's axis (Wald), which is
    /// optimistic in small samples; for comparison only.
    pub a90_95_wald: Option<f64>,
    /// Penalised curve, given where hits and misses are separated and no
    /// maximum-likelihood curve exists. Never a substitute for more units.
    pub penalised: Option<PenalisedFit>,
    /// Largest missed size and smallest hit size, where both exist.
    pub bracket: Option<(f64, f64)>,
    /// Number of units on the curve.
    pub n_units: u64,
    /// Number of units of size zero or less, left out of a curve in log size.
    pub blank_units: u64,
    /// Number of those reported as found.
    pub blank_hits: u64,
    /// Confidence of the bounds.
    pub confidence: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
    /// Rows, line and scale of the fit, kept for bounds at other sizes.
    pub(crate) kept: Option<Kept>,
}

impl Account for HitMissFit {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(
            self.n_units as f64,
            match self.blank_units {
                0 => "units".to_owned(),
                blanks => format!("units on the curve; {blanks} blanks stand beside it"),
            },
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let fits = ("the curve fits", "deviance against one share for each size");
        let per_size = self.n_units as f64 / (self.residual_df + 2) as f64;
        let deviance = match self.deviance {
            None => Assumption::unchecked(fits.0, fits.1, "there is no curve"),
            Some(_) if per_size < UNITS_PER_SIZE => Assumption::unchecked(
                fits.0,
                fits.1,
                format!("{per_size:.1} units for each size are too few to judge a deviance"),
            ),
            Some(_) if self.residual_df == 0 => {
                Assumption::unchecked(fits.0, fits.1, "there are two sizes only")
            }
            Some(deviance) => {
                let p = chi_squared::survival(deviance, self.residual_df as f64);
                Assumption::tested(
                    fits.0,
                    fits.1,
                    p,
                    0.05,
                    format!(
                        "Deviance {deviance:.3} on {} degrees of freedom, p = {p:.4}.",
                        self.residual_df
                    ),
                )
            }
        };
        vec![
            deviance,
            Assumption::looked_at(
                "hits and misses overlap",
                "separation, exact",
                self.separation == Separation::None,
                format!("Separation: {}.", self.separation.word()),
            ),
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Fits a detection curve by maximum likelihood.
///
/// `g(POD) = intercept + slope x`, with `x` the size or its logarithm and `g`
/// the link. The bound of `a90` is by the profile likelihood: all sizes whose
/// pinned curve loses less than half the chi-squared quantile. Under
/// separation no curve is given, only the bracket. Sources: MIL-HDBK-1823A;
/// ASTM E2862 (from memory); A. Albert and J. A. Anderson, Biometrika 71
/// (1984) 1 for separation.
///
/// # Errors
/// No units, more hits than units, sizes that are not finite, fewer than two
/// sizes on the curve, or a confidence outside 0 to 1.
pub fn fit_hit_miss(
    data: &[HitMiss],
    link: Link,
    log_size: bool,
    confidence: f64,
) -> Result<HitMissFit, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    for row in data {
        cannot_say::finite("a size", row.size)?;
        if row.hits > row.of {
            return Err(CannotSay::OutOfRange {
                what: format!("the number of hits at size {}", row.size),
                value: row.hits as f64,
                allowed: format!("a whole number from 0 to {}", row.of),
            });
        }
    }
    let mut notes = Vec::new();
    let blank = |row: &&HitMiss| log_size && row.size <= 0.0;
    let blank_units: u64 = data.iter().filter(blank).map(|row| row.of).sum();
    let blank_hits: u64 = data.iter().filter(blank).map(|row| row.hits).sum();
    if blank_units > 0 {
        let upper = crate::proportions::exact_upper(blank_hits, blank_units, 1.0 - confidence);
        notes.push(Note::new(
            "blanks",
            format!(
                "{blank_units} units have size zero or less and stand outside a curve in log \
                 size; {blank_hits} of them were reported as found, so the false-call rate is at \
                 most {upper:.4} at the stated confidence."
            ),
            "Report the false-call rate beside the curve; if it is not near zero, fit a curve \
             with a false-call floor.",
        ));
    }
    let mut sizes: Vec<(f64, u64, u64)> = Vec::new();
    let mut ordered: Vec<&HitMiss> = data.iter().filter(|row| !blank(row) && row.of > 0).collect();
    ordered.sort_by(|a, b| a.size.total_cmp(&b.size));
    for row in ordered {
        match sizes.last_mut() {
            Some(last) if last.0 == row.size => {
                last.1 += row.hits;
                last.2 += row.of - row.hits;
            }
            _ => sizes.push((row.size, row.hits, row.of - row.hits)),
        }
    }
    cannot_say::at_least("different sizes above zero", 2, sizes.len())?;
    let n_units: u64 = sizes.iter().map(|(_, hits, misses)| hits + misses).sum();
    if n_units < 60 {
        notes.push(Note::new(
            "few-units",
            format!("{n_units} units; 60 are recommended for a hit/miss curve (MIL-HDBK-1823A)."),
            "Add units between the smallest hit and the largest miss.",
        ));
    }
    let extremes = Extremes::of(sizes.iter().copied());
    let separation = extremes.separation();
    let bracket = extremes.largest_miss.zip(extremes.smallest_hit);
    let mut result = HitMissFit {
        separation,
        link,
        log_size,
        intercept: None,
        slope: None,
        standard_errors: None,
        deviance: None,
        log_likelihood: None,
        residual_df: sizes.len() - 2,
        a50: None,
        a90: None,
        a90_95: None,
        a90_95_method: "none: no curve was fitted",
        a90_95_wald: None,
        penalised: None,
        bracket,
        n_units,
        blank_units,
        blank_hits,
        confidence,
        method: "maximum likelihood of a binomial curve",
        notes,
        kept: None,
    };
    let kept = axis_of(&sizes, log_size)?;
    if separation == Separation::None {
        fit_overlapping(&mut result, &sizes, kept)?;
    } else {
        result.notes.push(separation_note(separation, &extremes));
        if extremes.largest_miss.is_some() && extremes.smallest_hit.is_some() {
            result.penalised = penalised_fit(&kept, link, log_size, confidence);
        }
        result.kept = Some(kept);
    }
    Ok(result)
}

/// Rows on an axis shifted and scaled to run from -1 to 1, so that the Newton
/// steps see numbers near one.
fn axis_of(sizes: &[(f64, u64, u64)], log_size: bool) -> Result<Kept, CannotSay> {
    let axis = |size: f64| if log_size { ln(size) } else { size };
    let (low, high) = (axis(sizes[0].0), axis(sizes[sizes.len() - 1].0));
    let centre = 0.5 * low + 0.5 * high;
    let scale = cannot_say::computed("the range of sizes", 0.5 * high - 0.5 * low)?;
    if !(scale > 0.0) {
        return Err(CannotSay::NoSpread { what: "the sizes".into() });
    }
    let rows = sizes
        .iter()
        .map(|(size, hits, misses)| Row {
            x: (axis(*size) - centre) / scale,
            hits: *hits as f64,
            misses: *misses as f64,
        })
        .collect();
    Ok(Kept { rows, centre, scale, fitted: None })
}

fn penalised_fit(kept: &Kept, link: Link, log_size: bool, confidence: f64) -> Option<PenalisedFit> {
    let (b0, b1) = firth::maximise(&kept.rows, link)?;
    let [i00, i01, i11] = likelihood::information(&kept.rows, link, b0, b1);
    let determinant = i00 * i11 - i01 * i01;
    let (v0, v01, v1) = (i11 / determinant, -i01 / determinant, i00 / determinant);
    let shift = kept.centre / kept.scale;
    let v_intercept = v0 - 2.0 * shift * v01 + shift * shift * v1;
    let at = |p: f64| (b1 > 0.0).then(|| kept.size(log_size, (link.line(p) - b0) / b1)).flatten();
    let bound = penalised_bound(kept, link, (b0, b1), link.line(0.9), normal::quantile(confidence));
    let fit = PenalisedFit {
        intercept: b0 - b1 * shift,
        slope: b1 / kept.scale,
        standard_errors: (v_intercept.max(0.0).sqrt(), v1.sqrt() / kept.scale),
        a50: at(0.5),
        a90: at(0.9),
        a90_95: bound.and_then(|x| kept.size(log_size, x)),
        n_units: kept.rows.iter().map(|row| row.hits + row.misses).sum::<f64>() as u64,
        method: match link {
            Link::Logit => "penalised likelihood (Firth); no maximum-likelihood curve exists",
            _ => "penalised likelihood (Jeffreys prior); no maximum-likelihood curve exists",
        },
    };
    let finite = [fit.intercept, fit.slope, fit.standard_errors.0, fit.standard_errors.1];
    finite.iter().all(|value| value.is_finite()).then_some(fit)
}

fn separation_note(separation: Separation, extremes: &Extremes) -> Note {
    let next = "Test more units between the largest miss and the smallest hit; until then claim \
                only the exact bound per size.";
    match (extremes.largest_miss, extremes.smallest_hit) {
        (None, _) => Note::new(
            "only-hits",
            "Every unit was found, so the data bound the curve from one side only; no size with a \
             probability of 0.9 can be estimated.",
            "Test smaller defects until some are missed, or claim only the exact bound per size.",
        ),
        (_, None) => Note::new(
            "only-misses",
            "No unit was found, so the data bound the curve from one side only.",
            "Test larger defects.",
        ),
        (Some(miss), Some(hit)) => Note::new(
            "separated",
            format!(
                "Hits and misses are separated ({}): largest miss {miss}, smallest hit {hit}. The \
                 curve between them has no finite slope, so no curve is given.",
                separation.word()
            ),
            next,
        ),
    }
}

fn fit_overlapping(
    result: &mut HitMissFit,
    sizes: &[(f64, u64, u64)],
    mut kept: Kept,
) -> Result<(), CannotSay> {
    let (centre, scale) = (kept.centre, kept.scale);
    let (b0, b1, best) = likelihood::maximise(&kept.rows, result.link).ok_or_else(|| {
        CannotSay::not_determined(
            "the likelihood of the curve has no maximum that double arithmetic can reach",
            "Test more units where hits and misses overlap.",
        )
    })?;
    let [i00, i01, i11] = likelihood::information(&kept.rows, result.link, b0, b1);
    let determinant = i00 * i11 - i01 * i01;
    let (v0, v01, v1) = (i11 / determinant, -i01 / determinant, i00 / determinant);
    // Back to the axis: intercept' = b0 - b1 centre / scale.
    let shift = centre / scale;
    let v_intercept = v0 - 2.0 * shift * v01 + shift * shift * v1;
    result.intercept = Some(cannot_say::computed("the intercept", b0 - b1 * shift)?);
    result.slope = Some(cannot_say::computed("the slope", b1 / scale)?);
    result.standard_errors = Some((
        cannot_say::computed("a standard error", v_intercept.max(0.0).sqrt())?,
        cannot_say::computed("a standard error", v1.sqrt() / scale)?,
    ));
    let deviance = (2.0 * (likelihood::saturated(&kept.rows) - best.value)).max(0.0);
    result.deviance = Some(deviance);
    result.log_likelihood = Some(best.value);
    kept.fitted = Some(Fitted { line: (b0, b1), maximum: best.value, covariance: (v0, v01, v1) });
    fit_notes(result, &kept.rows, deviance);
    if !(b1 > 0.0) {
        result.notes.push(Note::new(
            "falling-curve",
            "The fitted probability does not rise with size, so no size is found with \
             probability 0.9.",
            "Check whether sizes or results were mixed up.",
        ));
        result.a90_95_method = "none: the curve does not rise";
        result.kept = Some(kept);
        return Ok(());
    }
    result.kept = Some(kept);
    result.a50 = result.size_at(0.5);
    result.a90 = result.size_at(0.9);
    result.a90_95_wald = result.upper_bound_wald(0.9);
    result.a90_95 = result.upper_bound(0.9);
    result.a90_95_method = "profile likelihood, one-sided";
    if result.n_units < 120 {
        result.notes.push(Note::new(
            "bound-optimistic",
            format!(
                "With {} units the likelihood-ratio bound really covers 0.92 to 0.93 where 0.95 is \
                 stated.",
                result.n_units
            ),
            "Quote the simulated small-sample bound.",
        ));
    }
    if result.a90_95.is_none() {
        result.a90_95_method = "none: the profile likelihood is open to large sizes";
        result.notes.push(Note::new(
            "no-upper-bound",
            "The data allow a curve so flat that no size is sure to be found with probability \
             0.9: the upper bound does not exist.",
            "Add units above the largest miss and below the smallest hit.",
        ));
    }
    for (name, value) in [("a90", result.a90), ("the bound of a90", result.a90_95)] {
        let (smallest, largest) = (sizes[0].0, sizes[sizes.len() - 1].0);
        if let Some(size) = value.filter(|size| *size > largest || *size < smallest) {
            result.notes.push(Note::new(
                "extrapolated",
                format!(
                    "{name} is {size:.6}, outside the sizes tested ({smallest} to {largest}); it \
                     rests on the shape of the curve alone."
                ),
                "Test units of that size.",
            ));
        }
    }
    Ok(())
}

fn fit_notes(result: &mut HitMissFit, rows: &[Row], deviance: f64) {
    let units = result.n_units as f64;
    let grouped = units / rows.len() as f64 >= UNITS_PER_SIZE;
    if result.residual_df > 0 && grouped {
        let p = chi_squared::survival(deviance, result.residual_df as f64);
        if p < 0.05 {
            result.notes.push(Note::new(
                "lack-of-fit",
                format!(
                    "The curve does not fit: deviance {deviance:.2} on {} degrees of freedom (p \
                     {p:.4}).",
                    result.residual_df
                ),
                "Try another link or the other size scale; look for units that are not \
                 independent.",
            ));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(size: f64, hits: u64, of: u64) -> HitMiss {
        HitMiss { size, hits, of }
    }

    #[test]
    fn two_sizes_pass_through_their_shares() {
        // 1 of 4 and 3 of 4: logits -ln 3 and ln 3, so slope ln 3 at unit
        // distance 2.
        let fit =
            fit_hit_miss(&[row(1.0, 1, 4), row(3.0, 3, 4)], Link::Logit, false, 0.95).unwrap();
        assert!((fit.slope.unwrap() - ln(3.0)).abs() < 1e-12);
        assert!((fit.a50.unwrap() - 2.0).abs() < 1e-12);
        assert!(fit.deviance.unwrap() < 1e-12);
        assert!((fit.probability(3.0).unwrap() - 0.75).abs() < 1e-12);
        assert!(fit.lower_bound(3.0).unwrap() < 0.75);
    }

    #[test]
    fn separation_gives_a_bracket_and_no_number() {
        let fit = fit_hit_miss(&[row(1.0, 0, 4), row(3.0, 4, 4)], Link::Logit, true, 0.95).unwrap();
        assert_eq!(fit.separation, Separation::Complete);
        assert_eq!(fit.bracket, Some((1.0, 3.0)));
        assert!(fit.slope.is_none() && fit.a90_95.is_none() && fit.probability(2.0).is_none());
        assert!(fit.notes.iter().any(|note| note.code == "separated"));
    }

    #[test]
    fn blanks_are_counted() {
        let data = [row(0.0, 1, 10), row(1.0, 1, 4), row(3.0, 3, 4)];
        let fit = fit_hit_miss(&data, Link::Logit, true, 0.95).unwrap();
        assert_eq!((fit.blank_units, fit.blank_hits, fit.n_units), (10, 1, 8));
        assert!(fit.notes.iter().any(|note| note.code == "blanks"));
    }

    #[test]
    fn refusals() {
        assert!(fit_hit_miss(&[], Link::Logit, true, 0.95).is_err());
        assert!(fit_hit_miss(&[row(1.0, 2, 1)], Link::Logit, true, 0.95).is_err());
        assert!(fit_hit_miss(&[row(f64::NAN, 0, 1)], Link::Logit, true, 0.95).is_err());
        let falling = [row(1.0, 3, 4), row(2.0, 1, 4)];
        let fit = fit_hit_miss(&falling, Link::Probit, false, 0.95).unwrap();
        assert!(fit.a90.is_none() && fit.notes.iter().any(|n| n.code == "falling-curve"));
    }
}

//! Precision between laboratories: repeatability and reproducibility.
//!
//! Sources: ASTM E691 and ISO 5725-2:2019 (definitions from memory). E691
//! multiplies by 2.8, not by 1.96 times the root of 2.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::{f, student_t};
use crate::note::{Assumption, Note};
use crate::summaries::{GroupSummary, check};
use digits::sums;

/// Repeatability and reproducibility of one material.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Precision {
    /// Mean of the laboratory means.
    pub grand_mean: f64,
    /// Standard deviation of the laboratory means.
    pub sd_of_averages: f64,
    /// Standard deviation within a laboratory, `s_r`.
    pub repeatability_sd: f64,
    /// Standard deviation between single results of different laboratories,
    /// `s_R`, never below `s_r`.
    pub reproducibility_sd: f64,
    /// `s_R` before it was raised to `s_r`, where it was.
    pub raw_reproducibility_sd: f64,
    /// Repeatability limit `r = 2.8 s_r`.
    pub r_limit: f64,
    /// Reproducibility limit `R = 2.8 s_R`.
    pub reproducibility_limit: f64,
    /// Consistency between laboratories, `h`, one for each.
    pub h: Vec<f64>,
    /// Consistency within laboratories, `k`, one for each.
    pub k: Vec<f64>,
    /// Number of laboratories.
    pub laboratories: usize,
    /// Number of replicates used in `s_R`.
    pub replicates: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Precision {
    fn values_each(&self) -> String {
        let rounded = self.replicates.round();
        if (self.replicates - rounded).abs() < 1e-9 {
            format!("{rounded}")
        } else {
            format!("{:.2} in the mean", self.replicates)
        }
    }
}

impl Account for Precision {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.laboratories, format!("laboratories ({} values each)", self.values_each()))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let apart = |values: &[f64], critical: Option<f64>, name, letter: &'static str| {
            let largest = values.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
            match critical {
                Some(critical) => Assumption::looked_at(
                    name,
                    letter,
                    largest <= critical,
                    format!("Largest {letter} {largest:.2}, critical {critical:.2} (0.5 %)."),
                ),
                None => Assumption::unchecked(name, letter, "too few laboratories or replicates"),
            }
        };
        vec![
            apart(
                &self.h,
                critical_h(self.laboratories),
                "laboratories alike in their averages",
                "h",
            ),
            apart(
                &self.k,
                critical_k(self.laboratories, self.replicates),
                "laboratories alike in their scatter",
                "k",
            ),
            Assumption::unchecked(
                "laboratories drawn from those to come",
                "from the plan",
                "figures do not show it; state how they were chosen",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Significance of the critical values of h and k in ASTM E691.
const SIGNIFICANCE: f64 = 0.005;

/// Critical h of so many laboratories, `(p - 1) t / sqrt(p (t^2 + p - 2))`;
/// `None` below three. Source: ASTM E691 (from memory).
#[must_use]
pub fn critical_h(laboratories: usize) -> Option<f64> {
    let p = laboratories as f64;
    if laboratories < 3 {
        return None;
    }
    let t = student_t::quantile(1.0 - 0.5 * SIGNIFICANCE, p - 2.0);
    Some((p - 1.0) * t / (p * (t * t + p - 2.0)).sqrt())
}

/// Critical k of so many laboratories with `replicates` values each,
/// `sqrt(p / (1 + (p - 1)/F))`; `None` below two of either. Source: ASTM E691
/// (from memory).
#[must_use]
pub fn critical_k(laboratories: usize, replicates: f64) -> Option<f64> {
    let (p, df) = (laboratories as f64, replicates - 1.0);
    // Beyond that many replicates the figure no longer changes.
    let df = df.min(1e6);
    if laboratories < 2 || !(df >= 1.0) {
        return None;
    }
    let ratio = f::quantile(1.0 - SIGNIFICANCE, df, (p - 1.0) * df);
    Some((p / (1.0 + (p - 1.0) / ratio)).sqrt())
}

/// Factor of E691 between a standard deviation and a 95 % limit.
const LIMIT_FACTOR: f64 = 2.8;

/// Precision from a mean, a standard deviation and a number per laboratory.
///
/// `s_r^2` is the mean of the variances (weighted by degrees of freedom where
/// the numbers differ); `s_R^2 = s_x^2 + s_r^2 (n - 1)/n`, with `s_x` the
/// standard deviation of the averages; `s_R` is at least `s_r`. `replicates`
/// overrides the number `n` in that formula, for tables in which a single
/// result is the mean of other than `n` readings; a note names it.
///
/// # Errors
/// Fewer than two laboratories, fewer than two values in one, a figure that
/// is not finite, or no spread within any laboratory.
pub fn from_summaries(
    groups: &[GroupSummary],
    replicates: Option<usize>,
) -> Result<Precision, CannotSay> {
    cannot_say::at_least("laboratories", 2, groups.len())?;
    check(groups, 2)?;
    if let Some(given) = replicates {
        cannot_say::at_least("replicates", 1, given)?;
    }
    let p = groups.len() as f64;
    let means: Vec<f64> = groups.iter().map(|g| g.mean).collect();
    let too_few =
        || CannotSay::TooFew { what: "laboratories".into(), needed: 2, got: groups.len() };
    let grand_mean =
        cannot_say::computed("the grand mean", sums::mean(&means).ok_or_else(too_few)?)?;
    let sd_of_averages = cannot_say::computed(
        "the deviation of averages",
        sums::standard_deviation(&means).ok_or_else(too_few)?,
    )?;
    let df = sums::sum(groups.iter().map(|g| g.n as f64 - 1.0));
    let variance = sums::sum(
        groups
            .iter()
            .map(|g| (g.n as f64 - 1.0) / df * g.standard_deviation * g.standard_deviation),
    );
    let repeatability_sd = cannot_say::computed("the repeatability variance", variance)?.sqrt();
    if repeatability_sd == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values within the laboratories".into() });
    }
    let balanced = groups.iter().all(|g| g.n == groups[0].n);
    let mut notes = Vec::new();
    // With unequal numbers, ISO 5725-2 replaces n by this mean number.
    let total = sums::sum(groups.iter().map(|g| g.n as f64));
    let squares = sums::sum(groups.iter().map(|g| g.n as f64 * g.n as f64));
    let mean_number =
        if balanced { groups[0].n as f64 } else { (total - squares / total) / (p - 1.0) };
    let used = replicates.map_or(mean_number, |given| given as f64);
    if !balanced {
        notes.push(Note::new(
            "unequal-numbers",
            format!(
                "The laboratories have unequal numbers of values; {mean_number:.3} is used for n."
            ),
            "E691 asks for equal numbers; the result follows ISO 5725-2.",
        ));
    }
    if let Some(given) = replicates {
        notes.push(Note::new(
            "replicates-given",
            format!(
                "The reproducibility uses {given} replicates as given, not the {} values per \
                 laboratory in the table.",
                groups[0].n
            ),
            "State which number of readings makes one test result; the reproducibility depends \
             on it.",
        ));
    }
    let raw = (sd_of_averages * sd_of_averages
        + repeatability_sd * repeatability_sd * (used - 1.0) / used)
        .sqrt();
    let reproducibility_sd = raw.max(repeatability_sd);
    if raw < repeatability_sd {
        notes.push(Note::new(
            "negative-between-laboratory-variance",
            format!(
                "The averages scatter less than repeatability alone would make them: the \
                 between-laboratory variance is negative as estimated ({:.4}); s_R is set to s_r.",
                sd_of_averages * sd_of_averages - repeatability_sd * repeatability_sd / used
            ),
            "Report s_R = s_r; do not report a component of zero as if it had been measured.",
        ));
    }
    if groups.len() < 6 {
        notes.push(Note::new(
            "few-laboratories",
            format!(
                "{} laboratories leave {} degrees of freedom for the spread between them; E691 \
                 asks for at least 6.",
                groups.len(),
                groups.len() - 1
            ),
            "Quote the reproducibility as an indication, with its interval, or add laboratories.",
        ));
    }
    let h: Vec<f64> = if sd_of_averages > 0.0 {
        means.iter().map(|mean| (mean - grand_mean) / sd_of_averages).collect()
    } else {
        vec![0.0; groups.len()]
    };
    let k: Vec<f64> = groups.iter().map(|g| g.standard_deviation / repeatability_sd).collect();
    Ok(Precision {
        grand_mean,
        sd_of_averages,
        repeatability_sd,
        reproducibility_sd,
        raw_reproducibility_sd: raw,
        r_limit: LIMIT_FACTOR * repeatability_sd,
        reproducibility_limit: cannot_say::computed(
            "the reproducibility limit",
            LIMIT_FACTOR * reproducibility_sd,
        )?,
        h,
        k,
        laboratories: groups.len(),
        replicates: used,
        method: if balanced {
            "interlaboratory precision by ASTM E691"
        } else {
            "interlaboratory precision by ISO 5725-2, unequal numbers"
        },
        notes,
    })
}

/// Precision from single values per laboratory.
///
/// # Errors
/// As [`from_summaries`]; a value that is not finite.
pub fn from_values(groups: &[(String, Vec<f64>)]) -> Result<Precision, CannotSay> {
    let mut summaries = Vec::with_capacity(groups.len());
    for (label, values) in groups {
        cannot_say::at_least(&format!("values in {label}"), 2, values.len())?;
        cannot_say::all_finite(&format!("values of {label}"), values)?;
        summaries.push(GroupSummary {
            label: label.clone(),
            mean: sums::mean(values).unwrap_or(0.0),
            standard_deviation: sums::standard_deviation(values).unwrap_or(0.0),
            n: values.len(),
        });
    }
    from_summaries(&summaries, None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_laboratories_by_hand() {
        // Means 1 and 5, variances 2 and 2: s_x^2 = 8, s_r^2 = 2, n = 2.
        let result =
            from_values(&[("a".into(), vec![0.0, 2.0]), ("b".into(), vec![4.0, 6.0])]).unwrap();
        assert!((result.repeatability_sd * result.repeatability_sd - 2.0).abs() < 1e-14);
        assert!((result.reproducibility_sd * result.reproducibility_sd - 9.0).abs() < 1e-13);
        assert!((result.h[1] - 0.5_f64.sqrt()).abs() < 1e-15);
        assert!((result.k[0] - 1.0).abs() < 1e-15);
    }

    #[test]
    fn equal_means_raise_the_reproducibility() {
        let result =
            from_values(&[("a".into(), vec![0.0, 2.0]), ("b".into(), vec![0.0, 2.0])]).unwrap();
        assert_eq!(result.reproducibility_sd, result.repeatability_sd);
        assert!(result.notes.iter().any(|n| n.code == "negative-between-laboratory-variance"));
    }
}

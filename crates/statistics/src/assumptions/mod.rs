//! Checks of the assumptions behind a limit: flags, never licences to delete.

pub(crate) mod about_cells;
pub(crate) mod about_line;
pub mod anderson_darling;
pub mod dixon;
pub mod grubbs;
pub mod order;
pub mod shapiro_wilk;
pub(crate) mod two_groups;

use crate::note::{Assumption, Note};
use digits::sums;

/// What a test of so few values cannot tell; none from 20 values on.
fn little_power(n: usize) -> Option<Note> {
    (n < 20).then(|| {
        Note::new(
            "little-power",
            "This test has little power with so few values; silence is not proof.",
            "Take more values, or state from other evidence why the assumption holds.",
        )
    })
}

/// What tests of one sample suppose and do not look at.
fn values_independent() -> Assumption {
    Assumption::unchecked(
        "values independent of each other",
        "von Neumann ratio",
        "this test supposes it; look at the order of measurement",
    )
}

/// What tests of the order suppose of the list.
fn in_order() -> Assumption {
    Assumption::unchecked(
        "values in the order of measurement",
        "from the plan",
        "the list is taken as given",
    )
}

/// Normality, single outlier and independence in order of values taken as one
/// sample, with notes on what speaks against them.
pub(crate) fn of_independent_normal_values(values: &[f64]) -> (Vec<Assumption>, Vec<Note>) {
    let mut assumptions = Vec::new();
    let mut notes = Vec::new();
    check_shape(values, &mut assumptions, &mut notes);
    check_skewness(values, &mut notes);
    check_outlier(values, &mut assumptions, &mut notes);
    check_order(values, &mut assumptions, &mut notes);
    (assumptions, notes)
}

/// Normal distribution, by Shapiro and Wilk at 5 %.
#[must_use]
pub fn normal(name: &'static str, values: &[f64]) -> Assumption {
    match shapiro_wilk::shapiro_wilk(values) {
        Ok(found) => Assumption::tested(
            name,
            "Shapiro-Wilk",
            found.p_value,
            0.05,
            format!("W = {:.4}, p = {:.4}.", found.w, found.p_value),
        ),
        Err(reason) => Assumption::refused(name, "Shapiro-Wilk", &reason),
    }
}

/// Values independent of their neighbours, by von Neumann's ratio at 1 %.
#[must_use]
pub fn independent(name: &'static str, values: &[f64]) -> Assumption {
    match order::von_neumann(values) {
        Ok(found) => Assumption::tested(
            name,
            "von Neumann ratio",
            found.p_value,
            0.01,
            format!("Ratio {:.3}, 2 expected; p = {:.4}.", found.ratio, found.p_value),
        ),
        Err(reason) => Assumption::refused(name, "von Neumann ratio", &reason),
    }
}

/// No trend in the order of the values, by Mann and Kendall at 1 %.
#[must_use]
pub fn no_trend(name: &'static str, values: &[f64]) -> Assumption {
    match order::mann_kendall(values) {
        Ok(found) => Assumption::tested(
            name,
            "Mann-Kendall",
            found.p_value,
            0.01,
            format!("S = {}, p = {:.4}.", found.s, found.p_value),
        ),
        Err(reason) => Assumption::refused(name, "Mann-Kendall", &reason),
    }
}

fn check_shape(values: &[f64], assumptions: &mut Vec<Assumption>, notes: &mut Vec<Note>) {
    let (name, test) = ("normal distribution", "Shapiro-Wilk");
    match shapiro_wilk::shapiro_wilk(values) {
        Ok(result) => {
            let held = result.p_value >= 0.05;
            assumptions.push(Assumption {
                name,
                test,
                p_value: Some(result.p_value),
                held: Some(held),
                finding: format!(
                    "W = {:.4}, p = {:.4}: {}.",
                    result.w,
                    result.p_value,
                    if held { "nothing spoke against it" } else { "not normal" }
                ),
            });
            if !held {
                notes.push(Note::new(
                    "not-normal",
                    format!("The values are not normal (Shapiro-Wilk p {:.4}).", result.p_value),
                    "Look for a second population or rounding; otherwise use a limit on the log \
                     scale or a nonparametric limit.",
                ));
            }
        }
        Err(reason) => assumptions.push(Assumption::refused(name, test, &reason)),
    }
}

fn check_skewness(values: &[f64], notes: &mut Vec<Note>) {
    let n = values.len() as f64;
    let Some(mean) = sums::mean(values).filter(|_| values.len() >= 8) else { return };
    let second = sums::sum(values.iter().map(|v| (v - mean) * (v - mean))) / n;
    let third = sums::sum(values.iter().map(|v| (v - mean) * (v - mean) * (v - mean))) / n;
    let skewness = third / (second * second.sqrt());
    // Exact variance of the sample skewness of a normal population.
    let error = (6.0 * (n - 2.0) / ((n + 1.0) * (n + 3.0))).sqrt();
    if skewness.is_finite() && skewness.abs() > 2.576 * error {
        notes.push(Note::new(
            "skewed",
            format!(
                "The values are skewed ({skewness:.2}, more than 2.58 standard errors of \
                 {error:.2}); a normal limit is then {} for the upper tail.",
                if skewness > 0.0 { "too low" } else { "too high" }
            ),
            "Look for a second population or a wet unit; otherwise use a limit on the log scale \
             or a nonparametric limit.",
        ));
    }
}

fn check_outlier(values: &[f64], assumptions: &mut Vec<Assumption>, notes: &mut Vec<Note>) {
    let (name, test) = ("no single outlier", "Grubbs, two-sided 5 %");
    match grubbs::grubbs(values, 0.05) {
        Ok(result) => {
            let held = result.g <= result.critical_two_sided;
            assumptions.push(Assumption {
                name,
                test,
                p_value: None,
                held: Some(held),
                finding: format!(
                    "G = {:.3} at value number {}, critical {:.3}.",
                    result.g,
                    result.position + 1,
                    result.critical_two_sided
                ),
            });
            if !held {
                notes.push(Note::new(
                    "outlier",
                    format!(
                        "Value number {} ({}) lies apart from the rest.",
                        result.position + 1,
                        six_digits(values[result.position])
                    ),
                    "Look for an assigned cause; without one keep the value, and give the limit \
                     with and without it.",
                ));
            }
        }
        Err(reason) => assumptions.push(Assumption::refused(name, test, &reason)),
    }
}

fn check_order(values: &[f64], assumptions: &mut Vec<Assumption>, notes: &mut Vec<Note>) {
    let (name, test) = ("independent in order of measurement", "von Neumann ratio, one-sided 1 %");
    match order::von_neumann(values) {
        Ok(result) => {
            let held = result.p_value >= 0.01;
            assumptions.push(Assumption {
                name,
                test,
                p_value: Some(result.p_value),
                held: Some(held),
                finding: format!(
                    "Ratio {:.3}, 2 expected; p = {:.4}.",
                    result.ratio, result.p_value
                ),
            });
            if !held {
                notes.push(Note::new(
                    "not-independent",
                    format!(
                        "Neighbouring values are alike (von Neumann ratio {:.2}, 2 expected): the \
                         record drifts or carries over, and {} values count for fewer.",
                        result.ratio,
                        values.len()
                    ),
                    "Check the order of the runs against temperature and time; use values from \
                     separate days or lots.",
                ));
            }
        }
        Err(reason) => assumptions.push(Assumption::refused(name, test, &reason)),
    }
}
/// A value without the digits that arithmetic left behind, for a sentence.
fn six_digits(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

//! Agreement of appraisers on attributes.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};
use digits::sums;

/// Kappa with its standard error and interval.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Kappa {
    /// Agreement beyond chance, 1 for full agreement.
    pub kappa: f64,
    /// Share of items on which the appraisers agree.
    pub observed: f64,
    /// Share expected by chance.
    pub expected: f64,
    /// Large-sample standard error.
    pub standard_error: f64,
    /// Ends of the large-sample interval.
    pub interval: (f64, f64),
    /// Number of items.
    pub items: usize,
    /// Name of the method.
    pub method: &'static str,
}

impl Account for Kappa {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.items, "items judged by all")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "items independent of each other, judged blind",
                "from the plan",
                "a table does not show it",
            ),
            Assumption::looked_at(
                "chance agreement leaves room",
                "agreement expected by chance",
                self.expected <= 0.8,
                format!("{:.3} expected by chance.", self.expected),
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        if self.items < 50 {
            notes.push(Note::new(
                "large-sample-interval",
                format!("The interval is for many items; there are {}.", self.items),
                "Give the table of verdicts beside it, and judge more items.",
            ));
        }
        if self.expected > 0.8 {
            notes.push(Note::new(
        "one-category-prevails",
        "Nearly all verdicts fall in one category, so kappa is low even where the appraisers agree.",
        "Choose items near the limit, in equal numbers on both sides.",
    ));
        }
        notes
    }
}

/// Cohen's kappa of two appraisers from their table of counts.
///
/// Source: J. Cohen, Educ. Psychol. Meas. 20 (1960) 37; standard error
/// `sqrt(p (1 - p) / n) / (1 - expected)` (from memory).
///
/// # Errors
/// A table that is not square, no items, agreement by chance of one.
pub fn cohen(table: &[Vec<u64>], confidence: f64) -> Result<Kappa, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    let k = table.len();
    cannot_say::at_least("categories", 2, k)?;
    if let Some(row) = table.iter().find(|row| row.len() != k) {
        return Err(CannotSay::LengthsDiffer {
            left: "rows of the table".into(),
            left_count: k,
            right: "columns of the table".into(),
            right_count: row.len(),
        });
    }
    let n = table.iter().flatten().fold(0_u64, |sum, count| sum.saturating_add(*count));
    cannot_say::at_least("items", 1, usize::try_from(n).unwrap_or(usize::MAX))?;
    let count = n as f64;
    let observed = (0..k).map(|i| table[i][i] as f64).sum::<f64>() / count;
    let expected = (0..k)
        .map(|i| {
            let row: f64 = table[i].iter().map(|count| *count as f64).sum();
            let column: f64 = table.iter().map(|r| r[i] as f64).sum();
            row * column
        })
        .sum::<f64>()
        / (count * count);
    finish(observed, expected, count, confidence, "Cohen's kappa, two appraisers")
}

fn finish(
    observed: f64,
    expected: f64,
    items: f64,
    confidence: f64,
    method: &'static str,
) -> Result<Kappa, CannotSay> {
    if expected >= 1.0 {
        return Err(CannotSay::NoSpread { what: "the categories used".into() });
    }
    let kappa = (observed - expected) / (1.0 - expected);
    let error = (observed * (1.0 - observed) / items).sqrt() / (1.0 - expected);
    let half = cannot_say::computed(
        "the half width of the interval",
        -normal::quantile(0.5 * (1.0 - confidence)) * error,
    )?;
    Ok(Kappa {
        kappa,
        observed,
        expected,
        standard_error: error,
        interval: (kappa - half, (kappa + half).min(1.0)),
        items: items as usize,
        method,
    })
}

/// Fleiss's kappa of several appraisers: `ratings[item][category]` counts.
///
/// Source: J. L. Fleiss, Psychol. Bull. 76 (1971) 378 (from memory).
///
/// # Errors
/// No items, unequal numbers of ratings, fewer than two ratings, one category.
pub fn fleiss(ratings: &[Vec<u64>], confidence: f64) -> Result<Kappa, CannotSay> {
    cannot_say::open_probability("confidence", confidence)?;
    cannot_say::at_least("items", 1, ratings.len())?;
    let sum = |item: &[u64]| item.iter().fold(0_u64, |sum, count| sum.saturating_add(*count));
    let m = sum(&ratings[0]);
    cannot_say::at_least("ratings of an item", 2, usize::try_from(m).unwrap_or(usize::MAX))?;
    let categories = ratings[0].len();
    for (i, item) in ratings.iter().enumerate() {
        if item.len() != categories || sum(item) != m {
            return Err(CannotSay::LengthsDiffer {
                left: "ratings of the first item".into(),
                left_count: m as usize,
                right: format!("ratings of item {}", i + 1),
                right_count: sum(item) as usize,
            });
        }
    }
    let (n, m) = (ratings.len() as f64, m as f64);
    let observed = sums::sum(ratings.iter().map(|item| {
        let squares: f64 = item.iter().map(|c| (*c as f64) * (*c as f64)).sum();
        (squares - m) / (m * (m - 1.0))
    })) / n;
    let expected = (0..categories)
        .map(|j| {
            let share = ratings.iter().map(|item| item[j] as f64).sum::<f64>() / (n * m);
            share * share
        })
        .sum::<f64>();
    finish(observed, expected, n, confidence, "Fleiss's kappa, several appraisers")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_table_by_hand() {
        // Observed 0.7, expected 0.5: kappa 0.4.
        let result = cohen(&[vec![20, 5], vec![10, 15]], 0.95).unwrap();
        assert!((result.observed - 0.7).abs() < 1e-15);
        assert!((result.kappa - 0.4).abs() < 1e-15);
        assert!(cohen(&[vec![9, 0], vec![0, 0]], 0.95).is_err());
    }

    #[test]
    fn full_agreement_is_one() {
        let result = fleiss(&[vec![3, 0], vec![0, 3], vec![3, 0]], 0.95).unwrap();
        assert!((result.kappa - 1.0).abs() < 1e-15);
        assert!(fleiss(&[vec![3, 0], vec![0, 2]], 0.95).is_err());
    }
}

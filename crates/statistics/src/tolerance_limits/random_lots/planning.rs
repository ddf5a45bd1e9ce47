//! What a number of lots will buy, before they are made.

use super::Pivot;
use super::pivot::{Design, Table};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};

/// What a limit from random lots will be like for a stated truth.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LotPlan {
    /// Number of lots.
    pub lots: usize,
    /// Values per lot.
    pub per_lot: usize,
    /// Deviation between lots over that within, taken as true.
    pub lot_ratio: f64,
    /// Share of future units below the limit.
    pub content: f64,
    /// Nominal confidence.
    pub confidence: f64,
    /// Confidence the limit really has there.
    pub real_confidence: f64,
    /// Median of the limit over the true quantile, both from the true mean.
    pub median_over_truth: f64,
    /// The same, exceeded by one study in ten.
    pub ninetieth_over_truth: f64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for LotPlan {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::stated("a stated ratio of the deviations between and within lots; no data")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "the ratio of deviations is the one stated",
                "analysis of variance of the first lots",
                "it is an input; repeat with a larger one",
            ),
            Assumption::unchecked(
                "normal lot means and values",
                "from the plan",
                "a plan does not show it",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Real confidence and width of [`super::upper_limit`] for a design and a true
/// ratio of deviations, by quadrature over both mean squares.
///
/// # Errors
/// Fewer than two lots or two values per lot; a ratio that is negative or not
/// finite; `content` or `confidence` outside 0.5 to 1.
///
/// ```
/// use statistics::tolerance_limits::random_lots::{Pivot, plan};
/// let three = plan(3, 20, 1.0, 0.99, 0.95, Pivot::Graded)?;
/// let six = plan(6, 20, 1.0, 0.99, 0.95, Pivot::Graded)?;
/// assert!(six.median_over_truth < 0.7 * three.median_over_truth);
/// # Ok::<(), statistics::CannotSay>(())
/// ```
pub fn plan(
    lots: usize,
    per_lot: usize,
    lot_ratio: f64,
    content: f64,
    confidence: f64,
    pivot: Pivot,
) -> Result<LotPlan, CannotSay> {
    super::check_levels(content, confidence)?;
    cannot_say::at_least("lots", 2, lots)?;
    cannot_say::at_least("values per lot", 2, per_lot)?;
    cannot_say::not_negative("the ratio of deviations", lot_ratio)?;
    if lot_ratio > 100.0 {
        return Err(CannotSay::OutOfRange {
            what: "the ratio of deviations".into(),
            value: lot_ratio,
            allowed: "a number from 0 to 100".into(),
        });
    }
    let design = Design {
        lots: lots as f64,
        per_lot: per_lot as f64,
        within_df: lots as f64 * (per_lot as f64 - 1.0),
    };
    let overflow = || CannotSay::Overflow { what: "the limit".into() };
    let z = normal::quantile(content);
    let error = 1.0 - confidence;
    let grade = design.grade(content, confidence, pivot).ok_or_else(overflow)?;
    let table = Table::new(&design, z, error, grade).ok_or_else(overflow)?;
    let truth = z * (1.0 + lot_ratio * lot_ratio).sqrt();
    let quantile = |share: f64| {
        let mut high = 2.0 * truth;
        while design.below(&table, lot_ratio, high, false) < share && high < 1e6 {
            high *= 2.0;
        }
        digits::roots::between(-high, high, 1e-6, |place| {
            design.below(&table, lot_ratio, place, false) - share
        })
        .map(|place| place / truth)
        .ok_or_else(overflow)
    };
    let mut notes = Vec::new();
    if lots < 5 {
        notes.push(Note::new(
            "few-lots",
            format!(
                "{lots} lots are {} degrees of freedom; the limit is wide because they say so \
                 little about the lots to come.",
                lots - 1
            ),
            "Add lots, or state from earlier products how far lots differ at most.",
        ));
    }
    Ok(LotPlan {
        lots,
        per_lot,
        lot_ratio,
        content,
        confidence,
        real_confidence: design.real_confidence(&table, lot_ratio, z),
        median_over_truth: quantile(0.5)?,
        ninetieth_over_truth: quantile(0.9)?,
        method: pivot.method(),
        notes,
    })
}

/// The plan with the lots given and with up to `more` lots added: what each
/// further lot buys.
///
/// # Errors
/// As [`plan`].
pub fn price_of_lots(
    lots: usize,
    per_lot: usize,
    lot_ratio: f64,
    content: f64,
    confidence: f64,
    pivot: Pivot,
    more: usize,
) -> Result<Vec<LotPlan>, CannotSay> {
    (0..=more)
        .map(|added| plan(lots + added, per_lot, lot_ratio, content, confidence, pivot))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_graded_share_keeps_its_promise_over_a_grid() {
        for (lots, per_lot) in [(3, 20), (6, 10)] {
            for ratio in [0.0, 0.45, 0.9, 2.0] {
                let plan = plan(lots, per_lot, ratio, 0.99, 0.95, Pivot::Graded).unwrap();
                let real = plan.real_confidence;
                assert!((0.9445..0.976).contains(&real), "{lots} {per_lot} {ratio}: {real}");
            }
        }
        // The full pivot is safe and wide where lots hardly differ.
        let full = plan(3, 20, 0.0, 0.99, 0.95, Pivot::Full).unwrap();
        assert!((full.real_confidence - 0.9896).abs() < 0.002, "{}", full.real_confidence);
    }

    #[test]
    fn each_lot_buys_less_than_the_one_before() {
        let list = price_of_lots(3, 10, 1.0, 0.99, 0.95, Pivot::Graded, 3).unwrap();
        let widths: Vec<f64> = list.iter().map(|plan| plan.median_over_truth).collect();
        assert!(widths.windows(2).all(|pair| pair[1] < pair[0]), "{widths:?}");
        assert!(widths[0] - widths[1] > widths[2] - widths[3], "{widths:?}");
        assert!(plan(1, 10, 1.0, 0.99, 0.95, Pivot::Full).is_err());
        assert!(plan(3, 10, f64::NAN, 0.99, 0.95, Pivot::Full).is_err());
    }
}

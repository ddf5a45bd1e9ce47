//! Upper limit for a future unit of a future lot, from a few lots.
//!
//! Pooling lots that differ turns a 95 % claim into one of 60 to 80 %: three
//! lots are two degrees of freedom, however many units they hold.

use crate::cannot_say::{self, CannotSay};
use crate::distributions::chi_lanes::ChiLanes;
use crate::distributions::{f, normal};
use crate::note::Note;
use digits::scalar::ln;
use digits::sums;

/// How the confidence of the pivotal limit is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pivot {
    /// The generalised pivotal quantity as published; above its nominal
    /// confidence when lots hardly differ (0.98 to 0.99 for 0.95).
    Full,
    /// The same quantity with the error share graded by the observed ratio of
    /// mean squares, so that the real confidence is near nominal throughout.
    Graded,
}

/// An upper limit that allows for lots.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LotLimit {
    /// Name of the method.
    pub method: &'static str,
    /// The limit.
    pub limit: f64,
    /// The limit that ignores lots, for comparison: too low when lots differ.
    pub pooled_limit: f64,
    /// Mean of the lot means.
    pub mean: f64,
    /// Variance between lots, as estimated; may be negative.
    pub between_variance: f64,
    /// Variance within lots.
    pub within_variance: f64,
    /// Ratio of mean squares between and within.
    pub f: f64,
    /// Probability of so large a ratio if lots did not differ.
    pub lots_differ_p_value: f64,
    /// Number of lots: the number that counts.
    pub lots: usize,
    /// Number of values.
    pub n: usize,
    /// Share of future units below the limit.
    pub content: f64,
    /// Confidence in that share.
    pub confidence: f64,
    /// Expected limit if lots were added, at the variances seen: lots and
    /// limit.
    pub with_more_lots: Vec<(usize, f64)>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

/// What the limit needs to know of the data.
#[derive(Clone, Copy)]
struct Squares {
    mean: f64,
    between: f64,
    within: f64,
    lots: f64,
    per_lot: f64,
    within_df: f64,
}

/// Upper limit for a future unit of a future lot, random lots, normal model.
///
/// With mean squares `B` and `W`, `k` lots of `n`: draw `Z` normal,
/// `B* = B (k-1)/chi2(k-1)`, `W* = W f/chi2(f)`; the limit is the quantile of
/// `mean + Z sqrt(B*/(k n)) + z_P sqrt(max(0, (B* - W*)/n) + W*)`, computed by
/// quadrature. Unequal lots enter by their unweighted means and the harmonic
/// mean number. Source: K. Krishnamoorthy and T. Mathew, Statistical Tolerance
/// Regions (2009), chapter 5 (from memory). The grading of the error share is
/// this project's own; its coverage is in `docs/coverage.md`.
///
/// # Errors
/// Fewer than two lots, a lot without repeats, values that are not finite, no
/// spread within lots, `content` or `confidence` outside 0.5 to 1.
pub fn upper_limit(
    lots: &[Vec<f64>],
    content: f64,
    confidence: f64,
    pivot: Pivot,
) -> Result<LotLimit, CannotSay> {
    for (what, value) in [("content", content), ("confidence", confidence)] {
        if !(value > 0.5 && value < 1.0) {
            return Err(CannotSay::OutOfRange {
                what: what.into(),
                value,
                allowed: "a number between 0.5 and 1".into(),
            });
        }
    }
    cannot_say::at_least("lots", 2, lots.len())?;
    let mut means = Vec::with_capacity(lots.len());
    let (mut within, mut within_df, mut inverse, mut n) = (0.0, 0.0, 0.0, 0);
    for (i, lot) in lots.iter().enumerate() {
        cannot_say::at_least(&format!("values of lot {}", i + 1), 2, lot.len())?;
        cannot_say::all_finite(&format!("values of lot {}", i + 1), lot)?;
        means.push(sums::mean(lot).unwrap_or(0.0));
        within += sums::squared_deviations(lot).unwrap_or(0.0);
        within_df += lot.len() as f64 - 1.0;
        inverse += 1.0 / lot.len() as f64;
        n += lot.len();
    }
    if within == 0.0 {
        return Err(CannotSay::NoSpread { what: "the values within the lots".into() });
    }
    let k = lots.len() as f64;
    let per_lot = k / inverse;
    let spread = sums::squared_deviations(&means).unwrap_or(0.0);
    let squares = Squares {
        mean: sums::mean(&means).unwrap_or(0.0),
        between: cannot_say::computed(
            "the mean square between lots",
            per_lot * spread / (k - 1.0),
        )?,
        within: cannot_say::computed("the mean square within lots", within / within_df)?,
        lots: k,
        per_lot,
        within_df,
    };
    let limit = squares.limit(content, confidence, pivot)?;
    let all: Vec<f64> = lots.iter().flatten().copied().collect();
    let pooled = super::upper_limit_from_values(&all, content, confidence)?.limit;
    let ratio = squares.between / squares.within;
    let p = f::survival(ratio, k - 1.0, within_df);
    let mut with_more_lots = Vec::new();
    for more in 1..=3 {
        let lots = k + f64::from(more);
        let later = Squares { lots, within_df: lots * (per_lot - 1.0), ..squares };
        with_more_lots.push((lots as usize, later.limit(content, confidence, pivot)?));
    }
    let mut notes = Vec::new();
    if p < 0.05 {
        notes.push(Note::new(
            "lots-differ",
            format!("The lots differ (F {ratio:.2}, p {p:.4}); they are not one population."),
            "Find out what differs between lots before a limit is frozen.",
        ));
    } else {
        notes.push(Note::new(
            "lots-not-shown-to-differ",
            format!(
                "No difference between {} lots was shown (p {p:.3}); with so few lots that is weak \
                 evidence, so the limit allows for one.",
                lots.len()
            ),
            "Add lots rather than units.",
        ));
    }
    if let Some((count, value)) = with_more_lots.first() {
        notes.push(Note::new(
            "price-of-a-lot",
            format!(
                "At the variances seen, {count} lots would give a limit near {value:.4} instead of \
                 {limit:.4}."
            ),
            "Weigh one more lot against the detection it buys.",
        ));
    }
    Ok(LotLimit {
        method: match pivot {
            Pivot::Full => "random lots, generalised pivotal quantity",
            Pivot::Graded => "random lots, generalised pivotal quantity, graded error share",
        },
        limit,
        pooled_limit: pooled,
        mean: squares.mean,
        between_variance: (squares.between - squares.within) / per_lot,
        within_variance: squares.within,
        f: ratio,
        lots_differ_p_value: p,
        lots: lots.len(),
        n,
        content,
        confidence,
        with_more_lots,
        notes,
    })
}

impl Squares {
    /// Error share at the observed ratio of mean squares: four times nominal
    /// where lots hardly differ, nominal from a ratio of 3 on.
    fn error_share(&self, confidence: f64, pivot: Pivot) -> f64 {
        let error = 1.0 - confidence;
        match pivot {
            Pivot::Full => error,
            Pivot::Graded => {
                let ratio = (self.between / self.within).clamp(0.05, 3.0);
                (error * (1.0 + 3.0 * (1.0 - ln(ratio / 0.05) / ln(60.0)))).min(0.5)
            }
        }
    }

    fn limit(&self, content: f64, confidence: f64, pivot: Pivot) -> Result<f64, CannotSay> {
        let target = 1.0 - self.error_share(confidence, pivot);
        let z = normal::quantile(content);
        let unit = self.within.sqrt();
        // Everything in units of the deviation within lots.
        let ratio = self.between / self.within;
        let mut parts = Vec::new();
        // Weights below 1e-9 of the whole do not move a limit.
        let kept = |nu: f64| {
            let mut nodes: Vec<(f64, f64)> = ChiLanes::new(nu, 0.0, 1e-16).nodes().collect();
            nodes.retain(|node| node.1 > 1e-9);
            nodes
        };
        let between_nodes = kept(self.lots - 1.0);
        let within_nodes = kept(self.within_df);
        for (s, b_weight) in &between_nodes {
            let between = ratio / (s * s);
            let error = (between / (self.lots * self.per_lot)).sqrt();
            for (s, w_weight) in &within_nodes {
                let within = 1.0 / (s * s);
                let variance = ((between - within) / self.per_lot).max(0.0) + within;
                parts.push((b_weight * w_weight, error, z * variance.sqrt()));
            }
        }
        let below = |x: f64| {
            let sum: f64 = parts
                .iter()
                .map(|(weight, error, centre)| {
                    weight
                        * if *error > 0.0 {
                            normal::cumulative((x - centre) / error)
                        } else {
                            f64::from(u8::from(x >= *centre))
                        }
                })
                .sum();
            sum - target
        };
        let mut high = z + 4.0;
        while below(high) < 0.0 && high < 1e9 {
            high *= 2.0;
        }
        let root = digits::roots::between(-high, high, 1e-10, below)
            .ok_or_else(|| CannotSay::Overflow { what: "the limit".into() })?;
        cannot_say::computed("the limit", self.mean + unit * root)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;

    fn lots(seed: u64, k: u64, n: u64, lot_sd: f64) -> Vec<Vec<f64>> {
        (0..k)
            .map(|lot| {
                let mut stream = RandomStream::new(seed, lot);
                let shift = lot_sd * stream.normal();
                (0..n).map(|_| 10.0 + shift + stream.normal()).collect()
            })
            .collect()
    }

    #[test]
    fn many_lots_approach_the_truth() {
        let data = lots(3, 400, 10, 1.0);
        let result = upper_limit(&data, 0.99, 0.95, Pivot::Full).unwrap();
        let truth = 10.0 + 2.326_348 * 2.0_f64.sqrt();
        assert!((result.limit - truth).abs() < 0.5, "{}", result.limit);
    }

    #[test]
    fn differing_lots_are_named_and_more_lots_are_cheaper() {
        let data = lots(8, 3, 20, 3.0);
        let result = upper_limit(&data, 0.99, 0.95, Pivot::Graded).unwrap();
        assert!(result.limit > result.pooled_limit);
        assert!(result.with_more_lots[0].1 < result.limit);
        assert!(result.notes.iter().any(|note| note.code == "lots-differ"));
    }

    #[test]
    fn refusals() {
        assert!(upper_limit(&[vec![1.0, 2.0]], 0.99, 0.95, Pivot::Full).is_err());
        assert!(upper_limit(&[vec![1.0], vec![2.0, 3.0]], 0.99, 0.95, Pivot::Full).is_err());
        assert!(upper_limit(&[vec![1.0, 1.0], vec![2.0, 2.0]], 0.99, 0.95, Pivot::Full).is_err());
    }

    /// Long simulation behind `docs/coverage.md`; prints its table.
    #[test]
    #[ignore = "simulation of some minutes"]
    fn coverage_of_random_lot_limits() {
        let z = normal::quantile(0.99);
        for (k, n) in [(3.0, 20.0), (4.0, 15.0), (6.0, 10.0), (10.0, 3.0)] {
            // The limit depends on the data through the ratio of mean squares
            // only: tabulate it once, then draw.
            for pivot in [Pivot::Full, Pivot::Graded] {
                let grid: Vec<f64> = (0..=240).map(|i| -5.0 + 0.06 * f64::from(i)).collect();
                let table: Vec<f64> = grid
                    .iter()
                    .map(|log| {
                        let squares = Squares {
                            mean: 0.0,
                            between: digits::scalar::exp(*log),
                            within: 1.0,
                            lots: k,
                            per_lot: n,
                            within_df: k * (n - 1.0),
                        };
                        squares.limit(0.99, 0.95, pivot).unwrap()
                    })
                    .collect();
                for rho in [0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 3.0, 10.0] {
                    let runs = 100_000;
                    let mut stream = RandomStream::new(20_261_125, (rho * 100.0) as u64);
                    let mut covered = 0;
                    let mut limits = Vec::with_capacity(runs);
                    let truth = z * (1.0_f64 + rho * rho).sqrt();
                    for _ in 0..runs {
                        let chi = |stream: &mut RandomStream, df: f64| {
                            crate::distributions::chi_squared::quantile(stream.uniform(), df) / df
                        };
                        let between = (n * rho * rho + 1.0) * chi(&mut stream, k - 1.0);
                        let within = chi(&mut stream, k * (n - 1.0));
                        let mean = (rho * rho / k + 1.0 / (k * n)).sqrt() * stream.normal();
                        let place = ((ln(between / within) + 5.0) / 0.06).clamp(0.0, 239.999);
                        let (low, share) = (place as usize, place - place.floor());
                        let factor = table[low] * (1.0 - share) + table[low + 1] * share;
                        let limit = mean + within.sqrt() * factor;
                        covered += u32::from(limit >= truth);
                        limits.push(limit / truth);
                    }
                    limits.sort_by(f64::total_cmp);
                    println!(
                        "{k} x {n} {pivot:?} lot/unit {rho}: {:.4}, median limit / truth {:.2}",
                        f64::from(covered) / runs as f64,
                        limits[runs / 2]
                    );
                }
            }
        }
    }
}

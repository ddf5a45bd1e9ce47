//! Bayesian logistic curve on a grid, with the prior stated.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::scalar::{exp, ln_1p};

/// Normal prior of intercept and slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NormalPrior {
    /// Mean of the intercept.
    pub intercept_mean: f64,
    /// Standard deviation of the intercept.
    pub intercept_sd: f64,
    /// Mean of the slope.
    pub slope_mean: f64,
    /// Standard deviation of the slope.
    pub slope_sd: f64,
    /// Correlation of the two.
    pub correlation: f64,
}

/// Grid on which the posterior is summed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Ends of the intercept.
    pub intercept: (f64, f64),
    /// Points along the intercept.
    pub intercept_points: usize,
    /// Ends of the slope.
    pub slope: (f64, f64),
    /// Points along the slope.
    pub slope_points: usize,
}

/// Posterior of intercept and slope.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Posterior {
    /// Mean of the intercept.
    pub intercept_mean: f64,
    /// Standard deviation of the intercept.
    pub intercept_sd: f64,
    /// Mean of the slope.
    pub slope_mean: f64,
    /// Standard deviation of the slope.
    pub slope_sd: f64,
    /// Posterior probability of a rising curve.
    pub rising: f64,
    /// Largest share of the posterior on one edge of the grid.
    pub edge_share: f64,
    /// Number of trials.
    pub n: u64,
    /// Name of the method, prior included.
    pub method: String,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
    points: Vec<(f64, f64, f64)>,
}

impl Account for Posterior {
    fn method(&self) -> &str {
        &self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(self.n as f64, "trials, beside the prior")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "the grid holds the posterior",
                "share on an edge of the grid",
                self.edge_share <= 1e-4,
                format!("Largest share on one edge {:.2e}.", self.edge_share),
            ),
            Assumption::unchecked(
                "prior fixed before the data were seen",
                "from the plan",
                "state its source",
            ),
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "numbers do not show it; state how the units were drawn",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        if self.rising < 0.99 {
            notes.push(Note::new(
                "rise-in-doubt",
                format!(
                    "The posterior holds a rising curve with probability {:.3} only.",
                    self.rising
                ),
                "Test sizes further apart.",
            ));
        }
        notes
    }
}

/// Posterior of a logistic curve from rows of `x`, hits and trials.
///
/// Without a prior the posterior is that of a flat prior on the box of the
/// grid, and depends on the box; a note says so.
///
/// # Errors
/// No rows, more hits than trials, values that are not finite, a grid of fewer
/// than two points, a prior without spread.
pub fn logistic_posterior(
    rows: &[(f64, u64, u64)],
    prior: Option<NormalPrior>,
    grid: Grid,
) -> Result<Posterior, CannotSay> {
    cannot_say::at_least("rows", 1, rows.len())?;
    for (x, hits, of) in rows {
        cannot_say::finite("a value of x", *x)?;
        if hits > of {
            return Err(CannotSay::OutOfRange {
                what: format!("the number of hits at {x}"),
                value: *hits as f64,
                allowed: format!("a whole number from 0 to {of}"),
            });
        }
    }
    cannot_say::at_least("grid points", 2, grid.intercept_points.min(grid.slope_points))?;
    for (low, high) in [grid.intercept, grid.slope] {
        cannot_say::finite("an end of the grid", low)?;
        cannot_say::positive("the width of the grid", high - low)?;
    }
    let farthest = |(low, high): (f64, f64)| low.abs().max(high.abs());
    for (x, _, _) in rows {
        let eta = farthest(grid.intercept) + farthest(grid.slope) * x.abs();
        cannot_say::computed("the line over the grid", eta)?;
    }
    if let Some(p) = prior {
        cannot_say::finite("a prior mean", p.intercept_mean)?;
        cannot_say::finite("a prior mean", p.slope_mean)?;
        cannot_say::positive("a prior standard deviation", p.intercept_sd)?;
        cannot_say::positive("a prior standard deviation", p.slope_sd)?;
        if !(p.correlation.abs() < 1.0) {
            return Err(CannotSay::OutOfRange {
                what: "the prior correlation".into(),
                value: p.correlation,
                allowed: "a number between -1 and 1".into(),
            });
        }
    }
    let soft = |x: f64| if x > 0.0 { x + ln_1p(exp(-x)) } else { ln_1p(exp(x)) };
    let height = |a: f64, b: f64| {
        let likelihood: f64 = rows
            .iter()
            .map(|(x, hits, of)| {
                let eta = a + b * x;
                -(*hits as f64) * soft(-eta) - (of - hits) as f64 * soft(eta)
            })
            .sum();
        let log_prior = prior.map_or(0.0, |p| {
            let u = (a - p.intercept_mean) / p.intercept_sd;
            let v = (b - p.slope_mean) / p.slope_sd;
            let r = p.correlation;
            -0.5 / (1.0 - r * r) * (u * u - 2.0 * r * u * v + v * v)
        });
        likelihood + log_prior
    };
    let place = |(low, high): (f64, f64), points: usize, i: usize| {
        low + (high - low) * i as f64 / (points - 1) as f64
    };
    let mut points = Vec::with_capacity(grid.intercept_points * grid.slope_points);
    let mut top = f64::NEG_INFINITY;
    for i in 0..grid.intercept_points {
        let a = place(grid.intercept, grid.intercept_points, i);
        for j in 0..grid.slope_points {
            let b = place(grid.slope, grid.slope_points, j);
            let h = height(a, b);
            top = top.max(h);
            points.push((a, b, h));
        }
    }
    cannot_say::computed("the posterior", top)?;
    let mut total = 0.0;
    for point in &mut points {
        point.2 = exp(point.2 - top);
        total += point.2;
    }
    let (mut ma, mut mb) = (0.0, 0.0);
    for point in &mut points {
        point.2 /= total;
        ma += point.2 * point.0;
        mb += point.2 * point.1;
    }
    let (mut va, mut vb, mut rising) = (0.0, 0.0, 0.0);
    let mut edges = [0.0_f64; 4];
    for (k, (a, b, w)) in points.iter().enumerate() {
        va += w * (a - ma) * (a - ma);
        vb += w * (b - mb) * (b - mb);
        if *b > 0.0 {
            rising += w;
        }
        let (i, j) = (k / grid.slope_points, k % grid.slope_points);
        edges[0] += if i == 0 { *w } else { 0.0 };
        edges[1] += if i + 1 == grid.intercept_points { *w } else { 0.0 };
        edges[2] += if j == 0 { *w } else { 0.0 };
        edges[3] += if j + 1 == grid.slope_points { *w } else { 0.0 };
    }
    let edge_share = edges.iter().fold(0.0_f64, |m, e| m.max(*e));
    let mut notes = Vec::new();
    let method = match prior {
        Some(p) => format!(
            "Bayesian logistic curve, normal prior: intercept {} (sd {}), slope {} (sd {}), \
             correlation {}",
            p.intercept_mean, p.intercept_sd, p.slope_mean, p.slope_sd, p.correlation
        ),
        None => {
            notes.push(Note::new(
                "flat-prior-on-a-box",
                "The prior is flat on the box of the grid, and the result depends on the box.",
                "State a prior before the data are seen.",
            ));
            "Bayesian logistic curve, flat prior on the box of the grid".to_owned()
        }
    };
    if edge_share > 1e-4 {
        notes.push(Note::new(
            "grid-too-narrow",
            format!("A share of {edge_share:.4} of the posterior lies on an edge of the grid."),
            "Widen the grid.",
        ));
    }
    Ok(Posterior {
        intercept_mean: ma,
        intercept_sd: va.sqrt(),
        slope_mean: mb,
        slope_sd: vb.sqrt(),
        rising,
        edge_share,
        n: rows.iter().fold(0_u64, |sum, row| sum.saturating_add(row.2)),
        method,
        notes,
        points,
    })
}

impl Posterior {
    /// Value of `x` that holds the given posterior share of the place at which
    /// the curve reaches `probability`; falling curves count as never.
    #[must_use]
    pub fn place_quantile(&self, probability: f64, share: f64) -> Option<f64> {
        if !(probability > 0.0 && probability < 1.0 && share > 0.0 && share < 1.0) {
            return None;
        }
        let eta = super::Link::Logit.line(probability);
        let mut places: Vec<(f64, f64)> = self
            .points
            .iter()
            .map(|(a, b, w)| (if *b > 0.0 { (eta - a) / b } else { f64::INFINITY }, *w))
            .collect();
        places.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut sum = 0.0;
        for (place, weight) in places {
            sum += weight;
            if sum >= share {
                return place.is_finite().then_some(place);
            }
        }
        None
    }
}

//! Logistic regression in several variables: size, kind of defect, site.

use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::detection::Separation;
use crate::detection::linear_separation::{self};
use crate::note::{Assumption, Note};
use digits::scalar::{exp, ln, ln_1p};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// Which likelihood is maximised.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Estimation {
    /// Maximum likelihood; refused under separation.
    MaximumLikelihood,
    /// Likelihood penalised after Firth; finite under separation.
    Firth,
}

/// A fitted logistic regression.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LogisticFit {
    /// Coefficients, in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Their standard errors, from the information.
    pub standard_errors: Vec<f64>,
    /// Covariance of the coefficients, row by row.
    pub covariance: Vec<Vec<f64>>,
    /// Deviance against one share per row.
    pub deviance: f64,
    /// Log-likelihood at the fit (penalised for Firth).
    pub log_likelihood: f64,
    /// Separation of the outcomes by the columns.
    pub separation: Separation,
    /// Number of trials.
    pub n: u64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for LogisticFit {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::effective(self.n as f64, "trials")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::looked_at(
                "outcomes overlap in the columns",
                "separation, by linear programming",
                self.separation == Separation::None,
                format!("Separation: {}.", self.separation.word()),
            ),
            Assumption::unchecked(
                "trials independent of each other",
                "from the plan",
                "rows do not show it; repeated readings of one unit are not trials",
            ),
            Assumption::unchecked(
                "the columns act through a straight line in the logit",
                "deviance of grouped rows",
                "the rows are not kept; compare with further columns",
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// One row: hits, trials, and the values of the columns.
#[derive(Debug, Clone, PartialEq)]
pub struct LogisticRow {
    /// Hits.
    pub hits: u64,
    /// Trials.
    pub of: u64,
    /// Values of the columns, the constant one included if wanted.
    pub columns: Vec<f64>,
}

/// Fits a logistic regression.
///
/// # Errors
/// No rows, rows of unequal length, more hits than trials, values that are
/// not finite, columns that depend on each other, and separation where maximum
/// likelihood is asked for.
pub fn logistic(rows: &[LogisticRow], estimation: Estimation) -> Result<LogisticFit, CannotSay> {
    let p = rows.first().map_or(0, |row| row.columns.len());
    cannot_say::at_least("columns", 1, p)?;
    cannot_say::at_least("rows", p, rows.len())?;
    for (i, row) in rows.iter().enumerate() {
        if row.columns.len() != p {
            return Err(CannotSay::LengthsDiffer {
                left: "columns of the first row".into(),
                left_count: p,
                right: format!("columns of row {}", i + 1),
                right_count: row.columns.len(),
            });
        }
        cannot_say::all_finite(&format!("columns of row {}", i + 1), &row.columns)?;
        if row.hits > row.of {
            return Err(CannotSay::OutOfRange {
                what: format!("the number of hits in row {}", i + 1),
                value: row.hits as f64,
                allowed: format!("a whole number from 0 to {}", row.of),
            });
        }
    }
    let separation = linear_separation::of_rows(rows);
    let mut notes = Vec::new();
    if separation != Separation::None {
        let text = format!("The outcomes are separated by the columns ({}).", separation.word());
        let next = "Add units where hits and misses overlap.";
        if estimation == Estimation::MaximumLikelihood {
            return Err(CannotSay::not_determined(
                format!("the outcomes are separated by the columns ({})", separation.word()),
                "Add units where hits and misses overlap, or ask for the penalised fit.",
            ));
        }
        notes.push(Note::new("separated", text, next));
    }
    let fit = Problem::new(rows, p, estimation)?.solve()?;
    Ok(LogisticFit { separation, notes, ..fit })
}

struct Problem {
    x: DMatrix<f64>,
    hits: DVector<f64>,
    of: DVector<f64>,
    /// Scale of each column, divided out before the fit.
    scale: Vec<f64>,
    estimation: Estimation,
}

/// State of the fit at one vector of coefficients.
struct Point {
    value: f64,
    gradient: DVector<f64>,
    factor: Cholesky<f64, Dyn>,
}

impl Problem {
    fn new(rows: &[LogisticRow], p: usize, estimation: Estimation) -> Result<Self, CannotSay> {
        let mut scale = vec![0.0_f64; p];
        for row in rows {
            for (s, value) in scale.iter_mut().zip(&row.columns) {
                *s = s.max(value.abs());
            }
        }
        if let Some(column) = scale.iter().position(|s| *s == 0.0) {
            return Err(CannotSay::NoSpread {
                what: format!("the values of column {}", column + 1),
            });
        }
        Ok(Self {
            x: DMatrix::from_fn(rows.len(), p, |i, j| rows[i].columns[j] / scale[j]),
            hits: DVector::from_iterator(rows.len(), rows.iter().map(|r| r.hits as f64)),
            of: DVector::from_iterator(rows.len(), rows.iter().map(|r| r.of as f64)),
            scale,
            estimation,
        })
    }

    fn at(&self, beta: &DVector<f64>) -> Option<Point> {
        let eta = &self.x * beta;
        let n = eta.len();
        let mut value = 0.0;
        let mut residual = DVector::zeros(n);
        let mut weight = DVector::zeros(n);
        let mut probability = DVector::zeros(n);
        for i in 0..n {
            // ln(1 + e^-|eta|) serves both logarithms without overflow.
            let small = exp(-eta[i].abs());
            let soft = ln_1p(small);
            let (log_hit, log_miss) =
                if eta[i] > 0.0 { (-soft, -eta[i] - soft) } else { (eta[i] - soft, -soft) };
            value += self.hits[i] * log_hit + (self.of[i] - self.hits[i]) * log_miss;
            let p = if eta[i] > 0.0 { 1.0 / (1.0 + small) } else { small / (1.0 + small) };
            probability[i] = p;
            residual[i] = self.hits[i] - self.of[i] * p;
            weight[i] = self.of[i] * small / ((1.0 + small) * (1.0 + small));
        }
        let mut weighted = self.x.clone();
        for i in 0..n {
            weighted.row_mut(i).scale_mut(weight[i]);
        }
        let factor = Cholesky::new(self.x.transpose() * &weighted)?;
        if self.estimation == Estimation::Firth {
            let root = factor.l();
            value += root.diagonal().iter().map(|d| ln(*d)).sum::<f64>();
            // Leverages: h_i = w_i x_i' I^-1 x_i.
            let solved = factor.solve(&self.x.transpose());
            for i in 0..n {
                let leverage = weight[i] * self.x.row(i).transpose().dot(&solved.column(i));
                residual[i] += leverage * (0.5 - probability[i]);
            }
        }
        let gradient = self.x.transpose() * residual;
        value.is_finite().then_some(Point { value, gradient, factor })
    }

    fn solve(&self) -> Result<LogisticFit, CannotSay> {
        let dependent = || {
            CannotSay::not_determined(
                "the columns depend on each other, or the fit runs to infinity",
                "Leave out a column, or add units.",
            )
        };
        let p = self.x.ncols();
        let mut beta = DVector::zeros(p);
        let mut here = self.at(&beta).ok_or_else(dependent)?;
        // A pivot that vanishes against its column betrays dependent columns.
        let root = here.factor.l();
        for j in 0..p {
            let whole: f64 = (0..=j).map(|k| root[(j, k)] * root[(j, k)]).sum();
            if root[(j, j)] * root[(j, j)] < 1e-12 * whole {
                return Err(dependent());
            }
        }
        for _ in 0..200 {
            let step = here.factor.solve(&here.gradient);
            let gain = here.gradient.dot(&step);
            if gain.abs() < 1e-24 * (1.0 + here.value.abs()) {
                break;
            }
            let mut share = 1.0;
            let mut moved = false;
            for _ in 0..50 {
                let next = &beta + &step * share;
                if let Some(there) = self.at(&next)
                    && (there.value >= here.value
                        || (gain < 1e-10 && there.value >= here.value - 1e-12 * here.value.abs()))
                {
                    moved = next != beta;
                    beta = next;
                    here = there;
                    break;
                }
                share *= 0.5;
            }
            if !moved {
                break;
            }
        }
        if here.gradient.dot(&here.factor.solve(&here.gradient)) > 1e-9 {
            return Err(dependent());
        }
        let inverse = here.factor.inverse();
        let covariance: Vec<Vec<f64>> = (0..p)
            .map(|i| (0..p).map(|j| inverse[(i, j)] / (self.scale[i] * self.scale[j])).collect())
            .collect();
        let saturated: f64 = (0..self.hits.len())
            .map(|i| {
                let part =
                    |count: f64| if count > 0.0 { count * ln(count / self.of[i]) } else { 0.0 };
                part(self.hits[i]) + part(self.of[i] - self.hits[i])
            })
            .sum();
        let penalty = if self.estimation == Estimation::Firth {
            here.factor.l().diagonal().iter().map(|d| ln(*d)).sum::<f64>()
        } else {
            0.0
        };
        let fit = LogisticFit {
            coefficients: (0..p).map(|j| beta[j] / self.scale[j]).collect(),
            standard_errors: (0..p).map(|j| covariance[j][j].sqrt()).collect(),
            covariance,
            deviance: 2.0 * (saturated - (here.value - penalty)),
            log_likelihood: here.value,
            separation: Separation::None,
            n: self.of.iter().sum::<f64>() as u64,
            method: match self.estimation {
                Estimation::MaximumLikelihood => "logistic regression, maximum likelihood",
                Estimation::Firth => "logistic regression, penalised likelihood (Firth)",
            },
            notes: Vec::new(),
        };
        let numbers = fit.coefficients.iter().chain(&fit.standard_errors);
        if numbers.clone().all(|value| value.is_finite()) {
            Ok(fit)
        } else {
            Err(CannotSay::Overflow { what: "the fit".into() })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(hits: u64, of: u64, columns: &[f64]) -> LogisticRow {
        LogisticRow { hits, of, columns: columns.to_vec() }
    }

    #[test]
    fn one_share_by_hand() {
        // Maximum likelihood: logit of 1/4. Firth adds half a hit and half a
        // miss: logit of 1.5/5.
        let rows = [row(1, 4, &[1.0])];
        let ml = logistic(&rows, Estimation::MaximumLikelihood).unwrap();
        assert!((ml.coefficients[0] - ln(1.0 / 3.0)).abs() < 1e-12);
        let firth = logistic(&rows, Estimation::Firth).unwrap();
        assert!((firth.coefficients[0] - ln(1.5 / 3.5)).abs() < 1e-10);
    }

    #[test]
    fn refusals() {
        assert!(logistic(&[], Estimation::Firth).is_err());
        let dependent = [row(1, 4, &[1.0, 2.0]), row(2, 4, &[2.0, 4.0]), row(1, 2, &[3.0, 6.0])];
        assert!(logistic(&dependent, Estimation::MaximumLikelihood).is_err());
        let separated = [row(0, 4, &[1.0, 1.0]), row(4, 4, &[1.0, 2.0])];
        assert!(logistic(&separated, Estimation::MaximumLikelihood).is_err());
        let fit = logistic(&separated, Estimation::Firth).unwrap();
        assert_eq!(fit.separation, Separation::Complete);
    }
}

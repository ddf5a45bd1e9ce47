//! The curve that ties a probability to a straight line.

use crate::distributions::normal;
use digits::scalar::{exp, exp_m1, ln, ln_1p};

/// Link between the probability of detection and a straight line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Link {
    /// `ln(p / (1 - p))`, the logistic curve.
    Logit,
    /// The normal quantile of `p`.
    Probit,
    /// `ln(-ln(1 - p))`, the complementary log-log curve.
    Cloglog,
}

/// Value and derivatives of a log-probability along the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LogTerm {
    /// `ln p` of a hit, or `ln(1 - p)` of a miss.
    pub value: f64,
    /// First derivative.
    pub slope: f64,
    /// Second derivative, never positive: all three links are log-concave.
    pub curvature: f64,
}

impl Link {
    /// Name of the link in words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Logit => "logit",
            Self::Probit => "probit",
            Self::Cloglog => "complementary log-log",
        }
    }

    /// Probability at a height of the line.
    #[must_use]
    pub fn probability(self, eta: f64) -> f64 {
        match self {
            Self::Logit => {
                if eta >= 0.0 {
                    1.0 / (1.0 + exp(-eta))
                } else {
                    let e = exp(eta);
                    e / (1.0 + e)
                }
            }
            Self::Probit => normal::cumulative(eta),
            Self::Cloglog => -exp_m1(-exp(eta.min(700.0))),
        }
    }

    /// Height of the line at a probability strictly between 0 and 1.
    #[must_use]
    pub fn line(self, p: f64) -> f64 {
        match self {
            Self::Logit => ln(p / (1.0 - p)),
            Self::Probit => normal::quantile(p),
            Self::Cloglog => ln(-ln_1p(-p)),
        }
    }

    /// `ln p` and its derivatives.
    pub(crate) fn log_hit(self, eta: f64) -> LogTerm {
        match self {
            Self::Logit => {
                let p = self.probability(eta);
                let q = self.probability(-eta);
                LogTerm { value: -soft_plus(-eta), slope: q, curvature: -p * q }
            }
            Self::Probit => probit_tail(eta),
            Self::Cloglog => {
                let e = exp(eta.min(700.0));
                if e < 1e-8 {
                    // ln(1 - exp(-e)) = eta - e/2 + e^2/24.
                    return LogTerm {
                        value: eta - 0.5 * e,
                        slope: 1.0 - 0.5 * e,
                        curvature: -0.5 * e,
                    };
                }
                let p = -exp_m1(-e);
                let miss = exp(-e);
                let slope = e * miss / p;
                LogTerm { value: ln(p), slope, curvature: slope * (1.0 - e - slope) }
            }
        }
    }

    /// `ln(1 - p)` and its derivatives.
    pub(crate) fn log_miss(self, eta: f64) -> LogTerm {
        match self {
            Self::Logit => {
                let p = self.probability(eta);
                let q = self.probability(-eta);
                LogTerm { value: -soft_plus(eta), slope: -p, curvature: -p * q }
            }
            Self::Probit => {
                let mirror = probit_tail(-eta);
                LogTerm { value: mirror.value, slope: -mirror.slope, curvature: mirror.curvature }
            }
            Self::Cloglog => {
                let e = exp(eta.min(700.0));
                LogTerm { value: -e, slope: -e, curvature: -e }
            }
        }
    }

    /// Fisher information of one trial at a height of the line.
    pub(crate) fn information(self, eta: f64) -> f64 {
        match self {
            Self::Logit => self.probability(eta) * self.probability(-eta),
            Self::Probit => {
                // phi^2 / (p q) as a product of two hazards.
                let up = probit_tail(eta).slope;
                let down = probit_tail(-eta).slope;
                up * down
            }
            Self::Cloglog => {
                let e = exp(eta.min(700.0));
                if e < 1e-8 {
                    return e;
                }
                e * e * exp(-e) / -exp_m1(-e)
            }
        }
    }
}

/// `ln(1 + e^x)` without overflow.
fn soft_plus(x: f64) -> f64 {
    if x > 0.0 { x + ln_1p(exp(-x)) } else { ln_1p(exp(x)) }
}

/// `ln Phi(x)` and its derivatives, by Mills's ratio in the far tail.
fn probit_tail(x: f64) -> LogTerm {
    if x > -30.0 {
        let p = normal::cumulative(x);
        let slope = normal::density(x) / p;
        return LogTerm { value: ln(p), slope, curvature: -slope * (slope + x) };
    }
    // Asymptotic series of Mills's ratio, error below 1e-12 here.
    let z = 1.0 / (x * x);
    let series = 1.0 - z * (1.0 - 3.0 * z * (1.0 - 5.0 * z * (1.0 - 7.0 * z)));
    let slope = -x / series;
    // slope + x written without cancellation: -x (1/series - 1).
    let excess = -x * (1.0 - series) / series;
    LogTerm {
        value: -0.5 * x * x - 0.918_938_533_204_672_8 - ln(-x) + ln(series),
        slope,
        curvature: -slope * excess,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn line_undoes_probability() {
        for link in [Link::Logit, Link::Probit, Link::Cloglog] {
            for p in [1e-6, 0.3, 0.9, 0.999] {
                assert!((link.probability(link.line(p)) / p - 1.0).abs() < 1e-12, "{link:?} {p}");
            }
        }
    }

    #[test]
    fn derivatives_agree_with_differences() {
        let h = 1e-5;
        for link in [Link::Logit, Link::Probit, Link::Cloglog] {
            for eta in [-40.0, -29.99, -8.0, -1.0, 0.3, 2.0] {
                for term in [Link::log_hit, Link::log_miss] {
                    let here = term(link, eta);
                    let (up, down) = (term(link, eta + h), term(link, eta - h));
                    let slope = (up.value - down.value) / (2.0 * h);
                    let curvature = (up.slope - down.slope) / (2.0 * h);
                    assert!(
                        (slope - here.slope).abs() < 1e-5 * (1.0 + slope.abs()),
                        "{link:?} {eta}"
                    );
                    assert!(
                        (curvature - here.curvature).abs() < 1e-5 * (1.0 + curvature.abs()),
                        "{link:?} {eta} {curvature} {}",
                        here.curvature
                    );
                }
            }
        }
    }

    #[test]
    fn information_is_the_mean_curvature() {
        for link in [Link::Logit, Link::Probit, Link::Cloglog] {
            for eta in [-3.0, 0.0, 1.5] {
                let p = link.probability(eta);
                let expected =
                    -(p * link.log_hit(eta).curvature + (1.0 - p) * link.log_miss(eta).curvature);
                assert!((link.information(eta) / expected - 1.0).abs() < 1e-9, "{link:?} {eta}");
            }
        }
    }
}

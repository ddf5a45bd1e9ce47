//! Propagation of distributions by simulation.
//!
//! Source: JCGM 101:2008.

use super::correlation;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::student_t;
use crate::note::{Assumption, Note};
use digits::{RandomStream, sums};

/// Distribution of an input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Distribution {
    /// Normal with mean and standard deviation.
    Normal(f64, f64),
    /// Rectangular between two ends.
    Rectangular(f64, f64),
    /// Triangular between two ends, symmetric.
    Triangular(f64, f64),
    /// Shifted and scaled Student's t: location, scale, degrees of freedom.
    StudentT(f64, f64, f64),
}

impl Distribution {
    pub(super) fn check(self) -> Result<(), CannotSay> {
        match self {
            Self::Normal(m, s) => {
                cannot_say::finite("a mean", m)?;
                cannot_say::not_negative("a standard deviation", s)
            }
            Self::Rectangular(a, b) | Self::Triangular(a, b) => {
                cannot_say::finite("an end", a)?;
                cannot_say::not_negative("the width of a distribution", b - a)
            }
            Self::StudentT(m, s, nu) => {
                cannot_say::finite("a location", m)?;
                cannot_say::not_negative("a scale", s)?;
                cannot_say::positive("the degrees of freedom", nu)
            }
        }
    }

    fn draw(self, stream: &mut RandomStream) -> f64 {
        match self {
            Self::Normal(m, s) => m + s * stream.normal(),
            Self::Rectangular(a, b) => a + (b - a) * stream.uniform(),
            Self::Triangular(a, b) => a + (b - a) * 0.5 * (stream.uniform() + stream.uniform()),
            Self::StudentT(m, s, nu) => m + s * student_t::quantile(stream.uniform(), nu),
        }
    }
}

/// Result of the propagation of distributions.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct MonteCarlo {
    /// Mean of the output.
    pub mean: f64,
    /// Standard deviation of the output.
    pub uncertainty: f64,
    /// Interval with equal tails.
    pub symmetric: (f64, f64),
    /// Shortest interval.
    pub shortest: (f64, f64),
    /// Coverage of the intervals.
    pub coverage: f64,
    /// Number of draws.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for MonteCarlo {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.draws, "draws of stated distributions; no readings")
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "inputs distributed as stated, independent of each other",
                "source of each input",
                "they are inputs; name where each comes from",
            ),
            Assumption::looked_at(
                "enough draws for the interval",
                "draws against 10000/(1 - coverage) (JCGM 101)",
                self.draws as f64 * (1.0 - self.coverage) >= 1e4 - 1e-6,
                format!("{} draws.", self.draws),
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Propagates distributions through `model`.
///
/// # Errors
/// No input, a distribution that is not defined, fewer draws than
/// `100/(1 - coverage)`, a coverage outside 0 to 1, a model that is not finite
/// for some draw.
pub fn monte_carlo(
    model: impl Fn(&[f64]) -> f64,
    inputs: &[Distribution],
    coverage: f64,
    draws: usize,
    seed: u64,
) -> Result<MonteCarlo, CannotSay> {
    let alone = |stream: &mut RandomStream, place: &mut [f64]| {
        for (x, input) in place.iter_mut().zip(inputs) {
            *x = input.draw(stream);
        }
    };
    simulate(model, inputs, alone, coverage, draws, seed)
}

/// Propagates distributions of inputs that move together.
///
/// `correlation` holds the coefficients of the inputs row by row, `names` the
/// inputs' names for refusals. The inputs are joined by a Gaussian copula whose
/// own correlations are set so that the inputs have those given.
///
/// # Errors
/// As [`monte_carlo`]; a correlation matrix of the wrong shape, that is not
/// positive definite (naming the pair), or that the distributions cannot have.
pub fn monte_carlo_correlated(
    model: impl Fn(&[f64]) -> f64,
    inputs: &[Distribution],
    names: &[&str],
    correlation: &[Vec<f64>],
    coverage: f64,
    draws: usize,
    seed: u64,
) -> Result<MonteCarlo, CannotSay> {
    for input in inputs {
        input.check()?;
    }
    let (root, rough) = correlation::scores(inputs, names, correlation)?;
    let together = |stream: &mut RandomStream, place: &mut [f64]| {
        for x in place.iter_mut() {
            *x = stream.normal();
        }
        // From the last input back, so that the scores still needed are there.
        for i in (0..place.len()).rev() {
            let score: f64 = root[i][..=i].iter().zip(place.iter()).map(|(l, g)| l * g).sum();
            place[i] = inputs[i].at_score(score);
        }
    };
    let mut result = simulate(model, inputs, together, coverage, draws, seed)?;
    result.method =
        "propagation of correlated distributions by simulation, Gaussian copula (JCGM 101)";
    if rough {
        result.notes.push(Note::new(
            "correlation-of-scores",
            "An input has two degrees of freedom or fewer and no variance; its correlations were \
             taken as those of the normal scores.",
            "Find the uncertainty of that input from more readings.",
        ));
    }
    Ok(result)
}

fn simulate(
    model: impl Fn(&[f64]) -> f64,
    inputs: &[Distribution],
    draw_inputs: impl Fn(&mut RandomStream, &mut [f64]),
    coverage: f64,
    draws: usize,
    seed: u64,
) -> Result<MonteCarlo, CannotSay> {
    cannot_say::at_least("inputs", 1, inputs.len())?;
    cannot_say::open_probability("the coverage", coverage)?;
    for input in inputs {
        input.check()?;
    }
    let fewest = 100.0 / (1.0 - coverage);
    cannot_say::at_least("draws", fewest.min(1e15).ceil() as usize, draws)?;
    let mut values = Vec::with_capacity(draws);
    let mut place = vec![0.0; inputs.len()];
    for draw in 0..draws {
        let mut stream = RandomStream::new(seed, draw as u64);
        draw_inputs(&mut stream, &mut place);
        let value = model(&place);
        if !value.is_finite() {
            return Err(CannotSay::not_determined(
                format!("the model is not finite for draw {draw} of the inputs"),
                "Restrict the inputs to where the model is defined.",
            ));
        }
        values.push(value);
    }
    let mean = cannot_say::computed("the mean", sums::mean(&values).unwrap_or(f64::NAN))?;
    let uncertainty = cannot_say::computed(
        "the uncertainty",
        sums::standard_deviation(&values).unwrap_or(f64::NAN),
    )?;
    values.sort_by(f64::total_cmp);
    let inside = ((coverage * draws as f64 + 0.5).floor() as usize).clamp(1, draws - 1);
    let lower = (draws - inside) / 2;
    let mut best = 0;
    for i in 0..draws - inside {
        if values[i + inside] - values[i] < values[best + inside] - values[best] {
            best = i;
        }
    }
    let mut notes = Vec::new();
    if (draws as f64) < 1e4 / (1.0 - coverage) {
        notes.push(Note::new(
            "few-draws",
            format!("{draws} draws; JCGM 101 advises {:.0}.", 1e4 / (1.0 - coverage)),
            "Draw more before the interval is reported.",
        ));
    }
    Ok(MonteCarlo {
        mean,
        uncertainty,
        symmetric: (values[lower], values[lower + inside]),
        shortest: (values[best], values[best + inside]),
        coverage,
        draws,
        seed,
        method: "propagation of distributions by simulation (JCGM 101)",
        notes,
    })
}

impl MonteCarlo {
    /// Whether an interval `value +- expanded` agrees with the simulated one
    /// within a numerical tolerance (JCGM 101, section 8).
    #[must_use]
    pub fn validates(&self, value: f64, expanded: f64, tolerance: f64) -> bool {
        (value - expanded - self.symmetric.0).abs() <= tolerance
            && (value + expanded - self.symmetric.1).abs() <= tolerance
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_of_normals() {
        let inputs = [Distribution::Normal(1.0, 3.0), Distribution::Normal(2.0, 4.0)];
        let result = monte_carlo(|x| x[0] + x[1], &inputs, 0.95, 40_000, 1).unwrap();
        assert!((result.mean - 3.0).abs() < 0.1 && (result.uncertainty - 5.0).abs() < 0.1);
        assert!(result.validates(3.0, 9.8, 0.4) && !result.validates(3.0, 8.0, 0.4));
        assert!(monte_carlo(|x| 1.0 / (x[0] - x[0]), &inputs, 0.95, 40_000, 1).is_err());
        assert!(monte_carlo(|x| x[0], &inputs, 0.95, 10, 1).is_err());
    }

    #[test]
    fn correlated_inputs_add_as_the_law_of_propagation_says() {
        // u^2 = 1/3 + 1/6 + 2 r u1 u2 for a rectangle and a triangle.
        let inputs = [Distribution::Rectangular(-1.0, 1.0), Distribution::Triangular(-1.0, 1.0)];
        let (u1, u2) = ((1.0_f64 / 3.0).sqrt(), (1.0_f64 / 6.0).sqrt());
        for r in [-0.8, 0.0, 0.6] {
            let matrix = [vec![1.0, r], vec![r, 1.0]];
            let result = monte_carlo_correlated(
                |x| x[0] + x[1],
                &inputs,
                &["a", "b"],
                &matrix,
                0.95,
                100_000,
                3,
            )
            .unwrap();
            let exact = (u1 * u1 + u2 * u2 + 2.0 * r * u1 * u2).sqrt();
            // Four standard errors of a standard deviation of 100 000 draws.
            assert!((result.uncertainty / exact - 1.0).abs() < 0.009, "{r}: {result:?}");
            assert!(result.mean.abs() < 0.013 * exact.max(0.5));
        }
        let one = [vec![1.0, 1.0], vec![1.0, 1.0]];
        let refused = monte_carlo_correlated(|x| x[0], &inputs, &["a", "b"], &one, 0.95, 10_000, 1);
        assert!(refused.unwrap_err().to_string().contains("a and b"));
    }
}

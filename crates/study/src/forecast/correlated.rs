//! Standard normal scores that go together as stated.

use super::uncertain::INPUTS;
use crate::uncertain_input::{Correlation, UncertainInput};

/// Why stated correlations cannot be drawn.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CorrelationError {
    /// A coefficient that is none.
    #[error(
        "the correlation of {first} and {second} is {coefficient}; it must lie between -1 and 1, \
         both excluded, and the two must differ"
    )]
    NotACorrelation {
        /// One input.
        first: &'static str,
        /// The other.
        second: &'static str,
        /// As stated.
        coefficient: f64,
    },
    /// The same pair twice.
    #[error("the correlation of {first} and {second} is stated twice; keep one")]
    Twice {
        /// One input.
        first: &'static str,
        /// The other.
        second: &'static str,
    },
    /// Together they contradict each other.
    #[error(
        "the correlations cannot all hold: given the others, {input} would have to vary less than \
         not at all; make those that name it smaller"
    )]
    Contradiction {
        /// The input at which it shows.
        input: &'static str,
    },
}

/// Correlation matrix and its triangular factor.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Correlated {
    pub matrix: [[f64; INPUTS]; INPUTS],
    factor: [[f64; INPUTS]; INPUTS],
}

impl Correlated {
    /// `R = L Lᵀ` of the stated correlations (Cholesky).
    pub fn of(stated: &[Correlation]) -> Result<Self, CorrelationError> {
        let mut matrix = [[0.0; INPUTS]; INPUTS];
        for (index, row) in matrix.iter_mut().enumerate() {
            row[index] = 1.0;
        }
        for one in stated {
            let (first, second) = (one.first.word(), one.second.word());
            let (a, b) = (place(one.first), place(one.second));
            if a == b || !(one.coefficient > -1.0 && one.coefficient < 1.0) {
                let coefficient = one.coefficient;
                return Err(CorrelationError::NotACorrelation { first, second, coefficient });
            }
            if matrix[a][b] != 0.0 {
                return Err(CorrelationError::Twice { first, second });
            }
            matrix[a][b] = one.coefficient;
            matrix[b][a] = one.coefficient;
        }
        let mut factor = [[0.0; INPUTS]; INPUTS];
        for row in 0..INPUTS {
            for column in 0..=row {
                let known =
                    digits::sums::sum((0..column).map(|k| factor[row][k] * factor[column][k]));
                let left = matrix[row][column] - known;
                if row != column {
                    factor[row][column] = left / factor[column][column];
                } else if left > 1e-12 {
                    factor[row][row] = left.sqrt();
                } else {
                    let input = UncertainInput::ALL[row].word();
                    return Err(CorrelationError::Contradiction { input });
                }
            }
        }
        Ok(Self { matrix, factor })
    }

    /// Scores that go together, from independent ones.
    pub fn scores(&self, independent: &[f64; INPUTS]) -> [f64; INPUTS] {
        core::array::from_fn(|row| {
            digits::sums::sum(
                (0..=row).map(|column| self.factor[row][column] * independent[column]),
            )
        })
    }
}

/// Place of an input in the order of the list.
fn place(input: UncertainInput) -> usize {
    UncertainInput::ALL.iter().position(|one| *one == input).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;

    fn pair(first: UncertainInput, second: UncertainInput, coefficient: f64) -> Correlation {
        Correlation { first, second, coefficient }
    }

    #[test]
    fn scores_have_the_stated_correlation_and_unit_variance() {
        use UncertainInput::{FreeVolume, HeadspacePressure, HeadspaceVolume};
        let stated = [
            pair(HeadspaceVolume, HeadspacePressure, -0.6),
            pair(FreeVolume, HeadspaceVolume, 0.5),
        ];
        let correlated = Correlated::of(&stated).expect("can hold");
        let mut stream = RandomStream::new(4, 0);
        let n = 40_000;
        let drawn: Vec<[f64; INPUTS]> =
            (0..n).map(|_| correlated.scores(&core::array::from_fn(|_| stream.normal()))).collect();
        let mean_product = |a: usize, b: usize| {
            digits::sums::sum(drawn.iter().map(|z| z[a] * z[b])) / f64::from(n)
        };
        // Four standard errors of a mean of products: 0.02 to 0.03.
        assert!((mean_product(1, 2) + 0.6).abs() < 0.025);
        assert!((mean_product(0, 1) - 0.5).abs() < 0.025);
        assert!(mean_product(0, 2).abs() < 0.02);
        assert!((mean_product(2, 2) - 1.0).abs() < 0.03);
    }

    #[test]
    fn what_cannot_hold_is_refused_by_name() {
        use UncertainInput::{FreeVolume, HeadspacePressure, HeadspaceVolume};
        let contradiction = [
            pair(FreeVolume, HeadspaceVolume, 0.9),
            pair(FreeVolume, HeadspacePressure, 0.9),
            pair(HeadspaceVolume, HeadspacePressure, -0.9),
        ];
        assert_eq!(
            Correlated::of(&contradiction),
            Err(CorrelationError::Contradiction { input: "headspace pressure" })
        );
        let twice =
            [pair(FreeVolume, HeadspaceVolume, 0.1), pair(HeadspaceVolume, FreeVolume, 0.1)];
        assert!(matches!(Correlated::of(&twice), Err(CorrelationError::Twice { .. })));
        for bad in [1.0, -1.5, f64::NAN] {
            let stated = [pair(FreeVolume, HeadspaceVolume, bad)];
            assert!(matches!(
                Correlated::of(&stated),
                Err(CorrelationError::NotACorrelation { .. })
            ));
        }
    }
}

//! Which unknown widens the window most: what it would be worth to know it.
//!
//! The logarithm of the smallest detectable leak is fitted by a straight
//! combination of the drawn scores, `ln d = b_0 + Σ b_i z_i`. With the
//! correlations `R` of the scores, input i explains `b_i (R b)_i` of the
//! variance, which is `b_i²` where the inputs are independent (product measure
//! of J. W. Pratt, 1987, from memory), and to know it would take `(R b)_i²` off.
//! What the straight combination does not explain is told too.

use digits::sums;
use statistics::regression::least_squares;

use super::uncertain::Known;
use super::window::Edges;
use crate::provenance::Origin;

/// One uncertain input and what hangs on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Unknown {
    /// The input in plain words.
    pub input: String,
    /// Its relative standard uncertainty in the draws.
    pub relative_sd: f64,
    /// Where the value itself comes from.
    pub origin: Origin,
    /// The uncertainty was stated; else a working value was taken.
    pub uncertainty_stated: bool,
    /// Change of the smallest detectable leak for one standard uncertainty of
    /// the input, relative.
    pub change_of_smallest: f64,
    /// Its share of the spread of the smallest detectable leak; below zero
    /// where it takes away what a correlated input adds.
    pub share: f64,
    /// Width of the interval of the smallest detectable leak that would be left
    /// if this input were known, over the present width.
    pub width_if_known: f64,
}

/// Ranks the unknowns, the weightiest first. Empty where fewer than 16 draws
/// have a window, or where the window does not vary.
pub(super) fn rank<const INPUTS: usize>(
    known: &[Known; INPUTS],
    correlations: &[[f64; INPUTS]; INPUTS],
    scores: &[[f64; INPUTS]],
    edges: &[Edges],
) -> Vec<Unknown> {
    let drawn: Vec<(&[f64; INPUTS], f64)> = scores
        .iter()
        .zip(edges)
        .filter_map(|(score, edge)| Some((score, digits::scalar::ln(edge.smallest_um?))))
        .collect();
    if drawn.len() < 16 {
        return Vec::new();
    }
    let mut columns = vec![vec![1.0; drawn.len()]];
    for input in 0..INPUTS {
        columns.push(drawn.iter().map(|(score, _)| score[input]).collect());
    }
    let sizes: Vec<f64> = drawn.iter().map(|(_, size)| *size).collect();
    let Ok(fit) = least_squares(&columns, &sizes, None) else { return Vec::new() };
    let effects = &fit.coefficients[1..];
    let together: Vec<f64> = correlations
        .iter()
        .map(|row| sums::sum(row.iter().zip(effects).map(|(r, effect)| r * effect)))
        .collect();
    let explained = sums::sum(effects.iter().zip(&together).map(|(effect, all)| effect * all));
    let whole = explained + fit.residual_sd * fit.residual_sd;
    if whole.is_nan() || whole <= 1e-20 {
        return Vec::new();
    }
    let mut ranked: Vec<Unknown> = known
        .iter()
        .zip(effects.iter().zip(&together))
        .map(|(known, (effect, all))| Unknown {
            input: known.input.to_owned(),
            relative_sd: known.relative_sd,
            origin: known.origin,
            uncertainty_stated: known.stated,
            change_of_smallest: digits::scalar::exp(*effect) - 1.0,
            share: effect * all / whole,
            width_if_known: (1.0 - all * all / whole).max(0.0).sqrt(),
        })
        .collect();
    ranked.sort_by(|a, b| b.share.total_cmp(&a.share));
    ranked
}

#[cfg(test)]
mod tests {
    use super::super::uncertain::INPUTS;
    use super::*;
    use digits::RandomStream;

    fn identity() -> [[f64; INPUTS]; INPUTS] {
        core::array::from_fn(|row| core::array::from_fn(|column| f64::from(row == column)))
    }

    /// Positive control: an input planted as the cause is found, with its share.
    #[test]
    fn the_planted_cause_is_found() {
        let known = ["a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k"].map(|input| Known {
            input,
            relative_sd: 0.1,
            origin: Origin::Assumed,
            stated: false,
        });
        let mut stream = RandomStream::new(5, 0);
        let scores: Vec<[f64; INPUTS]> =
            (0..2000).map(|_| core::array::from_fn(|_| stream.normal())).collect();
        let edges: Vec<Edges> = scores
            .iter()
            .map(|z| Edges {
                smallest_um: Some(3.0 * digits::scalar::exp(0.3 * z[2] - 0.1 * z[4])),
                largest_um: None,
                largest_beyond: false,
            })
            .collect();
        let ranked = rank(&known, &identity(), &scores, &edges);
        assert_eq!((ranked[0].input.as_str(), ranked[1].input.as_str()), ("c", "e"));
        assert!((ranked[0].share - 0.9).abs() < 1e-9, "{}", ranked[0].share);
        assert!((ranked[0].change_of_smallest - 0.349_858_8).abs() < 1e-6);
        assert!((ranked[0].width_if_known - 0.1_f64.sqrt()).abs() < 1e-9);
        assert!(ranked[1].change_of_smallest < 0.0 && ranked[4].share < 1e-9);
        // Where c and e go together, to know one tells of the other: the effect
        // of c, 0.3, is lessened by 0.8 × 0.1.
        let mut matrix = identity();
        (matrix[2][4], matrix[4][2]) = (0.8, 0.8);
        let paired: Vec<[f64; INPUTS]> = scores
            .iter()
            .map(|z| {
                let mut both = *z;
                both[4] = 0.8 * z[2] + 0.6 * z[4];
                both
            })
            .collect();
        let edges_of_pair: Vec<Edges> = paired
            .iter()
            .map(|z| Edges {
                smallest_um: Some(3.0 * digits::scalar::exp(0.3 * z[2] - 0.1 * z[4])),
                largest_um: None,
                largest_beyond: false,
            })
            .collect();
        let of_pair = rank(&known, &matrix, &paired, &edges_of_pair);
        let whole = 0.09 + 0.01 - 2.0 * 0.8 * 0.03;
        assert_eq!(of_pair[0].input, "c");
        assert!((of_pair[0].share - 0.3 * 0.22 / whole).abs() < 1e-9);
        let left = 1.0 - 0.22 * 0.22 / whole;
        assert!((of_pair[0].width_if_known - left.sqrt()).abs() < 1e-9);
        // Nothing to rank where nothing varies or nothing is seen.
        let blind =
            vec![Edges { smallest_um: None, largest_um: None, largest_beyond: false }; 2000];
        assert!(rank(&known, &identity(), &scores, &blind).is_empty());
    }
}

//! What is left of values about the means of their cells: shape and scatter.

use crate::distributions::chi_squared;
use crate::note::Assumption;
use digits::scalar::ln;
use digits::sums;

/// Residuals that are kept: beyond, rounding alone rejects a normal shape.
const MOST_KEPT: usize = 5000;

/// Residuals about the means of cells, with the squares of each cell.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct AboutCells {
    residuals: Vec<f64>,
    /// Degrees of freedom and sum of squares of each cell with repeats.
    cells: Vec<(f64, f64)>,
    n: usize,
}

impl AboutCells {
    /// From the cells and, where they are at hand, the count and the sum of
    /// squares of each.
    pub(crate) fn of<'a>(
        cells: impl Iterator<Item = &'a Vec<f64>> + Clone,
        squares: Option<&[f64]>,
    ) -> Self {
        let n = cells.clone().map(Vec::len).sum();
        let mut kept = Self { n, ..Self::default() };
        for (i, cell) in cells.enumerate().filter(|(_, cell)| cell.len() > 1) {
            let own = match squares {
                Some(list) => list[i],
                None => sums::squared_deviations(cell).unwrap_or(0.0),
            };
            kept.cells.push((cell.len() as f64 - 1.0, own));
            if n <= MOST_KEPT {
                let mean = sums::mean(cell).unwrap_or(0.0);
                kept.residuals.extend(cell.iter().map(|value| value - mean));
            }
        }
        kept
    }

    /// Normal shape of the repeats and equal scatter in the cells.
    pub(crate) fn checks(&self) -> Vec<Assumption> {
        let name = "normal repeats";
        let shape = if self.n > MOST_KEPT {
            let reason =
                format!("{} values, of which rounding alone is rejected; plot them", self.n);
            Assumption::unchecked(name, "Shapiro-Wilk", reason)
        } else if self.residuals.is_empty() {
            Assumption::unchecked(name, "Shapiro-Wilk", "there are no repeats")
        } else {
            super::normal(name, &self.residuals)
        };
        vec![shape, equal_scatter("equal scatter in all cells", &self.cells)]
    }
}

/// Equal scatter of cells, given degrees of freedom and sum of squares of each,
/// by Bartlett at 5 %.
pub(crate) fn equal_scatter(name: &'static str, cells: &[(f64, f64)]) -> Assumption {
    let test = "Bartlett";
    if cells.len() < 2 {
        return Assumption::unchecked(name, test, "fewer than two cells have repeats");
    }
    let still = |cell: &&(f64, f64)| cell.1 <= 0.0;
    // Two or three equal readings may be rounding; more are not scatter.
    let dead = cells.iter().filter(still).filter(|cell| cell.0 >= 3.0).count();
    if dead > 0 {
        let finding = format!("{dead} of {} cells do not scatter at all.", cells.len());
        return Assumption::looked_at(name, test, false, finding);
    }
    if cells.iter().any(|cell| cell.1 <= 0.0) {
        return Assumption::unchecked(name, test, "a cell has few readings, and equal ones");
    }
    let p = bartlett(cells);
    Assumption::tested(name, test, p, 0.05, format!("p = {p:.4}."))
}

/// Bartlett's test of equal variances, given degrees of freedom and sum of
/// squares of each. Source: M. S. Bartlett, Proc. R. Soc. A 160 (1937) 268
/// (from memory).
pub(crate) fn bartlett(cells: &[(f64, f64)]) -> f64 {
    let k = cells.len() as f64;
    let df = sums::sum(cells.iter().map(|cell| cell.0));
    let pooled = ln(sums::sum(cells.iter().map(|cell| cell.1)) / df);
    let parts = sums::sum(cells.iter().map(|(own, squares)| own * ln(squares / own)));
    let inverse = sums::sum(cells.iter().map(|cell| 1.0 / cell.0));
    let correction = 1.0 + (inverse - 1.0 / df) / (3.0 * (k - 1.0));
    let statistic = (df * pooled - parts) / correction;
    if statistic.is_finite() { chi_squared::survival(statistic.max(0.0), k - 1.0) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Positive control: cells whose scatter differs, and repeats with one far
    /// out, are seen; quiet ones are not.
    #[test]
    fn unequal_scatter_and_odd_repeats_are_seen() {
        let cells = |growth: f64, outlier: f64| -> Vec<Vec<f64>> {
            (0..8)
                .map(|cell| {
                    let mut stream = digits::RandomStream::new(17, cell);
                    (0..6)
                        .map(|i| {
                            let odd = if cell == 3 && i == 2 { outlier } else { 0.0 };
                            5.0 + (1.0 + growth * cell as f64) * stream.normal() + odd
                        })
                        .collect()
                })
                .collect()
        };
        let held = |list: &[Vec<f64>]| -> Vec<Option<bool>> {
            AboutCells::of(list.iter(), None).checks().iter().map(|check| check.held).collect()
        };
        assert_eq!(held(&cells(0.0, 0.0)), [Some(true), Some(true)]);
        assert_eq!(held(&cells(1.0, 0.0))[1], Some(false));
        assert_eq!(held(&cells(0.0, 12.0))[0], Some(false));
        assert_eq!(held(&[vec![1.0], vec![2.0]]), [None, None]);
        assert_eq!(held(&[vec![1.0, 1.0], vec![2.0, 2.5]])[1], None);
        assert_eq!(held(&[vec![1.0; 4], vec![2.0, 2.5]])[1], Some(false));
    }
}

//! Acceptable ranges: settling and measuring times that still work.

/// Share of the draws in which the requirement is met, over settling and
/// measuring times of the chosen early tiers and pressure.
#[derive(Debug, Clone, PartialEq)]
pub struct AcceptableRanges {
    /// Settling times, s.
    pub settles_s: Vec<f64>,
    /// Measuring times, s.
    pub measures_s: Vec<f64>,
    /// `share[settle][measure]`, 0 to 1.
    pub share: Vec<Vec<f64>>,
    /// Share that counts as working.
    pub required_share: f64,
}

impl AcceptableRanges {
    /// Longest stretch of settling times around the chosen one that works at
    /// the chosen measuring time, s.
    #[must_use]
    pub fn settle_range_s(&self, settle_s: f64, measure_s: f64) -> Option<(f64, f64)> {
        let measure = place(&self.measures_s, measure_s)?;
        let column: Vec<f64> = self.share.iter().map(|row| row[measure]).collect();
        stretch(&self.settles_s, &column, place(&self.settles_s, settle_s)?, self.required_share)
    }

    /// The same for measuring times.
    #[must_use]
    pub fn measure_range_s(&self, settle_s: f64, measure_s: f64) -> Option<(f64, f64)> {
        let settle = place(&self.settles_s, settle_s)?;
        let chosen = place(&self.measures_s, measure_s)?;
        stretch(&self.measures_s, self.share.get(settle)?, chosen, self.required_share)
    }
}

fn place(values: &[f64], value: f64) -> Option<usize> {
    values.iter().position(|candidate| (candidate - value).abs() < 1e-9)
}

/// Longest stretch of values around the chosen place whose shares suffice.
pub(super) fn stretch(
    times: &[f64],
    shares: &[f64],
    chosen: usize,
    required: f64,
) -> Option<(f64, f64)> {
    if shares[chosen] < required {
        return None;
    }
    let mut low = chosen;
    while low > 0 && shares[low - 1] >= required {
        low -= 1;
    }
    let mut high = chosen;
    while high + 1 < times.len() && shares[high + 1] >= required {
        high += 1;
    }
    Some((times[low], times[high]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_ends_where_it_fails() {
        let ranges = AcceptableRanges {
            settles_s: vec![1.0, 2.0, 3.0],
            measures_s: vec![5.0, 10.0],
            share: vec![vec![0.1, 0.99], vec![0.2, 1.0], vec![0.9, 0.5]],
            required_share: 0.95,
        };
        assert_eq!(ranges.settle_range_s(2.0, 10.0), Some((1.0, 2.0)));
        assert_eq!(ranges.measure_range_s(2.0, 10.0), Some((10.0, 10.0)));
        assert_eq!(ranges.settle_range_s(3.0, 10.0), None);
    }
}

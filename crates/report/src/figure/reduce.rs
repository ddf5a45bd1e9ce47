//! Long lines are reduced before printing: of all points in one column of
//! ink, the first, the lowest, the highest and the last are kept, so that no
//! spike is lost and both printers draw the same points.

use super::Axis;

/// Columns across a figure; finer than any printer resolves on paper.
pub const COLUMNS: usize = 900;

/// Indices of the points that are kept, in their order.
///
/// Lines of up to four points for each column are kept whole. A point without
/// a place is kept, since it marks a gap.
#[must_use]
pub fn columns_kept(axis: &Axis, x: &[f64], y: &[f64], columns: usize) -> Vec<usize> {
    if x.len() <= 4 * columns {
        return (0..x.len()).collect();
    }
    let mut kept = Vec::with_capacity(4 * columns);
    let mut start = 0;
    while start < x.len() {
        let column = column_of(axis, x[start], columns);
        let mut end = start + 1;
        if column.is_some() {
            while end < x.len() && y[end].is_finite() && column_of(axis, x[end], columns) == column
            {
                end += 1;
            }
        }
        let (mut lowest, mut highest) = (start, start);
        for index in start..end {
            if y[index] < y[lowest] {
                lowest = index;
            }
            if y[index] > y[highest] {
                highest = index;
            }
        }
        let mut four = [start, lowest, highest, end - 1];
        four.sort_unstable();
        for index in four {
            if kept.last() != Some(&index) {
                kept.push(index);
            }
        }
        start = end;
    }
    kept
}

fn column_of(axis: &Axis, value: f64, columns: usize) -> Option<i64> {
    axis.place(value).map(|place| (place * columns as f64).floor() as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spike_of_one_sample_survives() {
        let x: Vec<f64> = (0..100_000).map(f64::from).collect();
        let mut y = vec![1.0; 100_000];
        y[54_321] = 9.0;
        y[54_322] = -3.0;
        y[77_777] = f64::NAN;
        let axis = Axis::linear("t", "s", 0.0, 1e5);
        let kept = columns_kept(&axis, &x, &y, 100);
        assert!(kept.len() <= 4 * 102, "{}", kept.len());
        for index in [0, 54_321, 54_322, 77_777, 99_999] {
            assert!(kept.contains(&index), "{index}");
        }
        assert!(kept.windows(2).all(|pair| pair[0] < pair[1]));
    }

    #[test]
    fn a_short_line_is_kept_whole() {
        let axis = Axis::linear("t", "s", 0.0, 1.0);
        assert_eq!(columns_kept(&axis, &[0.0, 1.0], &[0.0, 1.0], 100), [0, 1]);
    }
}

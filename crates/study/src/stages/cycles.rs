//! Several cycles in one log.

/// A fall of this share of the range of the log begins a cycle.
const FALLS: f64 = 0.05;
/// A cycle has ended where the pressure came back by this share of its fall.
const COMES_BACK: f64 = 0.5;
/// The room is left below the top by this share of the range.
const LEAVES: f64 = 0.01;

/// Index ranges of the cycles of a long log: each begins with the last sample
/// near the pressure of the room before a fall. One range where there is one
/// cycle, or none that can be told. A pumping that was given up is a cycle of
/// its own here.
///
/// # Example
/// ```
/// use study::stages::split_cycles;
/// let one = [1e5, 1e5, 900.0, 100.0, 120.0, 140.0, 160.0, 1e5];
/// let log: Vec<f64> = one.iter().chain(&one).copied().collect();
/// assert_eq!(split_cycles(&log), [0..9, 9..16]);
/// assert_eq!(split_cycles(&one), [0..8]);
/// ```
#[must_use]
pub fn split_cycles(pressures_pa: &[f64]) -> Vec<core::ops::Range<usize>> {
    let values = super::record::without_odd_samples(pressures_pa);
    let finite = || values.iter().copied().filter(|value| value.is_finite());
    let lowest = finite().fold(f64::INFINITY, f64::min);
    let highest = finite().fold(f64::NEG_INFINITY, f64::max);
    let n = values.len();
    let whole = || core::iter::once(0..n).collect();
    // A wandering room is no row of cycles.
    if !(highest - lowest > super::LEAST_FALL * highest.abs()) {
        return whole();
    }
    let noise = super::pieces::noise_by_second_differences(&values);
    let range = highest - lowest;
    // Of a record of few samples little is noise.
    let falls = (FALLS * range).max((super::FALL_OVER_NOISE * noise).min(0.15 * range));
    let leaves = (LEAVES * range).max((5.0 * noise).min(0.1 * range));
    let mut starts = Vec::new();
    // The top before the fall that is waited for, or the bottom after it.
    let (mut top, mut bottom) = (highest.min(values[0]), None);
    let mut opened = 0;
    for (index, &value) in values.iter().enumerate() {
        match bottom {
            None if value > top => top = value,
            None if value < top - falls => {
                let near = |at: &usize| values[*at] >= top - leaves;
                starts.push((opened..index).rfind(near).unwrap_or(opened));
                bottom = Some(value);
            }
            Some(low) if value < low => bottom = Some(value),
            Some(low) if value > low + COMES_BACK * (top - low) && value > low + falls => {
                (top, bottom, opened) = (value, None, index);
            }
            _ => {}
        }
    }
    if starts.len() < 2 {
        return whole();
    }
    // The first keeps whatever stands before it.
    starts[0] = 0;
    let ends = starts.iter().skip(1).copied().chain([n]);
    starts.iter().zip(ends).map(|(&start, end)| start..end).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cycles_of_a_weak_vacuum_and_of_a_small_gauge_are_told_apart() {
        // Down to half an atmosphere in a high place, and a gauge that ends at
        // 1000 Pa.
        for (room, low) in [(78_000.0, 50_000.0), (1000.0, 80.0)] {
            let one = [room, room, 0.5 * (room + low), low, low + 5.0, low + 10.0, room];
            let log: Vec<f64> = one.iter().cycle().take(21).copied().collect();
            assert_eq!(split_cycles(&log).len(), 3, "{room}");
        }
    }

    #[test]
    fn a_pumping_that_was_given_up_is_told_from_its_neighbours() {
        let whole = [1e5, 1e5, 4e4, 500.0, 510.0, 520.0, 530.0, 7e4, 1e5];
        let given_up = [1e5, 8.5e4, 7.5e4, 9e4, 1e5];
        let log = [&whole[..], &given_up[..], &whole[..]].concat();
        assert_eq!(split_cycles(&log), [0..9, 9..15, 15..23]);
    }

    #[test]
    fn a_single_odd_sample_is_no_cycle() {
        let mut log = vec![1e5, 1e5, 4e4, 500.0, 510.0, 520.0, 530.0, 540.0, 550.0, 1e5];
        log[6] = 1e5;
        assert_eq!(split_cycles(&log).len(), 1);
    }

    #[test]
    fn a_room_that_wanders_is_one_record() {
        let mut stream = digits::RandomStream::new(3, 1);
        let log: Vec<f64> = (0..5000).map(|_| 97_000.0 + 30.0 * stream.normal()).collect();
        let cycles = split_cycles(&log);
        assert!(cycles.len() == 1 && cycles[0] == (0..5000));
        assert_eq!(split_cycles(&[]).len(), 1);
    }
}

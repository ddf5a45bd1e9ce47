//! Several cycles in one log.

/// Above this share of the way from the lowest to the highest pressure of the log
/// the chamber is open.
const OPEN: f64 = 0.8;
/// Below this share it is pumped.
const PUMPED: f64 = 0.5;

/// Index ranges of the cycles of a long log: each begins with the last sample
/// near the pressure of the room before a fall. One range where there is one
/// cycle, or none that can be told.
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
    let finite = || pressures_pa.iter().copied().filter(|value| value.is_finite());
    let lowest = finite().fold(f64::INFINITY, f64::min);
    let highest = finite().fold(f64::NEG_INFINITY, f64::max);
    let n = pressures_pa.len();
    let whole = || core::iter::once(0..n).collect();
    // A wandering room is no row of cycles.
    if !(highest - lowest > super::LEAST_FALL * highest.abs()) {
        return whole();
    }
    let at = |share: f64| lowest + share * (highest - lowest);
    let (open, pumped_below) = (at(OPEN), at(PUMPED));
    let mut starts = Vec::new();
    let mut last_open = None;
    let mut pumped = false;
    for (index, &value) in pressures_pa.iter().enumerate() {
        if value >= open {
            last_open = Some(index);
            pumped = false;
        } else if value < pumped_below && !pumped {
            pumped = true;
            starts.extend(last_open);
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
    fn a_room_that_wanders_is_one_record() {
        let mut stream = digits::RandomStream::new(3, 1);
        let log: Vec<f64> = (0..5000).map(|_| 97_000.0 + 30.0 * stream.normal()).collect();
        let cycles = split_cycles(&log);
        assert!(cycles.len() == 1 && cycles[0] == (0..5000));
    }
}

//! A gauge at the end of its range: it says 'at least this' and nothing else.

use physics::PressureTrace;

/// Samples of one value at the top that count as standing there.
const FEWEST: usize = 4;

/// Index of the first sample of a stretch in which the gauge stands at its
/// end: at the stated full scale, or flat at the highest value of the record
/// up to the end of the range although it moved before. Such a trace never
/// reads as tight.
#[must_use]
pub fn saturated_from(
    trace: &PressureTrace,
    range: core::ops::Range<usize>,
    full_scale_pa: Option<f64>,
) -> Option<usize> {
    let samples = trace.pressures_pa.get(range.clone())?;
    if let Some(full) = full_scale_pa {
        let limit = full * (1.0 - 1e-6);
        if let Some(place) = samples.iter().position(|&value| value >= limit) {
            return Some(range.start + place);
        }
    }
    let last = *samples.last()?;
    let highest = samples.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let n_flat = samples.iter().rev().take_while(|&&value| value == last).count();
    // The samples before it, pumping included, as far as they are not at the
    // end themselves: a gauge that reads in coarse steps stands still by
    // nature.
    let first_flat = range.end - n_flat;
    let before: Vec<f64> = trace.pressures_pa[first_flat.saturating_sub(400)..first_flat]
        .iter()
        .copied()
        .filter(|value| *value < highest)
        .collect();
    let moved = before.windows(2).filter(|pair| pair[0] != pair[1]).count() * 2 >= before.len();
    (last == highest && n_flat >= FEWEST && before.len() >= 4 && moved).then_some(first_flat)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(pressures_pa: Vec<f64>) -> PressureTrace {
        let times_s = (0..pressures_pa.len()).map(|i| i as f64).collect();
        PressureTrace { times_s, pressures_pa, ..Default::default() }
    }

    #[test]
    fn a_flat_top_is_the_end_of_the_gauge() {
        let mut values: Vec<f64> = (0..50).map(|i| 100.0 + 37.1 * f64::from(i)).collect();
        values.extend([1955.0; 20]);
        let trace = trace(values);
        assert_eq!(saturated_from(&trace, 0..70, None), Some(50));
        assert_eq!(saturated_from(&trace, 0..50, None), None);
        assert_eq!(saturated_from(&trace, 0..50, Some(500.0)), Some(11));
    }

    #[test]
    fn coarse_steps_are_no_end() {
        let values: Vec<f64> = (0..70).map(|i| f64::from(i / 12)).collect();
        assert_eq!(saturated_from(&trace(values), 0..70, None), None);
    }
}

//! Whether two traces are one and the same run under two names.
//!
//! A file imported twice makes one unit count as two: statistics that rest on
//! it look better than they are.

use study::PressureTrace;

use crate::codes;
use crate::message::Message;

/// From this share of equal samples on, two traces count as one.
pub const SHARE_OF_ONE_RUN: f64 = 0.99;

/// Share of the samples, of the longer trace, that are equal to the last bit
/// at the same place: 1 for copies, near 0 for two runs of a live sensor.
///
/// # Example
/// ```
/// use intake::same_samples::share_of_same_samples;
/// use study::PressureTrace;
/// let one = PressureTrace { pressures_pa: vec![1.0, 2.0, 3.0, 4.0], ..Default::default() };
/// let two = PressureTrace { pressures_pa: vec![1.0, 2.0, 3.0, 5.0], ..Default::default() };
/// assert_eq!(share_of_same_samples(&one, &two), 0.75);
/// ```
#[must_use]
pub fn share_of_same_samples(one: &PressureTrace, two: &PressureTrace) -> f64 {
    let longer = one.pressures_pa.len().max(two.pressures_pa.len());
    if longer == 0 {
        return 0.0;
    }
    let same = one.pressures_pa.iter().zip(&two.pressures_pa).filter(|(a, b)| a == b).count();
    same as f64 / longer as f64
}

/// The warning where a trace is nearly a copy of an earlier one; a channel
/// that hardly moves is none.
#[must_use]
pub fn copy_warning(
    trace: &PressureTrace,
    earlier: &PressureTrace,
    earlier_name: &str,
) -> Option<Message> {
    let first = trace.pressures_pa.first()?;
    let moves = trace.pressures_pa.iter().filter(|pressure| *pressure != first).count() * 10
        > trace.pressures_pa.len();
    let share = share_of_same_samples(trace, earlier);
    if !moves || share < SHARE_OF_ONE_RUN {
        return None;
    }
    Some(
        Message::warning(
            codes::SAME_FILE,
            format!(
                "{:.1} % of the samples are those of {}",
                100.0 * share,
                crate::message::quoted(earlier_name)
            ),
        )
        .done("Both were kept.")
        .next("If it is the same run, leave one out: a copy is no second unit."),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(change: usize) -> PressureTrace {
        let pressures_pa = (0..1000)
            .map(|row| f64::from(row) + if row < change as i32 { 0.5 } else { 0.0 })
            .collect();
        PressureTrace { pressures_pa, ..PressureTrace::default() }
    }

    #[test]
    fn a_copy_with_a_few_changed_samples_is_noticed_and_another_run_is_not() {
        assert!(
            copy_warning(&trace(0), &trace(5), "a")
                .is_some_and(|message| message.code == "INT-049")
        );
        assert!(copy_warning(&trace(0), &trace(500), "a").is_none());
        let still = PressureTrace { pressures_pa: vec![5.0; 100], ..PressureTrace::default() };
        assert!(copy_warning(&still, &still, "a").is_none());
    }
}

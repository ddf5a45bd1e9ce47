//! The bound on the size found with probability 0.9 that the evidence carries,
//! and by which route: decided once, for the claim and for the acceptance
//! criteria.

use crate::notes::Note;
use crate::results::{Detection, Results, SignalDetection};
use crate::wording::rounded;

/// What a bound rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Route {
    /// The line of the readings against size.
    Readings {
        /// Units behind it.
        units: usize,
    },
    /// The curve through hits and misses.
    HitsAndMisses {
        /// Units behind it.
        units: usize,
    },
}

/// Upper bound on the size found with probability 0.9.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DetectionBound {
    /// The bound, flow-equivalent µm.
    pub um: f64,
    /// What it rests on.
    pub route: Route,
}

/// The bound that may be claimed, and why a route before it is not taken.
///
/// Readings come first: they need fewest units and stand without an overlap of
/// hits and misses. Then the curve of hits and misses. Neither beyond the sizes
/// that were tested. `None` where neither carries a bound.
#[must_use]
pub fn detection_bound(
    detection: &Detection,
    signal: Option<&SignalDetection>,
) -> (Option<DetectionBound>, Vec<Note>) {
    let mut refusals = Vec::new();
    if let Some(signal) = signal
        && let Some(um) = signal.a90_95_um
    {
        match readings_carry(detection, signal, um) {
            Some(note) => refusals.push(note),
            None => {
                let route = Route::Readings { units: signal.units };
                return (Some(DetectionBound { um, route }), refusals);
            }
        }
    }
    if let Some(um) = detection.a90_95_um {
        match beyond_tested(detection, um) {
            Some(note) => refusals.push(note),
            None => {
                let route = Route::HitsAndMisses { units: detection.n_units };
                return (Some(DetectionBound { um, route }), refusals);
            }
        }
    }
    (None, refusals)
}

/// Whether the results show that the size found with `probability` is no larger
/// than `at_most_um`; `None` where they cannot say.
///
/// By [`detection_bound`] where there is one; else a single size of which so
/// many units were found that the exact bound alone reaches the probability.
pub(crate) fn bound_met(results: &Results, at_most_um: f64, probability: f64) -> Option<bool> {
    let detection = results.detection.as_ref()?;
    match detection_bound(detection, results.signal.as_ref()).0 {
        Some(bound) => Some(bound.um <= at_most_um),
        None => detection
            .by_size
            .iter()
            .any(|row| row.nominal_um <= at_most_um && row.lower >= probability)
            .then_some(true),
    }
}

/// Smallest and largest label of the sizes tested.
fn tested(detection: &Detection) -> (f64, f64) {
    let sizes = || detection.by_size.iter().map(|row| row.nominal_um);
    (sizes().fold(f64::INFINITY, f64::min), sizes().fold(0.0, f64::max))
}

/// Whether a bound lies outside the sizes that were tested, µm: an
/// extrapolation of the fitted curve.
pub(crate) fn is_beyond((low, high): (f64, f64), um: f64) -> bool {
    um < low || um > high
}

fn beyond_tested(detection: &Detection, um: f64) -> Option<Note> {
    let (low, high) = tested(detection);
    is_beyond((low, high), um).then(|| {
        Note::refusal(
            "bound-beyond-tested-sizes",
            format!(
                "the bound on the size found with probability 0.9 ({} µm) lies outside the sizes \
                 tested ({} to {} µm): it would be an extrapolation",
                rounded(um),
                rounded(low),
                rounded(high)
            ),
            format!("test positive controls on both sides of {} µm", rounded(um)),
        )
    })
}

/// Fewest units for which the coverage of the bound from readings was looked at
/// (`docs/coverage.md`).
const FEWEST_READ: usize = 8;

/// Whether there are enough units, and enough of them read, for a bound from
/// readings.
pub(crate) fn enough_read(units: usize, read: usize) -> bool {
    units >= FEWEST_READ && read >= FEWEST_READ
}

/// Why the bound from readings is not claimed, if it is not.
fn readings_carry(detection: &Detection, signal: &SignalDetection, um: f64) -> Option<Note> {
    let (read, _, _) = signal.read_below_above;
    if !signal.line_holds {
        return Some(Note::refusal(
            "readings-not-claimed",
            "the bound from readings against size is not claimed: checks speak against the line",
            "see the notes of the results for which, and why the readings may leave the line",
        ));
    }
    if !enough_read(signal.units, read) {
        return Some(Note::refusal(
            "readings-not-claimed",
            format!(
                "the bound from readings against size is not claimed: it was tried by simulation \
                 from {FEWEST_READ} units on that were read, and there are {}",
                read.min(signal.units)
            ),
            "test more positive controls whose rise lies between the noise and the limits",
        ));
    }
    beyond_tested(detection, um)
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::results::SizeRow;

    pub(crate) fn detection(sizes: [f64; 2], a90_95_um: Option<f64>) -> Detection {
        let row = |nominal_um| SizeRow { nominal_um, hits: 1, of: 2, lower: 0.1 };
        Detection {
            limit_pa: 1.0,
            separation: "none".to_owned(),
            link: "logit".to_owned(),
            intercept: None,
            slope: None,
            a50_um: None,
            a90_um: None,
            a90_95_um,
            a90_95_method: None,
            bracket_um: None,
            n_units: 4,
            by_size: sizes.map(row).to_vec(),
            curve: Vec::new(),
        }
    }

    pub(crate) fn signal(a90_95_um: f64, units: usize, line_holds: bool) -> SignalDetection {
        SignalDetection {
            blank_pa: 1.0,
            threshold_pa: 1.0,
            floor_pa: 0.3,
            intercept: 0.0,
            slope: 2.0,
            scatter: 0.1,
            a50_um: None,
            a90_um: None,
            a90_95_um: Some(a90_95_um),
            a90_95_method: String::new(),
            units,
            read_below_above: (units, 0, 0),
            line_holds,
            curve: Vec::new(),
        }
    }

    #[test]
    fn a_bound_outside_the_tested_sizes_is_refused() {
        let of = detection([2.0, 6.0], None);
        assert!(beyond_tested(&of, 4.0).is_none());
        for um in [1.9, 6.1] {
            let note = beyond_tested(&of, um).expect("refused");
            assert_eq!(note.code, "bound-beyond-tested-sizes");
            assert!(!note.next_step.is_empty());
        }
    }

    #[test]
    fn readings_come_first_where_they_carry_a_bound() {
        let hits = detection([2.0, 6.0], Some(5.0));
        let route = |signal: &SignalDetection| {
            let (bound, refusals) = detection_bound(&hits, Some(signal));
            (bound.expect("a bound"), refusals.len())
        };
        let by_hits = DetectionBound { um: 5.0, route: Route::HitsAndMisses { units: 4 } };
        let by_readings = DetectionBound { um: 3.0, route: Route::Readings { units: 20 } };
        assert_eq!(route(&signal(3.0, 20, true)), (by_readings, 0));
        // A bent line, too few units, and an extrapolation each give way.
        for weak in [signal(3.0, 20, false), signal(3.0, 7, true), signal(1.5, 20, true)] {
            assert_eq!(route(&weak), (by_hits, 1), "{weak:?}");
        }
        let none = detection([2.0, 6.0], Some(7.0));
        let (bound, refusals) = detection_bound(&none, None);
        assert_eq!((bound, refusals.len()), (None, 1));
    }
}

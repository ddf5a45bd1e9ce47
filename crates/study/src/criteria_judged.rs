//! Acceptance criteria judged by the results.

use crate::criteria::{BENT_BELOW, BOUND_PROBABILITY, Criterion, Subject};
use crate::detection_bound::bound_met;
use crate::results::Results;
use crate::runs::{Run, RunClass};

/// How a criterion came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Met {
    /// The results show it.
    Yes,
    /// The results show that it does not hold.
    No,
    /// The results lack what it asks for: it is not met, and not refuted.
    CannotSay,
}

impl Met {
    /// The words that are printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Yes => "met",
            Self::No => "not met",
            Self::CannotSay => "cannot be said",
        }
    }
}

/// Judges one criterion.
#[must_use]
pub fn judge(criterion: &Criterion, results: &Results, runs: &[Run]) -> Met {
    let of = |answer: Option<bool>| {
        answer.map_or(Met::CannotSay, |met| if met { Met::Yes } else { Met::No })
    };
    let limit = results.reject_limit.as_ref().map(|limit| limit.limit_pa);
    let detection = results.detection.as_ref();
    match criterion.subject {
        Subject::FalseRejects => of(limit.map(|limit| {
            runs.iter()
                .filter(|run| run.class == RunClass::NegativeControl)
                .all(|run| !run.ended.by_limit() && run.features.is_none_or(|f| f.rise_pa <= limit))
        })),
        Subject::LimitLeavesRoom { at_most_pa } => of(limit.map(|limit| limit <= at_most_pa)),
        Subject::LargeLeaksFound { from_um } => of(detection.and_then(|detection| {
            let mut large =
                detection.by_size.iter().filter(|row| is_large(row.nominal_um, from_um)).peekable();
            large.peek()?;
            Some(large.all(|row| row.hits == row.of))
        })),
        Subject::DetectionBound { at_most_um } => {
            of(bound_met(results, at_most_um, BOUND_PROBABILITY))
        }
        Subject::FlowCalibration { at_most_pa_m3_per_s } => {
            of(results.flow_calibration.as_ref().and_then(|found| {
                let limit = found.detection_limit?;
                let straight = found.lack_of_fit_p.is_none_or(|p| p >= BENT_BELOW);
                Some(straight && limit <= at_most_pa_m3_per_s)
            }))
        }
        Subject::AgedStillFound => {
            let rows = &results.ageing;
            of((rows.iter().filter(|row| row.of > 0).count() > 1)
                .then(|| rows.iter().all(|row| row.closed == 0)))
        }
    }
}

/// Whether a label counts as at least this size; it is rounded to hundredths of
/// a micrometre.
pub(crate) fn is_large(nominal_um: f64, from_um: f64) -> bool {
    nominal_um >= from_um - 0.006
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::detection_bound::tests::{detection, signal};
    use crate::results::{Accounting, AgeRow, Detection, FlowCalibration, Interval, SizeRow};

    fn none() -> Results {
        Results {
            signal: None,
            method_version: 1,
            accounting: Accounting::default(),
            reject_limit: None,
            detection: None,
            by_kind: Vec::new(),
            flow_calibration: None,
            ageing: Vec::new(),
            notes: Vec::new(),
        }
    }

    fn criterion(subject: Subject) -> Criterion {
        Criterion { code: String::new(), subject, sentence: String::new() }
    }

    #[test]
    fn what_was_not_measured_is_neither_met_nor_refuted() {
        for subject in [
            Subject::FalseRejects,
            Subject::LimitLeavesRoom { at_most_pa: 1.0 },
            Subject::LargeLeaksFound { from_um: 1.0 },
            Subject::DetectionBound { at_most_um: 1.0 },
            Subject::FlowCalibration { at_most_pa_m3_per_s: 1.0 },
            Subject::AgedStillFound,
        ] {
            assert_eq!(judge(&criterion(subject), &none(), &[]), Met::CannotSay, "{subject:?}");
        }
    }

    /// Hits and misses that leave the bound open (or wide), and readings that
    /// give one: the criterion goes by the readings, as the claim does.
    #[test]
    fn the_detection_bound_goes_by_the_readings_first() {
        let sizes = [(2.0, 0), (4.0, 10), (6.0, 10)];
        let row = |(nominal_um, hits)| SizeRow { nominal_um, hits, of: 10, lower: 0.74 };
        let detection = |a90_95_um, bracket_um| Detection {
            separation: "complete".to_owned(),
            bracket_um,
            n_units: 30,
            by_size: sizes.map(row).to_vec(),
            ..detection([2.0, 6.0], a90_95_um)
        };
        let signal = |a90_95_um, line_holds| signal(a90_95_um, 30, line_holds);
        let with = |detection: Detection, signal| {
            let results = Results { detection: Some(detection), signal, ..none() };
            judge(&criterion(Subject::DetectionBound { at_most_um: 4.5 }), &results, &[])
        };
        // Separated: the bracket alone proves nothing at 95 % confidence.
        let separated = || detection(None, Some((2.0, 4.0)));
        assert_eq!(with(separated(), None), Met::CannotSay);
        assert_eq!(with(separated(), Some(signal(3.5, true))), Met::Yes);
        assert_eq!(with(separated(), Some(signal(5.0, true))), Met::No);
        assert_eq!(with(separated(), Some(signal(3.5, false))), Met::CannotSay);
        // Both: the readings decide where they may, the hits elsewhere.
        assert_eq!(with(detection(Some(5.0), None), Some(signal(3.5, true))), Met::Yes);
        assert_eq!(with(detection(Some(4.2), None), Some(signal(5.0, true))), Met::No);
        assert_eq!(with(detection(Some(4.2), None), Some(signal(5.0, false))), Met::Yes);
        // Enough units of one size: 29 of 29 found bound 0.9 exactly, since
        // 0.9^29 = 0.047 (hand calculation).
        let mut many = separated();
        many.by_size[1] = SizeRow { nominal_um: 4.0, hits: 29, of: 29, lower: 0.9019 };
        assert_eq!(with(many, None), Met::Yes);
    }

    #[test]
    fn a_bent_line_and_a_high_detection_limit_fail_the_calibration() {
        let interval = Interval { value: 1.0, lower: 0.9, upper: 1.1 };
        let with = |detection_limit, lack_of_fit_p| {
            let mut results = none();
            results.flow_calibration = Some(FlowCalibration {
                levels: Vec::new(),
                n: 15,
                confidence: 0.95,
                intercept_pa: 1.0,
                slope: interval,
                residual_sd_pa: 1.0,
                lack_of_fit_p: Some(lack_of_fit_p),
                critical_flow: None,
                detection_limit: Some(detection_limit),
                flow_at_limit: None,
                free_volume_m3: None,
                method: String::new(),
            });
            let subject = Subject::FlowCalibration { at_most_pa_m3_per_s: 2e-5 };
            judge(&criterion(subject), &results, &[])
        };
        assert_eq!(with(1e-5, 0.4), Met::Yes);
        assert_eq!(with(3e-5, 0.4), Met::No);
        assert_eq!(with(1e-5, 0.004), Met::No);
    }

    #[test]
    fn a_leak_that_closed_fails_the_aged_ones() {
        let row = |age_days, closed| AgeRow {
            age_days,
            hits: 10 - closed,
            of: 10,
            lower: 0.5,
            closed,
            rejected_without_leak: 0,
            without_leak: 5,
        };
        let with = |rows: Vec<AgeRow>| {
            judge(&criterion(Subject::AgedStillFound), &Results { ageing: rows, ..none() }, &[])
        };
        assert_eq!(with(vec![row(0, 0), row(30, 0)]), Met::Yes);
        assert_eq!(with(vec![row(0, 0), row(30, 1)]), Met::No);
        // One age alone says nothing of ageing.
        assert_eq!(with(vec![row(0, 0)]), Met::CannotSay);
    }
}

//! Acceptance criteria judged by the results.

use crate::criteria::{BENT_BELOW, Criterion, Subject};
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
        Subject::DetectionBound { at_most_um } => of(detection.and_then(|detection| {
            // Hits and misses that do not overlap still bracket the transition.
            let bound = detection.a90_95_um.or(detection.bracket_um.map(|bracket| bracket.1));
            bound.map(|um| um <= at_most_um)
        })),
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
    use crate::results::{Accounting, AgeRow, FlowCalibration, Interval};

    fn none() -> Results {
        Results {
            signal: None,
            method_version: 1,
            accounting: Accounting::default(),
            reject_limit: None,
            detection: None,
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

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
        Subject::FalseRejects => of(limit.and_then(|limit| {
            let controls = |run: &Run| run.class == RunClass::NegativeControl;
            let rejected = runs.iter().any(|run| controls(run) && run.found(limit) == Some(true));
            (rejected || all_tell(runs, controls, limit)).then_some(!rejected)
        })),
        Subject::LimitLeavesRoom { at_most_pa } => of(limit.map(|limit| limit <= at_most_pa)),
        Subject::LargeLeaksFound { from_um } => of(detection.and_then(|detection| {
            let mut large =
                detection.by_size.iter().filter(|row| is_large(row.nominal_um, from_um)).peekable();
            large.peek()?;
            let found = large.all(|row| row.hits == row.of);
            let controls = |run: &Run| {
                run.detection_size_um().is_some()
                    && matches!(run.class, RunClass::PositiveControl { nominal_um, .. }
                        if is_large(nominal_um, from_um))
            };
            (!found || all_tell(runs, controls, detection.limit_pa)).then_some(found)
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
            let found = rows.iter().all(|row| row.closed == 0);
            let leaks =
                |run: &Run| matches!(run.class, RunClass::AgedControl { nominal_um: Some(_), .. });
            let told = || results.limit_in_force_pa().is_none_or(|pa| all_tell(runs, leaks, pa));
            let of_ages = rows.iter().filter(|row| row.of > 0).count() > 1;
            of((of_ages && (!found || told())).then_some(found))
        }
    }
}

/// Whether every unit among some runs has a run with a result. A unit whose
/// runs were all aborted, or whose gauge was full, is neither found nor tight: a
/// criterion over all units is not met without it.
fn all_tell(runs: &[Run], of: impl Fn(&Run) -> bool, limit_pa: f64) -> bool {
    let key = |run: &Run| (run.unit.clone(), run.class.age_days());
    let told: std::collections::BTreeSet<_> = runs
        .iter()
        .filter(|run| of(run) && !run.unit.is_empty() && run.found(limit_pa).is_some())
        .map(key)
        .collect();
    runs.iter()
        .filter(|run| of(run))
        .all(|run| run.found(limit_pa).is_some() || told.contains(&key(run)))
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
    use crate::results::{
        Accounting, AgeRow, Detection, FlowCalibration, Interval, RejectLimit, SizeRow,
    };
    use crate::runs::Ended;

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

    fn limit(limit_pa: f64) -> RejectLimit {
        RejectLimit {
            limit_pa,
            method: String::new(),
            n: 30,
            mean_pa: 5.0,
            standard_deviation_pa: 1.0,
            factor: 3.0,
            content: 0.99,
            confidence: 0.95,
            by_day: Vec::new(),
            by_lot: Vec::new(),
        }
    }

    fn ended(unit: &str, class: RunClass, ended: Ended) -> Run {
        Run { ended, ..Run::invented(unit, class, 1.0) }
    }

    /// A full gauge and a lost run are neither tight nor rejected; a repeat of
    /// the unit with a result settles it. The runs keep features on purpose: a
    /// table of results may give an aborted run a reading.
    #[test]
    fn a_full_gauge_and_an_aborted_run_are_no_pass_and_no_reject() {
        let results = Results { reject_limit: Some(limit(10.0)), ..none() };
        let tight = Run::invented("N1", RunClass::NegativeControl, 5.0);
        let with = |more: Vec<Run>| {
            let runs = [vec![tight.clone()], more].concat();
            judge(&criterion(Subject::FalseRejects), &results, &runs)
        };
        let negative = |how| ended("N2", RunClass::NegativeControl, how);
        let aborted = || Ended::Aborted { cause: "power lost".to_owned() };
        let full = |at_least_pa| Ended::GaugeFull { at_least_pa };
        assert_eq!(with(Vec::new()), Met::Yes);
        assert_eq!(with(vec![negative(aborted())]), Met::CannotSay);
        assert_eq!(with(vec![negative(full(0.0))]), Met::CannotSay);
        assert_eq!(with(vec![negative(full(10.5))]), Met::No);
        assert_eq!(with(vec![negative(Ended::RiseLimit { tier: 1 })]), Met::No);
        let again = Run::invented("N2", RunClass::NegativeControl, 6.0);
        assert_eq!(with(vec![negative(aborted()), again]), Met::Yes);
    }

    #[test]
    fn a_large_leak_without_a_result_is_not_among_those_found() {
        let row = SizeRow { nominal_um: 6.0, hits: 9, of: 9, lower: 0.7 };
        let detection =
            Detection { limit_pa: 10.0, by_size: vec![row], ..detection([6.0, 6.0], None) };
        let results = Results { detection: Some(detection), ..none() };
        let class = RunClass::PositiveControl { nominal_um: 6.0, verified_um: None };
        let with = |run: Run| {
            judge(&criterion(Subject::LargeLeaksFound { from_um: 5.0 }), &results, &[run])
        };
        assert_eq!(with(Run::invented("P1", class, 50.0)), Met::Yes);
        for how in
            [Ended::Aborted { cause: "lid".to_owned() }, Ended::GaugeFull { at_least_pa: 0.0 }]
        {
            assert_eq!(with(ended("P1", class, how)), Met::CannotSay);
        }
        assert_eq!(with(ended("P1", class, Ended::GaugeFull { at_least_pa: 11.0 })), Met::Yes);
        let small = RunClass::PositiveControl { nominal_um: 2.0, verified_um: None };
        assert_eq!(with(ended("P2", small, Ended::GaugeFull { at_least_pa: 0.0 })), Met::Yes);
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

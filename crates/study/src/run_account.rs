//! Account of the runs: every planned run and every run done, with what became
//! of it. Nothing is left out in silence.

use crate::plan::Plan;
use crate::runs::{Ended, Run, RunClass};

/// What became of a planned or an unplanned run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// Planned, and no run of this unit is in the case.
    NotDone,
    /// Every stage ran to its end.
    Completed,
    /// Ended by a limit: the unit was rejected, its rise is censored.
    EndedByLimit,
    /// The gauge stood at the end of its range: the rise is only known to be at
    /// least something.
    GaugeFull,
    /// Stopped for another cause: missing, not passed.
    Aborted {
        /// The cause as it was recorded.
        cause: String,
    },
}

/// How a run counts in the results.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// In the reject limit.
    InLimit,
    /// In detection.
    InDetection,
    /// Among the controls whose leak the liquid covers.
    InLiquidSide,
    /// In the flow calibration.
    InCalibration,
    /// In the aged controls.
    InAgeing,
    /// It diagnoses the rig and sets nothing.
    RigOnly,
    /// A repeat of a unit that counts already.
    Repeat,
    /// It has no rise to count.
    NoRise,
    /// Nothing has been measured.
    Nothing,
}

impl Counted {
    /// The words that are printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::InLimit => "reject limit",
            Self::InDetection => "detection",
            Self::InLiquidSide => "liquid side",
            Self::InCalibration => "flow calibration",
            Self::InAgeing => "aged controls",
            Self::RigOnly => "rig only",
            Self::Repeat => "a repeat",
            Self::NoRise => "not counted",
            Self::Nothing => "nothing measured",
        }
    }
}

/// A planned run or a run done, accounted for.
#[derive(Debug, Clone, PartialEq)]
pub struct AccountedRun {
    /// Position in the plan; absent for a run that was not planned.
    pub planned: Option<u32>,
    /// Number of the run; absent where it was not done.
    pub done: Option<u32>,
    /// Mark on the unit.
    pub unit: String,
    /// What the unit is.
    pub class: RunClass,
    /// What became of it.
    pub fate: Fate,
    /// Number of the earlier run of the same unit, for a repeat.
    pub repeats: Option<u32>,
    /// How it counts.
    pub counted: Counted,
}

/// Every run accounted for.
#[derive(Debug, Clone, PartialEq)]
pub struct RunAccount {
    /// Runs in the plan; `None` without a plan.
    pub planned: Option<usize>,
    /// The rows: runs in the order in which they were done, then planned runs
    /// that were not done.
    pub rows: Vec<AccountedRun>,
}

impl RunAccount {
    /// Number of rows for which something holds.
    #[must_use]
    pub fn count(&self, holds: impl Fn(&AccountedRun) -> bool) -> usize {
        self.rows.iter().filter(|row| holds(row)).count()
    }

    /// Rows that need a word: not done, not planned, repeated, aborted, without
    /// a result, with the gauge at its end, ended by a limit without being a
    /// positive control.
    #[must_use]
    pub fn exceptions(&self) -> Vec<&AccountedRun> {
        let positive = |row: &AccountedRun| matches!(row.class, RunClass::PositiveControl { .. });
        self.rows
            .iter()
            .filter(|row| {
                matches!(row.fate, Fate::NotDone | Fate::Aborted { .. } | Fate::GaugeFull)
                    || row.counted == Counted::NoRise
                    || (self.planned.is_some() && row.planned.is_none())
                    || row.repeats.is_some()
                    || (row.fate == Fate::EndedByLimit && !positive(row))
            })
            .collect()
    }
}

/// Accounts for every planned run and every run done. A run belongs to the
/// first planned run of the same unit that is still open; a further run of a
/// unit is a repeat. With `limit_pa`, the limit in force, it is known which runs
/// with the gauge at its end were found.
#[must_use]
pub fn account_for_runs(plan: Option<&Plan>, runs: &[Run], limit_pa: Option<f64>) -> RunAccount {
    let mut open: Vec<Option<(u32, &str, RunClass)>> = plan
        .map(|plan| {
            plan.runs.iter().map(|run| Some((run.number, run.unit.as_str(), run.class))).collect()
        })
        .unwrap_or_default();
    let mut rows: Vec<AccountedRun> = Vec::with_capacity(runs.len().max(open.len()));
    for run in runs {
        let place = open
            .iter_mut()
            .find(|planned| planned.is_some_and(|(_, unit, _)| unit == run.unit.as_str()));
        let planned = place.and_then(Option::take).map(|(number, _, _)| number);
        let repeats = rows.iter().find(|row| row.unit == run.unit).and_then(|row| row.done);
        let fate = match &run.ended {
            Ended::Completed => Fate::Completed,
            Ended::ReachLimit { .. } | Ended::RiseLimit { .. } => Fate::EndedByLimit,
            Ended::GaugeFull { .. } => Fate::GaugeFull,
            Ended::Aborted { cause } => Fate::Aborted { cause: cause.clone() },
        };
        let mut counted = counted(run, limit_pa);
        // The first run of a unit with a result counts, as in the results.
        let by_unit =
            matches!(counted, Counted::InLimit | Counted::InDetection | Counted::InLiquidSide);
        let same = |row: &AccountedRun| row.unit == run.unit && row.counted == counted;
        if by_unit && !run.unit.is_empty() && rows.iter().any(same) {
            counted = Counted::Repeat;
        }
        rows.push(AccountedRun {
            planned,
            done: Some(run.number),
            unit: run.unit.clone(),
            class: run.class,
            counted,
            fate,
            repeats,
        });
    }
    rows.extend(open.into_iter().flatten().map(|(number, unit, class)| AccountedRun {
        planned: Some(number),
        done: None,
        unit: unit.to_owned(),
        class,
        fate: Fate::NotDone,
        repeats: None,
        counted: Counted::Nothing,
    }));
    RunAccount { planned: plan.map(|plan| plan.runs.len()), rows }
}

/// As [`crate::results::evaluate`] counts it.
fn counted(run: &Run, limit_pa: Option<f64>) -> Counted {
    let measured = run.measured().is_some();
    // Whether it is counted with a gauge at its end depends on the limit.
    let judged = limit_pa.map_or(measured || run.ended.by_limit(), |pa| run.found(pa).is_some());
    match run.class {
        RunClass::Blank => Counted::RigOnly,
        RunClass::NegativeControl if measured => Counted::InLimit,
        RunClass::PositiveControl { .. } if judged => {
            if run.detection_size_um().is_some() {
                Counted::InDetection
            } else {
                Counted::InLiquidSide
            }
        }
        RunClass::FlowChallenge { .. } if measured => Counted::InCalibration,
        RunClass::AgedControl { .. } if judged => Counted::InAgeing,
        _ => Counted::NoRise,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::PlannedRun;
    use crate::runs::RunOrigin;

    fn planned(number: u32, unit: &str) -> PlannedRun {
        PlannedRun {
            number,
            unit: unit.to_owned(),
            class: RunClass::NegativeControl,
            day: 1,
            factors: Default::default(),
        }
    }

    fn run(number: u32, unit: &str, ended: Ended) -> Run {
        Run {
            number,
            unit: unit.to_owned(),
            class: RunClass::NegativeControl,
            day: 1,
            factors: Default::default(),
            ended,
            features: None,
            trace: physics::trace::PressureTrace::default(),
            origin: RunOrigin::Simulated { seed: 1 },
        }
    }

    #[test]
    fn what_counts_nowhere_needs_a_word() {
        let class = RunClass::PositiveControl { nominal_um: 5.0, verified_um: None };
        let full = |unit: &str, at_least_pa| Run {
            class,
            ..run(1, unit, Ended::GaugeFull { at_least_pa })
        };
        let done = |unit: &str| Run::invented(unit, RunClass::NegativeControl, 1.0);
        let runs = [
            full("P1", 0.0),
            full("P2", 20.0),
            // Completed, and nothing was read.
            run(3, "N1", Ended::Completed),
            done("N2"),
            done("N2"),
            // A reading beside an abort is none.
            Run { ended: Ended::Aborted { cause: "lid".to_owned() }, ..done("N3") },
        ];
        let account = account_for_runs(None, &runs, Some(10.0));
        let counted: Vec<_> = account.rows.iter().map(|row| row.counted).collect();
        assert_eq!(
            counted,
            [
                Counted::NoRise,
                Counted::InDetection,
                Counted::NoRise,
                Counted::InLimit,
                Counted::Repeat,
                Counted::NoRise,
            ]
        );
        let exceptions: Vec<_> = account.exceptions().iter().map(|row| row.unit.as_str()).collect();
        assert_eq!(exceptions, ["P1", "P2", "N1", "N2", "N3"]);
    }

    #[test]
    fn what_was_not_done_repeated_or_never_planned_is_seen() {
        let plan = Plan {
            seed: 1,
            runs: vec![planned(1, "N1"), planned(2, "N2"), planned(3, "N3")],
            criteria: Vec::new(),
            notes: Vec::new(),
        };
        let aborted = Ended::Aborted { cause: "power lost".to_owned() };
        let runs = [
            run(1, "N1", aborted),
            run(2, "N1", Ended::Completed),
            Run { number: 3, ..Run::invented("N2", RunClass::NegativeControl, 1.0) },
            run(4, "X9", Ended::Completed),
        ];
        let account = account_for_runs(Some(&plan), &runs, None);
        let facts: Vec<_> = account
            .rows
            .iter()
            .map(|row| (row.planned, row.done, row.unit.as_str(), row.repeats))
            .collect();
        assert_eq!(
            facts,
            [
                (Some(1), Some(1), "N1", None),
                (None, Some(2), "N1", Some(1)),
                (Some(2), Some(3), "N2", None),
                (None, Some(4), "X9", None),
                (Some(3), None, "N3", None),
            ]
        );
        let exceptions: Vec<_> = account.exceptions().iter().map(|row| row.unit.as_str()).collect();
        assert_eq!(exceptions, ["N1", "N1", "X9", "N3"]);
        assert_eq!(account.rows[0].fate, Fate::Aborted { cause: "power lost".to_owned() });
    }
}

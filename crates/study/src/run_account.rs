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

    /// Rows that need a word: not done, not planned, repeated, aborted, ended
    /// by a limit without being a positive control.
    #[must_use]
    pub fn exceptions(&self) -> Vec<&AccountedRun> {
        let positive = |row: &AccountedRun| matches!(row.class, RunClass::PositiveControl { .. });
        self.rows
            .iter()
            .filter(|row| {
                matches!(row.fate, Fate::NotDone | Fate::Aborted { .. })
                    || (self.planned.is_some() && row.planned.is_none())
                    || row.repeats.is_some()
                    || (row.fate == Fate::EndedByLimit && !positive(row))
            })
            .collect()
    }
}

/// Accounts for every planned run and every run done. A run belongs to the
/// first planned run of the same unit that is still open; a further run of a
/// unit is a repeat.
#[must_use]
pub fn account_for_runs(plan: Option<&Plan>, runs: &[Run]) -> RunAccount {
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
            Ended::Aborted { cause } => Fate::Aborted { cause: cause.clone() },
        };
        rows.push(AccountedRun {
            planned,
            done: Some(run.number),
            unit: run.unit.clone(),
            class: run.class,
            counted: counted(run),
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
fn counted(run: &Run) -> Counted {
    match (run.class, run.features.is_some(), &run.ended) {
        (RunClass::Blank, ..) => Counted::RigOnly,
        (RunClass::NegativeControl, true, _) => Counted::InLimit,
        (RunClass::PositiveControl { .. }, read, ended)
            if ended.by_limit() || (read && *ended == Ended::Completed) =>
        {
            if run.detection_size_um().is_some() {
                Counted::InDetection
            } else {
                Counted::InLiquidSide
            }
        }
        (RunClass::FlowChallenge { .. }, true, Ended::Completed) => Counted::InCalibration,
        (RunClass::AgedControl { .. }, _, ended) if ended.by_limit() => Counted::InAgeing,
        (RunClass::AgedControl { .. }, true, Ended::Completed) => Counted::InAgeing,
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
            run(3, "N2", Ended::Completed),
            run(4, "X9", Ended::Completed),
        ];
        let account = account_for_runs(Some(&plan), &runs);
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

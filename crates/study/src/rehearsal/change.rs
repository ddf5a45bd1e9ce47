//! The plan with more and fewer units, days, lots or rigs.

use std::collections::BTreeMap;

use crate::plan::Plan;
use crate::run_factors::LeakSide;
use crate::runs::marks;
use crate::unit_class::RunClass;

/// A unit of a rehearsal. Lots and rigs are counted from 1; 0 where the plan
/// does not say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unit {
    pub class: RunClass,
    pub day: u32,
    pub lot: u32,
    pub rig: u32,
    pub liquid_side: bool,
}

/// What is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part {
    Negative,
    Positive,
    Flows,
    Days,
    Lots,
    Rigs,
}

impl Part {
    pub const fn words(self) -> &'static str {
        match self {
            Self::Negative => "negative controls",
            Self::Positive => "positive controls",
            Self::Flows => "flow challenges",
            Self::Days => "days",
            Self::Lots => "lots",
            Self::Rigs => "rigs",
        }
    }

    /// Whether the part groups units: then more of it needs no more runs.
    pub const fn groups(self) -> bool {
        matches!(self, Self::Days | Self::Lots | Self::Rigs)
    }
}

/// A part of the plan, halved or doubled; `None` leaves it as it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Change {
    pub part: Option<Part>,
    pub is_twice: bool,
}

impl Change {
    pub const NONE: Self = Self { part: None, is_twice: false };

    /// The changes that a plan allows: half and twice of each part that it has.
    pub fn of(plan: &Plan) -> Vec<Self> {
        let has = |part: Part| match part {
            Part::Negative | Part::Positive => true,
            Part::Flows => plan.runs.iter().any(|run| run.class.flow_pa_m3_per_s().is_some()),
            Part::Days => {
                let mut days = plan.runs.iter().map(|run| run.day);
                days.next().is_some_and(|first| days.any(|day| day != first))
            }
            Part::Lots => marks(plan, |run| &run.factors.lot).len() > 1,
            Part::Rigs => marks(plan, |run| &run.factors.rig).len() > 1,
        };
        [Part::Negative, Part::Positive, Part::Flows, Part::Days, Part::Lots, Part::Rigs]
            .into_iter()
            .filter(|part| has(*part))
            .flat_map(|part| [false, true].map(|is_twice| Self { part: Some(part), is_twice }))
            .collect()
    }

    pub fn words(&self) -> String {
        let times = if self.is_twice { "twice" } else { "half" };
        self.part
            .map_or_else(|| "as planned".to_owned(), |part| format!("{times} the {}", part.words()))
    }

    /// The units of the plan, so changed. A half keeps every second unit of its
    /// kind, twice doubles each. Half the lots puts two into one, twice the lots
    /// deals the units of one among two; so with days and rigs.
    pub fn apply(&self, plan: &Plan) -> Vec<Unit> {
        let lots = marks(plan, |run| &run.factors.lot);
        let rigs = marks(plan, |run| &run.factors.rig);
        let place = |marks: &[&str], mark: &str| {
            let found = marks.iter().position(|one| *one == mark);
            found.map_or(0, |place| place as u32 + 1)
        };
        let factor = |part: Part| match (self.part == Some(part), self.is_twice) {
            (false, _) => 1.0,
            (true, false) => 0.5,
            (true, true) => 2.0,
        };
        let mut owed: BTreeMap<u8, f64> = BTreeMap::new();
        let mut out = Vec::new();
        for run in plan.runs.iter().filter(|run| run.class != RunClass::Blank) {
            let unit = Unit {
                class: run.class,
                day: run.day,
                lot: place(&lots, &run.factors.lot),
                rig: place(&rigs, &run.factors.rig),
                liquid_side: run.factors.side == Some(LeakSide::Liquid),
            };
            let times = match run.class {
                RunClass::NegativeControl => factor(Part::Negative),
                RunClass::PositiveControl { .. } => factor(Part::Positive),
                RunClass::FlowChallenge { .. } => factor(Part::Flows),
                RunClass::Blank | RunClass::AgedControl { .. } => 1.0,
            };
            let owed = owed.entry(run.class.kind_order()).or_insert(0.0);
            *owed += times;
            while *owed >= 1.0 - 1e-9 {
                out.push(unit);
                *owed -= 1.0;
            }
        }
        match self.part {
            Some(Part::Days) => self.regroup(&mut out, |unit| &mut unit.day),
            Some(Part::Lots) => self.regroup(&mut out, |unit| &mut unit.lot),
            Some(Part::Rigs) => self.regroup(&mut out, |unit| &mut unit.rig),
            _ => {}
        }
        out
    }

    fn regroup(&self, units: &mut [Unit], of: fn(&mut Unit) -> &mut u32) {
        // Dealt in turn within each class and group, so that both halves get of
        // every kind.
        let mut dealt: BTreeMap<(u8, u32), u32> = BTreeMap::new();
        for unit in units {
            let kind = unit.class.kind_order();
            let group = of(unit);
            if *group == 0 {
                continue;
            }
            *group = if self.is_twice {
                let turn = dealt.entry((kind, *group)).or_insert(0);
                *turn += 1;
                2 * *group - *turn % 2
            } else {
                group.div_ceil(2)
            };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::PlannedRun;
    use crate::run_factors::RunFactors;

    /// Twelve negative controls of three lots on two days.
    fn plan() -> Plan {
        let runs = (0..12)
            .map(|number| PlannedRun {
                number,
                unit: format!("N{number}"),
                class: RunClass::NegativeControl,
                day: 1 + number % 2,
                factors: RunFactors {
                    lot: format!("L{}", 1 + number / 4),
                    rig: "R1".to_owned(),
                    ..RunFactors::default()
                },
            })
            .collect();
        Plan { seed: 1, runs, criteria: Vec::new(), notes: Vec::new() }
    }

    #[test]
    fn halves_and_doubles_keep_or_change_the_runs() {
        let plan = plan();
        let words: Vec<String> = Change::of(&plan).iter().map(Change::words).collect();
        // One rig and no flow: neither is varied.
        assert_eq!(
            words,
            [
                "half the negative controls",
                "twice the negative controls",
                "half the positive controls",
                "twice the positive controls",
                "half the days",
                "twice the days",
                "half the lots",
                "twice the lots",
            ]
        );
        let lots = |part, is_twice| {
            let units = Change { part: Some(part), is_twice }.apply(&plan);
            let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
            units.iter().for_each(|unit| *counts.entry(unit.lot).or_insert(0) += 1);
            (units.len(), counts.into_values().collect::<Vec<_>>())
        };
        assert_eq!(lots(Part::Lots, true), (12, vec![2; 6]));
        assert_eq!(lots(Part::Lots, false), (12, vec![8, 4]));
        assert_eq!(lots(Part::Negative, false), (6, vec![2; 3]));
        assert_eq!(lots(Part::Negative, true), (24, vec![8; 3]));
    }
}

//! The plan: which units, how many, in which order.

use serde::{Deserialize, Serialize};
use study::Plan;
use study::criteria::{Criterion, Subject};
use study::plan::PlannedRun;

use super::notes::NoteShape;
use super::run::{RunClassShape, RunFactorsShape};
use super::shape::{Decimal, Real, Shape, Unreadable, shape};

shape! {
    PlanShape of Plan {
        seed: Decimal,
        runs: Vec<PlannedRunShape>,
        // Absent in records of versions that worked them out anew.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        criteria: Vec<CriterionShape>,
        notes: Vec<NoteShape>,
    }
}

shape! {
    CriterionShape of Criterion { code: String, subject: SubjectShape, sentence: String }
}

/// What a criterion is about.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum SubjectShape {
    FalseRejects,
    LimitLeavesRoom { at_most_pa: Real },
    LargeLeaksFound { from_um: Real },
    DetectionBound { at_most_um: Real },
    FlowCalibration { at_most_pa_m3_per_s: Real },
    AgedStillFound,
}

impl Shape<Subject> for SubjectShape {
    fn of(from: &Subject) -> Self {
        match *from {
            Subject::FalseRejects => Self::FalseRejects,
            Subject::LimitLeavesRoom { at_most_pa } => {
                Self::LimitLeavesRoom { at_most_pa: Real(at_most_pa) }
            }
            Subject::LargeLeaksFound { from_um } => {
                Self::LargeLeaksFound { from_um: Real(from_um) }
            }
            Subject::DetectionBound { at_most_um } => {
                Self::DetectionBound { at_most_um: Real(at_most_um) }
            }
            Subject::FlowCalibration { at_most_pa_m3_per_s } => {
                Self::FlowCalibration { at_most_pa_m3_per_s: Real(at_most_pa_m3_per_s) }
            }
            Subject::AgedStillFound => Self::AgedStillFound,
        }
    }
    fn back(self) -> Result<Subject, Unreadable> {
        Ok(match self {
            Self::FalseRejects => Subject::FalseRejects,
            Self::LimitLeavesRoom { at_most_pa } => {
                Subject::LimitLeavesRoom { at_most_pa: at_most_pa.0 }
            }
            Self::LargeLeaksFound { from_um } => Subject::LargeLeaksFound { from_um: from_um.0 },
            Self::DetectionBound { at_most_um } => {
                Subject::DetectionBound { at_most_um: at_most_um.0 }
            }
            Self::FlowCalibration { at_most_pa_m3_per_s } => {
                Subject::FlowCalibration { at_most_pa_m3_per_s: at_most_pa_m3_per_s.0 }
            }
            Self::AgedStillFound => Subject::AgedStillFound,
        })
    }
}

shape! {
    PlannedRunShape of PlannedRun {
        number: u32,
        unit: String,
        class: RunClassShape,
        day: u32,
        // Absent in records of versions that did not plan them.
        #[serde(default, skip_serializing_if = "RunFactorsShape::is_empty")]
        factors: RunFactorsShape,
    }
}

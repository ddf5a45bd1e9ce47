//! The plan: which units, how many, in which order.

use study::Plan;
use study::plan::PlannedRun;

use super::notes::NoteShape;
use super::run::RunClassShape;
use super::shape::{Decimal, shape};

shape! {
    PlanShape of Plan { seed: Decimal, runs: Vec<PlannedRunShape>, notes: Vec<NoteShape> }
}

shape! {
    PlannedRunShape of PlannedRun { number: u32, unit: String, class: RunClassShape, day: u32 }
}

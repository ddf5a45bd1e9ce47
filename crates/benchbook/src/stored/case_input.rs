//! What a case begins with.

use study::CaseInput;

use super::method::CycleShape;
use super::profile::ProfileShape;
use super::rig::RigShape;
use super::shape::shape;

shape! {
    CaseInputShape of CaseInput {
        id: String,
        title: String,
        invented: bool,
        question: String,
        profile: ProfileShape,
        rig: RigShape,
        cycle: CycleShape,
    }
}

//! What a case begins with.

use study::CaseInput;
use study::uncertain_input::{Correlation, UncertainInput};

use super::method::CycleShape;
use super::profile::ProfileShape;
use super::rig::RigShape;
use super::shape::{Real, Word, shape, words};

shape! {
    CaseInputShape of CaseInput {
        id: String,
        title: String,
        invented: bool,
        question: String,
        profile: ProfileShape,
        rig: RigShape,
        cycle: CycleShape,
        /// Absent in records written before it was known.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        correlations: Vec<CorrelationShape>,
    }
}

words!(UncertainInput);

shape! {
    CorrelationShape of Correlation { first: Word, second: Word, coefficient: Real }
}

//! What a case begins with.

use study::CaseInput;
use study::storage_budget::StorageBudget;
use study::uncertain_input::{Correlation, UncertainInput};

use super::method::CycleShape;
use super::profile::ProfileShape;
use super::quantities::{Kelvins, Pascals, Seconds};
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
        #[serde(default, skip_serializing_if = "Option::is_none")]
        storage: Option<StorageShape>,
        /// Absent in records written before it was known.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        correlations: Vec<CorrelationShape>,
    }
}

shape! {
    StorageShape of StorageBudget {
        shelf_life: Seconds,
        temperature: Kelvins,
        room: Pascals,
        relative_humidity: Real,
        headspace_pressure: Option<Pascals>,
        oxygen_fraction: Option<Real>,
        water_kg: Option<Real>,
        liquid_loss_kg: Option<Real>,
    }
}

words!(UncertainInput);

shape! {
    CorrelationShape of Correlation { first: Word, second: Word, coefficient: Real }
}

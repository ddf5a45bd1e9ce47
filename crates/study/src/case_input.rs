//! What a person writes down to begin a case.

use physics::cycle::CycleSetup;
use physics::leak_paths::LeakPath;

use crate::cycle::Cycle;
use crate::profile::Profile;
use crate::rig::Rig;
use crate::storage_budget::StorageBudget;
use crate::uncertain_input::Correlation;

/// What a person writes down to begin: a profile, a rig and a first cycle.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseInput {
    /// Short name without spaces, unique in a benchbook.
    pub id: String,
    /// One line that a reader recognises.
    pub title: String,
    /// True for a scenario that was made up.
    pub invented: bool,
    /// The question put to the test, in one sentence.
    pub question: String,
    /// The profile.
    pub profile: Profile,
    /// The rig.
    pub rig: Rig,
    /// The cycle to begin with; open limits are set by the forecast.
    pub cycle: Cycle,
    /// Storage and its budgets, where they are known.
    pub storage: Option<StorageBudget>,
    /// Uncertain inputs that go together; the others vary independently.
    pub correlations: Vec<Correlation>,
}

impl CaseInput {
    /// The physical set-up of the case, with a leak or without one.
    #[must_use]
    pub fn setup(&self, leak: Option<LeakPath>) -> CycleSetup {
        self.cycle.setup(&self.profile, &self.rig, leak)
    }

    /// The storage of the case; a room without any budget where none is stated.
    #[must_use]
    pub fn storage_or_room(&self) -> StorageBudget {
        self.storage.unwrap_or_else(StorageBudget::none)
    }
}

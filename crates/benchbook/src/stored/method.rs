//! Cycle and method.

use study::cycle::Tier;
use study::method::{Cycle, Method, PurposedTier, Reason};

use super::notes::NoteShape;
use super::quantities::{Pascals, Seconds};
use super::shape::shape;

shape! {
    MethodShape of Method {
        version: u32,
        cycle: CycleShape,
        reasons: Vec<ReasonShape>,
        notes: Vec<NoteShape>,
    }
}

shape! {
    CycleShape of Cycle {
        tiers: Vec<PurposedTierShape>,
        sample_interval: Seconds,
        ambient: Pascals,
    }
}

shape! {
    PurposedTierShape of PurposedTier { purpose: String, tier: TierShape }
}

shape! {
    TierShape of Tier {
        evacuate_to: Pascals,
        evacuate_limit: Seconds,
        reach_limit: Option<Pascals>,
        settle: Seconds,
        measure: Seconds,
        rise_limit: Option<Pascals>,
    }
}

shape! {
    ReasonShape of Reason { parameter: String, value: String, reason: String }
}

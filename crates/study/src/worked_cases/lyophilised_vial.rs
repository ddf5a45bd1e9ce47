//! Invented: a 2R vial with a freeze-dried cake, sealed under partial vacuum.

use physics::gases::Gas;
use physics::quantities::{AbsolutePressure, Duration, Length, Volume};

use super::{invented, purpose, rig, tier};
use crate::case_input::CaseInput;
use crate::cycle::{Cycle, PurposedTier};
use crate::profile::{
    Container, ContainerKind, Fill, Headspace, LeakStatement, Mall, Product, Profile, UseOfTest,
};
use crate::provenance::{Provenance, Sourced};
use crate::storage_budget::StorageBudget;

/// A 2R lyophilised vial at 0.3 bar of nitrogen. Brimful volume 4 mL after
/// ISO 8362-1 (from memory); the cake takes little of it.
#[must_use]
pub fn lyophilised_vial() -> CaseInput {
    CaseInput {
        id: "lyo-2r".to_owned(),
        title: "2R vial, freeze-dried, sealed at 0.3 bar nitrogen".to_owned(),
        invented: true,
        question: "Will a vacuum-decay test find a 5 µm flow-equivalent leak in this vial?"
            .to_owned(),
        profile: Profile {
            purpose: purpose(
                UseOfTest::Stability,
                "invented stability lots of one product in 2R vials",
                "a unit above the limit is investigated as a leaking unit",
            ),
            container: Container {
                kind: ContainerKind::Vial,
                description: "2R tubular glass vial, rubber stopper, aluminium crimp".to_owned(),
                wall: Sourced::new(
                    Length::from_mm(1.0),
                    Provenance::assumed("ISO 8362-1, nominal wall (from memory)"),
                ),
                strength: Default::default(),
            },
            product: Product {
                name: "invented freeze-dried powder".to_owned(),
                fill: Fill::Dry,
                may_plug: false,
                liquid: None,
            },
            headspace: Headspace {
                gas: Gas::Nitrogen,
                volume: Sourced::new(Volume::from_ml(3.6), invented())
                    .with_uncertainty_si(Volume::from_ml(0.15).m3()),
                pressure: Sourced::new(AbsolutePressure::from_bar(0.3), invented())
                    .with_uncertainty_si(2000.0),
            },
            mall: Some(Mall {
                stated: LeakStatement::FlowEquivalentDiameter(Length::from_um(5.0)),
                reasoning: "invented: the customer asks for defects from 5 µm flow-equivalent; \
                            retention of the vacuum over shelf life needs a far smaller leak and \
                            is argued from seal quality"
                    .to_owned(),
                provenance: Provenance::assumed("invented customer request"),
            }),
        },
        rig: rig("small vial chamber (invented)", 12.0, 4.0e-4),
        cycle: Cycle {
            tiers: vec![PurposedTier {
                purpose: "leaks from a few µm upward, through the headspace gas".to_owned(),
                tier: tier(100.0, 8.0, 4.0, 10.0),
            }],
            sample_interval: Duration::from_s(0.05),
            ambient: AbsolutePressure::from_pa(101_325.0),
        },
        storage: Some(StorageBudget {
            shelf_life: Duration::from_days(730.0),
            headspace_pressure: Some(AbsolutePressure::from_bar(0.5)),
            oxygen_fraction: Some(0.02),
            water_kg: Some(1.0e-6),
            ..StorageBudget::none()
        }),
        correlations: Vec::new(),
    }
}

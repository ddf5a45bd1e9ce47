//! Invented: a 1 mL syringe with a small bubble, which a large leak empties
//! before the measure stage begins.

use physics::gases::Gas;
use physics::quantities::{AbsolutePressure, Duration, Length, Volume};

use super::{invented, purpose, rig, tier};
use crate::case_input::CaseInput;
use crate::container_strength::ContainerStrength;
use crate::cycle::{Cycle, PurposedTier};
use crate::profile::{
    Container, ContainerKind, Fill, Headspace, LeakStatement, Mall, Product, Profile, UseOfTest,
};
use crate::provenance::{Provenance, Sourced};

/// A 1 mL syringe with 0.05 mL of air under its plunger.
#[must_use]
pub fn syringe() -> CaseInput {
    CaseInput {
        id: "syringe-1ml".to_owned(),
        title: "1 mL syringe, protein solution, 0.05 mL bubble".to_owned(),
        invented: true,
        question: "Which leaks can a vacuum-decay test find through a bubble this small?"
            .to_owned(),
        profile: Profile {
            purpose: purpose(
                UseOfTest::Development,
                "invented development lots of one product in 1 mL syringes",
                "whether vacuum decay may be proposed as the method at all",
            ),
            container: Container {
                kind: ContainerKind::Syringe,
                description: "1 mL glass syringe, plunger restrained, tip cap".to_owned(),
                wall: Sourced::new(Length::from_mm(1.1), invented()),
                strength: ContainerStrength { plunger_held: true, ..ContainerStrength::default() },
            },
            product: Product {
                name: "invented protein solution".to_owned(),
                fill: Fill::Liquid,
                may_plug: true,
                liquid: super::watery(),
            },
            headspace: Headspace {
                gas: Gas::Air,
                volume: Sourced::new(Volume::from_ml(0.05), invented())
                    .with_uncertainty_si(Volume::from_ml(0.01).m3()),
                pressure: Sourced::new(AbsolutePressure::from_atm(1.0), invented())
                    .with_uncertainty_si(1500.0),
            },
            mall: Some(Mall {
                stated: LeakStatement::FlowEquivalentDiameter(Length::from_um(5.0)),
                reasoning: "invented: defects from 5 µm flow-equivalent are to be found".to_owned(),
                provenance: Provenance::assumed("invented customer request"),
            }),
        },
        rig: rig("syringe chamber (invented)", 6.0, 2.0e-4),
        cycle: Cycle {
            tiers: vec![PurposedTier {
                purpose: "leaks of a few µm through the bubble".to_owned(),
                tier: tier(100.0, 5.0, 2.0, 5.0),
            }],
            sample_interval: Duration::from_s(0.05),
            ambient: AbsolutePressure::from_pa(101_325.0),
        },
        storage: None,
        correlations: Vec::new(),
    }
}

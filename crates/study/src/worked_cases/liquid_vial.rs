//! Invented: a 10R vial with a watery solution, tested through its headspace.

use physics::gases::Gas;
use physics::quantities::{AbsolutePressure, Duration, Length, Volume};

use super::{invented, purpose, rig, tier};
use crate::case_input::CaseInput;
use crate::cycle::{Cycle, PurposedTier};
use crate::profile::{
    Container, ContainerKind, Fill, Headspace, LeakStatement, Mall, Product, Profile, UseOfTest,
};
use crate::provenance::{Provenance, Sourced};

/// A 10R vial with 10 mL of solution. Brimful volume 13.5 mL after ISO 8362-1
/// (from memory), so 3.5 mL of headspace.
#[must_use]
pub fn liquid_vial() -> CaseInput {
    CaseInput {
        id: "liquid-10r".to_owned(),
        title: "10R vial, watery solution, headspace at room pressure".to_owned(),
        invented: true,
        question: "Will a vacuum-decay test find a 10 µm flow-equivalent leak above the liquid?"
            .to_owned(),
        profile: Profile {
            purpose: purpose(
                UseOfTest::Release,
                "invented release lots of one product in 10R vials",
                "a sample above the limit stops the lot for investigation",
            ),
            container: Container {
                kind: ContainerKind::Vial,
                description: "10R tubular glass vial, rubber stopper, aluminium crimp".to_owned(),
                wall: Sourced::new(
                    Length::from_mm(1.0),
                    Provenance::assumed("ISO 8362-1, nominal wall (from memory)"),
                ),
                strength: Default::default(),
            },
            product: Product {
                name: "invented watery solution".to_owned(),
                fill: Fill::Liquid,
                may_plug: false,
                liquid: super::watery(),
            },
            headspace: Headspace {
                gas: Gas::Air,
                volume: Sourced::new(Volume::from_ml(3.5), invented())
                    .with_uncertainty_si(Volume::from_ml(0.2).m3()),
                pressure: Sourced::new(AbsolutePressure::from_atm(1.0), invented())
                    .with_uncertainty_si(1500.0),
            },
            mall: Some(Mall {
                stated: LeakStatement::FlowEquivalentDiameter(Length::from_um(10.0)),
                reasoning: "invented: the customer asks for defects from 10 µm flow-equivalent on \
                            the gas side; the seal below is argued from seal quality"
                    .to_owned(),
                provenance: Provenance::assumed("invented customer request"),
            }),
        },
        rig: rig("medium vial chamber (invented)", 25.0, 1.2e-3),
        cycle: Cycle {
            tiers: vec![PurposedTier {
                purpose: "leaks from a few µm upward, through the headspace gas".to_owned(),
                tier: tier(150.0, 10.0, 4.0, 8.0),
            }],
            sample_interval: Duration::from_s(0.05),
            ambient: AbsolutePressure::from_pa(101_325.0),
        },
        storage: None,
        correlations: Vec::new(),
    }
}

//! The profile: purpose, container, product, headspace, leak that matters.

use serde::{Deserialize, Serialize};
use study::container_strength::ContainerStrength;
use study::gases::Gas;
use study::liquids::Solvent;
use study::product_liquid::ProductLiquid;
use study::profile::{
    Container, ContainerKind, Fill, Headspace, LeakStatement, Mall, Product, Profile, Purpose,
    UseOfTest,
};

use super::quantities::{CubicMetres, Fraction, Kelvins, Metres, Pascals, ThroughputShape};
use super::shape::{Real, Shape, Unreadable, Word, shape, words};
use super::sourced::{ProvenanceShape, SourcedShape};

words!(UseOfTest, ContainerKind, Fill);

impl Shape<Gas> for Word {
    fn of(from: &Gas) -> Self {
        Self(from.name().to_owned())
    }
    fn back(self) -> Result<Gas, Unreadable> {
        Gas::from_name(&self.0).ok_or_else(|| Unreadable(format!("`{}` is no gas", self.0)))
    }
}

shape! {
    ProfileShape of Profile {
        purpose: PurposeShape,
        container: ContainerShape,
        product: ProductShape,
        headspace: HeadspaceShape,
        mall: Option<MallShape>,
    }
}

shape! {
    PurposeShape of Purpose {
        use_of_test: Word,
        population: String,
        decision: String,
        tolerable_false_reject: Fraction,
        required_detection: Fraction,
        confidence: Fraction,
    }
}

shape! {
    ContainerShape of Container {
        kind: Word,
        description: String,
        wall: SourcedShape<Metres>,
        // Absent where nothing is stated, as in records written before.
        #[serde(default, skip_serializing_if = "StrengthShape::is_empty")]
        strength: StrengthShape,
    }
}

shape! {
    #[derive(Default)]
    StrengthShape of ContainerStrength {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        withstands: Option<SourcedShape<Pascals>>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        plunger_bore: Option<SourcedShape<Metres>>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        break_loose_n: Option<SourcedShape<Real>>,
        #[serde(default, skip_serializing_if = "is_false")]
        plunger_held: bool,
    }
}

impl StrengthShape {
    fn is_empty(&self) -> bool {
        let Self { withstands, plunger_bore, break_loose_n, plunger_held } = self;
        withstands.is_none() && plunger_bore.is_none() && break_loose_n.is_none() && !plunger_held
    }
}

/// For a statement that older records do not have.
const fn is_false(said: &bool) -> bool {
    !*said
}

shape! {
    ProductShape of Product {
        name: String,
        fill: Word,
        may_plug: bool,
        // Absent in records written before it could be stated.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        liquid: Option<ProductLiquidShape>,
    }
}

shape! {
    ProductLiquidShape of ProductLiquid {
        solvent: Word,
        temperature: Kelvins,
        vapour_pressure: Option<SourcedShape<Pascals>>,
        surface_tension_n_per_m: Option<SourcedShape<Real>>,
        viscosity_pa_s: Option<SourcedShape<Real>>,
        density_kg_per_m3: Option<SourcedShape<Real>>,
        contact_angle_degrees: Option<SourcedShape<Real>>,
        wets_outside: bool,
    }
}

impl Shape<Solvent> for Word {
    fn of(from: &Solvent) -> Self {
        Self(from.pure().name().to_owned())
    }
    fn back(self) -> Result<Solvent, Unreadable> {
        Solvent::from_name(&self.0).ok_or_else(|| Unreadable(format!("`{}` is no solvent", self.0)))
    }
}

shape! {
    HeadspaceShape of Headspace {
        gas: Word,
        volume: SourcedShape<CubicMetres>,
        pressure: SourcedShape<Pascals>,
    }
}

shape! {
    MallShape of Mall { stated: LeakStatementShape, reasoning: String, provenance: ProvenanceShape }
}

/// A leak in the terms in which somebody stated it.
#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub(crate) enum LeakStatementShape {
    FlowEquivalentDiameter(Metres),
    AirFlow(ThroughputShape),
    HeliumFlow(ThroughputShape),
}

impl Shape<LeakStatement> for LeakStatementShape {
    fn of(from: &LeakStatement) -> Self {
        match from {
            LeakStatement::FlowEquivalentDiameter(diameter) => {
                Self::FlowEquivalentDiameter(Shape::of(diameter))
            }
            LeakStatement::AirFlow(flow) => Self::AirFlow(Shape::of(flow)),
            LeakStatement::HeliumFlow(flow) => Self::HeliumFlow(Shape::of(flow)),
        }
    }
    fn back(self) -> Result<LeakStatement, Unreadable> {
        Ok(match self {
            Self::FlowEquivalentDiameter(diameter) => {
                LeakStatement::FlowEquivalentDiameter(diameter.back()?)
            }
            Self::AirFlow(flow) => LeakStatement::AirFlow(flow.back()?),
            Self::HeliumFlow(flow) => LeakStatement::HeliumFlow(flow.back()?),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use study::quantities::{Length, Temperature, Throughput};

    #[test]
    fn every_way_to_state_a_leak_comes_back() {
        let flow = Throughput::from_pa_m3_per_s(6.1e-8, Temperature::from_k(296.15));
        for leak in [
            LeakStatement::FlowEquivalentDiameter(Length::from_um(5.0)),
            LeakStatement::AirFlow(flow),
            LeakStatement::HeliumFlow(flow),
        ] {
            let text = serde_json::to_string(&LeakStatementShape::of(&leak)).unwrap();
            let shape: LeakStatementShape = serde_json::from_str(&text).unwrap();
            assert_eq!(shape.back().unwrap(), leak, "{text}");
        }
    }

    /// Nothing stated is nothing written, as in older records; what is stated comes
    /// back.
    #[test]
    fn a_container_comes_back_with_and_without_its_strength() {
        use study::provenance::{Provenance, Sourced};
        use study::quantities::PressureDifference;
        let mut container = study::worked_cases::lyophilised_vial().profile.container;
        let text =
            |container: &Container| serde_json::to_string(&ContainerShape::of(container)).unwrap();
        assert!(!text(&container).contains("strength"), "{}", text(&container));
        for stated in [false, true] {
            if stated {
                container.strength = ContainerStrength {
                    withstands: Some(
                        Sourced::new(PressureDifference::from_pa(1.5e5), Provenance::assumed("t"))
                            .with_uncertainty_si(1e4),
                    ),
                    plunger_bore: None,
                    break_loose_n: Some(Sourced::new(5.0, Provenance::assumed("t"))),
                    plunger_held: true,
                };
            }
            let shape: ContainerShape = serde_json::from_str(&text(&container)).unwrap();
            assert_eq!(shape.back().unwrap(), container);
        }
    }

    #[test]
    fn every_gas_comes_back() {
        for &gas in Gas::ALL {
            assert_eq!(Shape::<Gas>::back(<Word as Shape<Gas>>::of(&gas)).unwrap(), gas);
        }
    }
}

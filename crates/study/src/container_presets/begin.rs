//! A container turned into the beginning of a case.

use physics::cycle::{Background, Pump, Tier};
use physics::gases::Gas;
use physics::liquids::Solvent;
use physics::quantities::{
    AbsolutePressure, Conductance, Duration, Length, PressureDifference, PressureRate, Probability,
    Temperature, Volume,
};
use physics::sensor::PressureSensor;

use super::ContainerPreset;
use crate::case_input::CaseInput;
use crate::container_strength::ContainerStrength;
use crate::cycle::{Cycle, PurposedTier};
use crate::product_liquid::ProductLiquid;
use crate::profile::{
    Container, ContainerKind, Fill, Headspace, Mall, Product, Profile, Purpose, TO_BE_NAMED,
    UseOfTest,
};
use crate::provenance::{Origin, Provenance, Sourced};
use crate::rig::Rig;

/// What is put into the container, and what the test is for.
#[derive(Debug, Clone, PartialEq)]
pub struct Contents {
    /// Name of the product in plain words.
    pub product: String,
    /// Dry or liquid.
    pub fill: Fill,
    /// Volume of the filling.
    pub fill_volume: Volume,
    /// Whether dried product may close a leak.
    pub may_plug: bool,
    /// Gas of the headspace.
    pub gas: Gas,
    /// Pressure of the headspace at the time of the test.
    pub headspace_pressure: AbsolutePressure,
    /// Volume of the headspace where it is known; otherwise what the filling
    /// leaves of the closed container.
    pub headspace_volume: Option<Volume>,
    /// Where the test is used.
    pub use_of_test: UseOfTest,
    /// The leak that matters, where somebody has said it.
    pub mall: Option<Mall>,
}

/// Why a container and its contents do not make a case.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BeginError {
    /// The filling leaves no room.
    #[error(
        "a filling of {fill_ml} mL leaves no headspace in {name}, which holds {closed_ml} mL when \
         closed; state a smaller filling, a larger container, or the headspace itself"
    )]
    Full {
        /// Container.
        name: &'static str,
        /// Filling, mL.
        fill_ml: f64,
        /// Closed volume, mL.
        closed_ml: f64,
    },
    /// The headspace is set by the filling process.
    #[error(
        "the bubble in {name} is set by filling and stoppering, not by the container; state the \
         headspace volume"
    )]
    BubbleNotStated {
        /// Container.
        name: &'static str,
    },
    /// A volume or pressure without meaning.
    #[error("the {what} must be a number above zero")]
    NotPositive {
        /// Which.
        what: &'static str,
    },
}

/// Begins a case with a container of the list.
///
/// Headspace, where it is not stated: what the filling leaves of the closed
/// container. Rig and cycle are working values for a chamber that fits the
/// container (common practice: free volumes of 5 to 40 mL for vials and
/// syringes, 50 to 500 mL for trays, 0.1 to 3 L for bags and pouches), marked
/// as assumed. Rigid containers are pumped to about 1 mbar, flexible ones and
/// lidded trays to a partial vacuum that their seals stand.
///
/// # Errors
/// Where the filling leaves no headspace, or a bubble was not stated.
pub fn begin(
    id: &str,
    preset: &ContainerPreset,
    contents: &Contents,
) -> Result<CaseInput, BeginError> {
    let fill_ml = contents.fill_volume.ml();
    let positive = |value: f64, what| {
        if value > 0.0 && value.is_finite() {
            Ok(())
        } else {
            Err(BeginError::NotPositive { what })
        }
    };
    positive(contents.headspace_pressure.pa(), "headspace pressure")?;
    let headspace = match (contents.headspace_volume, preset.closed_ml) {
        (Some(volume), _) => {
            positive(volume.m3(), "headspace volume")?;
            Sourced::new(volume, Provenance::assumed("as stated; no source given"))
        }
        (None, None) => return Err(BeginError::BubbleNotStated { name: preset.name }),
        (None, Some(closed_ml)) => {
            if !(fill_ml >= 0.0 && fill_ml < closed_ml) {
                return Err(BeginError::Full { name: preset.name, fill_ml, closed_ml });
            }
            let left_ml = closed_ml - fill_ml;
            // Closure and tolerances: five hundredths of the closed volume.
            Sourced::new(
                Volume::from_ml(left_ml),
                Provenance::computed(format!(
                    "closed volume {closed_ml} mL less {fill_ml} mL of filling; {}",
                    preset.source()
                )),
            )
            .with_uncertainty_si(Volume::from_ml(0.05 * closed_ml).m3())
        }
    };
    // From memory until somebody holds the standard against them, whatever it is.
    let dimension = Provenance::assumed(preset.source());
    let rig = assumed_rig(preset);
    Ok(CaseInput {
        id: id.to_owned(),
        title: format!("{}, {}", preset.description, contents.product),
        invented: false,
        question: match &contents.mall {
            Some(_) => "Will a vacuum-decay test find the leak that matters?".to_owned(),
            None => "Which leaks can a vacuum-decay test find in this container?".to_owned(),
        },
        profile: Profile {
            purpose: Purpose {
                use_of_test: contents.use_of_test,
                population: format!("units of {} ({TO_BE_NAMED})", contents.product),
                decision: format!("{TO_BE_NAMED}: what happens to a unit above the limit"),
                tolerable_false_reject: fraction(0.001),
                required_detection: fraction(0.95),
                confidence: fraction(0.95),
            },
            container: Container {
                kind: preset.kind,
                description: preset.description.to_owned(),
                wall: Sourced::new(Length::from_mm(preset.wall_mm), dimension),
                strength: strength(preset),
            },
            product: Product {
                name: contents.product.clone(),
                fill: contents.fill,
                may_plug: contents.may_plug,
                liquid: match contents.fill {
                    Fill::Liquid => {
                        ProductLiquid::taken_as(Solvent::Water, rig.wall_temperature).ok()
                    }
                    Fill::Dry => None,
                },
            },
            headspace: Headspace {
                gas: contents.gas,
                volume: headspace,
                pressure: Sourced::new(
                    contents.headspace_pressure,
                    Provenance::assumed("as stated; no source given"),
                ),
            },
            mall: contents.mall.clone(),
        },
        rig,
        cycle: first_cycle(preset.kind),
        storage: None,
        correlations: Vec::new(),
    })
}

/// A chamber that leaves a third of the container's own volume around it, and
/// at least 5 mL.
fn assumed_rig(preset: &ContainerPreset) -> Rig {
    let free_ml = (preset.outside_ml() / 3.0).max(5.0);
    let flexible = is_flexible(preset.kind);
    let assumed = || Provenance::assumed("working value until the rig is known");
    Rig {
        name: format!("rig to be named, chamber for {}", preset.name),
        free_volume: Sourced::new(Volume::from_ml(free_ml), assumed())
            .with_uncertainty_si(Volume::from_ml(0.1 * free_ml).m3()),
        wall_temperature: Temperature::from_celsius(20.0),
        thermal_recovery: Duration::from_s(if flexible { 1.5 } else { 0.3 }),
        pump: pump(free_ml),
        background: Background {
            // Walls of chamber and container, by their area: about 1e-5 Pa·m³
            // per cm² after a second of pumping for clean glass and metal,
            // ten times that for polymers (order of magnitude, common
            // practice).
            one_over_t: outgassing_pa_m3(preset),
            one_over_t_offset: Duration::from_s(1.0),
            constant: 0.0,
            virtual_leak: None,
        },
        background_spread: 0.2,
        sensor: sensor(),
        provenance: assumed(),
    }
}

/// A pump that empties a chamber in a few seconds, with its line.
pub(crate) fn pump(free_ml: f64) -> Pump {
    let size = (free_ml / 60.0).max(1.0);
    Pump {
        speed: Conductance::from_l_per_s(0.2 * size),
        line_molecular: Conductance::from_m3_per_s(5.0e-5 * size),
        line_viscous_m3_per_s_pa: 2.0e-8 * size,
        ultimate: AbsolutePressure::from_pa(15.0),
    }
}

/// An absolute sensor of a common class.
pub(crate) fn sensor() -> PressureSensor {
    PressureSensor {
        range: AbsolutePressure::from_pa(110_000.0),
        resolution: PressureDifference::from_pa(0.1),
        white_noise: PressureDifference::from_pa(0.5),
        flicker_noise: PressureDifference::from_pa(0.2),
        drift: PressureRate::from_pa_per_s(0.0),
        zero_shift: None,
    }
}

/// The bore of a plunger is the outer diameter less two walls; the rest nobody
/// has stated yet.
fn strength(preset: &ContainerPreset) -> ContainerStrength {
    let has_plunger = matches!(preset.kind, ContainerKind::Syringe | ContainerKind::Cartridge);
    let plunger_bore = preset.standard.filter(|_| has_plunger).map(|_| {
        let bore_mm = ((preset.width_mm - 2.0 * preset.wall_mm) * 1000.0).round() / 1000.0;
        let from = format!("outer diameter less two walls, nominal, of {}", preset.source());
        Sourced::new(
            Length::from_mm(bore_mm),
            Provenance { origin: Origin::Computed, by: String::new(), on: String::new(), from },
        )
    });
    ContainerStrength { plunger_bore, ..ContainerStrength::default() }
}

fn outgassing_pa_m3(preset: &ContainerPreset) -> f64 {
    let (width_cm, height_cm) = (preset.width_mm / 10.0, preset.height_mm / 10.0);
    let area_cm2 = match preset.kind {
        ContainerKind::Bag | ContainerKind::Pouch | ContainerKind::Tray => {
            2.0 * width_cm * height_cm
        }
        _ => core::f64::consts::PI * width_cm * (height_cm + 0.5 * width_cm),
    };
    let per_cm2 = match preset.kind {
        ContainerKind::Vial
        | ContainerKind::Syringe
        | ContainerKind::Cartridge
        | ContainerKind::Ampoule => 1.0e-5,
        _ => 1.0e-4,
    };
    // The chamber has about the area of the container.
    per_cm2 * area_cm2 + 1.0e-5 * area_cm2
}

/// Walls that give way, or seals that a full vacuum would open.
const fn is_flexible(kind: ContainerKind) -> bool {
    matches!(
        kind,
        ContainerKind::Bag | ContainerKind::Pouch | ContainerKind::Tray | ContainerKind::Bottle
    )
}

fn first_cycle(kind: ContainerKind) -> Cycle {
    let (evacuate_to_pa, limit_s, settle_s, measure_s) = match kind {
        ContainerKind::Bag | ContainerKind::Pouch => (50_000.0, 15.0, 6.0, 15.0),
        ContainerKind::Tray => (60_000.0, 12.0, 6.0, 12.0),
        ContainerKind::Bottle => (50_000.0, 12.0, 6.0, 12.0),
        _ => (150.0, 10.0, 4.0, 8.0),
    };
    Cycle {
        tiers: vec![PurposedTier {
            purpose: "first working values: leaks through the headspace gas".to_owned(),
            tier: Tier {
                evacuate_to: AbsolutePressure::from_pa(evacuate_to_pa),
                evacuate_limit: Duration::from_s(limit_s),
                reach_limit: None,
                settle: Duration::from_s(settle_s),
                measure: Duration::from_s(measure_s),
                rise_limit: None,
            },
        }],
        sample_interval: Duration::from_s(0.05),
        ambient: AbsolutePressure::from_pa(101_325.0),
    }
}

/// A fraction written in the source; the tests see every one.
pub(crate) fn fraction(value: f64) -> Probability {
    Probability::new(value).unwrap_or_else(|| unreachable!("fractions here are constants"))
}

#[cfg(test)]
mod tests {
    use super::super::{all, find};
    use super::*;
    use crate::provenance::Origin;

    pub(super) fn contents(fill_ml: f64) -> Contents {
        Contents {
            product: "a solution".to_owned(),
            fill: Fill::Liquid,
            fill_volume: Volume::from_ml(fill_ml),
            may_plug: false,
            gas: Gas::Air,
            headspace_pressure: AbsolutePressure::from_atm(1.0),
            headspace_volume: None,
            use_of_test: UseOfTest::Development,
            mall: None,
        }
    }

    #[test]
    fn a_10r_with_10_ml_has_3_5_ml_of_headspace() {
        // trade.md 3.5, headspaces for demonstrations (common practice).
        let preset = find("vial-10r").expect("in the list");
        let case = begin("x", &preset, &contents(10.0)).expect("begins");
        assert!((case.profile.headspace.volume.value.ml() - 3.5).abs() < 1e-9);
        assert_eq!(case.profile.container.wall.provenance.origin, Origin::Assumed);
        assert_eq!(case.rig.provenance.origin, Origin::Assumed);
        let free_ml = case.rig.free_volume.value.ml();
        assert!((5.0..40.0).contains(&free_ml), "{free_ml}");
    }

    #[test]
    fn every_container_begins_a_case_that_can_be_forecast() {
        for preset in all() {
            let mut what = contents(0.8 * preset.nominal_ml);
            if preset.closed_ml.is_none() {
                assert_eq!(
                    begin("x", &preset, &what),
                    Err(BeginError::BubbleNotStated { name: preset.name })
                );
                what.headspace_volume = Some(Volume::from_ml(0.1));
            }
            let case = begin("x", &preset, &what).expect(preset.name);
            let outcome = physics::cycle::simulate(&case.setup(None)).expect(preset.name);
            // The working values of the cycle fit those of the rig.
            assert!(outcome.tiers[0].reached_target, "{}", preset.name);
            assert!(outcome.tiers[0].evacuate_end_s > 0.01, "{}", preset.name);
        }
    }

    #[test]
    fn what_does_not_fit_is_refused() {
        let preset = find("vial-2r").expect("in the list");
        assert!(matches!(begin("x", &preset, &contents(4.0)), Err(BeginError::Full { .. })));
        let mut what = contents(1.0);
        what.headspace_volume = Some(Volume::from_ml(0.0));
        assert!(matches!(begin("x", &preset, &what), Err(BeginError::NotPositive { .. })));
        what.headspace_volume = None;
        what.headspace_pressure = AbsolutePressure::from_pa(0.0);
        assert!(matches!(begin("x", &preset, &what), Err(BeginError::NotPositive { .. })));
    }
}

//! Worked cases: invented scenarios of our own, used by the demo, the tests
//! and the documentation. No figure is of a real product or instrument.

mod first_checks;
mod liquid_vial;
mod lyophilised_vial;
mod preset_cases;
mod syringe;

pub use first_checks::{FirstCheck, FirstQuantity, first_check};
pub use liquid_vial::liquid_vial;
pub use lyophilised_vial::lyophilised_vial;
pub use preset_cases::{ageing_syringe, ampoule, bag, blow_fill_seal, bottle, three_sites, tray};
pub use syringe::syringe;

use physics::cycle::{Background, Tier};
use physics::liquids::Solvent;
use physics::quantities::{AbsolutePressure, Duration, Temperature, Volume};

use crate::case_input::CaseInput;
use crate::container_presets::{begin_pump, begin_sensor, fraction};
use crate::product_liquid::ProductLiquid;
use crate::profile::{Purpose, UseOfTest};
use crate::provenance::{Provenance, Sourced};
use crate::rig::Rig;

/// The three that the demonstration walks from profile to report.
#[must_use]
pub fn walked() -> Vec<CaseInput> {
    vec![lyophilised_vial(), liquid_vial(), syringe()]
}

/// Every worked case; the first three are [`walked`].
#[must_use]
pub fn all() -> Vec<CaseInput> {
    let mut cases = walked();
    cases.extend([
        ampoule(),
        blow_fill_seal(),
        bag(),
        tray(),
        bottle(),
        ageing_syringe(),
        three_sites(),
    ]);
    cases
}

fn invented() -> Provenance {
    Provenance::assumed("invented scenario")
}

/// An invented watery liquid.
fn watery() -> Option<ProductLiquid> {
    ProductLiquid::taken_as(Solvent::Water, Temperature::from_celsius(20.0)).ok()
}

fn purpose(use_of_test: UseOfTest, population: &str, decision: &str) -> Purpose {
    Purpose {
        use_of_test,
        population: population.to_owned(),
        decision: decision.to_owned(),
        tolerable_false_reject: fraction(0.001),
        required_detection: fraction(0.95),
        confidence: fraction(0.95),
    }
}

/// An invented rig with a small chamber.
fn rig(name: &str, free_volume_ml: f64, outgassing_pa_m3: f64) -> Rig {
    Rig {
        name: name.to_owned(),
        free_volume: Sourced::new(Volume::from_ml(free_volume_ml), invented())
            .with_uncertainty_si(Volume::from_ml(free_volume_ml * 0.03).m3()),
        wall_temperature: Temperature::from_celsius(20.0),
        thermal_recovery: Duration::from_s(0.3),
        pump: begin_pump(free_volume_ml.min(60.0)),
        background: Background {
            one_over_t: outgassing_pa_m3,
            one_over_t_offset: Duration::from_s(1.0),
            constant: 0.0,
            virtual_leak: None,
        },
        background_spread: 0.15,
        sensor: begin_sensor(),
        provenance: invented(),
    }
}

fn tier(evacuate_to_pa: f64, limit_s: f64, settle_s: f64, measure_s: f64) -> Tier {
    Tier {
        evacuate_to: AbsolutePressure::from_pa(evacuate_to_pa),
        evacuate_limit: Duration::from_s(limit_s),
        reach_limit: None,
        settle: Duration::from_s(settle_s),
        measure: Duration::from_s(measure_s),
        rise_limit: None,
    }
}

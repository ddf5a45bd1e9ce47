//! Worked cases: invented scenarios of our own, used by the demo, the tests
//! and the documentation. No figure is of a real product or instrument.

mod liquid_vial;
mod lyophilised_vial;
mod syringe;

pub use liquid_vial::liquid_vial;
pub use lyophilised_vial::lyophilised_vial;
pub use syringe::syringe;

use physics::cycle::{Background, Pump, Tier};
use physics::quantities::{
    AbsolutePressure, Conductance, Duration, PressureDifference, PressureRate, Probability,
    Temperature, Volume,
};
use physics::sensor::PressureSensor;

use crate::case_input::CaseInput;
use crate::profile::{Purpose, UseOfTest};
use crate::provenance::{Provenance, Sourced};
use crate::rig::Rig;

/// Every worked case.
#[must_use]
pub fn all() -> Vec<CaseInput> {
    vec![lyophilised_vial(), liquid_vial(), syringe()]
}

fn invented() -> Provenance {
    Provenance::assumed("invented scenario")
}

/// A fraction written in this folder; the tests see every one.
fn fraction(value: f64) -> Probability {
    Probability::new(value).unwrap_or_else(|| unreachable!("fractions here are constants"))
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
        pump: Pump {
            speed: Conductance::from_l_per_s(0.2),
            line_molecular: Conductance::from_m3_per_s(5.0e-5),
            line_viscous_m3_per_s_pa: 2.0e-8,
            ultimate: AbsolutePressure::from_pa(15.0),
        },
        background: Background {
            one_over_t: outgassing_pa_m3,
            one_over_t_offset: Duration::from_s(1.0),
            constant: 0.0,
            virtual_leak: None,
        },
        background_spread: 0.15,
        sensor: PressureSensor {
            range: AbsolutePressure::from_pa(110_000.0),
            resolution: PressureDifference::from_pa(0.1),
            white_noise: PressureDifference::from_pa(0.5),
            flicker_noise: PressureDifference::from_pa(0.2),
            drift: PressureRate::from_pa_per_s(0.0),
            zero_shift: None,
        },
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

//! An invented vial in an invented chamber, for tests.

use physics::cycle::*;
use physics::gases::Gas;
use physics::leak_paths::LeakPath;
use physics::quantities::*;

pub fn pa(value: f64) -> AbsolutePressure {
    AbsolutePressure::from_pa(value)
}

pub fn s(value: f64) -> Duration {
    Duration::from_s(value)
}

pub fn tier(to_pa: f64, limit_s: f64, settle_s: f64, measure_s: f64) -> Tier {
    Tier {
        evacuate_to: pa(to_pa),
        evacuate_limit: s(limit_s),
        reach_limit: None,
        settle: s(settle_s),
        measure: s(measure_s),
        rise_limit: None,
    }
}

pub fn vial() -> CycleSetup {
    CycleSetup {
        chamber: Chamber {
            free_volume: Volume::from_ml(60.0),
            wall_temperature: Temperature::from_celsius(23.0),
            thermal_recovery: s(0.3),
        },
        pump: Pump {
            speed: Conductance::from_m3_per_s(2e-4),
            line_molecular: Conductance::from_m3_per_s(5e-5),
            line_viscous_m3_per_s_pa: 2e-8,
            ultimate: pa(20.0),
        },
        background: Background {
            one_over_t: 6e-4,
            one_over_t_offset: s(1.0),
            constant: 1e-7,
            virtual_leak: Some(VirtualLeak {
                volume: Volume::from_ul(20.0),
                conductance: Conductance::from_m3_per_s(2e-9),
            }),
        },
        headspace: Headspace {
            gas: Gas::Air,
            volume: Volume::from_ml(4.0),
            pressure: pa(101_325.0),
        },
        leak: Some(LeakPath::Orifice { bore_diameter: Length::from_um(5.0) }),
        ambient: pa(101_325.0),
        tiers: vec![tier(100.0, 10.0, 5.0, 15.0)],
        sample_interval: s(0.02),
    }
}

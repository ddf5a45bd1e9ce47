//! Fuzzed cycles with everything that can be added: sound numbers, all the gas
//! accounted for, or a typed refusal.

mod decades;
mod worked_setup;

use decades::decades;
use physics::container::{FlexibleWall, Plunger};
use physics::cycle::extended::*;
use physics::cycle::*;
use physics::leak_paths::LeakPath;
use physics::liquids::{Liquid, PluggedHole};
use physics::outgassing::OutgassingLaw;
use physics::quantities::*;
use proptest::prelude::*;
use worked_setup::{pa, s, vial};

fn any_extras() -> impl Strategy<Value = CycleExtras> {
    (
        (decades(1e-8, 1e-4), decades(1e-6, 2e-5), 0_u8..128),
        (decades(1e-8, 1e-4), decades(1e-9, 1e-5), decades(1e-9, 1e-4)),
        (decades(0.01, 10.0), 0.0..1.0_f64, 0.001..1.0_f64),
        (decades(1e-6, 1e-4), 0.0..20.0_f64, decades(1e-13, 1e-11)),
        (275.0..320.0_f64, decades(1.0, 1e3), decades(1e-6, 1e-3)),
        (decades(2e-4, 5e-3), 0.0..2.0_f64, 0.0..5.0_f64),
    )
        .prop_map(|(gas, tubing, water, plunger, drift, line)| {
            let has = |bit: u8| gas.2 & (1 << bit) != 0;
            let bore = Length::from_m(gas.1);
            CycleExtras {
                outgassing: vec![OutgassingLaw::OneOverRootTime {
                    amount_pa_m3_per_root_s: gas.0,
                    offset: s(0.5),
                }],
                room_leaks: vec![LeakPath::Orifice { bore_diameter: bore }],
                tubing: has(0).then(|| VirtualLeak {
                    volume: Volume::from_m3(tubing.0),
                    conductance: Conductance::from_m3_per_s(tubing.1),
                }),
                moisture: (has(1) || has(2)).then(|| Moisture {
                    liquid: Liquid::Water,
                    mass_kg: water.0 * 1e-6,
                    surface: Area::from_cm2(0.2),
                    heat_exchange_w_per_k: water.1,
                    evaporation_coefficient: water.2,
                }),
                plugged_hole: has(2).then_some(PluggedHole {
                    bore,
                    wall: Length::from_mm(0.5),
                    contact_angle_degrees: 30.0,
                    outside_wetted: has(3),
                    liquid_kg: tubing.2 * 1e-3,
                }),
                plunger: has(4).then(|| Plunger {
                    area: Area::from_m2(plunger.0),
                    break_loose_n: plunger.1,
                    dynamic_friction_n: 0.6 * plunger.1,
                    stop: Volume::from_ml(0.5),
                }),
                flexible_wall: has(5).then_some(FlexibleWall {
                    compliance_m3_per_pa: plunger.2,
                    creep_share: 0.3,
                    creep_time: s(8.0),
                }),
                wall_drift: has(6).then(|| WallDrift {
                    towards: Temperature::from_k(drift.0),
                    time_constant: s(drift.1),
                }),
                pump_curve: vec![
                    PumpPoint { pressure: pa(10.0), speed: Conductance::from_m3_per_s(drift.2) },
                    PumpPoint { pressure: pa(1e4), speed: Conductance::from_m3_per_s(2e-4) },
                ],
                line_bore: Some(Length::from_m(line.0)),
                valve_closing: s(line.1),
                vent: s(line.2),
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn sound_numbers_and_whole_books_or_a_refusal(extras in any_extras()) {
        let mut setup = vial();
        setup.sample_interval = s(0.1);
        match simulate_with(&setup, &extras) {
            Err(error) => prop_assert!(!error.code().is_empty()),
            Ok(outcome) => {
                let trace = &outcome.trace;
                prop_assert!(trace.pressures_pa.iter().all(|p| p.is_finite() && *p >= 0.0));
                prop_assert!(trace.temperatures_k.iter().all(|t| t.is_finite() && *t > 0.0));
                prop_assert!(outcome.headspace_end.pa() >= 0.0);
                prop_assert!(outcome.vapour_end.pa() >= 0.0);
                prop_assert!(outcome.surface_end_k > 150.0);
                let error = outcome.balance.error();
                prop_assert!(error.abs() < 1e-12, "{:e}", error);
                for tier in &outcome.tiers {
                    let (total, rise) = (tier.parts.total_pa(), tier.plain.rise.pa());
                    let scale = tier.plain.pressure_at_measure_end.pa().max(1.0);
                    prop_assert!((total - rise).abs() <= 1e-9 * scale, "{} {}", total, rise);
                }
            }
        }
    }
}

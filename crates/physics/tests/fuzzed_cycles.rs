//! Fuzzed setups: an answer of sound numbers or a typed refusal, never NaN,
//! never a negative pressure, never a panic.

mod decades;
mod worked_setup;

use decades::decades;
use physics::cycle::*;
use physics::gases::Gas;
use physics::leak_paths::LeakPath;
use physics::quantities::*;
use proptest::prelude::*;
use worked_setup::{pa, s, vial};

fn any_leak() -> impl Strategy<Value = Option<LeakPath>> {
    prop_oneof![
        Just(None),
        decades(1e-8, 3e-4)
            .prop_map(|d| Some(LeakPath::Orifice { bore_diameter: Length::from_m(d) })),
        (decades(1e-7, 1e-4), decades(1e-5, 1e-2)).prop_map(|(d, l)| {
            Some(LeakPath::Channel { bore_diameter: Length::from_m(d), wall: Length::from_m(l) })
        }),
        (decades(1e-7, 1e-5), decades(1e-4, 1e-2)).prop_map(|(h, l)| {
            let height = Length::from_m(h);
            Some(LeakPath::Slit { height, width: height * 500.0, depth: Length::from_m(l) })
        }),
        (decades(1e-7, 1e-5), decades(1e-4, 1e-2), 0.0..=1.0_f64).prop_map(|(h, l, e)| {
            Some(LeakPath::Annulus {
                mean_diameter: Length::from_mm(13.0),
                gap: Length::from_m(h),
                depth: Length::from_m(l),
                eccentricity: e,
            })
        }),
    ]
}

fn any_setup() -> impl Strategy<Value = CycleSetup> {
    (
        (decades(5e-6, 1e-2), 260.0..330.0_f64, decades(1e-2, 3.0)),
        (decades(1e-6, 1e-2), decades(1e-6, 1e-3), 0.0..200.0_f64),
        (decades(1e-8, 1e-2), 0.0..1e-5_f64),
        (decades(1e-8, 1e-2), decades(10.0, 3e5), 0..Gas::ALL.len()),
        any_leak(),
        (decades(30.0, 1e5), 0.0..20.0_f64, 0.0..5.0_f64, 0.0..20.0_f64),
    )
        .prop_map(|(chamber, pump, background, headspace, leak, tier)| {
            let mut setup = vial();
            setup.chamber.free_volume = Volume::from_m3(chamber.0);
            setup.chamber.wall_temperature = Temperature::from_k(chamber.1);
            setup.chamber.thermal_recovery = s(chamber.2);
            setup.pump.speed = Conductance::from_m3_per_s(pump.0);
            setup.pump.line_molecular = Conductance::from_m3_per_s(pump.1);
            setup.pump.ultimate = pa(pump.2);
            setup.background.one_over_t = background.0;
            setup.background.constant = background.1;
            setup.headspace.volume = Volume::from_m3(headspace.0);
            setup.headspace.pressure = pa(headspace.1);
            setup.headspace.gas = Gas::ALL[headspace.2];
            setup.leak = leak;
            setup.sample_interval = s(0.1);
            setup.tiers[0].evacuate_to = pa(tier.0);
            setup.tiers[0].evacuate_limit = s(tier.1);
            setup.tiers[0].settle = s(tier.2);
            setup.tiers[0].measure = s(tier.3);
            setup
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, ..ProptestConfig::default() })]

    #[test]
    fn sound_numbers_or_a_refusal(setup in any_setup()) {
        match simulate(&setup) {
            Err(error) => prop_assert!(!error.code().is_empty()),
            Ok(outcome) => {
                let trace = &outcome.trace;
                prop_assert!(trace.pressures_pa.iter().all(|p| p.is_finite() && *p >= 0.0));
                prop_assert!(trace.temperatures_k.iter().all(|t| t.is_finite() && *t > 0.0));
                prop_assert!(outcome.headspace_end.pa() >= -1e-6);
                let unexplained = outcome.balance.error();
                prop_assert!(unexplained.abs() <= 1e-12, "{:e}", unexplained);
                // What left the headspace came into the chamber: the gas of an
                // isolated stage is all there.
                if let [tier] = &outcome.tiers[..]
                    && tier.reached_target
                {
                    let lost = (tier.headspace_at_measure_start - outcome.headspace_end).pa()
                        * setup.headspace.volume.m3();
                    let gained =
                        tier.contributions.leak_pa * setup.chamber.free_volume.m3();
                    let gas = setup.headspace.pressure.pa() * setup.headspace.volume.m3()
                        + setup.ambient.pa() * setup.chamber.free_volume.m3();
                    prop_assert!((lost - gained).abs() <= 1e-12 * gas, "{} {}", lost, gained);
                }
                for tier in &outcome.tiers {
                    let rise = tier.rise.pa();
                    let total = tier.contributions.total_pa();
                    let scale = tier.pressure_at_measure_end.pa().max(1.0)
                        + tier.contributions.leak_pa.abs();
                    prop_assert!((total - rise).abs() <= 1e-9 * scale, "{} {}", total, rise);
                }
            }
        }
    }

    #[test]
    fn spoiled_inputs_are_refused(
        which in 0..6_u8,
        bad in prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(-1.0)],
    ) {
        let mut setup = vial();
        match which {
            0 => setup.chamber.free_volume = Volume::from_m3(bad),
            1 => setup.headspace.pressure = pa(bad),
            2 => setup.pump.speed = Conductance::from_m3_per_s(bad),
            3 => setup.tiers[0].measure = s(bad),
            4 => setup.background.one_over_t = bad,
            _ => setup.sample_interval = s(bad),
        }
        prop_assert!(simulate(&setup).is_err());
    }
}

//! Whole cycles: conservation, ledger, closed forms, early ends.

use physics::cycle::*;
use physics::gases::Gas;
use physics::headspace::TwoVolumes;
use physics::leak_paths::LeakPath;
use physics::pump_down;
use physics::quantities::*;
use physics::trace::Stage;
use worked_setup::{pa, s, tier, vial};

mod worked_setup;

#[test]
fn the_contributions_sum_to_the_rise() {
    let outcome = simulate(&vial()).unwrap();
    let tier = &outcome.tiers[0];
    assert!(tier.reached_target && !tier.stopped_early);
    assert!(tier.rise.pa() > 50.0);
    let total = tier.contributions.total_pa();
    assert!((total / tier.rise.pa() - 1.0).abs() < 1e-11, "{total} {}", tier.rise.pa());
    let measured = tier.pressure_at_measure_end - tier.pressure_at_settle_end;
    assert_eq!(measured, tier.rise);
    // Every term has the sign it must have here.
    assert!(tier.contributions.leak_pa > 0.0);
    assert!(tier.contributions.outgassing_pa > 0.0);
    assert!(tier.contributions.virtual_leak_pa > 0.0);
}

#[test]
fn the_books_of_gas_close_and_the_pump_took_what_its_law_says() {
    let mut setup = vial();
    setup.tiers = vec![tier(5_000.0, 10.0, 1.0, 3.0), tier(300.0, 10.0, 3.0, 5.0)];
    setup.sample_interval = s(0.001);
    let outcome = simulate(&setup).unwrap();
    assert!(outcome.balance.error().abs() < 1e-12, "{:e}", outcome.balance.error());

    // Second route: the pump's throughput, q = S C/(S + C) (p - p_u), along the
    // trace by trapezoids, at wall temperature.
    let pump = &setup.pump;
    let amount_rate = |index: usize| {
        let pressure = outcome.trace.pressures_pa[index];
        let line = pump.line_molecular.m3_per_s() + pump.line_viscous_m3_per_s_pa * pressure;
        let speed = pump.speed.m3_per_s() * line / (pump.speed.m3_per_s() + line);
        let warmth = outcome.trace.temperatures_k[index] / setup.chamber.wall_temperature.k();
        speed * (pressure - pump.ultimate.pa()) / warmth
    };
    let mut pumped = 0.0;
    for span in outcome.trace.stages.iter().filter(|span| span.stage == Stage::Evacuate) {
        let inside = outcome.trace.samples_between(span.start_s, span.end_s);
        let time = |index: usize| outcome.trace.times_s[index];
        let (first, last) = (inside.start, inside.end - 1);
        pumped += (time(first) - span.start_s) * amount_rate(first);
        pumped += (span.end_s - time(last)) * amount_rate(last);
        for index in first..last {
            let step = time(index + 1) - time(index);
            pumped += 0.5 * step * (amount_rate(index) + amount_rate(index + 1));
        }
    }
    let counted = outcome.balance.pumped;
    assert!((pumped / counted - 1.0).abs() < 2e-5, "{pumped} {counted}");

    // Third route: the extended cycle integrates what is pumped as a state.
    let integrated = extended::simulate_with(&setup, &extended::CycleExtras::default()).unwrap();
    let ratio = integrated.balance.pumped / counted;
    assert!((ratio - 1.0).abs() < 1e-7, "{ratio}");

    // Books with an entry that is missing do not close.
    let cooked = GasBalance { pumped: counted * (1.0 - 1e-9), ..outcome.balance };
    assert!(cooked.error().abs() > 1e-12);
}

#[test]
fn the_evacuation_ends_on_its_pressure() {
    let outcome = simulate(&vial()).unwrap();
    let span = outcome.trace.span(Stage::Evacuate, 1).unwrap();
    assert_eq!(span.end_s, outcome.tiers[0].evacuate_end_s);
    let after = outcome.trace.samples_between(span.end_s, span.end_s + 0.1);
    let first = outcome.trace.pressures_pa[after.start];
    assert!((first - 100.0).abs() < 2.0, "{first}");
}

#[test]
fn a_leak_without_background_follows_the_closed_form() {
    // A submicron hole in helium is nearly molecular; compare with the closed
    // form at the conductance that the law itself gives.
    let bore_diameter = Length::from_um(0.02);
    let mut setup = vial();
    setup.background = Background {
        one_over_t: 0.0,
        one_over_t_offset: s(1.0),
        constant: 0.0,
        virtual_leak: None,
    };
    setup.chamber.thermal_recovery = s(0.0);
    setup.headspace =
        Headspace { gas: Gas::Helium, volume: Volume::from_ul(0.001), pressure: pa(3000.0) };
    setup.leak = Some(LeakPath::Orifice { bore_diameter });
    setup.tiers = vec![tier(100.0, 10.0, 0.0, 200.0)];
    let outcome = simulate(&setup).unwrap();
    let tier = &outcome.tiers[0];
    let speed = Gas::Helium.mean_speed_m_per_s(setup.chamber.wall_temperature);
    let conductance = Conductance::from_m3_per_s(bore_diameter.circle_area().m2() * speed / 4.0);
    let closed = TwoVolumes {
        headspace_volume: setup.headspace.volume,
        chamber_volume: setup.chamber.free_volume,
        headspace_pressure: tier.headspace_at_measure_start,
        chamber_pressure: tier.pressure_at_settle_end,
    }
    .after_molecular(conductance, s(200.0));
    let lost = tier.headspace_at_measure_start - outcome.headspace_end;
    let closed_lost = tier.headspace_at_measure_start - closed.headspace;
    assert!(lost.pa() > 10.0);
    assert!((lost.pa() / closed_lost.pa() - 1.0).abs() < 1e-3, "{lost:?} {closed_lost:?}");
}

#[test]
fn isothermal_pump_down_follows_the_closed_form() {
    let mut setup = vial();
    setup.leak = None;
    setup.background = Background {
        one_over_t: 0.0,
        one_over_t_offset: s(1.0),
        constant: 0.0,
        virtual_leak: None,
    };
    setup.chamber.thermal_recovery = s(0.0);
    setup.pump.line_viscous_m3_per_s_pa = 0.0;
    let speed = pump_down::effective_speed(setup.pump.speed, setup.pump.line_molecular);
    let expected = pump_down::time_at_constant_speed(
        setup.ambient,
        pa(100.0),
        setup.pump.ultimate,
        speed,
        setup.chamber.free_volume,
    )
    .unwrap();
    setup.tiers = vec![tier(100.0, 60.0, 5.0, 5.0)];
    let outcome = simulate(&setup).unwrap();
    let error = outcome.tiers[0].evacuate_end_s / expected.s() - 1.0;
    assert!(error.abs() < 1e-8, "{error:e}");
    assert!(outcome.tiers[0].rise.pa().abs() < 1e-9);
}

#[test]
fn a_missed_reach_limit_ends_the_cycle() {
    let mut setup = vial();
    setup.leak = Some(LeakPath::Orifice { bore_diameter: Length::from_um(300.0) });
    let mut first = tier(100.0, 3.0, 1.0, 5.0);
    first.reach_limit = Some(pa(150.0));
    setup.tiers = vec![first, tier(100.0, 10.0, 1.0, 5.0)];
    let outcome = simulate(&setup).unwrap();
    assert_eq!(outcome.tiers.len(), 1);
    assert!(outcome.tiers[0].stopped_early && !outcome.tiers[0].reached_target);
    assert_eq!(outcome.trace.stages.len(), 1);
    assert!((outcome.trace.times_s.last().unwrap() - 3.0).abs() < 0.021);
}

#[test]
fn a_rise_above_its_limit_ends_the_cycle() {
    let mut setup = vial();
    let mut first = tier(1000.0, 10.0, 1.0, 5.0);
    first.rise_limit = Some(PressureDifference::from_pa(20.0));
    setup.tiers = vec![first, tier(100.0, 10.0, 1.0, 5.0)];
    assert_eq!(simulate(&setup).unwrap().tiers.len(), 1);
    setup.leak = None;
    assert_eq!(simulate(&setup).unwrap().tiers.len(), 2);
}

#[test]
fn a_gross_leak_can_read_as_tight() {
    let mut setup = vial();
    setup.headspace.volume = Volume::from_ml(0.2);
    let rise = |setup: &CycleSetup| simulate(setup).unwrap().tiers[0].rise.pa();
    setup.leak = None;
    let tight = rise(&setup);
    setup.leak = Some(LeakPath::Orifice { bore_diameter: Length::from_um(3.0) });
    let small = rise(&setup);
    setup.leak = Some(LeakPath::Orifice { bore_diameter: Length::from_um(150.0) });
    let gross = rise(&setup);
    assert!(small > tight + 10.0);
    assert!((gross - tight).abs() < 1.0, "{gross} {tight}");
}

#[test]
fn nonsense_is_refused() {
    let mut setup = vial();
    setup.tiers.clear();
    assert_eq!(simulate(&setup), Err(CycleError::NoTiers));
    let mut setup = vial();
    setup.chamber.free_volume = Volume::from_ml(-1.0);
    assert!(matches!(simulate(&setup), Err(CycleError::NotPositive { .. })));
    let mut setup = vial();
    setup.leak = Some(LeakPath::Orifice { bore_diameter: Length::from_um(f64::NAN) });
    assert!(matches!(simulate(&setup), Err(CycleError::Leak(_))));
    let mut setup = vial();
    setup.sample_interval = s(1e-9);
    assert!(matches!(simulate(&setup), Err(CycleError::TooManySamples { .. })));
}

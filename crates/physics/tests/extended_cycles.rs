//! Cycles with water, moving containers, drift and leaks of the rig.

mod worked_setup;

use physics::container::{FlexibleWall, Plunger};
use physics::cycle::extended::*;
use physics::cycle::*;
use physics::leak_paths::LeakPath;
use physics::liquids::{Liquid, PluggedHole};
use physics::outgassing::OutgassingLaw;
use physics::quantities::*;
use physics::trace::Stage;
use worked_setup::{pa, s, tier, vial};

fn water(mass_mg: f64) -> Moisture {
    Moisture {
        liquid: Liquid::Water,
        mass_kg: mass_mg * 1e-6,
        surface: Area::from_cm2(0.2),
        heat_exchange_w_per_k: 0.05,
        evaporation_coefficient: 0.05,
    }
}

/// Everything at once.
fn all_extras() -> CycleExtras {
    CycleExtras {
        outgassing: vec![OutgassingLaw::OneOverRootTime {
            amount_pa_m3_per_root_s: 2e-6,
            offset: s(0.5),
        }],
        room_leaks: vec![LeakPath::Channel {
            bore_diameter: Length::from_um(3.0),
            wall: Length::from_mm(1.0),
        }],
        tubing: Some(VirtualLeak {
            volume: Volume::from_ml(1.0),
            conductance: Conductance::from_m3_per_s(1e-6),
        }),
        moisture: Some(water(0.5)),
        plugged_hole: None,
        plunger: None,
        flexible_wall: Some(FlexibleWall {
            compliance_m3_per_pa: 2e-12,
            creep_share: 0.2,
            creep_time: s(20.0),
        }),
        wall_drift: Some(WallDrift {
            towards: Temperature::from_celsius(24.0),
            time_constant: s(100.0),
        }),
        pump_curve: vec![
            PumpPoint { pressure: pa(10.0), speed: Conductance::from_m3_per_s(5e-5) },
            PumpPoint { pressure: pa(1000.0), speed: Conductance::from_m3_per_s(2e-4) },
        ],
        line_bore: Some(Length::from_mm(1.5)),
        valve_closing: s(0.2),
        vent: s(2.0),
    }
}

#[test]
fn without_extras_it_is_the_plain_cycle() {
    let setup = vial();
    let plain = simulate(&setup).expect("solved");
    let extended = simulate_with(&setup, &CycleExtras::default()).expect("solved");
    assert_eq!(plain.trace.n_samples(), extended.trace.n_samples());
    for (a, b) in plain.trace.pressures_pa.iter().zip(&extended.trace.pressures_pa) {
        assert!((a / b - 1.0).abs() < 5e-8, "{a} {b}");
    }
    let (a, b) = (plain.tiers[0], extended.tiers[0].plain);
    assert!((a.rise.pa() / b.rise.pa() - 1.0).abs() < 1e-7);
    assert!((a.contributions.leak_pa / b.contributions.leak_pa - 1.0).abs() < 1e-7);
}

#[test]
fn gas_is_conserved_and_the_parts_sum_to_the_rise() {
    let mut setup = vial();
    setup.tiers = vec![tier(5_000.0, 10.0, 1.0, 3.0), tier(300.0, 10.0, 3.0, 5.0)];
    for extras in [CycleExtras::default(), all_extras()] {
        let outcome = simulate_with(&setup, &extras).expect("solved");
        assert!(outcome.balance.error().abs() < 1e-12, "{:e}", outcome.balance.error());
        assert!(outcome.balance.pumped > 1.0);
        for tier in &outcome.tiers {
            let (sum, rise) = (tier.parts.total_pa(), tier.plain.rise.pa());
            assert!((sum - rise).abs() < 1e-10 * rise.abs().max(1.0), "{sum} {rise}");
        }
        assert!(outcome.trace.pressures_pa.iter().all(|p| p.is_finite() && *p >= 0.0));
    }
}

#[test]
fn a_missing_entry_would_show_in_the_books() {
    let outcome = simulate_with(&vial(), &all_extras()).expect("solved");
    let cooked = GasBalance { gained: outcome.balance.gained - 1e-6, ..outcome.balance };
    assert!(cooked.error().abs() > 1e-8);
}

#[test]
fn water_gives_a_plateau_at_its_vapour_pressure() {
    let mut setup = vial();
    setup.leak = None;
    setup.tiers = vec![tier(100.0, 8.0, 10.0, 60.0)];
    // Plenty of water, well warmed: it holds the pump off and then saturates.
    let moisture = Moisture { heat_exchange_w_per_k: 50.0, ..water(500.0) };
    let extras = CycleExtras { moisture: Some(moisture), ..Default::default() };
    let outcome = simulate_with(&setup, &extras).expect("solved");
    let saturated =
        Liquid::Water.at(setup.chamber.wall_temperature).expect("water").vapour_pressure.pa();
    assert!((outcome.vapour_end.pa() / saturated - 1.0).abs() < 0.01, "{:?}", outcome.vapour_end);
    assert!(outcome.tiers[0].parts.vapour_pa.abs() < 20.0);
    // Little water is simply pumped away.
    let extras = CycleExtras { moisture: Some(water(0.01)), ..Default::default() };
    let dry = simulate_with(&setup, &extras).expect("solved");
    assert!(dry.vapour_end.pa() < 50.0, "{:?}", dry.vapour_end);
}

#[test]
fn water_without_heat_freezes_under_the_pump() {
    let mut setup = vial();
    setup.leak = None;
    setup.tiers = vec![tier(50.0, 30.0, 5.0, 10.0)];
    let moisture = Moisture { heat_exchange_w_per_k: 0.0, ..water(100.0) };
    let extras = CycleExtras { moisture: Some(moisture), ..Default::default() };
    let outcome = simulate_with(&setup, &extras).expect("solved");
    assert!(outcome.surface_end_k < 273.15, "{}", outcome.surface_end_k);
    assert!(outcome.surface_end_k > 200.0);
}

#[test]
fn a_flexible_wall_hides_pressure_in_the_container_term() {
    let mut setup = vial();
    setup.leak = None;
    let wall = FlexibleWall { compliance_m3_per_pa: 1e-11, creep_share: 0.3, creep_time: s(10.0) };
    let extras = CycleExtras { flexible_wall: Some(wall), ..Default::default() };
    let parts = simulate_with(&setup, &extras).expect("solved").tiers[0].parts;
    assert!(parts.container_pa > 0.01, "{parts:?}");
    let rigid = simulate_with(&setup, &CycleExtras::default()).expect("solved").tiers[0].parts;
    assert_eq!(rigid.container_pa, 0.0);
}

#[test]
fn a_plunger_comes_to_rest_where_the_forces_balance() {
    let mut setup = vial();
    setup.leak = None;
    setup.headspace.volume = Volume::from_ml(0.05);
    let plunger = Plunger {
        area: Area::from_m2(3e-5),
        break_loose_n: 2.0,
        dynamic_friction_n: 1.0,
        stop: Volume::from_ml(1.0),
    };
    let extras = CycleExtras { plunger: Some(plunger), ..Default::default() };
    let outcome = simulate_with(&setup, &extras).expect("solved");
    let chamber = outcome.tiers[0].plain.pressure_at_settle_end;
    // The lowest chamber pressure, at the end of pumping, sets the place.
    let rest = plunger.rest(setup.headspace.volume, setup.headspace.pressure, pa(100.0));
    let ratio = outcome.headspace_end.pa() / rest.headspace.pa();
    assert!((ratio - 1.0).abs() < 0.02, "{ratio} {chamber:?}");
}

#[test]
fn a_plugged_hole_blocks_runs_and_then_breathes() {
    let hole = |um: f64, liquid_mg: f64| PluggedHole {
        bore: Length::from_um(um),
        wall: Length::from_mm(0.1),
        contact_angle_degrees: 0.0,
        outside_wetted: false,
        liquid_kg: liquid_mg * 1e-6,
    };
    let run = |um: f64, liquid_mg: f64| {
        let mut setup = vial();
        setup.leak = Some(LeakPath::Orifice { bore_diameter: Length::from_um(um) });
        let extras = CycleExtras {
            moisture: Some(water(0.0)),
            plugged_hole: Some(hole(um, liquid_mg)),
            ..Default::default()
        };
        simulate_with(&setup, &extras).expect("solved").tiers[0].parts
    };
    let blocked = run(2.0, 10.0);
    assert_eq!(blocked.leak_pa, 0.0);
    assert!(blocked.vapour_pa.abs() < 1e-9);
    let running = run(10.0, 10.0);
    assert_eq!(running.leak_pa, 0.0);
    assert!(running.vapour_pa > 1.0, "{running:?}");
    let drained = run(10.0, 0.05);
    assert!(drained.leak_pa > 10.0, "{drained:?}");
}

#[test]
fn the_vent_brings_room_pressure_back() {
    let outcome = simulate_with(&vial(), &all_extras()).expect("solved");
    assert_eq!(outcome.trace.stages.last().expect("stages").stage, Stage::Vent);
    let last = outcome.trace.pressures_pa.last().expect("samples");
    assert!((last / 101_325.0 - 1.0).abs() < 0.01, "{last}");
}

#[test]
fn a_choked_line_pumps_more_slowly() {
    let setup = vial();
    let end = |bore: Option<Length>| {
        let extras = CycleExtras { line_bore: bore, ..Default::default() };
        simulate_with(&setup, &extras).expect("solved").tiers[0].plain.evacuate_end_s
    };
    assert!(end(Some(Length::from_mm(0.5))) > end(None) + 0.1);
}

#[test]
fn nonsense_is_refused() {
    let extras = CycleExtras {
        plugged_hole: Some(PluggedHole {
            bore: Length::from_um(5.0),
            wall: Length::from_mm(1.0),
            contact_angle_degrees: 0.0,
            outside_wetted: false,
            liquid_kg: 1e-3,
        }),
        ..Default::default()
    };
    assert_eq!(simulate_with(&vial(), &extras), Err(CycleError::MissingLiquid));
    let extras = CycleExtras {
        moisture: Some(Moisture { evaporation_coefficient: 2.0, ..water(1.0) }),
        ..Default::default()
    };
    assert!(simulate_with(&vial(), &extras).is_err());
}

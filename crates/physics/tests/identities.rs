//! Identities that hold for every leak path at once, under fuzzed sizes and
//! conditions.

mod decades;

use decades::decades;
use physics::gases::Gas;
use physics::leak_paths::*;
use physics::quantities::*;
use proptest::prelude::*;

/// One of each kind of path from one characteristic size and one length.
fn paths(size_m: f64, length_m: f64, eccentricity: f64) -> [LeakPath; 4] {
    let size = Length::from_m(size_m);
    let length = Length::from_m(length_m);
    [
        LeakPath::Orifice { bore_diameter: size },
        LeakPath::Channel { bore_diameter: size, wall: length },
        LeakPath::Slit { height: size, width: size * 100.0, depth: length },
        LeakPath::Annulus { mean_diameter: size * 1000.0, gap: size, depth: length, eccentricity },
    ]
}

fn conditions(gas: Gas, up: f64, down: f64, celsius: f64) -> FlowConditions {
    FlowConditions {
        gas,
        upstream: AbsolutePressure::from_pa(up),
        downstream: AbsolutePressure::from_pa(down),
        temperature: Temperature::from_celsius(celsius),
    }
}

fn flow(path: &LeakPath, conditions: &FlowConditions) -> f64 {
    path.flow(conditions).expect("sensible input").molar_flow.mol_per_s()
}

fn any_gas() -> impl Strategy<Value = Gas> {
    (0..Gas::ALL.len()).prop_map(|index| Gas::ALL[index])
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 120, ..ProptestConfig::default() })]

    #[test]
    fn no_difference_no_flow_and_reversal_of_sign(
        size in decades(1e-8, 3e-4), length in decades(1e-6, 1e-2), e in 0.0..1.0_f64,
        up in decades(1.0, 3e5), part in 0.0..1.0_f64, gas in any_gas(), celsius in 0.0..40.0_f64,
    ) {
        for path in paths(size, length, e) {
            prop_assert_eq!(flow(&path, &conditions(gas, up, up, celsius)), 0.0);
            let forward = flow(&path, &conditions(gas, up, up * part, celsius));
            let backward = flow(&path, &conditions(gas, up * part, up, celsius));
            prop_assert!(forward >= 0.0 && forward.is_finite());
            prop_assert_eq!(forward, -backward);
        }
    }

    #[test]
    fn larger_holes_and_larger_pressures_carry_more(
        size in decades(1e-8, 3e-4), length in decades(1e-6, 1e-2), e in 0.0..1.0_f64,
        up in decades(10.0, 3e5), part in 0.0..0.95_f64, gas in any_gas(), growth in 1.01..3.0_f64,
    ) {
        for (path, larger) in paths(size, length, e).iter().zip(paths(size * growth, length, e)) {
            let here = conditions(gas, up, up * part, 20.0);
            let base = flow(path, &here);
            prop_assert!(flow(&larger, &here) > base, "{path:?} grows");
            let higher = conditions(gas, up * growth, up * part, 20.0);
            prop_assert!(flow(path, &higher) > base, "{path:?} driven harder");
            // Raising the pressure behind never helps beyond the small dip of
            // the discharge polynomial (0.4 % near a ratio of 0.07).
            let behind = conditions(gas, up, up * (part + (1.0 - part) * 0.3), 20.0);
            prop_assert!(flow(path, &behind) <= base * 1.005, "{path:?} held back");
        }
    }

    #[test]
    fn regimes_join_without_a_step(
        size in decades(1e-8, 3e-4), length in decades(1e-6, 1e-2), e in 0.0..1.0_f64,
        up in decades(1.0, 3e5), part in 0.0..0.999_f64, gas in any_gas(),
    ) {
        for path in paths(size, length, e) {
            let near = |factor: f64| flow(&path, &conditions(gas, up * factor, up * part, 20.0));
            let (a, b) = (near(1.0), near(1.0 + 1e-7));
            // No law grows faster than the difference of squares near equality.
            let steepest = 4.0 / (1.0 - part);
            prop_assert!((b / a - 1.0).abs() < 1e-7 * steepest + 1e-11, "{path:?} {a} {b}");
        }
    }

    #[test]
    fn a_long_tube_lies_between_its_limits(
        bore in decades(2e-7, 5e-5), ratio in 400.0..5000.0_f64, up in decades(100.0, 1.2e5),
        part in 0.0..0.9_f64, gas in any_gas(),
    ) {
        let here = conditions(gas, up, up * part, 20.0);
        let (r, t) = (MOLAR_GAS_CONSTANT_J_PER_MOL_K, here.temperature);
        let (radius, wall) = (bore / 2.0, bore * ratio);
        let pi = std::f64::consts::PI;
        let poiseuille = pi * digits::scalar::powi(radius, 4) * (up * up - up * up * part * part)
            / (16.0 * gas.viscosity_pa_s(t) * wall * r * t.k());
        let molecular = pi * digits::scalar::powi(bore, 3) / (12.0 * wall)
            * gas.mean_speed_m_per_s(t) * up * (1.0 - part) / (r * t.k());
        let path = LeakPath::Channel {
            bore_diameter: Length::from_m(bore), wall: Length::from_m(wall),
        };
        let law = flow(&path, &here);
        // Entrance and exit take a little of the plain laws, which have none.
        prop_assert!(law > poiseuille.max(0.9 * molecular) * 0.985, "{law} {poiseuille} {molecular}");
        prop_assert!(law < poiseuille + molecular);
    }

    #[test]
    fn sizes_come_back_from_flows(
        bore in decades(1e-7, 2e-4), wall in decades(1e-6, 1e-2), up in decades(100.0, 3e5),
        part in 0.0..0.9_f64, gas in any_gas(),
    ) {
        let here = conditions(gas, up, up * part, 20.0);
        let size = Length::from_m(bore);
        let orifice = LeakPath::Orifice { bore_diameter: size }.flow(&here).expect("flow");
        let back = orifice_bore_for_flow(orifice.molar_flow, &here).expect("bore");
        prop_assert!((back.m() / bore - 1.0).abs() < 1e-9);
        let wall = Length::from_m(wall);
        let channel = LeakPath::Channel { bore_diameter: size, wall }.flow(&here).expect("flow");
        let back = channel_bore_for_flow(channel.molar_flow, wall, &here).expect("bore");
        prop_assert!((back.m() / bore - 1.0).abs() < 1e-8);
        let nozzle = ideal_nozzle_flow(size, &here).expect("flow");
        let back = flow_equivalent_diameter(nozzle, &here).expect("diameter");
        prop_assert!((back.m() / bore - 1.0).abs() < 1e-12);
    }

    #[test]
    fn nonsense_is_refused_and_never_gives_a_number(
        size in prop_oneof![Just(0.0), Just(-1e-6), Just(f64::NAN), Just(f64::INFINITY)],
        bad in prop_oneof![Just(-1.0), Just(f64::NAN), Just(f64::INFINITY), Just(f64::NEG_INFINITY)],
    ) {
        let good = reference_conditions();
        for path in paths(size, 1e-3, 0.5) {
            prop_assert!(path.flow(&good).is_err());
        }
        for path in paths(1e-6, 1e-3, 0.5) {
            prop_assert!(path.flow(&conditions(Gas::Air, bad, 0.0, 20.0)).is_err());
            prop_assert!(path.flow(&conditions(Gas::Air, 1e5, bad, 20.0)).is_err());
            prop_assert!(path.flow(&conditions(Gas::Air, 1e5, 0.0, bad * 1e3)).is_err());
        }
    }
}

#[test]
fn extreme_sizes_stay_finite() {
    for size in [1e-12, 1e-9, 1e-3, 0.05] {
        for path in paths(size, 1e-3, 1.0) {
            for (up, down) in [(1e-30, 0.0), (1e-6, 0.0), (1e7, 0.0), (1e7, 9.999_999e6)] {
                let answer = path.flow(&conditions(Gas::Helium, up, down, 20.0)).expect("flow");
                assert!(answer.molar_flow.is_finite(), "{path:?} {up}");
                assert!(answer.molar_flow.mol_per_s() >= 0.0);
                assert!(answer.rarefaction.is_finite());
            }
        }
    }
}

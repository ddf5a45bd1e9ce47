//! Identities of paths joined to each other, of calibrated flows and of
//! elastomers, under fuzzed sizes and conditions.

mod decades;

use decades::decades;
use physics::gases::Gas;
use physics::leak_paths::*;
use physics::permeation::PermeableWall;
use physics::quantities::*;
use proptest::prelude::*;

fn any_path() -> impl Strategy<Value = LeakPath> {
    (0..4_u8, decades(1e-7, 1e-4), decades(1e-6, 1e-2), 0.0..1.0_f64).prop_map(
        |(kind, size, length, eccentricity)| {
            let (size, length) = (Length::from_m(size), Length::from_m(length));
            match kind {
                0 => LeakPath::Orifice { bore_diameter: size },
                1 => LeakPath::Channel { bore_diameter: size, wall: length },
                2 => LeakPath::Slit { height: size, width: size * 100.0, depth: length },
                _ => LeakPath::Annulus {
                    mean_diameter: size * 1000.0,
                    gap: size,
                    depth: length,
                    eccentricity,
                },
            }
        },
    )
}

fn any_arrangement() -> impl Strategy<Value = Vec<Vec<LeakPath>>> {
    prop::collection::vec(prop::collection::vec(any_path(), 1..4), 1..3)
}

fn conditions(gas: Gas, up: f64, down: f64) -> FlowConditions {
    FlowConditions {
        gas,
        upstream: AbsolutePressure::from_pa(up),
        downstream: AbsolutePressure::from_pa(down),
        temperature: Temperature::from_celsius(20.0),
    }
}

fn flow(branches: &[Vec<LeakPath>], here: &FlowConditions) -> ArrangementFlow {
    let arrangement = LeakArrangement::new(branches.to_vec()).expect("paths");
    arrangement.flow(here).expect("sensible input")
}

fn carried(branches: &[Vec<LeakPath>], here: &FlowConditions) -> f64 {
    flow(branches, here).molar_flow.mol_per_s()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn joined_paths_keep_every_identity(
        branches in any_arrangement(), up in decades(10.0, 3e5), part in 0.0..0.95_f64,
        growth in 1.05..3.0_f64, helium in any::<bool>(),
    ) {
        let gas = if helium { Gas::Helium } else { Gas::Air };
        let here = conditions(gas, up, up * part);
        let base = carried(&branches, &here);
        prop_assert!(base.is_finite() && base > 0.0);
        // No pressure difference, no flow; reversal of sign.
        prop_assert_eq!(carried(&branches, &conditions(gas, up, up)), 0.0);
        let mut mirrored = branches.clone();
        mirrored.iter_mut().for_each(|chain| chain.reverse());
        let back = carried(&mirrored, &conditions(gas, up * part, up));
        prop_assert!((back / base + 1.0).abs() < 1e-9, "{back} {base}");
        // Monotone in the driving pressure.
        prop_assert!(carried(&branches, &conditions(gas, up * growth, up * part)) > base);
        // Side by side the flows add.
        let alone: f64 = branches.iter().map(|chain| carried(std::slice::from_ref(chain), &here)).sum();
        prop_assert!((alone / base - 1.0).abs() < 1e-12, "{alone} {base}");
        // A further path beside never takes away, one behind never adds.
        let mut more = branches.clone();
        more.push(branches[0].clone());
        prop_assert!(carried(&more, &here) > base);
        for chain in &branches {
            let whole = carried(std::slice::from_ref(chain), &here);
            for one in chain {
                prop_assert!(whole <= carried(&[vec![*one]], &here) * (1.0 + 1e-9));
            }
        }
        // The pressures of a chain fall from path to path, from end to end.
        for chain in &flow(&branches, &here).branches {
            prop_assert_eq!(chain[0].before, here.upstream);
            prop_assert_eq!(chain[chain.len() - 1].behind, here.downstream);
            for path in chain {
                prop_assert!(path.before >= path.behind);
            }
        }
    }

    #[test]
    fn regimes_join_without_a_step_along_a_chain(
        chain in prop::collection::vec(any_path(), 2..4), up in decades(10.0, 3e5),
        part in 0.0..0.9_f64,
    ) {
        let near = |factor: f64| carried(std::slice::from_ref(&chain), &conditions(Gas::Air, up * factor, up * part));
        let (a, b) = (near(1.0), near(1.0 + 1e-6));
        prop_assert!((b / a - 1.0).abs() < 1e-6 * 4.0 / (1.0 - part) + 1e-9, "{a} {b}");
    }

    #[test]
    fn a_calibrated_flow_is_its_certificate_under_its_own_conditions(
        certified in decades(1e-14, 1e-6), up in decades(1e4, 3e5), part in 0.0..0.4_f64,
        factor in 1.1..3.0_f64,
    ) {
        let certificate = conditions(Gas::Helium, up, up * part);
        for kind in [
            FlowStandardKind::Controlled,
            FlowStandardKind::CriticalOrifice,
            FlowStandardKind::Molecular,
        ] {
            let standard =
                CalibratedFlow { kind, certified: MolarFlow::from_mol_per_s(certified), certificate };
            let own = standard.at(&certificate).expect("flow").mol_per_s();
            prop_assert!((own / certified - 1.0).abs() < 1e-14);
            let harder = conditions(Gas::Helium, up * factor, up * part);
            let driven = standard.at(&harder).expect("flow").mol_per_s();
            prop_assert!(driven.is_finite() && driven >= own);
        }
    }

    #[test]
    fn an_elastomer_starts_at_nothing_and_ends_at_its_steady_flow(
        permeability in decades(1e-18, 1e-12), diffusion in decades(1e-13, 1e-8),
        mm in 0.1..10.0_f64, pa in decades(1.0, 1e5),
    ) {
        let wall = PermeableWall {
            area: Area::from_cm2(1.0),
            thickness: Length::from_mm(mm),
            permeability_mol_per_m_s_pa: permeability,
            diffusion_m2_per_s: diffusion,
        };
        let driven = PressureDifference::from_pa(pa);
        let steady = wall.steady_flow(driven).mol_per_s();
        prop_assert_eq!(wall.steady_flow(PressureDifference::from_pa(0.0)).mol_per_s(), 0.0);
        prop_assert_eq!(wall.steady_flow(PressureDifference::from_pa(-pa)).mol_per_s(), -steady);
        let lag = wall.time_lag().s();
        let mut last = 0.0;
        for share in [0.0, 0.01, 0.1, 0.3, 0.6, 1.0, 2.0, 5.0, 20.0] {
            let now = wall.flow_after(driven, Duration::from_s(share * lag)).mol_per_s();
            prop_assert!(now >= last * (1.0 - 1e-12) && now <= steady * (1.0 + 1e-12), "{now} {last}");
            last = now;
        }
        prop_assert!((last / steady - 1.0).abs() < 1e-9);
    }
}

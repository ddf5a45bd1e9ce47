//! One cycle alone, among others in lanes, and on every kind of register: the
//! same digits.

mod worked_setup;

use physics::cycle::test_problem::{Registers, TestProblem, solve, solve_batch, solve_batch_on};
use physics::cycle::*;
use physics::gases::Gas;
use physics::leak_paths::LeakPath;
use physics::quantities::*;
use worked_setup::{pa, tier, vial};

fn bits(outcome: &CycleOutcome) -> Vec<u64> {
    let mut out: Vec<u64> = Vec::new();
    for values in
        [&outcome.trace.times_s, &outcome.trace.pressures_pa, &outcome.trace.temperatures_k]
    {
        out.push(values.len() as u64);
        out.extend(values.iter().map(|value| value.to_bits()));
    }
    for tier in &outcome.tiers {
        let parts = tier.contributions;
        out.extend(
            [
                tier.evacuate_end_s,
                tier.rise.pa(),
                parts.leak_pa,
                parts.outgassing_pa,
                parts.virtual_leak_pa,
                parts.thermal_pa,
            ]
            .map(f64::to_bits),
        );
    }
    out
}

#[test]
fn test_problems_have_one_digit_on_every_way() {
    // More problems than lanes, of very different lengths, so that lanes are
    // refilled at different moments.
    let problems: Vec<TestProblem> = (0..27)
        .map(|index| match index % 9 {
            0 => TestProblem::with_bore_m(0.0),
            k => TestProblem::with_bore_m(0.2e-6 * digits::scalar::powi(2.4, k)),
        })
        .collect();
    let alone: Vec<_> =
        problems.iter().map(|problem| bits(&solve(problem).expect("solved"))).collect();
    let of_batch = |batch: Vec<Result<CycleOutcome, CycleError>>| -> Vec<_> {
        batch.into_iter().map(|one| bits(&one.expect("solved"))).collect()
    };
    assert!(alone == of_batch(solve_batch(&problems, true)));
    for registers in Registers::ALL {
        match solve_batch_on(registers, &problems, true) {
            Some(batch) => assert!(alone == of_batch(batch), "{registers:?}"),
            None => eprintln!("notice: this processor has no {registers:?}, nothing to compare"),
        }
    }
}

#[test]
fn a_batch_of_cycles_has_the_digits_of_single_ones() {
    let mut setups = Vec::new();
    for index in 0..13 {
        let mut setup = vial();
        setup.leak = match index % 4 {
            0 => None,
            1 => Some(LeakPath::Orifice { bore_diameter: Length::from_um(f64::from(index)) }),
            2 => Some(LeakPath::Orifice { bore_diameter: Length::from_um(40.0) }),
            _ => Some(LeakPath::Channel {
                bore_diameter: Length::from_um(8.0),
                wall: Length::from_mm(0.5),
            }),
        };
        if index % 3 == 0 {
            setup.headspace.gas = Gas::Helium;
            setup.tiers = vec![tier(30_000.0, 5.0, 1.0, 2.0), tier(200.0, 10.0, 2.0, 4.0)];
        }
        if index == 5 {
            setup.headspace.pressure = pa(50.0);
        }
        setups.push(setup);
    }
    let mut broken = vial();
    broken.tiers.clear();
    setups.insert(4, broken);
    let batch = simulate_batch(&setups, true);
    assert_eq!(batch.len(), setups.len());
    for (setup, answer) in setups.iter().zip(batch) {
        match (simulate(setup), answer) {
            (Ok(alone), Ok(batch)) => assert_eq!(bits(&alone), bits(&batch)),
            (alone, batch) => assert_eq!(alone, batch),
        }
    }
}

#[test]
fn without_traces_the_tiers_are_the_same() {
    let setups = [vial(), vial(), vial()];
    let with = simulate_batch(&setups, true);
    let without = simulate_batch(&setups, false);
    for (with, without) in with.into_iter().zip(without) {
        let (with, without) = (with.expect("solved"), without.expect("solved"));
        assert_eq!(with.tiers, without.tiers);
        assert!(without.trace.pressures_pa.is_empty());
        assert_eq!(with.trace.stages, without.trace.stages);
    }
}

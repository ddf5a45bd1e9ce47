//! Channels in molecular flow by a second route: Clausing's integral equation of
//! a round tube, solved here anew, against the one law for all regimes.

use physics::gases::Gas;
use physics::leak_paths::*;
use physics::quantities::*;

/// Share of what leaves a ring that reaches a disc `x` radii further on.
fn ring_to_disc(x: f64) -> f64 {
    (x * x + 2.0) / (2.0 * (x * x + 4.0).sqrt()) - 0.5 * x
}

/// Share of the molecules entering a tube of `length` radii that pass it.
///
/// `p(x) = E(L - x) + ∫ K(|x - s|) p(s) ds` with `K = -dE/dx`, cells in which `p`
/// is constant; then `W = 1 - 2 ∫ E dx + 2 ∫ E p dx`. Source of the kernels:
/// P. Clausing 1932 (from memory; derived anew here from view factors).
fn transmission(length: f64, cells: usize) -> f64 {
    let width = length / cells as f64;
    let middle = |i: usize| (i as f64 + 0.5) * width;
    // Between cells `k` apart: a difference of the disc's share.
    let between: Vec<f64> = (0..cells)
        .map(|k| {
            let far = ring_to_disc((k as f64 + 0.5) * width);
            if k == 0 { 2.0 * (0.5 - far) } else { ring_to_disc((k as f64 - 0.5) * width) - far }
        })
        .collect();
    // The passing shares, by sweeps that converge as the tube is open.
    let mut passing: Vec<f64> = (0..cells).map(|i| middle(i) / length).collect();
    for _ in 0..100_000 {
        let mut change = 0.0_f64;
        for i in 0..cells {
            let others: f64 =
                (0..cells).filter(|&j| j != i).map(|j| between[i.abs_diff(j)] * passing[j]).sum();
            let next = (ring_to_disc(length - middle(i)) + others) / (1.0 - between[0]);
            change = change.max((next - passing[i]).abs());
            passing[i] = next;
        }
        if change < 1e-12 {
            break;
        }
    }
    let direct = 1.0 - (length * (length * length + 4.0).sqrt() - length * length) / 2.0;
    let by_wall: f64 = (0..cells).map(|i| 2.0 * ring_to_disc(middle(i)) * passing[i] * width).sum();
    direct + by_wall
}

/// Twice as fine, and what both would tend to.
fn limit(length: f64) -> f64 {
    let (coarse, fine) = (transmission(length, 60), transmission(length, 120));
    fine + (fine - coarse) / 3.0
}

#[test]
fn the_equation_gives_the_known_values() {
    // Cole's values for lengths of one and two radii, as quoted in the reference
    // note 1.6 (from memory there).
    assert!((limit(1.0) - 0.671_984).abs() < 2e-5, "{}", limit(1.0));
    assert!((limit(2.0) - 0.514_231).abs() < 2e-5, "{}", limit(2.0));
}

#[test]
fn the_law_in_molecular_flow_passes_clausings_share() {
    let radius = Length::from_um(0.05);
    let conditions = FlowConditions {
        gas: Gas::Helium,
        upstream: AbsolutePressure::from_pa(1.0),
        downstream: AbsolutePressure::from_pa(0.0),
        temperature: Temperature::from_celsius(20.0),
    };
    let bore_diameter = radius * 2.0;
    let efflux = LeakPath::Orifice { bore_diameter }.flow(&conditions).expect("flow");
    let efflux = efflux.molar_flow.mol_per_s();
    for length in [0.2, 1.0, 3.0, 10.0, 30.0] {
        let path = LeakPath::Channel { bore_diameter, wall: radius * length };
        let law = path.flow(&conditions).expect("flow").molar_flow.mol_per_s() / efflux;
        let exact = limit(length);
        // The law's closed form is within 0.7 % (reference note 1.8).
        assert!((law / exact - 1.0).abs() < 7e-3, "{length}: {law} {exact}");
    }
}

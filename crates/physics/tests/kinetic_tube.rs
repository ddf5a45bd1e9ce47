//! The kinetic coefficient of a long tube by a second route: the linearised BGK
//! equation between diffuse walls, solved here anew by following each direction
//! back to the wall.
//!
//! Lengths in radii, velocity per gradient of `ln p` and unit `v0`: a molecule
//! that comes from the distance `s` along the angle `φ` brings
//! `u(r) = 1/2π ∫ dφ ∫ (2 δ u(s) + 1) T₀(δ s) ds` up to the wall, with Abramowitz's
//! functions `T_n(x) = ∫ tⁿ exp(-t² - x/t) dt` from 0 to ∞, and `G = 4 ∫ u r dr`.
//! Over a piece of the way `∫ T₀(δ s) ds` is a difference of `T₁`.

mod linear_equations;

use digits::scalar::{cos, exp, sin};
use linear_equations::solve;
use physics::leak_paths::channel_conductance_coefficient;

const PI: f64 = std::f64::consts::PI;

/// `T₁` by the trapezoidal rule in `ln t`, which converges faster than any power
/// for this integrand.
fn abramowitz_one(x: f64) -> f64 {
    let step = 0.1;
    (0..335)
        .map(|k| exp(-31.0 + step * f64::from(k)))
        .map(|t| t * t * exp(-t * t - x / t) * step)
        .sum()
}

/// `T₁` from a table, straight between its points.
struct Functions {
    step: f64,
    values: Vec<f64>,
}

impl Functions {
    fn up_to(largest: f64) -> Self {
        let step = (largest / 20_000.0).min(5e-4);
        let count = (largest / step) as usize + 3;
        Self { step, values: (0..count).map(|k| abramowitz_one(k as f64 * step)).collect() }
    }

    fn one(&self, x: f64) -> f64 {
        let at = x / self.step;
        let below = at as usize;
        let part = at - below as f64;
        self.values[below] * (1.0 - part) + self.values[below + 1] * part
    }
}

/// `G` of a tube, with `rings` places of the radius.
///
/// On each ray the velocity is taken constant over short pieces, whose kernel is
/// integrated in closed form; the velocity at a place between two rings is that
/// of a parabola through its neighbours in `r²`.
fn coefficient(delta: f64, rings: usize) -> f64 {
    let functions = Functions::up_to(2.0 * delta + 0.1);
    // Rings crowded towards the wall, where the velocity bends.
    let radius: Vec<f64> =
        (0..rings).map(|i| sin(0.5 * PI * (i as f64 + 0.5) / rings as f64)).collect();
    let rays = 2 * rings;
    let mut matrix = vec![vec![0.0; rings]; rings];
    let mut free = vec![0.0; rings];
    for (i, &r) in radius.iter().enumerate() {
        for ray in 0..rays {
            // Half of the plane; the other half is its mirror image.
            let angle = PI * (ray as f64 + 0.5) / rays as f64;
            let (along, across) = (r * cos(angle), r * sin(angle));
            let whole = along + (1.0 - across * across).sqrt();
            let mean = 1.0 / rays as f64;
            free[i] += mean / delta * (functions.one(0.0) - functions.one(delta * whole));
            let pieces = 6 * rings;
            for piece in 0..pieces {
                // Short pieces at both ends of the ray.
                let edge = |k: usize| 0.5 * whole * (1.0 - cos(PI * k as f64 / pieces as f64));
                let (from, to) = (edge(piece), edge(piece + 1));
                let kernel = 2.0 * mean * (functions.one(delta * from) - functions.one(delta * to));
                let middle = 0.5 * (from + to) - along;
                let place = (middle * middle + across * across).sqrt();
                for (ring, share) in shares(&radius, place) {
                    matrix[i][ring] += kernel * share;
                }
            }
        }
    }
    let u = solve(&matrix, &free);
    // Flow of the profile, by the same places: r dr = sin cos dangle.
    let step = 0.5 * PI / rings as f64;
    let flow: f64 = (0..rings)
        .map(|i| {
            let angle = step * (i as f64 + 0.5);
            u[i] * sin(angle) * cos(angle) * step
        })
        .sum();
    4.0 * flow
}

/// The rings around a place with their shares, straight in the square of radius.
fn shares(radius: &[f64], place: f64) -> [(usize, f64); 2] {
    let above = radius.partition_point(|&r| r < place).clamp(1, radius.len() - 1);
    let (a, b) = (radius[above - 1], radius[above]);
    let part = (place * place - a * a) / (b * b - a * a);
    [(above - 1, 1.0 - part), (above, part)]
}

#[test]
fn the_table_of_the_long_tube_is_the_solution_of_its_equation() {
    let mut worst = (0.0, 0.0);
    for delta in [0.01, 0.05, 0.1, 0.306, 0.6, 1.0, 2.0, 3.5, 5.0, 10.0] {
        let (coarse, fine) = (coefficient(delta, 16), coefficient(delta, 32));
        let solved = fine + (fine - coarse) / 3.0;
        let error = (channel_conductance_coefficient(delta) / solved - 1.0).abs();
        println!("{delta}: {coarse:.5} {fine:.5} {solved:.5} {error:.1e}");
        if error > worst.1 {
            worst = (delta, error);
        }
    }
    assert!(worst.1 < 2e-4, "{worst:?}");
}

#[test]
fn another_rarefaction_would_be_seen() {
    let other = coefficient(1.1, 24);
    assert!((channel_conductance_coefficient(1.0) / other - 1.0).abs() > 5e-3);
}

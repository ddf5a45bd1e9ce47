//! The kinetic coefficient of a long gap by a second route: the linearised BGK
//! equation between diffuse walls, solved here anew.
//!
//! Velocity in units of the driving gradient, gap of δ mean free times:
//! `U(y) = 1/√π ∫ T₋₁(|y - s|) (U(s) + 1) ds`, `G = <U>/δ`, with Abramowitz's
//! functions `T_n(x) = ∫ tⁿ exp(-t² - x/t) dt` from 0 to ∞. Product integration with
//! straight pieces on points crowded towards the walls: the kernel's integral is
//! `-T₀` and that of `T₀` is `-T₁`.

mod linear_equations;

use digits::scalar::{cos, exp, sin};
use linear_equations::solve;
use physics::leak_paths::slit_conductance_coefficient;

const PI: f64 = std::f64::consts::PI;

/// `T_0` and `T_1`, by the trapezoidal rule in `ln t`, which converges faster
/// than any power for this integrand.
struct Abramowitz {
    /// `1/t`, and the weights of both functions.
    points: Vec<(f64, f64, f64)>,
}

impl Abramowitz {
    fn new() -> Self {
        let step = 0.1;
        let points = (0..335)
            .map(|k| {
                let t = exp(-31.0 + step * f64::from(k));
                let weight = t * exp(-t * t) * step;
                (1.0 / t, weight, weight * t)
            })
            .collect();
        Self { points }
    }

    fn at(&self, x: f64) -> (f64, f64) {
        self.points.iter().fold((0.0, 0.0), |(zero, one), &(inverse, w0, w1)| {
            let decay = exp(-x * inverse);
            (zero + w0 * decay, one + w1 * decay)
        })
    }
}

/// `G` of a gap with `2 half + 1` points.
fn coefficient(functions: &Abramowitz, delta: f64, half: usize) -> f64 {
    let n = 2 * half + 1;
    let angle = |i: usize| PI * i as f64 / (n - 1) as f64;
    let y: Vec<f64> = (0..n).map(|i| -0.5 * delta * cos(angle(i))).collect();
    let mut a = vec![vec![0.0; n]; n];
    for (i, row) in a.iter_mut().enumerate() {
        let at: Vec<(f64, f64)> = y.iter().map(|s| functions.at((y[i] - s).abs())).collect();
        for k in 0..n - 1 {
            let (h, (zero_a, one_a), (zero_b, one_b)) = (y[k + 1] - y[k], at[k], at[k + 1]);
            // Integrals of the kernel, and of the kernel times (s - y_k)/h.
            let (whole, rising) = if i <= k {
                (zero_a - zero_b, -zero_b + (one_a - one_b) / h)
            } else {
                (zero_b - zero_a, zero_b - (one_b - one_a) / h)
            };
            row[k] += (whole - rising) / PI.sqrt();
            row[k + 1] += rising / PI.sqrt();
        }
    }
    let gained: Vec<f64> = a.iter().map(|row| row.iter().sum()).collect();
    let u = solve(&a, &gained);
    // Simpson's rule in the angle.
    let step = PI / (n - 1) as f64;
    let mean: f64 = (0..n)
        .map(|i| {
            let weight = match i {
                _ if i == 0 || i == n - 1 => 1.0,
                _ if i % 2 == 1 => 4.0,
                _ => 2.0,
            };
            weight * step / 3.0 * u[i] * 0.5 * sin(angle(i))
        })
        .sum();
    mean / delta
}

#[test]
fn the_table_of_the_long_slit_is_the_solution_of_its_equation() {
    let functions = Abramowitz::new();
    // Points of the table and between them.
    let mut worst = (0.0, 0.0);
    for delta in [
        0.001, 0.003, 0.01, 0.03, 0.04, 0.1, 0.15, 0.3, 0.4, 0.8, 1.0, 1.2, 2.0, 3.0, 4.5, 7.0,
        10.0, 12.0, 20.0, 30.0, 40.0, 50.0,
    ] {
        // The straight pieces err by the square of their width: two grids and
        // what they would tend to.
        let half = if delta < 8.0 { 30 } else { 75 };
        let (coarse, fine) =
            (coefficient(&functions, delta, half), coefficient(&functions, delta, 2 * half));
        let solved = fine + (fine - coarse) / 3.0;
        let error = (slit_conductance_coefficient(delta) / solved - 1.0).abs();
        if error > worst.1 {
            worst = (delta, error);
        }
    }
    println!("largest difference {:.1e} at a rarefaction of {}", worst.1, worst.0);
    assert!(worst.1 < 3e-4, "{worst:?}");
}

#[test]
fn a_wrong_kernel_would_be_seen() {
    let functions = Abramowitz::new();
    // Known values: T_0(0) = √π/2, T_1(0) = 1/2 (M. Abramowitz, from memory).
    let (zero, one) = functions.at(0.0);
    assert!((zero - PI.sqrt() / 2.0).abs() < 1e-10 && (one - 0.5).abs() < 1e-10, "{zero} {one}");
    let other = coefficient(&functions, 1.3, 40);
    assert!((slit_conductance_coefficient(1.0) / other - 1.0).abs() > 1e-3);
}

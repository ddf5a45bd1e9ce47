//! Least squares of a sum of shapes, and the search for the best constants.

use super::circumstances::Circumstances;
use super::term::{Cause, FAST, FOLLOW, GAS, PLACES, SLOW, STEP, Shape, TREND};
use super::window::Window;
use super::{leak, outgassing, thermal, vapour};

/// Most columns of one sum: one for each place, and one for each constant.
pub(super) const MOST: usize = 2 * PLACES;

/// A window and candidate shapes, whitened for first-order autoregressive
/// noise, with the unknown start pressure taken out.
pub(super) struct Problem {
    n: usize,
    m: usize,
    gram: Vec<f64>,
    cross: Vec<f64>,
    total: f64,
    /// Squares that the steps of the gauge alone leave.
    floor: f64,
}

/// The answer of a least-squares problem.
#[derive(Debug, Clone, Copy)]
pub(super) struct Solved {
    /// Squared residuals.
    pub(super) squares: f64,
    /// Coefficients in the order asked for.
    pub(super) coefficients: [f64; MOST],
}

/// Values with neighbouring noise made independent: `y_i - rho y_(i-1)`.
pub(super) fn whitened(values: &[f64], rho: f64) -> Vec<f64> {
    let mut out = Vec::with_capacity(values.len());
    let mut before = None;
    for &value in values {
        out.push(before.map_or(value * (1.0 - rho * rho).sqrt(), |last| value - rho * last));
        before = Some(value);
    }
    out
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    // Four partial sums in a fixed order.
    let mut sums = [0.0; 4];
    let (a4, b4) = (a.chunks_exact(4), b.chunks_exact(4));
    let (rest_a, rest_b) = (a4.remainder(), b4.remainder());
    for (x, y) in a4.zip(b4) {
        for lane in 0..4 {
            sums[lane] += x[lane] * y[lane];
        }
    }
    let rest: f64 = rest_a.iter().zip(rest_b).map(|(x, y)| x * y).sum();
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

/// The columns of a problem after whitening and without the start pressure.
pub(super) struct Prepared {
    constant: Vec<f64>,
    constant_square: f64,
    values: Vec<f64>,
    rho: f64,
}

impl Prepared {
    pub(super) fn new(window: &Window, rho: f64) -> Self {
        let constant = whitened(&vec![1.0; window.n()], rho);
        let constant_square = dot(&constant, &constant);
        let start = window.pressures_pa.first().copied().unwrap_or(0.0);
        // The start is taken off first, so that no digits are lost.
        let values: Vec<f64> = window.pressures_pa.iter().map(|value| value - start).collect();
        let mut prepared = Self { constant, constant_square, values: Vec::new(), rho };
        prepared.values = prepared.column(&values);
        prepared
    }

    /// A column whitened, and with the start pressure projected out.
    pub(super) fn column(&self, values: &[f64]) -> Vec<f64> {
        let mut out = whitened(values, self.rho);
        if self.constant_square > 0.0 {
            let share = dot(&out, &self.constant) / self.constant_square;
            for (value, one) in out.iter_mut().zip(&self.constant) {
                *value -= share * one;
            }
        }
        out
    }

    /// The data, prepared the same way.
    pub(super) fn values(&self) -> &[f64] {
        &self.values
    }
}

impl Problem {
    pub(super) fn new(window: &Window, shapes: &[Shape], rho: f64) -> Self {
        let prepared = Prepared::new(window, rho);
        let columns: Vec<Vec<f64>> =
            shapes.iter().map(|shape| prepared.column(&shape.column)).collect();
        Self::of_columns(window, prepared.values(), &columns)
    }

    pub(super) fn of_columns(window: &Window, values: &[f64], columns: &[Vec<f64>]) -> Self {
        let m = columns.len();
        let mut gram = vec![0.0; m * m];
        for i in 0..m {
            for j in 0..=i {
                let product = dot(&columns[i], &columns[j]);
                gram[i * m + j] = product;
                gram[j * m + i] = product;
            }
        }
        Self {
            n: window.n(),
            m,
            cross: columns.iter().map(|column| dot(column, values)).collect(),
            gram,
            total: dot(values, values),
            floor: window.floor_variance * window.n() as f64,
        }
    }

    pub(super) const fn n(&self) -> usize {
        self.n
    }

    /// Cholesky factor of the scaled Gram matrix of some columns; `None`
    /// where they cannot be told apart at all.
    fn factor(&self, chosen: &[usize]) -> Option<([[f64; MOST]; MOST], [f64; MOST])> {
        let k = chosen.len();
        let mut scale = [0.0; MOST];
        for (slot, &column) in scale.iter_mut().zip(chosen) {
            let square = self.gram[column * self.m + column];
            if !(square > 0.0) {
                return None;
            }
            *slot = 1.0 / square.sqrt();
        }
        let mut l = [[0.0; MOST]; MOST];
        for i in 0..k {
            for j in 0..=i {
                let mut value = self.gram[chosen[i] * self.m + chosen[j]] * scale[i] * scale[j];
                for (of_i, of_j) in l[i].iter().zip(&l[j]).take(j) {
                    value -= of_i * of_j;
                }
                if i == j {
                    if value < 1e-9 {
                        return None;
                    }
                    l[i][i] = value.sqrt();
                } else {
                    l[i][j] = value / l[j][j];
                }
            }
        }
        Some((l, scale))
    }

    /// Least squares with some of the columns.
    pub(super) fn solve(&self, chosen: &[usize]) -> Option<Solved> {
        let k = chosen.len();
        let (l, scale) = self.factor(chosen)?;
        let mut z = [0.0; MOST];
        let mut squares = self.total;
        for i in 0..k {
            let mut value = self.cross[chosen[i]] * scale[i];
            for p in 0..i {
                value -= l[i][p] * z[p];
            }
            z[i] = value / l[i][i];
            squares -= z[i] * z[i];
        }
        let mut coefficients = [0.0; MOST];
        for i in (0..k).rev() {
            let mut value = z[i];
            for p in i + 1..k {
                value -= l[p][i] * coefficients[p];
            }
            coefficients[i] = value / l[i][i];
        }
        for (coefficient, scale) in coefficients.iter_mut().zip(scale) {
            *coefficient *= scale;
        }
        Some(Solved { squares: squares.max(0.0) + self.floor, coefficients })
    }

    /// `g^T (X^T X)^-1 g` for a gradient over some of the columns.
    pub(super) fn variance_of(&self, chosen: &[usize], gradient: &[f64]) -> Option<f64> {
        let (l, scale) = self.factor(chosen)?;
        let mut z = [0.0; MOST];
        let mut variance = 0.0;
        for i in 0..chosen.len() {
            let mut value = gradient[i] * scale[i];
            for p in 0..i {
                value -= l[i][p] * z[p];
            }
            z[i] = value / l[i][i];
            variance += z[i] * z[i];
        }
        Some(variance)
    }
}

/// A fitted sum.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    /// Its shapes, at most one for each place, in the order of the places.
    pub(super) shapes: Vec<Shape>,
    /// Their coefficients.
    pub(super) coefficients: Vec<f64>,
    /// Squared residuals after whitening.
    pub(super) squares: f64,
    /// Hurvich and Tsai's criterion: smaller is better.
    pub(super) aicc: f64,
    /// Parameters that were fitted, noise included.
    pub(super) n_parameters: usize,
}

/// What is known of the noise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Noise {
    /// Autocorrelation of neighbouring points.
    pub(super) rho: f64,
    /// What slower noise adds to the variance of a slow quantity after
    /// whitening, as a factor from 1 on.
    pub(super) excess: f64,
}

/// `n ln(S/n) + 2k + 2k(k+1)/(n-k-1)` with `n` points over the excess of the
/// noise; infinite where too few are left.
pub(super) fn aicc(n: usize, noise: Noise, squares: f64, k: usize) -> f64 {
    if !(squares > 0.0) {
        return f64::INFINITY;
    }
    let (count, k) = (n as f64 / noise.excess, k as f64);
    if count < k + 3.0 {
        return f64::INFINITY;
    }
    count * digits::scalar::ln(squares / count) + 2.0 * k + 2.0 * k * (k + 1.0) / (count - k - 1.0)
}

/// Start pressure, variance and autocorrelation of the noise.
const ALWAYS_FITTED: usize = 3;

/// Which kinds of shape a sum has.
pub(super) type Pattern = [Option<Cause>; PLACES];

impl Fit {
    pub(super) fn pattern(&self) -> Pattern {
        let mut pattern = [None; PLACES];
        for shape in &self.shapes {
            pattern[shape.place] = Some(shape.cause);
        }
        pattern
    }

    pub(super) fn at(&self, place: usize) -> Option<(&Shape, f64)> {
        self.shapes
            .iter()
            .zip(&self.coefficients)
            .find(|(shape, _)| shape.place == place)
            .map(|(shape, &coefficient)| (shape, coefficient))
    }
}

/// The best sum of each pattern: every combination of candidate shapes is
/// solved, and kept where every coefficient has its sign.
pub(super) fn every_pattern(window: &Window, candidates: &[Shape], noise: Noise) -> Vec<Fit> {
    let problem = Problem::new(window, candidates, noise.rho);
    let span_pa = span(&window.pressures_pa);
    let of_place = |place: usize| -> Vec<Option<usize>> {
        core::iter::once(None)
            .chain((0..candidates.len()).filter(|&i| candidates[i].place == place).map(Some))
            .collect()
    };
    let places: Vec<Vec<Option<usize>>> = (0..PLACES).map(of_place).collect();
    let mut best: std::collections::BTreeMap<Pattern, (f64, Vec<usize>, Solved)> =
        std::collections::BTreeMap::new();
    let mut chosen: Vec<usize> = Vec::with_capacity(PLACES);
    for &trend in &places[TREND] {
        let empties = trend.is_some_and(|i| candidates[i].cause == Cause::EmptyingLeak);
        for &gas in &places[GAS] {
            for &slow in &places[SLOW] {
                // Two saturating shapes in one record say nothing.
                if empties && slow.is_some() {
                    continue;
                }
                for &fast in &places[FAST] {
                    let last = places[STEP]
                        .iter()
                        .flat_map(|&step| places[FOLLOW].iter().map(move |&follow| (step, follow)));
                    for (step, follow) in last {
                        chosen.clear();
                        chosen.extend([trend, gas, slow, fast, step, follow].into_iter().flatten());
                        let Some(solved) = problem.solve(&chosen) else { continue };
                        let keeps_signs = chosen
                            .iter()
                            .zip(solved.coefficients)
                            .all(|(&i, c)| c >= candidates[i].lowest && c <= candidates[i].highest);
                        if !keeps_signs || cancels(candidates, &chosen, &solved, span_pa) {
                            continue;
                        }
                        let k = parameters(candidates, &chosen);
                        let score = aicc(problem.n(), noise, solved.squares, k);
                        let pattern = pattern_of(candidates, &chosen);
                        let slot = best.get(&pattern);
                        if slot.is_none_or(|(least, ..)| score < *least) {
                            best.insert(pattern, (score, chosen.clone(), solved));
                        }
                    }
                }
            }
        }
    }
    best.into_values()
        .map(|(score, chosen, solved)| Fit {
            n_parameters: parameters(candidates, &chosen),
            shapes: chosen.iter().map(|&i| candidates[i].clone()).collect(),
            coefficients: solved.coefficients[..chosen.len()].to_vec(),
            squares: solved.squares,
            aicc: score,
        })
        .collect()
}

/// How much larger the terms may be together than the record's own range:
/// beyond, they mostly cancel each other, which no chamber does by chance.
const MOST_CANCELLED: f64 = 2.5;

fn cancels(candidates: &[Shape], chosen: &[usize], solved: &Solved, span_pa: f64) -> bool {
    let moved: f64 = chosen
        .iter()
        .zip(solved.coefficients)
        .map(|(&i, coefficient)| coefficient.abs() * span(&candidates[i].column))
        .sum();
    chosen.len() > 1 && moved > MOST_CANCELLED * span_pa
}

/// Largest less smallest.
fn span(values: &[f64]) -> f64 {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    high - low
}

fn pattern_of(candidates: &[Shape], chosen: &[usize]) -> Pattern {
    let mut pattern = [None; PLACES];
    for &i in chosen {
        pattern[candidates[i].place] = Some(candidates[i].cause);
    }
    pattern
}

fn parameters(candidates: &[Shape], chosen: &[usize]) -> usize {
    ALWAYS_FITTED + chosen.len() + chosen.iter().map(|&i| candidates[i].n_searched).sum::<usize>()
}

/// Parameters of a sum, noise included.
pub(super) fn n_parameters(shapes: &[Shape]) -> usize {
    ALWAYS_FITTED + shapes.len() + shapes.iter().map(|shape| shape.n_searched).sum::<usize>()
}

/// The shape with another constant.
fn rebuilt(shape: &Shape, window: &Window, about: &Circumstances, constant: f64) -> Option<Shape> {
    match (shape.cause, shape.constant) {
        (Cause::EmptyingLeak, Some(_)) => leak::emptying_at(window, about, constant),
        (Cause::Outgassing, Some(_)) if shape.n_searched > 0 => Some(Shape {
            n_searched: shape.n_searched,
            ..outgassing::at(window, shape.age_s, constant)
        }),
        (Cause::Vapour, Some(_)) => Some(vapour::at(window, constant)),
        (Cause::Thermal, Some(_)) => Some(thermal::at(window, constant)),
        _ => None,
    }
}

/// How far a constant may move from its place on the grid, as a factor.
const REACH: f64 = 1.6;
/// Sweeps over the constants, and tries in each.
const SWEEPS: usize = 2;
const TRIES: usize = 14;

/// Moves the constants of a sum off the grid to where the squares are least
/// (golden section, one constant after the other).
pub(super) fn refined(fit: &Fit, window: &Window, about: &Circumstances, noise: Noise) -> Fit {
    let prepared = Prepared::new(window, noise.rho);
    let mut best = fit.clone();
    let mut columns: Vec<Vec<f64>> =
        best.shapes.iter().map(|shape| prepared.column(&shape.column)).collect();
    let all: Vec<usize> = (0..best.shapes.len()).collect();
    for sweep in 0..SWEEPS {
        for place in 0..best.shapes.len() {
            let Some(centre) = best.shapes[place].constant else { continue };
            if rebuilt(&best.shapes[place], window, about, centre).is_none() {
                continue;
            }
            let reach = if sweep == 0 { REACH } else { REACH.sqrt() };
            let (mut low, mut high) =
                (digits::scalar::ln(centre / reach), digits::scalar::ln(centre * reach));
            if best.shapes[place].cause == Cause::Outgassing {
                // Between diffusion and desorption.
                low = low.max(digits::scalar::ln(0.4));
                high = high.min(digits::scalar::ln(1.15));
            }
            const GOLDEN: f64 = 0.618_033_988_749_894_9;
            let mut tried = |at: f64, columns: &mut Vec<Vec<f64>>| -> f64 {
                let Some(shape) =
                    rebuilt(&best.shapes[place], window, about, digits::scalar::exp(at))
                else {
                    return f64::INFINITY;
                };
                columns[place] = prepared.column(&shape.column);
                let problem = Problem::of_columns(window, prepared.values(), columns);
                let Some(solved) = problem.solve(&all) else { return f64::INFINITY };
                let limits_of = |i: usize| if i == place { &shape } else { &best.shapes[i] };
                let fits = all.iter().all(|&i| {
                    let c = solved.coefficients[i];
                    c >= limits_of(i).lowest && c <= limits_of(i).highest
                });
                if !fits {
                    return f64::INFINITY;
                }
                let squares = solved.squares;
                if squares < best.squares {
                    best.squares = squares;
                    best.coefficients = solved.coefficients[..all.len()].to_vec();
                    best.shapes[place] = shape;
                }
                squares
            };
            let (mut inner, mut outer) =
                (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
            let (mut at_inner, mut at_outer) =
                (tried(inner, &mut columns), tried(outer, &mut columns));
            for _ in 0..TRIES {
                if at_inner <= at_outer {
                    high = outer;
                    outer = inner;
                    at_outer = at_inner;
                    inner = high - GOLDEN * (high - low);
                    at_inner = tried(inner, &mut columns);
                } else {
                    low = inner;
                    inner = outer;
                    at_inner = at_outer;
                    outer = low + GOLDEN * (high - low);
                    at_outer = tried(outer, &mut columns);
                }
            }
            columns[place] = prepared.column(&best.shapes[place].column);
        }
    }
    best.aicc = aicc(window.n(), noise, best.squares, best.n_parameters);
    best
}

/// What the fit leaves, before whitening, Pa.
pub(super) fn residuals(fit: &Fit, window: &Window) -> Vec<f64> {
    let explained = |point: usize| -> f64 {
        fit.shapes.iter().zip(&fit.coefficients).map(|(shape, c)| c * shape.column[point]).sum()
    };
    let raw: Vec<f64> =
        (0..window.n()).map(|point| window.pressures_pa[point] - explained(point)).collect();
    let mean = digits::sums::mean(&raw).unwrap_or(0.0);
    raw.into_iter().map(|value| value - mean).collect()
}

/// Gradient columns: the shapes themselves, and how each changes with its
/// constant, scaled by its coefficient.
pub(super) fn gradients(fit: &Fit, window: &Window, about: &Circumstances) -> Vec<Vec<f64>> {
    let mut columns: Vec<Vec<f64>> = fit.shapes.iter().map(|shape| shape.column.clone()).collect();
    for (shape, &coefficient) in fit.shapes.iter().zip(&fit.coefficients) {
        let Some(centre) = shape.constant else { continue };
        const STEP_OF_LOG: f64 = 1e-3;
        let Some(moved) = rebuilt(shape, window, about, centre * (1.0 + STEP_OF_LOG)) else {
            continue;
        };
        columns.push(
            moved
                .column
                .iter()
                .zip(&shape.column)
                .map(|(after, before)| coefficient * (after - before) / STEP_OF_LOG)
                .collect(),
        );
    }
    columns
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn window(pressures_pa: Vec<f64>) -> Window {
        let times_s = (0..pressures_pa.len()).map(|i| i as f64 * 0.1).collect();
        Window {
            times_s,
            pressures_pa,
            temperatures_k: Vec::new(),
            age_s: Some(5.0),
            measure_s: (0.0, 10.0),
            floor_variance: 1e-12,
            stride: 1,
            interval_s: 0.1,
        }
    }

    #[test]
    fn an_exact_line_by_hand() {
        let window = window((0..50).map(|i| 3.0 + 0.2 * f64::from(i)).collect());
        let shapes = [leak::steady(&window)];
        let solved = Problem::new(&window, &shapes, 0.3).solve(&[0]).unwrap();
        assert!((solved.coefficients[0] - 2.0).abs() < 1e-9);
        assert!(solved.squares < 1e-8);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]
        /// Non-negative least squares has one solution; at it no coefficient
        /// is below zero, the squares do not fall along a coefficient in use
        /// and do not fall either when one at zero is raised (the conditions
        /// of Karush, Kuhn and Tucker).
        #[test]
        fn the_best_support_solves_the_nonnegative_problem(seed in 0_u64..1000) {
            let mut stream = digits::RandomStream::new(seed, 1);
            let window = window((0..60).map(|_| 10.0 * stream.normal()).collect());
            let shapes = [
                outgassing::at(&window, 5.0, 1.0),
                vapour::at(&window, 1.0),
            ];
            let problem = Problem::new(&window, &shapes, 0.0);
            let mut best = (problem.total, Vec::new(), [0.0; MOST]);
            for support in [vec![0], vec![1], vec![0, 1]] {
                let solved = problem.solve(&support).unwrap();
                let positive = solved.coefficients[..support.len()].iter().all(|c| *c >= 0.0);
                if positive && solved.squares < best.0 {
                    best = (solved.squares, support, solved.coefficients);
                }
            }
            let mut coefficients = [0.0; 2];
            for (&i, c) in best.1.iter().zip(best.2) { coefficients[i] = c; }
            for i in 0..2 {
                let slope: f64 = problem.cross[i]
                    - (0..2).map(|j| problem.gram[i * 2 + j] * coefficients[j]).sum::<f64>();
                let size = problem.gram[i * 2 + i].sqrt() * problem.total.sqrt();
                if coefficients[i] > 0.0 {
                    prop_assert!(slope.abs() < 1e-8 * size);
                } else {
                    prop_assert!(slope <= 1e-8 * size);
                }
            }
        }
    }
}

//! Restricted likelihood of a mean and any number of random factors.
//!
//! All that is needed of the values are sums over levels and pairs of levels,
//! so an evaluation costs the cube of the number of levels, not of values.
//! Source: C. R. Henderson (1950) for the equations; D. M. Bates and S.
//! DebRoy, J. Multivar. Anal. 91 (2004) 1 for the profiled criterion; H. Zhou,
//! L. Hu, J. Zhou and K. Lange, J. Comput. Graph. Stat. 28 (2019) 350 for the
//! first steps (from memory).

use digits::scalar::{exp, ln};
use nalgebra::{Cholesky, DMatrix, DVector};

/// Sums of centred and scaled values over the levels of all factors.
#[derive(Debug, Clone)]
pub(super) struct Equations {
    /// Number of values of each pair of levels.
    pub pairs: DMatrix<f64>,
    /// Number of values of each level.
    pub counts: DVector<f64>,
    /// Sum of the values of each level.
    pub sums: DVector<f64>,
    /// Factor of each level.
    pub factor: Vec<usize>,
    pub factors: usize,
    pub n: f64,
    pub total: f64,
    pub squares: f64,
}

/// The criterion at ratios of the factors' variances to the residual one.
#[derive(Debug, Clone)]
pub(super) struct Point {
    pub criterion: f64,
    /// Derivatives by the ratios.
    pub gradient: Vec<f64>,
    pub residual: f64,
    pub mean: f64,
    /// `1' V^-1 1`, residual variance one.
    pub weight: f64,
    /// `Z' V^-1 (y - mean)`.
    pub rest: DVector<f64>,
    /// `Z' P Z`.
    pub projected: DMatrix<f64>,
    /// Numerator and denominator of the step that always descends.
    shares: Vec<(f64, f64)>,
}

impl Equations {
    pub(super) fn new(values: &[f64], columns: &[Vec<usize>], levels: &[usize]) -> Self {
        let offsets: Vec<usize> = levels
            .iter()
            .scan(0, |start, count| {
                let own = *start;
                *start += count;
                Some(own)
            })
            .collect();
        let q = levels.iter().sum();
        let mut pairs = DMatrix::zeros(q, q);
        let (mut counts, mut sums) = (DVector::zeros(q), DVector::zeros(q));
        for (i, value) in values.iter().enumerate() {
            let places: Vec<usize> =
                columns.iter().zip(&offsets).map(|(column, start)| start + column[i]).collect();
            for a in &places {
                counts[*a] += 1.0;
                sums[*a] += value;
                for b in &places {
                    pairs[(*a, *b)] += 1.0;
                }
            }
        }
        let factor =
            levels.iter().enumerate().flat_map(|(k, count)| std::iter::repeat_n(k, *count));
        Self {
            pairs,
            counts,
            sums,
            factor: factor.collect(),
            factors: levels.len(),
            n: values.len() as f64,
            total: digits::sums::sum(values.iter().copied()),
            squares: digits::sums::sum(values.iter().map(|v| v * v)),
        }
    }

    /// Sum of a quantity over the levels of each factor.
    fn by_factor(&self, of: impl Fn(usize) -> f64) -> Vec<f64> {
        let mut sums = vec![0.0; self.factors];
        for (level, factor) in self.factor.iter().enumerate() {
            sums[*factor] += of(level);
        }
        sums
    }

    /// Everything at one set of ratios; `None` where the arithmetic overflows.
    pub(super) fn at(&self, ratios: &[f64]) -> Option<Point> {
        let q = self.counts.len();
        let d: Vec<f64> = self.factor.iter().map(|k| ratios[*k].sqrt()).collect();
        let mut inner = DMatrix::from_fn(q, q, |i, j| d[i] * self.pairs[(i, j)] * d[j]);
        for i in 0..q {
            inner[(i, i)] += 1.0;
        }
        let factor = Cholesky::new(inner)?;
        let lower = factor.l_dirty();
        let log_determinant: f64 = 2.0 * (0..q).map(|i| ln(lower[(i, i)])).sum::<f64>();
        let scaled = |v: &DVector<f64>| DVector::from_fn(q, |i, _| d[i] * v[i]);
        let mut half_counts = scaled(&self.counts);
        let mut half_sums = scaled(&self.sums);
        let mut half_pairs = DMatrix::from_fn(q, q, |i, j| d[i] * self.pairs[(i, j)]);
        let solved = lower.solve_lower_triangular_mut(&mut half_counts)
            && lower.solve_lower_triangular_mut(&mut half_sums)
            && lower.solve_lower_triangular_mut(&mut half_pairs);
        if !solved {
            return None;
        }
        let weight = self.n - half_counts.norm_squared();
        let mean = (self.total - half_counts.dot(&half_sums)) / weight;
        // Squares about the mean, so that nothing cancels twice.
        let about = self.squares - 2.0 * mean * self.total + mean * mean * self.n;
        let half_rest = &half_sums - &half_counts * mean;
        let quadratic = about - half_rest.norm_squared();
        let df = self.n - 1.0;
        let residual = quadratic / df;
        if !(weight > 0.0 && residual > 0.0) {
            return None;
        }
        let criterion =
            df * (1.0 + ln(2.0 * core::f64::consts::PI * residual)) + log_determinant + ln(weight);
        let seen = &self.counts - half_pairs.tr_mul(&half_counts);
        let rest = &self.sums - &self.counts * mean - half_pairs.tr_mul(&half_rest);
        let projected =
            &self.pairs - half_pairs.tr_mul(&half_pairs) - &seen * seen.transpose() / weight;
        let traces = self.by_factor(|level| projected[(level, level)]);
        let squares = self.by_factor(|level| rest[level] * rest[level]);
        let shares: Vec<(f64, f64)> =
            squares.iter().zip(&traces).map(|(s, t)| (s / residual, *t)).collect();
        let gradient = shares.iter().map(|(up, down)| down - up).collect();
        criterion.is_finite().then_some(Point {
            criterion,
            gradient,
            residual,
            mean,
            weight,
            rest,
            projected,
            shares,
        })
    }

    /// Ratios at the smallest criterion, zero included, with the point there
    /// and the gain that Newton's method still promises.
    pub(super) fn minimise(&self) -> Option<(Vec<f64>, Point, f64)> {
        let mut ratios = vec![1.0; self.factors];
        let mut here = self.at(&ratios)?;
        for _ in 0..400 {
            let before = here.criterion;
            for _ in 0..8 {
                self.descend(&mut ratios, &mut here)?;
            }
            self.to_the_boundary(&mut ratios, &mut here);
            let gain = self.newton(&mut ratios, &mut here)?;
            let released = self.release(&mut ratios, &mut here);
            if !released && gain < 1e-11 && before - here.criterion < 1e-9 {
                return Some((ratios, here, gain));
            }
        }
        None
    }

    /// The step that never climbs: each ratio times the root of its share.
    fn descend(&self, ratios: &mut [f64], here: &mut Point) -> Option<()> {
        for (ratio, (up, down)) in ratios.iter_mut().zip(&here.shares) {
            if *down > 0.0 {
                *ratio *= (up / down).sqrt().clamp(1e-3, 1e3);
            }
        }
        *here = self.at(ratios)?;
        Some(())
    }

    /// Takes small ratios to zero where that does not raise the criterion.
    fn to_the_boundary(&self, ratios: &mut [f64], here: &mut Point) {
        for k in 0..self.factors {
            // A ratio that the gradient pulls down and that hardly shows.
            if ratios[k] > 0.0 && here.gradient[k] > 0.0 {
                let mut next = ratios.to_vec();
                next[k] = 0.0;
                if let Some(there) = self.at(&next)
                    && there.criterion <= here.criterion
                    && there.gradient[k] >= 0.0
                {
                    ratios[k] = 0.0;
                    *here = there;
                }
            }
        }
    }

    /// Lets a ratio leave zero where the criterion falls there.
    fn release(&self, ratios: &mut [f64], here: &mut Point) -> bool {
        for k in 0..self.factors {
            if ratios[k] == 0.0 && here.gradient[k] < -1e-7 {
                let mut share = 1e-2;
                while share > 1e-10 {
                    let mut next = ratios.to_vec();
                    next[k] = share;
                    if let Some(there) = self.at(&next)
                        && there.criterion < here.criterion
                    {
                        ratios[k] = share;
                        *here = there;
                        return true;
                    }
                    share *= 0.1;
                }
            }
        }
        false
    }

    /// Newton's method on the logarithms of the ratios above zero; gives the
    /// gain it still promises.
    fn newton(&self, ratios: &mut [f64], here: &mut Point) -> Option<f64> {
        let free: Vec<usize> = (0..self.factors).filter(|k| ratios[*k] > 0.0).collect();
        let m = free.len();
        let mut gain = 0.0;
        for _ in 0..30 {
            let slopes = |ratios: &[f64], p: &Point| {
                DVector::from_fn(m, |i, _| ratios[free[i]] * p.gradient[free[i]])
            };
            let gradient = slopes(ratios, here);
            let mut bends = DMatrix::zeros(m, m);
            let h = 1e-4;
            for (i, k) in free.iter().enumerate() {
                let side = |sign: f64| {
                    let mut next = ratios.to_vec();
                    next[*k] *= exp(sign * h);
                    self.at(&next).map(|p| slopes(&next, &p))
                };
                let column = (side(1.0)? - side(-1.0)?) / (2.0 * h);
                bends.set_column(i, &column);
            }
            let bends = (&bends + bends.transpose()) * 0.5;
            let Some(factor) = Cholesky::new(bends) else { return Some(f64::INFINITY) };
            let step = factor.solve(&gradient);
            gain = 0.5 * gradient.dot(&step);
            if gain < 1e-14 {
                return Some(gain.max(0.0));
            }
            let mut share = (2.0 / step.amax()).min(1.0);
            let mut moved = false;
            for _ in 0..30 {
                let mut next = ratios.to_vec();
                for (i, k) in free.iter().enumerate() {
                    next[*k] *= exp(-share * step[i]);
                }
                if let Some(there) = self.at(&next)
                    && there.criterion <= here.criterion + if gain < 1e-9 { 1e-10 } else { 0.0 }
                {
                    ratios.copy_from_slice(&next);
                    *here = there;
                    moved = true;
                    break;
                }
                share *= 0.5;
            }
            if !moved {
                return Some(gain);
            }
        }
        Some(gain)
    }

    /// Covariance of the variances of the factors above zero and, last, of the
    /// residual, by the expected information; residual variance one.
    pub(super) fn covariance(&self, ratios: &[f64], here: &Point) -> Option<DMatrix<f64>> {
        let free: Vec<usize> = (0..self.factors).filter(|k| ratios[*k] > 0.0).collect();
        let m = free.len();
        let mut blocks = DMatrix::<f64>::zeros(self.factors, self.factors);
        for (i, a) in self.factor.iter().enumerate() {
            for (j, b) in self.factor.iter().enumerate() {
                blocks[(*a, *b)] += here.projected[(i, j)] * here.projected[(i, j)];
            }
        }
        let traces = self.by_factor(|level| here.projected[(level, level)]);
        let twice: Vec<f64> = (0..self.factors)
            .map(|k| traces[k] - (0..self.factors).map(|l| ratios[l] * blocks[(k, l)]).sum::<f64>())
            .collect();
        let trace: f64 =
            self.n - 1.0 - (0..self.factors).map(|k| ratios[k] * traces[k]).sum::<f64>();
        let both = trace - (0..self.factors).map(|k| ratios[k] * twice[k]).sum::<f64>();
        let mut information = DMatrix::zeros(m + 1, m + 1);
        for (i, a) in free.iter().enumerate() {
            for (j, b) in free.iter().enumerate() {
                information[(i, j)] = 0.5 * blocks[(*a, *b)];
            }
            information[(i, m)] = 0.5 * twice[*a];
            information[(m, i)] = 0.5 * twice[*a];
        }
        information[(m, m)] = 0.5 * both;
        Cholesky::new(information).map(|factor| factor.inverse())
    }
}

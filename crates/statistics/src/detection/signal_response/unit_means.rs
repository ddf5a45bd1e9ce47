//! Bound of a size detected from the means of units, where every unit was read
//! equally often and nothing was censored.
//!
//! With one reading of each unit and one scatter, `(height of the line -
//! threshold) / (s sqrt(h))` at a size is noncentral t, so that the bound is
//! exact (D. B. Owen's limit for a quantile of a regression line; G. Lieberman
//! and R. Miller, Biometrika 50 (1963) 155, from memory). With `m` readings of
//! each unit the scatter of one reading is `M + (1 - 1/m) W` in the mean squares
//! of unit means and within units, and the bound is of generalised confidence
//! (S. Weerahandi, J. Am. Stat. Assoc. 88 (1993) 899, from memory): the mean
//! squares are replaced by what they may have come from. That holds too much
//! where units hardly differ (0.972 for 0.95 with eight units of three
//! readings). There the probability gives way to the one that the ratio of the
//! mean squares, taken as found, leads to: exact at the true ratio, and too
//! small where that is large and badly known, which is why it counts only
//! while the ratio found is near that of units that do not differ. How far
//! was set by simulation (`docs/coverage.md`); the rule is this project's own.

use super::Signal;
use super::unit_likelihood::Unit;
use crate::distributions::chi_lanes::ChiLanes;
use crate::distributions::{noncentral_t, normal};
use digits::sums;

/// Units read equally often, summarised, on the axes of the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct UnitMeans {
    /// Number of units, of readings of each.
    units: f64,
    readings: f64,
    mean_x: f64,
    mean_y: f64,
    sum_squares_x: f64,
    slope: f64,
    /// Mean squares of the unit means about their line, and within units.
    between: f64,
    within: f64,
}

impl UnitMeans {
    /// `None` where a signal is censored, units were read unequally often or at
    /// several sizes, or nothing scatters.
    pub(super) fn of(units: &[Unit]) -> Option<Self> {
        let readings = units.first()?.rows.len();
        let (mut x, mut y) = (Vec::with_capacity(units.len()), Vec::with_capacity(units.len()));
        let mut squares = Vec::new();
        for unit in units {
            let size = unit.rows.first()?.0;
            if unit.rows.len() != readings || unit.rows.iter().any(|row| row.0 != size) {
                return None;
            }
            let values = unit
                .rows
                .iter()
                .map(|(_, signal)| match signal {
                    Signal::Read(value) => Some(*value),
                    _ => None,
                })
                .collect::<Option<Vec<f64>>>()?;
            let mean = sums::mean(&values)?;
            squares.extend(values.iter().map(|v| (v - mean) * (v - mean)));
            x.push(size);
            y.push(mean);
        }
        let line = crate::regression::straight_line(&x, &y).ok()?;
        let (units, readings) = (x.len() as f64, readings as f64);
        let within =
            if readings > 1.0 { sums::sum(squares) / (units * (readings - 1.0)) } else { 0.0 };
        let between = line.residual_sd * line.residual_sd;
        let usable = between > 0.0 && line.sum_squares_x > 0.0 && units > 2.0;
        usable.then_some(Self {
            units,
            readings,
            mean_x: line.mean_x,
            mean_y: line.mean_y,
            sum_squares_x: line.sum_squares_x,
            slope: line.slope,
            between,
            within,
        })
    }

    /// Whether each unit was read once.
    pub(super) fn single(&self) -> bool {
        self.readings == 1.0
    }

    /// Where the line lies `z` deviations of one reading over the threshold;
    /// rising lines only.
    pub(super) fn reaches(&self, threshold: f64, z: f64) -> f64 {
        let scatter = (self.between + (1.0 - 1.0 / self.readings) * self.within).sqrt();
        self.mean_x + (threshold + z * scatter - self.mean_y) / self.slope
    }

    /// Probability that a line seen as high as this over the threshold at `x`
    /// belongs to one on which no more than the share of normal score `z` is
    /// detected there. A small one excludes it.
    pub(super) fn p_value(&self, x: f64, threshold: f64, z: f64) -> f64 {
        let away = x - self.mean_x;
        let leverage = 1.0 / self.units + away * away / self.sum_squares_x;
        let height = self.mean_y + self.slope * away - threshold;
        let df = self.units - 2.0;
        if self.single() {
            let root = leverage.sqrt();
            return noncentral_t::survival(height / (self.between.sqrt() * root), df, z / root);
        }
        let generalised = self.generalised(height, leverage, z);
        let part = self.part_of_the_ratio();
        if part == 0.0 {
            return generalised;
        }
        let ratio = (self.between / self.within).max(1.0 / self.readings);
        (1.0 - part) * generalised + part * self.at_ratio(ratio, height, leverage, z)
    }

    /// How much the probability at the ratio found counts: one where the units
    /// differ no more than their readings, none from an F ratio on that falls
    /// from 3 with few units, down to none at all for three degrees of freedom.
    fn part_of_the_ratio(&self) -> f64 {
        let width = 2.0 * (1.0 - 3.0 / (self.units - 2.0));
        let f_ratio = self.readings * self.between / self.within;
        if !(width > 0.0 && f_ratio.is_finite()) {
            return 0.0;
        }
        ((1.0 + width - f_ratio) / width).clamp(0.0, 1.0)
    }

    /// The probability for a known ratio of the expected mean squares, between
    /// over within: `P((z sigma + sqrt(h) Z)/s >= height/s_found)`, with `sigma`
    /// and `s` the scatter of one reading, true and as it may be found, and the
    /// standard deviation of a unit mean for unit.
    fn at_ratio(&self, ratio: f64, height: f64, leverage: f64, z: f64) -> f64 {
        let rest = 1.0 - 1.0 / self.readings;
        let found = height / (self.between + rest * self.within).sqrt();
        let score = z * (1.0 + rest / ratio).sqrt();
        let root = leverage.sqrt();
        // Where the normal factor passes from one to nothing the scatter found
        // is about the score: so steep it is there, whatever the height.
        let steep = score.abs() / root + 4.0;
        let within: Vec<(f64, f64)> =
            ChiLanes::new(self.units * (self.readings - 1.0), steep, 1e-9).nodes().collect();
        let mut total = 0.0;
        for (s, weight) in ChiLanes::new(self.units - 2.0, steep, 1e-9).nodes() {
            if !(weight > 1e-14) {
                continue;
            }
            for (r, part) in within.iter().filter(|node| node.1 > 1e-14) {
                let scatter = (s * s + rest * r * r / ratio).sqrt();
                total += weight * part * normal::cumulative((score - found * scatter) / root);
            }
        }
        total.min(1.0)
    }

    /// The probability of generalised confidence.
    fn generalised(&self, height: f64, leverage: f64, z: f64) -> f64 {
        let df = self.units - 2.0;
        let share = (1.0 - 1.0 / self.readings) * self.within;
        let within: Vec<(f64, f64)> =
            ChiLanes::new(self.units * (self.readings - 1.0), 0.0, 1e-9).nodes().collect();
        let mut total = 0.0;
        for (s, weight) in ChiLanes::new(df, 0.0, 1e-9).nodes() {
            // The nodes reach down to zero, where the mean square has no end
            // and the weight vanishes faster.
            if !(weight > 1e-14) {
                continue;
            }
            let between = self.between / (s * s);
            let error = (leverage * between).sqrt();
            for (r, part) in within.iter().filter(|node| node.1 > 1e-14) {
                let scatter = (between + share / (r * r)).sqrt();
                total += weight * part * normal::cumulative((z * scatter - height) / error);
            }
        }
        total.min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use digits::RandomStream;

    fn units(stream: &mut RandomStream, count: usize, readings: usize, share: f64) -> Vec<Unit> {
        (0..count)
            .map(|i| {
                let x = -1.0 + 2.0 * i as f64 / (count - 1) as f64;
                let own = share.sqrt() * stream.normal();
                let rows = (0..readings)
                    .map(|_| {
                        let noise = own + (1.0 - share).sqrt() * stream.normal();
                        (x, Signal::Read(3.0 * x + 0.5 * noise))
                    })
                    .collect();
                Unit { rows }
            })
            .collect()
    }

    /// One reading is the limit of two that agree: within nothing, the mean
    /// squares of the means are those of the readings.
    #[test]
    fn repeats_without_scatter_within_are_the_exact_bound() {
        let once = units(&mut RandomStream::new(5, 0), 9, 1, 0.0);
        let twice: Vec<Unit> =
            once.iter().map(|u| Unit { rows: vec![u.rows[0], u.rows[0]] }).collect();
        let (once, twice) = (UnitMeans::of(&once).unwrap(), UnitMeans::of(&twice).unwrap());
        for x in [-0.2, 0.1, 0.3, 0.6, 2.0] {
            for z in [0.0, 1.2, 2.0] {
                let (a, b) = (once.p_value(x, 0.0, z), twice.p_value(x, 0.0, z));
                assert!((a - b).abs() < 1e-7, "{x} {z}: {a} {b}");
            }
        }
    }

    /// At a score of zero the noncentral t is Student's.
    #[test]
    fn half_detected_is_students_interval_of_the_line() {
        let data = units(&mut RandomStream::new(6, 0), 12, 1, 0.0);
        let means = UnitMeans::of(&data).unwrap();
        let (x, y): (Vec<f64>, Vec<f64>) = data
            .iter()
            .map(|u| match u.rows[0] {
                (x, Signal::Read(y)) => (x, y),
                _ => (f64::NAN, f64::NAN),
            })
            .unzip();
        let line = crate::regression::straight_line(&x, &y).unwrap();
        let bound = line.mean_at(0.4, 0.9).unwrap();
        // The lower end of the two-sided 0.9 interval of the mean is the
        // threshold that is just excluded at 0.05.
        let p = means.p_value(0.4, bound.lower, 0.0);
        assert!((p - 0.05).abs() < 1e-9, "{p}");
    }

    #[test]
    fn what_it_does_not_cover_is_left_to_the_likelihood() {
        let mut data = units(&mut RandomStream::new(7, 0), 8, 2, 0.5);
        assert!(UnitMeans::of(&data).is_some());
        data[3].rows[1].1 = Signal::Above(9.0);
        assert!(UnitMeans::of(&data).is_none());
        data[3].rows.pop();
        assert!(UnitMeans::of(&data).is_none());
        let level = |_| Unit { rows: vec![(0.5, Signal::Read(1.0))] };
        assert!(UnitMeans::of(&(0..6).map(level).collect::<Vec<_>>()).is_none());
    }

    /// Without scatter within, the ratio has no end and the statistic is
    /// noncentral t, whose distribution is another file's.
    #[test]
    fn at_an_endless_ratio_it_is_the_noncentral_t() {
        let data = units(&mut RandomStream::new(8, 0), 9, 3, 1.0);
        let means = UnitMeans::of(&data).unwrap();
        for (height, leverage, z) in [(0.9, 0.2, 1.2), (0.3, 0.5, 2.0), (-0.1, 0.12, 0.0)] {
            let own = means.at_ratio(1e14, height, leverage, z);
            let root = f64::sqrt(leverage);
            let t = height / (means.between.sqrt() * root);
            let exact = noncentral_t::survival(t, 7.0, z / root);
            assert!((own - exact).abs() < 1e-7, "{own} {exact}");
        }
    }

    /// At the true ratio the probability is exact.
    #[test]
    fn at_the_true_ratio_it_is_exact() {
        let z = normal::quantile(0.9);
        let (count, readings, share) = (8, 3, 0.5);
        let (runs, mut covered) = (4000, 0);
        for run in 0..runs {
            let data = units(&mut RandomStream::new(2_612, run), count, readings, share);
            let means = UnitMeans::of(&data).unwrap();
            let away = 0.5 - means.mean_x;
            let leverage = 1.0 / 8.0 + away * away / means.sum_squares_x;
            let height = means.mean_y + means.slope * away - (1.5 - 0.5 * z);
            let ratio = (share + (1.0 - share) / 3.0) / (1.0 - share);
            covered += u32::from(means.at_ratio(ratio, height, leverage, z) >= 0.05);
        }
        // Standard error 0.0034, three of them allowed.
        let covered = f64::from(covered) / runs as f64;
        assert!((covered - 0.95).abs() < 0.0104, "{covered}");
    }

    /// Share of runs in which the true place is not excluded at 0.05, from the
    /// mean squares as they would be drawn.
    fn coverage(count: usize, readings: usize, share: f64, runs: u64) -> f64 {
        coverage_from(2_611, count, readings, share, runs)
    }

    fn coverage_from(seed: u64, count: usize, readings: usize, share: f64, runs: u64) -> f64 {
        let z = normal::quantile(0.9);
        let mut covered = 0;
        for run in 0..runs {
            let mut stream = RandomStream::new(seed, run);
            let data = units(&mut stream, count, readings, share);
            // 3 x - threshold = z 0.5 at x = 0.5.
            let p = UnitMeans::of(&data).unwrap().p_value(0.5, 1.5 - 0.5 * z, z);
            covered += u64::from(p >= 0.05);
        }
        covered as f64 / runs as f64
    }

    #[test]
    fn single_readings_are_exact_and_repeats_keep_their_promise() {
        // Standard error 0.0034 for 4000 runs, four of them allowed.
        let exact = coverage(8, 1, 0.0, 4000);
        assert!((exact - 0.95).abs() < 0.014, "{exact}");
        let repeats = coverage(8, 3, 0.8, 1000);
        assert!(repeats > 0.925, "{repeats}");
        // Generalised confidence alone: 0.972 where units do not differ. Three
        // standard errors of 0.003.
        let alike = coverage(8, 3, 0.0, 4000);
        assert!(alike > 0.945 && alike < 0.968, "{alike}");
        let between = coverage(8, 3, 0.5, 4000);
        assert!(between > 0.94 && between < 0.963, "{between}");
    }

    /// Long simulation behind `docs/coverage.md`; prints its table.
    #[test]
    #[ignore = "simulation of minutes"]
    fn coverage_from_unit_means() {
        let runs = std::env::var("RUNS").map_or(100_000, |text| text.parse().unwrap());
        let seed = std::env::var("SEED").map_or(2_611, |text| text.parse().unwrap());
        let first = std::env::var("FROM").map_or(0, |text| text.parse().unwrap());
        let lines = [
            (8, 1, 0.0),
            (10, 1, 0.0),
            (20, 1, 0.0),
            (6, 2, 0.0),
            (6, 2, 0.5),
            (6, 2, 0.7),
            (8, 3, 0.0),
            (8, 3, 0.2),
            (8, 3, 0.35),
            (8, 3, 0.5),
            (8, 3, 0.7),
            (8, 3, 0.9),
            (12, 3, 0.0),
            (12, 3, 0.2),
            (12, 3, 0.35),
            (12, 3, 0.5),
            (12, 3, 0.8),
            (12, 6, 0.0),
            (12, 6, 0.2),
            (20, 2, 0.0),
            (20, 2, 0.2),
            (20, 2, 0.5),
            (20, 2, 0.8),
            (40, 3, 0.0),
            (40, 3, 0.5),
        ];
        for (count, readings, share) in lines.into_iter().skip(first) {
            println!(
                "| {count} x {readings} | {share} | {:.4} |",
                coverage_from(seed, count, readings, share, runs)
            );
        }
    }
}

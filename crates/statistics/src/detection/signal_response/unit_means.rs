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
//! squares are replaced by what they may have come from.

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

    /// Share of runs in which the true place is not excluded at 0.05, from the
    /// mean squares as they would be drawn.
    fn coverage(count: usize, readings: usize, share: f64, runs: u64) -> f64 {
        let z = normal::quantile(0.9);
        let mut covered = 0;
        for run in 0..runs {
            let mut stream = RandomStream::new(2_611, run);
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
    }

    /// Long simulation behind `docs/coverage.md`; prints its table.
    #[test]
    #[ignore = "simulation of minutes"]
    fn coverage_from_unit_means() {
        let runs = std::env::var("RUNS").map_or(100_000, |text| text.parse().unwrap());
        for (count, readings, share) in [
            (8, 1, 0.0),
            (10, 1, 0.0),
            (20, 1, 0.0),
            (8, 3, 0.0),
            (8, 3, 0.5),
            (12, 3, 0.0),
            (12, 3, 0.2),
            (12, 3, 0.5),
            (12, 3, 0.8),
            (20, 2, 0.0),
            (20, 2, 0.5),
            (40, 3, 0.5),
        ] {
            println!(
                "| {count} x {readings} | {share} | {:.4} |",
                coverage(count, readings, share, runs)
            );
        }
    }
}

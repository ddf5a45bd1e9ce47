//! The censored normal line, every reading by itself.
//!
//! `y = intercept + slope x + sd e`, with readings below a floor, above a cap,
//! and plain hits and misses taken as what they are: statements that the
//! signal lies above or below a value. Sources: MIL-HDBK-1823A, appendix G;
//! ASTM E3023 (from memory); R. J. Olsen, Econometrica 46 (1978) 1211 for the
//! concave form.

use super::Signal;
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::normal;
use crate::note::{Assumption, Note};
use digits::scalar::ln;
use nalgebra::{Cholesky, DMatrix, DVector};

/// A linear model of signals, some of them censored.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct CensoredLine {
    /// Coefficients, in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Standard deviation of the signals around the line.
    pub standard_deviation: f64,
    /// Logarithm of the likelihood.
    pub log_likelihood: f64,
    /// Number of signals read, below and above.
    pub read_below_above: (usize, usize, usize),
    /// Number of different units, where units were given, else of signals.
    pub units: usize,
    /// Name of the method.
    pub method: &'static str,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
    /// Coefficients over the deviation, then one over the deviation.
    theta: DVector<f64>,
    /// Covariance of `theta`.
    covariance: DMatrix<f64>,
}

impl Account for CensoredLine {
    fn method(&self) -> &str {
        self.method
    }

    fn counted(&self) -> Counted {
        Counted::of(self.units, {
            let (read, below, above) = self.read_below_above;
            format!("units ({read} signals read, {below} below a floor, {above} above a cap)")
        })
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "normal scatter about the line",
                "Shapiro-Wilk",
                "the result does not keep the residuals; check those of the signals that \
                     were read",
            ),
            Assumption::unchecked(
                "equal scatter along the line",
                "residuals against size",
                "the result does not keep the residuals",
            ),
            Assumption::looked_at(
                "signals censored by their value alone",
                "share of signals not read",
                self.read_below_above.0 >= self.read_below_above.1 + self.read_below_above.2,
                format!(
                    "{} read, {} not; with few read the line rests on the normal shape.",
                    self.read_below_above.0,
                    self.read_below_above.1 + self.read_below_above.2
                ),
            ),
        ]
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

/// Sum, gradient and negative Hessian at `theta`, and the gradient of each row.
struct Point {
    value: f64,
    gradient: DVector<f64>,
    hessian: DMatrix<f64>,
    scores: Vec<DVector<f64>>,
}

/// `ln Phi` with two derivatives.
fn log_phi(z: f64) -> (f64, f64, f64) {
    let term = crate::detection::Link::Probit.log_hit(z);
    (term.value, term.slope, term.curvature)
}

fn at(columns: &[Vec<f64>], signals: &[Signal], theta: &DVector<f64>) -> Option<Point> {
    let p = theta.len() - 1;
    let inverse = theta[p];
    if !(inverse > 0.0) {
        return None;
    }
    let mut value = 0.0;
    let mut gradient = DVector::zeros(p + 1);
    let mut hessian = DMatrix::zeros(p + 1, p + 1);
    let mut scores = Vec::with_capacity(signals.len());
    for (x, signal) in columns.iter().zip(signals) {
        let line: f64 = x.iter().zip(theta.iter()).map(|(a, b)| a * b).sum();
        // Direction of d z / d theta for z = inverse y - line.
        let mut direction = DVector::zeros(p + 1);
        for (j, v) in x.iter().enumerate() {
            direction[j] = -v;
        }
        let (part, first, second) = match signal {
            Signal::Read(y) => {
                direction[p] = *y;
                let z = inverse * y - line;
                value += ln(inverse);
                (-0.5 * z * z - 0.918_938_533_204_672_8, -z, -1.0)
            }
            Signal::Below(c) => {
                direction[p] = *c;
                log_phi(inverse * c - line)
            }
            Signal::Above(c) => {
                direction[p] = *c;
                let (v, s, k) = log_phi(line - inverse * c);
                (v, -s, k)
            }
        };
        value += part;
        let mut score = &direction * first;
        if matches!(signal, Signal::Read(_)) {
            score[p] += 1.0 / inverse;
            hessian[(p, p)] += 1.0 / (inverse * inverse);
        }
        hessian -= &direction * direction.transpose() * second;
        gradient += &score;
        scores.push(score);
    }
    value.is_finite().then_some(Point { value, gradient, hessian, scores })
}

/// Fits the model by maximum likelihood; `units` names the unit of each row,
/// so that repeated readings of one unit count once in the errors.
///
/// # Errors
/// Lists of unequal length, values that are not finite, fewer read signals
/// than coefficients plus one, columns that depend on each other, no scatter.
pub fn censored_line(
    columns: &[Vec<f64>],
    signals: &[Signal],
    units: Option<&[usize]>,
) -> Result<CensoredLine, CannotSay> {
    if columns.len() != signals.len() {
        return Err(CannotSay::LengthsDiffer {
            left: "rows of columns".into(),
            left_count: columns.len(),
            right: "signals".into(),
            right_count: signals.len(),
        });
    }
    let p = columns.first().map_or(0, Vec::len);
    cannot_say::at_least("columns", 1, p)?;
    let (mut read, mut below, mut above) = (Vec::new(), 0, 0);
    for (i, (row, signal)) in columns.iter().zip(signals).enumerate() {
        if row.len() != p {
            return Err(CannotSay::LengthsDiffer {
                left: "columns of the first row".into(),
                left_count: p,
                right: format!("columns of row {}", i + 1),
                right_count: row.len(),
            });
        }
        cannot_say::all_finite(&format!("columns of row {}", i + 1), row)?;
        let (Signal::Read(y) | Signal::Below(y) | Signal::Above(y)) = signal;
        cannot_say::finite(&format!("signal number {}", i + 1), *y)?;
        match signal {
            Signal::Read(y) => read.push(*y),
            Signal::Below(_) => below += 1,
            Signal::Above(_) => above += 1,
        }
    }
    cannot_say::at_least("signals that were read", p + 1, read.len())?;
    let centre = digits::sums::mean(&read).unwrap_or(0.0);
    let spread = digits::sums::standard_deviation(&read).unwrap_or(0.0);
    if spread == 0.0 {
        return Err(CannotSay::NoSpread { what: "the signals".into() });
    }
    let spread = cannot_say::computed("the spread of the signals", spread)?;
    // Signals and columns near one, so that the Newton steps are well scaled.
    let shift = |y: f64| (y - centre) / spread;
    let scaled: Vec<Signal> = signals
        .iter()
        .map(|signal| match signal {
            Signal::Read(y) => Signal::Read(shift(*y)),
            Signal::Below(y) => Signal::Below(shift(*y)),
            Signal::Above(y) => Signal::Above(shift(*y)),
        })
        .collect();
    let mut scale = vec![0.0_f64; p];
    for row in columns {
        for (s, v) in scale.iter_mut().zip(row) {
            *s = s.max(v.abs());
        }
    }
    if scale.contains(&0.0) {
        return Err(CannotSay::NoSpread { what: "the values of a column".into() });
    }
    let unit_columns: Vec<Vec<f64>> =
        columns.iter().map(|row| row.iter().zip(&scale).map(|(v, s)| v / s).collect()).collect();
    let (theta, here) = maximise(&unit_columns, &scaled, p)?;
    let factor = Cholesky::new(here.hessian.clone()).ok_or_else(dependent)?;
    let bread = factor.inverse();
    let (covariance, count) = match units {
        None => (bread, signals.len()),
        Some(names) => clustered(&bread, &here.scores, names)?,
    };
    finish(
        theta,
        covariance,
        count,
        here.value,
        (read.len(), below, above),
        Scaling { centre, spread, columns: scale, first: columns },
        units.is_some(),
    )
}

fn dependent() -> CannotSay {
    CannotSay::not_determined(
        "the columns depend on each other, or too few signals were read",
        "Leave out a column, or read more signals between floor and cap.",
    )
}

fn maximise(
    columns: &[Vec<f64>],
    signals: &[Signal],
    p: usize,
) -> Result<(DVector<f64>, Point), CannotSay> {
    let mut theta = DVector::zeros(p + 1);
    theta[p] = 1.0;
    let mut here = at(columns, signals, &theta).ok_or_else(dependent)?;
    for _ in 0..200 {
        let factor = Cholesky::new(here.hessian.clone()).ok_or_else(dependent)?;
        let step = factor.solve(&here.gradient);
        let gain = here.gradient.dot(&step);
        if gain.abs() < 1e-24 * (1.0 + here.value.abs()) {
            return Ok((theta, here));
        }
        let mut share = 1.0;
        let mut moved = false;
        for _ in 0..60 {
            let next = &theta + &step * share;
            if let Some(there) = at(columns, signals, &next)
                && there.value >= here.value - if gain < 1e-10 { 1e-11 } else { 0.0 }
            {
                moved = next != theta && gain > 1e-22;
                theta = next;
                here = there;
                break;
            }
            share *= 0.5;
        }
        if !moved {
            return if gain < 1e-9 { Ok((theta, here)) } else { Err(dependent()) };
        }
    }
    if here.gradient.norm() > 1e6 || theta[p] > 1e8 {
        return Err(CannotSay::NoSpread { what: "the signals around the line".into() });
    }
    Ok((theta, here))
}

/// Covariance that counts units, not readings: sandwich of unit scores.
fn clustered(
    bread: &DMatrix<f64>,
    scores: &[DVector<f64>],
    names: &[usize],
) -> Result<(DMatrix<f64>, usize), CannotSay> {
    if names.len() != scores.len() {
        return Err(CannotSay::LengthsDiffer {
            left: "signals".into(),
            left_count: scores.len(),
            right: "unit names".into(),
            right_count: names.len(),
        });
    }
    let mut sums: std::collections::BTreeMap<usize, DVector<f64>> =
        std::collections::BTreeMap::new();
    for (name, score) in names.iter().zip(scores) {
        sums.entry(*name).and_modify(|sum| *sum += score).or_insert_with(|| score.clone());
    }
    let g = sums.len();
    cannot_say::at_least("units", bread.nrows() + 1, g)?;
    let mut meat = DMatrix::zeros(bread.nrows(), bread.nrows());
    for score in sums.values() {
        meat += score * score.transpose();
    }
    let correction = g as f64 / (g as f64 - 1.0);
    Ok((bread * meat * bread * correction, g))
}

struct Scaling<'a> {
    centre: f64,
    spread: f64,
    columns: Vec<f64>,
    first: &'a [Vec<f64>],
}

fn finish(
    theta: DVector<f64>,
    covariance: DMatrix<f64>,
    units: usize,
    value: f64,
    read_below_above: (usize, usize, usize),
    scaling: Scaling<'_>,
    clustered: bool,
) -> Result<CensoredLine, CannotSay> {
    let p = theta.len() - 1;
    // Back to the units given: theta = T theta', with a constant column
    // taking up the shift of the signals.
    let constant = (0..p).find(|j| {
        let first = scaling.first.first().map_or(0.0, |row| row[*j]);
        first != 0.0 && scaling.first.iter().all(|row| row[*j] == first)
    });
    let mut back = DMatrix::zeros(p + 1, p + 1);
    for j in 0..p {
        back[(j, j)] = 1.0 / scaling.columns[j];
    }
    back[(p, p)] = 1.0 / scaling.spread;
    if let Some(j) = constant {
        let first = scaling.first[0][j];
        back[(j, p)] = scaling.centre / scaling.spread / first;
    } else if scaling.centre != 0.0 {
        return Err(CannotSay::not_determined(
            "the model has no constant column",
            "Add a column of ones.",
        ));
    }
    let theta = &back * theta;
    let covariance = &back * covariance * back.transpose();
    let deviation = cannot_say::computed("the standard deviation", 1.0 / theta[p])?;
    let coefficients: Vec<f64> = (0..p).map(|j| theta[j] * deviation).collect();
    for c in &coefficients {
        cannot_say::computed("a coefficient", *c)?;
    }
    let mut notes = Vec::new();
    let (read, below, above) = read_below_above;
    if below + above > 0 {
        notes.push(Note::new(
            "censored",
            format!(
                "{below} signals lie below a floor and {above} above a cap; they count as that."
            ),
            "Do not replace them by the floor or the cap.",
        ));
    }
    if read < 40 {
        notes.push(Note::new(
            "few-signals",
            format!("{read} signals were read; 40 are recommended (MIL-HDBK-1823A)."),
            "Add units.",
        ));
    }
    Ok(CensoredLine {
        coefficients,
        standard_deviation: deviation,
        log_likelihood: value - read as f64 * ln(scaling.spread),
        read_below_above,
        units,
        method: if clustered {
            "censored normal line by maximum likelihood, errors counted by unit"
        } else {
            "censored normal line by maximum likelihood"
        },
        notes,
        theta,
        covariance,
    })
}

/// Whether a place can be asked for at all.
pub(super) fn check_question(
    threshold: f64,
    probability: f64,
    confidence: f64,
) -> Result<(), CannotSay> {
    cannot_say::open_probability("the probability", probability)?;
    cannot_say::open_probability("confidence", confidence)?;
    cannot_say::finite("the threshold", threshold)
}

/// Refuses a line that does not rise with size.
pub(super) fn check_rising(slope: f64) -> Result<(), CannotSay> {
    if slope > 0.0 {
        return Ok(());
    }
    Err(CannotSay::not_determined(
        "the signal does not rise with size",
        "Check whether sizes and signals belong together.",
    ))
}

impl CensoredLine {
    /// Place `x` at which a signal exceeds `threshold` with the given
    /// probability, with its one-sided upper bound by the delta method.
    ///
    /// For a model of a constant and one size column, in that order.
    ///
    /// # Errors
    /// Another number of columns, a slope that is not positive, a probability
    /// or confidence outside 0 to 1.
    pub fn place_detected(
        &self,
        threshold: f64,
        probability: f64,
        confidence: f64,
    ) -> Result<(f64, f64), CannotSay> {
        check_question(threshold, probability, confidence)?;
        if self.theta.len() != 3 {
            return Err(CannotSay::OutOfRange {
                what: "the number of columns".into(),
                value: self.theta.len() as f64 - 1.0,
                allowed: "2: a constant and one size".into(),
            });
        }
        check_rising(self.theta[1])?;
        let z = normal::quantile(probability);
        let x = (self.theta[2] * threshold - self.theta[0] + z) / self.theta[1];
        let gradient = DVector::from_vec(vec![
            -1.0 / self.theta[1],
            -x / self.theta[1],
            threshold / self.theta[1],
        ]);
        let variance = (gradient.transpose() * &self.covariance * &gradient)[(0, 0)];
        let upper = x + normal::quantile(confidence) * variance.max(0.0).sqrt();
        Ok((
            cannot_say::computed("the place", x)?,
            cannot_say::computed("the bound of the place", upper)?,
        ))
    }

    /// Probability that the signal at these column values exceeds `threshold`.
    #[must_use]
    pub fn probability_above(&self, columns: &[f64], threshold: f64) -> Option<f64> {
        if columns.len() + 1 != self.theta.len() {
            return None;
        }
        let line: f64 = columns.iter().zip(&self.coefficients).map(|(x, b)| x * b).sum();
        let z = (line - threshold) / self.standard_deviation;
        z.is_finite().then(|| normal::cumulative(z))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn simulated(n: u64, cap: f64) -> (Vec<Vec<f64>>, Vec<Signal>) {
        (0..n)
            .map(|unit| {
                let mut stream = digits::RandomStream::new(4, unit);
                let x = 3.0 * stream.uniform();
                let y = 1.0 + 2.0 * x + 0.5 * stream.normal();
                let signal = if y > cap { Signal::Above(cap) } else { Signal::Read(y) };
                (vec![1.0, x], signal)
            })
            .unzip()
    }

    #[test]
    fn without_censoring_it_is_least_squares() {
        let (columns, signals) = simulated(60, f64::MAX);
        let fit = censored_line(&columns, &signals, None).unwrap();
        let x: Vec<f64> = columns.iter().map(|row| row[1]).collect();
        let y: Vec<f64> = signals
            .iter()
            .map(|s| match s {
                Signal::Read(y) => *y,
                _ => f64::NAN,
            })
            .collect();
        let line = crate::regression::straight_line(&x, &y).unwrap();
        assert!((fit.coefficients[1] - line.slope).abs() < 1e-10);
        assert!((fit.coefficients[0] - line.intercept).abs() < 1e-10);
        let ratio = (58.0_f64 / 60.0).sqrt();
        assert!((fit.standard_deviation / line.residual_sd - ratio).abs() < 1e-10);
    }

    #[test]
    fn a_cap_does_not_bend_the_line() {
        let (columns, signals) = simulated(2000, 4.5);
        let fit = censored_line(&columns, &signals, None).unwrap();
        assert!((fit.coefficients[1] - 2.0).abs() < 0.1, "{:?}", fit.coefficients);
        // Taking the cap for a reading would flatten it well below 1.9.
        let naive: Vec<Signal> = signals
            .iter()
            .map(|s| if let Signal::Above(c) = s { Signal::Read(*c) } else { *s })
            .collect();
        assert!(censored_line(&columns, &naive, None).unwrap().coefficients[1] < 1.7);
    }

    #[test]
    fn repeated_readings_count_once() {
        let (columns, signals) = simulated(40, f64::MAX);
        let units: Vec<usize> = (0..160).map(|i| i % 40).collect();
        let (four, sig): (Vec<_>, Vec<_>) =
            (0..4).flat_map(|_| columns.iter().cloned().zip(signals.iter().copied())).unzip();
        let once = censored_line(&columns, &signals, Some(&units[..40])).unwrap();
        let fit = censored_line(&four, &sig, Some(&units)).unwrap();
        let naive = censored_line(&four, &sig, None).unwrap();
        let width = |f: &CensoredLine| {
            let (x, upper) = f.place_detected(4.0, 0.9, 0.95).unwrap();
            upper - x
        };
        assert!((width(&fit) / width(&once) - 1.0).abs() < 1e-6);
        assert!(width(&naive) < 0.6 * width(&fit));
    }
}

//! Signals against size with units that differ and scatter that may change.
//!
//! `y = intercept + slope x + h(x) (u + e)`: `u` belongs to the unit and is
//! shared by its readings, `e` to the reading, `h` is 1 or grows with size.
//! The probability of detection is that of a new unit read once, so it rests
//! on both variances. By maximum likelihood, censored readings included.
//! Sources: N. M. Laird and J. H. Ware, Biometrics 38 (1982) 963 for the unit
//! effect; R. J. Carroll and D. Ruppert, Transformation and Weighting in
//! Regression (1988) for the spread; S. G. Self and K.-Y. Liang, J. Am. Stat.
//! Assoc. 82 (1987) 605 for the test at the boundary (from memory).

use super::Signal;
use super::censored_line::{CensoredLine, censored_line};
use super::spread::Spread;
use super::unit_checks::checks;
use super::unit_likelihood::{Model, Parameters, Unit};
use crate::account::{Account, Counted};
use crate::ascent::{Summit, ascend, summit};
use crate::cannot_say::{self, CannotSay};
use crate::distributions::chi_squared;
use crate::note::{Assumption, Note};
use digits::scalar::{exp, ln};
use std::collections::BTreeMap;

/// Twice the gain in log-likelihood of one more parameter, with its
/// probability where the parameter is not needed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LikelihoodRatio {
    /// Twice the difference of the log-likelihoods.
    pub ratio: f64,
    /// Probability of a ratio so large without that parameter.
    pub p_value: f64,
}

/// A line of signals with effects of units, and what it says of a new unit.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct SignalResponse {
    /// Signal at size zero on the axis of the fit.
    pub intercept: f64,
    /// Signal per unit of size.
    pub slope: f64,
    /// Standard deviation between units at the reference; `None` where no unit
    /// was read twice. Zero is an estimate at the boundary.
    pub between_units: Option<f64>,
    /// Standard deviation of readings of one unit at the reference; `None`
    /// where no unit was read twice.
    pub within_units: Option<f64>,
    /// Standard deviation of one reading of a new unit at the reference.
    pub total: f64,
    /// How the scatter goes with size.
    pub spread: Spread,
    /// Exponent of the spread: of the mean signal, or per unit of size.
    pub spread_exponent: f64,
    /// Where the standard deviations hold: a mean signal for a power of the
    /// mean, a size otherwise.
    pub reference: f64,
    /// Test of one scatter at every size against the spread fitted, or against
    /// the log-linear spread where a constant one was fitted.
    pub spread_test: Option<LikelihoodRatio>,
    /// Test of no difference between units. The variance lies at its boundary
    /// then: half a chance of exactly zero, half a chi-squared of one degree.
    pub unit_test: Option<LikelihoodRatio>,
    /// Logarithm of the likelihood.
    pub log_likelihood: f64,
    /// Number of units: what counts.
    pub units: usize,
    /// Units read more than once.
    pub repeated_units: usize,
    /// Readings read, below a floor and above a cap.
    pub read_below_above: (usize, usize, usize),
    /// Name of the method.
    pub method: String,
    /// Assumptions with their outcome.
    pub assumptions: Vec<Assumption>,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
    pub(super) fitted: Fitted,
}

/// The fit on its own axes: signals less `origin` over `scale`, sizes less
/// `middle` over `half`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fitted {
    pub model: Model,
    pub place: Vec<f64>,
    pub with_units: bool,
    pub origin: f64,
    pub scale: f64,
    pub middle: f64,
    pub half: f64,
}

impl Fitted {
    /// Parameters at a place: intercept, slope, logarithm of the deviation
    /// within units, then between over within where units are told apart, then
    /// the exponent where the spread has one.
    pub(super) fn parameters(&self, place: &[f64]) -> Option<Parameters> {
        parameters(place, self.with_units, self.model.spread)
    }
}

fn parameters(place: &[f64], with_units: bool, spread: Spread) -> Option<Parameters> {
    if place[2].abs() > 60.0 {
        return None;
    }
    let within = exp(place[2]);
    let mut rest = place[3..].iter();
    let ratio = if with_units { *rest.next()? } else { 0.0 };
    let exponent = if spread == Spread::Constant { 0.0 } else { *rest.next()? };
    Some(Parameters {
        intercept: place[0],
        slope: place[1],
        within,
        between: (ratio * within).abs(),
        exponent,
    })
}

/// Fits the line; `units` names the unit of each reading, so that several
/// readings of one unit count as one unit.
///
/// `sizes` are on the axis of the line (take logarithms before). Without
/// `units` every reading is a unit; where no unit was read twice, the scatter
/// between and within units cannot be told apart and only their sum is given.
///
/// # Errors
/// Lists of unequal length, values that are not finite, fewer than five units
/// or than four read signals, equal sizes, no scatter, a power of the mean for
/// signals that are not above zero, a likelihood without a maximum.
pub fn signal_response(
    sizes: &[f64],
    signals: &[Signal],
    units: Option<&[usize]>,
    spread: Spread,
) -> Result<SignalResponse, CannotSay> {
    let Climbed { plain, on_axes, start, fitted, value, repeated } =
        climbed(sizes, signals, units, spread, true)?;
    let with_units = fitted.with_units;
    let other = if spread == Spread::Constant { Spread::LogLinearInSize } else { Spread::Constant };
    let spread_test = climb(&on_axes, other, with_units, &start, false).ok().map(|(_, rival)| {
        let ratio = 2.0 * (value - rival.value).abs();
        LikelihoodRatio { ratio, p_value: chi_squared::survival(ratio, 1.0) }
    });
    let unit_test = with_units
        .then(|| climb(&on_axes, spread, false, &start, false).ok())
        .flatten()
        .map(|(_, alone)| {
            let ratio = (2.0 * (value - alone.value)).max(0.0);
            LikelihoodRatio { ratio, p_value: 0.5 * chi_squared::survival(ratio, 1.0) }
        });
    describe(fitted, value, &plain, spread_test, unit_test, repeated)
}

/// A fit before its tests and its words.
pub(super) struct Climbed {
    plain: CensoredLine,
    on_axes: Vec<Unit>,
    start: [f64; 4],
    pub fitted: Fitted,
    pub value: f64,
    repeated: usize,
}

pub(super) fn climbed(
    sizes: &[f64],
    signals: &[Signal],
    units: Option<&[usize]>,
    spread: Spread,
    to_the_last_digit: bool,
) -> Result<Climbed, CannotSay> {
    // The plain line checks lengths, figures and scatter.
    cannot_say::all_finite("sizes", sizes)?;
    let columns: Vec<Vec<f64>> = sizes.iter().map(|x| vec![1.0, *x]).collect();
    let plain = censored_line(&columns, signals, None)?;
    let read: Vec<f64> = signals
        .iter()
        .filter_map(|s| if let Signal::Read(y) = s { Some(*y) } else { None })
        .collect();
    spread.check(&read)?;
    let (low, high) =
        sizes.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(*x), b.max(*x)));
    let (middle, half) = (0.5 * low + 0.5 * high, 0.5 * high - 0.5 * low);
    let grouped = group(sizes, signals, units)?;
    cannot_say::at_least("units", 5, grouped.len())?;
    let repeated = grouped.iter().filter(|unit| unit.rows.len() > 1).count();
    let with_units = degrees_within(&grouped) >= 2;
    let mean = digits::sums::mean(&read).unwrap_or(0.0);
    // A power of the mean allows no shift of the signals.
    let (origin, scale) = match spread {
        Spread::PowerOfMean => (0.0, mean),
        _ => (mean, digits::sums::standard_deviation(&read).unwrap_or(1.0)),
    };
    let on_axes: Vec<Unit> = grouped
        .iter()
        .map(|unit| Unit {
            rows: unit
                .rows
                .iter()
                .map(|(x, s)| ((x - middle) / half, s.map(|y| (y - origin) / scale)))
                .collect(),
        })
        .collect();
    let start = start(&plain, &on_axes, with_units, (origin, scale, middle, half))?;
    let (model, top) = climb(&on_axes, spread, with_units, &start, to_the_last_digit)?;
    let fitted = Fitted { model, place: top.place, with_units, origin, scale, middle, half };
    Ok(Climbed { plain, on_axes, start, fitted, value: top.value, repeated })
}

/// Readings by unit, units in the order of their names.
fn group(
    sizes: &[f64],
    signals: &[Signal],
    units: Option<&[usize]>,
) -> Result<Vec<Unit>, CannotSay> {
    let Some(names) = units else {
        let one = |(x, s): (&f64, &Signal)| Unit { rows: vec![(*x, *s)] };
        return Ok(sizes.iter().zip(signals).map(one).collect());
    };
    if names.len() != signals.len() {
        return Err(CannotSay::LengthsDiffer {
            left: "signals".into(),
            left_count: signals.len(),
            right: "unit names".into(),
            right_count: names.len(),
        });
    }
    let mut grouped: BTreeMap<usize, Vec<(f64, Signal)>> = BTreeMap::new();
    for ((x, signal), name) in sizes.iter().zip(signals).zip(names) {
        grouped.entry(*name).or_default().push((*x, *signal));
    }
    Ok(grouped.into_values().map(|rows| Unit { rows }).collect())
}

/// Read signals beyond the first of each unit.
fn degrees_within(units: &[Unit]) -> usize {
    let read = |unit: &Unit| unit.rows.iter().filter(|r| matches!(r.1, Signal::Read(_))).count();
    units.iter().map(|unit| read(unit).saturating_sub(1)).sum()
}

/// Where to start: the plain line, and the scatter within units as read.
fn start(
    plain: &CensoredLine,
    units: &[Unit],
    with_units: bool,
    (origin, scale, middle, half): (f64, f64, f64, f64),
) -> Result<[f64; 4], CannotSay> {
    let intercept = (plain.coefficients[0] + plain.coefficients[1] * middle - origin) / scale;
    let slope = plain.coefficients[1] * half / scale;
    let total = plain.standard_deviation / scale;
    if !with_units {
        return Ok([intercept, slope, ln(total), 0.0]);
    }
    let mut squares = 0.0;
    for unit in units {
        let rest: Vec<f64> = unit
            .rows
            .iter()
            .filter_map(|(x, s)| match s {
                Signal::Read(y) => Some(y - slope * x),
                _ => None,
            })
            .collect();
        squares += digits::sums::squared_deviations(&rest).unwrap_or(0.0);
    }
    let within = (squares / degrees_within(units) as f64).sqrt();
    if !(within > 1e-9 * total) {
        return Err(CannotSay::NoSpread { what: "the readings of one unit".into() });
    }
    let within = within.min(0.999 * total);
    let between = (total * total - within * within).sqrt();
    Ok([intercept, slope, ln(within), (between / within).clamp(0.2, 20.0)])
}

fn climb(
    units: &[Unit],
    spread: Spread,
    with_units: bool,
    start: &[f64; 4],
    to_the_last_digit: bool,
) -> Result<(Model, Summit), CannotSay> {
    let model = Model::new(units.to_vec(), spread);
    let mut first = start[..3].to_vec();
    if with_units {
        first.push(start[3]);
    } else {
        first[2] += 0.5 * ln(1.0 + start[3] * start[3]);
    }
    if spread != Spread::Constant {
        first.push(0.0);
    }
    let height = |place: &[f64]| model.value(&parameters(place, with_units, spread)?);
    let no_maximum = || {
        CannotSay::not_determined(
            "the likelihood of the line with this scatter has no maximum that could be reached",
            "Fit a constant spread, or add readings between floor and cap.",
        )
    };
    let way = if to_the_last_digit { summit } else { ascend };
    let top = way(&height, &first).ok_or_else(no_maximum)?;
    if top.place.iter().any(|v| v.abs() > 50.0) {
        return Err(no_maximum());
    }
    Ok((model, top))
}

fn describe(
    fitted: Fitted,
    value: f64,
    plain: &CensoredLine,
    spread_test: Option<LikelihoodRatio>,
    unit_test: Option<LikelihoodRatio>,
    repeated: usize,
) -> Result<SignalResponse, CannotSay> {
    let p = fitted
        .parameters(&fitted.place)
        .ok_or(CannotSay::Overflow { what: "a parameter of the line".into() })?;
    let (scale, half, spread) = (fitted.scale, fitted.half, fitted.model.spread);
    let slope = cannot_say::computed("the slope", p.slope * scale / half)?;
    let intercept = cannot_say::computed(
        "the intercept",
        fitted.origin + scale * p.intercept - slope * fitted.middle,
    )?;
    let total = cannot_say::computed("the scatter", p.total() * scale)?;
    let with_units = fitted.with_units;
    let units = fitted.model.units.len();
    let assumptions = checks(&fitted, &p, spread_test, unit_test);
    let mut notes: Vec<Note> =
        plain.notes.iter().filter(|note| note.code != "few-signals").cloned().collect();
    if units < 40 {
        notes.push(Note::new(
            "few-signals",
            format!("{units} units were read; 40 are recommended (MIL-HDBK-1823A)."),
            "Add units, not readings of the same units.",
        ));
    }
    if repeated > 0 && !with_units {
        notes.push(Note::new(
            "units-not-told-apart",
            "Too few units were read twice to tell the scatter between units from that within.",
            "Read several units at least twice.",
        ));
    }
    if with_units && p.between < 1e-4 * p.within {
        notes.push(Note::new(
            "at-the-boundary",
            "The variance between units is estimated at its boundary, zero.",
            "Do not report that units are equal; the readings show no difference.",
        ));
    }
    let with_spread = match spread {
        Spread::Constant => String::new(),
        other => format!(", scatter {}", other.word()),
    };
    let method = format!(
        "censored normal line{}{with_spread} by maximum likelihood",
        if with_units { " with random effects of units" } else { "" }
    );
    let (spread_exponent, reference) = match spread {
        Spread::Constant => (0.0, fitted.middle),
        Spread::LogLinearInSize => (p.exponent / half, fitted.middle),
        Spread::PowerOfMean => (p.exponent, scale),
    };
    let read = plain.read_below_above.0;
    Ok(SignalResponse {
        intercept,
        slope,
        between_units: with_units.then_some(p.between * scale),
        within_units: with_units.then_some(p.within * scale),
        total,
        spread,
        spread_exponent: cannot_say::computed("the exponent of the spread", spread_exponent)?,
        reference,
        spread_test,
        unit_test,
        log_likelihood: cannot_say::computed(
            "the log-likelihood",
            value - read as f64 * ln(scale),
        )?,
        units,
        repeated_units: repeated,
        read_below_above: plain.read_below_above,
        method,
        assumptions,
        notes,
        fitted,
    })
}

impl Account for SignalResponse {
    fn method(&self) -> &str {
        &self.method
    }

    fn counted(&self) -> Counted {
        let (read, below, above) = self.read_below_above;
        Counted::of(self.units, format!("units ({} readings)", read + below + above))
    }

    fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.clone()
    }

    fn notes(&self) -> Vec<Note> {
        self.notes.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::regression::straight_line;

    /// Units evenly over 0 to 3, each read `m` times.
    fn study(k: u64, m: usize, between: f64) -> (Vec<f64>, Vec<f64>, Vec<usize>) {
        let (mut x, mut y, mut names) = (Vec::new(), Vec::new(), Vec::new());
        for unit in 0..k {
            let mut stream = digits::RandomStream::new(12, unit);
            let size = 3.0 * unit as f64 / (k - 1) as f64;
            let own = between * stream.normal();
            for _ in 0..m {
                x.push(size);
                y.push(1.0 + 2.0 * size + own + 0.3 * stream.normal());
                names.push(unit as usize);
            }
        }
        (x, y, names)
    }

    fn read(y: &[f64]) -> Vec<Signal> {
        y.iter().map(|v| Signal::Read(*v)).collect()
    }

    #[test]
    fn equal_units_have_a_closed_form() {
        let (k, m) = (15, 3);
        let (x, y, names) = study(k, m, 0.6);
        let fit = signal_response(&x, &read(&y), Some(&names), Spread::Constant).unwrap();
        // The line through the means of the units; within: what is left.
        let sizes: Vec<f64> = x.chunks(m).map(|c| c[0]).collect();
        let means: Vec<f64> = y.chunks(m).map(|c| digits::sums::mean(c).unwrap()).collect();
        let line = straight_line(&sizes, &means).unwrap();
        let squares: f64 = y.chunks(m).map(|c| digits::sums::squared_deviations(c).unwrap()).sum();
        let within = squares / (k as f64 * (m as f64 - 1.0));
        let of_means = line.residual_sd * line.residual_sd * (k as f64 - 2.0) / k as f64;
        let between = of_means - within / m as f64;
        assert!((fit.slope - line.slope).abs() < 1e-7, "{fit:?}");
        assert!((fit.intercept - line.intercept).abs() < 1e-7);
        assert!((fit.within_units.unwrap() / within.sqrt() - 1.0).abs() < 1e-6);
        assert!((fit.between_units.unwrap() / between.sqrt() - 1.0).abs() < 1e-6);
        assert!((fit.total / (within + between).sqrt() - 1.0).abs() < 1e-6);
        assert_eq!((fit.units, fit.repeated_units), (15, 15));
        assert!(fit.unit_test.unwrap().p_value < 1e-4);
        assert!(fit.assumptions.iter().any(|a| a.held == Some(false)));
    }

    #[test]
    fn single_readings_are_the_censored_line() {
        let (x, y, _) = study(40, 1, 0.5);
        let signals: Vec<Signal> = read(&y)
            .into_iter()
            .map(|s| if s.value() > 5.0 { Signal::Above(5.0) } else { s })
            .collect();
        let columns: Vec<Vec<f64>> = x.iter().map(|x| vec![1.0, *x]).collect();
        let plain = censored_line(&columns, &signals, None).unwrap();
        let fit = signal_response(&x, &signals, None, Spread::Constant).unwrap();
        assert!((fit.slope - plain.coefficients[1]).abs() < 1e-7);
        assert!((fit.total - plain.standard_deviation).abs() < 1e-7);
        assert!((fit.log_likelihood - plain.log_likelihood).abs() < 1e-9);
        assert!(fit.between_units.is_none());
        let place = fit.place_detected(4.0, 0.9, 0.95).unwrap();
        let (estimate, wald) = plain.place_detected(4.0, 0.9, 0.95).unwrap();
        assert!((place.estimate - estimate).abs() < 1e-7);
        assert!(place.upper.unwrap() > wald - 0.02 && place.upper.unwrap() < wald + 0.2);
        // A half is detected where the mean meets the threshold.
        assert!(
            (fit.probability_above((4.0 - fit.intercept) / fit.slope, 4.0).unwrap() - 0.5).abs()
                < 1e-12
        );
    }

    /// Positive control: scatter that grows with size is seen, and only then.
    #[test]
    fn unequal_spread_is_seen() {
        let (x, y, names) = study(30, 3, 0.4);
        let equal = signal_response(&x, &read(&y), Some(&names), Spread::Constant).unwrap();
        assert!(equal.spread_test.unwrap().p_value > 0.05, "{:?}", equal.spread_test);
        let fan: Vec<f64> = x
            .iter()
            .zip(&y)
            .map(|(x, y)| {
                let line = 1.0 + 2.0 * x;
                line + (y - line) * 0.3 * line
            })
            .collect();
        let constant = signal_response(&x, &read(&fan), Some(&names), Spread::Constant).unwrap();
        assert!(constant.spread_test.unwrap().p_value < 1e-4);
        let power = signal_response(&x, &read(&fan), Some(&names), Spread::PowerOfMean).unwrap();
        assert!((power.spread_exponent - 1.0).abs() < 0.35, "{power:?}");
        // Scatter at the small end is smaller than a common one would say.
        assert!(power.deviation_at(0.5).unwrap() < 0.8 * constant.total);
        let small = |fit: &SignalResponse| fit.place_detected(2.2, 0.9, 0.95).unwrap();
        assert!(small(&power).upper.unwrap() < small(&constant).upper.unwrap());
    }

    #[test]
    fn refusals() {
        let (x, y, names) = study(12, 2, 0.4);
        let signals = read(&y);
        assert!(signal_response(&x[1..], &signals, None, Spread::Constant).is_err());
        assert!(signal_response(&x, &signals, Some(&names[1..]), Spread::Constant).is_err());
        assert!(signal_response(&x[..4], &signals[..4], None, Spread::Constant).is_err());
        let one = vec![0; 24];
        assert!(signal_response(&x, &signals, Some(&one), Spread::Constant).is_err());
        let below = read(&y.iter().map(|y| y - 5.0).collect::<Vec<_>>());
        assert!(signal_response(&x, &below, Some(&names), Spread::PowerOfMean).is_err());
        let twins: Vec<f64> = y.chunks(2).flat_map(|c| [c[0], c[0]]).collect();
        assert!(signal_response(&x, &read(&twins), Some(&names), Spread::Constant).is_err());
        let fit = signal_response(&x, &signals, Some(&names), Spread::Constant).unwrap();
        assert!(fit.place_detected(3.0, 0.9, 0.4).is_err());
        let falling = read(&y.iter().map(|y| -y).collect::<Vec<_>>());
        let fit = signal_response(&x, &falling, Some(&names), Spread::Constant).unwrap();
        assert!(fit.place_detected(-3.0, 0.9, 0.95).is_err());
    }
}

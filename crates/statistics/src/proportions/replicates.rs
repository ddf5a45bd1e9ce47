//! The number that really counts when units are read several times.

use super::bounds::{ProportionBounds, clopper_pearson};
use crate::account::{Account, Counted};
use crate::cannot_say::{self, CannotSay};
use crate::note::{Assumption, Note};
use digits::sums;

/// Effective number of independent trials in repeated readings.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct EffectiveNumber {
    /// Number of readings.
    pub readings: u64,
    /// Number of units.
    pub units: u64,
    /// Correlation of readings of the same unit (analysis of variance);
    /// `None` where all readings agree and it cannot be estimated.
    pub correlation: Option<f64>,
    /// Readings divided by the design effect; the number of units where the
    /// correlation cannot be estimated.
    pub effective: f64,
    /// Exact bounds with units as trials: a unit counts as a hit when every
    /// reading of it was one.
    pub by_unit: ProportionBounds,
    /// Remarks with next steps.
    pub notes: Vec<Note>,
}

impl Account for EffectiveNumber {
    fn method(&self) -> &str {
        "effective number of trials by the intraclass correlation (Rao and Scott), exact bounds with units as trials"
    }

    fn counted(&self) -> Counted {
        Counted::effective(
            self.effective,
            format!("independent trials ({} readings of {} units)", self.readings, self.units),
        )
    }

    fn assumptions(&self) -> Vec<Assumption> {
        vec![
            Assumption::unchecked(
                "units independent of each other",
                "from the plan",
                "hits and numbers do not show it; state how the units were drawn",
            ),
            match self.correlation {
                Some(rho) => Assumption::looked_at(
                    "readings of one unit independent",
                    "intraclass correlation",
                    rho < 0.05,
                    format!("Correlation {rho:.2}; allowed for in the effective number."),
                ),
                None => Assumption::unchecked(
                    "readings of one unit independent",
                    "intraclass correlation",
                    "it cannot be estimated here, so units are counted",
                ),
            },
        ]
    }

    fn notes(&self) -> Vec<Note> {
        let mut notes = self.notes.clone();
        notes.extend(self.by_unit.notes());
        notes
    }
}

/// Effective number of trials from hits and readings per unit.
///
/// Design effect `1 + (m - 1) rho`, with `m` the mean number of readings
/// (weighted by itself) and `rho` the intraclass correlation by the analysis
/// of variance. Source: J. N. K. Rao and A. J. Scott, Biometrics 48 (1992) 577
/// (from memory).
///
/// # Errors
/// No unit, a unit without readings, more hits than readings.
pub fn effective_number(
    units: &[(u64, u64)],
    confidence: f64,
) -> Result<EffectiveNumber, CannotSay> {
    cannot_say::at_least("units", 1, units.len())?;
    for (i, (hits, readings)) in units.iter().enumerate() {
        super::bounds::check(*hits, *readings, confidence).map_err(|_| CannotSay::OutOfRange {
            what: format!("the readings of unit {}", i + 1),
            value: *hits as f64,
            allowed: "at least one reading and no more hits than readings".into(),
        })?;
    }
    let sum = |pick: fn(&(u64, u64)) -> u64| {
        units
            .iter()
            .try_fold(0_u64, |sum, unit| sum.checked_add(pick(unit)))
            .ok_or_else(|| CannotSay::Overflow { what: "the number of readings".into() })
    };
    let readings = sum(|unit| unit.1)?;
    let hits = sum(|unit| unit.0)?;
    let complete = units.iter().filter(|u| u.0 == u.1).count() as u64;
    let (n, k) = (readings as f64, units.len() as f64);
    let p = hits as f64 / n;
    let within = sums::sum(units.iter().map(|u| {
        let share = u.0 as f64 / u.1 as f64;
        u.1 as f64 * share * (1.0 - share)
    }));
    let between = sums::sum(units.iter().map(|u| {
        let share = u.0 as f64 / u.1 as f64;
        u.1 as f64 * (share - p) * (share - p)
    }));
    let squares = sums::sum(units.iter().map(|u| (u.1 as f64) * (u.1 as f64)));
    let mean_number = (n - squares / n) / (k - 1.0).max(1.0);
    let correlation = if n > k && k > 1.0 && within + between > 0.0 {
        let (b, w) = (between / (k - 1.0), within / (n - k));
        Some(((b - w) / (b + (mean_number - 1.0) * w)).clamp(0.0, 1.0))
    } else {
        None
    };
    let effective = match correlation {
        Some(rho) => n / (1.0 + (squares / n - 1.0) * rho),
        None => k,
    };
    let mut notes = Vec::new();
    if readings > units.len() as u64 {
        notes.push(Note::new(
            "repeated-readings",
            match correlation {
                Some(rho) => format!(
                    "{readings} readings of {} units (correlation {rho:.2}) count for {effective:.1}.",
                    units.len()
                ),
                None => format!(
                    "{readings} readings of {} units all agree, so their correlation cannot be \
                     estimated; units are counted.",
                    units.len()
                ),
            },
            "Report units as trials; add units, not readings.",
        ));
    }
    Ok(EffectiveNumber {
        readings,
        units: units.len() as u64,
        correlation,
        effective,
        by_unit: clopper_pearson(complete, units.len() as u64, confidence)?,
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_readings_each_of_fifteen() {
        let result = effective_number(&[(3, 3); 15], 0.95).unwrap();
        assert_eq!(result.effective, 15.0);
        assert!((result.by_unit.one_sided_lower - 0.819).abs() < 5e-4);
    }

    #[test]
    fn readings_that_follow_the_unit_count_once() {
        let units = [(4, 4), (0, 4), (4, 4), (0, 4), (4, 4), (4, 4)];
        let result = effective_number(&units, 0.95).unwrap();
        assert!((result.correlation.unwrap() - 1.0).abs() < 1e-12);
        assert!((result.effective - 6.0).abs() < 1e-9);
        assert!(effective_number(&[(2, 1)], 0.95).is_err());
    }
}

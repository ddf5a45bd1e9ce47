//! Aged controls: does a leak stay open as the unit ages?

use std::collections::{BTreeMap, BTreeSet};

use statistics::proportions::clopper_pearson;

use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::plan::aged_unit;
use crate::runs::{Run, RunClass};

/// Aged controls with a leak, and those without, at one age.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AgeRow {
    /// Days since filling.
    pub age_days: u32,
    /// Units with a leak that were found.
    pub hits: u64,
    /// Units with a leak that were tested.
    pub of: u64,
    /// One-sided exact lower bound of the share found, at the confidence of the
    /// purpose.
    pub lower: f64,
    /// Units with a leak that were found at their first age and are missed now:
    /// closed, unless the reading says otherwise.
    pub closed: u64,
    /// Units without a leak that were rejected.
    pub rejected_without_leak: u64,
    /// Units without a leak that were tested.
    pub without_leak: u64,
}

pub(super) fn from_aged_controls(
    input: &CaseInput,
    runs: &[Run],
    limit_pa: f64,
    notes: &mut Vec<Note>,
) -> Vec<AgeRow> {
    let confidence = input.profile.purpose.confidence.fraction();
    // Age, unit, with a leak, found.
    let mut judged: Vec<(u32, &str, bool, bool)> = runs
        .iter()
        .filter_map(|run| {
            let RunClass::AgedControl { nominal_um, age_days } = run.class else { return None };
            let found = run.found(limit_pa)?;
            Some((age_days, aged_unit(&run.unit), nominal_um.is_some(), found))
        })
        .collect();
    judged.sort_by_key(|one| one.0);
    let mut first: BTreeMap<&str, bool> = BTreeMap::new();
    let mut rows: BTreeMap<u32, AgeRow> = BTreeMap::new();
    let mut closed_units: BTreeSet<&str> = BTreeSet::new();
    for (age_days, unit, leaks, found) in judged {
        let row = rows.entry(age_days).or_insert(AgeRow {
            age_days,
            hits: 0,
            of: 0,
            lower: 0.0,
            closed: 0,
            rejected_without_leak: 0,
            without_leak: 0,
        });
        if !leaks {
            row.without_leak += 1;
            row.rejected_without_leak += u64::from(found);
            continue;
        }
        row.of += 1;
        row.hits += u64::from(found);
        let was_found = *first.entry(unit).or_insert(found);
        if was_found && !found {
            row.closed += 1;
            closed_units.insert(unit);
        }
    }
    let mut rows: Vec<AgeRow> = rows.into_values().collect();
    for row in rows.iter_mut().filter(|row| row.of > 0) {
        row.lower = clopper_pearson(row.hits, row.of, confidence)
            .map_or(0.0, |bounds| bounds.one_sided_lower);
    }
    if let Some(row) = rows.iter().find(|row| row.closed > 0) {
        notes.push(Note::caution(
            "leaks-close-with-age",
            format!(
                "{} of the aged controls with a leak were found at first and missed later, the \
                 first of them at {} days",
                closed_units.len(),
                row.age_days
            ),
            "verify their flow again, and let the claim end before that age: no room-temperature \
             vacuum test sees a closed leak",
        ));
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(unit: &str, nominal_um: Option<f64>, age_days: u32, rise_pa: f64) -> Run {
        let class = RunClass::AgedControl { nominal_um, age_days };
        let unit = format!("{unit}-d{age_days:03}");
        Run { day: age_days + 1, ..Run::invented(&unit, class, rise_pa) }
    }

    #[test]
    fn a_unit_that_closes_is_told_from_one_that_was_never_found() {
        let input = crate::worked_cases::ageing_syringe();
        let leak = Some(10.0);
        let runs = [
            run("A01", leak, 0, 50.0),
            run("A02", leak, 0, 50.0),
            run("A03", leak, 0, 1.0),
            run("A04", None, 0, 1.0),
            run("A01", leak, 30, 50.0),
            run("A02", leak, 30, 1.0),
            run("A03", leak, 30, 1.0),
            run("A04", None, 30, 11.0),
        ];
        let mut notes = Vec::new();
        let rows = from_aged_controls(&input, &runs, 10.0, &mut notes);
        assert_eq!(rows.len(), 2);
        assert_eq!((rows[0].hits, rows[0].of, rows[0].closed), (2, 3, 0));
        assert_eq!((rows[1].hits, rows[1].of, rows[1].closed), (1, 3, 1));
        assert_eq!((rows[1].rejected_without_leak, rows[1].without_leak), (1, 1));
        // Exact bound for 2 of 3 at 95 %, one-sided: 0.135 (tables of the
        // binomial; (1-p)^3 + ... from p^3 + 3p^2(1-p) = 0.05).
        let p = rows[0].lower;
        assert!((p * p * p + 3.0 * p * p * (1.0 - p) - 0.05).abs() < 1e-9, "{p}");
        assert_eq!(notes.len(), 1);
        assert!(
            notes[0].text.contains("1 of the aged controls") && notes[0].text.contains("30 days")
        );
    }
}

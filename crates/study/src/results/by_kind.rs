//! Positive controls by the side and the type of their leak: what the curve of
//! the gas side does not say.

use std::collections::BTreeMap;

use statistics::proportions::clopper_pearson;

use super::units;
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::run_factors::LeakSide;
use crate::runs::{Run, RunClass};
use crate::wording::rounded;

/// Positive controls of one kind and label.
#[derive(Debug, Clone, PartialEq)]
pub struct KindRow {
    /// Side of the leak; `None` where nobody said.
    pub side: Option<LeakSide>,
    /// Type of defect; empty where nobody said.
    pub defect: String,
    /// Size on the label, flow-equivalent µm.
    pub nominal_um: f64,
    /// Units found.
    pub hits: u64,
    /// Units tested.
    pub of: u64,
    /// One-sided exact lower bound of the share found, at the confidence of the
    /// purpose.
    pub lower: f64,
}

pub(super) fn by_kind(
    input: &CaseInput,
    runs: &[Run],
    limit_pa: f64,
    notes: &mut Vec<Note>,
) -> Vec<KindRow> {
    let positive = runs.iter().filter(|run| matches!(run.class, RunClass::PositiveControl { .. }));
    let usable = |run: &Run| run.found(limit_pa).is_some();
    // Repeats were said of with the detection.
    let mut counts: BTreeMap<(Option<LeakSide>, &str, u64), (u64, u64)> = BTreeMap::new();
    for run in units::first_of_each(positive, usable, "positive controls", &mut Vec::new()) {
        let RunClass::PositiveControl { nominal_um, .. } = run.class else { continue };
        let Some(found) = run.found(limit_pa) else { continue };
        // Sizes are above zero, so that their bits are in order.
        let key = (run.factors.side, run.factors.defect.as_str(), nominal_um.to_bits());
        let count = counts.entry(key).or_insert((0, 0));
        count.0 += u64::from(found);
        count.1 += 1;
    }
    let mut kinds: Vec<(Option<LeakSide>, &str)> =
        counts.keys().map(|(side, defect, _)| (*side, *defect)).collect();
    kinds.dedup();
    if kinds.len() < 2 {
        return Vec::new();
    }
    let confidence = input.profile.purpose.confidence.fraction();
    let rows: Vec<KindRow> = counts
        .into_iter()
        .map(|((side, defect, bits), (hits, of))| KindRow {
            side,
            defect: defect.to_owned(),
            nominal_um: f64::from_bits(bits),
            hits,
            of,
            lower: clopper_pearson(hits, of, confidence)
                .map_or(0.0, |bounds| bounds.one_sided_lower),
        })
        .collect();
    notes.extend(missed_under_the_liquid(&rows));
    rows
}

/// Says how many leaks under the liquid were missed, at which largest size.
fn missed_under_the_liquid(rows: &[KindRow]) -> Option<Note> {
    let liquid = || rows.iter().filter(|row| row.side == Some(LeakSide::Liquid));
    let of: u64 = liquid().map(|row| row.of).sum();
    let missed: u64 = liquid().map(|row| row.of - row.hits).sum();
    let largest =
        liquid().filter(|row| row.hits < row.of).map(|row| row.nominal_um).fold(0.0, f64::max);
    (missed > 0).then(|| {
        Note::caution(
            "missed-under-the-liquid",
            format!(
                "{missed} of {of} positive controls with their leak under the liquid were missed, \
                 the largest of {} µm by the flow of the dry hole",
                rounded(largest)
            ),
            "bring the chamber well below the vapour pressure, or argue leaks under the liquid by \
             another method",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run_factors::RunFactors;

    fn run(unit: &str, side: LeakSide, defect: &str, nominal_um: f64, rise_pa: f64) -> Run {
        let class = RunClass::PositiveControl { nominal_um, verified_um: None };
        let factors =
            RunFactors { side: Some(side), defect: defect.to_owned(), ..RunFactors::default() };
        Run { factors, ..Run::invented(unit, class, rise_pa) }
    }

    /// Two of two found bound the share at 0.05^(1/2) = 0.2236 (hand
    /// calculation).
    #[test]
    fn sides_and_types_are_counted_apart() {
        let input = crate::worked_cases::liquid_vial();
        let mut notes = Vec::new();
        let runs = [
            run("A", LeakSide::Gas, "laser hole", 10.0, 50.0),
            run("B", LeakSide::Gas, "laser hole", 10.0, 50.0),
            run("B", LeakSide::Gas, "laser hole", 10.0, 5.0),
            run("C", LeakSide::Gas, "capillary", 10.0, 5.0),
            run("D", LeakSide::Liquid, "capillary", 10.0, 5.0),
            run("E", LeakSide::Liquid, "capillary", 20.0, 50.0),
        ];
        let rows = by_kind(&input, &runs, 20.0, &mut notes);
        let short: Vec<(Option<LeakSide>, &str, f64, u64, u64)> = rows
            .iter()
            .map(|row| (row.side, row.defect.as_str(), row.nominal_um, row.hits, row.of))
            .collect();
        assert_eq!(
            short,
            [
                (Some(LeakSide::Gas), "capillary", 10.0, 0, 1),
                (Some(LeakSide::Gas), "laser hole", 10.0, 2, 2),
                (Some(LeakSide::Liquid), "capillary", 10.0, 0, 1),
                (Some(LeakSide::Liquid), "capillary", 20.0, 1, 1),
            ]
        );
        assert!((rows[1].lower - 0.2236).abs() < 1e-3, "{}", rows[1].lower);
        assert_eq!(notes[0].code, "missed-under-the-liquid");
        assert!(notes[0].text.contains("1 of 2"), "{}", notes[0].text);
        // One kind alone needs no table.
        assert!(by_kind(&input, &runs[..3], 20.0, &mut Vec::new()).is_empty());
    }
}

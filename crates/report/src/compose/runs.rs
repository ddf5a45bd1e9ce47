//! The runs: every one accounted for.

use study::Case;
use study::run_factors::LeakSide;
use study::runs::{Run, RunClass, RunOrigin};

use super::{blank_chart, runs_figure, trace_figures};
use crate::document::{Block, Column, DataTable, FigureBlock, KeyValue, Section, Words};
use crate::figure::FigureError;
use crate::number::{count, significant};

pub(super) fn section(case: &Case) -> Result<Option<Section>, FigureError> {
    if case.runs.is_empty() {
        return Ok(None);
    }
    let mut section = Section::new("runs", "Runs").with(Block::KeyValues(counts(case)));
    if let Some(figure) = runs_figure::figure(case) {
        section = section.with(Block::Figure(FigureBlock::of(&figure)?));
    }
    section = blank_chart::added_to(section, case)?;
    Ok(Some(section.with(Block::Table(table(&case.runs)))))
}

/// Name of a run in the list of runs.
fn name_of(number: u32) -> String {
    format!("run-{number}")
}

/// The runs that a figure rests on, each leading to its row in the list.
pub(super) fn leading_to<'a>(runs: impl IntoIterator<Item = &'a Run>) -> Words {
    runs.into_iter().enumerate().fold(Words::default(), |words, (place, run)| {
        let words = if place == 0 { words } else { words.plain(", ") };
        words.leading_to(run.number.to_string(), name_of(run.number))
    })
}

/// Numbers as ranges: "3, 5 to 9, 12".
pub(super) fn in_ranges(numbers: &[u32]) -> String {
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let mut ranges: Vec<(u32, u32)> = Vec::new();
    for number in sorted {
        match ranges.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(number) => *last = number,
            _ => ranges.push((number, number)),
        }
    }
    let texts: Vec<String> = ranges
        .into_iter()
        .map(|(first, last)| match last - first {
            0 => first.to_string(),
            1 => format!("{first}, {last}"),
            _ => format!("{first} to {last}"),
        })
        .collect();
    texts.join(", ")
}

fn counts(case: &Case) -> Vec<KeyValue> {
    let mut pairs = Vec::new();
    if let Some(plan) = &case.plan {
        pairs.push(KeyValue::new(
            "Planned",
            format!("{} runs, order drawn from seed {}", count(plan.runs.len() as u64), plan.seed),
        ));
    }
    pairs.push(KeyValue::new("Done", format!("{} runs", count(case.runs.len() as u64))));
    if let Some(results) = &case.results {
        let accounting = &results.accounting;
        pairs.extend([
            KeyValue::new(
                "By class",
                format!(
                    "{} blanks, {} flow challenges, {} negative controls, {} positive controls{}",
                    accounting.blanks,
                    accounting.flow_challenges,
                    accounting.negative_controls,
                    accounting.positive_controls,
                    match accounting.aged_controls {
                        0 => String::new(),
                        n => format!(", {n} runs of aged controls"),
                    }
                ),
            ),
            KeyValue::new(
                "By ending",
                format!(
                    "{} ended by a reach limit (censored), {} aborted (missing)",
                    accounting.ended_by_limit, accounting.aborted
                ),
            ),
        ]);
    }
    pairs.push(KeyValue::new("Origin", origins(&case.runs)));
    pairs
}

fn origins(runs: &[Run]) -> String {
    let simulated =
        runs.iter().filter(|run| matches!(run.origin, RunOrigin::Simulated { .. })).count();
    let imported = runs.len() - simulated;
    match (simulated, imported) {
        (0, _) => "recorded on a rig and imported".to_string(),
        (_, 0) => "simulated; no unit was tested".to_string(),
        _ => format!("{simulated} simulated, {imported} recorded and imported"),
    }
}

fn table(runs: &[Run]) -> DataTable {
    let with_factors = runs.iter().any(|run| !factors_of(run).is_empty());
    let mut columns = vec![
        Column::number("No."),
        Column::number("Day"),
        Column::short("Unit"),
        Column::short("Class"),
        Column::number("Label (µm)"),
        Column::number("Verified (µm)"),
        Column::number("Reached (Pa)"),
        Column::number("Rise (Pa)"),
        Column::words("Ended", 1.0),
    ];
    if with_factors {
        columns.push(Column::words("By, rig, lot, leak", 1.0));
    }
    let mut table = DataTable::new(
        "run-list",
        "Every run in the order in which it was done",
        columns,
    )
    .with_footnote(
        "Sizes are flow-equivalent diameters; a verified size comes from the flow measured on \
         arrival. A run ended by a reach limit has no rise. A leak is on the gas side where the \
         last column does not say liquid. The class leads to the trace, where there is one.",
    );
    let mut named = std::collections::BTreeSet::new();
    for run in runs {
        let number = if named.insert(run.number) {
            Words::default().named(run.number.to_string(), name_of(run.number))
        } else {
            run.number.to_string().into()
        };
        let (nominal, verified) = match run.class {
            RunClass::PositiveControl { nominal_um, verified_um } => (
                significant(nominal_um, 3),
                verified_um.map_or(String::new(), |um| significant(um, 3)),
            ),
            RunClass::AgedControl { nominal_um: Some(um), .. } => {
                (significant(um, 3), String::new())
            }
            _ => (String::new(), String::new()),
        };
        let features = run.features.as_ref();
        let mut row: Vec<Words> = vec![
            number,
            run.day.to_string().into(),
            run.unit.clone().into(),
            class_of(run),
            nominal.into(),
            verified.into(),
            features
                .and_then(|features| features.reach_pa)
                .map_or(String::new(), |pa| significant(pa, 4))
                .into(),
            features.map_or(String::new(), |features| significant(features.rise_pa, 4)).into(),
            run.ended.words().into(),
        ];
        if with_factors {
            row.push(factors_of(run).into());
        }
        table.push(row);
    }
    table
}

/// Class of a run, leading to its trace where that is drawn.
fn class_of(run: &Run) -> Words {
    let words = match run.class {
        RunClass::AgedControl { .. } => run.class.words(),
        _ => run.class.word().to_string(),
    };
    match trace_figures::name_for(run) {
        Some(figure) => Words::default().leading_to(words, figure),
        None => words.into(),
    }
}

/// Operator, rig, lot, the leak and the flow standard of a run, as far as
/// anybody said.
fn factors_of(run: &Run) -> String {
    let factors = &run.factors;
    // Most leaks are on the gas side; only the others are said, so that a run
    // keeps to one line.
    let leak = match factors.side {
        Some(LeakSide::Gas) => factors.defect.clone(),
        _ => factors.leak_words(),
    };
    [&factors.operator, &factors.rig, &factors.lot, &leak, &factors.standard]
        .into_iter()
        .filter(|text| !text.is_empty())
        .cloned()
        .collect::<Vec<_>>()
        .join(", ")
}

#[cfg(test)]
mod tests {
    use super::in_ranges;

    #[test]
    fn numbers_as_ranges() {
        assert_eq!(in_ranges(&[]), "");
        assert_eq!(in_ranges(&[7, 3, 4, 5, 12, 13, 7]), "3 to 5, 7, 12, 13");
        assert_eq!(in_ranges(&[u32::MAX, 1]), "1, 4294967295");
    }
}

//! What came of the acceptance criteria that were fixed with the plan, and of the
//! units that were tested again as they aged.

use study::Case;
use study::criteria_judged::judge;
use study::results::AgeRow;

use super::protocol::planned_criteria;
use crate::document::{Block, Column, DataTable, Section};
use crate::number::{shortest_percent, significant};

pub(super) fn section(case: &Case) -> Option<Section> {
    let results = case.results.as_ref()?;
    let criteria = planned_criteria(case);
    if criteria.is_empty() && results.ageing.is_empty() {
        return None;
    }
    let mut section = Section::new("criteria-outcome", "Acceptance criteria");
    if !criteria.is_empty() {
        let mut table = DataTable::new(
            "criteria-outcome-table",
            "Acceptance criteria of the plan, and what came of each",
            vec![
                Column::number("No."),
                Column::short("Name"),
                Column::short("Outcome"),
                Column::words("Criterion", 1.0),
            ],
        )
        .with_footnote(
            "A criterion cannot be said where the results lack what it asks for; it is then not \
             met.",
        );
        for (index, criterion) in criteria.iter().enumerate() {
            table.push([
                (index + 1).to_string(),
                criterion.code.clone(),
                judge(criterion, results, &case.runs).word().to_string(),
                criterion.sentence.clone(),
            ]);
        }
        section = section.with(Block::Table(table));
    }
    if !results.ageing.is_empty() {
        let confidence = case.input.profile.purpose.confidence.fraction();
        section = section
            .with(Block::Subheading("Units tested again as they age".to_string()))
            .with(Block::Table(ageing(&results.ageing, confidence)));
    }
    Some(section)
}

fn ageing(rows: &[AgeRow], confidence: f64) -> DataTable {
    let mut table = DataTable::new(
        "aged-controls",
        "Aged controls by days since filling",
        vec![
            Column::number("Days"),
            Column::number("Found"),
            Column::number("With a leak"),
            Column::number("Exact lower bound"),
            Column::number("Found before, missed now"),
            Column::number("Rejected without a leak"),
            Column::number("Without a leak"),
        ],
    )
    .with_footnote(format!(
        "One-sided bound of the share found at {} confidence. The same units at every age: they \
         enter no detection curve.",
        shortest_percent(confidence)
    ));
    for row in rows {
        table.push([
            row.age_days.to_string(),
            row.hits.to_string(),
            row.of.to_string(),
            significant(row.lower, 3),
            row.closed.to_string(),
            row.rejected_without_leak.to_string(),
            row.without_leak.to_string(),
        ]);
    }
    table
}

//! Register of positive controls and flow standards, as it stands at printing.

use study::Case;
use study::unit_class::RunClass;

use super::Edition;
use super::records::RegisteredItem;
use super::signing::lines;
use crate::document::{Block, Column, DataTable, KeyValue, Section, Words};

pub(super) fn sections(case: &Case, edition: &Edition) -> Vec<Section> {
    vec![
        register(edition),
        used(case),
        Section::new("signatures", "Signatures").with(lines([
            ("Keeper of the register", "keeps controls, certificates and checks as listed"),
            ("Metrology", "confirms certificates and verified flows"),
            ("Quality unit", "agrees to the use of the controls listed"),
        ])),
    ]
}

fn register(edition: &Edition) -> Section {
    let items = &edition.records.register;
    let section = Section::new("register", "Positive controls and flow standards");
    if items.is_empty() {
        return section.paragraph(Words::default().strong("Missing: ").plain(
            "the benchbook registers no positive control and no flow standard (“isobar register \
             add”).",
        ));
    }
    let usable = items.iter().filter(|item| item.hindrance.is_none()).count();
    let table = table(
        "control-register",
        "Every item with certificate, last check and whether it may be used",
        items,
    );
    section
        .with(Block::KeyValues(vec![
            KeyValue::new("Items", items.len().to_string()),
            KeyValue::new("That may be used now", usable.to_string()),
        ]))
        .with(Block::Table(table))
        .paragraph(
            "A nominal diameter is no flow. A control counts with the flow that was verified on \
             arrival, and only until the next check is due.",
        )
}

/// Items of the register with certificate, last check and whether they may be
/// used.
pub(super) fn table<'a>(
    id: &str,
    title: &str,
    items: impl IntoIterator<Item = &'a RegisteredItem>,
) -> DataTable {
    let mut table = DataTable::new(
        id,
        title,
        vec![
            Column::words("Item", 0.8),
            Column::words("What it is", 1.2),
            Column::words("Certificate", 1.4),
            Column::words("Last check", 1.2),
            Column::words("May be used", 1.0),
        ],
    );
    let or_missing =
        |text: &str| if text.is_empty() { "missing".to_string() } else { text.to_string() };
    for item in items {
        table.push([
            item.id.clone(),
            item.description.clone(),
            or_missing(&item.certificate),
            or_missing(&item.last_check),
            item.hindrance.clone().map_or_else(|| "yes".to_string(), |why| format!("no: {why}")),
        ]);
    }
    table
}

/// Sizes that the runs of this case used.
fn used(case: &Case) -> Section {
    let section = Section::new("used", "Positive controls in the runs of this case");
    let mut sizes: Vec<(f64, usize)> = Vec::new();
    for run in &case.runs {
        if let RunClass::PositiveControl { nominal_um, .. } = run.class {
            match sizes.iter_mut().find(|(um, _)| um.total_cmp(&nominal_um).is_eq()) {
                Some((_, n)) => *n += 1,
                None => sizes.push((nominal_um, 1)),
            }
        }
    }
    if sizes.is_empty() {
        return section
            .paragraph(Words::default().strong("None: ").plain("no positive control was run."));
    }
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut table = DataTable::new(
        "controls-used",
        "Runs by nominal size",
        vec![Column::number("Nominal flow-equivalent (µm)"), Column::number("Runs")],
    );
    for (um, n) in sizes {
        table.push([crate::number::significant(um, 3), n.to_string()]);
    }
    section.with(Block::Table(table))
}

//! Method sheet and development record: what to set, and why.

use study::Case;

use super::signing::lines;
use super::wording::sentence;
use super::{forecast, method, note};
use crate::document::{Block, Column, DataTable, KeyValue, NoteBlock, NoteWeight, Section};
use crate::figure::FigureError;
use crate::number::{quantity, stated, with_unit};

pub(super) fn sections(case: &Case) -> Result<Vec<Section>, FigureError> {
    let mut sections = vec![sheet(case)];
    sections.extend(method::section(case).map(|mut section| {
        section.heading = "Reason for every parameter".to_string();
        section
    }));
    sections.push(development(case));
    sections.extend(forecast::section(case)?);
    if let Some(method) = &case.method
        && !method.notes.is_empty()
    {
        let notes = method.notes.iter().map(note).collect();
        sections.push(Section::new("notes", "Notes").with(Block::Notes(notes)));
    }
    sections.push(Section::new("signatures", "Signatures").with(lines([
        ("Author", "developed the method"),
        ("Reviewer", "checked parameters and reasons"),
        ("Quality unit", "agrees to its use in a study"),
    ])));
    Ok(sections)
}

fn sheet(case: &Case) -> Section {
    let section = Section::new("sheet", "Method sheet");
    let Some(method) = &case.method else {
        return section.with(Block::Notes(vec![NoteBlock {
            weight: NoteWeight::Refusal,
            text: "No method is in this case.".to_string(),
            next_step: "Forecast the case and design its method.".to_string(),
        }]));
    };
    let mut columns = vec![Column::words("Setting", 1.0)];
    columns.extend((1..=method.cycle.tiers.len()).map(|n| Column::words(format!("Tier {n}"), 1.0)));
    let mut table = DataTable::new("tier-settings", "Settings by tier", columns);
    let mut row = |name: &str, value: &dyn Fn(&study::cycle::Tier) -> String| {
        let mut cells = vec![name.to_string()];
        cells.extend(method.cycle.tiers.iter().map(|purposed| value(&purposed.tier)));
        table.push(cells);
    };
    let pa = |pa: f64| with_unit(&stated(pa), "Pa");
    let seconds = |s: f64| with_unit(&stated(s), "s");
    row("Evacuate to (absolute)", &|tier| pa(tier.evacuate_to.pa()));
    row("Evacuate for at most", &|tier| seconds(tier.evacuate_limit.s()));
    row("Reach limit (absolute)", &|tier| {
        tier.reach_limit.map_or("none".to_string(), |limit| quantity(limit.pa(), 4, "Pa"))
    });
    row("Settle", &|tier| seconds(tier.settle.s()));
    row("Measure", &|tier| seconds(tier.measure.s()));
    row("Rise limit", &|tier| {
        tier.rise_limit.map_or("none".to_string(), |limit| quantity(limit.pa(), 4, "Pa"))
    });
    let mut cells = vec!["Purpose".to_string()];
    cells.extend(method.cycle.tiers.iter().map(|purposed| sentence(&purposed.purpose)));
    table.push(cells);
    section
        .with(Block::KeyValues(vec![
            KeyValue::new("Method version", method.version.to_string()),
            KeyValue::new("Rig", case.input.rig.name.clone()),
            KeyValue::new(
                "Free volume",
                with_unit(&stated(case.input.rig.free_volume.value.ml()), "mL"),
            ),
            KeyValue::new("Longest cycle", quantity(method.cycle.longest().s(), 4, "s")),
            KeyValue::new(
                "Time between readings",
                with_unit(&stated(method.cycle.sample_interval.s()), "s"),
            ),
            KeyValue::new(
                "Room pressure",
                with_unit(&stated(method.cycle.ambient.pa() / 1000.0), "kPa"),
            ),
        ]))
        .with(Block::Table(table))
}

fn development(case: &Case) -> Section {
    let section = Section::new("development", "Development record");
    let from_units = case.results.as_ref().and_then(|results| results.reject_limit.as_ref());
    section.with(Block::KeyValues(vec![
        KeyValue::new(
            "Limit from units",
            match from_units {
                Some(limit) => format!(
                    "{} from {} negative controls; see the limit rationale",
                    quantity(limit.limit_pa, 4, "Pa"),
                    limit.n
                ),
                None => "missing: no negative controls evaluated".to_string(),
            },
        ),
        KeyValue::new(
            "Earlier versions",
            "stand in the history of the benchbook; this sheet prints the version in force",
        ),
        KeyValue::new(
            "Designed experiments",
            "missing: no screening or response surface is in this case",
        ),
        KeyValue::new(
            "Proven acceptable ranges",
            "missing: settings beside the chosen ones have not been tested on units",
        ),
    ]))
}

//! The account of runs: planned, done, aborted, repeated, not planned.

use study::Case;
use study::run_account::{AccountedRun, Counted, Fate, account_for_runs};

use super::wording::sentence;
use crate::document::{Block, Column, DataTable, KeyValue, Section};

pub(super) fn section(case: &Case) -> Option<Section> {
    if case.runs.is_empty() && case.plan.is_none() {
        return None;
    }
    let account = account_for_runs(
        case.plan.as_ref(),
        &case.runs,
        case.results.as_ref().and_then(study::Results::limit_in_force_pa),
    );
    let n = |holds: fn(&AccountedRun) -> bool| account.count(holds);
    let by = |counted: Counted| account.count(|row| row.counted == counted);
    let planned = account.planned.map_or("no plan in the case".to_string(), |n| n.to_string());
    let mut section = Section::new("account", "Account of runs").with(Block::KeyValues(vec![
        KeyValue::new("Planned", planned),
        KeyValue::new(
            "Done",
            format!(
                "{}: {} completed, {} ended by a limit, {} with the gauge at its end, {} aborted",
                n(|row| row.done.is_some()),
                n(|row| row.fate == Fate::Completed),
                n(|row| row.fate == Fate::EndedByLimit),
                n(|row| row.fate == Fate::GaugeFull),
                n(|row| matches!(row.fate, Fate::Aborted { .. })),
            ),
        ),
        KeyValue::new("Planned, not done", n(|row| row.fate == Fate::NotDone).to_string()),
        KeyValue::new(
            "Done, not planned",
            match account.planned {
                Some(_) => n(|row| row.planned.is_none() && row.repeats.is_none()).to_string(),
                None => "cannot be said without a plan".to_string(),
            },
        ),
        KeyValue::new("Repeats of a unit", n(|row| row.repeats.is_some()).to_string()),
        KeyValue::new("Excluded by hand", "none: no run can be taken out of the results"),
        KeyValue::new(
            "Counted in",
            format!(
                "reject limit {}, detection {}, rig only {}, not counted {}",
                by(Counted::InLimit),
                by(Counted::InDetection),
                by(Counted::RigOnly),
                by(Counted::NoRise),
            ),
        ),
    ]));
    let exceptions = account.exceptions();
    if exceptions.is_empty() {
        return Some(section.paragraph(
            "No run is out of the ordinary: every planned run was done once, and none was aborted.",
        ));
    }
    let mut table = DataTable::new(
        "run-exceptions",
        "Runs that need a word",
        vec![
            Column::number("Planned"),
            Column::number("Done"),
            Column::short("Unit"),
            Column::short("Class"),
            Column::words("What became of it", 1.0),
            Column::short("Counted in"),
        ],
    )
    .with_footnote(
        "Of the runs of a unit the first with a result counts; repeats are no further units.",
    );
    for row in exceptions {
        let number = |number: Option<u32>| number.map_or(String::new(), |n| n.to_string());
        let mut fate = match &row.fate {
            Fate::NotDone => "not done".to_string(),
            Fate::Completed => "completed".to_string(),
            Fate::EndedByLimit => "ended by a limit, rise censored".to_string(),
            Fate::GaugeFull => "gauge at the end of its range, rise censored".to_string(),
            Fate::Aborted { cause } => format!("aborted: {cause}"),
        };
        if let Some(first) = row.repeats {
            fate.push_str(&format!("; repeats run {first}"));
        } else if row.planned.is_none() {
            fate.push_str("; not in the plan");
        }
        table.push([
            number(row.planned),
            number(row.done),
            row.unit.clone(),
            row.class.word().to_string(),
            sentence(&fate),
            row.counted.word().to_string(),
        ]);
    }
    section = section.with(Block::Table(table));
    Some(section)
}

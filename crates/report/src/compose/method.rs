//! The method: every number with its reason.

use study::Case;

use super::wording::sentence;
use crate::document::{Block, Column, DataTable, Section};

pub(super) fn section(case: &Case) -> Option<Section> {
    let method = case.method.as_ref()?;
    let mut table = DataTable::new(
        "method-parameters",
        format!("Parameters of method version {}, each with its reason", method.version),
        vec![
            Column::words("Parameter", 1.1),
            Column::words("Value", 1.0),
            Column::words("Reason", 2.2),
        ],
    );
    for reason in &method.reasons {
        table.push([reason.parameter.clone(), reason.value.clone(), sentence(&reason.reason)]);
    }
    Some(Section::new("method", "Method").with(Block::Table(table)))
}

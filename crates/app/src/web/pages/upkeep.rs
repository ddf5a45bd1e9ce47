//! Upkeep: not built yet, and said so.

use maud::{Markup, html};
use serde_json::{Value, json};
use study::{Case, Step};

use crate::web::frame::{self, CasePage};
use crate::web::workbench::Workbench;

/// The page.
pub fn page(workbench: &Workbench, case: &Case) -> Markup {
    let this = CasePage { case, step: Step::Upkeep, has_plots: false, ladder_beside: true };
    let content = html! {
        (frame::not_yet("Not yet", study::upkeep::NOT_YET, None))
        p {
            "What belongs here: a suitability check before each day of work, charts of blanks and \
             negative controls, alarms on drift with their likely cause, transfer to another rig \
             or site, and the review of a change."
        }
    };
    frame::case_page(workbench, &this, content)
}

/// Its twin.
pub fn twin(case: &Case) -> Value {
    json!({ "case": case.input.id, "built": false, "text": study::upkeep::NOT_YET })
}

//! What the reader should know of the liquid side.

use super::{BORES_UM, LiquidSide};
use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::wording::{percent, rounded};

/// A chamber well below the vapour pressure lies below this share of it.
const WELL_BELOW: f64 = 0.5;

/// What the reader should know of it.
pub(in super::super) fn notes(input: &CaseInput, found: &LiquidSide) -> Vec<Note> {
    let mut notes = Vec::new();
    let vapour = rounded(found.vapour_pressure_pa);
    if found.points.is_empty() {
        notes.push(Note::caution(
            "liquid-side",
            format!(
                "a leak under the liquid is not claimed: the chamber stays at {} Pa, above the \
                 vapour pressure of the product, {vapour} Pa",
                rounded(found.chamber_pa),
            ),
            "evacuate well below the vapour pressure, or find liquid leaks by another principle",
        ));
        return notes;
    }
    let needed = percent(input.profile.purpose.required_detection);
    let between = |interval: Option<(f64, f64)>| {
        interval.map_or_else(String::new, |(low, high)| {
            format!(" (90 % interval {} to {})", rounded(low), rounded(high))
        })
    };
    let spread = found.spread.as_ref();
    let seen = match (found.smallest_um, found.largest_um) {
        (Some(smallest), Some(largest)) => format!(
            "bores from {} µm{} {} {} µm are found with {needed} %",
            rounded(smallest),
            between(spread.and_then(|spread| spread.smallest_um)),
            if found.largest_is_at_least { "to at least" } else { "to" },
            rounded(largest),
        ),
        _ => format!("no bore up to {} µm is found with {needed} %", rounded(BORES_UM.1)),
    };
    let blocked = if found.opens_um > 0.0 {
        format!(
            "under the liquid, bores below {} µm{} hold it back by surface tension and are not seen",
            rounded(found.opens_um),
            between(spread.map(|spread| spread.opens_um)),
        )
    } else {
        "under the liquid nothing holds it back, because the wall outside is wetted".to_owned()
    };
    notes.push(Note::caution(
        "liquid-side",
        format!(
            "{blocked}; through a wall of {} mm {seen}, at a vapour pressure of {vapour} Pa",
            rounded(input.profile.container.wall.value.mm()),
        ),
        "challenge with product-filled positive controls: dissolved matter, wetting and dried \
         product change it",
    ));
    let share = found.chamber_pa / found.vapour_pressure_pa;
    let boils = spread.map_or(1.0, |spread| spread.share_that_boils);
    if share > WELL_BELOW || boils < 1.0 {
        notes.push(Note::caution(
            "liquid-boils-barely",
            format!(
                "the chamber lies at {} % of the vapour pressure of the product{}: liquid that comes \
                 out gives off little vapour",
                rounded(100.0 * share),
                if boils < 1.0 {
                    format!(", and above it in {} % of the draws", rounded(100.0 * (1.0 - boils)))
                } else {
                    String::new()
                },
            ),
            "evacuate to less than half of the vapour pressure, and measure that of the product",
        ));
    }
    notes
}

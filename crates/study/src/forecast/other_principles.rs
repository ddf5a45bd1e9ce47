//! What else could be asked where vacuum decay answers no: other tests by their
//! physical principle, each with the condition under which it could serve.
//!
//! Families of container closure integrity tests as the pharmacopoeia groups them
//! (USP <1207.2>, from memory); the conditions are common practice.

use physics::gases::Gas;

use crate::case_input::CaseInput;
use crate::notes::Note;
use crate::profile::{ContainerKind, Fill};

/// Principles that may serve for this profile, in one note.
pub(super) fn note(input: &CaseInput) -> Note {
    Note::remark(
        "other-principles",
        format!("what else could be asked: {}", fitting(input).join("; ")),
        "each needs a feasibility study and a validation of its own by people qualified in it; \
         where none serves, tighten the seal instead of the test (closure force, compression, crimp)",
    )
}

/// Each principle with its condition.
fn fitting(input: &CaseInput) -> Vec<&'static str> {
    let profile = &input.profile;
    let headspace = &profile.headspace;
    let below_room = headspace.pressure.value.pa() < 0.95 * input.cycle.ambient.pa();
    let without_oxygen = !matches!(headspace.gas, Gas::Air | Gas::Oxygen);
    let rigid = matches!(
        profile.container.kind,
        ContainerKind::Vial
            | ContainerKind::Ampoule
            | ContainerKind::Syringe
            | ContainerKind::Cartridge
    );
    let mut list = Vec::new();
    if rigid && (below_room || without_oxygen) {
        list.push(
            "absorption of laser light by the headspace (pressure, oxygen), after a time in which \
             the leak has changed it: needs a wall that lets the light through, spares the unit, \
             and sees leaks far below those of this test",
        );
    }
    if profile.product.fill == Fill::Liquid {
        list.push(
            "electrical conductance across the wall under high voltage: needs a liquid that \
             conducts and wets the place, and a wall that does not conduct; of little use above \
             the liquid",
        );
    }
    list.push(
        "a tracer gas such as helium with a mass spectrometer: sees the smallest leaks, on units \
         that were filled with the tracer or opened to it, mostly in development",
    );
    if !below_room {
        list.push(
            "the flow that a pump draws out of the closed chamber (mass extraction): a similar \
             window with another background",
        );
    }
    list.push(
        "ingress of microbes or dye: gives chances rather than a limit, costs the unit, and needs \
         a liquid path",
    );
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_the_profile_allows_is_named() {
        let names = |input: &CaseInput| note(input).text;
        let dry = names(&crate::worked_cases::lyophilised_vial());
        assert!(dry.contains("laser light") && !dry.contains("electrical conductance"), "{dry}");
        let liquid = names(&crate::worked_cases::liquid_vial());
        assert!(liquid.contains("electrical conductance") && liquid.contains("tracer gas"));
        // A headspace of air at room pressure has nothing for light to tell.
        assert!(!liquid.contains("laser light"), "{liquid}");
    }
}

//! What a profile does not say yet: missing values, working values, missing
//! uncertainties.

use crate::case_input::CaseInput;
use crate::product_liquid::ProductLiquid;
use crate::profile::{ContainerKind, TO_BE_NAMED};
use crate::provenance::{Origin, Provenance};

/// Something the profile lacks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProfileGap {
    /// What is missing.
    pub missing: String,
    /// What hangs on it.
    pub matters: &'static str,
    /// How to come by it.
    pub how: &'static str,
}

/// Everything that the profile and the rig of a case lack.
#[must_use]
pub fn profile_gaps(input: &CaseInput) -> Vec<ProfileGap> {
    let profile = &input.profile;
    let mut gaps = Vec::new();
    let mut add = |missing: String, matters, how| gaps.push(ProfileGap { missing, matters, how });
    match &profile.mall {
        None => add(
            "the leak that matters (MALL)".to_owned(),
            "without it no answer is yes or no",
            "decide it with its reasoning: sterility, headspace, loss of liquid",
        ),
        Some(mall) if mall.provenance.origin == Origin::Assumed => add(
            "a source for the leak that matters: it is assumed".to_owned(),
            "every verdict is against this size",
            "work back from the stability of the product, or name the literature",
        ),
        Some(_) => {}
    }
    if profile.purpose.population.contains(&format!("({TO_BE_NAMED})")) {
        add(
            "the units of which the answer is to speak".to_owned(),
            "a claim holds for the population whose units were tested",
            "name it with the customer: a lot, a line, samples of a study",
        );
    }
    if profile.purpose.decision.starts_with(TO_BE_NAMED) {
        add(
            "what hangs on one result".to_owned(),
            "the tolerable error rates follow from it",
            "say what happens to a unit above the limit, and to its lot",
        );
    }
    let values: [(&str, Option<f64>, &Provenance, &'static str); 4] = [
        (
            "wall at the leak",
            profile.container.wall.standard_uncertainty_si,
            &profile.container.wall.provenance,
            "a thicker wall makes a hole a channel and its flow smaller",
        ),
        (
            "headspace volume",
            profile.headspace.volume.standard_uncertainty_si,
            &profile.headspace.volume.provenance,
            "it sets when a large leak has emptied the headspace",
        ),
        (
            "headspace pressure",
            profile.headspace.pressure.standard_uncertainty_si,
            &profile.headspace.pressure.provenance,
            "it drives the leak",
        ),
        (
            "free volume of the chamber",
            input.rig.free_volume.standard_uncertainty_si,
            &input.rig.free_volume.provenance,
            "the rise of a leak is inversely proportional to it",
        ),
    ];
    for (name, uncertainty, provenance, matters) in values {
        if provenance.origin == Origin::Assumed {
            let how = "measure it, or name drawing or certificate";
            add(format!("a source for the {name}: it is assumed"), matters, how);
        }
        if uncertainty.is_none() {
            let how = "state it as a standard uncertainty";
            add(format!("the uncertainty of the {name}"), matters, how);
        }
    }
    let strength = &profile.container.strength;
    if strength.withstands.is_none() {
        add(
            "the pressure difference that container and closure withstand".to_owned(),
            "evacuated containers can break or open",
            "take it from their qualification, as withstands of [container]",
        );
    }
    let moves = matches!(profile.container.kind, ContainerKind::Syringe | ContainerKind::Cartridge);
    if moves && !strength.plunger_held {
        if strength.plunger_bore.is_none() {
            add(
                "the bore of the plunger".to_owned(),
                "with the pressure difference it gives the force on the plunger",
                "take it from the drawing, as plunger_bore of [container]",
            );
        }
        if strength.break_loose_n.is_none() {
            add(
                "the force at which the plunger breaks loose".to_owned(),
                "a plunger that moves changes the headspace and hides a leak",
                "measure it, or hold the plunger in the fixture (plunger_held of [container])",
            );
        }
    }
    for name in profile.product.missing_properties() {
        add(
            format!("the {name} of the liquid"),
            "without it no leak under the liquid is forecast",
            "measure it, or take it from the formulation, as [product.liquid] of the case file",
        );
    }
    for property in profile.product.liquid.iter().flat_map(ProductLiquid::properties) {
        if property.provenance.origin == Origin::Assumed {
            add(
                format!("a source for the {} of the liquid: it is assumed", property.name),
                "it decides which leaks under the liquid open and show",
                "measure it, or take it from the formulation",
            );
        }
    }
    if matches!(profile.container.kind, ContainerKind::Bag | ContainerKind::Pouch) {
        add(
            "stiffness of the walls".to_owned(),
            "a wall that moves changes the free volume while it is measured",
            "measure the rise of a tight unit with and without restraint",
        );
    }
    if input.storage.is_none() {
        add(
            "shelf life, store and what storage may change (pressure, oxygen, moisture, liquid)"
                .to_owned(),
            "they say how large a leak the product stands over its shelf life",
            "state them as [storage] in the case file",
        );
    }
    add(
        "conditions of shipment and sterilisation".to_owned(),
        "they decide what may happen to the closure before the test",
        "add them to the file of the product; the profile has no place for them yet",
    );
    gaps
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_limit_and_working_values_are_named() {
        let mut input = crate::worked_cases::lyophilised_vial();
        input.profile.mall = None;
        let gaps = profile_gaps(&input);
        assert!(gaps[0].missing.contains("MALL"));
        assert!(gaps.iter().any(|gap| gap.missing.contains("uncertainty of the wall")));
        assert!(gaps.iter().any(|gap| gap.missing.contains("free volume")));
    }
}

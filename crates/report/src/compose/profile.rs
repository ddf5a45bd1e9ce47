//! The profile: purpose, container, product, headspace, rig, with the origin
//! of every number.

use study::Case;
use study::product_liquid::ProductLiquid;
use study::profile::LeakStatement;
use study::{Provenance, Sourced};

use super::wording::sentence;
use crate::document::{Block, Column, DataTable, KeyValue, Section};
use crate::number::{quantity, shortest_percent, stated, with_unit};

pub(super) fn section(case: &Case) -> Section {
    let profile = &case.input.profile;
    let purpose = &profile.purpose;
    let mut section = Section::new("profile", "Profile").with(Block::KeyValues(vec![
        KeyValue::new("Use of the test", purpose.use_of_test.word()),
        KeyValue::new("Population", purpose.population.as_str()),
        KeyValue::new("Decision", purpose.decision.as_str()),
        KeyValue::new(
            "Error rates",
            format!(
                "at most {} of good units rejected; the leak that matters found with probability \
                 of at least {}; both at {} confidence",
                shortest_percent(purpose.tolerable_false_reject.fraction()),
                shortest_percent(purpose.required_detection.fraction()),
                shortest_percent(purpose.confidence.fraction()),
            ),
        ),
        KeyValue::new(
            "Container",
            format!("{}: {}", profile.container.kind.word(), profile.container.description),
        ),
        KeyValue::new("Product", product(case)),
    ]));
    if profile.container.strength.plunger_held {
        let held = KeyValue::new("Plunger", "held by the fixture while the chamber is evacuated");
        section = section.with(Block::KeyValues(vec![held]));
    }
    if let Some(mall) = &profile.mall {
        section = section.with(Block::KeyValues(vec![KeyValue::new(
            "Reasoning for the leak that matters",
            sentence(&mall.reasoning),
        )]));
    }
    section.with(Block::Table(numbers(case)))
}

fn product(case: &Case) -> String {
    let product = &case.input.profile.product;
    let plugging = if product.may_plug {
        "may close a leak when it dries"
    } else {
        "not expected to close a leak"
    };
    format!("{} ({}; {plugging})", product.name, product.fill.word())
}

fn numbers(case: &Case) -> DataTable {
    let profile = &case.input.profile;
    let rig = &case.input.rig;
    let mut table = DataTable::new(
        "profile-numbers",
        "Numbers of the profile and the rig, and where they come from",
        vec![
            Column::words("Quantity", 1.5),
            Column::number("Value"),
            Column::number("Standard uncertainty"),
            Column::words("Origin", 1.6),
        ],
    )
    .with_footnote(
        "Where no uncertainty is stated, the forecast draws from a working value; absent is not \
         zero.",
    );
    if let Some(mall) = &profile.mall {
        table.push([
            "leak that matters (MALL)".to_string(),
            leak(mall.stated),
            String::new(),
            origin(&mall.provenance),
        ]);
    }
    let wall = &profile.container.wall;
    table.push(row("wall at the leak", wall, with_unit(&stated(wall.value.mm()), "mm"), 1e3, "mm"));
    let strength = &profile.container.strength;
    if let Some(difference) = &strength.withstands {
        let value = with_unit(&stated(difference.value.pa() / 1000.0), "kPa");
        let name = "pressure difference that container and closure withstand";
        table.push(row(name, difference, value, 1e-3, "kPa"));
    }
    if let Some(bore) = &strength.plunger_bore {
        let value = with_unit(&stated(bore.value.mm()), "mm");
        table.push(row("bore of the plunger", bore, value, 1e3, "mm"));
    }
    if let Some(force) = &strength.break_loose_n {
        let value = with_unit(&stated(force.value), "N");
        table.push(row("force at which the plunger breaks loose", force, value, 1.0, "N"));
    }
    let volume = &profile.headspace.volume;
    table.push(row(
        "headspace volume",
        volume,
        with_unit(&stated(volume.value.ml()), "mL"),
        1e6,
        "mL",
    ));
    let pressure = &profile.headspace.pressure;
    table.push(row(
        &format!("headspace pressure ({}, absolute)", profile.headspace.gas.name()),
        pressure,
        with_unit(&stated(pressure.value.pa() / 1000.0), "kPa"),
        1e-3,
        "kPa",
    ));
    for property in profile.product.liquid.iter().flat_map(ProductLiquid::properties) {
        table.push([
            format!("{} of the product", property.name),
            with_unit(&stated(property.value), property.unit),
            property
                .standard_uncertainty
                .map_or("not stated".to_string(), |size| quantity(size, 2, property.unit)),
            origin(property.provenance),
        ]);
    }
    let free = &rig.free_volume;
    let name = format!("free volume of {}", rig.name);
    table.push(row(&name, free, with_unit(&stated(free.value.ml()), "mL"), 1e6, "mL"));
    table
}

/// A row of a sourced value; the uncertainty is stored in the SI unit and
/// printed in the unit of the value.
fn row<T>(name: &str, sourced: &Sourced<T>, value: String, per_si: f64, unit: &str) -> [String; 4] {
    let uncertainty = sourced
        .standard_uncertainty_si
        .map_or("not stated".to_string(), |uncertainty| quantity(uncertainty * per_si, 2, unit));
    [name.to_string(), value, uncertainty, origin(&sourced.provenance)]
}

fn leak(statement: LeakStatement) -> String {
    match statement {
        LeakStatement::FlowEquivalentDiameter(diameter) => {
            format!("{} flow-equivalent", with_unit(&stated(diameter.um()), "µm"))
        }
        LeakStatement::AirFlow(flow) => {
            format!("{} air", with_unit(&stated(flow.pa_m3_per_s()), "Pa·m³/s"))
        }
        LeakStatement::HeliumFlow(flow) => {
            format!("{} helium", with_unit(&stated(flow.pa_m3_per_s()), "Pa·m³/s"))
        }
    }
}

pub(super) fn origin(provenance: &Provenance) -> String {
    let parts = [provenance.from.as_str(), provenance.by.as_str(), provenance.on.as_str()];
    let known: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    if known.is_empty() {
        provenance.origin.word().to_string()
    } else {
        format!("{}: {}", provenance.origin.word(), known.join(", "))
    }
}

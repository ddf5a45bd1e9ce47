//! MALL memo: which leak matters, by every route, and the gap to what the test
//! can see.

use study::Case;
use study::mall::{LITERATURE, MallRoutes, Route, RouteOutcome, mall_routes};

use super::note;
use super::signing::lines;
use super::wording::sentence;
use crate::document::{Block, Column, DataTable, KeyValue, Section, Verdict, VerdictKind, Words};
use crate::number::{quantity, shortest_percent, significant};

pub(super) fn sections(case: &Case) -> Vec<Section> {
    let storage = case.input.storage_or_room();
    let mut sections = match mall_routes(&case.input, &storage, case.forecast.as_ref()) {
        Ok(found) => worked_out(case, &found),
        Err(error) => vec![open(&format!("The routes could not be worked out: {error}."))],
    };
    sections.insert(1, budgets(case));
    sections.push(literature());
    sections.push(Section::new("signatures", "Signatures").with(lines([
        ("Author", "worked the limit out from the values named"),
        ("Owner of the product", "confirms shelf life, budgets and what the product stands"),
        ("Quality unit", "agrees to the limit and to how the gap is covered"),
    ])));
    sections
}

fn open(answer: &str) -> Section {
    Section::new("answer", "").with(Block::Verdict(Verdict {
        kind: VerdictKind::Open,
        word: "open".to_string(),
        question: "Which leak matters?".to_string(),
        answer: answer.into(),
        details: Vec::new(),
    }))
}

fn worked_out(case: &Case, found: &MallRoutes) -> Vec<Section> {
    let governing = found.governing.and_then(|place| found.routes.get(place));
    let first = match governing.and_then(|route| Some((route, route.leak()?))) {
        None => open("No route ends in a limit: state one, or the shelf life and its budgets."),
        Some((route, leak)) => {
            let mut details: Vec<Words> = vec![Words::from(format!(
                "Governed by the route “{}”; as helium, 1 atm to vacuum, {}.",
                route.kind.word(),
                quantity(leak.helium.mbar_l_per_s(), 3, "mbar·L/s")
            ))];
            details.extend(
                found.gap.iter().map(|gap| Words::from(sentence(&format!("{}.", gap.sentence)))),
            );
            Section::new("answer", "").with(Block::Verdict(Verdict {
                kind: VerdictKind::Expected,
                word: "limit".to_string(),
                question: case.input.question.clone(),
                answer: format!(
                    "Leaks from {} flow-equivalent on matter ({} of air, 1 atm to vacuum, 20 °C).",
                    quantity(leak.size.flow_equivalent_diameter.um(), 3, "µm"),
                    quantity(leak.size.reference_throughput_pa_m3_per_s(), 3, "Pa·m³/s"),
                )
                .into(),
                details,
            }))
        }
    };
    let mut sections = vec![first, routes(found)];
    if let Some(vacuum) = found.under_vacuum {
        sections.push(Section::new("vacuum", "Sealed under vacuum").paragraph(format!(
            "{} With the leak at the helium figure the headspace stands at {} at the end of the shelf \
             life.",
            sentence(&vacuum.sentence()),
            quantity(vacuum.pressure_after.pa() / 100.0, 3, "mbar")
        )));
    }
    let notes: Vec<_> = found.notes.iter().map(note).collect();
    if !notes.is_empty() {
        sections.push(Section::new("notes", "Notes").with(Block::Notes(notes)));
    }
    sections
}

fn budgets(case: &Case) -> Section {
    let section = Section::new("budgets", "Storage and its budgets");
    let Some(storage) = case.input.storage else {
        return section.paragraph(
            Words::default()
                .strong("Missing: ")
                .plain("shelf life, store and budgets; state them as [storage] in the case file."),
        );
    };
    let or_none = |text: Option<String>| text.unwrap_or_else(|| "no budget stated".to_string());
    section.with(Block::KeyValues(vec![
        KeyValue::new("Shelf life", quantity(storage.shelf_life.s() / 86_400.0, 4, "d")),
        KeyValue::new(
            "Store",
            format!(
                "{}, {} relative humidity, {}",
                quantity(storage.temperature.celsius(), 3, "°C"),
                shortest_percent(storage.relative_humidity),
                quantity(storage.room.pa() / 100.0, 4, "mbar")
            ),
        ),
        KeyValue::new(
            "Headspace pressure at expiry, at most",
            or_none(storage.headspace_pressure.map(|p| quantity(p.pa() / 100.0, 4, "mbar"))),
        ),
        KeyValue::new(
            "Oxygen in the headspace, at most",
            or_none(storage.oxygen_fraction.map(shortest_percent)),
        ),
        KeyValue::new(
            "Water taken up, at most",
            or_none(storage.water_kg.map(|kg| quantity(kg * 1e6, 3, "mg"))),
        ),
        KeyValue::new(
            "Liquid lost, at most",
            or_none(storage.liquid_loss_kg.map(|kg| quantity(kg * 1e6, 3, "mg"))),
        ),
    ]))
}

fn routes(found: &MallRoutes) -> Section {
    let mut table = DataTable::new(
        "mall-routes",
        "Largest leak that each route allows, as one straight channel through the wall",
        vec![
            Column::words("Route", 1.1),
            Column::number("Flow-equivalent (µm)"),
            Column::number("Bore (µm)"),
            Column::number("Air (Pa·m³/s)"),
            Column::number("Helium (mbar·L/s)"),
        ],
    );
    let mut asked = DataTable::new(
        "mall-basis",
        "What each route asks of the container, and on what it rests",
        vec![
            Column::words("Route", 0.7),
            Column::words("Asked of the container", 1.6),
            Column::words("Basis, and how far to trust it", 1.6),
        ],
    );
    for (place, route) in found.routes.iter().enumerate() {
        let governs = if found.governing == Some(place) { " (governs)" } else { "" };
        let name = route.kind.word().to_string();
        let [um, bore, air, helium] = figures(route);
        table.push([format!("{name}{governs}"), um, bore, air, helium]);
        asked.push([name, sentence(&route.requirement), sentence(&route.basis)]);
    }
    Section::new("routes", "Routes side by side")
        .with(Block::Table(table.with_footnote(
            "Air and helium: 1 atm to vacuum at 20 °C, each by the flow law run for that gas.",
        )))
        .with(Block::Table(asked))
}

fn figures(route: &Route) -> [String; 4] {
    match &route.outcome {
        RouteOutcome::Leak(leak) => [
            significant(leak.size.flow_equivalent_diameter.um(), 3),
            significant(leak.channel_bore.um(), 3),
            significant(leak.size.reference_throughput_pa_m3_per_s(), 3),
            significant(leak.helium.mbar_l_per_s(), 3),
        ],
        RouteOutcome::AnyLeak => ["any", "any", "any", "any"].map(str::to_string),
        RouteOutcome::NoLeak(_) => ["none", "none", "none", "none"].map(str::to_string),
    }
}

fn literature() -> Section {
    let mut table = DataTable::new(
        "mall-literature",
        "Published figures on microbes and plugging: bands, no fit",
        vec![
            Column::words("Finding", 2.0),
            Column::words("Source", 1.2),
            Column::words("How far to trust it", 1.0),
        ],
    );
    for mark in LITERATURE {
        let size = mark.size_um.map_or_else(String::new, |(um, what)| format!("{um} µm, {what}: "));
        table.push([
            format!("{size}{}", mark.finding),
            mark.source.to_string(),
            mark.weight.to_string(),
        ]);
    }
    Section::new("literature", "What is published").with(Block::Table(table))
}

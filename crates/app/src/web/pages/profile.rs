//! Profile: what the test is for, the container, the product, the leak that
//! matters, and the rig it is to be tested on.

use benchbook::Action;
use maud::{Markup, html};
use serde_json::{Value, json};
use study::mall::RouteOutcome;
use study::profile::{LeakStatement, Mall, Profile};
use study::profile_gaps::profile_gaps;
use study::rig::Rig;
use study::{Case, Step, mall_routes};

use crate::answer::{number, optional};
use crate::web::frame::{self, CasePage};
use crate::web::sheet::{Line, sheet, table};
use crate::web::wording::{counted, known_from, plain, sentence, shown, three};
use crate::web::workbench::Workbench;
use crate::web::{address, ladder_view};

/// The page.
pub fn page(workbench: &Workbench, case: &Case, head: Markup) -> Markup {
    let profile = &case.input.profile;
    let this = CasePage { case, step: Step::Profile, has_plots: false, ladder_beside: true };
    let id = &case.input.id;
    let content = html! {
        (head)
        (mall(profile.mall.as_ref(), id))
        (gaps(case))
        @if workbench.may(Action::Work) {
            p.bar {
                a href=(address::of_case(id, "edit")) { "Change profile, rig or cycle" }
                a href=(address::of_case(id, "case.toml")) { "Keep the case file" }
            }
        }
        section {
            h2 { "Purpose" }
            (sheet("What the test decides", &purpose(profile)))
        }
        section {
            h2 { "Container, product and headspace" }
            (sheet("What is tested", &container(profile)))
        }
        (routes(case))
        section {
            h2 { "Rig" }
            (sheet("Chamber, pump, sensor and background", &rig(&case.input.rig)))
        }
        p.next {
            span { "Next" } " "
            a href=(address::of_case(&case.input.id, "forecast")) {
                "see what vacuum decay can find on this rig"
            }
        }
    };
    frame::case_page(workbench, &this, content)
}

/// What the profile does not say yet, with what hangs on it.
fn gaps(case: &Case) -> Markup {
    let gaps = profile_gaps(&case.input);
    html! {
        @if !gaps.is_empty() {
            details.gaps open[case.forecast.is_none()] {
                summary { "What is missing: " (counted(gaps.len(), "thing")) }
                ul {
                    @for gap in &gaps {
                        li { (shown(&gap.missing)) ": " (gap.matters) ". " span.quiet { (gap.how) "." } }
                    }
                }
            }
        }
    }
}

fn mall(mall: Option<&Mall>, id: &str) -> Markup {
    html! {
        section.answer aria-label="The leak that matters" {
            p.label { "The leak that matters (maximum allowable leakage limit, MALL)" }
            @match mall {
                Some(mall) => {
                    p.big { (stated(&mall.stated)) }
                    p { (shown(&mall.reasoning)) }
                    p { (known_from(&mall.provenance)) }
                }
                None => {
                    p.big { "not stated" }
                    p { "Nobody has said yet which leak would let this product go bad, so no \
                         answer can be compared with it." }
                    p.next {
                        span { "Next" } " "
                        a href={ (address::of_case(id, "edit")) "#mall.flow_equivalent_diameter" } {
                            "state a limit with its reasoning"
                        }
                    }
                }
            }
        }
    }
}

/// Which leak matters by every route, from the storage of the case.
fn routes(case: &Case) -> Markup {
    let storage = case.input.storage_or_room();
    let found = match mall_routes(&case.input, &storage, case.forecast.as_ref()) {
        Ok(found) => found,
        Err(error) => {
            return html! {
                section { h2 { "Routes to the limit" } p { "Not worked out: " (error) "." } }
            };
        }
    };
    let rows: Vec<Vec<String>> = found
        .routes
        .iter()
        .enumerate()
        .map(|(place, route)| {
            let governs = if found.governing == Some(place) { " (governs)" } else { "" };
            let mut row = vec![format!("{}{governs}", route.kind.word())];
            match &route.outcome {
                RouteOutcome::Leak(leak) => row.extend([
                    three(leak.size.flow_equivalent_diameter.um()),
                    three(leak.channel_bore.um()),
                    three(leak.helium.mbar_l_per_s()),
                ]),
                RouteOutcome::AnyLeak => row.extend(["any", "any", "any"].map(str::to_owned)),
                RouteOutcome::NoLeak(_) => row.extend(["none", "none", "none"].map(str::to_owned)),
            }
            row
        })
        .collect();
    html! {
            section {
                h2 { "Routes to the limit" }
                @if case.input.storage.is_none() {
                    p.quiet {
                        "Shelf life and budgets are not stated: "
                        a href={ (address::of_case(&case.input.id, "edit")) "#storage.shelf_life" } { "state them" }
                        ", and each becomes a route to the limit."
                    }
                }
                (table(
                    "Largest leak that each route allows, as one straight channel through the wall",
                    &["Route", "#Flow-equivalent (µm)", "#Bore (µm)", "#Helium (mbar·L/s)"],
                    &rows,
                ))
                details {
                    summary { "What each route asks, and on what it rests" }
                    dl.asked {
                        @for route in &found.routes {
                            dt { (route.kind.word()) }
                            dd { (shown(&route.requirement)) " " span.quiet { (shown(&route.basis)) } }
                        }
                    }
                }
                @if let Some(gap) = &found.gap {
                    p { strong { "Gap. " } (shown(&gap.sentence)) "." }
                }
                @if let Some(vacuum) = found.under_vacuum {
                    p {
    strong { "Sealed under vacuum. " } (sentence(&shown(&vacuum.sentence())))
                    }
                }
            }
        }
}

/// The limit in the terms in which it was stated.
pub fn stated(stated: &LeakStatement) -> String {
    match stated {
        LeakStatement::FlowEquivalentDiameter(diameter) => {
            format!("{} µm flow-equivalent diameter", plain(diameter.um()))
        }
        LeakStatement::AirFlow(flow) => {
            format!(
                "{} Pa·m³/s air at {} °C",
                plain(flow.pa_m3_per_s()),
                plain(flow.temperature().celsius())
            )
        }
        LeakStatement::HeliumFlow(flow) => {
            format!(
                "{} Pa·m³/s helium at {} °C",
                plain(flow.pa_m3_per_s()),
                plain(flow.temperature().celsius())
            )
        }
    }
}

fn purpose(profile: &Profile) -> Vec<Line> {
    let purpose = &profile.purpose;
    vec![
        Line::words("Use", purpose.use_of_test.word()),
        Line::words("Units it speaks of", &purpose.population),
        Line::words("What hangs on one result", &purpose.decision),
        Line::set("Good units that may be rejected", purpose.tolerable_false_reject.percent(), "%"),
        Line::set("Detection of the leak that matters", purpose.required_detection.percent(), "%"),
        Line::set("Confidence for both", purpose.confidence.percent(), "%"),
    ]
}

fn container(profile: &Profile) -> Vec<Line> {
    let container = &profile.container;
    let product = &profile.product;
    let headspace = &profile.headspace;
    let plugging = if product.may_plug {
        "yes: dried product can close a leak before the test"
    } else {
        "not expected"
    };
    let mut lines = vec![
        Line::words("Container", container.kind.word()),
        Line::words("Size and closure", &container.description),
        Line::sourced(
            "Wall where a leak would sit",
            &container.wall,
            container.wall.value.mm(),
            "mm",
            1.0e3,
        ),
    ];
    lines.extend(strength(profile));
    lines.extend([
        Line::words("Product", &product.name),
        Line::words("Fill", product.fill.word()),
        Line::words("May plug a leak", plugging),
        Line::words("Headspace gas", headspace.gas.name()),
        Line::sourced(
            "Headspace volume",
            &headspace.volume,
            headspace.volume.value.ml(),
            "mL",
            1.0e6,
        ),
        Line::sourced(
            "Headspace pressure, absolute",
            &headspace.pressure,
            headspace.pressure.value.pa(),
            "Pa",
            1.0,
        ),
    ]);
    lines
}

/// What container, closure and plunger stand, as far as it is stated.
fn strength(profile: &Profile) -> Vec<Line> {
    let strength = &profile.container.strength;
    let mut lines = Vec::new();
    if let Some(stated) = &strength.withstands {
        let pa = stated.value.pa();
        lines.push(Line::sourced("Pressure difference withstood", stated, pa, "Pa", 1.0));
    }
    if let Some(stated) = &strength.plunger_bore {
        lines.push(Line::sourced("Bore of the plunger", stated, stated.value.mm(), "mm", 1.0e3));
    }
    if let Some(stated) = &strength.break_loose_n {
        lines.push(Line::sourced("Plunger breaks loose at", stated, stated.value, "N", 1.0));
    }
    if strength.plunger_held {
        lines.push(Line::words("Plunger", "held by the fixture"));
    }
    lines
}

fn rig(rig: &Rig) -> Vec<Line> {
    let of_rig = |line: Line| line.known(&rig.provenance);
    let mut lines = vec![
        Line::words("Rig", &rig.name),
        Line::sourced("Free volume", &rig.free_volume, rig.free_volume.value.ml(), "mL", 1.0e6),
        of_rig(Line::set("Wall temperature", rig.wall_temperature.celsius(), "°C")),
        of_rig(Line::set("Thermal recovery time", rig.thermal_recovery.s(), "s")),
        of_rig(Line::set("Pump speed", rig.pump.speed.m3_per_s() * 1.0e3, "L/s")),
        of_rig(Line::set("Lowest pressure of the pump", rig.pump.ultimate.pa(), "Pa")),
        of_rig(Line::set("Outgassing falling with 1/t", rig.background.one_over_t, "Pa·m³")),
        of_rig(Line::set("Steady outgassing", rig.background.constant, "Pa·m³/s")),
        of_rig(Line::set(
            "Spread of the background between units",
            rig.background_spread * 100.0,
            "%",
        )),
        of_rig(Line::set("Sensor range", rig.sensor.range.pa(), "Pa")),
        of_rig(Line::set("Sensor step", rig.sensor.resolution.pa(), "Pa")),
        of_rig(Line::set("Sensor white noise (SD)", rig.sensor.white_noise.pa(), "Pa")),
        of_rig(Line::set("Sensor slow noise (SD)", rig.sensor.flicker_noise.pa(), "Pa")),
    ];
    if let Some(shift) = rig.sensor.zero_shift {
        lines.push(of_rig(Line::set("Sensor zero shift", shift.per_kelvin.pa(), "Pa/K")));
        lines.push(of_rig(Line::set("Its time constant", shift.lag.s(), "s")));
    }
    lines
}

/// The routes, as `isobar mall --json` gives them.
fn twin_of_routes(case: &Case) -> Value {
    let storage = case.input.storage_or_room();
    mall_routes(&case.input, &storage, case.forecast.as_ref())
        .map_or(Value::Null, |found| crate::mall_answer::mall_json(&case.input, &storage, &found))
}

/// Its twin.
pub fn twin(case: &Case) -> Value {
    let input = &case.input;
    let profile = &input.profile;
    let origin = |provenance: &study::Provenance| {
        json!({ "origin": provenance.origin.word(), "by": provenance.by, "on": provenance.on,
                "from": provenance.from })
    };
    let strength = &profile.container.strength;
    let volume = &profile.headspace.volume;
    let pressure = &profile.headspace.pressure;
    let free = &input.rig.free_volume;
    json!({
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "question": input.question,
        "mall": profile.mall.as_ref().map(|mall| json!({
            "stated": stated(&mall.stated), "reasoning": mall.reasoning,
            "provenance": origin(&mall.provenance),
        })),
        "purpose": {
            "use": profile.purpose.use_of_test.word(),
            "population": profile.purpose.population,
            "decision": profile.purpose.decision,
            "tolerable_false_reject": number(profile.purpose.tolerable_false_reject.fraction()),
            "required_detection": number(profile.purpose.required_detection.fraction()),
            "confidence": number(profile.purpose.confidence.fraction()),
        },
        "container": {
            "kind": profile.container.kind.word(),
            "description": profile.container.description,
            "wall_mm": number(profile.container.wall.value.mm()),
            "withstands_pa": optional(strength.withstands.as_ref().map(|stated| stated.value.pa())),
            "plunger_bore_mm": optional(strength.plunger_bore.as_ref().map(|stated| stated.value.mm())),
            "break_loose_n": optional(strength.break_loose_n.as_ref().map(|stated| stated.value)),
            "plunger_held": strength.plunger_held,
        },
        "product": { "name": profile.product.name, "fill": profile.product.fill.word(),
                     "may_plug": profile.product.may_plug },
        "headspace": {
            "gas": profile.headspace.gas.name(),
            "volume_ml": number(volume.value.ml()),
            "volume_standard_uncertainty_ml": optional(volume.standard_uncertainty_si.map(|u| u * 1.0e6)),
            "volume_provenance": origin(&volume.provenance),
            "pressure_pa": number(pressure.value.pa()),
            "pressure_standard_uncertainty_pa": optional(pressure.standard_uncertainty_si),
            "pressure_provenance": origin(&pressure.provenance),
        },
        "rig": {
            "name": input.rig.name,
            "free_volume_ml": number(free.value.ml()),
            "free_volume_standard_uncertainty_ml": optional(free.standard_uncertainty_si.map(|u| u * 1.0e6)),
            "free_volume_provenance": origin(&free.provenance),
            "provenance": origin(&input.rig.provenance),
        },
        "mall_routes": twin_of_routes(case),
        "next_step": case.next_step().word(),
        "ladder": ladder_view::twin(&case.ladder()),
    })
}

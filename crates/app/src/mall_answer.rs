//! The routes to a limit as JSON, the same for the command line and for the
//! pages.

use serde_json::{Value, json};
use study::mall::{LITERATURE, MallRoutes, RouteOutcome};
use study::{CaseInput, StorageBudget};

use crate::answer::{number, optional};

/// The routes side by side as JSON.
pub fn mall_json(input: &CaseInput, storage: &StorageBudget, found: &MallRoutes) -> Value {
    let routes: Value = found
        .routes
        .iter()
        .map(|route| {
            let leak = route.leak();
            json!({
                "route": route.kind.word(),
                "requirement": route.requirement,
                "outcome": match &route.outcome {
                    RouteOutcome::Leak(_) => "leak",
                    RouteOutcome::AnyLeak => "any leak",
                    RouteOutcome::NoLeak(_) => "no leak",
                },
                "why": match &route.outcome {
                    RouteOutcome::NoLeak(why) => Some(why),
                    _ => None,
                },
                "flow_equivalent_um":
                    optional(leak.map(|leak| leak.size.flow_equivalent_diameter.um())),
                "bore_um": optional(leak.map(|leak| leak.channel_bore.um())),
                "reference_throughput_pa_m3_per_s":
                    optional(leak.map(|leak| leak.size.reference_throughput_pa_m3_per_s())),
                "helium_pa_m3_per_s": optional(leak.map(|leak| leak.helium.pa_m3_per_s())),
                "basis": route.basis,
            })
        })
        .collect();
    let literature: Value = LITERATURE
        .iter()
        .map(|mark| {
            json!({
                "size_um": optional(mark.size_um.map(|(um, _)| um)),
                "size_of": mark.size_um.map(|(_, what)| what),
                "helium_pa_m3_per_s": optional(mark.helium_pa_m3_per_s),
                "finding": mark.finding,
                "source": mark.source,
                "weight": mark.weight,
            })
        })
        .collect();
    json!({
        "case": input.id,
        "title": input.title,
        "invented": input.invented,
        "shelf_life_s": number(storage.shelf_life.s()),
        "routes": routes,
        "governing": found
            .governing
            .and_then(|place| found.routes.get(place))
            .map(|route| route.kind.word()),
        "under_vacuum": found.under_vacuum.map(|vacuum| json!({
            "time_constant_s": number(vacuum.time_constant.s()),
            "pressure_after_pa": number(vacuum.pressure_after.pa()),
            "stated_time_constant_s": optional(vacuum.stated_time_constant.map(|time| time.s())),
            "sentence": vacuum.sentence(),
        })),
        "gap": found.gap.as_ref().map(|gap| json!({
            "needed_um": number(gap.needed_um),
            "seen_um": optional(gap.seen_um),
            "sentence": gap.sentence,
        })),
        "literature": literature,
    })
}

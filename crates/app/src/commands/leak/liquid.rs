//! `isobar leak --liquid`: a hole with liquid in it: whether the meniscus
//! holds, what runs out, and how much vapour that is.

use physics::leak_paths::FlowConditions;
use physics::liquids::{
    HoleContent, LiquidError, LiquidState, PluggedHole, evaporation_flux, holding_pressure,
    hole_content, liquid_flow, recessed_meniscus_flow, whole_opening_bore,
};
use physics::quantities::{Length, MolarFlow, PressureDifference};
use serde_json::json;
use study::Note;

use super::liquid_text;
use crate::answer::{Answer, number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain};

impl From<LiquidError> for Fault {
    fn from(error: LiquidError) -> Self {
        Self::users(error.to_string(), "check the liquid, its temperature, the bore and the angle")
    }
}

/// Molar mass by which water is known, kg/mol.
const WATER_KG_PER_MOL: f64 = 0.018_015_268;

/// A round hole with liquid in it.
pub struct WettedHole<'a> {
    /// The liquid as written: a name, and properties of the user's own.
    pub name: &'a str,
    /// Bore of the hole.
    pub bore: Length,
    /// Wall it crosses; zero for a thin hole.
    pub wall: Length,
    /// Contact angle, degrees.
    pub contact_angle_degrees: f64,
    /// Pressures on both sides and the temperature.
    pub conditions: FlowConditions,
}

/// What the hole passes.
struct Figures {
    content: HoleContent,
    holding_pa: f64,
    opening_bore_um: Option<f64>,
    liquid_kg_per_s: f64,
    reynolds: Option<f64>,
    evaporation: MolarFlow,
    recessed: Option<MolarFlow>,
}

/// The answer for a wetted hole.
pub fn answer(hole: &WettedHole<'_>) -> Result<Answer, Fault> {
    let temperature = hole.conditions.temperature;
    let (liquid, name) = liquid_text::read(hole.name, temperature)?;
    let state = liquid.at(temperature)?;
    let figures = figures(hole, &state)?;
    let notes = notes(hole, &state, &figures);
    // Vapour of what runs out, or of the open meniscus where it holds.
    let vapour = match figures.content {
        HoleContent::Liquid => {
            MolarFlow::from_mol_per_s(figures.liquid_kg_per_s / state.molar_mass_kg_per_mol)
        }
        _ => figures.evaporation,
    };
    let throughput = vapour.throughput_at(temperature);
    let words = match figures.content {
        HoleContent::Blocked => "blocked: the meniscus holds, only vapour passes",
        HoleContent::Liquid => "liquid runs out",
        HoleContent::Gas => "drained: gas flows",
    };
    let text = format!(
        "{} in a bore of {} µm through {} mm\n{} °C, {} Pa -> {} Pa\n\n",
        name,
        plain(hole.bore.um(), 4),
        plain(hole.wall.mm(), 4),
        plain(temperature.celsius(), 4),
        plain(hole.conditions.upstream.pa(), 6),
        plain(hole.conditions.downstream.pa(), 6),
    ) + &pairs(&[
        ("state", words.to_owned()),
        ("pressure that the meniscus holds", format!("{} Pa", digits(figures.holding_pa, 4))),
        (
            "bore from which liquid runs",
            figures
                .opening_bore_um
                .map_or_else(|| "not defined".to_owned(), |um| format!("{} µm", digits(um, 3))),
        ),
        ("liquid flow", format!("{} µg/s", digits(figures.liquid_kg_per_s * 1.0e9, 4))),
        (
            "vapour of it, at most",
            format!(
                "{} Pa·m³/s = {} mbar·L/s",
                digits(throughput.pa_m3_per_s(), 4),
                digits(throughput.mbar_l_per_s(), 4)
            ),
        ),
        (
            "open meniscus, kinetic limit",
            format!(
                "{} Pa·m³/s",
                digits(figures.evaporation.throughput_at(temperature).pa_m3_per_s(), 4)
            ),
        ),
        (
            "meniscus drawn back by the wall",
            figures.recessed.map_or_else(
                || "not computed for this liquid".to_owned(),
                |flow| {
                    format!("{} Pa·m³/s", digits(flow.throughput_at(temperature).pa_m3_per_s(), 4))
                },
            ),
        ),
        ("vapour pressure", format!("{} Pa", digits(state.vapour_pressure.pa(), 5))),
    ]);
    let json = json!({
        "liquid": name,
        "bore_m": number(hole.bore.m()),
        "wall_m": number(hole.wall.m()),
        "upstream_pa": number(hole.conditions.upstream.pa()),
        "downstream_pa": number(hole.conditions.downstream.pa()),
        "temperature_k": number(temperature.k()),
        "contact_angle_degrees": number(hole.contact_angle_degrees),
        "state": match figures.content {
            HoleContent::Blocked => "blocked",
            HoleContent::Liquid => "liquid",
            HoleContent::Gas => "gas",
        },
        "holding_pressure_pa": number(figures.holding_pa),
        "opening_bore_m": optional(figures.opening_bore_um.map(|um| um * 1.0e-6)),
        "mass_flow_kg_per_s": number(figures.liquid_kg_per_s),
        "reynolds": optional(figures.reynolds),
        "throughput_pa_m3_per_s": number(throughput.pa_m3_per_s()),
        "molar_flow_mol_per_s": number(vapour.mol_per_s()),
        "evaporation_limit_mol_per_s": number(figures.evaporation.mol_per_s()),
        "recessed_meniscus_mol_per_s": optional(figures.recessed.map(MolarFlow::mol_per_s)),
        "vapour_pressure_pa": number(state.vapour_pressure.pa()),
    });
    Ok(Answer::new(text, json, notes))
}

fn figures(hole: &WettedHole<'_>, state: &LiquidState) -> Result<Figures, Fault> {
    let held = holding_pressure(state, hole.bore, hole.contact_angle_degrees)?;
    let difference = hole.conditions.upstream - hole.conditions.downstream;
    let plugged = PluggedHole {
        bore: hole.bore,
        wall: hole.wall,
        contact_angle_degrees: hole.contact_angle_degrees,
        outside_wetted: false,
        // Enough that the hole does not drain while it is looked at.
        liquid_kg: 1.0,
    };
    let (content, liquid_kg_per_s) =
        hole_content(&plugged, state, hole.conditions.upstream, hole.conditions.downstream)?;
    let drive = PressureDifference::from_pa(difference.pa() - held.pa().abs());
    let reynolds = match content {
        HoleContent::Liquid => Some(liquid_flow(state, hole.bore, hole.wall, drive)?.reynolds),
        _ => None,
    };
    let flux = evaporation_flux(state, hole.conditions.downstream)?.molar_flux_mol_per_m2_s;
    let evaporation = MolarFlow::from_mol_per_s(flux * hole.bore.circle_area().m2());
    // The vapour law of the channel is that of water, and of what is mostly water.
    let watery = (state.molar_mass_kg_per_mol - WATER_KG_PER_MOL).abs() < 1e-6;
    let recessed = if watery && hole.wall.m() > 0.0 {
        recessed_meniscus_flow(state, hole.bore, hole.wall, hole.conditions.downstream).ok()
    } else {
        None
    };
    Ok(Figures {
        content,
        holding_pa: held.pa(),
        opening_bore_um: whole_opening_bore(state, difference, hole.contact_angle_degrees)
            .ok()
            .map(Length::um),
        liquid_kg_per_s,
        reynolds,
        evaporation,
        recessed,
    })
}

fn notes(hole: &WettedHole<'_>, state: &LiquidState, figures: &Figures) -> Vec<Note> {
    let mut notes = vec![Note::caution(
        "saturation",
        format!(
            "the signal of a wetted leak ends at the vapour pressure ({} Pa), and the evaporating \
             surface cools",
            digits(state.vapour_pressure.pa(), 4)
        ),
        "test well below the vapour pressure",
    )];
    if hole.conditions.downstream.pa() >= state.vapour_pressure.pa() {
        notes.push(Note::refusal(
            "above-vapour-pressure",
            "the pressure outside is not below the vapour pressure: what runs out does not \
             evaporate and gives no signal",
            "choose a lower chamber pressure",
        ));
    }
    if matches!(figures.content, HoleContent::Blocked) {
        notes.push(Note::caution(
            "blocked",
            "no gas passes a hole that the meniscus holds; its vapour is far below the gas leak",
            "challenge the liquid side with product-filled positive controls",
        ));
    }
    notes.push(Note::caution(
        "may-plug",
        "dissolved or suspended matter that dries in the hole closes it",
        "age the positive controls with product in them",
    ));
    notes
}

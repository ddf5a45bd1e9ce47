//! The answer for gas: every unit, the regime, the diameter that stands for
//! the flow, and what the law would not claim.

use physics::gases::GasProperties;
use physics::headspace::TwoVolumes;
use physics::leak_paths::{
    ArrangementFlow, FlowConditions, LawNote, flow_equivalent_diameter, ideal_nozzle_flow,
    molecular_effusion_flow, sharp_edged_continuum_flow,
};
use physics::quantities::{
    AbsolutePressure, Conductance, Length, MolarFlow, StandardFlow, Temperature, Volume,
};
use serde_json::{Value, json};
use study::Note;

use super::InUse;
use super::filling::{Filling, span};
use super::gas_text::LeakGas;
use super::path_text;
use super::source::{Found, Source};
use crate::answer::{Answer, number, optional};
use crate::fault::Fault;
use crate::table_text::{digits, pairs, plain, table};

/// What is asked of a gas leak.
pub struct Asked<'a> {
    pub source: &'a Found,
    pub in_use: &'a InUse,
    /// Bore as it was given, for comparison with simpler laws.
    pub bore: Option<Length>,
    pub also_for: &'a [LeakGas],
    pub headspace: Option<Volume>,
    pub chamber: Option<Volume>,
    pub filling: Option<Filling>,
}

/// The answer.
pub fn gas_answer(asked: &Asked<'_>) -> Result<Answer, Fault> {
    let (in_use, found) = (asked.in_use, asked.source);
    let gas = in_use.gas.properties(in_use.temperature);
    let conditions = in_use.with(gas);
    let of_paths = match &found.source {
        Source::Paths(paths) => Some(paths.flow(&conditions)?),
        Source::Calibrated(_) => None,
    };
    let molar = match &of_paths {
        Some(flow) => flow.molar_flow,
        None => found.source.flow(&conditions)?,
    };
    let throughput = molar.throughput_at(in_use.temperature);
    let standard = standard_at_zero(molar);
    let mass_kg_per_s = molar.mass_flow(gas.molar_mass_kg_per_mol).kg_per_s();
    let equivalent = flow_equivalent_diameter(molar, &conditions).ok();
    // Simpler laws stand beside one hole only: of several paths no bore is the bore.
    let alone = of_paths.as_ref().is_some_and(|flow| n_paths(flow) == 1);
    let bore = asked.bore.filter(|_| alone);
    let compare = bore.map(|bore| compared_laws(bore, &conditions)).transpose()?;
    let others = other_gases(asked, molar)?;
    let emptying = emptying(asked, molar);
    let deciding = of_paths.as_ref().and_then(ArrangementFlow::deciding);
    let celsius = plain(in_use.temperature.celsius(), 4);

    let mut text = format!(
        "{}\n{} at {celsius} °C, {} Pa -> {} Pa\n\n",
        found.words,
        in_use.gas.name(),
        plain(in_use.upstream.pa(), 6),
        plain(in_use.downstream.pa(), 6),
    );
    let mut lines = vec![
        (
            "throughput",
            format!(
                "{} Pa·m³/s = {} mbar·L/s (gas at {celsius} °C)",
                digits(throughput.pa_m3_per_s(), 4),
                digits(throughput.mbar_l_per_s(), 4),
            ),
        ),
        (
            "standard flow",
            format!(
                "{} std cm³/s = {} sccm (0 °C, 101 325 Pa)",
                digits(standard.cm3_per_s(), 4),
                digits(standard.sccm(), 4)
            ),
        ),
        ("amount", format!("{} mol/s", digits(molar.mol_per_s(), 4))),
        ("mass", format!("{} µg/s", digits(mass_kg_per_s * 1.0e9, 4))),
        (
            "flow-equivalent diameter",
            equivalent.map_or_else(
                || "not defined".to_owned(),
                |diameter| format!("{} µm", digits(diameter.um(), 4)),
            ),
        ),
    ];
    if let Some(bore) = found.bore_from_flow {
        lines.push(("bore found from the flow", format!("{} µm", digits(bore.um(), 4))));
    }
    if let (Some(flow), Some(part)) = (&of_paths, deciding) {
        lines.push((
            "regime",
            format!(
                "{} (rarefaction {})",
                part.flow.regime.word(),
                digits(part.flow.rarefaction, 3)
            ),
        ));
        lines.push((
            "uncertainty of the law",
            format!("± {} %", digits(flow.relative_law_uncertainty * 100.0, 2)),
        ));
    }
    text.push_str(&pairs(&lines));
    if let Some(flow) = of_paths.as_ref().filter(|flow| n_paths(flow) > 1) {
        text.push_str(&paths_text(flow));
    }
    if let Some(compare) = &compare {
        text.push_str("\nthe same bore by simpler laws, std cm³/s at 0 °C:\n");
        text.push_str(&pairs(&[
            ("ideal nozzle", digits(compare.ideal_nozzle, 5)),
            ("sharp-edged hole, continuum", digits(compare.sharp_edged, 5)),
            ("molecular efflux", digits(compare.molecular, 5)),
        ]));
    }
    if !others.is_empty() {
        text.push_str("\nthe same leak with another gas, by the law run anew:\n");
        let rows: Vec<Vec<String>> = others
            .iter()
            .map(|other| {
                vec![
                    other.name.clone(),
                    digits(other.flow.throughput_at(in_use.temperature).pa_m3_per_s(), 4),
                    digits(standard_at_zero(other.flow).cm3_per_s(), 4),
                    other.ratio.map_or_else(|| "-".to_owned(), |ratio| digits(ratio, 5)),
                ]
            })
            .collect();
        text.push_str(&table(&["gas", "Pa·m³/s", "std cm³/s at 0 °C", "ratio"], &rows));
    }
    if let Some(emptying) = &emptying {
        text.push_str(&emptying.text());
    }
    if let Some(filling) = &asked.filling {
        text.push_str(&filling.text());
    }

    let json = json!({
        "leak_path": found.words,
        "gas": in_use.gas.name(),
        "upstream_pa": number(in_use.upstream.pa()),
        "downstream_pa": number(in_use.downstream.pa()),
        "temperature_k": number(in_use.temperature.k()),
        "throughput_pa_m3_per_s": number(throughput.pa_m3_per_s()),
        "throughput_mbar_l_per_s": number(throughput.mbar_l_per_s()),
        "molar_flow_mol_per_s": number(molar.mol_per_s()),
        "mass_flow_kg_per_s": number(mass_kg_per_s),
        "std_cm3_per_s_at_0c": number(standard.cm3_per_s()),
        "sccm_at_0c": number(standard.sccm()),
        "regime": deciding.map(|part| part.flow.regime.word()),
        "rarefaction": optional(deciding.map(|part| part.flow.rarefaction)),
        "relative_law_uncertainty":
            optional(of_paths.as_ref().map(|flow| flow.relative_law_uncertainty)),
        "flow_equivalent_diameter_m": optional(equivalent.map(Length::m)),
        "bore_from_flow_m": optional(found.bore_from_flow.map(Length::m)),
        "certificate": certificate_json(found),
        "ideal_nozzle_std_cm3_per_s_at_0c": optional(compare.as_ref().map(|c| c.ideal_nozzle)),
        "sharp_edged_continuum_std_cm3_per_s_at_0c":
            optional(compare.as_ref().map(|c| c.sharp_edged)),
        "molecular_efflux_std_cm3_per_s_at_0c": optional(compare.as_ref().map(|c| c.molecular)),
        "paths": of_paths.as_ref().map_or_else(Vec::new, paths_json),
        "also_for": others.iter().map(|other| json!({
            "gas": other.name,
            "molar_flow_mol_per_s": number(other.flow.mol_per_s()),
            "throughput_pa_m3_per_s":
                number(other.flow.throughput_at(in_use.temperature).pa_m3_per_s()),
            "std_cm3_per_s_at_0c": number(standard_at_zero(other.flow).cm3_per_s()),
            "ratio": optional(other.ratio),
        })).collect::<Vec<_>>(),
        "emptying": emptying.as_ref().map(Emptying::json),
        "filling": asked.filling.as_ref().map(Filling::json),
    });
    let notes = notes(asked, of_paths.as_ref(), equivalent.is_some());
    Ok(Answer::new(text, json, notes))
}

fn n_paths(flow: &ArrangementFlow) -> usize {
    flow.branches.iter().map(Vec::len).sum()
}

fn paths_text(flow: &ArrangementFlow) -> String {
    let rows: Vec<Vec<String>> = flow
        .branches
        .iter()
        .flatten()
        .map(|part| {
            vec![
                path_text::words(&part.path),
                digits(part.before.pa(), 5),
                digits(part.behind.pa(), 5),
                digits(part.flow.molar_flow.mol_per_s(), 4),
                part.flow.regime.word().to_owned(),
            ]
        })
        .collect();
    "\n".to_owned() + &table(&["path", "before, Pa", "behind, Pa", "mol/s", "regime"], &rows)
}

fn paths_json(flow: &ArrangementFlow) -> Vec<Value> {
    let of = |branch: usize, part: &physics::leak_paths::PathFlow| {
        json!({
            "branch": branch + 1,
            "leak_path": path_text::words(&part.path),
            "before_pa": number(part.before.pa()),
            "behind_pa": number(part.behind.pa()),
            "molar_flow_mol_per_s": number(part.flow.molar_flow.mol_per_s()),
            "regime": part.flow.regime.word(),
            "rarefaction": number(part.flow.rarefaction),
            "relative_law_uncertainty": number(part.flow.relative_law_uncertainty),
        })
    };
    flow.branches
        .iter()
        .enumerate()
        .flat_map(|(branch, chain)| chain.iter().map(move |part| of(branch, part)))
        .collect()
}

fn certificate_json(found: &Found) -> Value {
    found.certificate.as_ref().map_or(Value::Null, |(certificate, rule)| {
        json!({
            "molar_flow_mol_per_s": number(certificate.flow.mol_per_s()),
            "gas": certificate.gas.name(),
            "upstream_pa": number(certificate.conditions.upstream.pa()),
            "downstream_pa": number(certificate.conditions.downstream.pa()),
            "temperature_k": number(certificate.conditions.temperature.k()),
            "carried_over_by": rule,
        })
    })
}

/// The same leak with another gas.
struct OtherGas {
    name: String,
    flow: MolarFlow,
    /// Over the flow of the first gas.
    ratio: Option<f64>,
}

fn other_gases(asked: &Asked<'_>, first: MolarFlow) -> Result<Vec<OtherGas>, Fault> {
    asked
        .also_for
        .iter()
        .map(|gas| {
            let conditions = asked.in_use.with(gas.properties(asked.in_use.temperature));
            let flow = asked.source.source.flow(&conditions)?;
            let ratio = (first.mol_per_s() != 0.0).then(|| flow.mol_per_s() / first.mol_per_s());
            Ok(OtherGas { name: gas.name().to_owned(), flow, ratio })
        })
        .collect()
}

/// A headspace that empties.
struct Emptying {
    headspace: Volume,
    chamber: Option<Volume>,
    time_constant_s: Option<f64>,
    final_pa: f64,
    rise_pa_per_s: Option<f64>,
}

fn emptying(asked: &Asked<'_>, flow: MolarFlow) -> Option<Emptying> {
    let headspace = asked.headspace?;
    let in_use = asked.in_use;
    let difference = (in_use.upstream - in_use.downstream).pa();
    let throughput = flow.throughput_at(in_use.temperature).pa_m3_per_s();
    let conductance = throughput / difference;
    let flows = conductance.is_finite() && conductance > 0.0;
    let pair = asked.chamber.map(|chamber_volume| TwoVolumes {
        headspace_volume: headspace,
        chamber_volume,
        headspace_pressure: in_use.upstream,
        chamber_pressure: in_use.downstream,
    });
    let time_constant_s = flows.then(|| {
        pair.map_or(headspace.m3() / conductance, |pair| {
            pair.time_constant(Conductance::from_m3_per_s(conductance)).s()
        })
    });
    Some(Emptying {
        headspace,
        chamber: asked.chamber,
        time_constant_s,
        final_pa: pair.map_or(in_use.downstream.pa(), |pair| pair.final_pressure().pa()),
        rise_pa_per_s: asked.chamber.map(|chamber| throughput / chamber.m3()),
    })
}

impl Emptying {
    fn text(&self) -> String {
        let constant = self.time_constant_s.map_or_else(
            || "not defined without a flow".to_owned(),
            |seconds| span(physics::quantities::Duration::from_s(seconds)),
        );
        let mut lines = vec![
            ("time constant at the start", constant),
            ("pressure at rest", format!("{} Pa", digits(self.final_pa, 5))),
        ];
        if let Some(rate) = self.rise_pa_per_s {
            lines.push(("rise of the chamber at the start", format!("{} Pa/s", digits(rate, 4))));
        }
        format!("\na headspace of {} mL empties:\n", plain(self.headspace.ml(), 4)) + &pairs(&lines)
    }

    fn json(&self) -> Value {
        json!({
            "headspace_m3": number(self.headspace.m3()),
            "chamber_m3": optional(self.chamber.map(Volume::m3)),
            "time_constant_s": optional(self.time_constant_s),
            "final_pressure_pa": number(self.final_pa),
            "rise_pa_per_s": optional(self.rise_pa_per_s),
        })
    }
}

/// Standard flow at 0 °C and 101 325 Pa.
fn standard_at_zero(flow: MolarFlow) -> StandardFlow {
    StandardFlow::of(flow, Temperature::from_celsius(0.0), AbsolutePressure::from_atm(1.0))
}

/// The same bore by simpler laws, std cm³/s at 0 °C.
struct ComparedLaws {
    ideal_nozzle: f64,
    sharp_edged: f64,
    molecular: f64,
}

fn compared_laws(
    bore: Length,
    conditions: &FlowConditions<GasProperties>,
) -> Result<ComparedLaws, Fault> {
    Ok(ComparedLaws {
        ideal_nozzle: standard_at_zero(ideal_nozzle_flow(bore, conditions)?).cm3_per_s(),
        sharp_edged: standard_at_zero(sharp_edged_continuum_flow(bore, conditions)?).cm3_per_s(),
        molecular: standard_at_zero(molecular_effusion_flow(bore, conditions)?).cm3_per_s(),
    })
}

fn notes(asked: &Asked<'_>, flow: Option<&ArrangementFlow>, equivalent: bool) -> Vec<Note> {
    let mut claimed: Vec<LawNote> = Vec::new();
    for part in flow.iter().flat_map(|flow| flow.branches.iter().flatten()) {
        for note in &part.flow.notes {
            if !claimed.contains(note) {
                claimed.push(*note);
            }
        }
    }
    let mut notes: Vec<Note> = claimed
        .iter()
        .map(|note| Note::caution(note.code(), note.text(), note.next_step()))
        .collect();
    if let Some((_, rule)) = asked.source.certificate.as_ref().filter(|_| flow.is_none()) {
        notes.push(Note::caution(
            "carried-over-by-rule",
            format!(
                "the certified flow is carried over as {rule}; the rule is taken as exact, and its \
                 uncertainty is that of the certificate and of the rule's assumption"
            ),
            "check that the rule holds under both conditions, or give the shape of the leak",
        ));
    }
    if matches!(asked.in_use.gas, LeakGas::Mixture { .. }) {
        notes.push(Note::caution(
            "mixture-as-one-gas",
            "the mixture flows as one gas: molar mass and heat capacity by mole average, viscosity \
             by the rule of Wilke; in rarefied flow the lighter gas runs ahead, which this does \
             not show",
            "run the law for each gas alone where the flow is molecular",
        ));
    }
    for said in &asked.source.assumptions {
        notes.push(Note::remark("assumed", *said, "write it out"));
    }
    if asked.headspace.is_some() || asked.filling.is_some() {
        notes.push(Note::remark(
            "time-constant-at-start",
            "the time constant is that of the first flow; it is constant only where the flow is \
             molecular or choked",
            "",
        ));
    }
    if asked.filling.is_some() {
        notes.push(Note::caution(
            "isothermal-ingress",
            "ingress is computed at constant temperature and room pressure, without sorption in \
             the product",
            "compare with a stored container before a shelf life is claimed",
        ));
    }
    notes.push(Note::remark(
        "three-diameters",
        "bore, nominal and flow-equivalent diameter are three quantities; the last is the ideal \
         nozzle (no contraction, no rarefaction) that passes the same flow under these conditions",
        "say which one is meant wherever a size in µm is written",
    ));
    if !equivalent {
        notes.push(Note::refusal(
            "no-equivalent",
            "a flow-equivalent diameter is not defined without a flow from upstream to downstream",
            "",
        ));
    }
    notes
}

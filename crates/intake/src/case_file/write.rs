//! From a case to TOML that reads back to the same case.

use std::fmt::Write;

use study::CaseInput;
use study::container_strength::ContainerStrength;
use study::product_liquid::ProductLiquid;
use study::profile::LeakStatement;
use study::provenance::{Origin, Provenance, Sourced};
use study::quantities::Throughput;
use study::quantities::units::UnitKind;
use study::rig::Rig;
use study::storage_budget::StorageBudget;

use super::UNSOURCED;
use super::quantity_text::{number_text, quantity_text, temperature_text};

/// Writes a case as TOML; [`read_case`](super::read_case) gives it back to
/// the last bit.
///
/// # Example
/// ```
/// use intake::case_file::{read_case, write_case};
/// let case = study::worked_cases::lyophilised_vial();
/// let text = write_case(&case);
/// assert!(text.contains("wall = { value = \"1 mm\""));
/// assert_eq!(read_case(&text)?.input, case);
/// # Ok::<(), intake::Refusal>(())
/// ```
#[must_use]
pub fn write_case(input: &CaseInput) -> String {
    let mut out = Writer::default();
    out.text("id", &input.id);
    out.text("title", &input.title);
    out.raw("invented", input.invented);
    out.text("question", &input.question);
    let profile = &input.profile;
    out.table("purpose");
    out.text("use", profile.purpose.use_of_test.word());
    out.text("population", &profile.purpose.population);
    out.text("decision", &profile.purpose.decision);
    out.raw(
        "tolerable_false_reject",
        number_text(profile.purpose.tolerable_false_reject.fraction()),
    );
    out.raw("required_detection", number_text(profile.purpose.required_detection.fraction()));
    out.raw("confidence", number_text(profile.purpose.confidence.fraction()));
    out.table("container");
    out.text("kind", profile.container.kind.word());
    out.text("description", &profile.container.description);
    out.sourced("wall", &profile.container.wall, |wall| wall.m(), UnitKind::Length);
    write_strength(&mut out, &profile.container.strength);
    out.table("product");
    out.text("name", &profile.product.name);
    out.text("fill", profile.product.fill.word());
    out.raw("may_plug", profile.product.may_plug);
    if let Some(liquid) = &profile.product.liquid {
        write_liquid(&mut out, liquid);
    }
    out.table("headspace");
    out.text("gas", profile.headspace.gas.name());
    out.sourced("volume", &profile.headspace.volume, |volume| volume.m3(), UnitKind::Volume);
    out.sourced(
        "pressure",
        &profile.headspace.pressure,
        |pressure| pressure.pa(),
        UnitKind::Pressure,
    );
    if let Some(mall) = &profile.mall {
        out.table("mall");
        match mall.stated {
            LeakStatement::FlowEquivalentDiameter(diameter) => {
                out.text(
                    "flow_equivalent_diameter",
                    &quantity_text(diameter.m(), UnitKind::Length),
                );
            }
            LeakStatement::AirFlow(flow) => out.text("air_flow", &flow_text(flow)),
            LeakStatement::HeliumFlow(flow) => out.text("helium_flow", &flow_text(flow)),
        }
        out.text("reasoning", &mall.reasoning);
        out.provenance(&mall.provenance);
    }
    write_rig(&mut out, &input.rig);
    out.table("cycle");
    out.text("sample_interval", &quantity_text(input.cycle.sample_interval.s(), UnitKind::Time));
    out.text("ambient", &quantity_text(input.cycle.ambient.pa(), UnitKind::Pressure));
    for purposed in &input.cycle.tiers {
        let tier = &purposed.tier;
        out.array_table("cycle.tier");
        out.text("purpose", &purposed.purpose);
        out.text("evacuate_to", &quantity_text(tier.evacuate_to.pa(), UnitKind::Pressure));
        out.text("evacuate_limit", &quantity_text(tier.evacuate_limit.s(), UnitKind::Time));
        if let Some(limit) = tier.reach_limit {
            out.text("reach_limit", &quantity_text(limit.pa(), UnitKind::Pressure));
        }
        out.text("settle", &quantity_text(tier.settle.s(), UnitKind::Time));
        out.text("measure", &quantity_text(tier.measure.s(), UnitKind::Time));
        if let Some(limit) = tier.rise_limit {
            out.text("rise_limit", &quantity_text(limit.pa(), UnitKind::Pressure));
        }
    }
    if let Some(storage) = &input.storage {
        write_storage(&mut out, storage);
    }
    for correlation in &input.correlations {
        out.array_table("correlation");
        out.text("first", correlation.first.word());
        out.text("second", correlation.second.word());
        out.raw("coefficient", number_text(correlation.coefficient));
    }
    out.text
}

fn write_strength(out: &mut Writer, strength: &ContainerStrength) {
    if let Some(difference) = &strength.withstands {
        out.sourced("withstands", difference, |difference| difference.pa(), UnitKind::Pressure);
    }
    if let Some(bore) = &strength.plunger_bore {
        out.sourced("plunger_bore", bore, |bore| bore.m(), UnitKind::Length);
    }
    if let Some(force) = &strength.break_loose_n {
        out.sourced_as("break_loose", force, |value| format!("{} N", number_text(value)));
    }
    if strength.plunger_held {
        out.raw("plunger_held", true);
    }
}

fn write_liquid(out: &mut Writer, liquid: &ProductLiquid) {
    out.table("product.liquid");
    out.text("vapour_of", liquid.solvent.pure().name());
    out.text("temperature", &temperature_text(liquid.temperature));
    if let Some(pressure) = &liquid.vapour_pressure {
        out.sourced("vapour_pressure", pressure, |pressure| pressure.pa(), UnitKind::Pressure);
    }
    let mut plain = |key: &str, property: &Option<Sourced<f64>>, unit: &str| {
        if let Some(stated) = property {
            out.sourced_as(key, stated, |value| format!("{} {unit}", number_text(value)));
        }
    };
    plain("surface_tension", &liquid.surface_tension_n_per_m, "N/m");
    plain("viscosity", &liquid.viscosity_pa_s, "Pa.s");
    plain("density", &liquid.density_kg_per_m3, "kg/m3");
    plain("contact_angle", &liquid.contact_angle_degrees, "deg");
    if liquid.wets_outside {
        out.raw("wets_outside", true);
    }
}

fn write_rig(out: &mut Writer, rig: &Rig) {
    out.table("rig");
    out.text("name", &rig.name);
    out.sourced("free_volume", &rig.free_volume, |volume| volume.m3(), UnitKind::Volume);
    out.text("wall_temperature", &temperature_text(rig.wall_temperature));
    out.text("thermal_recovery", &quantity_text(rig.thermal_recovery.s(), UnitKind::Time));
    out.raw("background_spread", number_text(rig.background_spread));
    out.provenance(&rig.provenance);
    out.table("rig.pump");
    out.text("speed", &quantity_text(rig.pump.speed.m3_per_s(), UnitKind::Conductance));
    out.text(
        "line_molecular",
        &quantity_text(rig.pump.line_molecular.m3_per_s(), UnitKind::Conductance),
    );
    out.text(
        "line_viscous",
        &format!("{} m3/s per Pa", number_text(rig.pump.line_viscous_m3_per_s_pa)),
    );
    out.text("ultimate", &quantity_text(rig.pump.ultimate.pa(), UnitKind::Pressure));
    out.table("rig.background");
    out.text("one_over_t", &format!("{} Pa.m3", number_text(rig.background.one_over_t)));
    out.text(
        "one_over_t_offset",
        &quantity_text(rig.background.one_over_t_offset.s(), UnitKind::Time),
    );
    out.text("constant", &format!("{} Pa.m3/s", number_text(rig.background.constant)));
    if let Some(pocket) = rig.background.virtual_leak {
        out.table("rig.background.virtual_leak");
        out.text("volume", &quantity_text(pocket.volume.m3(), UnitKind::Volume));
        out.text(
            "conductance",
            &quantity_text(pocket.conductance.m3_per_s(), UnitKind::Conductance),
        );
    }
    out.table("rig.sensor");
    out.text("range", &quantity_text(rig.sensor.range.pa(), UnitKind::Pressure));
    out.text("resolution", &quantity_text(rig.sensor.resolution.pa(), UnitKind::Pressure));
    out.text("white_noise", &quantity_text(rig.sensor.white_noise.pa(), UnitKind::Pressure));
    out.text("flicker_noise", &quantity_text(rig.sensor.flicker_noise.pa(), UnitKind::Pressure));
    out.text("drift", &quantity_text(rig.sensor.drift.pa_per_s(), UnitKind::PressureRate));
    if let Some(shift) = rig.sensor.zero_shift {
        out.table("rig.sensor.zero_shift");
        out.text("per_kelvin", &quantity_text(shift.per_kelvin.pa(), UnitKind::Pressure));
        out.text("lag", &quantity_text(shift.lag.s(), UnitKind::Time));
    }
}

fn write_storage(out: &mut Writer, storage: &StorageBudget) {
    out.table("storage");
    out.text("shelf_life", &quantity_text(storage.shelf_life.s(), UnitKind::Time));
    out.text("temperature", &temperature_text(storage.temperature));
    out.text("room", &quantity_text(storage.room.pa(), UnitKind::Pressure));
    out.raw("relative_humidity", number_text(storage.relative_humidity));
    if let Some(pressure) = storage.headspace_pressure {
        out.text("headspace_pressure", &quantity_text(pressure.pa(), UnitKind::Pressure));
    }
    if let Some(oxygen) = storage.oxygen_fraction {
        out.raw("oxygen_fraction", number_text(oxygen));
    }
    if let Some(water) = storage.water_kg {
        out.text("water", &format!("{} kg", number_text(water)));
    }
    if let Some(loss) = storage.liquid_loss_kg {
        out.text("liquid_loss", &format!("{} kg", number_text(loss)));
    }
}

fn flow_text(flow: Throughput) -> String {
    let temperature = temperature_text(flow.temperature()).replace(' ', "");
    format!("{} Pa.m3/s@{temperature}", number_text(flow.pa_m3_per_s()))
}

/// TOML being written.
#[derive(Default)]
struct Writer {
    text: String,
}

impl Writer {
    /// A line; writing to a string cannot fail.
    fn line(&mut self, line: core::fmt::Arguments<'_>) {
        let _ = self.text.write_fmt(line);
        self.text.push('\n');
    }

    fn table(&mut self, name: &str) {
        self.line(format_args!("\n[{name}]"));
    }

    fn array_table(&mut self, name: &str) {
        self.line(format_args!("\n[[{name}]]"));
    }

    fn raw(&mut self, key: &str, value: impl core::fmt::Display) {
        self.line(format_args!("{key} = {value}"));
    }

    fn text(&mut self, key: &str, value: &str) {
        self.line(format_args!("{key} = {}", toml_text(value)));
    }

    fn sourced<T: Copy>(
        &mut self,
        key: &str,
        sourced: &Sourced<T>,
        si: impl Fn(T) -> f64,
        kind: UnitKind,
    ) {
        let in_si = Sourced {
            value: si(sourced.value),
            standard_uncertainty_si: sourced.standard_uncertainty_si,
            provenance: sourced.provenance.clone(),
        };
        self.sourced_as(key, &in_si, |value| quantity_text(value, kind));
    }

    /// The same with words for value and uncertainty.
    fn sourced_as(&mut self, key: &str, sourced: &Sourced<f64>, words: impl Fn(f64) -> String) {
        let value = toml_text(&words(sourced.value));
        if sourced.standard_uncertainty_si.is_none() && is_unsourced(&sourced.provenance) {
            return self.raw(key, value);
        }
        let mut parts = vec![format!("value = {value}")];
        if let Some(uncertainty) = sourced.standard_uncertainty_si {
            parts.push(format!("uncertainty = {}", toml_text(&words(uncertainty))));
        }
        parts.extend(
            provenance_parts(&sourced.provenance)
                .into_iter()
                .map(|(key, text)| format!("{key} = {text}")),
        );
        self.raw(key, format_args!("{{ {} }}", parts.join(", ")));
    }

    fn provenance(&mut self, provenance: &Provenance) {
        for (key, text) in provenance_parts(provenance) {
            self.raw(key, text);
        }
    }
}

fn is_unsourced(provenance: &Provenance) -> bool {
    *provenance == Provenance::assumed(UNSOURCED)
}

fn provenance_parts(provenance: &Provenance) -> Vec<(&'static str, String)> {
    if is_unsourced(provenance) {
        return Vec::new();
    }
    let mut parts = vec![("source", toml_text(provenance.origin.word()))];
    if provenance.origin == Origin::Assumed && provenance.from.is_empty() {
        // Read back, a missing "from" beside a source stays empty.
        parts.push(("from", toml_text("")));
    }
    for (key, value) in [("from", &provenance.from), ("by", &provenance.by), ("on", &provenance.on)]
    {
        if !value.is_empty() {
            parts.push((key, toml_text(value)));
        }
    }
    parts
}

/// A basic TOML string.
pub(crate) fn toml_text(value: &str) -> String {
    let mut text = String::with_capacity(value.len() + 2);
    text.push('"');
    for c in value.chars() {
        match c {
            '"' => text.push_str("\\\""),
            '\\' => text.push_str("\\\\"),
            '\n' => text.push_str("\\n"),
            '\t' => text.push_str("\\t"),
            '\r' => text.push_str("\\r"),
            c if c.is_control() => {
                let _ = write!(text, "\\u{:04X}", u32::from(c));
            }
            c => text.push(c),
        }
    }
    text.push('"');
    text
}

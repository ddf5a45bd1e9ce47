//! From TOML to a case.

use study::CaseInput;
use study::container_strength::ContainerStrength;
use study::cycle::{Background, Cycle, Pump, PurposedTier, Tier, VirtualLeak};
use study::gases::Gas;
use study::liquids::Solvent;
use study::product_liquid::ProductLiquid;
use study::profile::{
    Container, ContainerKind, Fill, Headspace, LeakStatement, Mall, Product, Profile, Purpose,
    UseOfTest,
};
use study::provenance::{Origin, Provenance, Sourced};
use study::quantities::units::UnitKind;
use study::quantities::{
    AbsolutePressure, Duration, Length, PressureDifference, PressureRate, Probability, Temperature,
    Volume,
};
use study::rig::Rig;
use study::sensor::{PressureSensor, ZeroShift};
use study::storage_budget::StorageBudget;
use study::uncertain_input::{Correlation, UncertainInput};

use crate::codes;
use crate::message::{Message, Refusal, quoted};
use crate::toml_document::{Document, Section};
use crate::written_quantity::{
    QuantityError, WrittenFlow, read_absolute_pressure, read_angle_degrees, read_conductance,
    read_density, read_duration, read_flow, read_force_n, read_length, read_mass_kg,
    read_pressure_difference, read_pressure_rate, read_surface_tension, read_temperature,
    read_viscosity, read_volume, unit_of,
};

/// What a value counts as that was written without a source.
pub const UNSOURCED: &str = "written in the case without a source";

/// A case as it was read, with what was noticed on the way.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseFile {
    /// The case.
    pub input: CaseInput,
    /// Remarks; none of them refuses.
    pub messages: Vec<Message>,
}

/// Reads a case file.
///
/// # Errors
/// Every fault of the file at once, each with its line and column: what is not
/// TOML, a key written twice, an unknown key (with the nearest known one), a
/// missing key or table, a value without its unit or of the wrong kind or
/// size, and a word outside its list.
///
/// # Example
/// ```
/// let refusal = intake::case_file::read_case("id = \"a\"\ntitel = \"b\"\n").unwrap_err();
/// let text = refusal.to_string();
/// assert!(text.contains("unknown key \"titel\" (line 2, column 1"));
/// assert!(text.contains("Did you mean \"title\"?"));
/// assert!(text.contains("lacks the table [headspace]"));
/// ```
pub fn read_case(text: &str) -> Result<CaseFile, Refusal> {
    let (document, table) = Document::parse(text.strip_prefix('\u{feff}').unwrap_or(text));
    let input = table.as_ref().and_then(|table| {
        let root = Section::root(&document, table);
        let input = case(&root);
        root.finish();
        input
    });
    let messages = document.into_messages();
    match input {
        Some(input) if !messages.iter().any(Message::is_refusal) => {
            Ok(CaseFile { input, messages })
        }
        _ => Err(Refusal::of(messages)),
    }
}

fn case(root: &Section<'_, '_>) -> Option<CaseInput> {
    let barometer = root.optional_quantity("barometer", |text| read_absolute_pressure(text, None));
    let id = root.text("id").filter(|id| check_id(root, id));
    let title = root.text("title");
    let invented = root.truth("invented", false);
    let question = root.text("question");
    let purpose = purpose(&root.section("purpose", true));
    let container = container(&root.section("container", true));
    let product = product(&root.section("product", true));
    let headspace = headspace(&root.section("headspace", true), barometer);
    let mall = mall(&root.section("mall", false));
    let rig = rig(&root.section("rig", true));
    let cycle = cycle(&root.section("cycle", true), barometer);
    let storage = storage(&root.section("storage", false), barometer);
    let correlations: Option<Vec<Correlation>> =
        root.sections("correlation").iter().map(correlation).collect();
    Some(CaseInput {
        id: id?,
        title: title?,
        invented,
        question: question?,
        profile: Profile {
            purpose: purpose?,
            container: container?,
            product: product?,
            headspace: headspace?,
            mall: mall.ok()?,
        },
        rig: rig?,
        cycle: cycle?,
        storage: storage.ok()?,
        correlations: correlations?,
    })
}

/// An id is used in file names and addresses, so that it is kept plain.
fn check_id(root: &Section<'_, '_>, id: &str) -> bool {
    let plain = id.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.'));
    let fits = plain && id.len() <= 64 && !id.starts_with(['.', '-']);
    if !fits {
        root.unfit(
            "id",
            codes::CASE_WORD,
            format!("{} is not a short plain name", quoted(id)),
            "Use letters, digits, \"-\", \"_\" and \".\", at most 64 of them.",
        );
    }
    fits
}

fn purpose(section: &Section<'_, '_>) -> Option<Purpose> {
    let words: Vec<&str> = UseOfTest::ALL.iter().map(|value| value.word()).collect();
    let use_of_test = section.word("use", &words, UseOfTest::from_word);
    let population = section.text("population");
    let decision = section.text("decision");
    let tolerable_false_reject = fraction(section, "tolerable_false_reject", "0.001");
    let required_detection = fraction(section, "required_detection", "0.95");
    let confidence = fraction(section, "confidence", "0.95");
    section.finish();
    Some(Purpose {
        use_of_test: use_of_test?,
        population: population?,
        decision: decision?,
        tolerable_false_reject: tolerable_false_reject?,
        required_detection: required_detection?,
        confidence: confidence?,
    })
}

/// A fraction strictly between 0 and 1.
fn fraction(section: &Section<'_, '_>, key: &'static str, example: &str) -> Option<Probability> {
    let value = section.number(key, example)?;
    let found = Probability::new(value).filter(|_| value > 0.0 && value < 1.0);
    if found.is_none() {
        section.unfit(
            key,
            codes::CASE_QUANTITY,
            format!("{value} is not between 0 and 1"),
            format!("Write a fraction, not percent: {key} = {example}."),
        );
    }
    found
}

fn container(section: &Section<'_, '_>) -> Option<Container> {
    let words: Vec<&str> = ContainerKind::ALL.iter().map(|value| value.word()).collect();
    let kind = section.word("kind", &words, ContainerKind::from_word);
    let description = section.text("description");
    let wall = sourced(section, "wall", "\"1 mm\"", positive_length, |text| {
        read_length(text).map(Length::m)
    });
    let strength = strength(section);
    section.finish();
    Some(Container {
        kind: kind?,
        description: description?,
        wall: wall?,
        strength: strength.ok()?,
    })
}

/// What container, closure and plunger stand, as far as it is written; `Err`
/// where it is there and cannot be read.
fn strength(section: &Section<'_, '_>) -> Result<ContainerStrength, ()> {
    let withstands = stated(
        section,
        "withstands",
        "\"1.5 bar\"",
        read_pressure_difference,
        |text| read_pressure_difference(text).map(PressureDifference::pa),
        |difference| difference.pa(),
    );
    let plunger_bore = stated(
        section,
        "plunger_bore",
        "\"6.35 mm\"",
        read_length,
        |text| read_length(text).map(Length::m),
        |bore| bore.m(),
    );
    let break_loose_n =
        stated(section, "break_loose", "\"5 N\"", read_force_n, read_force_n, |force| *force);
    let plunger_held = section.truth("plunger_held", false);
    Ok(ContainerStrength {
        withstands: withstands?,
        plunger_bore: plunger_bore?,
        break_loose_n: break_loose_n?,
        plunger_held,
    })
}

/// Storage and its budgets; what is not written is that of a room without any.
/// An error where the table is there but cannot be used.
fn storage(
    section: &Section<'_, '_>,
    barometer: Option<AbsolutePressure>,
) -> Result<Option<StorageBudget>, ()> {
    if !section.is_present() {
        return Ok(None);
    }
    let none = StorageBudget::none();
    let pressure = |text: &str| read_absolute_pressure(text, barometer);
    let shelf_life = section.quantity("shelf_life", "\"730 d\"", positive_duration);
    let temperature = section.optional_quantity("temperature", read_temperature);
    let room = section.optional_quantity("room", pressure);
    let relative_humidity = section.optional_number("relative_humidity");
    let headspace_pressure = section.optional_quantity("headspace_pressure", pressure);
    let oxygen_fraction = section.optional_number("oxygen_fraction");
    let water_kg = section.optional_quantity("water", read_mass_kg);
    let liquid_loss_kg = section.optional_quantity("liquid_loss", read_mass_kg);
    section.finish();
    Ok(Some(StorageBudget {
        shelf_life: shelf_life.ok_or(())?,
        temperature: temperature.unwrap_or(none.temperature),
        room: room.unwrap_or(none.room),
        relative_humidity: relative_humidity.unwrap_or(none.relative_humidity),
        headspace_pressure,
        oxygen_fraction,
        water_kg,
        liquid_loss_kg,
    }))
}

/// Two uncertain inputs that go together. Whether all of them can hold is seen
/// where they are drawn.
fn correlation(section: &Section<'_, '_>) -> Option<Correlation> {
    let words: Vec<&str> = UncertainInput::ALL.iter().map(|value| value.word()).collect();
    let first = section.word("first", &words, UncertainInput::from_word);
    let second = section.word("second", &words, UncertainInput::from_word);
    let coefficient = section.number("coefficient", "-0.5");
    section.finish();
    Some(Correlation { first: first?, second: second?, coefficient: coefficient? })
}

fn product(section: &Section<'_, '_>) -> Option<Product> {
    let words: Vec<&str> = Fill::ALL.iter().map(|value| value.word()).collect();
    let name = section.text("name");
    let fill = section.word("fill", &words, Fill::from_word);
    let may_plug = section.truth("may_plug", false);
    let liquid = liquid(&section.section("liquid", false), fill);
    section.finish();
    Some(Product { name: name?, fill: fill?, may_plug, liquid: liquid.ok()? })
}

/// The liquid of a product, if it is there; `Err` where it is there and cannot
/// be read.
fn liquid(section: &Section<'_, '_>, fill: Option<Fill>) -> Result<Option<ProductLiquid>, ()> {
    if !section.is_present() {
        return Ok(None);
    }
    let solvent = section.word("vapour_of", &["water", "ethanol"], Solvent::from_name);
    let temperature = section.quantity("temperature", "\"20 C\"", read_temperature);
    let si = |value: &f64| *value;
    let vapour_pressure = stated(
        section,
        "vapour_pressure",
        "\"2339 Pa\"",
        |text| read_absolute_pressure(text, None),
        |text| read_pressure_difference(text).map(PressureDifference::pa),
        |pressure| pressure.pa(),
    );
    let surface_tension_n_per_m = stated(
        section,
        "surface_tension",
        "\"72.7 mN/m\"",
        read_surface_tension,
        read_surface_tension,
        si,
    );
    let viscosity_pa_s =
        stated(section, "viscosity", "\"1.002 mPa.s\"", read_viscosity, read_viscosity, si);
    let density_kg_per_m3 =
        stated(section, "density", "\"998 kg/m3\"", read_density, read_density, si);
    let contact_angle_degrees = stated(
        section,
        "contact_angle",
        "\"30 deg\"",
        read_angle_degrees,
        read_angle_degrees,
        |_| 1.0,
    )
    .map(|angle| {
        angle.filter(|angle| {
            if angle.value > 180.0 {
                section.unfit(
                    "contact_angle",
                    codes::CASE_QUANTITY,
                    "a contact angle lies between 0 and 180 degrees",
                    "Write 0 deg for a liquid that wets fully.",
                );
            }
            angle.value <= 180.0
        })
    });
    let wets_outside = section.truth("wets_outside", false);
    if fill == Some(Fill::Dry) {
        section.unfit(
            "vapour_of",
            codes::CASE_WORD,
            "a dry product has no liquid",
            "Write fill = \"liquid\", or leave out [product.liquid].",
        );
    }
    section.finish();
    Ok(Some(ProductLiquid {
        solvent: solvent.ok_or(())?,
        temperature: temperature.ok_or(())?,
        vapour_pressure: vapour_pressure?,
        surface_tension_n_per_m: surface_tension_n_per_m?,
        viscosity_pa_s: viscosity_pa_s?,
        density_kg_per_m3: density_kg_per_m3?,
        contact_angle_degrees: contact_angle_degrees?,
        wets_outside,
    }))
}

/// A property that need not be stated; `Err` where it is there and cannot be
/// read, or is nothing.
fn stated<T>(
    section: &Section<'_, '_>,
    key: &'static str,
    example: &str,
    read: impl Fn(&str) -> Result<T, QuantityError>,
    read_uncertainty: impl Fn(&str) -> Result<f64, QuantityError>,
    size: impl Fn(&T) -> f64,
) -> Result<Option<Sourced<T>>, ()> {
    if !section.has(key) {
        return Ok(None);
    }
    let positive = |text: &str| {
        let value = read(text)?;
        let size = size(&value);
        refuse_zero(text, value, size)
    };
    sourced(section, key, example, positive, read_uncertainty).map(Some).ok_or(())
}

fn headspace(section: &Section<'_, '_>, barometer: Option<AbsolutePressure>) -> Option<Headspace> {
    let words: Vec<&str> = Gas::ALL.iter().map(|gas| gas.name()).collect();
    let gas = section.word("gas", &words, Gas::from_name);
    let volume = sourced(section, "volume", "\"3.5 mL\"", positive_volume, |text| {
        read_volume(text).map(Volume::m3)
    });
    let pressure = sourced(
        section,
        "pressure",
        "\"1 atm\"",
        |text| read_absolute_pressure(text, barometer),
        |text| read_pressure_difference(text).map(PressureDifference::pa),
    );
    section.finish();
    Some(Headspace { gas: gas?, volume: volume?, pressure: pressure? })
}

/// The limit, if it is there; `Err` where it is there and cannot be read.
fn mall(section: &Section<'_, '_>) -> Result<Option<Mall>, ()> {
    if !section.is_present() {
        return Ok(None);
    }
    const KEYS: [&str; 3] = ["flow_equivalent_diameter", "air_flow", "helium_flow"];
    let diameter = section
        .optional_quantity(KEYS[0], positive_length)
        .map(LeakStatement::FlowEquivalentDiameter);
    let air = section.optional_quantity(KEYS[1], throughput).map(LeakStatement::AirFlow);
    let helium = section.optional_quantity(KEYS[2], throughput).map(LeakStatement::HeliumFlow);
    let n_written = KEYS.into_iter().filter(|key| section.has(key)).count();
    if n_written == 0 {
        section.missing(KEYS[0], "\"5 um\" (or air_flow, or helium_flow)");
    } else if n_written > 1 {
        section.unfit(
            KEYS.into_iter().rfind(|key| section.has(key)).unwrap_or(KEYS[0]),
            codes::CASE_WORD,
            "the limit is stated in several ways",
            "Keep the one in which it was stated.",
        );
    }
    let reasoning = section.text("reasoning");
    let provenance = provenance(section);
    section.finish();
    let stated = diameter.or(air).or(helium).ok_or(())?;
    Ok(Some(Mall { stated, reasoning: reasoning.ok_or(())?, provenance }))
}

fn rig(section: &Section<'_, '_>) -> Option<Rig> {
    let name = section.text("name");
    let free_volume = sourced(section, "free_volume", "\"25 mL\"", positive_volume, |text| {
        read_volume(text).map(Volume::m3)
    });
    let wall_temperature = section.quantity("wall_temperature", "\"20 C\"", read_temperature);
    let thermal_recovery = section.quantity("thermal_recovery", "\"0.3 s\"", read_duration);
    let background_spread = section.number("background_spread", "0.15").filter(|&spread| {
        if spread < 0.0 {
            section.unfit(
                "background_spread",
                codes::CASE_QUANTITY,
                "a spread cannot be negative",
                "Write a fraction of the background: background_spread = 0.15.",
            );
        }
        spread >= 0.0
    });
    let pump = pump(&section.section("pump", true));
    let background = background(&section.section("background", true), wall_temperature);
    let sensor = sensor(&section.section("sensor", true));
    let provenance = provenance(section);
    section.finish();
    Some(Rig {
        name: name?,
        free_volume: free_volume?,
        wall_temperature: wall_temperature?,
        thermal_recovery: thermal_recovery?,
        pump: pump?,
        background: background?,
        background_spread: background_spread?,
        sensor: sensor?,
        provenance,
    })
}

fn pump(section: &Section<'_, '_>) -> Option<Pump> {
    let speed = section.quantity("speed", "\"0.2 L/s\"", read_conductance);
    let line_molecular = section.quantity("line_molecular", "\"0.05 L/s\"", read_conductance);
    let line_viscous =
        section.quantity("line_viscous", "\"2e-8 m3/s per Pa\"", conductance_per_pascal);
    let ultimate =
        section.quantity("ultimate", "\"15 Pa\"", |text| read_absolute_pressure(text, None));
    section.finish();
    Some(Pump {
        speed: speed?,
        line_molecular: line_molecular?,
        line_viscous_m3_per_s_pa: line_viscous?,
        ultimate: ultimate?,
    })
}

fn background(section: &Section<'_, '_>, wall: Option<Temperature>) -> Option<Background> {
    let one_over_t = section.quantity("one_over_t", "\"4e-4 Pa.m3\"", gas_amount);
    let one_over_t_offset = section.quantity("one_over_t_offset", "\"1 s\"", read_duration);
    let constant =
        section.quantity("constant", "\"0 Pa.m3/s\"", |text| background_flow(text, wall));
    let pocket = section.section("virtual_leak", false);
    let virtual_leak = if pocket.is_present() {
        let volume = pocket.quantity("volume", "\"0.1 mL\"", positive_volume);
        let conductance = pocket.quantity("conductance", "\"1e-6 L/s\"", read_conductance);
        pocket.finish();
        Some(VirtualLeak { volume: volume?, conductance: conductance? })
    } else {
        None
    };
    section.finish();
    Some(Background {
        one_over_t: one_over_t?,
        one_over_t_offset: one_over_t_offset?,
        constant: constant?,
        virtual_leak,
    })
}

fn sensor(section: &Section<'_, '_>) -> Option<PressureSensor> {
    let size = |key, example| section.quantity(key, example, not_negative_difference);
    let range =
        section.quantity("range", "\"1100 mbar\"", |text| read_absolute_pressure(text, None));
    let resolution = size("resolution", "\"0.1 Pa\"");
    let white_noise = size("white_noise", "\"0.5 Pa\"");
    let flicker_noise = size("flicker_noise", "\"0.2 Pa\"");
    let drift = section.optional_quantity("drift", read_pressure_rate);
    let drift = if section.has("drift") { drift } else { Some(PressureRate::from_pa_per_s(0.0)) };
    let shifting = section.section("zero_shift", false);
    let zero_shift = if shifting.is_present() {
        let per_kelvin = shifting.quantity("per_kelvin", "\"0.2 Pa\"", read_pressure_difference);
        let lag = shifting.quantity("lag", "\"60 s\"", read_duration);
        shifting.finish();
        Some(ZeroShift { per_kelvin: per_kelvin?, lag: lag? })
    } else {
        None
    };
    section.finish();
    Some(PressureSensor {
        range: range?,
        resolution: resolution?,
        white_noise: white_noise?,
        flicker_noise: flicker_noise?,
        drift: drift?,
        zero_shift,
    })
}

fn cycle(section: &Section<'_, '_>, barometer: Option<AbsolutePressure>) -> Option<Cycle> {
    let sample_interval = section.quantity("sample_interval", "\"50 ms\"", positive_duration);
    let ambient = section
        .quantity("ambient", "\"101325 Pa\"", |text| read_absolute_pressure(text, barometer));
    let sections = section.sections("tier");
    if !section.has("tier") {
        section.missing("tier", "... as [[cycle.tier]]");
    }
    let tiers: Option<Vec<PurposedTier>> = sections
        .iter()
        .map(|tier_section| tier(tier_section, barometer))
        .collect::<Vec<_>>()
        .into_iter()
        .collect();
    section.finish();
    Some(Cycle {
        tiers: tiers.filter(|tiers| !tiers.is_empty())?,
        sample_interval: sample_interval?,
        ambient: ambient?,
    })
}

fn tier(section: &Section<'_, '_>, barometer: Option<AbsolutePressure>) -> Option<PurposedTier> {
    let purpose = section.text("purpose");
    let pressure = |text: &str| read_absolute_pressure(text, barometer);
    let evacuate_to = section.quantity("evacuate_to", "\"100 Pa\"", pressure);
    let evacuate_limit = section.quantity("evacuate_limit", "\"8 s\"", read_duration);
    let reach_limit = section.optional_quantity("reach_limit", pressure);
    let settle = section.quantity("settle", "\"4 s\"", read_duration);
    let measure = section.quantity("measure", "\"10 s\"", positive_duration);
    let rise_limit = section.optional_quantity("rise_limit", not_negative_difference);
    section.finish();
    Some(PurposedTier {
        purpose: purpose?,
        tier: Tier {
            evacuate_to: evacuate_to?,
            evacuate_limit: evacuate_limit?,
            reach_limit,
            settle: settle?,
            measure: measure?,
            rise_limit,
        },
    })
}

/// A quantity with its uncertainty and source, plain or as a table.
fn sourced<T>(
    section: &Section<'_, '_>,
    key: &'static str,
    example: &str,
    read: impl Fn(&str) -> Result<T, QuantityError>,
    read_uncertainty: impl Fn(&str) -> Result<f64, QuantityError>,
) -> Option<Sourced<T>> {
    let Some(table) = section.detailed(key) else {
        let value = section.quantity(key, example, read)?;
        return Some(Sourced::new(value, Provenance::assumed(UNSOURCED)));
    };
    let value = table.quantity("value", example, read);
    let uncertainty = table.optional_quantity("uncertainty", |text| {
        let size = read_uncertainty(text)?;
        if size < 0.0 {
            return Err(QuantityError::new(
                text,
                "an uncertainty cannot be negative",
                "Leave out the sign.",
            ));
        }
        Ok(size)
    });
    let provenance = provenance(&table);
    table.finish();
    let mut sourced = Sourced::new(value?, provenance);
    sourced.standard_uncertainty_si = uncertainty;
    Some(sourced)
}

fn provenance(section: &Section<'_, '_>) -> Provenance {
    let words = ["measured", "published", "assumed", "computed"];
    let origin = if section.has("source") {
        section.word("source", &words, Origin::from_word)
    } else {
        None
    };
    let from = section.optional_text("from");
    let is_plain = origin.is_none() && from.is_none();
    Provenance {
        origin: origin.unwrap_or(Origin::Assumed),
        by: section.optional_text("by").unwrap_or_default(),
        on: section.optional_text("on").unwrap_or_default(),
        from: from.unwrap_or_else(|| if is_plain { UNSOURCED.to_owned() } else { String::new() }),
    }
}

fn refuse_zero<T>(text: &str, value: T, size: f64) -> Result<T, QuantityError> {
    if size > 0.0 {
        return Ok(value);
    }
    Err(QuantityError::new(text, "it must be larger than zero", "Write its size."))
}

fn positive_length(text: &str) -> Result<Length, QuantityError> {
    read_length(text).and_then(|value| refuse_zero(text, value, value.m()))
}

fn positive_volume(text: &str) -> Result<Volume, QuantityError> {
    read_volume(text).and_then(|value| refuse_zero(text, value, value.m3()))
}

fn positive_duration(text: &str) -> Result<Duration, QuantityError> {
    read_duration(text).and_then(|value| refuse_zero(text, value, value.s()))
}

fn not_negative_difference(text: &str) -> Result<PressureDifference, QuantityError> {
    let value = read_pressure_difference(text)?;
    if value.pa() < 0.0 {
        return Err(QuantityError::new(text, "it cannot be negative", "Leave out the sign."));
    }
    Ok(value)
}

/// A leak stated as a flow larger than nothing, as throughput.
fn throughput(text: &str) -> Result<study::quantities::Throughput, QuantityError> {
    let flow = match read_flow(text)? {
        WrittenFlow::Throughput { flow, .. } => flow,
        other => {
            let temperature = crate::written_quantity::DEFAULT_THROUGHPUT_TEMPERATURE;
            other.molar_flow(None)?.throughput_at(temperature)
        }
    };
    refuse_zero(text, flow, flow.pa_m3_per_s())
}

/// Outgassing as throughput at the wall temperature, Pa·m³/s. Without `@T`
/// it is meant at the wall temperature.
fn background_flow(text: &str, wall: Option<Temperature>) -> Result<f64, QuantityError> {
    let value = match (read_flow(text)?, wall) {
        (WrittenFlow::Throughput { flow, default_temperature: true }, _) => flow.pa_m3_per_s(),
        (flow, Some(wall)) => flow.molar_flow(None)?.throughput_at(wall).pa_m3_per_s(),
        (flow, None) => {
            flow.molar_flow(None)?.throughput_at(Temperature::from_celsius(20.0)).pa_m3_per_s()
        }
    };
    if value < 0.0 {
        return Err(QuantityError::new(
            text,
            "outgassing cannot be negative",
            "Leave out the sign.",
        ));
    }
    Ok(value)
}

/// Pressure times volume, as in `4e-4 Pa.m3`: a throughput times a second.
fn gas_amount(text: &str) -> Result<f64, QuantityError> {
    let trimmed = text.trim();
    let split = trimmed
        .find(|c: char| c.is_alphabetic() && !matches!(c, 'e' | 'E'))
        .unwrap_or(trimmed.len());
    let unit = unit_of(&format!("{}/s", &trimmed[split..]))
        .filter(|unit| unit.kind == UnitKind::Throughput);
    let wrong = |what: &str| {
        QuantityError::new(
            text,
            what.to_owned(),
            "Write it like \"4e-4 Pa.m3\" or \"4e-3 mbar.L\".",
        )
    };
    let Some(unit) = unit else { return Err(wrong("this is not a pressure times a volume")) };
    let value = crate::written_quantity::read_plain_number(&trimmed[..split])
        .map_err(|error| wrong(&error.what))?
        * unit.factor;
    if value < 0.0 {
        return Err(wrong("outgassing cannot be negative"));
    }
    Ok(value)
}

/// Growth of a line's conductance with pressure: `2e-8 m3/s per Pa`.
fn conductance_per_pascal(text: &str) -> Result<f64, QuantityError> {
    let Some(conductance) = text.trim().strip_suffix("per Pa") else {
        return Err(QuantityError::new(
            text,
            "this is not a conductance per pressure",
            "Write it like \"2e-8 m3/s per Pa\".",
        ));
    };
    read_conductance(conductance)
        .map(study::quantities::Conductance::m3_per_s)
        .map_err(|error| QuantityError { text: text.to_owned(), ..error })
}

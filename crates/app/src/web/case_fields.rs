//! The fields of a case: each is a key of the case file, and what is typed into
//! them is put together as one and read by the reader of case files. A refusal
//! stands at the field that it speaks of.

use std::ops::Range;

use intake::case_file::{read_case, write_case};
use study::CaseInput;
use toml::{Table, Value};

use super::form::Form;

/// How a value is written.
#[derive(Clone, Copy)]
pub enum Kind {
    /// A line of text, or a quantity with its unit.
    Text,
    /// Several lines.
    Lines,
    /// A number without a unit.
    Number,
    /// Yes or no.
    Truth,
    /// A word of a list.
    Word(fn() -> Vec<&'static str>),
    /// A quantity with uncertainty and source.
    Sourced,
}

impl Kind {
    /// True where uncertainty and source belong to it.
    pub const fn is_sourced(self) -> bool {
        matches!(self, Self::Sourced)
    }

    /// True for yes or no.
    pub const fn is_truth(self) -> bool {
        matches!(self, Self::Truth)
    }
}

/// One key.
pub struct Item {
    /// Name of the key.
    pub key: &'static str,
    /// What stands beside it.
    pub label: &'static str,
    /// How it is written, by an example.
    pub hint: &'static str,
    /// How it is written.
    pub kind: Kind,
    /// False where it may stay empty.
    pub needed: bool,
}

const fn item(key: &'static str, label: &'static str, hint: &'static str, kind: Kind) -> Item {
    Item { key, label, hint, kind, needed: true }
}

const fn open(key: &'static str, label: &'static str, hint: &'static str, kind: Kind) -> Item {
    Item { needed: false, ..item(key, label, hint, kind) }
}

/// A table of keys.
pub struct Group {
    /// Its name in the case file; empty for the keys before any table.
    pub table: &'static str,
    /// Heading.
    pub heading: &'static str,
    /// Where it may be left out as a whole.
    pub optional: bool,
    /// Its keys.
    pub items: &'static [Item],
}

const fn group(table: &'static str, heading: &'static str, items: &'static [Item]) -> Group {
    Group { table, heading, optional: false, items }
}

const fn spare(table: &'static str, heading: &'static str, items: &'static [Item]) -> Group {
    Group { optional: true, ..group(table, heading, items) }
}

fn uses() -> Vec<&'static str> {
    study::profile::UseOfTest::ALL.iter().map(|one| one.word()).collect()
}

fn containers() -> Vec<&'static str> {
    study::profile::ContainerKind::ALL.iter().map(|one| one.word()).collect()
}

fn fills() -> Vec<&'static str> {
    study::profile::Fill::ALL.iter().map(|one| one.word()).collect()
}

fn gases() -> Vec<&'static str> {
    study::gases::Gas::ALL.iter().map(|gas| gas.name()).collect()
}

/// How a number came to be known.
pub fn sources() -> Vec<&'static str> {
    use study::provenance::Origin;
    [Origin::Measured, Origin::Published, Origin::Assumed, Origin::Computed]
        .map(Origin::word)
        .to_vec()
}

const SOURCE: Item = open("source", "Known how", "", Kind::Word(sources));
const FROM: Item =
    open("from", "From what", "Document, certificate, sample or formula.", Kind::Text);
const BY: Item = open("by", "By whom", "", Kind::Text);
const ON: Item = open("on", "On which day", "Such as 2026-11-30.", Kind::Text);

/// Every table of a case file but the tiers of its cycle, in the order of the
/// path.
pub const GROUPS: &[Group] = &[
    group(
        "",
        "The question",
        &[
            item("title", "Title", "One line that a reader recognises.", Kind::Text),
            item(
                "question",
                "Question",
                "What is asked of the test, in one sentence.",
                Kind::Lines,
            ),
            open("invented", "Invented", "The scenario was made up.", Kind::Truth),
        ],
    ),
    group(
        "purpose",
        "Purpose",
        &[
            item("use", "Where the test is used", "", Kind::Word(uses)),
            item("population", "Units it speaks of", "", Kind::Lines),
            item("decision", "What hangs on one result", "", Kind::Lines),
            item(
                "tolerable_false_reject",
                "Good units that may be rejected",
                "A fraction, such as 0.001.",
                Kind::Number,
            ),
            item(
                "required_detection",
                "Detection of the leak that matters",
                "A fraction, such as 0.95.",
                Kind::Number,
            ),
            item("confidence", "Confidence for both", "A fraction, such as 0.95.", Kind::Number),
        ],
    ),
    group(
        "container",
        "Container",
        &[
            item("kind", "Kind", "", Kind::Word(containers)),
            item("description", "Size and closure", "In plain words.", Kind::Lines),
            item("wall", "Wall where a leak would sit", "Such as 1 mm.", Kind::Sourced),
            open(
                "withstands",
                "Pressure difference that container and closure withstand",
                "Inside over outside, such as 1.5 bar.",
                Kind::Sourced,
            ),
            open("plunger_bore", "Bore of the plunger", "Such as 6.35 mm.", Kind::Sourced),
            open(
                "break_loose",
                "Force at which the plunger breaks loose",
                "Such as 5 N.",
                Kind::Sourced,
            ),
            open(
                "plunger_held",
                "The fixture holds the plunger",
                "It cannot move while the chamber is evacuated.",
                Kind::Truth,
            ),
        ],
    ),
    group(
        "product",
        "Product",
        &[
            item("name", "Name", "In plain words.", Kind::Text),
            item("fill", "Fill", "", Kind::Word(fills)),
            open(
                "may_plug",
                "May plug a leak",
                "Dried product can close a leak before the test.",
                Kind::Truth,
            ),
        ],
    ),
    spare(
        "product.liquid",
        "The product's own liquid",
        &[
            open("vapour_of", "Vapour", "Whose vapour it gives off, such as water.", Kind::Text),
            open("temperature", "Temperature of these values", "Such as 20 C.", Kind::Text),
            open("vapour_pressure", "Vapour pressure", "Such as 2339 Pa.", Kind::Sourced),
            open("surface_tension", "Surface tension", "Such as 72.7 mN/m.", Kind::Sourced),
            open("viscosity", "Viscosity", "Such as 1.002 mPa.s.", Kind::Sourced),
            open("density", "Density", "Such as 998 kg/m3.", Kind::Sourced),
            open("contact_angle", "Contact angle", "Such as 0 deg.", Kind::Sourced),
        ],
    ),
    group(
        "headspace",
        "Headspace",
        &[
            item("gas", "Gas", "", Kind::Word(gases)),
            item("volume", "Volume", "Such as 3.5 mL.", Kind::Sourced),
            item("pressure", "Pressure, absolute", "Such as 1 atm or 300 mbar.", Kind::Sourced),
        ],
    ),
    spare(
        "mall",
        "The leak that matters (MALL)",
        &[
            open(
                "flow_equivalent_diameter",
                "Flow-equivalent diameter",
                "Such as 5 um. State the limit in one way only.",
                Kind::Text,
            ),
            open(
                "air_flow",
                "or as flow of air",
                "1 atm to vacuum, such as 1e-6 Pa.m3/s@20C.",
                Kind::Text,
            ),
            open(
                "helium_flow",
                "or as flow of helium",
                "1 atm to vacuum, such as 6e-9 mbar.L/s@20C.",
                Kind::Text,
            ),
            open("reasoning", "Why this leak matters", "", Kind::Lines),
            SOURCE,
            FROM,
            BY,
            ON,
        ],
    ),
    spare(
        "storage",
        "Storage and its budgets",
        &[
            open("shelf_life", "Time from sealing to expiry", "Such as 730 d.", Kind::Text),
            open("temperature", "Temperature of the store", "Such as 25 C.", Kind::Text),
            open("room", "Pressure of the room", "Such as 1 atm.", Kind::Text),
            open(
                "relative_humidity",
                "Relative humidity",
                "A fraction, such as 0.6.",
                Kind::Number,
            ),
            open(
                "headspace_pressure",
                "Highest pressure of the headspace at expiry",
                "Such as 500 mbar.",
                Kind::Text,
            ),
            open(
                "oxygen_fraction",
                "Most oxygen in the headspace at expiry",
                "A fraction, such as 0.02.",
                Kind::Number,
            ),
            open("water", "Most water taken up", "Such as 1 mg.", Kind::Text),
            open("liquid_loss", "Most liquid lost as vapour", "Such as 50 mg.", Kind::Text),
        ],
    ),
    group(
        "rig",
        "Rig",
        &[
            item("name", "Name", "As the laboratory knows it.", Kind::Text),
            item(
                "free_volume",
                "Free volume around the container",
                "Such as 12 mL.",
                Kind::Sourced,
            ),
            item("wall_temperature", "Temperature of the walls", "Such as 20 C.", Kind::Text),
            item("thermal_recovery", "Thermal recovery", "Such as 0.3 s.", Kind::Text),
            item(
                "background_spread",
                "Spread of the background between units",
                "A fraction, such as 0.15.",
                Kind::Number,
            ),
            SOURCE,
            FROM,
            BY,
            ON,
        ],
    ),
    group(
        "rig.pump",
        "Pump and line",
        &[
            item("speed", "Speed", "Such as 0.2 L/s.", Kind::Text),
            item("line_molecular", "Line, molecular", "Such as 0.05 L/s.", Kind::Text),
            item("line_viscous", "Line, viscous", "Such as 2e-8 m3/s per Pa.", Kind::Text),
            item("ultimate", "Lowest pressure", "Such as 15 Pa.", Kind::Text),
        ],
    ),
    group(
        "rig.background",
        "Background",
        &[
            item("one_over_t", "Outgassing falling with 1/t", "Such as 4e-4 Pa.m3.", Kind::Text),
            item("one_over_t_offset", "Its offset", "Such as 1 s.", Kind::Text),
            item("constant", "Steady outgassing", "Such as 0 Pa.m3/s.", Kind::Text),
        ],
    ),
    spare(
        "rig.background.virtual_leak",
        "A pocket that empties slowly",
        &[
            open("volume", "Volume", "Such as 0.1 mL.", Kind::Text),
            open("conductance", "Conductance", "Such as 1e-6 L/s.", Kind::Text),
        ],
    ),
    group(
        "rig.sensor",
        "Sensor",
        &[
            item("range", "Range", "Such as 1.1e5 Pa.", Kind::Text),
            item("resolution", "Step", "Such as 0.1 Pa.", Kind::Text),
            item("white_noise", "White noise (standard deviation)", "Such as 0.5 Pa.", Kind::Text),
            item("flicker_noise", "Slow noise (standard deviation)", "Such as 0.2 Pa.", Kind::Text),
            item("drift", "Drift", "Such as 0 Pa/s.", Kind::Text),
        ],
    ),
    spare(
        "rig.sensor.zero_shift",
        "Shift of its zero with temperature",
        &[
            open("per_kelvin", "Shift per kelvin", "Such as 0.2 Pa.", Kind::Text),
            open("lag", "Its time constant", "Such as 30 s.", Kind::Text),
        ],
    ),
    group(
        "cycle",
        "Cycle",
        &[
            item("sample_interval", "Time between two readings", "Such as 50 ms.", Kind::Text),
            item("ambient", "Pressure of the room", "Such as 1 atm.", Kind::Text),
        ],
    ),
];

/// The keys of a tier.
pub const TIER: &[Item] = &[
    item("purpose", "Purpose", "What this tier must find.", Kind::Lines),
    item("evacuate_to", "Evacuate to", "Such as 100 Pa.", Kind::Text),
    item("evacuate_limit", "At most", "Such as 8 s.", Kind::Text),
    open("reach_limit", "Reach limit", "Empty: set by the forecast.", Kind::Text),
    item("settle", "Settle", "Such as 4 s.", Kind::Text),
    item("measure", "Measure", "Such as 10 s.", Kind::Text),
    open("rise_limit", "Rise limit", "Empty: set by the forecast.", Kind::Text),
];

/// Tiers that a form can hold.
pub const MOST_TIERS: usize = 6;

/// The parts of a value with its source.
pub const SOURCED: [&str; 6] = ["value", "uncertainty", "source", "from", "by", "on"];

/// A fault of a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldFault {
    /// Name of the field; empty where it is of none.
    pub field: String,
    /// What is wrong, with its code and what to do.
    pub says: String,
}

/// Name of a field in a form.
pub fn name_of(table: &str, key: &str) -> String {
    if table.is_empty() { key.to_owned() } else { format!("{table}.{key}") }
}

/// Name of the table of a tier.
pub fn tier_table(index: usize) -> String {
    format!("cycle.tier.{index}")
}

/// Every field of a case with its text, as the case file writes it.
pub fn values(input: &CaseInput) -> Vec<(String, String)> {
    let whole: Table = write_case(input).parse().unwrap_or_default();
    let mut fields = Vec::new();
    for group in GROUPS {
        let mut names = group.table.split('.').filter(|name| !name.is_empty());
        let found = names.try_fold(&whole, |at, name| at.get(name)?.as_table());
        for item in group.items {
            let value = found.and_then(|table| table.get(item.key));
            fields_of(&mut fields, &name_of(group.table, item.key), item, value);
        }
    }
    let tiers = whole.get("cycle").and_then(|cycle| cycle.get("tier")).and_then(Value::as_array);
    for (index, tier) in tiers.into_iter().flatten().enumerate() {
        for item in TIER {
            fields_of(
                &mut fields,
                &name_of(&tier_table(index), item.key),
                item,
                tier.get(item.key),
            );
        }
    }
    fields
}

fn fields_of(fields: &mut Vec<(String, String)>, name: &str, item: &Item, value: Option<&Value>) {
    if !item.kind.is_sourced() {
        return fields.push((name.to_owned(), value.map(plain).unwrap_or_default()));
    }
    for part in SOURCED {
        let found = match (value, part) {
            (Some(Value::Table(table)), part) => table.get(part),
            (value, "value") => value,
            _ => None,
        };
        fields.push((format!("{name}.{part}"), found.map(plain).unwrap_or_default()));
    }
}

fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Boolean(true) => "yes".to_owned(),
        Value::Boolean(false) => String::new(),
        other => other.to_string(),
    }
}

/// A case file being put together, and which field each piece of it is.
#[derive(Default)]
struct Written {
    text: String,
    places: Vec<(Range<usize>, String)>,
}

impl Written {
    fn value(&mut self, name: &str, kind: Kind, text: &str) {
        let start = self.text.len();
        let written = match kind {
            Kind::Truth => (!text.is_empty()).to_string(),
            // A number that is none is refused as text, at its field.
            Kind::Number if number(text).is_some() => number(text).unwrap_or_default(),
            _ => Value::String(text.to_owned()).to_string(),
        };
        self.text.push_str(&written);
        self.places.push((start..self.text.len(), name.to_owned()));
    }

    fn table(&mut self, heading: &str, table: &str, items: &[Item], form: &Form) {
        let start = self.text.len();
        if !table.is_empty() {
            self.text.push_str(heading);
            self.text.push('\n');
        }
        for item in items {
            let name = name_of(table, item.key);
            if item.kind.is_sourced() {
                let is_empty =
                    SOURCED.iter().all(|part| form.text(&format!("{name}.{part}")).is_empty());
                if item.needed || !is_empty {
                    self.sourced(item.key, &name, form);
                }
                continue;
            }
            let text = form.text(&name);
            if text.is_empty() && (!item.needed || item.kind.is_truth()) {
                continue;
            }
            self.text.push_str(&format!("{} = ", item.key));
            self.value(&name, item.kind, &text);
            self.text.push('\n');
        }
        // What is said of the whole table stands at its first field.
        if let Some(first) = items.first() {
            self.places.push((start..self.text.len(), name_of(table, first.key)));
        }
    }

    fn sourced(&mut self, key: &str, name: &str, form: &Form) {
        self.text.push_str(&format!("{key} = {{ "));
        let mut comma = "";
        for part in SOURCED {
            let name = format!("{name}.{part}");
            let text = form.text(&name);
            if text.is_empty() && part != "value" {
                continue;
            }
            self.text.push_str(&format!("{comma}{part} = "));
            self.value(&name, Kind::Text, &text);
            comma = ", ";
        }
        self.text.push_str(" }\n");
    }

    /// The field that a byte of the text belongs to: the smallest piece with it.
    fn field_at(&self, byte: u64) -> String {
        let byte = usize::try_from(byte).unwrap_or(usize::MAX);
        let around = self.places.iter().filter(|(range, _)| range.contains(&byte));
        let field = around.min_by_key(|(range, _)| range.len()).map(|(_, name)| name.clone());
        field.unwrap_or_default()
    }
}

/// A number as TOML writes one: what a person writes as `1` or `1e-3`.
fn number(text: &str) -> Option<String> {
    let value: f64 = text.parse().ok().filter(|value: &f64| value.is_finite())?;
    Some(Value::Float(value).to_string())
}

/// The case of a form. Its name stays; uncertain inputs that go together are
/// those of the case as it stands, for the form does not show them.
///
/// # Errors
/// Every fault at once, each with its field.
pub fn read(form: &Form, stands: &CaseInput) -> Result<CaseInput, Vec<FieldFault>> {
    let mut written = Written::default();
    written.text.push_str(&format!("id = {}\n", Value::String(stands.id.clone())));
    for group in GROUPS {
        let is_empty =
            group.items.iter().all(|item| form.given(&name_of(group.table, item.key)).is_none());
        if !(group.optional && is_empty) {
            written.table(&format!("\n[{}]", group.table), group.table, group.items, form);
        }
    }
    for index in 0..MOST_TIERS {
        let table = tier_table(index);
        if TIER.iter().any(|item| form.given(&name_of(&table, item.key)).is_some()) {
            written.table("\n[[cycle.tier]]", &table, TIER, form);
        }
    }
    match read_case(&written.text) {
        Ok(file) => Ok(CaseInput { correlations: stands.correlations.clone(), ..file.input }),
        Err(refusal) => Err(refusal
            .messages()
            .iter()
            .filter(|message| message.is_refusal())
            .map(|message| FieldFault {
                field: message.place.byte.map(|byte| written.field_at(byte)).unwrap_or_default(),
                says: format!("{} {}. {}", message.code, message.what, message.next_step),
            })
            .collect()),
    }
}

/// Label of a field, with its table.
pub fn label_of(field: &str) -> String {
    for group in GROUPS {
        for item in group.items {
            let name = name_of(group.table, item.key);
            if let Some(part) =
                field.strip_prefix(&name).filter(|rest| rest.is_empty() || rest.starts_with('.'))
            {
                let part = part.trim_start_matches('.');
                let of = if part.is_empty() || part == "value" {
                    String::new()
                } else {
                    format!(", {part}")
                };
                return format!("{}: {}{of}", group.heading, item.label);
            }
        }
    }
    let tier = field.strip_prefix("cycle.tier.").and_then(|rest| rest.split_once('.'));
    if let Some((index, key)) = tier {
        let label = TIER.iter().find(|item| item.key == key).map_or(key, |item| item.label);
        let number = index.parse::<usize>().map_or(0, |index| index + 1);
        return format!("Tier {number}: {label}");
    }
    field.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form_of(fields: &[(String, String)]) -> Form {
        let borrowed: Vec<(&str, &str)> =
            fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
        Form::of(&borrowed)
    }

    fn with(input: &CaseInput, changes: &[(&str, &str)]) -> Vec<(String, String)> {
        let mut fields = values(input);
        for (name, value) in changes {
            match fields.iter_mut().find(|(known, _)| known == name) {
                Some(field) => field.1 = (*value).to_owned(),
                None => fields.push(((*name).to_owned(), (*value).to_owned())),
            }
        }
        fields
    }

    #[test]
    fn every_worked_case_comes_back_from_its_form() {
        for case in study::worked_cases::all() {
            let read = read(&form_of(&values(&case)), &case);
            assert_eq!(read.as_ref(), Ok(&case), "{}", case.id);
        }
    }

    #[test]
    fn a_changed_field_changes_that_and_nothing_else() {
        let case = study::worked_cases::lyophilised_vial();
        let fields =
            with(&case, &[("headspace.volume.value", "3.7 mL"), ("purpose.confidence", "0.9")]);
        let read = read(&form_of(&fields), &case).unwrap();
        assert!((read.profile.headspace.volume.value.ml() - 3.7).abs() < 1e-12);
        assert_eq!(read.profile.purpose.confidence.fraction(), 0.9);
        let mut back = read;
        back.profile.headspace.volume.value = case.profile.headspace.volume.value;
        back.profile.purpose.confidence = case.profile.purpose.confidence;
        assert_eq!(back, case);
    }

    #[test]
    fn a_refusal_stands_at_its_field() {
        let case = study::worked_cases::lyophilised_vial();
        for (field, wrong) in [
            ("container.wall.value", "1"),
            ("container.wall.value", ""),
            ("container.wall.uncertainty", "a bit"),
            ("purpose.required_detection", "95"),
            ("purpose.required_detection", "most"),
            ("headspace.gas", "phlogiston"),
            ("rig.pump.speed", "0.2 mbar"),
            ("cycle.tier.0.settle", "-4 s"),
            ("title", ""),
            ("mall.flow_equivalent_diameter", "5"),
            ("rig.sensor.range", "\" \\ quote\n[rig]"),
        ] {
            let fields = with(&case, &[(field, wrong)]);
            let faults = read(&form_of(&fields), &case).unwrap_err();
            assert!(
                faults.iter().any(|fault| fault.field == field),
                "{field}={wrong:?}: {faults:?}"
            );
        }
    }

    #[test]
    fn an_optional_table_goes_when_it_is_emptied() {
        let case = study::worked_cases::lyophilised_vial();
        let emptied: Vec<(String, String)> = values(&case)
            .into_iter()
            .filter(|(name, _)| !name.starts_with("mall.") && !name.starts_with("storage."))
            .collect();
        let read = read(&form_of(&emptied), &case).unwrap();
        assert!(read.profile.mall.is_none() && read.storage.is_none());
    }

    #[test]
    fn every_field_has_a_label() {
        for case in study::worked_cases::all() {
            for (field, _) in values(&case) {
                assert_ne!(label_of(&field), field);
            }
        }
        assert_eq!(label_of("container.wall.from"), "Container: Wall where a leak would sit, from");
    }
}

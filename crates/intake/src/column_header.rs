//! What the name of a column says: `p [mbar]`, `Time (s)`, `pressure_pa`.

use study::quantities::units::{Unit, UnitKind};

use crate::written_quantity::unit_of;

/// Unit of temperature in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TemperatureUnit {
    /// Degrees Celsius.
    Celsius,
    /// Thousandths of a degree Celsius.
    MilliCelsius,
    /// Kelvin.
    Kelvin,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

impl TemperatureUnit {
    /// Every unit of temperature.
    pub const ALL: [Self; 4] = [Self::Celsius, Self::MilliCelsius, Self::Kelvin, Self::Fahrenheit];

    /// The spelling that a reading plan uses.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Celsius => "C",
            Self::MilliCelsius => "mC",
            Self::Kelvin => "K",
            Self::Fahrenheit => "F",
        }
    }

    /// The unit of a spelling, if it is one.
    #[must_use]
    pub fn from_word(text: &str) -> Option<Self> {
        match text {
            "C" | "°C" | "ºC" | "degC" | "deg C" | "℃" | "Celsius" => Some(Self::Celsius),
            "mC" | "m°C" => Some(Self::MilliCelsius),
            "K" | "Kelvin" => Some(Self::Kelvin),
            "F" | "°F" | "degF" => Some(Self::Fahrenheit),
            _ => None,
        }
    }

    /// A value of this unit in kelvin.
    #[must_use]
    pub fn in_kelvin(self, value: f64) -> f64 {
        match self {
            Self::Celsius => value + 273.15,
            Self::MilliCelsius => value / 1000.0 + 273.15,
            Self::Kelvin => value,
            Self::Fahrenheit => (value + 459.67) / 1.8,
        }
    }
}

/// What a header says of the unit of its column.
#[derive(Debug, Clone, PartialEq)]
pub enum ColumnUnit {
    /// A pressure; against the atmosphere where `gauge`, a difference of two
    /// chambers where `differential`.
    Pressure {
        /// The unit.
        unit: &'static Unit,
        /// True where the header says gauge.
        gauge: bool,
        /// True where the header says difference.
        differential: bool,
    },
    /// A time.
    Time(&'static Unit),
    /// A temperature.
    Temperature(TemperatureUnit),
    /// A unit that this room knows and does not read as a channel.
    Other(&'static Unit),
    /// A unit that is not known, such as `V`.
    Unknown(String),
    /// A spelling that could mean several units, such as `mpa`.
    Ambiguous(String),
    /// No unit.
    Absent,
}

/// A header taken apart.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnHeader {
    /// What stands before the unit, in lower case.
    pub label: String,
    /// What it says of the unit.
    pub unit: ColumnUnit,
}

impl ColumnHeader {
    /// Takes a header apart; a second header line may hold the unit.
    ///
    /// # Example
    /// ```
    /// use intake::column_header::{ColumnHeader, ColumnUnit};
    /// for header in ["p [mbar]", "Pressure (mbar)", "p/mbar", "pressure_mbar"] {
    ///     let unit = ColumnHeader::of(header, None).unit;
    ///     assert!(matches!(unit, ColumnUnit::Pressure { unit, .. } if unit.name == "mbar"));
    /// }
    /// ```
    #[must_use]
    pub fn of(header: &str, unit_line: Option<&str>) -> Self {
        if let Some(text) = unit_line.map(bare_unit).filter(|text| !text.is_empty()) {
            let label = header.to_lowercase();
            let unit = read_unit(text, &label);
            return Self { label, unit };
        }
        let (label, text) = split_unit(header);
        let label = label.trim_matches([' ', '_', ',', ':']).to_lowercase();
        let unit = text.map_or(ColumnUnit::Absent, |text| read_unit(text, &label));
        Self { label, unit }
    }

    /// True where the label is a usual name of a time.
    #[must_use]
    pub fn is_time_label(&self) -> bool {
        const LABELS: [&str; 20] = [
            "t",
            "time",
            "times",
            "elapsed",
            "elapsed time",
            "elapsed_time",
            "datetime",
            "date time",
            "date_time",
            "date",
            "timestamp",
            "time stamp",
            "clock",
            "zeit",
            "uhrzeit",
            "datum",
            "temps",
            "seconds",
            "sec",
            "time_stamp",
        ];
        LABELS.contains(&self.label.as_str())
            || self.label.starts_with("time ")
            || self.label.starts_with("date")
    }

    /// True where the label is a usual name of a pressure.
    #[must_use]
    pub fn is_pressure_label(&self) -> bool {
        self.label == "p"
            || self.label.contains("press")
            || self.label.contains("druck")
            || self.label.contains("vacuum")
    }

    /// True where the label is a usual name of a temperature.
    #[must_use]
    pub fn is_temperature_label(&self) -> bool {
        let numbered = self
            .label
            .strip_prefix('t')
            .is_some_and(|rest| !rest.is_empty() && rest.bytes().all(|b| b.is_ascii_digit()));
        numbered || self.label.contains("temp")
    }
}

fn bare_unit(text: &str) -> &str {
    text.trim().trim_start_matches(['[', '(']).trim_end_matches([']', ')']).trim()
}

/// Splits the unit off a header, wherever it is written.
fn split_unit(header: &str) -> (&str, Option<&str>) {
    let header = header.trim();
    for (open, close) in [('[', ']'), ('(', ')')] {
        if let (Some(start), true) = (header.find(open), header.ends_with(close)) {
            let unit = header[start + 1..header.len() - 1].trim();
            if !unit.is_empty() {
                return (&header[..start], Some(unit));
            }
        }
    }
    if let Some((label, unit)) = header.split_once('/')
        && is_known(unit.trim())
    {
        return (label, Some(unit.trim()));
    }
    if let Some((label, unit)) = header.rsplit_once(" in ")
        && is_known(unit.trim())
    {
        return (label, Some(unit.trim()));
    }
    for mark in ['_', ' '] {
        if let Some((label, unit)) = header.rsplit_once(mark)
            && !label.trim().is_empty()
            && (is_known(unit) || lower_case_unit(unit).is_some() || unit == "mpa")
        {
            return (label, Some(unit));
        }
    }
    (header, None)
}

fn is_known(text: &str) -> bool {
    let (text, _) = without_gauge(text);
    unit_of(text).is_some() || TemperatureUnit::from_word(text).is_some()
}

/// Names of columns in programs are in lower case: `pressure_kpa`. Only
/// spellings that can mean one unit are listed; `mpa` is not among them.
fn lower_case_unit(text: &str) -> Option<&'static str> {
    Some(match text {
        "pa" => "Pa",
        "hpa" => "hPa",
        "kpa" => "kPa",
        "mmhg" => "mmHg",
        "c" | "degc" => "C",
        "k" => "K",
        "seconds" | "secs" => "s",
        "minutes" => "min",
        "hours" => "h",
        _ => return None,
    })
}

/// The unit without `gauge`, `(g)` or a final g, and whether it had one.
fn without_gauge(text: &str) -> (&str, bool) {
    let text = text.trim();
    for ending in [" gauge", "(g)", "_g", " g", "(gauge)", " rel", "ü"] {
        if let Some(rest) = text.strip_suffix(ending) {
            return (rest.trim(), true);
        }
    }
    match text {
        "psig" => ("psi", true),
        "barg" => ("bar", true),
        "mbarg" => ("mbar", true),
        "kPag" => ("kPa", true),
        other => (
            other.strip_suffix(" abs").or_else(|| other.strip_suffix("(a)")).unwrap_or(other),
            false,
        ),
    }
}

fn read_unit(text: &str, label: &str) -> ColumnUnit {
    let (plain, unit_says_gauge) = without_gauge(text);
    if plain.eq_ignore_ascii_case("mpa") && plain != "MPa" && plain != "mPa" {
        return ColumnUnit::Ambiguous(plain.to_owned());
    }
    let spelled =
        if unit_of(plain).is_some() { plain } else { lower_case_unit(plain).unwrap_or(plain) };
    if let Some(unit) = TemperatureUnit::from_word(spelled) {
        return ColumnUnit::Temperature(unit);
    }
    let Some(unit) = unit_of(spelled) else { return ColumnUnit::Unknown(text.to_owned()) };
    match unit.kind {
        UnitKind::Pressure => ColumnUnit::Pressure {
            unit,
            gauge: unit_says_gauge || label.contains("gauge") || label.contains("relative"),
            differential: label.contains("diff")
                || label.contains("delta")
                || label == "dp"
                || label.starts_with('Δ')
                || label.starts_with('δ'),
        },
        UnitKind::Time => ColumnUnit::Time(unit),
        _ => ColumnUnit::Other(unit),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit_name(header: &str) -> String {
        match ColumnHeader::of(header, None).unit {
            ColumnUnit::Pressure { unit, gauge, .. } => {
                format!("{}{}", unit.name, if gauge { " gauge" } else { "" })
            }
            ColumnUnit::Time(unit) | ColumnUnit::Other(unit) => unit.name.to_owned(),
            ColumnUnit::Temperature(unit) => unit.word().to_owned(),
            ColumnUnit::Unknown(text) => format!("?{text}"),
            ColumnUnit::Ambiguous(text) => format!("??{text}"),
            ColumnUnit::Absent => String::new(),
        }
    }

    #[test]
    fn units_in_headers() {
        for (header, expected) in [
            ("time_s", "s"),
            ("Time (s)", "s"),
            ("pressure_pa", "Pa"),
            ("p [mbar]", "mbar"),
            ("Pressure (Pa)", "Pa"),
            ("p/kPa", "kPa"),
            ("p in Torr", "Torr"),
            ("Pressure mbar", "mbar"),
            ("T [°C]", "C"),
            ("temperature_c", "C"),
            ("temp [m°C]", "mC"),
            ("p [bar(g)]", "bar gauge"),
            ("p [psig]", "psi gauge"),
            ("gauge pressure [kPa]", "kPa gauge"),
            ("Voltage (V)", "?V"),
            ("pressure_mpa", "??mpa"),
            ("BMP180_Pressure", ""),
            ("CH2", ""),
            ("Datetime", ""),
            ("flow [sccm]", "sccm"),
            ("", ""),
        ] {
            assert_eq!(unit_name(header), expected, "{header}");
        }
    }

    #[test]
    fn labels_tell_what_a_column_is() {
        let header = |text| ColumnHeader::of(text, None);
        assert!(header("Time (s)").is_time_label() && header("time_s").is_time_label());
        assert!(header("Datetime").is_time_label() && !header("T1").is_time_label());
        assert!(
            header("T1").is_temperature_label()
                && header("BMP180_Temperature").is_temperature_label()
        );
        assert!(
            header("BMP180_Pressure").is_pressure_label() && header("p [Pa]").is_pressure_label()
        );
        assert_eq!(ColumnHeader::of("p", Some("[mbar]")).label, "p");
    }
}

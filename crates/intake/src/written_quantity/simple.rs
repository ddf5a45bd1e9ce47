//! Quantities that need no reference state.

use study::quantities::units::{Unit, UnitKind};
use study::quantities::{
    AbsolutePressure, Area, Conductance, Duration, Length, PressureDifference, PressureRate,
    Temperature, Volume,
};

use super::QuantityError;
use super::number::split_number;
use super::spelling::{kind_words, refusal, unit_of};

/// The value in SI of a text with a unit of one of the kinds.
pub(super) fn read_kind(text: &str, kind: UnitKind, example: &str) -> Result<f64, QuantityError> {
    let (value, rest) = split_number(text)?;
    let unit = unit_after_number(text, rest, &[kind], example)?;
    in_si(text, value, unit)
}

/// The unit behind a number, refused where missing, unknown or of another kind.
pub(super) fn unit_after_number(
    text: &str,
    rest: &str,
    kinds: &[UnitKind],
    example: &str,
) -> Result<&'static Unit, QuantityError> {
    if rest.is_empty() {
        return Err(QuantityError::new(
            text,
            "the unit is missing",
            format!("Write the value with its unit, such as \"{example}\"."),
        ));
    }
    if let Some((name, _)) = rest.split_once('@')
        && let Some(unit) = unit_of(name).filter(|unit| kinds.contains(&unit.kind))
    {
        return Err(QuantityError::new(
            text,
            format!("a {} takes no reference state", kind_words(unit.kind)),
            format!("Leave out what follows \"@\", such as \"{example}\"."),
        ));
    }
    unit_of(rest)
        .filter(|unit| kinds.contains(&unit.kind))
        .ok_or_else(|| refusal(text, rest, kinds, example))
}

/// Value times factor, refused where the product leaves the finite numbers.
pub(super) fn in_si(text: &str, value: f64, unit: &Unit) -> Result<f64, QuantityError> {
    let product = value * unit.factor;
    if product.is_finite() && (product != 0.0 || value == 0.0) {
        return Ok(product);
    }
    Err(QuantityError::new(
        text,
        "the value is beyond what can be represented",
        "Choose another unit.",
    ))
}

fn read_not_negative(text: &str, kind: UnitKind, example: &str) -> Result<f64, QuantityError> {
    let value = read_kind(text, kind, example)?;
    if value < 0.0 {
        return Err(QuantityError::new(
            text,
            format!("a {} cannot be negative", kind_words(kind)),
            format!("Write it like \"{example}\"."),
        ));
    }
    Ok(value)
}

macro_rules! reader {
    ($(#[$meta:meta])* $name:ident -> $quantity:ident, $kind:ident, $read:ident, $from:ident, $example:literal) => {
        $(#[$meta])*
        ///
        /// # Errors
        /// Refuses a bare number, an unknown unit or one of another kind,
        /// `NaN`, infinity, and a negative value where it has no meaning.
        #[doc = concat!("\n# Example\n```\nassert!(intake::written_quantity::", stringify!($name), "(\"", $example, "\").is_ok());\nassert!(intake::written_quantity::", stringify!($name), "(\"7\").is_err());\n```")]
        pub fn $name(text: &str) -> Result<$quantity, QuantityError> {
            $read(text, UnitKind::$kind, $example).map($quantity::$from)
        }
    };
}

reader! {
    /// Reads a length.
    read_length -> Length, Length, read_not_negative, from_m, "5 um"
}
reader! {
    /// Reads an area.
    read_area -> Area, Area, read_not_negative, from_m2, "20 cm2"
}
reader! {
    /// Reads a volume.
    read_volume -> Volume, Volume, read_not_negative, from_m3, "100 mL"
}
reader! {
    /// Reads a span of time.
    read_duration -> Duration, Time, read_not_negative, from_s, "10 s"
}
reader! {
    /// Reads a conductance or pumping speed: volume per time.
    read_conductance -> Conductance, Conductance, read_not_negative, from_m3_per_s, "2 L/s"
}
reader! {
    /// Reads a difference of pressures, which may be negative.
    read_pressure_difference -> PressureDifference, Pressure, read_kind, from_pa, "30 Pa"
}
reader! {
    /// Reads a change of pressure per time, which may be negative.
    read_pressure_rate -> PressureRate, PressureRate, read_kind, from_pa_per_s, "0.5 Pa/s"
}

/// Endings that say "against the atmosphere" without the barometer.
const GAUGE_SPELLINGS: &[&str] =
    &["psig", "barg", "bar(g)", "mbarg", "mbar(g)", "kPag", "kPa(g)", "barü"];

/// Reads a pressure against perfect vacuum.
///
/// `-400 mbar gauge` is read only with the barometer, and is converted at
/// once: `p = p_barometer + p_gauge`.
///
/// # Errors
/// Refuses what [`read_length`] refuses, gauge pressure without a barometer,
/// and anything below perfect vacuum.
///
/// # Example
/// ```
/// use intake::written_quantity::read_absolute_pressure;
/// use study::quantities::AbsolutePressure;
/// let barometer = Some(AbsolutePressure::from_mbar(1000.0));
/// let chamber = read_absolute_pressure("-400 mbar gauge", barometer)?;
/// assert!((chamber.mbar() - 600.0).abs() < 1e-9);
/// assert!(read_absolute_pressure("-400 mbar gauge", None).is_err());
/// # Ok::<(), intake::written_quantity::QuantityError>(())
/// ```
pub fn read_absolute_pressure(
    text: &str,
    barometer: Option<AbsolutePressure>,
) -> Result<AbsolutePressure, QuantityError> {
    let trimmed = text.trim();
    if let Some(found) = GAUGE_SPELLINGS.iter().find(|ending| trimmed.ends_with(**ending)) {
        return Err(QuantityError::new(
            text,
            format!("\"{found}\" is a pressure against the atmosphere"),
            "Write it like \"-400 mbar gauge\" and give the barometer (--barometer \"1013 mbar\").",
        ));
    }
    let (body, is_gauge) = match trimmed.strip_suffix("gauge") {
        Some(body) => (body, true),
        None => (trimmed.strip_suffix("absolute").unwrap_or(trimmed), false),
    };
    let value_pa = read_kind(body, UnitKind::Pressure, "100 mbar")
        .map_err(|error| QuantityError { text: text.to_owned(), ..error })?;
    let pressure_pa = match (is_gauge, barometer) {
        (false, _) => value_pa,
        (true, Some(barometer)) => barometer.pa() + value_pa,
        (true, None) => {
            return Err(QuantityError::new(
                text,
                "a gauge pressure means nothing without the barometer",
                "Give the barometer (--barometer \"1013 mbar\") or write the absolute pressure.",
            ));
        }
    };
    if pressure_pa < 0.0 {
        return Err(QuantityError::new(
            text,
            "this is below perfect vacuum",
            if is_gauge {
                "Check the barometer: it must be larger than the vacuum."
            } else {
                "If it is against the atmosphere, write \"gauge\" behind it and give the barometer."
            },
        ));
    }
    Ok(AbsolutePressure::from_pa(pressure_pa))
}

/// Reads a temperature in °C, K or °F.
///
/// `T/K = t/°C + 273.15 = (t/°F + 459.67) / 1.8`
///
/// # Errors
/// Refuses a bare number, an unknown unit, and absolute zero or less.
///
/// # Example
/// ```
/// use intake::written_quantity::read_temperature;
/// assert_eq!(read_temperature("20C").map(|t| t.k()), Ok(293.15));
/// assert!(read_temperature("20").is_err());
/// ```
pub fn read_temperature(text: &str) -> Result<Temperature, QuantityError> {
    let (value, rest) = split_number(text)?;
    let temperature = match rest {
        "C" | "°C" | "ºC" | "degC" | "℃" => Temperature::from_celsius(value),
        "K" => Temperature::from_k(value),
        "F" | "°F" | "degF" => Temperature::from_k((value + 459.67) / 1.8),
        "" => {
            return Err(QuantityError::new(
                text,
                "the unit is missing",
                "Write the temperature with its unit, such as \"20 C\" or \"293.15 K\".",
            ));
        }
        other => {
            let shown = crate::message::quoted(other);
            return Err(QuantityError::new(
                text,
                format!("{shown} is not a known unit of temperature"),
                "Write it like \"20 C\" or \"293.15 K\".",
            ));
        }
    };
    if temperature.k() <= 0.0 || !temperature.is_finite() {
        return Err(QuantityError::new(
            text,
            "this is not above absolute zero",
            "Write it like \"20 C\" or \"293.15 K\".",
        ));
    }
    Ok(temperature)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_written_examples_of_the_command_line() {
        assert_eq!(read_length("5um").map(Length::um), Ok(5.0));
        assert_eq!(read_length("1 mm").map(Length::mm), Ok(1.0));
        assert_eq!(read_absolute_pressure("0.3bar", None).map(AbsolutePressure::pa), Ok(30_000.0));
        assert_eq!(read_temperature("-40 C").map(Temperature::k).map(f64::round), Ok(233.0));
        assert!(read_temperature("-40 F").is_ok_and(|t| (t.k() - 233.15).abs() < 1e-9));
    }

    #[test]
    fn a_size_cannot_be_negative_but_a_difference_can() {
        assert!(read_length("-5 um").is_err());
        assert!(read_volume("-1 mL").is_err());
        assert!(read_absolute_pressure("-1 Pa", None).is_err_and(|e| e.hint.contains("gauge")));
        assert_eq!(read_pressure_difference("-3 Pa").map(PressureDifference::pa), Ok(-3.0));
    }

    #[test]
    fn a_bare_number_and_a_wrong_kind_are_refused() {
        assert!(read_length("5").is_err_and(|e| e.what.contains("unit is missing")));
        assert!(read_length("5 Pa").is_err_and(|e| e.what.contains("not of length")));
        assert!(read_length("5 C").is_err_and(|e| e.what.contains("temperature")));
        assert!(read_volume("5 mll").is_err_and(|e| e.hint.contains("\"mL\"")));
        assert!(read_length("5 um@20C").is_err_and(|e| e.what.contains("no reference state")));
    }

    #[test]
    fn letters_of_a_unit_count() {
        assert!(read_absolute_pressure("5 MBAR", None).is_err_and(|e| e.hint.contains("mbar")));
        assert!(
            read_absolute_pressure("5 psig", None).is_err_and(|e| e.hint.contains("--barometer"))
        );
    }

    #[test]
    fn absolute_zero_is_not_a_temperature_of_a_gas() {
        assert!(read_temperature("0 K").is_err());
        assert!(read_temperature("-273.15 C").is_err());
    }

    #[test]
    fn gauge_deeper_than_the_barometer_is_refused() {
        let barometer = Some(AbsolutePressure::from_mbar(1000.0));
        assert!(read_absolute_pressure("-1001 mbar gauge", barometer).is_err());
    }
}

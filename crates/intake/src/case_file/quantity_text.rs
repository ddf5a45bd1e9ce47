//! Quantities as text that reads back to the same bits.

use study::quantities::Temperature;
use study::quantities::units::{UNITS, UnitKind};

/// Units that are offered for print, the usual ones of the trade first.
const PREFERRED: &[&str] =
    &["um", "mm", "mL", "L", "Pa", "mbar", "bar", "atm", "s", "ms", "min", "L/s", "m3/s", "Pa/s"];

/// A value in SI as text with a unit of its kind. The shortest text that reads
/// back to the very same number is taken; the SI unit always does.
pub(super) fn quantity_text(value_si: f64, kind: UnitKind) -> String {
    let mut best: Option<String> = None;
    for name in PREFERRED {
        let Some(unit) = UNITS.iter().find(|unit| unit.name == *name && unit.kind == kind) else {
            continue;
        };
        let number = number_text(value_si / unit.factor);
        let reads_back = number.parse::<f64>().is_ok_and(|value| value * unit.factor == value_si);
        let text = format!("{number} {name}");
        if reads_back && best.as_ref().is_none_or(|best| text.len() < best.len()) {
            best = Some(text);
        }
    }
    best.unwrap_or_else(|| {
        let si = UNITS
            .iter()
            .find(|unit| unit.kind == kind && unit.factor == 1.0)
            .map_or("", |unit| unit.name);
        format!("{} {si}", number_text(value_si))
    })
}

/// A temperature in °C where that reads back, in K elsewhere.
pub(super) fn temperature_text(temperature: Temperature) -> String {
    let celsius = (temperature.celsius() * 1.0e9).round() / 1.0e9;
    if Temperature::from_celsius(celsius) == temperature {
        format!("{} C", number_text(celsius))
    } else {
        format!("{} K", number_text(temperature.k()))
    }
}

/// The shorter of the plain and the exponent form; both read back.
pub(super) fn number_text(value: f64) -> String {
    let plain = format!("{value}");
    let exponent = format!("{value:e}");
    if exponent.len() < plain.len() { exponent } else { plain }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn usual_values_are_written_as_people_write_them() {
        assert_eq!(quantity_text(3.6 * 1.0e-6, UnitKind::Volume), "3.6 mL");
        assert_eq!(quantity_text(5.0 * 1.0e-6, UnitKind::Length), "5 um");
        assert_eq!(quantity_text(101_325.0, UnitKind::Pressure), "1 atm");
        assert_eq!(quantity_text(150.0, UnitKind::Pressure), "150 Pa");
        assert_eq!(temperature_text(Temperature::from_celsius(20.0)), "20 C");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(500))]
        #[test]
        fn every_text_reads_back_to_the_same_bits(value in 1.0e-12..1.0e6_f64) {
            let text = quantity_text(value, UnitKind::Volume);
            prop_assert_eq!(crate::written_quantity::read_volume(&text).map(|v| v.m3()), Ok(value));
            let kelvin = Temperature::from_k(value + 1.0);
            prop_assert_eq!(crate::written_quantity::read_temperature(&temperature_text(kelvin)), Ok(kelvin));
        }
    }
}

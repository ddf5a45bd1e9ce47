//! Names of units, and the nearest known name to one that is not known.

use study::quantities::units::{UNITS, Unit, UnitKind, unit_named};

use super::QuantityError;

/// The unit of a spelling, where dots, stars, micro signs and raised digits
/// may be written in any of their usual forms. Case counts.
///
/// # Example
/// ```
/// use intake::written_quantity::unit_of;
/// assert_eq!(unit_of("mbar·L/s").map(|unit| unit.name), Some("mbar.L/s"));
/// assert_eq!(unit_of("pa"), None);
/// ```
#[must_use]
pub fn unit_of(text: &str) -> Option<&'static Unit> {
    unit_named(text).or_else(|| unit_named(&plain_spelling(text)))
}

/// One form for characters that look alike.
fn plain_spelling(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for c in text.trim().chars() {
        match c {
            'µ' | 'μ' => plain.push('u'),
            '·' | '⋅' | '∙' | '*' | '×' => plain.push('.'),
            '²' => plain.push('2'),
            '³' => plain.push('3'),
            '\u{a0}' | '\u{202f}' | '\u{2009}' => plain.push(' '),
            '^' => {}
            other => plain.push(other),
        }
    }
    plain
}

/// The known name nearest to one that is not known, if any is near.
///
/// Case is forgiven here, because the answer is a suggestion and not a reading.
#[must_use]
pub fn nearest_of<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = name.to_lowercase();
    let limit = (name.chars().count() / 2).max(1);
    known
        .into_iter()
        .map(|candidate| {
            (strsim::damerau_levenshtein(&lower, &candidate.to_lowercase()), candidate)
        })
        .filter(|&(distance, _)| distance <= limit)
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, candidate)| candidate)
}

/// What stands before one of the units, and the factor of that unit; the first
/// unit that fits counts, so one that ends like another stands before it.
#[must_use]
pub fn before_unit<'a>(text: &'a str, units: &[(&str, f64)]) -> Option<(&'a str, f64)> {
    units.iter().find_map(|(unit, factor)| Some((text.trim().strip_suffix(unit)?.trim(), *factor)))
}

/// Refusal of a unit name that is not known, or is of the wrong kind.
pub(super) fn refusal(text: &str, name: &str, kinds: &[UnitKind], example: &str) -> QuantityError {
    let shown = crate::message::quoted(name);
    if let Some(unit) = unit_of(name) {
        return QuantityError::new(
            text,
            format!("{shown} is a unit of {}, not of {}", kind_words(unit.kind), list_of(kinds)),
            format!("Write it like \"{example}\"."),
        );
    }
    if ["C", "°C", "K", "F"].contains(&name) {
        return QuantityError::new(
            text,
            format!("{shown} is a unit of temperature, not of {}", list_of(kinds)),
            format!("Write it like \"{example}\"."),
        );
    }
    let plain = plain_spelling(name);
    let of_kind = || {
        UNITS
            .iter()
            .filter(|unit| kinds.contains(&unit.kind))
            .flat_map(|unit| [unit.name].into_iter().chain(unit.also_written.iter().copied()))
    };
    let hint = nearest_of(&plain, of_kind()).map_or_else(
        || {
            let names: Vec<&str> = UNITS
                .iter()
                .filter(|unit| kinds.contains(&unit.kind))
                .map(|unit| unit.name)
                .collect();
            format!("Known here: {}.", names.join(", "))
        },
        |near| format!("Did you mean \"{near}\"? Upper and lower case count."),
    );
    QuantityError::new(text, format!("{shown} is not a known unit of {}", list_of(kinds)), hint)
}

fn list_of(kinds: &[UnitKind]) -> String {
    let words: Vec<&str> = kinds.iter().map(|&kind| kind_words(kind)).collect();
    words.join(" or ")
}

/// A kind of quantity in words.
pub(super) const fn kind_words(kind: UnitKind) -> &'static str {
    match kind {
        UnitKind::Pressure => "pressure",
        UnitKind::Length => "length",
        UnitKind::Area => "area",
        UnitKind::Volume => "volume",
        UnitKind::Time => "time",
        UnitKind::Throughput => "throughput",
        UnitKind::MolarFlow => "amount per time",
        UnitKind::StandardFlow => "standard flow",
        UnitKind::MassFlow => "mass per time",
        UnitKind::Conductance => "volume per time",
        UnitKind::PressureRate => "pressure per time",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn look_alike_characters_are_one_unit() {
        for text in ["um", "µm", "μm"] {
            assert_eq!(unit_of(text).map(|unit| unit.name), Some("um"));
        }
        for text in ["Pa.m3/s", "Pa·m³/s", "Pa⋅m^3/s", "Pa*m3/s", "Pa m³/s"] {
            assert_eq!(unit_of(text).map(|unit| unit.name), Some("Pa.m3/s"), "{text}");
        }
        assert_eq!(unit_of("μbar").map(|unit| unit.name), Some("ubar"));
    }

    #[test]
    fn the_nearest_name_is_offered_and_a_far_one_is_not() {
        assert_eq!(nearest_of("mbra", ["bar", "mbar", "kPa"]), Some("mbar"));
        assert_eq!(nearest_of("KPA", ["bar", "kPa"]), Some("kPa"));
        assert_eq!(nearest_of("parsec", ["m", "mm"]), None);
    }

    #[test]
    fn a_unit_of_another_kind_is_named_as_such() {
        let error = refusal("5 mL", "mL", &[UnitKind::Length], "5 um");
        assert!(error.what.contains("unit of volume, not of length"), "{error}");
    }
}

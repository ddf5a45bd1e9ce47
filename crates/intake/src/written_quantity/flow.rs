//! Flows: the unit alone is not enough, the reference state belongs to it.

use study::quantities::units::{Unit, UnitKind};
use study::quantities::{
    AbsolutePressure, MassFlow, MolarFlow, STANDARD_ATMOSPHERE_PA, StandardFlow, Temperature,
    Throughput,
};

use super::QuantityError;
use super::number::split_number;
use super::simple::{in_si, read_absolute_pressure, read_temperature, unit_after_number};
use super::spelling::unit_of;

/// Temperature of a throughput that is written without one: 20 °C. Whoever
/// prints the flow prints the temperature too.
pub const DEFAULT_THROUGHPUT_TEMPERATURE: Temperature = Temperature::from_celsius(20.0);

/// Kinds of unit that are flows of gas.
pub(super) const FLOW_KINDS: &[UnitKind] =
    &[UnitKind::Throughput, UnitKind::StandardFlow, UnitKind::MolarFlow, UnitKind::MassFlow];

/// A flow as it was written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WrittenFlow {
    /// Pressure times volume per time.
    Throughput {
        /// The flow with the gas temperature at which it holds.
        flow: Throughput,
        /// True where no temperature was written and 20 °C was taken.
        default_temperature: bool,
    },
    /// Amount per time.
    Molar(MolarFlow),
    /// Standard volume per time.
    Standard {
        /// The flow with its reference state.
        flow: StandardFlow,
        /// True where no reference pressure was written and 1 atm was taken.
        default_pressure: bool,
    },
    /// Mass per time: an amount only once the gas is known.
    Mass(MassFlow),
}

impl WrittenFlow {
    /// The amount of gas per time; a mass flow needs the molar mass in kg/mol.
    ///
    /// # Errors
    /// Refuses a mass flow without a gas.
    pub fn molar_flow(
        self,
        molar_mass_kg_per_mol: Option<f64>,
    ) -> Result<MolarFlow, QuantityError> {
        match self {
            Self::Throughput { flow, .. } => Ok(flow.molar_flow()),
            Self::Molar(flow) => Ok(flow),
            Self::Standard { flow, .. } => Ok(flow.molar_flow()),
            Self::Mass(flow) => match molar_mass_kg_per_mol {
                Some(mass) if mass > 0.0 => Ok(MolarFlow::from_mol_per_s(flow.kg_per_s() / mass)),
                _ => Err(QuantityError::new(
                    &format!("{} kg/s", flow.kg_per_s()),
                    "a mass flow is an amount only of a known gas",
                    "Name the gas (--gas air).",
                )),
            },
        }
    }

    /// What was assumed while reading, as a sentence to print; empty if nothing.
    #[must_use]
    pub fn assumption(self) -> &'static str {
        match self {
            Self::Throughput { default_temperature: true, .. } => {
                "The throughput was written without a temperature: 20 C was taken."
            }
            Self::Standard { default_pressure: true, .. } => {
                "The standard flow was written without a pressure: 101325 Pa was taken."
            }
            _ => "",
        }
    }
}

/// Reads a flow of gas.
///
/// A throughput takes the temperature of the gas behind `@` (20 °C if none is
/// written, flagged in the answer). A standard flow must carry its reference
/// temperature and may carry its pressure: `1 sccm@0C,1013.25mbar`.
///
/// # Errors
/// Refuses a bare number, a unit that is not a flow, a standard flow without
/// `@T`, and a reference state that makes no sense.
///
/// # Example
/// ```
/// use intake::written_quantity::read_flow;
/// let flow = read_flow("1 sccm@0C")?.molar_flow(None)?;
/// // Hand calculation: 101325 Pa x 1e-6 m3 / (60 s x R x 273.15 K).
/// assert!((flow.mol_per_s() / 7.435_84e-7 - 1.0).abs() < 1e-6);
/// assert!(read_flow("1 sccm").is_err());
/// # Ok::<(), intake::written_quantity::QuantityError>(())
/// ```
pub fn read_flow(text: &str) -> Result<WrittenFlow, QuantityError> {
    let (value, rest) = split_number(text)?;
    read_flow_after_number(text, value, rest)
}

pub(super) fn read_flow_after_number(
    text: &str,
    value: f64,
    rest: &str,
) -> Result<WrittenFlow, QuantityError> {
    const EXAMPLE: &str = "1e-6 Pa.m3/s";
    let (name, state) = split_state(rest);
    let unit = unit_after_number(text, name, FLOW_KINDS, EXAMPLE)?;
    let state = reference_state(text, unit, state)?;
    let value = in_si(text, value, unit)?;
    Ok(match unit.kind {
        UnitKind::Throughput => WrittenFlow::Throughput {
            flow: Throughput::from_pa_m3_per_s(
                value,
                state.temperature.unwrap_or(DEFAULT_THROUGHPUT_TEMPERATURE),
            ),
            default_temperature: state.temperature.is_none(),
        },
        UnitKind::StandardFlow => WrittenFlow::Standard {
            flow: StandardFlow::from_cm3_per_s(
                value,
                state.temperature.unwrap_or(DEFAULT_THROUGHPUT_TEMPERATURE),
                state.pressure.unwrap_or(AbsolutePressure::from_pa(STANDARD_ATMOSPHERE_PA)),
            ),
            default_pressure: state.pressure.is_none(),
        },
        UnitKind::MolarFlow => WrittenFlow::Molar(MolarFlow::from_mol_per_s(value)),
        _ => WrittenFlow::Mass(MassFlow::from_kg_per_s(value)),
    })
}

/// A reference state as written; a standard flow always has the temperature.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct ReferenceState {
    pub(super) temperature: Option<Temperature>,
    pub(super) pressure: Option<AbsolutePressure>,
}

/// Splits `unit@state`.
pub(super) fn split_state(text: &str) -> (&str, Option<&str>) {
    match text.split_once('@') {
        Some((name, state)) => (name.trim(), Some(state.trim())),
        None => (text.trim(), None),
    }
}

/// Reads what stands behind `@`, and refuses where it is needed and missing,
/// or written where it has no meaning.
pub(super) fn reference_state(
    text: &str,
    unit: &Unit,
    state: Option<&str>,
) -> Result<ReferenceState, QuantityError> {
    let name = unit.name;
    let Some(state) = state else {
        if unit.kind == UnitKind::StandardFlow {
            return Err(QuantityError::new(
                text,
                format!("\"{name}\" without its reference temperature is ambiguous by up to 10 %"),
                format!(
                    "Write what \"standard\" means: \"{name}@0C\", \"{name}@20C\" or \"{name}@25C,1bar\"."
                ),
            ));
        }
        return Ok(ReferenceState::default());
    };
    let takes_state = matches!(unit.kind, UnitKind::Throughput | UnitKind::StandardFlow);
    if !takes_state {
        return Err(QuantityError::new(
            text,
            format!("\"{name}\" takes no reference state"),
            "Leave out what follows \"@\".",
        ));
    }
    let (temperature_text, pressure_text) = match state.split_once(',') {
        Some((temperature, pressure)) => (temperature, Some(pressure)),
        None => (state, None),
    };
    let whole = |error: QuantityError| QuantityError {
        text: text.to_owned(),
        what: format!("behind \"@\", {}: {}", crate::message::quoted(&error.text), error.what),
        hint: format!("Write it like \"{name}@20C\". {}", error.hint),
    };
    if pressure_text.is_some() && unit.kind == UnitKind::Throughput {
        return Err(QuantityError::new(
            text,
            "a throughput takes a temperature and no pressure",
            format!("Write it like \"{name}@20C\"."),
        ));
    }
    let temperature = read_temperature(temperature_text).map_err(whole)?;
    let pressure =
        pressure_text.map(|p| read_absolute_pressure(p, None)).transpose().map_err(whole)?;
    if pressure.is_some_and(|p| p.pa() <= 0.0) {
        return Err(QuantityError::new(
            text,
            "the reference pressure is zero",
            format!("Write it like \"{name}@20C,1013.25mbar\"."),
        ));
    }
    Ok(ReferenceState { temperature: Some(temperature), pressure })
}

/// True where a text behind a number names a flow.
pub(super) fn names_a_flow(rest: &str) -> bool {
    unit_of(split_state(rest).0).is_some_and(|unit| FLOW_KINDS.contains(&unit.kind))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_throughput_without_temperature_says_that_20_c_was_taken() {
        let flow = read_flow("3e-6 mbar.L/s").unwrap();
        assert!(matches!(flow, WrittenFlow::Throughput { default_temperature: true, .. }));
        assert!(flow.assumption().contains("20 C"));
        let flow = read_flow("3e-6 mbar.L/s@23C").unwrap();
        let WrittenFlow::Throughput { flow, default_temperature: false } = flow else {
            panic!("{flow:?}");
        };
        assert!((flow.pa_m3_per_s() - 3e-7).abs() < 1e-20);
        assert!((flow.temperature().k() - 296.15).abs() < 1e-9);
    }

    #[test]
    fn a_bare_standard_flow_is_refused_with_the_way_to_write_it() {
        for text in ["1 sccm", "1 std cm3/s", "2 std cc/s"] {
            let error = read_flow(text).unwrap_err();
            assert!(error.hint.contains("@0C"), "{error}");
        }
        assert!(read_flow("1 std cm3/s@25C").is_ok());
    }

    #[test]
    fn reference_states_that_make_no_sense_are_refused() {
        for text in [
            "1 sccm@",
            "1 sccm@20",
            "1 sccm@0K",
            "1 sccm@0C,0Pa",
            "1 sccm@0C,",
            "1 sccm@0C,5m",
            "1 mol/s@0C",
            "1 Pa.m3/s@20C,1bar",
            "1 sccm@0C@0C",
        ] {
            assert!(read_flow(text).is_err(), "{text}");
        }
    }

    #[test]
    fn a_mass_flow_is_an_amount_only_of_a_known_gas() {
        let flow = read_flow("1 g/yr").unwrap();
        assert!(flow.molar_flow(None).is_err());
        let water = flow.molar_flow(Some(0.018_015)).unwrap();
        assert!((water.mol_per_s() / (1e-3 / 31_557_600.0 / 0.018_015) - 1.0).abs() < 1e-12);
    }
}

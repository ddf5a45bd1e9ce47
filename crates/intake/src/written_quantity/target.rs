//! A quantity of any kind, and the unit it is to be shown in.

use study::quantities::units::{Unit, UnitKind};
use study::quantities::{
    AbsolutePressure, Area, Conductance, Duration, Length, PressureDifference, PressureRate,
    STANDARD_ATMOSPHERE_PA, StandardFlow, Temperature, Volume,
};

use super::QuantityError;
use super::flow::{
    DEFAULT_THROUGHPUT_TEMPERATURE, FLOW_KINDS, WrittenFlow, names_a_flow, read_flow_after_number,
    reference_state, split_state,
};
use super::number::split_number;
use super::simple::{in_si, read_temperature};
use super::spelling::{kind_words, nearest_of, unit_of};

/// A quantity of any kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WrittenQuantity {
    /// A pressure; whether absolute or a difference, the text does not say.
    Pressure(PressureDifference),
    /// A length.
    Length(Length),
    /// An area.
    Area(Area),
    /// A volume.
    Volume(Volume),
    /// A span of time.
    Duration(Duration),
    /// A temperature.
    Temperature(Temperature),
    /// A flow of gas.
    Flow(WrittenFlow),
    /// Volume per time.
    Conductance(Conductance),
    /// Pressure per time.
    PressureRate(PressureRate),
}

impl WrittenQuantity {
    /// What kind of quantity it is, in words.
    #[must_use]
    pub const fn kind(self) -> &'static str {
        match self {
            Self::Pressure(_) => "pressure",
            Self::Length(_) => "length",
            Self::Area(_) => "area",
            Self::Volume(_) => "volume",
            Self::Duration(_) => "time",
            Self::Temperature(_) => "temperature",
            Self::Flow(_) => "flow",
            Self::Conductance(_) => "volume per time",
            Self::PressureRate(_) => "pressure per time",
        }
    }
}

/// Reads a quantity of any kind by its unit.
///
/// # Errors
/// Refuses what the readers of the single kinds refuse.
///
/// # Example
/// ```
/// use intake::written_quantity::{read_any, WrittenQuantity};
/// assert!(matches!(read_any("20C"), Ok(WrittenQuantity::Temperature(_))));
/// assert!(matches!(read_any("1 sccm@0C"), Ok(WrittenQuantity::Flow(_))));
/// assert!(read_any("5").is_err());
/// ```
pub fn read_any(text: &str) -> Result<WrittenQuantity, QuantityError> {
    let (value, rest) = split_number(text)?;
    if rest.is_empty() {
        return Err(QuantityError::new(
            text,
            "the unit is missing",
            "Write the value with its unit, such as \"5 um\" or \"1 sccm@0C\".",
        ));
    }
    if names_a_flow(rest) {
        return read_flow_after_number(text, value, rest).map(WrittenQuantity::Flow);
    }
    let Some(unit) = unit_of(rest) else {
        return match read_temperature(text) {
            Ok(temperature) => Ok(WrittenQuantity::Temperature(temperature)),
            Err(error) if error.what.contains("absolute zero") => Err(error),
            Err(_) => Err(unknown_unit(text, rest)),
        };
    };
    let si = in_si(text, value, unit)?;
    let may_be_negative = matches!(unit.kind, UnitKind::Pressure | UnitKind::PressureRate);
    if si < 0.0 && !may_be_negative {
        return Err(QuantityError::new(
            text,
            format!("a {} cannot be negative", kind_words(unit.kind)),
            "Leave out the sign.",
        ));
    }
    Ok(match unit.kind {
        UnitKind::Pressure => WrittenQuantity::Pressure(PressureDifference::from_pa(si)),
        UnitKind::Length => WrittenQuantity::Length(Length::from_m(si)),
        UnitKind::Area => WrittenQuantity::Area(Area::from_m2(si)),
        UnitKind::Volume => WrittenQuantity::Volume(Volume::from_m3(si)),
        UnitKind::Time => WrittenQuantity::Duration(Duration::from_s(si)),
        UnitKind::PressureRate => WrittenQuantity::PressureRate(PressureRate::from_pa_per_s(si)),
        _ => WrittenQuantity::Conductance(Conductance::from_m3_per_s(si)),
    })
}

fn unknown_unit(text: &str, name: &str) -> QuantityError {
    let name = split_state(name).0;
    let hint = nearest_of(name, study::quantities::units::UNITS.iter().map(|unit| unit.name))
        .map_or_else(
            || "Write it like \"5 um\", \"0.3 bar\" or \"1 sccm@0C\".".to_owned(),
            |near| format!("Did you mean \"{near}\"? Upper and lower case count."),
        );
    QuantityError::new(text, format!("{} is not a known unit", crate::message::quoted(name)), hint)
}

/// A unit in which an answer is wanted, with the reference state it holds at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TargetUnit {
    /// The unit.
    pub unit: &'static Unit,
    /// Gas or reference temperature: throughput and standard flow only.
    pub temperature: Option<Temperature>,
    /// Reference pressure: standard flow only.
    pub pressure: Option<AbsolutePressure>,
    /// True where the temperature was not written and 20 °C was taken.
    pub default_temperature: bool,
    /// True where the pressure was not written and 101 325 Pa was taken.
    pub default_pressure: bool,
}

impl TargetUnit {
    /// The unit with its reference state, as it is read back.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = self.unit.name.to_owned();
        if let Some(temperature) = self.temperature {
            // Subtracting 273.15 leaves digits that nobody wrote.
            let celsius = digits_of(temperature.celsius());
            text.push_str(&format!("@{celsius}C"));
        }
        if let Some(pressure) = self.pressure.filter(|_| !self.default_pressure) {
            text.push_str(&format!(",{}Pa", pressure.pa()));
        }
        text
    }

    /// The value of a quantity in this unit; a mass flow needs the molar mass
    /// of the gas in kg/mol.
    ///
    /// # Errors
    /// Refuses quantities of different kinds and a mass flow without a gas.
    ///
    /// # Example
    /// ```
    /// use intake::written_quantity::{read_any, read_target_unit};
    /// let target = read_target_unit("Pa.m3/s@20C")?;
    /// let value = target.value_of(read_any("1 sccm@0C")?, None)?;
    /// // Hand calculation: 101325 x 1e-6 / 60 x 293.15 / 273.15.
    /// assert!((value / 1.812_400e-3 - 1.0).abs() < 1e-6);
    /// # Ok::<(), intake::written_quantity::QuantityError>(())
    /// ```
    pub fn value_of(
        &self,
        quantity: WrittenQuantity,
        molar_mass_kg_per_mol: Option<f64>,
    ) -> Result<f64, QuantityError> {
        let factor = self.unit.factor;
        let si = match (quantity, self.unit.kind) {
            (WrittenQuantity::Pressure(p), UnitKind::Pressure) => p.pa(),
            (WrittenQuantity::Length(l), UnitKind::Length) => l.m(),
            (WrittenQuantity::Area(a), UnitKind::Area) => a.m2(),
            (WrittenQuantity::Volume(v), UnitKind::Volume) => v.m3(),
            (WrittenQuantity::Duration(t), UnitKind::Time) => t.s(),
            (WrittenQuantity::Conductance(c), UnitKind::Conductance) => c.m3_per_s(),
            (WrittenQuantity::PressureRate(r), UnitKind::PressureRate) => r.pa_per_s(),
            (WrittenQuantity::Flow(flow), kind) if FLOW_KINDS.contains(&kind) => {
                self.flow_value(flow, molar_mass_kg_per_mol)?
            }
            _ => {
                return Err(QuantityError::new(
                    self.unit.name,
                    format!(
                        "a {} cannot be shown as {}",
                        quantity.kind(),
                        kind_words(self.unit.kind)
                    ),
                    format!("Choose a unit of {}.", quantity.kind()),
                ));
            }
        };
        let value = si / factor;
        if value.is_finite() {
            return Ok(value);
        }
        Err(QuantityError::new(
            self.unit.name,
            "the value is beyond what can be represented",
            "Choose another unit.",
        ))
    }

    /// The flow in the SI of this unit's kind.
    fn flow_value(
        &self,
        flow: WrittenFlow,
        molar_mass_kg_per_mol: Option<f64>,
    ) -> Result<f64, QuantityError> {
        if let (WrittenFlow::Mass(mass), UnitKind::MassFlow) = (flow, self.unit.kind) {
            return Ok(mass.kg_per_s());
        }
        let molar = flow.molar_flow(molar_mass_kg_per_mol)?;
        let temperature = self.temperature.unwrap_or(DEFAULT_THROUGHPUT_TEMPERATURE);
        let pressure = self.pressure.unwrap_or(AbsolutePressure::from_pa(STANDARD_ATMOSPHERE_PA));
        match self.unit.kind {
            UnitKind::Throughput => Ok(molar.throughput_at(temperature).pa_m3_per_s()),
            UnitKind::StandardFlow => {
                Ok(StandardFlow::of(molar, temperature, pressure).cm3_per_s())
            }
            UnitKind::MolarFlow => Ok(molar.mol_per_s()),
            _ => molar_mass_kg_per_mol.map(|mass| molar.mass_flow(mass).kg_per_s()).ok_or_else(
                || {
                    QuantityError::new(
                        self.unit.name,
                        "a mass flow needs the gas",
                        "Name the gas (--gas air).",
                    )
                },
            ),
        }
    }
}

/// Rounds away what is left of a subtraction, for print only.
fn digits_of(value: f64) -> f64 {
    (value * 1.0e6).round() / 1.0e6
}

/// Reads a unit in which an answer is wanted: `Pa.m3/s@20C`, `um`, `sccm@0C`.
///
/// # Errors
/// Refuses unknown units, a standard flow without its temperature, and a
/// reference state where there is none.
///
/// # Example
/// ```
/// use intake::written_quantity::read_target_unit;
/// assert!(read_target_unit("Pa.m3/s").is_ok_and(|target| target.default_temperature));
/// assert!(read_target_unit("sccm").is_err());
/// ```
pub fn read_target_unit(text: &str) -> Result<TargetUnit, QuantityError> {
    let (name, state) = split_state(text);
    if name.is_empty() {
        return Err(QuantityError::new(
            text,
            "no unit is written",
            "Write a unit, such as \"Pa.m3/s@20C\".",
        ));
    }
    let unit = unit_of(name).ok_or_else(|| unknown_unit(text, name))?;
    let state = reference_state(text, unit, state)?;
    let default_temperature = unit.kind == UnitKind::Throughput && state.temperature.is_none();
    let default_pressure = unit.kind == UnitKind::StandardFlow && state.pressure.is_none();
    Ok(TargetUnit {
        unit,
        temperature: if default_temperature {
            Some(DEFAULT_THROUGHPUT_TEMPERATURE)
        } else {
            state.temperature
        },
        pressure: if default_pressure {
            Some(AbsolutePressure::from_pa(STANDARD_ATMOSPHERE_PA))
        } else {
            state.pressure
        },
        default_temperature,
        default_pressure,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn convert(text: &str, to: &str) -> f64 {
        read_target_unit(to).and_then(|unit| unit.value_of(read_any(text)?, None)).unwrap()
    }

    #[test]
    fn units_of_one_kind_convert() {
        assert!((convert("1 atm", "mbar") - 1013.25).abs() < 1e-9);
        assert!((convert("760 Torr", "Pa") - 101_325.0).abs() < 1e-9);
        assert!((convert("1 h", "min") - 60.0).abs() < 1e-12);
        assert!((convert("1 Pa.m3/s@20C", "mbar.L/s@20C") - 10.0).abs() < 1e-12);
    }

    #[test]
    fn different_kinds_do_not_convert() {
        let target = read_target_unit("um").unwrap();
        let error = target.value_of(read_any("1 Pa").unwrap(), None).unwrap_err();
        assert!(error.what.contains("pressure cannot be shown as length"), "{error}");
    }

    #[test]
    fn the_text_of_a_target_reads_back() {
        for text in ["Pa.m3/s@23C", "sccm@0C", "std cm3/s@25C,100000Pa", "um"] {
            let target = read_target_unit(text).unwrap();
            assert_eq!(target.text(), text);
            assert_eq!(read_target_unit(&target.text()).map(|t| t.unit.name), Ok(target.unit.name));
        }
    }

    #[test]
    fn unknown_units_name_the_nearest() {
        assert!(read_target_unit("scmm@0C").is_err_and(|e| e.hint.contains("sccm")));
        assert!(read_any("5 mbra").is_err_and(|e| e.hint.contains("mbar")));
        assert!(read_any("0 K").is_err_and(|e| e.what.contains("absolute zero")));
    }
}
